"""Conformity with specification limits: what may be decided by a result (JCGM 106:2012)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scipy import optimize

from assay.display.numbers import degrees, fixed, places_of, significant, value_and_u
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError, Problems
from assay.flags import Flag, merged, refuse_blocked
from assay.metrology.coverage import check_level, coverage_factor, one_sided_factor
from assay.metrology.decision_factor import risk_dof
from assay.metrology.plain import plain
from assay.metrology.probability import Limit, Limits, above, below, between, limits_of, plain_limit

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: Most risk of a wrong decision where no rule is given. A choice of this library; 5 % is common practice.
RISK = 0.05
FIT, UNFIT, UNDECIDED = "fit", "unfit", "undecided"


class Rule(NamedTuple):
    """A decision rule: the most risk, or the width of the guard band; the other is NaN.

    Where the width is a multiple of U, ``factor`` and ``level`` say of which; where it is not, they are NaN.
    """

    risk: float
    width: float
    told: str
    factor: float = math.nan
    level: float = math.nan


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Conformity:
    """What a result says about specification limits, and what a decision rule makes of it.

    It is fit if the value lies within the acceptance limits (guarded acceptance), unfit if it lies beyond the rejection
    limits (guarded rejection), and undecided between them. The probabilities are those of a scaled t about the value,
    with nothing known before the measurement. By a risk it is decided no less strictly than they say, and more so where
    few replicates stand beside what is known, for no t keeps its risk there (`risk_dof_of` of
    ``assay.metrology.decision_factor``): with normal errors, what lies on a limit is accepted with at most the stated
    risk. A guard band of a multiple of U states no risk; it is as good as the interval that U is of.

    Parameters
    ----------
    label, unit : str
        What was measured, and the unit of all numbers below.
    value, u, dof : float
        The result; the degrees of freedom are those by which its intervals and probabilities are stated.
    specification : Limits
        The lower and the upper specification limit.
    guard_band : float
        Distance from a specification limit to the acceptance limit within it; NaN if nothing can be accepted.
    acceptance, rejection : Limits
        The value is accepted from one acceptance limit to the other; it is rejected beyond the rejection limits.
    rule : str
        The decision rule in words.
    below, above : float
        Probability of a true value below the lower and above the upper specification limit.
    conformance_probability : float
        Probability of a true value within them.
    decision : str
        ``"fit"``, ``"unfit"`` or ``"undecided"``.
    flags : tuple of Flag
        Doubts about the result and the decision; ``no-acceptance-interval`` if no value at all could be accepted,
        ``no-uncertainty`` if u is zero.

    References
    ----------
    [jcgm-106-2012] clauses 7 (conformance probability), 8.3 (guard bands) and 9 (risks), cited from memory.

    Examples
    --------
    >>> from assay import Estimate, Influence
    >>> drum = Estimate.from_influence(Influence(id="drum", label="drum", value=1.62, u=0.05), name="value")
    >>> found = drum.conformity(lower=1.5)
    >>> found.decision, round(found.consumer_risk, 4)
    ('fit', 0.0082)
    >>> drum.conformity(lower=1.6).decision
    'undecided'

    """

    label: str
    unit: str
    value: float
    u: float
    dof: float
    specification: Limits
    guard_band: float
    acceptance: Limits
    rejection: Limits
    rule: str
    below: float
    above: float
    conformance_probability: float
    decision: str
    flags: tuple[Flag, ...] = ()

    @property
    def consumer_risk(self) -> float:
        """Specific consumer's risk: the probability that this one, if accepted, does not conform."""
        return min(self.below + self.above, 1.0)

    @property
    def producer_risk(self) -> float:
        """Specific producer's risk: the probability that this one, if rejected, conforms."""
        return self.conformance_probability

    def rows(self) -> Rows:
        """Return the limits as rows of text."""
        names = ("specification", "acceptance", "rejection beyond")
        body = tuple(
            (name, *(self._shown(limit, stated=name == "specification") for limit in limits))
            for name, limits in zip(names, (self.specification, self.acceptance, self.rejection), strict=True)
        )
        unit = "" if self.unit == "1" else f" / ({self.unit})"
        return Rows(title=f"{self.label}: {self._verdict()}", head=(f"limits{unit}", "lower", "upper"), body=body)

    def _shown(self, limit: float, *, stated: bool) -> str:
        if math.isinf(limit):
            return "none"
        if math.isnan(limit):
            return "nothing accepted"
        places = places_of(self.u, digits=3)
        return f"{limit:.10g}" if stated or places is None else fixed(limit, max(places, 0))

    def _verdict(self) -> str:
        value, u = value_and_u(self.value, self.u)
        unit = "" if self.unit == "1" else f" {self.unit}"
        return (
            f"{self.decision} ({value}{unit}, u = {u}{unit}, dof = {degrees(self.dof)}; conforms with probability "
            f"{_probability(self.conformance_probability, self.consumer_risk)})"
        )

    def _rule_line(self) -> str:
        band = "" if math.isnan(self.guard_band) else f"; guard band {significant(self.guard_band)} {self.unit}"
        more = " To decide, measure with a smaller u, or more often." if self.decision == UNDECIDED else ""
        return f"Rule: {self.rule}{band.removesuffix(' 1')}.{more}"

    def __repr__(self) -> str:
        flags = "".join(f"[{flag.code}] " for flag in self.flags)
        return f"<Conformity {self.label!r}: {flags}{self._verdict()}>"

    def _last_lines(self) -> tuple[str, ...]:
        return (self._rule_line(),)


