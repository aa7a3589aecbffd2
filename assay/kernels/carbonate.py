"""Hydroxide and carbonate from two end points."""

from __future__ import annotations

from assay.kernels.value import Value


def hydroxide_from_end_points(first_alkali: Value, total_alkali: Value) -> Value:
    """Return the hydroxide of a caustic that took up carbon dioxide.

    To phenolphthalein the acid turns hydroxide to water and carbonate to hydrogen carbonate, one proton each; to
    methyl orange it takes a second proton for each carbonate.

    Parameters
    ----------
    first_alkali : float or array [mol/L]
        Acid consumed to the first end point, phenolphthalein, for a litre of sample.
    total_alkali : float or array [mol/L]
        Acid consumed to the second, methyl orange or bromocresol green, for a litre of sample.

    Returns
    -------
    float or array [mol/L]
        The hydroxide.

    References
    ----------
    common practice: titration of hydroxide and carbonate to two end points.

    Examples
    --------
    >>> round(hydroxide_from_end_points(1.00, 1.05), 6)
    0.95

    """
    return 2.0 * first_alkali - total_alkali


def carbonate_from_end_points(first_alkali: Value, total_alkali: Value) -> Value:
    """Return the carbonate of a caustic that took up carbon dioxide.

    Parameters
    ----------
    first_alkali : float or array [mol/L]
        Acid consumed to the first end point, phenolphthalein, for a litre of sample.
    total_alkali : float or array [mol/L]
        Acid consumed to the second, methyl orange or bromocresol green, for a litre of sample.

    Returns
    -------
    float or array [mol/L]
        The carbonate.

    References
    ----------
    common practice: titration of hydroxide and carbonate to two end points.

    Examples
    --------
    >>> round(carbonate_from_end_points(1.00, 1.05), 6)
    0.05

    """
    return total_alkali - first_alkali
