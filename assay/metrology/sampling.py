"""Drawn values of results: the same numbers whatever the block size, the order of the inputs or the number of threads.

Trials are drawn in chunks of a fixed size. Every influence has a stream of its own, made from the seed and its id, and
the stream jumps to the place of a chunk: any chunk can be drawn anywhere, at any time, and is the same.
"""

from __future__ import annotations

import hashlib
import math
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from numbers import Integral
from typing import TYPE_CHECKING, NamedTuple, cast

import numpy as np

from assay.errors import DomainError
from assay.kernels.ranges import ranges_of
from assay.kernels.value import Value
from assay.metrology.identity import shared_influences
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.shapes import Array, Shape

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: Trials of a chunk: small enough that the values of a chain of steps stay in cache. Another size, other numbers.
CHUNK = 16_384
FEW_REPLICATES = ("plug-in", "scaled t")
FEWEST_TRIALS = 100
# The golden ratio of the period: what `numpy.random.PCG64.jumped` jumps by, and which keeps the chunks far apart.
_JUMP = 0x9E3779B97F4A7C15F39CC0605CEDC835
_PERIOD = 2**128
# Chunks in work or waiting to be taken, for each thread.
_AHEAD = 2

# Draws the deviations of one influence, or of the members of one joint, for the first trials of a chunk.
_Stream = Callable[[int, int], dict[str, Array]]


class Source:
    """The stream of one influence, or of one score of a joint: it depends on the seed and the id alone.

    Parameters
    ----------
    seed : int
        Seed of the run.
    id_ : str
        Id of the influence.

    """

    __slots__ = ("_bits", "_generator", "_start")

    def __init__(self, seed: int, id_: str) -> None:
        digest = int.from_bytes(hashlib.sha256(id_.encode()).digest()[:16], "big")
        self._bits = np.random.PCG64(np.random.SeedSequence([seed, digest]))
        self._start = self._bits.state
        self._generator = np.random.Generator(self._bits)

    def at(self, chunk: int) -> np.random.Generator:
        """Return the generator, at the beginning of a chunk; it serves until the next call."""
        self._bits.state = self._start
        self._bits.advance(chunk * _JUMP % _PERIOD)
        return self._generator


class Drawn(NamedTuple):
    """The values of several results in the trials of one chunk, and how many trials lay outside a kernel's range."""

    samples: list[Array]
    outside: dict[str, int]


class Sampler:
    """Draws chunks of trials of several results together; safe to use from several threads.

    Parameters
    ----------
    estimates : sequence of Estimate
        The results; an influence that they share is drawn once for all.
    seed : int
        Seed of the run.
    few_replicates : str
        How inputs with few degrees of freedom are drawn.
    block : int
        Trials for which the kernels are evaluated at once.

    """

    def __init__(self, estimates: Sequence[Estimate], *, seed: int, few_replicates: str, block: int = CHUNK) -> None:
        check_options(trials=FEWEST_TRIALS, seed=seed, few_replicates=few_replicates, block=block)
        self._estimates = estimates
        self._influences = shared_influences(estimate.influences for estimate in estimates)
        self._nodes = list({id(node): node for estimate in estimates for node in estimate.walk()}.values())
        self._seed, self._block = seed, block
        self._scaled_t = few_replicates == "scaled t"
        self._mine = threading.local()  # a generator has a state: each thread has its own

    def chunk(self, chunk: int, size: int = CHUNK) -> Drawn:
        """Return the first trials of a chunk.

        Raises
        ------
        DomainError
            If a trial has no value at all.

        """
        if not hasattr(self._mine, "streams"):
            self._mine.streams = _streams(self._influences.values(), self._seed, scaled_t=self._scaled_t)
        deviations = {id_: drawn for stream in self._mine.streams for id_, drawn in stream(chunk, size).items()}
        samples: list[Array] = [np.empty(size) for _ in self._estimates]
        outside: dict[str, int] = {}
        for start in range(0, size, self._block):
            part = slice(start, min(start + self._block, size))
            values = _evaluated(self._nodes, {id_: drawn[part] for id_, drawn in deviations.items()}, outside)
            for sample, estimate in zip(samples, self._estimates, strict=True):
                sample[part] = values[id(estimate)]
        for sample, estimate in zip(samples, self._estimates, strict=True):
            finite = np.isfinite(sample)
            if not finite.all():
                _refuse_undefined(estimate, deviations, ~finite)
        return Drawn(samples, outside)

    def chunks(self, trials: int, *, threads: int = 1) -> Generator[Drawn, None, None]:
        """Yield the chunks of a run in their order, drawn by several threads."""
        sizes = (min(CHUNK, trials - start) for start in range(0, trials, CHUNK))
        if threads == 1:
            yield from (self.chunk(chunk, size) for chunk, size in enumerate(sizes))
            return
        with ThreadPoolExecutor(threads, thread_name_prefix="trials") as pool:
            waiting: deque[Future[Drawn]] = deque()
            try:
                for chunk, size in enumerate(sizes):
                    waiting.append(pool.submit(self.chunk, chunk, size))
                    if len(waiting) > _AHEAD * threads:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for future in waiting:
                    future.cancel()


