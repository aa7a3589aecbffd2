"""Outliers: told with their probability, and what the result would be without them. Nothing is deleted."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Generic, TypeVar

import numpy as np

from assay.display.numbers import significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.coverage import check_level
from assay.metrology.dixon import RATIOS, dixon_probability, ratio_for
from assay.metrology.shapes import Array

SUSPECTED = "suspected-outlier"
GRUBBS, GRUBBS_SAME, GRUBBS_ENDS = "Grubbs", "Grubbs, two at one end", "Grubbs, one at each end"
#: Sets of normal values that are drawn for the tests of two values, which have no closed form, and their seed.
TRIALS, SEED = 200_000, 1
#: Most values of a test: beyond, such tests are for another purpose than a titration.
MOST = 100

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class OutlierTest:
    """What a test for outliers says of replicates; it judges, and deletes nothing.

    Parameters
    ----------
    test : str
        Which test.
    n : int
        Number of replicates.
    suspects : tuple of int
        Places of the suspected replicates, from 0.
    values : tuple of float
        Their values.
    statistic : float
        The statistic of the test.
    probability : float
        Probability of a statistic as extreme in replicates without an outlier, at whichever end it is.
    probability_error : float
        Its standard numerical error, where it was simulated; else zero.
    level : float
        Level of confidence from which a flag is raised.

    References
    ----------
    [grubbs-1969], [dixon-1953] and [iso-5725-2] 7.3.4, from memory.

    Examples
    --------
    >>> grubbs([24.30, 24.35, 24.40, 24.35, 25.10])
    <OutlierTest Grubbs: [suspected-outlier] 25.1 of 5, statistic 1.78, probability 0.0025>

    """

    test: str
    n: int
    suspects: tuple[int, ...]
    values: tuple[float, ...]
    statistic: float
    probability: float
    probability_error: float = 0.0
    level: float = 0.95

    @property
    def suspected(self) -> bool:
        """Whether the replicates are less likely than the level allows, if none of them is an outlier."""
        return self.probability < 1.0 - self.level

    @property
    def flags(self) -> tuple[Flag, ...]:
        """A flag where it is suspected; it blocks nothing."""
        if not self.suspected:
            return ()
        message = (
            f"{self._told()} lies apart from the others: replicates without an outlier do so in "
            f"{significant(100 * self.probability)} % of the cases (test of {self.test}). Look for the cause; it "
            "counts until a person sets it aside for a reason that was seen."
        )
        return (Flag(code=SUSPECTED, message=message),)

    def _told(self) -> str:
        return " and ".join(f"{value:.6g}" for value in self.values)

    def rows(self) -> Rows:
        """Return the test as a row of text."""
        cells = (self._told(), f"{self.statistic:.3f}", significant(self.probability), str(self.n))
        return Rows(
            title=f"outliers: test of {self.test}", head=("suspect", "statistic", "probability", "n"), body=(cells,)
        )

    def __repr__(self) -> str:
        flag = f"[{SUSPECTED}] " if self.suspected else ""
        told = f"{self._told()} of {self.n}, statistic {significant(self.statistic, 3)}"
        return f"<OutlierTest {self.test}: {flag}{told}, probability {significant(self.probability)}>"


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
    values = _values(replicates, least=3)
    n, s = len(values), _s(values)
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
    values = _values(replicates, least=4)
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
    _s(values)  # refuses values that are all alike
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


def dixon(replicates: Sequence[object], *, level: float = 0.95) -> OutlierTest:
    """Return the test of Dixon for one outlier, at whichever end it lies.

    The ratio is r10 for 3 to 7 replicates, r11 to 10, r21 to 13 and r22 to 30. Its probability is exact, by numerical
    integration; the tables in print differ from it by up to 0.0053 in the ratio (four replicates at 99 %). Of three
    replicates two of which agree the ratio is 1 whatever the third is: the test then says nothing.

    Parameters
    ----------
    replicates : sequence of float, or of titres
        3 to 30.
    level : float
        Level of confidence from which a flag is raised, between 0 and 1.

    Returns
    -------
    OutlierTest
        The test.

    Raises
    ------
    DomainError
        If there are fewer than 3 or more than 30, or all are alike.
    DataError
        If something is neither a number nor a titre.

    References
    ----------
    [dixon-1953] the ratios, from memory; [rorabacher-1991] that both ends are looked at.

    Examples
    --------
    >>> found = dixon([3.067, 3.049, 3.039, 2.514, 3.048])
    >>> found.test, round(found.statistic, 3), found.suspects, found.suspected
    ('Dixon r10', 0.949, (3,), True)

    """
    values = _values(replicates, least=3)
    n = len(values)
    name = ratio_for(n)
    inner, outer = RATIOS[name]
    order = sorted(range(n), key=values.__getitem__)
    x = [values[k] for k in order]
    _s(values)
    high, low = (
        _ratio(side[-1] - side[-1 - inner], side[-1] - side[outer]) for side in (x, [-value for value in reversed(x)])
    )
    place = order[-1] if high >= low else order[0]
    r = max(high, low)
    return OutlierTest(
        test=f"Dixon {name}", n=n, suspects=(place,), values=(values[place],), statistic=r,
        probability=min(1.0, 2.0 * dixon_probability(r, n)), level=check_level(level),
    )  # fmt: skip


def _ratio(gap: float, width: float) -> float:
    return gap / width if width > 0.0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WithAndWithout(Generic[_Result]):
    """A result with all replicates, and without those that a test suspects; both are told, and neither is chosen.

    Parameters
    ----------
    test : OutlierTest
        The test.
    whole : result
        With all.
    without : result
        Without the suspects.

    References
    ----------
    common practice: where no cause is found, report with and without.

    Examples
    --------
    >>> both = with_and_without([24.30, 24.35, 24.40, 24.35, 25.10], statistics.fmean)
    >>> round(both.whole, 3), round(both.without, 3), both.test.suspects
    (24.5, 24.35, (4,))

    """

    test: OutlierTest
    whole: _Result
    without: _Result


def with_and_without(
    replicates: Sequence[_Item],
    result: Callable[[Sequence[_Item]], _Result],
    *,
    test: Callable[[Sequence[object]], OutlierTest] = grubbs,
) -> WithAndWithout[_Result]:
    """Return what a result is with all replicates, and without those that a test suspects.

    Parameters
    ----------
    replicates : sequence of float, or of titres
        The replicates that count.
    result : callable
        What makes the result of replicates, such as ``lambda titres: assay_hypochlorite(…, titres=titres)``.
    test : callable
        `grubbs`, `dixon`, or ``lambda titres: grubbs_pair(titres, ends=True)``.

    Returns
    -------
    WithAndWithout
        The test, and both results.

    Raises
    ------
    DomainError, DataError
        As for the test, and as the result does.

    References
    ----------
    common practice: where no cause is found, report with and without.

    Examples
    --------
    >>> both = with_and_without([3.067, 3.049, 3.039, 2.514, 3.048], max, test=dixon)
    >>> both.whole, both.without
    (3.067, 3.067)

    """
    found = test(replicates)
    kept = [item for k, item in enumerate(replicates) if k not in found.suspects]
    return WithAndWithout(test=found, whole=result(replicates), without=result(kept))


def _values(replicates: Sequence[object], *, least: int) -> list[float]:
    values = []
    for item in replicates:
        value = getattr(item, "nominal", item)  # a titre by its readings
        if isinstance(value, bool) or not isinstance(value, (int, float, np.number)) or not math.isfinite(value):
            raise DataError(
                "this is neither a number nor a titre",
                argument="replicates",
                given=item,
                remedy="Give plain numbers in one unit, or titres made by a burette or a balance.",
            )
        values.append(float(value))
    if not least <= len(values) <= MOST:
        raise DomainError(
            f"this test takes {least} to {MOST} replicates",
            argument="replicates",
            given=len(values),
            remedy="Titrate again: of so few none can be told to be an outlier." if len(values) < least else "",
        )
    return values


def _s(values: Sequence[float]) -> float:
    s = statistics.stdev(values)
    if s == 0.0:
        raise DomainError(
            "replicates that are all alike have no outlier", argument="replicates", given=f"{len(values)} alike"
        )
    return s


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
