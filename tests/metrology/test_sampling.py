"""Draws: the same bit for bit however they are made, and distributed as they say."""

from __future__ import annotations

import hashlib
import math
import threading
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assay.errors import DataError, DomainError
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.sampling import CHUNK, Sampler, Source, lower_root, sampled

TRIALS = 5_000
MANY = 200_000


def number(id_: str, value: float, u: float, **facts: object) -> Estimate:
    influence = Influence(id=id_, label=id_.upper(), value=value, u=u, **facts)
    return Estimate.from_influence(influence, name="value")


def members(
    correlation: Sequence[Sequence[float]], *, us: Sequence[float], shape: str = "normal", dof: float = math.inf
) -> list[Estimate]:
    joint = Joint(
        id="joint",
        label="joint",
        member_ids=tuple(f"joint/{k}" for k in range(len(us))),
        values=tuple(float(k) for k in range(len(us))),
        covariance=tuple(
            tuple(r * a * b for r, b in zip(row, us, strict=True)) for row, a in zip(correlation, us, strict=True)
        ),
        shape=shape,
        dof=dof,
    )
    return [Estimate.from_influence(member, name="value") for member in joint.members()]


def falling_off(n: int) -> list[list[float]]:
    """Return correlations that fall with distance, as between points of one scale."""
    return [[0.8 ** abs(i - j) for j in range(n)] for i in range(n)]


SHAPES = [
    number("normal", 2.0, 0.1),
    number("rectangular", 3.0, 0.1, shape="rectangular"),
    number("triangular", 4.0, 0.1, shape="triangular"),
    number("few", 5.0, 0.1, dof=4.0),
]


def everything(joint_shape: str) -> list[Estimate]:
    return [*SHAPES, *members(falling_off(9), us=[0.1] * 9, shape=joint_shape, dof=5.0)]


def bent() -> Estimate:
    return combine(lambda x, y, z: np.exp(x) * np.sqrt(y) / z + np.log(y) ** 3, *SHAPES[:3])


def drawn(results: Sequence[Estimate], **options: object) -> list[bytes]:
    """Return the drawn values bit for bit."""
    return [sample.tobytes() for sample in sampled(results, **{"trials": TRIALS, "seed": 3, **options})[0]]


# ----------------------------------------------------------------------------------------------------- bit for bit
@pytest.mark.parametrize("few_replicates", ["plug-in", "scaled t"])
@pytest.mark.parametrize("block", [7, 1_000, CHUNK - 1, CHUNK, 3 * CHUNK])
@pytest.mark.parametrize("joint_shape", ["normal", "rectangular"])
def test_block_size_changes_nothing(few_replicates: str, block: int, joint_shape: str) -> None:
    results = [*everything(joint_shape), bent()]
    whole = drawn(results, few_replicates=few_replicates, trials=CHUNK + 100)
    assert drawn(results, few_replicates=few_replicates, trials=CHUNK + 100, block=block) == whole


@pytest.mark.parametrize("few_replicates", ["plug-in", "scaled t"])
@pytest.mark.parametrize("threads", [2, 3, 16])
def test_number_of_threads_changes_nothing(few_replicates: str, threads: int) -> None:
    results, trials = [*everything("rectangular"), bent()], 7 * CHUNK + 5
    one = drawn(results, few_replicates=few_replicates, trials=trials)
    assert drawn(results, few_replicates=few_replicates, trials=trials, threads=threads) == one


def test_any_chunk_can_be_drawn_anywhere_at_any_time() -> None:
    results = everything("normal")
    whole, _ = sampled(results, trials=4 * CHUNK, seed=3)
    for chunk in (3, 0, 2, 2):
        alone = Sampler(results, seed=3, few_replicates="plug-in").chunk(chunk)
        for sample, part in zip(whole, alone.samples, strict=True):
            np.testing.assert_array_equal(sample[chunk * CHUNK : (chunk + 1) * CHUNK], part)


def test_chunks_are_those_of_numpys_jumped_generators() -> None:
    own = Source(5, "an id")
    digest = int.from_bytes(hashlib.sha256(b"an id").digest()[:16], "big")
    for chunk in (0, 1, 2, 1_000_000):
        jumped = np.random.Generator(np.random.PCG64(np.random.SeedSequence([5, digest])).jumped(chunk))
        np.testing.assert_array_equal(own.at(chunk).random(3), jumped.random(3))


@settings(deadline=None)
@given(
    shape=st.sampled_from(
        [
            ("normal", ()),
            ("arcsine", ()),
            ("trapezoidal", (0.3,)),
            ("t", (5.0,)),
            ("beta", (2.0, 3.0)),
            ("log-normal", (0.4,)),
            ("truncated normal", (-1.0, 2.0)),
            ("sample", (1.0, 2.0, 4.0)),
        ]
    ),
    trials=st.integers(100, 2 * CHUNK + 50),
    block=st.integers(500, 3 * CHUNK),
    threads=st.integers(1, 4),
    seed=st.integers(0, 2**64),
)
def test_how_a_run_is_made_changes_nothing(
    shape: tuple[str, tuple[float, ...]], trials: int, block: int, threads: int, seed: int
) -> None:
    name, parameters = shape
    result = combine(lambda x, y: x / y, number("x", 5.0, 0.1, shape=name, parameters=parameters), SHAPES[3])
    plain, made = (
        result.monte_carlo(trials=trials, seed=seed, **how) for how in ({}, {"block": block, "threads": threads})
    )
    assert plain == made