def sampled(
    estimates: Sequence[Estimate],
    *,
    trials: int,
    seed: int = 1,
    few_replicates: str = "plug-in",
    block: int = CHUNK,
    threads: int = 1,
) -> tuple[list[Array], dict[str, int]]:
    """Return drawn values of several results together, and how many trials fell outside the range of a kernel.

    Parameters
    ----------
    estimates : sequence of Estimate
        The results; an influence that they share is drawn once for all.
    trials, seed, few_replicates, block, threads
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
    check_options(trials=trials, seed=seed, few_replicates=few_replicates, block=block, threads=threads)
    sampler = Sampler(estimates, seed=seed, few_replicates=few_replicates, block=block)
    samples: list[Array] = [np.empty(trials) for _ in estimates]
    outside: dict[str, int] = {}
    start = 0
    for drawn in sampler.chunks(trials, threads=threads):
        size = min(CHUNK, trials - start)
        for sample, values in zip(samples, drawn.samples, strict=True):
            sample[start : start + size] = values
        add_counts(outside, drawn.outside)
        start += size
    return samples, outside


def add_counts(total: dict[str, int], more: Mapping[str, int]) -> None:
    """Add numbers of trials by label."""
    for label, count in more.items():
        total[label] = total.get(label, 0) + count


def check_options(*, trials: int, seed: int, few_replicates: str, block: int, threads: int = 1) -> None:
    """Raise `DomainError` if an option of a run is impossible.

    Raises
    ------
    DomainError
        Naming the option.

    """
    least = {"trials": (trials, FEWEST_TRIALS), "seed": (seed, 0), "block": (block, 1), "threads": (threads, 1)}
    for argument, (given, fewest) in least.items():
        check_whole(given, argument=argument, least=fewest)
    if few_replicates not in FEW_REPLICATES:
        raise DomainError(
            "unknown way to draw inputs with few degrees of freedom",
            argument="few_replicates",
            given=few_replicates,
            expected="'plug-in' or 'scaled t'",
        )


def check_whole(given: object, *, argument: str, least: int, remedy: str = "") -> None:
    """Raise `DomainError` unless this is a whole number that is large enough.

    Raises
    ------
    DomainError
        Naming the argument.

    """
    whole = isinstance(given, Integral) and not isinstance(given, bool)
    if not whole or cast("int", given) < least:
        raise DomainError(
            "too small" if whole else "not a whole number",
            argument=argument,
            given=given,
            expected=f"a whole number, {least} or more",
            remedy=remedy if whole or not isinstance(given, float) or given % 1.0 else f"Write {given:.0f}.",
        )


def _streams(influences: Iterable[Influence], seed: int, *, scaled_t: bool) -> list[_Stream]:
    """Return what draws the deviations of each independent influence, and of the members in use of each joint."""
    streams: list[_Stream] = []
    joints: dict[str, tuple[Joint, set[str]]] = {}
    for influence in influences:
        if influence.joint is not None:
            joints.setdefault(influence.joint.id, (influence.joint, set()))[1].add(influence.id)
        elif influence.u > 0.0:
            streams.append(_single(influence, Source(seed, influence.id), scaled_t=scaled_t))
    streams.extend(_together(joint, used, seed, scaled_t=scaled_t) for joint, used in joints.values())
    return streams


def _single(influence: Influence, source: Source, *, scaled_t: bool) -> _Stream:
    draw = influence.distribution.draw
    id_, u, dof = influence.id, influence.u, influence.dof
    heavy = scaled_t and math.isfinite(dof)

    def deviations(chunk: int, n: int) -> dict[str, Array]:
        generator = source.at(chunk)
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
    sources = [Source(seed, f"{joint.id}#{k}") for k in range(places[-1] + 1)]
    chi = Source(seed, f"{joint.id}#dof") if scaled_t and math.isfinite(joint.dof) else None
    from_normal = Shape(joint.shape).from_normal

    def deviations(chunk: int, n: int) -> dict[str, Array]:
        drawn_scores = [source.at(chunk).standard_normal(n) for source in sources]
        # One product after another, not a matrix product: that sums in an order which depends on its size.
        scores, term = np.zeros((len(places), n)), np.empty(n)
        for k, weights in enumerate(root):
            for weight, score in zip(weights, drawn_scores, strict=True):
                if weight != 0.0:
                    scores[k] += np.multiply(score, weight, out=term)
        if chi is not None:
            scores *= np.sqrt(joint.dof / chi.at(chunk).chisquare(joint.dof, n))
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
            count = int(np.count_nonzero((values < low) | (values > high)))
            add_counts(outside, {node.intermediates[parameter].label: count})


def _refuse_undefined(estimate: Estimate, deviations: Mapping[str, Array], undefined: Value) -> None:
    """Raise `DomainError` naming the input that was drawn furthest out, in its own u, where there was no value."""

    def distance(influence: Influence) -> float:
        drawn = deviations.get(influence.id)
        return 0.0 if drawn is None else float(np.square(drawn[undefined]).mean()) / influence.u**2

    furthest = max(estimate.influences.values(), key=distance)
    side = "low" if deviations.get(furthest.id, np.zeros(undefined.shape))[undefined].mean() < 0.0 else "high"
    raise DomainError(
        "some trials have no value at all (a division by zero or the logarithm of a negative number)",
        argument=estimate.label,
        remedy=(
            f"There {furthest.label!r} ({furthest.id}) was drawn furthest out: give it a shape within its "
            f"physical limits, such as Influence.truncated({furthest.id!r}, …, {side}=…)."
        ),
    )
