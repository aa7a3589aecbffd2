"""Whether further replicates could decide what is undecided, how many it would take, and when none can."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from assay.display.numbers import significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DomainError, Problems
from assay.flags import Flag, codes_of, merged
from assay.metrology.budget import combined_dof
from assay.metrology.conformity import UNDECIDED, Conformity, Rule, acceptance_and_rejection, rule_of
from assay.metrology.coverage import coverage_dof_of
from assay.metrology.decision_factor import risk_dof_of
from assay.metrology.estimate import Estimate
from assay.metrology.futures import FUTURES, decided, futures_after
from assay.metrology.probability import Limit, Limits
from assay.metrology.replicate_set import ReplicateSet, replicate_set

#: More further replicates than this are not looked for.
MOST = 10_000
#: A decision that comes in fewer than so many of all futures, however many replicates, is none that could be had.
NEVER = 0.001
_SHOWN = (1, 2, 3, 5, 8)
_ONE_BY_ONE = 12.0
#: Numbers of replicates that are tried first. More of them mostly decide more often, but not always: where the floor
#: alone leaves it undecided, what they let the mean stray is lost.
_TRIED = (*map(float, range(1, 13)), 24.0, 48.0, 96.0, math.inf)


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class DecisionOutlook:
    """Whether further replicates could decide, how many it takes, and what none of them can change.

    Parameters
    ----------
    label, unit : str
        Of what, and the unit of the numbers below.
    conformity : Conformity
        The decision as it stands.
    of : str
        Path of the replicates that would be more.
    n : int
        How many there are.
    probability : float
        Chance of a decision that was asked for.
    further : float
        The fewest further replicates with which a decision comes with that chance: 0 if it is decided, infinite if no
        number of them will do.
    chances : tuple of (int, float)
        Numbers of further replicates, and the chance of a decision with each.
    most_chance : float
        The largest chance with any number of them, ever so many included.
    floor : float
        Standard uncertainty that no number of replicates goes below: glass, standard, titrant.
    zones : tuple of Limits
        A mean of ever so many replicates that lies in one of these is undecided for all that.
    verdict : str
        ``"decided"``, ``"can decide"``, ``"may not decide"`` (not with that chance) or ``"cannot decide"`` (one future
        in a thousand at the most).
    flags : tuple of Flag
        Those of the decision, and ``second-look`` where further replicates are advised: a plan fixed beforehand keeps
        the risk that is stated.
    basis : str
        What is assumed.

    References
    ----------
    [jcgm-106-2012] 8.3 for the decision, from memory; [jcgm-101-2008] 6.4.9 for what few replicates say of further
    ones.

    Examples
    --------
    >>> import assay
    >>> found = assay.titres_to_decide(
    ...     assay.run_demo("drum").strengths["drum 7"], lower="110.6 g/L available chlorine"
    ... )
    >>> found.verdict, found.further
    ('cannot decide', inf)

    """

    label: str
    unit: str
    conformity: Conformity
    of: str
    n: int
    probability: float
    further: float
    chances: tuple[tuple[int, float], ...]
    most_chance: float
    floor: float
    zones: tuple[Limits, ...]
    verdict: str
    flags: tuple[Flag, ...]
    basis: str

    def rows(self) -> Rows:
        """Return the chance of a decision by the number of further replicates, as rows of text."""
        body = [(str(m), _percent(chance)) for m, chance in self.chances]
        body.append(("any number, at the most", _percent(self.most_chance)))
        return Rows(
            title=f"{self.label}: {self._said()}", head=("further replicates", "chance of a decision"), body=tuple(body)
        )

    def _said(self) -> str:
        share = f"{100 * self.probability:g} %"
        if self.verdict == "decided":
            return f"{self.conformity.decision}; no further replicate is needed"
        if self.verdict == "can decide":
            return f"undecided; {self.further:.0f} further replicates would decide with a chance of {share}"
        if self.verdict == "may not decide":
            return f"undecided; no number of further replicates decides with a chance of {share}"
        return "undecided; no number of further replicates can decide"

    def _last_lines(self) -> tuple[str, ...]:
        unit = f" {self.unit}".removesuffix(" 1")
        floor = f"No number of replicates brings u below {significant(self.floor)}{unit}; it is"
        lines = [f"{floor} {significant(self.conformity.u)}{unit} with {self.n}."]
        if self.verdict in {"may not decide", "cannot decide"}:
            lines.append(
                "What would help: a smaller u of what replicates share. The budget says which part is largest."
            )
        return (*lines, self.basis)

    def __repr__(self) -> str:
        return f"<DecisionOutlook of {self.label!r}: {codes_of(self.flags)}{self._said()}>"


def outlook_of(
    estimate: Estimate,
    *,
    lower: Limit | None = None,
    upper: Limit | None = None,
    risk: float | None = None,
    guard_factor: float | None = None,
    guard_band: Limit | None = None,
    level: float = 0.95,
    of: str | None = None,
    but: Collection[str] = (),
    probability: float = 0.95,
    futures: int = FUTURES,
) -> DecisionOutlook:
    """Return whether further replicates could decide; see `titres_to_decide` of ``assay.titration.deciding``.

    ``but`` are ids of influences whose replicates are not meant where ``of`` is left out, and ``futures`` is over how
    many points a chance is taken.
    """
    problems = Problems()
    found = problems.attempt(
        estimate.conformity,
        lower=lower, upper=upper, risk=risk, guard_factor=guard_factor, guard_band=guard_band, level=level,
    )  # fmt: skip
    replicates = problems.attempt(replicate_set, estimate, of=of, but=but)
    problems.attempt(_check_probability, probability)
    problems.raise_any()
    rule = rule_of(estimate, risk, guard_factor, guard_band, level)
    specification = found.specification

    @lru_cache
    def chance(further: float) -> float:
        after = futures_after(replicates, estimate.value, further, risk=rule.risk, count=futures)
        return float(np.mean(decided(after, specification, rule)))

    decided_now = found.decision != UNDECIDED
    most = 1.0 if decided_now else max(map(chance, _TRIED))
    further = 0.0 if decided_now else _fewest(chance, probability)
    shown = () if decided_now else _shown(further)
    floor, floor_dof = floor_of(replicates, rule.risk)
    verdict = _verdict(further, most)
    return DecisionOutlook(
        label=estimate.label,
        unit=estimate.unit,
        conformity=found,
        of=replicates.path,
        n=replicates.n,
        probability=probability,
        further=further,
        chances=tuple((m, chance(float(m))) for m in shown),
        most_chance=most,
        floor=floor,
        zones=_zones(specification, floor, floor_dof, rule),
        verdict=verdict,
        flags=merged([found.flags, _flags(verdict, replicates, further)]),
        basis=_basis(replicates),
    )


def _check_probability(probability: float) -> None:
    if not 0.0 < probability < 1.0:
        raise DomainError(
            "the chance of a decision is a probability",
            argument="probability",
            given=probability,
            expected="more than 0, less than 1",
            remedy="Write for example 0.95.",
        )


def _fewest(chance: Callable[[float], float], probability: float) -> float:
    """Return the fewest replicates with a chance: one by one while they are few, then by halving."""
    for m in _TRIED:
        if chance(m) >= probability:
            low, high = (m / 2.0, m) if m > _ONE_BY_ONE else (m - 1.0, m)
            break
    else:
        return math.inf
    if math.isinf(high):
        low, high = _TRIED[-2], 2.0 * _TRIED[-2]
        while chance(high) < probability:
            if high > MOST:
                return math.inf
            low, high = high, 2.0 * high
    while high - low > 1.0:
        middle = (low + high) // 2.0
        low, high = (low, middle) if chance(middle) >= probability else (middle, high)
    return high


def _shown(further: float) -> tuple[int, ...]:
    if math.isinf(further):
        return _SHOWN
    return (*(m for m in _SHOWN if m < further), int(further))


def _verdict(further: float, most: float) -> str:
    if further == 0.0:
        return "decided"
    if math.isfinite(further):
        return "can decide"
    return "may not decide" if most >= NEVER else "cannot decide"


def _flags(verdict: str, replicates: ReplicateSet, further: float) -> tuple[Flag, ...]:
    if verdict != "can decide":
        return ()
    message = (
        f"{replicates.n} replicates were looked at; to add some because they did not decide is a second look, and "
        "wrong decisions are then more frequent than the rule says. For the stated risk, fix a plan and begin it with "
        f"fresh titres, with looks at {max(replicates.n, 2)} and {replicates.n + further:.0f} of them (StoppingPlan)."
    )
    return (Flag(code="second-look", message=message),)


def _basis(replicates: ReplicateSet) -> str:
    known = (
        f"what their own s tells of further ones ({replicates.dof:g} degrees of freedom)"
        if replicates.own
        else "the s that is known of the method"
    )
    return f"Basis: the {replicates.n} replicates, and {known}; all else stays. Right to about 0.002."


def _percent(chance: float) -> str:
    return f"{100 * chance:.1f} %"


def floor_of(replicates: ReplicateSet, risk: float = math.nan) -> tuple[float, float]:
    """Return the u that no number of replicates goes below, and the degrees of freedom for a decision by it."""
    together = (replicates.with_it, math.inf if replicates.own else replicates.dof)
    terms = [term for term in (*replicates.rest, together) if term[0] > 0.0]
    u, dof = combined_dof(terms)
    found = coverage_dof_of(terms, dof)
    if not math.isnan(risk) and terms:
        found = float(risk_dof_of([(c * c, own) for c, own in terms], risk, found))
    return u, found


def _zones(specification: Limits, floor: float, dof: float, rule: Rule) -> tuple[Limits, ...]:
    acceptance, rejection = acceptance_and_rejection(specification, floor, dof, rule)
    if math.isnan(acceptance.lower):  # nothing can be accepted
        return (Limits(rejection.lower, rejection.upper),)
    around = ((rejection.lower, acceptance.lower), (acceptance.upper, rejection.upper))
    return tuple(Limits(*zone) for zone, limit in zip(around, specification, strict=True) if math.isfinite(limit))
