"""Control charts and recovery: the limits of a chart, and what was found of what was there."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


@valid(range_factor=POSITIVE)
def short_term_s_from_mean_range(mean_range: Value, range_factor: Value) -> Value:
    """Return the short-term standard deviation that a mean range stands for.

    Parameters
    ----------
    mean_range : float or array [1]
        Mean of the ranges of subgroups, or of the moving ranges of two, in the unit of the results.
    range_factor : float or array [1]
        Mean range of so many normal values over their standard deviation (d2).

    Returns
    -------
    float or array [1]
        The standard deviation, in the unit of the results.

    References
    ----------
    [nist-handbook] 6.3.2.1 and 6.3.2.2, from memory.

    Examples
    --------
    >>> short_term_s_from_mean_range(2.256, 1.128)
    2.0

    """
    return mean_range / range_factor


def control_limit_from_centre(centre: Value, limit_factor: Value, short_term_s: Value) -> Value:
    """Return a limit of a control chart; the lower one with a negative factor.

    Parameters
    ----------
    centre : float or array [1]
        The central line, in the unit of the results.
    limit_factor : float or array [1]
        Standard deviations from the central line to the limit: 3, or its equivalent while few results exist.
    short_term_s : float or array [1]
        Standard deviation of a plotted value, in the unit of the results.

    Returns
    -------
    float or array [1]
        The limit, in the unit of the results.

    References
    ----------
    [nist-handbook] 6.3.1, from memory.

    Examples
    --------
    >>> control_limit_from_centre(100.0, -3.0, 0.5)
    98.5

    """
    return centre + limit_factor * short_term_s


@valid(known_value=POSITIVE)
def recovery_from_found(found_value: Value, known_value: Value) -> Value:
    """Return the recovery: what was found over what is known to be there.

    Parameters
    ----------
    found_value : float or array [1]
        The result of the assay, in its own unit.
    known_value : float or array [1]
        What the control holds, in the same unit.

    Returns
    -------
    float or array [1]
        The recovery; 1 where all was found.

    References
    ----------
    common practice.

    Examples
    --------
    >>> recovery_from_found(98.0, 100.0)
    0.98

    """
    return found_value / known_value
