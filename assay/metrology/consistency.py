"""Consistency of several results of one quantity, and their weighted mean: discordance is never averaged in silence."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import combinations
from operator import add

import numpy as np

from assay.display.numbers import degrees, plus_minus, significant, value_and_u
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError
from assay.flags import Flag, codes_of
from assay.kernels.value import Value
from assay.metrology.comparison import check_comparable, is_same
from assay.metrology.coverage import check_level
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.least_squares import ChiSquared, Fit, fitted, names_of
from assay.metrology.mean_flags import chance_weights, discordant, negative_weight


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Consistency:
    """Whether results of one quantity agree within their uncertainties, and their weighted mean.

    Parameters
    ----------
    results : tuple of Estimate
        The results.
    weights : tuple of float
        Weight of each in the mean; they add to 1. A negative one means that the covariance reaches beyond the results.
    deviations : tuple of Estimate
        Each result minus the mean.
    mean : Estimate
        The weighted mean, correlated with all that shares an influence with a result. Its u is the internal one, unless
        the results are discordant: then it carries the blocking flag ``discordant``, and the scatter is counted in u.
    u_internal : float
        u of the mean by the uncertainties of the results.
    chi_squared : ChiSquared
        Observed, critical, probability, degrees of freedom (one less than results), and those of the uncertainties.
    level : float
        Level of confidence of the verdict.
    outlying : tuple of str
        Labels of the results that lie outside, if they are discordant; one that several have is numbered.

    References
    ----------
    [cox-2002] procedure A, from memory (weighted mean and chi-squared test, there of independent results);
    [birge-1932] from memory (ratio of external to internal consistency).

    Examples
    --------
    >>> from assay import Estimate, Influence
    >>> days = [
    ...     Estimate.from_influence(Influence(id=day, label=day, value=value, u=1.0), name="value")
    ...     for day, value in (("Monday", 100.0), ("Wednesday", 101.0), ("Friday", 102.0))
    ... ]
    >>> found = consistency(*days)
    >>> found.consistent, round(found.chi_squared.observed, 6), round(found.birge_ratio, 6)
    (True, 2.0, 1.0)

    """

    results: tuple[Estimate, ...]
    weights: tuple[float, ...]
    deviations: tuple[Estimate, ...]
    mean: Estimate
    u_internal: float
    chi_squared: ChiSquared
    level: float
    outlying: tuple[str, ...] = ()

    @property
    def birge_ratio(self) -> float:
        """Scatter over what the uncertainties allow: the root of chi-squared over its degrees of freedom."""
        return math.sqrt(self.chi_squared.observed / self.chi_squared.dof)

    @property
    def u_external(self) -> float:
        """Standard uncertainty of the mean by the scatter of the results: the internal one times the Birge ratio."""
        return self.birge_ratio * self.u_internal

    @property
    def consistent(self) -> bool:
        """Whether chi-squared is not above its critical value."""
        return not self.outlying

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the results and their mean."""
        return self.mean.flags

    def rows(self) -> Rows:
        """Return the results with weights and deviations as rows of text."""
        body = tuple(
            (
                name,
                *value_and_u(result.value, result.u),
                f"{weight:.3f}",
                plus_minus(deviation.value, deviation.expanded(self.level), "1"),
                "outlying" if name in self.outlying else "",
            )
            for name, result, weight, deviation in zip(
                names_of(self.results), self.results, self.weights, self.deviations, strict=True
            )
        )
        unit = f" / ({self.mean.unit})".replace(" / (1)", "")
        return Rows(
            title=f"{self.mean.label}: {self._verdict()}",
            head=("result", f"value{unit}", f"u{unit}", "weight", f"deviation ± U{unit}", ""),
            body=body,
        )

    def _verdict(self) -> str:
        observed, critical, _, dof, _ = self.chi_squared
        return (
            f"{'consistent' if self.consistent else 'discordant'} at {100 * self.level:g} %, chi-squared = "
            f"{significant(observed, 3)} (critical {significant(critical, 3)}, {dof} degree{'s'[: dof - 1]} of "
            f"freedom), Birge ratio {significant(self.birge_ratio, 3)}"
        )

    def _mean_line(self) -> str:
        mean = self.mean
        shown = plus_minus(mean.value, mean.expanded(self.level), mean.unit)
        return (
            f"Weighted mean {shown} at {100 * self.level:g} %, dof = {degrees(mean.dof)}; u = {significant(mean.u)}, "
            f"internal {significant(self.u_internal)}, external {significant(self.u_external)}."
        )

    def __repr__(self) -> str:
        flags = codes_of(self.flags)
        return f"<Consistency of {len(self.results)} results: {flags}{self._verdict()}>"

    def _last_lines(self) -> tuple[str, ...]:
        return (self._mean_line(),)


