"""A titrant between and beyond its standardisations."""

from __future__ import annotations

from assay.kernels.value import Value


def titrant_from_standardisations(
    earlier_titrant: Value, later_titrant: Value, elapsed_share: Value, drift_departure: Value
) -> Value:
    """Return the strength of a titrant on a day, on the line through two standardisations.

    Parameters
    ----------
    earlier_titrant, later_titrant : float or array [mol/L]
        What the two standardisations found; mol/g for a titrant by mass.
    elapsed_share : float or array [1]
        Time since the earlier one over the time between both: 0 to 1 between them, outside beyond them.
    drift_departure : float or array [mol/L]
        How far the titrant is off the line.

    Returns
    -------
    float or array [mol/L]
        The strength on that day.

    References
    ----------
    common practice: a titrant drifts evenly between two standardisations.

    Examples
    --------
    >>> titrant_from_standardisations(0.1000, 0.0980, 0.5, 0.0)
    0.099

    """
    return earlier_titrant + elapsed_share * (later_titrant - earlier_titrant) + drift_departure
