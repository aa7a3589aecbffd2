"""Probabilities of a true value below, above and between limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from scipy import special

from assay.errors import DataError, DomainError, Problems
from assay.flags import Flag
from assay.metrology.monte_carlo import FIXED_TRIALS, outside_flags
from assay.metrology.sampling import Sampler, add_counts, check_options
from assay.units import read_in

if TYPE_CHECKING:
    import pint

    from assay.metrology.estimate import Estimate

#: ``"80 g/L"``, a quantity of any pint registry, or a plain number for a result that is one.
Limit: TypeAlias = "str | float | pint.Quantity[Any]"

#: Degrees of freedom beyond which t is normal to all digits, and its probabilities lose theirs.
_NORMAL = 1e10


class Limits(NamedTuple):
    """A lower and an upper limit; both belong to what they limit. Infinite for none, NaN if nothing lies between."""

    lower: float
    upper: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SampledProbability:
    """The share of trials of a Monte Carlo run that lie within limits.

    Parameters
    ----------
    probability : float
        The share.
    error : float
        Its standard numerical error, never less than that of one trial.
    trials, seed : int
        Size of the run and its seed.
    few_replicates : str
        How inputs with few degrees of freedom were drawn.
    linear_form_of : tuple of str
        Labels of reloaded results, which are sampled through their linear form.
    flags : tuple of Flag
        Doubts about the run.

    References
    ----------
    [jcgm-101-2008] 7.5: the distribution function is approximated by the ordered trials.

    Examples
    --------
    >>> from assay import Estimate, Influence
    >>> drum = Estimate.from_influence(Influence(id="drum", label="drum", value=1.62, u=0.05), name="value")
    >>> found = drum.sampled_probability(lower=1.62, trials=10_000)
    >>> abs(found.probability - 0.5) < 4.0 * found.error
    True

    """

    probability: float
    error: float
    trials: int
    seed: int
    few_replicates: str
    linear_form_of: tuple[str, ...] = ()
    flags: tuple[Flag, ...] = ()


def t_probability(z: float, dof: float) -> float:
    """Return the probability of a t below z; of the normal for infinite degrees of freedom.

    Examples
    --------
    >>> t_probability(0.0, 3.0), round(t_probability(1.6448536, math.inf), 6)
    (0.5, 0.95)

    """
    return float(special.ndtr(z) if dof > _NORMAL else special.stdtr(dof, z))


def probability_below(estimate: Estimate, limit: Limit) -> float:
    """Return the probability of a true value below a limit; see `Estimate.probability_below`."""
    return below(estimate.value, estimate.u, estimate.coverage_dof, plain_limit(limit, estimate, "limit"))


def probability_above(estimate: Estimate, limit: Limit) -> float:
    """Return the probability of a true value above a limit; see `Estimate.probability_above`."""
    return above(estimate.value, estimate.u, estimate.coverage_dof, plain_limit(limit, estimate, "limit"))


def probability_between(estimate: Estimate, lower: Limit, upper: Limit) -> float:
    """Return the probability of a true value from one limit to another; see `Estimate.probability_between`."""
    return between(estimate.value, estimate.u, estimate.coverage_dof, limits_of(estimate, lower, upper))


def sampled_probability(  # noqa: PLR0917  (limits, then how to run)
    estimate: Estimate,
    lower: Limit | None,
    upper: Limit | None,
    trials: int = FIXED_TRIALS,
    seed: int = 1,
    few_replicates: str = "scaled t",
    threads: int = 1,
) -> SampledProbability:
    """Return the probability within limits by Monte Carlo; see `Estimate.sampled_probability`."""
    limits = limits_of(estimate, lower, upper)
    check_options(trials=trials, seed=seed, few_replicates=few_replicates, block=1, threads=threads)
    sampler = Sampler([estimate], seed=seed, few_replicates=few_replicates)
    inside, outside = 0, dict[str, int]()
    for drawn in sampler.chunks(trials, threads=threads):
        (values,) = drawn.samples
        inside += int(((values >= limits.lower) & (values <= limits.upper)).sum())
        add_counts(outside, drawn.outside)
    share = inside / trials
    return SampledProbability(
        probability=share,
        error=max(math.sqrt(share * (1.0 - share) / trials), 1.0 / trials),
        trials=trials,
        seed=seed,
        few_replicates=few_replicates,
        linear_form_of=tuple(node.label for node in estimate.walk() if node.reloaded),
        flags=outside_flags(outside, trials),
    )


def below(value: float, u: float, dof: float, limit: float) -> float:
    """Return the probability below a limit; without uncertainty, what lies on the limit is not below it."""
    if u == 0.0:
        return float(value < limit)
    return t_probability((limit - value) / u, dof)


def above(value: float, u: float, dof: float, limit: float) -> float:
    """Return the probability above a limit; see `below`."""
    return below(-value, u, dof, -limit)


def between(value: float, u: float, dof: float, limits: Limits) -> float:
    """Return the probability between limits, from the nearer tail so that a small one keeps its digits."""
    if u == 0.0:
        return float(limits.lower <= value <= limits.upper)
    low, high = (limits.lower - value) / u, (limits.upper - value) / u
    if low > 0.0:
        low, high = -high, -low
    return max(t_probability(high, dof) - t_probability(low, dof), 0.0)


def plain_limit(limit: Limit, estimate: Estimate, argument: str) -> float:
    """Return a limit in the unit of a result."""
    if hasattr(limit, "sensitivities"):
        raise DataError(
            "a limit is a stated number; this is a measured one, with an uncertainty of its own",
            argument=argument,
            remedy="Compare the two results: compare(a, b) gives the probability that one is above the other.",
        )
    return read_in(limit, estimate.unit, argument=argument)


def limits_of(estimate: Estimate, lower: Limit | None, upper: Limit | None) -> Limits:
    """Return limits in the unit of a result, infinite where there is none.

    Raises
    ------
    DataError
        If there is none at all.
    DomainError
        If the lower is not below the upper one.
    UnitError
        If a unit is missing or of another dimension.

    """
    if lower is None and upper is None:
        raise DataError(
            "there is no specification limit",
            argument="lower, upper",
            remedy=f"Give the lower, the upper or both, such as lower='80 {estimate.unit}'.".replace(" 1'", "'"),
        )
    problems = Problems()
    low = -math.inf if lower is None else problems.attempt(plain_limit, lower, estimate, "lower")
    high = math.inf if upper is None else problems.attempt(plain_limit, upper, estimate, "upper")
    problems.raise_any()
    if not low < high:
        raise DomainError(
            "the lower limit is not below the upper one",
            argument="lower, upper",
            given=f"{lower} and {upper}",
            remedy="Are they exchanged? A single value is no interval: give it a tolerance on both sides.",
        )
    return Limits(low, high)
