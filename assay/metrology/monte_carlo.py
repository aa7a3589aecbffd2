"""Propagation of distributions through the same kernels as the linear result (JCGM 101:2008)."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from assay.display.numbers import Interval, between, significant, value_and_u
from assay.errors import DomainError
from assay.flags import Flag, codes_of
from assay.metrology.coverage import check_level
from assay.metrology.distribution import Ends, Moments, Trials, shortest_interval, symmetric_interval
from assay.metrology.influence import Influence
from assay.metrology.sampling import CHUNK, Sampler, add_counts, check_options, check_whole
from assay.metrology.settling import FEWEST_BATCHES, MOST_DIGITS, Batches, batch_size, check_digits, tolerance_of

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: Share of trials outside the range of a kernel above which a flag is raised. A choice of this library.
OUTSIDE_LIMIT = 0.001
#: Share of u by which mean or u of linear and plug-in draws may differ without a flag. A choice of this library.
LINEAR_LIMIT = 0.01
#: Standard numerical errors that are granted before a difference counts.
ERRORS_GRANTED = 3.0
#: Numerical error of u over u beyond which u hangs on few trials. A choice of this library.
U_ERROR_LIMIT = 0.05
#: JCGM 101:2008, 6.4.9.4: the scaled and shifted t has a variance only from 3 degrees of freedom.
DOF_WITH_VARIANCE = 3.0
#: A t has a fourth moment, and so its drawn u a numerical error, above 4 degrees of freedom.
DOF_WITHOUT_FOURTH_MOMENT = 4.0
FIXED_TRIALS = 1_000_000
MOST_TRIALS = 10_000_000


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class MonteCarlo:
    """The outcome of a Monte Carlo run.

    Parameters
    ----------
    label, unit : str
        What was sampled, and its unit.
    value : float
        Mean of the trials; NaN where the drawn inputs have none.
    u : float
        Standard deviation of the trials; NaN where the drawn inputs have none, so that only the interval is given.
    interval : Interval
        Probabilistically symmetric coverage interval.
    shortest : Interval
        Shortest coverage interval at the same level. Where the distribution is flat its place is hardly determined.
    value_error, u_error : float
        Standard numerical errors of ``value`` and ``u``: what another seed would change. Infinite where the trials
        cannot tell it.
    interval_error, shortest_error : tuple of float
        Standard numerical errors of the lower and the upper end, from the ranks alone whatever the distribution, the
        grid's included.
    cell : float
        Width of a cell of the grid on which a long run is counted; zero if all trials were kept.
    trials, seed : int
        Size of the run and its seed.
    few_replicates : str
        How inputs with few degrees of freedom were drawn.
    digits : int or None
        Significant digits of ``u`` to which an adaptive run was to settle; ``None`` for a fixed number of trials.
    tolerance : float or None
        The numerical tolerance that follows from ``digits``: half a unit of the last of them.
    linear_form_of : tuple of str
        Labels of reloaded results, which are sampled through their linear form.
    flags : tuple of Flag
        Doubts about the run.

    References
    ----------
    [jcgm-101-2008] 5.3.4, 7.6, 7.7 and 7.9.

    Examples
    --------
    >>> import assay
    >>> drum = assay.run_demo("drum").strengths["drum 7"].estimate
    >>> drum.monte_carlo(trials=10_000, seed=1).trials
    10000

    """

    label: str
    unit: str
    value: float
    u: float
    interval: Interval
    shortest: Interval
    value_error: float
    u_error: float
    interval_error: tuple[float, float]
    shortest_error: tuple[float, float]
    cell: float
    trials: int
    seed: int
    few_replicates: str
    digits: int | None = None
    tolerance: float | None = None
    linear_form_of: tuple[str, ...] = ()
    flags: tuple[Flag, ...] = ()

    @property
    def coverage_factor(self) -> float:
        """Half the width of the symmetric interval over u."""
        return 0.5 * (self.interval.high - self.interval.low) / self.u if self.u else math.nan

    @property
    def stable_digits(self) -> int:
        """Significant digits of u to which value, u and both ends of the interval are numerically stable, 0 to 6.

        Twice the largest standard error is then within half a unit of that digit.

        References
        ----------
        [jcgm-101-2008] 7.9.2 and 7.9.4.

        """
        twice = 2.0 * max(self.value_error, self.u_error, *self.interval_error)
        stable = (n for n in range(MOST_DIGITS, 0, -1) if self.u > 0.0 and twice <= tolerance_of(self.u, n))
        return next(stable, 0)

    def __repr__(self) -> str:
        low, high, level = self.interval
        value, u = value_and_u(self.value, self.u)
        unit = "" if self.unit == "1" else f" {self.unit}"
        low_text, high_text = between(low, high)
        linear = f", linear form of {', '.join(self.linear_form_of)}" if self.linear_form_of else ""
        return (
            f"<MonteCarlo {self.label!r}: {codes_of(self.flags)}{value}{unit}, u = {u}{unit}, {100 * level:g} % "
            f"from {low_text} to {high_text}{unit}, {self.trials} trials, {self.few_replicates}{linear}>"
        )

    def __str__(self) -> str:
        """Return value, u and both intervals with their numerical errors."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        value, u = value_and_u(self.value, self.u)
        errors = f"numerical errors {significant(self.value_error)} and {significant(self.u_error)}"
        lines = [f"{self.label}: {value}{unit}, u = {u}{unit} ({errors}; {self.trials} trials, {self.few_replicates})"]
        for name, interval, (low, high) in (
            ("symmetric", self.interval, self.interval_error),
            ("shortest", self.shortest, self.shortest_error),
        ):
            low_text, high_text = between(interval.low, interval.high)
            errors = f"numerical errors {significant(low)} and {significant(high)}"
            lines.append(f"  {100 * interval.level:g} %, {name}: {low_text} to {high_text}{unit} ({errors})")
        return "\n".join([*lines, *(f"  {flag}" for flag in self.flags)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How a run is to be made; the parameters are those of `Estimate.monte_carlo`."""

    trials: int | None = None
    digits: int | None = None
    seed: int = 1
    level: float = 0.95
    few_replicates: str = "plug-in"
    block: int = CHUNK
    threads: int = 1

    def __post_init__(self) -> None:
        """Check the options."""
        check_level(self.level)
        check_options(
            trials=self.most,
            seed=self.seed,
            few_replicates=self.few_replicates,
            block=self.block,
            threads=self.threads,
        )
        if self.digits is not None:
            self.check_adaptive(self.digits)

    def check_adaptive(self, digits: int) -> None:
        """Raise `DomainError` unless an adaptive run can settle to so many digits at all."""
        check_digits(digits)
        fewest = FEWEST_BATCHES * batch_size(self.level)
        remedy = f"A run that is to settle needs {FEWEST_BATCHES} batches, to see how they differ."
        check_whole(self.most, argument="trials", least=fewest, remedy=remedy)

    @property
    def most(self) -> int:
        """The most trials that may be run; all of them, if the run is not adaptive."""
        if self.trials is not None:
            return self.trials
        return FIXED_TRIALS if self.digits is None else MOST_TRIALS


# Whether a run may end, by its batches and by u of all trials so far.
Enough = Callable[[Batches, float], bool]


def propagated(estimate: Estimate, plan: Plan) -> MonteCarlo:
    """Return the outcome of a run for one result; see `Estimate.monte_carlo`."""
    if plan.digits is None:
        return run(estimate, plan)[0]
    digits = plan.digits
    if not _has_variance(estimate, plan):
        raise DomainError(
            "an adaptive run settles to digits of u, and these draws have no standard deviation",
            argument="digits",
            given=digits,
            remedy="Give a number of trials instead, or draw with few_replicates='plug-in'.",
        )
    outcome, ended = run(estimate, plan, lambda batches, u: batches.settled(tolerance_of(u, digits)))
    return outcome if ended else replace(outcome, flags=(*outcome.flags, _unsettled(outcome)))


def run(estimate: Estimate, plan: Plan, enough: Enough | None = None) -> tuple[MonteCarlo, bool]:
    """Return the outcome of a run, and whether it ended because it had enough.

    Parameters
    ----------
    estimate : Estimate
        What is sampled.
    plan : Plan
        How.
    enough : callable, optional
        Whether the run may end before its last trial, asked after each batch.

    """
    sampler = Sampler([estimate], seed=plan.seed, few_replicates=plan.few_replicates, block=plan.block)
    moments, trials, batches = Moments(), Trials(plan.level, expected=plan.most), Batches(plan.level)
    outside: dict[str, int] = {}
    ended = False
    with closing(sampler.chunks(plan.most, threads=plan.threads)) as chunks:
        for drawn in chunks:
            (values,) = drawn.samples
            moments.add(values)
            trials.add(values)
            add_counts(outside, drawn.outside)
            if enough is not None and batches.add(values) and enough(batches, moments.u):
                ended = True
                break
    order = trials.order()
    ends = symmetric_interval(order, plan.level), shortest_interval(order, plan.level)
    outcome = _outcome(estimate, plan, moments, ends, order.cell)
    flags = (
        *outside_flags(outside, outcome.trials),
        *_trials_flags(outcome),
        *(linear_flags(estimate, outcome) if plan.few_replicates == "plug-in" else ()),
    )
    return replace(outcome, flags=flags), ended


def _outcome(estimate: Estimate, plan: Plan, moments: Moments, ends: tuple[Ends, Ends], cell: float) -> MonteCarlo:
    has_variance = _has_variance(estimate, plan)
    u = moments.u if has_variance else math.nan
    u_error = moments.u_error if _has_fourth_moment(estimate, plan) else math.inf
    symmetric, shortest = ends
    return MonteCarlo(
        label=estimate.label,
        unit=estimate.unit,
        value=moments.mean if has_variance else math.nan,
        u=u,
        interval=Interval(symmetric.low, symmetric.high, plan.level),
        shortest=Interval(shortest.low, shortest.high, plan.level),
        value_error=moments.mean_error if has_variance else math.nan,
        u_error=u_error if has_variance else math.nan,
        interval_error=(symmetric.low_error, symmetric.high_error),
        shortest_error=(shortest.low_error, shortest.high_error),
        cell=cell,
        trials=moments.count,
        seed=plan.seed,
        few_replicates=plan.few_replicates,
        digits=plan.digits,
        tolerance=None if plan.digits is None else tolerance_of(u, plan.digits),
        linear_form_of=tuple(node.label for node in estimate.walk() if node.reloaded),
    )


def _has_variance(estimate: Estimate, plan: Plan) -> bool:
    """Return whether what is drawn has a standard deviation; the shape t always has one, the scaled t need not."""
    return plan.few_replicates == "plug-in" or all(
        influence.dof >= DOF_WITH_VARIANCE or influence.u == 0.0 for influence in estimate.influences.values()
    )


def _has_fourth_moment(estimate: Estimate, plan: Plan) -> bool:
    def dof_drawn(influence: Influence) -> float:
        if plan.few_replicates == "scaled t" and math.isfinite(influence.dof):
            return influence.dof
        return influence.parameters[0] if influence.shape == "t" else math.inf

    return all(
        influence.u == 0.0 or dof_drawn(influence) > DOF_WITHOUT_FOURTH_MOMENT
        for influence in estimate.influences.values()
    )


def outside_flags(outside: Mapping[str, int], trials: int) -> tuple[Flag, ...]:
    """Return a flag for each input of which too many trials lay outside the range of its formula."""
    return tuple(
        Flag(
            code="trials-outside-range",
            message=f"{100 * count / trials:.2g} % of the trials put {label} outside the range of its formula.",
        )
        for label, count in outside.items()
        if count / trials > OUTSIDE_LIMIT
    )


def _trials_flags(outcome: MonteCarlo) -> tuple[Flag, ...]:
    """Return the flags of a run whose trials do not tell what is asked of them."""
    flags = []
    if outcome.u_error > U_ERROR_LIMIT * outcome.u:
        flags.append(
            Flag(
                code="u-hangs-on-few-trials",
                message=(
                    f"The u of the trials, {significant(outcome.u)}, has a numerical error of "
                    f"{significant(outcome.u_error)}: it hangs on few trials, far out. State the interval, or give the "
                    "widest input a shape within its physical limits; below about 200 trials, run more."
                ),
            )
        )
    if math.isinf(max(outcome.interval_error)):
        level = outcome.interval.level
        flags.append(
            Flag(
                code="interval-beyond-trials",
                message=(
                    f"Too few trials lie beyond the ends of the {100 * level:g} % interval to tell their error: run "
                    f"{math.ceil(100.0 / (1.0 - level) - 1e-6)} trials or more."
                ),
            )
        )
    return tuple(flags)


def linear_flags(estimate: Estimate, outcome: MonteCarlo) -> tuple[Flag, ...]:
    """Return a flag if mean or u of plug-in draws differ from the linear result by more than 1 % of u."""
    limit = LINEAR_LIMIT * estimate.u
    told = [
        f"{what} by {significant(abs(sampled - linear))}"
        for what, sampled, linear, error in (
            ("the mean", outcome.value, estimate.value, outcome.value_error),
            ("u", outcome.u, estimate.u, outcome.u_error),
        )
        if abs(sampled - linear) > limit + ERRORS_GRANTED * error
    ]
    if not told:
        return ()
    unit = "" if estimate.unit == "1" else f" {estimate.unit}"
    return (
        Flag(
            code="linear-differs",
            message=(
                f"The formula is bent within the uncertainty of its inputs: sampled and linear result differ in "
                f"{' and in '.join(told)}{unit}, with a linear u of {significant(estimate.u)}{unit}. State the sampled "
                "result."
            ),
        ),
    )


def _unsettled(outcome: MonteCarlo) -> Flag:
    return Flag(
        code="not-settled",
        message=(
            f"After {outcome.trials} trials the results still move by more than the "
            f"{significant(outcome.tolerance or 0.0, 1)} that {outcome.digits} significant digits of u need. Allow "
            "more trials, or ask for fewer digits."
        ),
    )