def test_the_first_chunk_without_a_value_is_refused_by_any_number_of_threads() -> None:
    bent = combine(lambda x, y: np.log(x) + y, number("a", 1.0, 0.24), number("b", 1.0, 0.24), label="bent")
    told, before = [], threading.active_count()
    for threads in (1, 4):
        with pytest.raises(DomainError) as caught:
            sampled([bent], trials=20 * CHUNK, threads=threads)
        told.append(str(caught.value))
    assert told[0] == told[1]
    assert threading.active_count() == before


@pytest.mark.parametrize("joint_shape", ["normal", "rectangular"])
def test_order_and_company_change_nothing(joint_shape: str) -> None:
    results = everything(joint_shape)
    together = drawn(results)
    assert drawn(results[::-1])[::-1] == together
    assert [drawn([result])[0] for result in results] == together


def test_order_of_operands_changes_nothing() -> None:
    a, b, c = SHAPES[:3]
    assert drawn([combine(lambda x, y, z: x * y / z, a, b, c)]) == drawn([combine(lambda z, x, y: x * y / z, c, a, b)])


def test_more_trials_begin_with_the_fewer() -> None:
    short, long = (sampled(SHAPES, trials=trials, seed=3)[0] for trials in (1_000, CHUNK + 1_000))
    assert all(np.array_equal(a, b[:1_000]) for a, b in zip(short, long, strict=True))


def test_global_generators_are_left_alone() -> None:
    np.random.seed(1)  # noqa: NPY002  (the global generator is what is watched)
    before = np.random.get_state()[1].tobytes()  # noqa: NPY002
    SHAPES[0].monte_carlo(trials=1_000)
    assert np.random.get_state()[1].tobytes() == before  # noqa: NPY002


def test_streams_depend_on_seed_and_id_alone() -> None:
    assert Source(1, "a").at(0).random() == Source(1, "a").at(0).random()
    assert len({Source(seed, id_).at(k).random() for seed in (1, 2) for id_ in ("a", "b") for k in (0, 1)}) == 8


# ------------------------------------------------------------------------------------------------------- distributions
@pytest.mark.parametrize(
    ("influence", "distribution"),
    [
        (SHAPES[0], stats.norm(2.0, 0.1)),
        (SHAPES[1], stats.uniform(3.0 - 0.1 * math.sqrt(3.0), 0.2 * math.sqrt(3.0))),
        (SHAPES[2], stats.triang(0.5, 4.0 - 0.1 * math.sqrt(6.0), 0.2 * math.sqrt(6.0))),
        (SHAPES[3], stats.norm(5.0, 0.1)),  # plug-in: normal with the linear u
    ],
    ids=lambda value: value.label if isinstance(value, Estimate) else "",
)
def test_each_shape_is_what_it_says(influence: Estimate, distribution: Value) -> None:
    (sample,), _ = sampled([influence], trials=MANY, seed=1)
    assert stats.kstest(sample, distribution.cdf).pvalue > 0.001


def test_scaled_t_is_scaled_and_shifted() -> None:
    # JCGM 101:2008, 6.4.9: the mean of n readings is drawn as its value plus s/√n times t of n − 1.
    (sample,), _ = sampled([SHAPES[3]], trials=MANY, seed=1, few_replicates="scaled t")
    assert stats.kstest((sample - 5.0) / 0.1, stats.t(4.0).cdf).pvalue > 0.001


@pytest.mark.parametrize("shape", ["normal", "rectangular"])
def test_a_joint_is_drawn_with_its_covariance(shape: str) -> None:
    correlation = [[1.0, 0.7, -0.4], [0.7, 1.0, 0.1], [-0.4, 0.1, 1.0]]
    us = [0.1, 0.2, 0.05]
    samples, _ = sampled(members(correlation, us=us, shape=shape), trials=MANY, seed=5)
    found = np.cov(np.array(samples))
    stated = np.outer(us, us) * np.array(correlation)
    # Four standard errors of a sample covariance of normal values, (v_ii v_jj + v_ij²)/N; rectangular values err less.
    error = 4.0 * np.sqrt((np.outer(np.diag(stated), np.diag(stated)) + stated**2) / MANY)
    assert (np.abs(found - stated) < error).all()
    for k, (sample, u) in enumerate(zip(samples, us, strict=True)):
        if shape == "rectangular":
            assert np.abs(sample - k).max() <= u * math.sqrt(3.0) * (1.0 + 1e-12)
            assert stats.kstest((sample - k) / u, stats.uniform(-math.sqrt(3.0), 2 * math.sqrt(3.0)).cdf).pvalue > 0.001
        else:
            assert stats.kstest((sample - k) / u, stats.norm.cdf).pvalue > 0.001