def _probability(share: float, rest: float) -> str:
    """Return a probability as text that tells one from nearly one."""
    if rest == 0.0:
        return "1"
    return f"1 - {significant(rest)}" if rest < 0.001 else significant(share, 3)  # noqa: PLR2004  (99.9 % reads well)


def conformity(
    estimate: Estimate,
    *,
    lower: Limit | None = None,
    upper: Limit | None = None,
    risk: float | None = None,
    guard_factor: float | None = None,
    guard_band: Limit | None = None,
    level: float = 0.95,
) -> Conformity:
    """Return what a result says about specification limits; see `Estimate.conformity`."""
    problems = Problems()
    specification = problems.attempt(limits_of, estimate, lower, upper)
    rule = problems.attempt(rule_of, estimate, risk, guard_factor, guard_band, level)
    problems.raise_any()
    refuse_blocked(estimate.flags, what=f"the result {estimate.label}")
    value, u, dof = estimate.value, estimate.u, estimate.coverage_dof
    strict = dof if math.isnan(rule.risk) else risk_dof(estimate, rule.risk)
    acceptance, rejection = acceptance_and_rejection(specification, u, strict, rule)
    return Conformity(
        label=estimate.label,
        unit=estimate.unit,
        value=value,
        u=u,
        dof=dof,
        specification=specification,
        guard_band=_band(specification, acceptance),
        acceptance=acceptance,
        rejection=rejection,
        rule=rule.told,
        below=below(value, u, dof, specification.lower),
        above=above(value, u, dof, specification.upper),
        conformance_probability=between(value, u, dof, specification),
        decision=_decision(value, acceptance, rejection),
        flags=merged([estimate.flags, _flags(estimate, specification, acceptance, rule)]),
    )


def rule_of(
    estimate: Estimate, risk: float | None, guard_factor: float | None, guard_band: Limit | None, level: float
) -> Rule:
    """Return the decision rule that is named, for a result; refuse several."""
    rules = {"risk": risk, "guard_factor": guard_factor, "guard_band": guard_band}
    named = [name for name, given in rules.items() if given is not None]
    if len(named) > 1:
        raise DataError(
            "one decision rule is applied, and these are several",
            argument=" and ".join(named),
            remedy="Keep the one that was agreed before the measurement.",
        )
    if guard_band is not None:
        width = _checked_width(plain_limit(guard_band, estimate, "guard_band"), "guard_band", guard_band)
        return Rule(math.nan, width, "guard band of stated width")
    if guard_factor is not None:
        factor = _checked_width(plain(guard_factor, argument="guard_factor"), "guard_factor", guard_factor)
        told = f"guard band {factor:g} U, with U at {100 * check_level(level):g} %"
        width = factor * estimate.expanded(level)
        return Rule(math.nan, width, told if factor else "simple acceptance", factor, level)
    most = RISK if risk is None else plain(risk, argument="risk")
    if not 0.0 < most <= 0.5:  # noqa: PLR2004  (at one half a coin decides as well)
        raise DomainError(
            "the risk of a wrong decision is a probability",
            argument="risk",
            given=risk,
            expected="more than 0, at most 0.5",
            remedy=f"Write {most / 100:g}." if 1.0 <= most <= 50.0 else "Write for example 0.05.",  # noqa: PLR2004
        )
    return Rule(most, math.nan, f"specific risk of a wrong decision at most {100 * most:g} %")