def weighted_mean(*results: Estimate, level: float = 0.95, label: str = "weighted mean") -> Estimate:
    """Return the weighted mean of results of one quantity; blocked by the flag ``discordant`` if they disagree.

    Parameters
    ----------
    *results, level, label
        As for `consistency`, which gives the whole of what is known about them.

    Returns
    -------
    Estimate
        The mean.

    Raises
    ------
    DataError, DomainError
        As for `consistency`.

    References
    ----------
    [cox-2002] procedure A, from memory; the rest as for `consistency`.

    Examples
    --------
    >>> from assay import Influence
    >>> old = Estimate.from_influence(Influence(id="old", label="old titrant", value=100.0, u=1.0), name="value")
    >>> new = Estimate.from_influence(Influence(id="new", label="new titrant", value=102.0, u=1.0), name="value")
    >>> round(weighted_mean(old, new).value, 6), round(weighted_mean(old, new).u, 4)
    (101.0, 0.7071)

    """
    return consistency(*results, level=level, label=label).mean


def consistency(*results: Estimate, level: float = 0.95, label: str = "weighted mean") -> Consistency:
    """Return whether results of one quantity agree, and their weighted mean, by generalised least squares.

    The covariance is that of the influences which the results share. The weights are taken as constants. If chi-squared
    is above its critical value, the mean carries the blocking flag ``discordant``, which names the Birge ratio and the
    results that lie outside; accept it by name to go on: ``mean.accepting("discordant", because="…")``. Accepted or
    not, the scatter is then counted in u, as an influence with one degree of freedom less than results.

    Weights from few degrees of freedom are a matter of chance, and u of the mean is then too small: of five means of
    three replicates U at 95 % covers the truth in 74 %, of five means of ten in 90 %. The flag ``chance-weights`` says
    so where u is too small by a tenth or more.

    Few degrees of freedom of the uncertainties widen the critical value. This is an approximation: at 95 %, five means
    of three replicates that do agree are called discordant in 9 % of the cases instead of 5 % (37 % without it).

    Parameters
    ----------
    *results : Estimate
        Two results or more, in one unit; of a strength, all in one basis.
    level : float
        Level of confidence at which they are consistent or not, between 0 and 1.
    label : str
        What a person calls the mean.

    Returns
    -------
    Consistency
        Mean, weights, deviations, chi-squared and Birge ratio.

    Raises
    ------
    DomainError
        If there are fewer than two results, one has no uncertainty, or the level is out of range.
    DataError
        If they are not estimates in one unit, one is given twice, or one follows from the others, so that their
        covariance is singular.

    References
    ----------
    [cox-2002] procedure A, from memory. Few degrees of freedom: [welch-1951], with correlation [johansen-1980], and of
    weights [meier-1953], all from memory. u by the scatter has n - 1 degrees of freedom: [bodnar-elster-2014]
    abstract.

    Examples
    --------
    >>> from assay.metrology.influence import Influence
    >>> results = [
    ...     Estimate.from_influence(Influence(id=i, label=i, value=v, u=u), name="value")
    ...     for i, v, u in (("first", 11.0, 1.0), ("second", 12.0, 1.0), ("third", 10.0, 3.0))
    ... ]
    >>> consistency(*results).mean
    <Estimate 'weighted mean': 11.42, u = 0.69, dof = ∞>

    """
    check_level(level)
    _check(results)
    # In an order of their own, so that the order in which they are given changes no bit of what follows.
    order = sorted(range(len(results)), key=lambda k: _key(results[k]))
    fit = fitted([results[k] for k in order], level)
    weights = [float(fit.weights[order.index(k)]) for k in range(len(results))]
    mean = _mean(results, weights, label)
    deviations = tuple(_deviation(result, mean) for result in results)
    outlying: tuple[str, ...] = ()
    if fit.chi_squared.observed > fit.chi_squared.critical:
        outlying = _outlying(results, level)
        mean = _with_scatter(mean, fit, [results[k] for k in order]).flagged(discordant(fit, outlying))
    else:
        mean = mean.flagged(*chance_weights(weights, deviations, fit.u, names_of(results)))
    if min(weights) < 0.0:
        mean = mean.flagged(negative_weight(results, weights))
    return Consistency(
        results=results,
        weights=tuple(weights),
        deviations=deviations,
        mean=mean,
        u_internal=fit.u,
        chi_squared=fit.chi_squared,
        level=level,
        outlying=outlying,
    )