def test_a_covariance_that_rectangular_margins_cannot_have_is_refused() -> None:
    # Three values with correlations of −1/2 always have one sum. Their normal scores would need correlations of
    # −2 sin(π/12) = −0.518, which three values cannot have.
    half = [[1.0, -0.5, -0.5], [-0.5, 1.0, -0.5], [-0.5, -0.5, 1.0]]
    (total,), _ = sampled([combine(lambda *x: sum(x), *members(half, us=[0.1] * 3))], trials=TRIALS)
    np.testing.assert_allclose(total, 3.0, atol=1e-12)
    with pytest.raises(DomainError, match="cannot be drawn") as caught:
        sampled(members(half, us=[0.1] * 3, shape="rectangular"), trials=TRIALS)
    assert caught.value.argument == "joint"
    assert "normal" in caught.value.remedy


@pytest.mark.parametrize("r", [-1.0, -0.9, -0.5, 0.3, 0.9, 1.0])
def test_correlation_of_rectangular_margins_is_the_stated_one(r: float) -> None:
    samples, _ = sampled(members([[1.0, r], [r, 1.0]], us=[0.1, 0.1], shape="rectangular"), trials=MANY, seed=5)
    assert np.corrcoef(samples[0], samples[1])[0, 1] == pytest.approx(r, abs=4.0 / math.sqrt(MANY))


def test_members_of_a_joint_that_are_the_same_cancel_in_every_trial() -> None:
    a, b = members([[1.0, 1.0], [1.0, 1.0]], us=[0.1, 0.1])
    (difference,), _ = sampled([combine(lambda x, y: x - y, b, a)], trials=TRIALS)
    np.testing.assert_allclose(difference, 1.0, rtol=1e-12)


def test_a_joint_of_few_degrees_of_freedom_shares_its_chi() -> None:
    samples, _ = sampled(
        members([[1.0, 0.0], [0.0, 1.0]], us=[1.0, 1.0], dof=4.0), trials=MANY, seed=2, few_replicates="scaled t"
    )
    for k, sample in enumerate(samples):
        assert stats.kstest(sample - k, stats.t(4.0).cdf).pvalue > 0.001
    # One chi for both: uncorrelated but not independent, so their absolute deviations go together.
    assert np.corrcoef(np.abs(samples[0]), np.abs(samples[1] - 1.0))[0, 1] > 0.1


def test_lower_root_by_hand() -> None:
    root = lower_root(np.array([[1.0, 0.6], [0.6, 1.0]]))
    np.testing.assert_allclose(root, [[1.0, 0.0], [0.6, 0.8]], rtol=1e-15)
    singular = np.array([[1.0, 1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    np.testing.assert_allclose(lower_root(singular) @ lower_root(singular).T, singular, atol=1e-15)


def test_shared_influence_is_drawn_once() -> None:
    a = SHAPES[0]
    (ratio, twice), _ = sampled([combine(lambda x, y: x / y, a, a), combine(lambda x: 2.0 * x, a)], trials=TRIALS)
    assert (ratio == 1.0).all()
    assert twice.std(ddof=1) == pytest.approx(0.2, rel=0.05)


def test_one_id_with_two_sets_of_facts_is_refused_naming_both() -> None:
    with pytest.raises(DataError, match=r"(?s)normal.*u 0\.1,.*u 0\.2,"):
        sampled([number("normal", 2.0, 0.1), number("normal", 2.0, 0.2)], trials=1_000)


# ------------------------------------------------------------------------------------------------------------- refusals
def test_trials_without_a_value_are_refused_naming_the_input() -> None:
    bent = combine(lambda x, y: np.log(x) + y, number("narrow", 1.0, 0.5), number("wide", 1.0, 0.01), label="bent")
    with pytest.raises(DomainError) as caught:
        sampled([bent], trials=TRIALS)
    assert caught.value.argument == "bent"
    assert "'NARROW' (narrow)" in caught.value.remedy
    assert "Influence.truncated('narrow', …, low=…)" in caught.value.remedy


def test_the_side_that_has_no_value_is_named() -> None:
    bent = combine(lambda x: np.sqrt(1.0 - x), number("share", 0.9, 0.1), label="bent")
    with pytest.raises(DomainError, match=r"Influence\.truncated\('share', …, high=…\)"):
        sampled([bent], trials=TRIALS)


def test_an_error_with_value_zero_can_be_the_input_to_blame() -> None:
    error, purity = number("scale error", 0.0, 0.5), number("purity", 1.0, 0.001)
    bent = combine(lambda e, p: np.log(1.0 + e) * p, error, purity)
    with pytest.raises(DomainError, match=r"'SCALE ERROR' \(scale error\)"):
        sampled([bent], trials=TRIALS)
