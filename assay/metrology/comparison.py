"""Comparison of two results: what they share cancels in their difference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assay.display.numbers import plus_minus, significant
from assay.display.rows import Rows, text
from assay.display.told import flag_lines, told_as_rows
from assay.errors import DataError
from assay.flags import Flag
from assay.kernels.value import Value
from assay.metrology.covariance import correlation, covariance_of_members, independent_groups
from assay.metrology.coverage import check_level
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.identity import shared_influences
from assay.metrology.influence import Influence
from assay.metrology.probability import t_probability

#: Share of the larger u, or of the larger value, below which a difference is the rounding of floats.
_ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """An influence, or a joint, that two results share.

    Parameters
    ----------
    label : str
        What a person calls it.
    first, second : float
        Standard uncertainty that it gives each result, with the sign of its effect; a joint's has none.
    left : float
        What is left of it in the difference.
    covariance : float
        Covariance of the results because of it.

    """

    label: str
    first: float
    second: float
    left: float
    covariance: float


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Comparison:
    """Two results of one quantity, and what their difference says.

    Parameters
    ----------
    first, second : Estimate
        The results.
    difference : Estimate
        The first minus the second, with u, degrees of freedom and budget; what they share has cancelled as far as it
        acts alike.
    level : float
        Level of confidence of the verdict.
    shared : tuple of Shared
        What they share, the largest covariance first.

    References
    ----------
    [vim-2012] 2.47 (metrological compatibility), cited from memory; [kacker-2010] abstract.

    Examples
    --------
    >>> from assay import Estimate, Influence
    >>> monday = Estimate.from_influence(Influence(id="mon", label="Monday", value=100.0, u=1.0), name="value")
    >>> friday = Estimate.from_influence(Influence(id="fri", label="Friday", value=103.0, u=1.0), name="value")
    >>> compare(monday, friday)
    <Comparison 'Monday against Friday': not compatible, difference (-3.0 ± 2.8) at 95 %, zeta = -2.12, E_n = -1.08, \
r = 0.000>

    """

    first: Estimate
    second: Estimate
    difference: Estimate
    level: float
    shared: tuple[Shared, ...] = ()

    @property
    def correlation(self) -> float:
        """Correlation of the two results, -1 to 1; NaN where one of them has no uncertainty."""
        return correlation(self.first, self.second)

    @property
    def zeta(self) -> float:
        """Zeta score: the difference over its u; infinite if it has none.

        References
        ----------
        [iso-13528-2015] zeta score, from memory; there the results are independent.

        """
        value, u = self.difference.value, self.difference.u
        return value / u if u > 0.0 else math.copysign(math.inf, value)

    @property
    def e_n(self) -> float:
        """E_n number: the difference over its U at `level`; infinite if it has none.

        References
        ----------
        [iso-13528-2015] E_n score, from memory; there the results are independent, and k is 2.

        """
        return self.zeta / self.difference.coverage_factor(self.level)

    @property
    def probability(self) -> float:
        """Probability of so large a difference, or a larger one, if both measure the same."""
        return min(2.0 * t_probability(-abs(self.zeta), self.difference.coverage_dof), 1.0)

    @property
    def probability_first_above(self) -> float:
        """Probability that the true value of the first is above that of the second."""
        return t_probability(self.zeta, self.difference.coverage_dof)

    @property
    def compatible(self) -> bool:
        """Whether the difference is within its U at `level`."""
        return abs(self.e_n) <= 1.0

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the two results."""
        return self.difference.flags

    def rows(self) -> Rows:
        """Return what they share as rows of text."""
        body = tuple(
            (line.label, *(significant(number) for number in (abs(line.first), abs(line.second), line.left)))
            for line in self.shared
        )
        unit = f" / ({self.difference.unit})".replace(" / (1)", "")
        head = ("shared", f"u in the first{unit}", f"in the second{unit}", f"left in the difference{unit}")
        return Rows(title=f"{self._title()}: {self._verdict()}", head=head, body=body)

    def _title(self) -> str:
        return f"{self.first.label} against {self.second.label}"

    def _verdict(self) -> str:
        difference = self.difference
        shown = plus_minus(difference.value, difference.expanded(self.level), difference.unit)
        if difference.u == 0.0:
            shown = f"{difference.value:.10g} {difference.unit}".removesuffix(" 1") + ", without uncertainty"
        return (
            f"{'compatible' if self.compatible else 'not compatible'}, difference {shown} at {100 * self.level:g} %, "
            f"zeta = {significant(self.zeta, 3)}, E_n = {significant(self.e_n, 3)}, r = {self._correlation()}"
        )

    def _correlation(self) -> str:
        return "undefined" if math.isnan(self.correlation) else f"{self.correlation:.3f}"

    def _probability_line(self) -> str:
        return (
            f"Probability of so large a difference if both measure the same: {significant(self.probability)}; that the "
            f"first is above the second: {significant(self.probability_first_above)}."
        )

    def __repr__(self) -> str:
        flags = "".join(f"[{flag.code}] " for flag in self.flags)
        return f"<Comparison {self._title()!r}: {flags}{self._verdict()}>"

    def __str__(self) -> str:
        """Return the verdict with what the results share."""
        table = text(self.rows()) if self.shared else f"{self.rows().title}\n  They share nothing."
        return "\n".join([*flag_lines(self), table, f"  {self._probability_line()}"])

    def _last_lines(self) -> tuple[str, ...]:
        return (self._probability_line(),)


