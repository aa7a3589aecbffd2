"""What a result may become with further replicates, and what a rule decides about each of many results."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy import special

from assay.kernels.value import Value
from assay.metrology.conformity import FIT, UNDECIDED, UNFIT, Rule
from assay.metrology.coverage import FEW, coverage_dof_from_shares, coverage_factor
from assay.metrology.decision_factor import risk_dof_of
from assay.metrology.probability import Limits
from assay.metrology.replicate_set import ReplicateSet
from assay.metrology.shapes import Array

#: Futures over which a chance is taken: evenly spread points, so that it is right to about 0.002.
FUTURES = 4096
#: Steps of an even sequence in three dimensions: powers of the real root of x⁴ = x + 1.
_EVEN = 1.2207440846057596


class Futures(NamedTuple):
    """What the result may become: value, u and degrees of freedom of each future, of shape (futures,)."""

    value: Array
    u: Array
    dof: Array


@lru_cache(maxsize=4)
def _even_points(count: int) -> Array:
    """Return points that fill the unit cube evenly, the same each time, of shape (3, count)."""
    steps = _EVEN ** -np.arange(1.0, 4.0)
    points: Array = (0.5 + steps[:, None] * np.arange(1.0, count + 1.0)) % 1.0
    return points


@lru_cache(maxsize=64)
def _chi_square(count: int, axis: int, dof: float) -> Array:
    """Return quantiles of chi-square over its degrees of freedom; of nothing and of ever so many they are known."""
    if dof == 0.0 or math.isinf(dof):
        return np.full(count, 1.0 if dof else 0.0)
    found: Array = special.gammaincinv(0.5 * dof, _even_points(count)[axis]) * (2.0 / dof)
    return found


def futures_after(
    replicates: ReplicateSet, value: float, further: float, *, risk: float = math.nan, count: int = FUTURES
) -> Futures:
    """Return what a result may become with further replicates, an infinite number of them included.

    The true standard deviation of a replicate is what s and its degrees of freedom leave open (a scaled inverse
    chi-square), the further replicates are normal about what the mean leaves open, and s of all is what both together
    give. A mean thus moves by a scaled t (JCGM 101, 6.4.9), and its u with it.
    """
    n, v = replicates.n, replicates.dof
    total = n + further
    z = special.ndtri(_even_points(count)[0])
    variance = replicates.s**2 / _chi_square(count, 1, v)
    remaining = math.sqrt(1.0 / n - (0.0 if math.isinf(further) else 1.0 / total))
    moved = value + np.sqrt(variance) * remaining * z
    rounding = n * replicates.resolution**2  # variance of one replicate from rounding
    if not replicates.own:
        shown, dof = np.full(count, replicates.s**2), v
    elif math.isinf(further):
        shown, dof = variance, math.inf
    else:
        within = (further - 1.0) * _chi_square(count, 2, further - 1.0)
        shown, dof = (v * replicates.s**2 + variance * (within + z * z)) / (v + further), v + further
    ratio = np.maximum(shown - rounding, 0.0) / (n * replicates.scatter**2)
    hidden = np.maximum(rounding - shown, 0.0)
    scattered = (replicates.scatter**2 * n / total + replicates.with_it**2) * ratio
    known = hidden + (rounding - hidden) / total
    return Futures(moved, *u_and_dof_of(scattered, dof, replicates.rest, known, risk=risk))


def u_and_dof_of(
    scattered: Array,
    dof: float,
    rest: Sequence[tuple[float, float]],
    rounding: Array | float = 0.0,
    *,
    risk: float = math.nan,
) -> tuple[Array, Array]:
    """Return u and degrees of freedom of many results at once, as `Estimate` has them or as a decision takes them.

    Parameters
    ----------
    scattered : array
        Variance of each result from its scatter, which has ``dof`` degrees of freedom.
    dof : float
        Those.
    rest : sequence of (float, float)
        What all of them share: contributions to u, each with its degrees of freedom.
    rounding : array or float
        Further variance of each result, which is known.
    risk : float
        Risk of the decision that they are for; NaN for intervals.

    """
    known: Value = rounding + sum(c * c for c, own in rest if math.isinf(own))
    parts: list[tuple[Value, float]] = [(scattered, dof), *((c * c, own) for c, own in rest if math.isfinite(own))]
    squares: Value = known + sum(part for part, _ in parts)
    with np.errstate(divide="ignore", invalid="ignore"):
        loss = np.zeros_like(squares) + sum((part / squares) ** 2 / own for part, own in parts)
        found: Value = np.where(loss > 0.0, 1.0 / loss, math.inf)
        few = [(part / squares, own) for part, own in parts if own < FEW]
        if few:
            share = np.minimum(sum(part for part, _ in few), 1.0)
            loss = sum(part * part / own for part, own in few)
            found = np.where(loss > 0.0, coverage_dof_from_shares(share, loss, found), found)
    if not math.isnan(risk):
        found = risk_dof_of([*parts, (known, math.inf)], risk, found)
    return np.sqrt(squares), found


def decided(results: Futures, specification: Limits, rule: Rule) -> Array:
    """Return for which of many results a rule decides, as `conformity` would for each."""
    found: Array = decisions(results, specification, rule) != UNDECIDED
    return found


def decisions(results: Futures, specification: Limits, rule: Rule) -> Array:
    """Return the decision of a rule about each of many results, as `conformity` would."""
    value, u, dof = results
    if math.isnan(rule.width):
        inside = (specification.lower <= value) & (value <= specification.upper)
        with np.errstate(divide="ignore", invalid="ignore"):
            below = _cdf((specification.lower - value) / u, dof)
            above = _cdf((value - specification.upper) / u, dof)
        below, above = (np.where(u > 0.0, found, out) for found, out in (
            (below, value < specification.lower), (above, value > specification.upper)
        ))  # fmt: skip
        fit = inside & (below + above <= rule.risk)
        unfit = ~inside & (1.0 - below - above <= rule.risk)
    else:
        width = rule.width if math.isnan(rule.factor) else rule.factor * u * coverage_factor(rule.level, dof)
        fit = (value >= specification.lower + width) & (value <= specification.upper - width)
        unfit = ~fit & ((value < specification.lower - width) | (value > specification.upper + width))
    found: Array = np.select([fit, unfit], [FIT, UNFIT], UNDECIDED)
    return found


def _cdf(z: Array, dof: Array) -> Array:
    """Return the probability of a t below z for each of many; of the normal where the degrees of freedom are many."""
    found: Array = np.where(dof > 1e10, special.ndtr(z), special.stdtr(np.minimum(dof, 1e10), z))  # noqa: PLR2004  (as t_probability)
    return found
