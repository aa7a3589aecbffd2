"""Propagation of distributions through the same kernels as the linear result (JCGM 101:2008)."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from numbers import Integral
from typing import TYPE_CHECKING

import numpy as np

from assay.display.numbers import Interval, between, value_and_u
from assay.errors import DomainError
from assay.flags import Flag, codes_of
from assay.kernels.ranges import ranges_of
from assay.kernels.value import Value
from assay.metrology.coverage import check_level
from assay.metrology.influence import Influence, Joint, shared_influences
from assay.metrology.shapes import SHAPES, Array, Generator

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: Share of trials outside the range of a kernel above which a flag is raised. A choice of this library.
OUTSIDE_LIMIT = 0.001
#: JCGM 101:2008, 6.4.9.4: the scaled and shifted t has a variance only from 3 degrees of freedom.
DOF_WITH_VARIANCE = 3.0
FEW_REPLICATES = ("plug-in", "scaled t")
_FEWEST_TRIALS = 100

# Draws the deviations of one influence, or of the members of one joint, for a number of trials.
_Stream = Callable[[int], dict[str, Array]]


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
    [jcgm-101-2008] 7: draws, mean, standard deviation and coverage interval.

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
    trials: int
    seed: int
    few_replicates: str
    linear_form_of: tuple[str, ...] = ()
    flags: tuple[Flag, ...] = ()

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


def propagated(
    estimate: Estimate, *, trials: int, seed: int, level: float, few_replicates: str, block: int
) -> MonteCarlo:
    """Return the outcome of a run for one result; see `Estimate.monte_carlo`."""
    check_level(level)
    samples, outside = sampled([estimate], trials=trials, seed=seed, few_replicates=few_replicates, block=block)
    values = samples[0]
    has_variance = few_replicates == "plug-in" or all(
        influence.dof >= DOF_WITH_VARIANCE or influence.u == 0.0 for influence in estimate.influences.values()
    )
    low, high = quantiles(values, [(1.0 - level) / 2.0, (1.0 + level) / 2.0])
    return MonteCarlo(
        label=estimate.label,
        unit=estimate.unit,
        value=float(values.mean()) if has_variance else math.nan,
        u=float(values.std(ddof=1)) if has_variance else math.nan,
        interval=Interval(low, high, level),
        trials=trials,
        seed=seed,
        few_replicates=few_replicates,
        linear_form_of=tuple(node.label for node in estimate.walk() if node.reloaded),
        flags=_outside_flags(outside, trials),
    )


def quantiles(values: Array, probabilities: Sequence[float]) -> list[float]:
    """Return order statistics: the values at or below which these shares of the trials lie (JCGM 101:2008, 7.7.2)."""
    last = values.size - 1
    # A share such as (1 - 0.95) / 2 is off by its last bits: without the slack it would take the next order statistic.
    places = [min(max(math.ceil(p * values.size - 1e-6) - 1, 0), last) for p in probabilities]
    parted = np.partition(values, sorted(set(places)))
    return [float(parted[place]) for place in places]


def sampled(
    estimates: Sequence[Estimate],
    *,
    trials: int,
    seed: int = 1,
    few_replicates: str = "plug-in",
    block: int = 16_384,
) -> tuple[list[Array], dict[str, int]]:
    """Return drawn values of several results together, and how many trials fell outside the range of a kernel.

    Parameters
    ----------
    estimates : sequence of Estimate
        The results; an influence that they share is drawn once for all.
    trials, seed, few_replicates, block
        As for `Estimate.monte_carlo`.

    Returns
    -------
    samples : list of array, each of shape (trials,)
        One array for each result.
    outside : dict
        Number of trials outside a kernel's range, by the label of the operand.

    Raises
    ------
    DomainError
        If an option is wrong, or a trial has no value at all.

    """
    _check_options(trials, seed, few_replicates, block)
    influences = shared_influences(estimate.influences for estimate in estimates)
    streams = _streams(influences.values(), seed, scaled_t=few_replicates == "scaled t")
    nodes = list({id(node): node for estimate in estimates for node in estimate.walk()}.values())
    samples: list[Array] = [np.empty(trials) for _ in estimates]
    outside: dict[str, int] = {}
    for start in range(0, trials, block):
        size = min(block, trials - start)
        deviations = {id_: drawn for stream in streams for id_, drawn in stream(size).items()}
        values = _evaluated(nodes, deviations, outside)
        for sample, estimate in zip(samples, estimates, strict=True):
            sample[start : start + size] = values[id(estimate)]
            if not np.isfinite(sample[start : start + size]).all():
                _refuse_undefined(estimate, deviations, ~np.isfinite(sample[start : start + size]))
    return samples, outside


def _check_options(trials: int, seed: int, few_replicates: str, block: int) -> None:
    for argument, given, least in (("trials", trials, _FEWEST_TRIALS), ("seed", seed, 0), ("block", block, 1)):
        if not _is_whole(given) or given < least:
            raise DomainError(
                "out of range", argument=argument, given=given, expected=f"a whole number, {least} or more"
            )
    if few_replicates not in FEW_REPLICATES:
        raise DomainError(
            "unknown way to draw inputs with few degrees of freedom",
            argument="few_replicates",
            given=few_replicates,
            expected="'plug-in' or 'scaled t'",
        )


def _is_whole(number: object) -> bool:
    return isinstance(number, Integral)


def generator_for(seed: int, id_: str) -> Generator:
    """Return the stream of one influence: it depends on the seed and the id alone."""
    digest = int.from_bytes(hashlib.sha256(id_.encode()).digest()[:16], "big")
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, digest])))


def _streams(influences: Iterable[Influence], seed: int, *, scaled_t: bool) -> list[_Stream]:
    """Return what draws the deviations of each independent influence, and of the members in use of each joint."""
    streams: list[_Stream] = []
    joints: dict[str, tuple[Joint, set[str]]] = {}
    for influence in influences:
        if influence.joint is not None:
            joints.setdefault(influence.joint.id, (influence.joint, set()))[1].add(influence.id)
        elif influence.u > 0.0:
            streams.append(_single(influence, generator_for(seed, influence.id), scaled_t=scaled_t))
    streams.extend(_together(joint, used, seed, scaled_t=scaled_t) for joint, used in joints.values())
    return streams


def _single(influence: Influence, generator: Generator, *, scaled_t: bool) -> _Stream:
    draw = SHAPES[influence.shape].draw
    id_, u, dof = influence.id, influence.u, influence.dof
    heavy = scaled_t and math.isfinite(dof)

    def deviations(n: int) -> dict[str, Array]:
        drawn = generator.standard_t(dof, n) if heavy else draw(generator, n)
        drawn *= u
        return {id_: drawn}

    return deviations


def _together(joint: Joint, used: set[str], seed: int, *, scaled_t: bool) -> _Stream:
    """Return what draws the members in use of a joint.

    Each normal score has a stream of its own and the root of the correlation is lower triangular, so scores beyond the
    last member in use need not be drawn, and leaving them out changes nothing.
    """
    places = [k for k, id_ in enumerate(joint.member_ids) if id_ in used]
    covariance = np.array(joint.covariance)
    scale = np.sqrt(np.diag(covariance))
    bound = np.outer(scale, scale)
    correlation = np.divide(covariance, bound, out=np.eye(scale.size), where=bound > 0.0)
    if joint.shape == "rectangular":
        correlation = 2.0 * np.sin(math.pi / 6.0 * correlation)
    root = lower_root(correlation, what=joint.id)[places, : places[-1] + 1]
    generators = [generator_for(seed, f"{joint.id}#{k}") for k in range(places[-1] + 1)]
    chi = generator_for(seed, f"{joint.id}#dof") if scaled_t and math.isfinite(joint.dof) else None
    from_normal = SHAPES[joint.shape].from_normal

    def deviations(n: int) -> dict[str, Array]:
        drawn_scores = [generator.standard_normal(n) for generator in generators]
        # One product after another, not a matrix product: that sums in an order which depends on its size.
        scores, term = np.zeros((len(places), n)), np.empty(n)
        for k, weights in enumerate(root):
            for weight, score in zip(weights, drawn_scores, strict=True):
                if weight != 0.0:
                    scores[k] += np.multiply(score, weight, out=term)
        if chi is not None:
            scores *= np.sqrt(joint.dof / chi.chisquare(joint.dof, n))
        drawn = from_normal(scores)
        drawn *= scale[places, None]
        return {joint.member_ids[place]: row for place, row in zip(places, drawn, strict=True)}

    return deviations


def lower_root(correlation: Array, *, what: str = "correlation") -> Array:
    """Return the lower triangular root of a correlation matrix, also where it is singular to rounding (Cholesky).

    Raises
    ------
    DomainError
        If it has none, because some combination would have a negative variance.

    """
    size = correlation.shape[0]
    root = np.zeros((size, size))
    for k in range(size):
        rest = correlation[k:, k] - root[k:, :k] @ root[k, :k]
        if rest[0] < -1e-9:  # noqa: PLR2004  (further from zero than rounding goes)
            raise DomainError(
                "this covariance cannot be drawn with these margins",
                argument=what,
                remedy="State normal margins, which can have any covariance.",
            )
        if rest[0] > 1e-12:  # noqa: PLR2004  (below, the member is determined by those before it)
            root[k:, k] = rest / math.sqrt(rest[0])
    return root


def _evaluated(nodes: Sequence[Estimate], deviations: Mapping[str, Array], outside: dict[str, int]) -> dict[int, Value]:
    """Return the values of all nodes, by identity; an operand that is not among them is a plain number."""
    values: dict[int, Value] = {}
    for node in nodes:
        if node.kernel is None:
            values[id(node)] = _linear(node, deviations)
            continue
        positional = [values.get(id(operand), operand) for operand in node.positional]
        named = {name: values.get(id(operand), operand) for name, operand in node.named.items()}
        _count_outside(node, named, outside)
        with np.errstate(all="ignore"):
            values[id(node)] = node.kernel(*positional, **named)
    return values


def _linear(node: Estimate, deviations: Mapping[str, Array]) -> Value:
    total: Value = node.value
    for id_, sensitivity in node.sensitivities.items():
        if id_ in deviations:
            total = total + (deviations[id_] if sensitivity == 1.0 else sensitivity * deviations[id_])
    return total


def _count_outside(node: Estimate, named: Mapping[str, Value], outside: dict[str, int]) -> None:
    for parameter, (low, high) in ranges_of(node.kernel).items() if node.kernel is not None else ():
        values = named.get(parameter)
        if isinstance(values, np.ndarray) and (values.min() < low or values.max() > high):
            label = node.intermediates[parameter].label
            outside[label] = outside.get(label, 0) + int(np.count_nonzero((values < low) | (values > high)))


def _outside_flags(outside: Mapping[str, int], trials: int) -> tuple[Flag, ...]:
    return tuple(
        Flag(
            code="trials-outside-range",
            message=f"{100 * count / trials:.2g} % of the trials put {label} outside the range of its formula.",
        )
        for label, count in outside.items()
        if count / trials > OUTSIDE_LIMIT
    )


def _refuse_undefined(estimate: Estimate, deviations: Mapping[str, Array], undefined: Value) -> None:
    """Raise `DomainError` naming the input that was drawn furthest out, in its own u, where there was no value."""

    def distance(influence: Influence) -> float:
        drawn = deviations.get(influence.id)
        return 0.0 if drawn is None else float(np.square(drawn[undefined]).mean()) / influence.u**2

    furthest = max(estimate.influences.values(), key=distance)
    raise DomainError(
        "some trials have no value at all (a division by zero or the logarithm of a negative number)",
        argument=estimate.label,
        remedy=(
            f"There {furthest.label!r} ({furthest.id}) was drawn furthest out: give it a shape within its "
            "physical limits."
        ),
    )