def compare(first: Estimate, second: Estimate, *, level: float = 0.95) -> Comparison:
    """Return what two results of one quantity say about each other, with what they share taken into account.

    Parameters
    ----------
    first, second : Estimate
        The results, in one unit; of a strength, both in one basis.
    level : float
        Level of confidence at which they are compatible or not, between 0 and 1.

    Returns
    -------
    Comparison
        Difference, scores, probabilities, and what is shared.

    Raises
    ------
    DataError
        If they are not two estimates in one unit, or one and the same result.
    DomainError
        If the level is out of range.

    References
    ----------
    [jcgm-100-2008] 5.2.2 (correlated results); [vim-2012] 2.47, from memory.

    Examples
    --------
    >>> from assay.metrology.influence import Influence
    >>> titrant, one, two = (
    ...     Estimate.from_influence(Influence(id=i, label=i, value=v, u=u), name="value")
    ...     for i, v, u in (("titrant", 2.0, 0.1), ("one", 5.0, 0.01), ("two", 5.1, 0.01))
    ... )
    >>> today, before = (combine(lambda c, v: c * v, titrant, x, label=x.label) for x in (two, one))
    >>> compare(today, before)
    <Comparison 'two against one': not compatible, difference (0.200 ± 0.059) at 95 %, zeta = 6.67, E_n = 3.40,
    r = 0.998>

    """
    check_level(level)
    check_comparable([first, second])
    difference = combine(_difference, first, second, label=f"{first.label} minus {second.label}", unit=first.unit)
    if first is second or is_same(first, second, difference):
        raise DataError(
            "the two are one and the same result",
            argument="first, second",
            given=first.label,
            remedy="Compare two measurements; of one result, ask probability_below(limit).",
        )
    if difference.u <= _ROUNDING * max(first.u, second.u):
        difference = _without_uncertainty(difference)
    return Comparison(
        first=first, second=second, difference=difference, level=level, shared=shared_between(first, second)
    )


def _difference(first: Value, second: Value) -> Value:
    """The difference of two results."""  # noqa: D401  (told in an explanation)
    return first - second


def is_same(first: Estimate, second: Estimate, difference: Estimate) -> bool:
    """Return whether a difference is zero and has no uncertainty, but for rounding."""
    return abs(difference.value) <= _ROUNDING * max(abs(first.value), abs(second.value)) and (
        difference.u <= _ROUNDING * max(first.u, second.u)
    )


def _without_uncertainty(difference: Estimate) -> Estimate:
    """Return a difference of which all that is uncertain cancels, without what rounding leaves."""
    exact = Estimate.exactly(difference.value, name="value", label=difference.label)
    return replace(exact, unit=difference.unit).flagged(
        *difference.flags,
        Flag(
            code="no-uncertainty",
            message="All that is uncertain is common to both results and cancels: their difference has no uncertainty.",
        ),
    )


def check_comparable(results: Sequence[object]) -> None:
    """Raise `DataError` unless all are estimates in one unit."""
    units: dict[str, None] = {}
    for result in results:
        if not isinstance(result, Estimate):
            has_basis = hasattr(result, "in_basis")
            raise DataError(
                f"{type(result).__name__} is not an estimate",
                argument="results",
                given=str(getattr(result, "label", result))[:80],
                remedy="A strength is compared in a basis: give .in_basis('…') of each, in the same one."
                if has_basis
                else "Give the estimates of the results; combine() makes one of several.",
            )
        units[result.unit] = None
    if len(units) > 1:
        raise DataError(
            "results in different units are not compared",
            argument="results",
            given=" and ".join(units),
            remedy="State all in one unit and, if they are strengths, in one basis.",
        )


def shared_between(first: Estimate, second: Estimate) -> tuple[Shared, ...]:
    """Return what two results share, the largest covariance first."""
    influences = shared_influences([first.influences, second.influences]).values()
    lines = [_shared(members, first, second) for members in independent_groups(list(influences))]
    return tuple(sorted((line for line in lines if line.covariance != 0.0), key=lambda line: -abs(line.covariance)))


def _shared(members: Sequence[Influence], first: Estimate, second: Estimate) -> Shared:
    slopes = np.array([[result.sensitivities.get(i.id, 0.0) for i in members] for result in (first, second)])
    matrix = slopes @ covariance_of_members(members) @ slopes.T
    sizes = [math.sqrt(max(float(matrix[k, k]), 0.0)) for k in range(2)]
    if len(members) == 1:
        sizes = [math.copysign(size, float(slope)) for size, slope in zip(sizes, slopes[:, 0], strict=True)]
    apart = slopes[0] - slopes[1]
    left = float(apart @ covariance_of_members(members) @ apart)
    joint = members[0].joint
    return Shared(
        label=members[0].label if joint is None else joint.label,
        first=sizes[0],
        second=sizes[1],
        left=math.sqrt(max(left, 0.0)),
        covariance=float(matrix[0, 1]),
    )