def _checked_width(width: float, argument: str, given: object) -> float:
    if not (math.isfinite(width) and width >= 0.0):
        raise DomainError(
            "a guard band is finite and not negative",
            argument=argument,
            given=given,
            remedy="It is laid on the safe side of the limits for you; zero is simple acceptance.",
        )
    return width


def acceptance_and_rejection(specification: Limits, u: float, dof: float, rule: Rule) -> tuple[Limits, Limits]:
    """Return the limits of acceptance and of rejection for a result with this uncertainty."""
    if math.isnan(rule.width):
        return _limits_by_risk(specification, u, dof, rule.risk)
    if math.isnan(rule.factor):
        return _limits_by_width(specification, rule.width)
    return _limits_by_width(specification, rule.factor * u * coverage_factor(rule.level, dof))


def _limits_by_width(specification: Limits, width: float) -> tuple[Limits, Limits]:
    acceptance = Limits(specification.lower + width, specification.upper - width)
    if acceptance.lower > acceptance.upper:
        acceptance = Limits(math.nan, math.nan)
    return acceptance, Limits(specification.lower - width, specification.upper + width)


def _limits_by_risk(specification: Limits, u: float, dof: float, risk: float) -> tuple[Limits, Limits]:
    """Return the values at which the risk of acceptance, and that of rejection, is as large as it may be."""
    lower, upper = specification
    half = 0.5 * (upper - lower)
    if u == 0.0 or math.isinf(half):
        return _limits_by_width(specification, u * one_sided_factor(1.0 - risk, dof) if u else 0.0)

    def conforming(value: float) -> float:
        return between(value, u, dof, Limits(-half, half))

    def consumer_risk(value: float) -> float:
        return below(value, u, dof, -half) + above(value, u, dof, half)

    accepted = math.nan
    if consumer_risk(0.0) <= risk:
        accepted = half - _root(consumer_risk, risk, 0.0, half)
    rejected = 0.0
    if conforming(half) > risk:
        # Beyond, one limit alone would leave just this risk, and both leave less.
        rejected = _root(conforming, risk, half, half + u * one_sided_factor(1.0 - risk, dof)) - half
    return Limits(lower + accepted, upper - accepted), Limits(lower - rejected, upper + rejected)


def _root(function: Callable[[float], float], target: float, low: float, high: float) -> float:
    ends = [function(end) - target for end in (low, high)]
    if ends[0] * ends[1] >= 0.0:  # the root is one of the ends, but for rounding
        return low if abs(ends[0]) < abs(ends[1]) else high
    return float(optimize.brentq(lambda x: function(x) - target, low, high, xtol=1e-12 * high, rtol=1e-13))


def _band(specification: Limits, acceptance: Limits) -> float:
    lower, upper = specification
    return acceptance.lower - lower if math.isfinite(lower) else upper - acceptance.upper


def _decision(value: float, acceptance: Limits, rejection: Limits) -> str:
    if acceptance.lower <= value <= acceptance.upper:
        return FIT
    return UNFIT if value < rejection.lower or value > rejection.upper else UNDECIDED


def _flags(estimate: Estimate, specification: Limits, acceptance: Limits, rule: Rule) -> tuple[Flag, ...]:
    if estimate.u == 0.0:
        message = "The result has no uncertainty, so that its value alone decides. State u, or say why there is none."
        return (Flag(code="no-uncertainty", message=message),)
    if not math.isnan(acceptance.lower):
        return ()
    half = 0.5 * (specification.upper - specification.lower)
    unit = f" {estimate.unit}".removesuffix(" 1")
    if math.isnan(rule.width):
        most = half / one_sided_factor(1.0 - 0.5 * rule.risk, estimate.coverage_dof)
        needed = f"u at most {significant(most)}{unit}, and it is {significant(estimate.u)}{unit}"
    else:
        needed = f"a guard band of at most {significant(half)}{unit}, and it is {significant(rule.width)}{unit}"
    message = f"No value at all could be accepted: the limits are too near to each other. That needs {needed}."
    return (Flag(code="no-acceptance-interval", message=message),)
