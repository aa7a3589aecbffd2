"""The tests of Grubbs for one outlier and for two."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from functools import cache

import numpy as np

from assay.metrology.coverage import check_level
from assay.metrology.outlier_test import OutlierTest, s_of, values_of
from assay.metrology.shapes import Array

GRUBBS, GRUBBS_SAME, GRUBBS_ENDS = "Grubbs", "Grubbs, two at one end", "Grubbs, one at each end"
#: Sets of normal values that are drawn for the tests of two values, which have no closed form, and their seed.
TRIALS, SEED = 200_000, 1


def grubbs(replicates: Sequence[object], *, level: float = 0.95) -> OutlierTest:
    """Return the test of Grubbs for one outlier, at whichever end it lies.

    The statistic is the largest distance from the mean over s. Its probability is n times that of a t, which is exact
    where no two values can be so far out at once, and never too small elsewhere.

    Parameters
    ----------
    replicates : sequence of float, or of titres
        Three or more.
    level : float
        Level of confidence from which a flag is raised, between 0 and 1.

    Returns
    -------
    OutlierTest
        The test.

    Raises
    ------
    DomainError
        If there are fewer than three, more than a hundred, or all are alike.
    DataError
        If something is neither a number nor a titre.

    References
    ----------
    [grubbs-1969] the statistic and its critical values by t, from memory.

    Examples
    --------
    >>> round(grubbs([3.067, 3.049, 3.039, 2.514, 3.048, 3.079, 3.094, 3.109, 3.102]).statistic, 3)
    2.643

    """
    values = values_of(replicates, least=3)
    n, s = len(values), s_of(values)
    mean = statistics.fmean(values)
    place = max(range(n), key=lambda k: abs(values[k] - mean))
    g = abs(values[place] - mean) / s
    return OutlierTest(
        test=GRUBBS, n=n, suspects=(place,), values=(values[place],), statistic=g,
        probability=grubbs_probability(g, n), level=check_level(level),
    )  # fmt: skip


def grubbs_probability(statistic: float, n: int) -> float:
    """Return the probability of a largest distance from the mean over s, in n normal values, beyond this one.

    Parameters
    ----------
    statistic : float
        The distance over s.
    n : int
        Number of values, 3 or more.

    References
    ----------
    [grubbs-1969] from memory; twice n times the upper probability of t with n - 2 degrees of freedom.

    """
    from scipy import special  # imported here: scipy loads slowly

    most = (n - 1) / math.sqrt(n)  # no distance is larger, whatever the values
    if statistic >= most:
        return 0.0
    t = math.sqrt(n * (n - 2) * statistic**2 / ((n - 1) ** 2 - n * statistic**2))
    return min(1.0, 2.0 * n * float(special.stdtr(n - 2, -t)))


def grubbs_critical(n: int, level: float = 0.95) -> float:
    """Return the largest distance from the mean over s that a level of confidence allows in n normal values.

    Parameters
    ----------
    n : int
        Number of values, 3 or more.
    level : float
        Level of confidence, for an outlier at either end.

    References
    ----------
    [grubbs-1969] from memory.

    Examples
    --------
    >>> round(grubbs_critical(9), 3)  # printed 2.215
    2.215

    """
    from scipy import special

    t = float(special.stdtrit(n - 2, (1.0 - check_level(level)) / (2.0 * n)))
    return (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))


def grubbs_pair(replicates: Sequence[object], *, ends: bool = False, level: float = 0.95) -> OutlierTest:
    """Return the test of Grubbs for two outliers, both at one end, or one at each end.

    Of two at one end the statistic is what is left of the sum of squares without them; the smaller, the likelier are
    they outliers. Of one at each end it is the range over s. Their probabilities have no closed form: they are shares
    of 200 000 sets of normal values, drawn once for each number of replicates.

    Parameters
    ----------
    replicates : sequence of float, or of titres
        Four or more.
    ends : bool
        Whether one at each end is suspected; else two at one end, whichever that is.
    level : float
        Level of confidence from which a flag is raised, between 0 and 1.

    Returns
    -------
    OutlierTest
        The test, with the numerical error of its probability.

    Raises
    ------
    DomainError, DataError
        As for `grubbs`.

    References
    ----------
    [grubbs-1969] and [iso-5725-2] 7.3.4, from memory.

    Examples
    --------
    >>> grubbs_pair([24.30, 24.35, 24.32, 24.35, 24.33, 25.10, 25.15]).suspects
    (5, 6)

    """
    values = values_of(replicates, least=4)
    n = len(values)
    order = sorted(range(n), key=values.__getitem__)
    found = np.array([values[k] for k in order])[None, :]
    if ends:
        name, places = GRUBBS_ENDS, [order[0], order[-1]]
        statistic = float(_range_over_s(found)[0])
        p = float(np.mean(_drawn(n)[2] >= statistic))
    else:
        low, high = (float(side[0]) for side in _squares_left(found))
        places = sorted(order[-2:] if high <= low else order[:2])
        name, statistic = GRUBBS_SAME, min(low, high)
        p = float(np.mean(np.minimum(*_drawn(n)[:2]) <= statistic))
    s_of(values)  # refuses values that are all alike
    return OutlierTest(
        test=name, n=n, suspects=tuple(places), values=tuple(values[k] for k in places), statistic=statistic,
        probability=p, probability_error=math.sqrt(max(p * (1.0 - p), 1.0 / TRIALS) / TRIALS), level=check_level(level),
    )  # fmt: skip


def grubbs_pair_critical(n: int, level: float = 0.95, *, ends: bool = False, one_sided: bool = False) -> float:
    """Return the critical value of the statistic of `grubbs_pair`, a quantile of simulated sets.

    Parameters
    ----------
    n : int
        Number of values, 4 or more.
    level : float
        Level of confidence.
    ends : bool
        As for `grubbs_pair`.
    one_sided : bool
        Of two at one end, whether that end was named beforehand, as printed tables have it.

    References
    ----------
    [grubbs-1969] and [iso-5725-2] table 5, from memory.

    """
    low, high, ranges = _drawn(n)
    if ends:
        return float(np.quantile(ranges, check_level(level)))
    return float(np.quantile(high if one_sided else np.minimum(low, high), 1.0 - check_level(level)))


def _squares_left(sets: Array) -> tuple[Array, Array]:
    """Return the sum of squares without the two lowest, and without the two highest, over the whole, of sorted sets."""
    whole = _squares(sets)
    return _squares(sets[:, 2:]) / whole, _squares(sets[:, :-2]) / whole


def _squares(sets: Array) -> Array:
    found: Array = np.sum((sets - sets.mean(axis=1, keepdims=True)) ** 2, axis=1)
    return found


def _range_over_s(sets: Array) -> Array:
    found: Array = (sets[:, -1] - sets[:, 0]) / np.sqrt(_squares(sets) / (sets.shape[1] - 1))
    return found


@cache
def _drawn(n: int) -> tuple[Array, Array, Array]:
    """Return the statistics of two values in simulated sets of n: two lowest, two highest, both ends."""
    generator = np.random.default_rng([SEED, n])
    parts = []
    for _ in range(10):  # blocks, so that a hundred values take no more memory than is needed
        sets = np.sort(generator.standard_normal((TRIALS // 10, n)), axis=1)
        parts.append((*_squares_left(sets), _range_over_s(sets)))
    low, high, ranges = (np.concatenate(part) for part in zip(*parts, strict=True))
    return low, high, ranges
