"""The test of Dixon, and results with and without what a test suspects: both told, neither chosen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from assay.metrology.coverage import check_level
from assay.metrology.dixon import RATIOS, dixon_probability, ratio_for
from assay.metrology.grubbs import grubbs
from assay.metrology.outlier_test import OutlierTest, s_of, values_of

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")


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
    values = values_of(replicates, least=3)
    n = len(values)
    name = ratio_for(n)
    inner, outer = RATIOS[name]
    order = sorted(range(n), key=values.__getitem__)
    x = [values[k] for k in order]
    s_of(values)
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
    >>> from statistics import fmean
    >>> both = with_and_without([24.30, 24.35, 24.40, 24.35, 25.10], fmean)
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
