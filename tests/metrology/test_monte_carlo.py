"""Monte Carlo: the same bit for bit, alike to the linear result where it should be, and honest where it is not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from scipy import stats

from assay.errors import DataError, DomainError
from assay.kernels.dilution import dilution_factor_from_volumes
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate, combine, evaluate
from assay.metrology.influence import Influence, Joint
from assay.metrology.monte_carlo import generator_for, lower_root, quantiles, sampled

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


def drawn(results: Sequence[Estimate], **options: object) -> list[bytes]:
    """Return the drawn values bit for bit."""
    return [sample.tobytes() for sample in sampled(results, **{"trials": TRIALS, "seed": 3, **options})[0]]


# ----------------------------------------------------------------------------------------------------- bit for bit
@pytest.mark.parametrize("few_replicates", ["plug-in", "scaled t"])
@pytest.mark.parametrize("block", [1, 7, 100, 4_096, 4_999])
@pytest.mark.parametrize("joint_shape", ["normal", "rectangular"])
def test_block_size_changes_nothing(few_replicates: str, block: int, joint_shape: str) -> None:
    results = [*SHAPES, *members(falling_off(9), us=[0.1] * 9, shape=joint_shape, dof=5.0)]
    whole = drawn(results, few_replicates=few_replicates, trials=1_000)
    assert drawn(results, few_replicates=few_replicates, trials=1_000, block=block) == whole


@pytest.mark.parametrize("joint_shape", ["normal", "rectangular"])
def test_order_and_company_change_nothing(joint_shape: str) -> None:
    results = [*SHAPES, *members(falling_off(6), us=[0.1] * 6, shape=joint_shape, dof=5.0)]
    together = drawn(results)
    assert drawn(results[::-1])[::-1] == together
    assert [drawn([result])[0] for result in results] == together


def test_order_of_operands_changes_nothing() -> None:
    a, b, c = SHAPES[:3]
    assert drawn([combine(lambda x, y, z: x * y / z, a, b, c)]) == drawn([combine(lambda z, x, y: x * y / z, c, a, b)])


def test_more_trials_begin_with_the_fewer() -> None:
    short, long = (sampled(SHAPES, trials=trials, seed=3)[0] for trials in (1_000, 2_000))
    assert all(np.array_equal(a, b[:1_000]) for a, b in zip(short, long, strict=True))


def test_same_seed_same_run_other_seed_other_run() -> None:
    result = combine(lambda x, y: x / y, *SHAPES[:2])
    assert result.monte_carlo(trials=TRIALS, seed=7) == result.monte_carlo(trials=TRIALS, seed=7)
    assert result.monte_carlo(trials=TRIALS, seed=7).u != result.monte_carlo(trials=TRIALS, seed=8).u


def test_global_generators_are_left_alone() -> None:
    np.random.seed(1)  # noqa: NPY002  (the global generator is what is watched)
    before = np.random.get_state()[1].tobytes()  # noqa: NPY002
    SHAPES[0].monte_carlo(trials=1_000)
    assert np.random.get_state()[1].tobytes() == before  # noqa: NPY002


def test_streams_depend_on_seed_and_id_alone() -> None:
    assert generator_for(1, "a").random() == generator_for(1, "a").random()
    assert len({generator_for(seed, id_).random() for seed in (1, 2) for id_ in ("a", "b")}) == 4


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


@pytest.mark.parametrize(("dof", "given"), [(1.0, False), (2.0, False), (3.0, True), (50.0, True), (math.inf, True)])
def test_scaled_t_gives_u_only_where_there_is_one(dof: float, given: bool) -> None:  # noqa: FBT001  (an expected value)
    run = number("m", 10.0, 0.1, dof=dof).monte_carlo(trials=MANY, few_replicates="scaled t")
    assert math.isfinite(run.u) == math.isfinite(run.value) == given
    half = 0.1 * stats.t.ppf(0.975, dof)
    assert (run.interval.low, run.interval.high) == (
        pytest.approx(10.0 - half, abs=0.05 * half),
        pytest.approx(10.0 + half, abs=0.05 * half),
    )
    assert "scaled t" in repr(run)
    assert ("undefined" in repr(run)) != given


def test_what_does_not_contribute_takes_no_standard_deviation_away() -> None:
    silent = number("identical titres", 0.0, 0.0, dof=2.0)
    run = combine(lambda x, y: x + y, SHAPES[0], silent).monte_carlo(trials=TRIALS, few_replicates="scaled t")
    assert math.isfinite(run.u)


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


# ------------------------------------------------------------------------------------------------------------- outcome
def test_linear_and_sampled_agree_where_the_formula_is_nearly_straight() -> None:
    mild = combine(lambda c, v, p: c * v / p, number("c", 0.1, 0.0005), number("v", 25.0, 0.1), number("p", 10.0, 0.05))
    run = mild.monte_carlo(trials=MANY)
    assert run.u == pytest.approx(mild.u, rel=0.01)
    assert run.value == pytest.approx(mild.value, rel=0.001)
    assert tuple(run.interval)[:2] == pytest.approx(tuple(mild.interval())[:2], rel=0.001)


def test_a_bend_shows_where_the_linear_result_hides_it() -> None:
    # x² of a standard normal x is chi-squared with one degree of freedom: mean 1, standard deviation √2, both linear 0.
    square = combine(lambda x: x * x, number("x", 0.0, 1.0))
    assert square.u == 0.0
    run = square.monte_carlo(trials=MANY)
    assert run.value == pytest.approx(1.0, abs=4.0 * math.sqrt(2.0 / MANY))
    assert run.u == pytest.approx(math.sqrt(2.0), rel=0.02)


def test_quantiles_are_order_statistics() -> None:
    # JCGM 101:2008, 7.7.2: with M = 100 sorted values the 0.025 and 0.975 places are the 3rd and the 98th.
    values = np.random.default_rng(1).permutation(np.arange(1.0, 101.0))
    assert quantiles(values, [0.025, 0.975, 0.0, 1.0]) == [3.0, 98.0, 1.0, 100.0]


def test_shared_influence_is_drawn_once() -> None:
    a = SHAPES[0]
    (ratio, twice), _ = sampled([combine(lambda x, y: x / y, a, a), combine(lambda x: 2.0 * x, a)], trials=TRIALS)
    assert (ratio == 1.0).all()
    assert twice.std(ddof=1) == pytest.approx(0.2, rel=0.05)


def test_what_is_exact_does_not_vary() -> None:
    run = Estimate.exactly(6.0, name="equivalents", label="z").monte_carlo(trials=1_000)
    assert (run.value, run.u, run.interval.low, run.interval.high) == (6.0, 0.0, 6.0, 6.0)


def test_one_id_with_two_sets_of_facts_is_refused_naming_both() -> None:
    with pytest.raises(DataError, match=r"(?s)normal.*u 0\.1,.*u 0\.2,"):
        sampled([number("normal", 2.0, 0.1), number("normal", 2.0, 0.2)], trials=1_000)


# ---------------------------------------------------------------------------------------------------- range and refusal
def factor(u: float) -> Estimate:
    taken = number("taken", 0.01, u)
    return evaluate(
        dilution_factor_from_volumes, name="dilution_factor", label="F", taken_volume=taken, made_up_volume=1
    )


def test_trials_outside_the_range_of_a_formula_are_counted() -> None:
    # The taken volume is 2 u above zero: normal draws fall below zero in 2.275 % of the trials.
    samples, outside = sampled([factor(0.005)], trials=MANY)
    assert outside["TAKEN"] / MANY == pytest.approx(0.02275, abs=4.0 * math.sqrt(0.02275 / MANY))
    assert (samples[0] < 0.0).sum() == outside["TAKEN"]
    (flag,) = factor(0.005).monte_carlo(trials=MANY).flags
    assert (flag.code, flag.blocking) == ("trials-outside-range", False)
    assert flag.message.startswith("2.3 % of the trials put TAKEN outside")
    assert "[trials-outside-range]" in repr(factor(0.005).monte_carlo(trials=MANY))


def test_one_trial_in_a_thousand_is_the_limit_of_the_flag() -> None:
    # 3.5 u above zero: 0.023 % of the trials.
    assert factor(0.01 / 3.5).monte_carlo(trials=MANY).flags == ()


def test_trials_without_a_value_are_refused_naming_the_input() -> None:
    bent = combine(lambda x, y: np.log(x) + y, number("narrow", 1.0, 0.5), number("wide", 1.0, 0.01), label="bent")
    with pytest.raises(DomainError) as caught:
        bent.monte_carlo(trials=TRIALS)
    assert caught.value.argument == "bent"
    assert "'NARROW' (narrow)" in caught.value.remedy
    assert "shape" in caught.value.remedy


def test_an_error_with_value_zero_can_be_the_input_to_blame() -> None:
    error, purity = number("scale error", 0.0, 0.5), number("purity", 1.0, 0.001)
    bent = combine(lambda e, p: np.log(1.0 + e) * p, error, purity)
    with pytest.raises(DomainError, match=r"'SCALE ERROR' \(scale error\)"):
        bent.monte_carlo(trials=TRIALS)


@pytest.mark.parametrize(
    ("options", "argument"),
    [
        ({"trials": 99}, "trials"),
        ({"trials": 1e5}, "trials"),
        ({"block": 0}, "block"),
        ({"few_replicates": "bootstrap"}, "few_replicates"),
        ({"level": 95}, "level"),
        ({"seed": -1}, "seed"),
        ({"seed": 1.5}, "seed"),
    ],
)
def test_impossible_options_are_refused_by_name(options: dict[str, Any], argument: str) -> None:
    with pytest.raises(DomainError) as caught:
        SHAPES[0].monte_carlo(**{"trials": 1_000, **options})
    assert caught.value.argument == argument
