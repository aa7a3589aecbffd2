"""The mean of replicates, and what is unknown about it."""

from __future__ import annotations

from functools import reduce
from operator import add

from assay.kernels.value import Value


def mean_from_replicates(*replicates: Value, replicate_scatter: Value, replicate_resolution: Value) -> Value:
    """Return the mean of replicates with its unknown deviations.

    Parameters
    ----------
    *replicates : float or array [1]
        The values, in their own unit.
    replicate_scatter : float or array [1]
        Deviation of the mean because replicates are few, in the unit of the replicates.
    replicate_resolution : float or array [1]
        Rounding of the readings that the scatter cannot show, in the unit of the replicates.

    Returns
    -------
    float or array [1]
        The mean, in the unit of the replicates.

    References
    ----------
    [jcgm-100-2008] 4.2.1 (mean) and F.2.2.1 (resolution of an indication).

    Examples
    --------
    >>> mean_from_replicates(1.0, 2.0, 3.0, replicate_scatter=0.0, replicate_resolution=0.0)
    2.0

    """
    return mean_from_values(*replicates) + replicate_scatter + replicate_resolution


def mean_from_values(*replicates: Value) -> Value:
    """Return the mean of several results.

    Parameters
    ----------
    *replicates : float or array [1]
        The results, in their own unit.

    Returns
    -------
    float or array [1]
        The mean, in the unit of the results.

    References
    ----------
    [jcgm-100-2008] 4.2.1.

    Examples
    --------
    >>> mean_from_values(1.0, 3.0)
    2.0

    """
    return sum_from_values(*replicates) / len(replicates)


def sum_from_values(*replicates: Value) -> Value:
    """Return the sum of several results.

    Parameters
    ----------
    *replicates : float or array [1]
        The results, one or more, in their own unit.

    Returns
    -------
    float or array [1]
        The sum, in the unit of the results.

    References
    ----------
    common practice: volumes of several fillings add.

    Examples
    --------
    >>> sum_from_values(1.0, 3.0)
    4.0

    """
    # Not sum(): for plain floats it compensates from CPython 3.12 on, for recorded values it cannot.
    return reduce(add, replicates)
