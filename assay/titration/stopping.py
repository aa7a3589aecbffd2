"""A rule fixed beforehand for when to stop titrating, and what it is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from assay.display.numbers import Interval, plus_minus
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError, Problems, nearest
from assay.flags import Flag, codes_of
from assay.metrology.conformity import UNDECIDED
from assay.metrology.coverage import check_level, coverage_factor
from assay.metrology.decision_factor import risk_dof
from assay.metrology.estimate import Estimate
from assay.metrology.looks import miss_at_each, share_missing
from assay.metrology.replicate_set import ReplicateSet, replicate_set
from assay.substances.strength import Strength
from assay.titration.deciding import in_unit_of_limits

NOT_CONTINUED, NOT_OWN = "earlier-titres-missing", "split-not-for-this-scatter"
BONFERRONI, EXACT = "bonferroni", "exact for t"
_MOST_TITRES = 50


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class StoppingLook:
    """What one look of a plan found.

    Parameters
    ----------
    n : int
        After how many titres.
    estimate : Estimate
        The result, in the unit of the limits.
    decision : str
        ``"fit"``, ``"unfit"`` or ``"undecided"``, at the risk that the plan has for this look.
    interval : Interval
        The interval that is stated if one stops here; its ``level`` is what this look must hold by itself.
    titres : tuple of float
        The titres, in their own unit.

    References
    ----------
    common practice: what was seen at a look is written down at that look.

    Examples
    --------
    >>> import assay
    >>> drum = assay.run_demo("drum").strengths["drum 7"]
    >>> plan = StoppingPlan(looks=(3, 5), lower="10 % w/v available chlorine").look(drum)
    >>> plan.looked[0]
    <StoppingLook at 3 titres: fit>

    """

    n: int
    estimate: Estimate
    decision: str
    interval: Interval
    titres: tuple[float, ...]

    def __repr__(self) -> str:
        return f"<StoppingLook at {self.n} titres: {self.decision}>"


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class StoppingPlan:
    """A plan of titration, fixed before the first titre: when one looks, what decides, and what is then stated.

    One titrates to the first look; if the rule decides there, one stops; if not, one titrates on to the next, and stops
    after the last whatever it says. Each look decides at a part of the risk and states an interval at a higher level,
    so that the stated risk and level hold over all looks together, whenever one stops.

    Without a plan they do not. Who states 95 % after 3, 4, … 10 titres and stops when it suits, states an interval that
    in as little as 83 % holds the truth where all of u is scatter, and accepts up to 15 % of what lies on the limit
    instead of 5 %; `unplanned` gives both for the looks of a plan. The study of plans
    (``tests/studies/results/deciding.txt``) has what they hold and accept instead.

    Parameters
    ----------
    looks : tuple of int
        Numbers of titres at which one looks, rising, 2 to 50. Titres that were seen before the plan make its first
        look; better, it begins with fresh ones.
    lower, upper : str, pint.Quantity or float, optional
        The specification limits, those of a strength with their basis; one at least.
    risk : float
        Most risk of a wrong decision over all looks, for what lies on a limit; above 0, at most 0.5.
    level : float
        Level of confidence over all looks of the interval that is stated in the end.
    split : str
        ``"bonferroni"``: each look has an equal part, whatever stands behind u; it errs to the safe side. ``"exact for
        t"``: each look has the same part, computed so that all together use up the whole where the scatter of the
        titres is all of u and is known from them alone; where glass is shared, it errs to the safe side.
    of : str, optional
        Which replicates, as for `titres_to_decide`.
    looked : tuple of StoppingLook
        What was found so far; begun plans are made by `look` alone.

    Raises
    ------
    DomainError
        If looks are not rising numbers of titres, or risk or level is out of range.
    DataError
        If there is no limit, or no such split.

    References
    ----------
    [pocock-1977] equal levels at each look, and [armitage-1969] what looks without a plan do, from memory;
    [jcgm-106-2012] 8.3 for each decision, from memory. Bonferroni's inequality is common practice.

    Examples
    --------
    >>> plan = StoppingPlan(looks=(3, 5, 8), lower="110 g/L available chlorine")
    >>> plan
    <StoppingPlan: looks at 3, 5 and 8 titres, nothing titrated yet>
    >>> round(plan.level_at_each, 4), round(plan.risk_at_each, 4)
    (0.9833, 0.0167)
    >>> print(plan.unplanned)
    Looks at 3, 5 and 8 titres without a plan: an interval that says 95 % may hold in 88.4 %, and a risk that says 5 %
    may be 10.7 %.

    """

    looks: tuple[int, ...]
    lower: Any = None
    upper: Any = None
    risk: float = 0.05
    level: float = 0.95
    split: str = BONFERRONI
    of: str | None = None
    looked: tuple[StoppingLook, ...] = field(default=())

    def __post_init__(self) -> None:
        """Check the plan."""
        problems = Problems()
        object.__setattr__(self, "looks", problems.attempt(_checked_looks, self.looks))
        problems.attempt(check_level, self.level)
        problems.attempt(_check_rest, self)
        problems.raise_any()

    @property
    def risk_at_each(self) -> float:
        """The risk at which each look decides."""
        return self._part(self.risk, sides=1)

    @property
    def level_at_each(self) -> float:
        """The level of the interval that each look states."""
        return 1.0 - self._part(1.0 - self.level, sides=2)

    def _part(self, whole: float, *, sides: int) -> float:
        if self.split == EXACT:
            return miss_at_each(self.looks, whole, sides=sides)
        return whole / len(self.looks)

    @property
    def unplanned(self) -> str:
        """What the same looks without a plan do, at the worst, where the titres' scatter is all of u."""
        held = 1.0 - share_missing(self.looks, 1.0 - self.level)
        risk = share_missing(self.looks, self.risk, sides=1)
        return (
            f"Looks at {_listed(self.looks)} titres without a plan: an interval that says {100 * self.level:g} % may "
            f"hold in {100 * held:.1f} %, and a risk that says {100 * self.risk:g} % may be {100 * risk:.1f} %."
        )

    @property
    def stopped(self) -> bool:
        """Whether it is at its end: decided, or all titres used."""
        return bool(self.looked) and (self.decision != UNDECIDED or len(self.looked) == len(self.looks))

    @property
    def next_look(self) -> int:
        """At how many titres the next look is; 0 if there is none."""
        return 0 if self.stopped else self.looks[len(self.looked)]

    @property
    def decision(self) -> str:
        """What was decided so far."""
        return self.looked[-1].decision if self.looked else UNDECIDED

    @property
    def interval(self) -> Interval:
        """The interval to state, at the level of the plan; only once it has stopped."""
        if not self.stopped:
            raise DataError(
                "the plan has not stopped: nothing is stated yet",
                argument="interval",
                remedy=f"Titrate on to {self.next_look} titres, and look again.",
            )
        low, high, _ = self.looked[-1].interval
        return Interval(low, high, self.level)

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts whether the plan was kept."""
        return tuple(dict.fromkeys(flag for look in self.looked for flag in look.estimate.flags))

    def look(self, result: Strength | Estimate) -> StoppingPlan:
        """Return the plan with the next look taken.

        Parameters
        ----------
        result : Strength or Estimate
            The result from all titres so far, those of earlier looks among them.

        Raises
        ------
        DataError
            If the plan has stopped, or the result is of another number of titres than the next look.
        AssayError
            Otherwise as for `titres_to_decide`.

        """
        if self.stopped:
            raise DataError(
                "the plan has stopped: what is titrated now belongs to a new one",
                argument="result",
                given=result.label,
                remedy=f"State what it found: {self.decision}. A new plan begins with fresh titres.",
            )
        limited = in_unit_of_limits(result, lower=self.lower, upper=self.upper)
        found = replicate_set(limited.estimate, of=self.of, but=limited.titrants, hidden=True)
        if found.n != self.next_look:
            raise DataError(
                "the plan does not look at so many titres",
                argument="result",
                given=f"{found.n} titres",
                expected=f"{self.next_look}",
                remedy="Titrate as it was fixed: a look in between is one more than its level was split for.",
            )
        estimate = limited.estimate.flagged(*self._doubts(found))
        decision = estimate.conformity(lower=limited.lower, upper=limited.upper, risk=self.risk_at_each).decision
        interval = _kept_interval(estimate, self.level_at_each)
        look = StoppingLook(
            n=found.n, estimate=estimate, decision=decision, interval=interval, titres=found.values
        )  # fmt: skip
        return replace(self, looked=(*self.looked, look))

    def _doubts(self, found: ReplicateSet) -> list[Flag]:
        doubts = []
        before = list(self.looked[-1].titres) if self.looked else []
        if [value for value in before if before.count(value) > found.values.count(value)]:
            message = (
                f"not all titres of the look at {self.looked[-1].n} are among the {found.n} of this one: what is left "
                "out after it was looked at is chosen, and neither level nor risk of the plan holds."
            )
            doubts.append(Flag(code=NOT_CONTINUED, message=message))
        if self.split == EXACT and not found.own:
            message = (
                "the split was computed for an s of the titres alone, and here s is known of the method: the level may "
                "be missed by a little. Plan such titrations with split='bonferroni'."
            )
            doubts.append(Flag(code=NOT_OWN, message=message))
        return doubts

    def changed(self, **changes: Any) -> StoppingPlan:  # noqa: ANN401  (any field of the plan)
        """Return another plan, as long as nothing was titrated for this one.

        Parameters
        ----------
        **changes : object
            Fields of the plan by name, such as ``looks=(3, 6)``.

        Raises
        ------
        DataError
            If it has begun, or has no such field.

        """
        if self.looked:
            raise DataError(
                "the plan has begun: changed after titres were seen, it would state what does not hold",
                argument=", ".join(changes),
                given=f"{self.looked[-1].n} titres seen",
                remedy="Finish it as it was fixed, or begin another with fresh titres and report both.",
            )
        fields = ("looks", "lower", "upper", "risk", "level", "split", "of")
        for name in changes:
            if name not in fields:
                raise DataError("a plan has no such part", argument=name, remedy=nearest(name, fields))
        return replace(self, **changes)

    def rows(self) -> Rows:
        """Return the looks as rows of text, those to come among them."""
        body = [
            (
                str(look.n),
                plus_minus(look.estimate.value, look.interval.high - look.estimate.value, look.estimate.unit),
                look.decision,
            )
            for look in self.looked
        ]
        body += [(str(n), "", "not needed" if self.stopped else "to come") for n in self.looks[len(self.looked) :]]
        level = f"{100 * self.level_at_each:.4g} %"
        return Rows(
            title=f"stopping plan: {self._said()}",
            head=("titres", f"found, U at {level}", "decision"),
            body=tuple(body),
        )

    def _said(self) -> str:
        looks = (
            f"looks at {_listed(self.looks)} titres" if len(self.looks) > 1 else f"one look, at {self.looks[0]} titres"
        )
        if not self.looked:
            return f"{looks}, nothing titrated yet"
        state = f"stopped at {self.looked[-1].n}" if self.stopped else f"next at {self.next_look}"
        return f"{looks}, {state}, {self.decision}"

    def _last_lines(self) -> tuple[str, ...]:
        whole = f"Over all looks: level {100 * self.level:g} %, risk {100 * self.risk:g} %"
        return (f"{whole}; each decides at {100 * self.risk_at_each:.3g} % ({self.split}).", self.unplanned)

    def __repr__(self) -> str:
        return f"<StoppingPlan: {codes_of(self.flags)}{self._said()}>"


def _kept_interval(estimate: Estimate, level: float) -> Interval:
    """Return an interval that holds its level where few titres stand beside what is known, as the decision does."""
    half = estimate.u * coverage_factor(level, risk_dof(estimate, 0.5 - 0.5 * level))
    return Interval(estimate.value - half, estimate.value + half, level)


def _checked_looks(looks: Sequence[Any]) -> tuple[int, ...]:
    found = tuple(looks)
    whole = all(isinstance(n, int) and not isinstance(n, bool) for n in found)
    rising = whole and all(a < b for a, b in pairwise((1, *found, _MOST_TITRES + 1)))
    if not (found and rising):
        raise DomainError(
            "looks are numbers of titres, each larger than the one before",
            argument="looks",
            given=found,
            expected=f"whole numbers, rising, from 2 to {_MOST_TITRES}",
            remedy="Write for example looks=(3, 5, 8).",
        )
    return found


def _check_rest(plan: StoppingPlan) -> None:
    if plan.lower is None and plan.upper is None:
        raise DataError(
            "a plan says beforehand against which limits it decides",
            argument="lower, upper",
            remedy="Give the lower, the upper or both, such as lower='80 g/L available chlorine'.",
        )
    if not 0.0 < plan.risk <= 0.5:  # noqa: PLR2004  (at one half a coin decides as well)
        raise DomainError(
            "the risk of a wrong decision is a probability",
            argument="risk", given=plan.risk, expected="more than 0, at most 0.5", remedy="Write for example 0.05.",
        )  # fmt: skip
    if plan.split not in {BONFERRONI, EXACT}:
        raise DataError(
            "there is no such split",
            argument="split",
            given=plan.split,
            remedy=nearest(plan.split, (BONFERRONI, EXACT)),
        )


def _listed(looks: Sequence[int]) -> str:
    return " and ".join(part for part in (", ".join(map(str, looks[:-1])), str(looks[-1])) if part)
