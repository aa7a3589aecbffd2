"""The limits of a control chart: stated, estimated from many results, or interim from few."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from assay.errors import DomainError
from assay.kernels.control import control_limit_from_centre, short_term_s_from_mean_range
from assay.kernels.replicates import mean_from_values

#: Results, or subgroups, below which limits are interim.
ENOUGH = 20
#: Distance of the edges of zones C, B and A from the central line in standard deviations.
_SIGMAS = (1.0, 2.0, 3.0)


@cache
def range_constants(n: int) -> tuple[float, float]:
    """Return mean (d2) and standard deviation (d3) of the range of n values from a standard normal distribution.

    Worked out from the distribution of the range; [nist-handbook] 6.3.2.1 has the table, from memory.

    Examples
    --------
    >>> [round(constant, 3) for constant in range_constants(5)]
    [2.326, 0.864]

    """
    from scipy.integrate import quad
    from scipy.special import ndtr

    def not_below(width: float) -> float:
        """Return the probability that the range exceeds a width."""

        def density(x: float) -> float:
            between = float(ndtr(x + width) - ndtr(x))
            return n * math.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi) * between ** (n - 1)

        return 1.0 - float(quad(density, -9.0, 9.0, epsabs=1e-12, limit=200)[0])

    mean = float(quad(not_below, 0.0, 14.0, epsabs=1e-9, limit=200)[0])
    square = float(quad(lambda width: 2.0 * width * not_below(width), 0.0, 14.0, epsabs=1e-9, limit=200)[0])
    return mean, math.sqrt(square - mean * mean)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Central line, zones and limits.

    Parameters
    ----------
    centre, lower, upper : float
        Central line and control limits.
    zones : tuple of float
        Half-widths of the zones C, B and A; empty for a chart of ranges, which are not symmetric.
    s : float
        Standard deviation of a plotted value.
    dof : float
        Its degrees of freedom.
    interim : bool
        Whether the limits rest on few results.
    how : str
        Where they come from.

    """

    centre: float
    lower: float
    upper: float
    zones: tuple[float, ...]
    s: float
    dof: float
    interim: bool
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What is stated of a control, each part optional: its target, and the standard deviation of one result."""

    target: float | None
    s: float | None
    dof: float

    @property
    def all(self) -> bool:
        """Whether nothing is left to be estimated."""
        return self.target is not None and self.s is not None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        for name, value in (("target", self.target), ("standard_deviation", self.s)):
            if value is not None and not math.isfinite(value):
                raise DomainError("not a finite number", argument=name, given=value)
        if self.s is not None and self.s <= 0.0:
            raise DomainError("a standard deviation is above zero", argument="standard_deviation", given=self.s)
        if not self.dof >= 1.0:
            raise DomainError("degrees of freedom are 1 or more", argument="dof", given=self.dof)


def _t_factor(sigmas: float, dof: float) -> float:
    """Return the factor that holds a result with the probability that so many standard deviations hold it."""
    if math.isinf(dof):
        return sigmas
    from scipy.special import stdtrit  # imported here: scipy loads slowly

    return float(stdtrit(dof, statistics.NormalDist().cdf(sigmas)))


def limits_of(
    plotted: Sequence[float], *, groups: Sequence[Sequence[float]], size: int, stated: Stated, noun: str
) -> tuple[Limits, Limits | None]:
    """Return the limits for plotted values, and those of the ranges beside them.

    ``groups`` are what the ranges are of: subgroups of ``size``, or for single results each with the one before.
    A standard deviation of a plotted value is that of one result over the root of ``size`` if it is a mean.
    """
    count, single = len(plotted), size == 1
    s, dof, how = _one_result(plotted, groups, stated, interim=count < ENOUGH, single=single)
    interim = count < ENOUGH and not stated.all
    centre = float(mean_from_values(*plotted)) if stated.target is None else stated.target
    plotted_s = s / math.sqrt(size)
    widening = math.sqrt(1.0 + 1.0 / count) if interim and stated.target is None else 1.0
    factors = [widening * _t_factor(sigmas, dof) for sigmas in _SIGMAS]
    told = f"{'mean of ' + str(count) + ' ' + noun if stated.target is None else 'the stated target'}; s {how}"
    limits = Limits(
        centre=centre,
        lower=float(control_limit_from_centre(centre, -factors[2], plotted_s)),
        upper=float(control_limit_from_centre(centre, factors[2], plotted_s)),
        zones=tuple(factor * plotted_s for factor in factors),
        s=plotted_s,
        dof=dof,
        interim=interim,
        how=told,
    )
    return limits, _of_ranges(groups, s, dof, stated=stated, how=how, interim=interim) if groups else None


def _one_result(
    plotted: Sequence[float], groups: Sequence[Sequence[float]], stated: Stated, *, interim: bool, single: bool
) -> tuple[float, float, str]:
    """Return the standard deviation of one result, its degrees of freedom, and where it comes from."""
    if stated.s is not None:
        return stated.s, stated.dof, "as stated"
    if not groups:
        raise DomainError(
            "a single result says nothing about its scatter",
            argument="results",
            given=len(plotted),
            expected="two or more, or a stated standard_deviation",
        )
    if interim and single:
        s, dof, how = statistics.stdev(plotted), len(plotted) - 1.0, "of the results, n - 1"
    elif interim:
        variances = [statistics.variance(group) for group in groups]
        dof = sum(len(group) - 1.0 for group in groups)
        s, how = math.sqrt(statistics.fmean(variances)), "pooled within the subgroups"
    else:
        mean_range = statistics.fmean(max(group) - min(group) for group in groups)
        factor = range_constants(len(groups[0]))[0]
        s, dof = float(short_term_s_from_mean_range(mean_range, factor)), math.inf
        how = "from the mean moving range" if single else "from the mean range"
    if s <= 0.0:
        raise DomainError(
            "all results are equal: no limits follow from them",
            argument="results",
            expected="results that scatter, or a stated standard_deviation",
            remedy="Read finer, or state the standard deviation that the method is known to have.",
        )
    return s, dof, how


def _of_ranges(
    groups: Sequence[Sequence[float]], s: float, dof: float, *, stated: Stated, how: str, interim: bool
) -> Limits:
    d2, d3 = range_constants(len(groups[0]))
    found = statistics.fmean(max(group) - min(group) for group in groups)
    centre = found if stated.s is None else d2 * s
    if math.isinf(dof):
        spread = d3 * centre / d2
        lower, upper = max(0.0, centre - 3.0 * spread), centre + 3.0 * spread
    else:
        lower, upper = 0.0, s * _range_factor(len(groups[0]), dof)
    return Limits(centre=centre, lower=lower, upper=upper, zones=(), s=s, dof=dof, interim=interim, how=f"s {how}")


def _range_factor(n: int, dof: float) -> float:
    """Return the quantile of the range of n values over an s with few degrees of freedom, at the probability of 3 s."""
    held = 2.0 * statistics.NormalDist().cdf(3.0) - 1.0
    if n == 2:  # noqa: PLR2004  (the range of two is their difference)
        from scipy.special import stdtrit

        return math.sqrt(2.0) * float(stdtrit(dof, 0.5 * (1.0 + held)))
    from scipy.stats import studentized_range  # imported here: it loads for half a second

    return float(studentized_range.ppf(held, n, min(dof, 1e5)))