def _check(results: Sequence[Estimate]) -> None:
    if len(results) < 2:  # noqa: PLR2004
        raise DomainError(
            "consistency is of several results",
            argument="results",
            given=len(results),
            expected="two or more",
            remedy="A single result is its own mean. Give several as consistency(a, b, c), a list with a star.",
        )
    check_comparable(results)
    for result in results:
        if result.u == 0.0:
            raise DomainError(
                "a result without uncertainty would take all the weight",
                argument=result.label,
                given=result.value,
                remedy="State its uncertainty, or compare the others with it one by one: compare(a, b).",
            )
    for a, b in combinations(results, 2):
        if a is b or is_same(a, b, combine(lambda x, y: x - y, a, b)):
            raise DataError(
                "the same result is given twice, and would count twice",
                argument="results",
                given=f"{a.label} and {b.label}",
                remedy="Give each measurement once.",
            )


def _key(result: Estimate) -> tuple[str, ...]:
    return (result.label, repr(result.value), repr(result.u), *sorted(result.influences))


def _mean(results: Sequence[Estimate], weights: Sequence[float], label: str) -> Estimate:
    def mean(*values: Value) -> Value:
        """Weighted mean of results, the weights taken as constants."""
        return reduce(add, (weight * value for weight, value in zip(weights, values, strict=True)))

    return _named(combine(mean, *results, label=label, unit=results[0].unit), results)


def _named(mean: Estimate, results: Sequence[Estimate]) -> Estimate:
    names = {result.name for result in results}
    return replace(mean, name=names.pop()) if len(names) == 1 else mean


def _deviation(result: Estimate, mean: Estimate) -> Estimate:
    return combine(lambda x, m: x - m, result, mean, label=f"{result.label} minus {mean.label}", unit=mean.unit)


def _outlying(results: Sequence[Estimate], level: float) -> tuple[str, ...]:
    """Return the labels of the results without which the others agree: the furthest is set aside until they do.

    If no two agree, all are named.

    References
    ----------
    [cox-2007] largest consistent subset, from memory; here it is sought one result after the other.

    """
    names = names_of(results)
    left = sorted(range(len(results)), key=lambda k: _key(results[k]))
    outlying: set[int] = set()
    while len(left) > 1:
        fit = fitted([results[k] for k in left], level)
        if fit.chi_squared.observed <= fit.chi_squared.critical:
            break
        furthest = left if len(left) == 2 else [left[int(np.argmax(fit.distances))]]  # noqa: PLR2004  (either of two)
        outlying.update(furthest)
        left = [k for k in left if k not in outlying]
    return tuple(name for k, name in enumerate(names) if k in outlying)


def _with_scatter(mean: Estimate, fit: Fit, results: Sequence[Estimate]) -> Estimate:
    """Return the mean with the scatter of discordant results counted: its u becomes the external one, or stays."""
    dof = fit.chi_squared.dof
    more = fit.chi_squared.observed / dof - 1.0
    if more <= 0.0:
        return mean
    record = hashlib.sha256("\n".join(part for result in results for part in _key(result)).encode()).hexdigest()[:12]
    between = Influence(
        id=f"mean/{record}/scatter between results",
        label=f"scatter between results, {mean.label}",
        value=0.0,
        u=float(f"{fit.u * math.sqrt(more):.12g}"),
        dof=float(dof),
        kind="A",
        source=f"{len(results)} discordant results, Birge ratio {significant(math.sqrt(more + 1.0), 3)}",
    )
    scatter = replace(Estimate.from_influence(between, name="value"), unit=mean.unit)
    return replace(combine(_scattered, mean, scatter, label=mean.label, unit=mean.unit), name=mean.name)


def _scattered(mean: Value, deviation: Value) -> Value:
    """The mean with its unknown deviation, which the scatter of discordant results shows."""  # noqa: D401  (as told)
    return mean + deviation
