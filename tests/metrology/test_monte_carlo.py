"""Monte Carlo: alike to the linear result where it should be, and honest where it is not, about itself too."""

from __future__ import annotations

import math
import tracemalloc
from typing import Any

import numpy as np
import pytest
from scipy import stats

from assay.errors import DomainError
from assay.kernels.dilution import dilution_factor_from_volumes
from assay.metrology import distribution
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine, evaluate
from assay.metrology.influence import Influence
from assay.metrology.monte_carlo import MonteCarlo
from assay.metrology.sampling import sampled
from assay.sheet.run import run_demo

TRIALS = 5_000
MANY = 200_000


def number(id_: str, value: float, u: float, **facts: object) -> Estimate:
    influence = Influence(id=id_, label=id_.upper(), value=value, u=u, **facts)
    return Estimate.from_influence(influence, name="value")


def codes(run: MonteCarlo) -> list[str]:
    return [flag.code for flag in run.flags]


SHAPES = [
    number("normal", 2.0, 0.1),
    number("rectangular", 3.0, 0.1, shape="rectangular"),
    number("triangular", 4.0, 0.1, shape="triangular"),
    number("few", 5.0, 0.1, dof=4.0),
]


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


def test_what_is_exact_does_not_vary() -> None:
    run = Estimate.exactly(6.0, name="equivalents", label="z").monte_carlo(trials=1_000)
    assert (run.value, run.u, run.interval.low, run.interval.high) == (6.0, 0.0, 6.0, 6.0)


def test_same_seed_same_run_other_seed_other_run() -> None:
    result = combine(lambda x, y: x / y, *SHAPES[:2])
    assert result.monte_carlo(trials=TRIALS, seed=7) == result.monte_carlo(trials=TRIALS, seed=7)
    assert result.monte_carlo(trials=TRIALS, seed=7).u != result.monte_carlo(trials=TRIALS, seed=8).u


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
    (flag,) = (f for f in factor(0.005).monte_carlo(trials=MANY).flags if f.code == "trials-outside-range")
    assert (flag.code, flag.blocking) == ("trials-outside-range", False)
    assert flag.message.startswith("2.3 % of the trials put TAKEN outside")
    assert "[trials-outside-range]" in repr(factor(0.005).monte_carlo(trials=MANY))


def test_one_trial_in_a_thousand_is_the_limit_of_the_flag() -> None:
    # 3.5 u above zero: 0.023 % of the trials.
    assert "trials-outside-range" not in codes(factor(0.01 / 3.5).monte_carlo(trials=MANY))
    # 3 u above zero: 0.135 %.
    assert "trials-outside-range" in codes(factor(0.01 / 3.0).monte_carlo(trials=MANY))


@pytest.mark.parametrize(
    ("options", "argument"),
    [
        ({"trials": 99}, "trials"),
        ({"trials": 1e5}, "trials"),
        ({"block": 0}, "block"),
        ({"threads": 0}, "threads"),
        ({"digits": 0}, "digits"),
        ({"digits": 7}, "digits"),
        ({"digits": 2, "trials": 1_000}, "trials"),
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


# ---------------------------------------------------------------------------------------------------- numerical errors
def test_stated_errors_are_those_that_other_seeds_show() -> None:
    # Of 200 runs with other seeds, two thirds lie within one standard error of the exact result; a binomial count of
    # 200 errs by 6.7, and four of these are granted.
    u, trials, runs = 0.1, 10_000, 200
    half = u * stats.norm.ppf(0.975)
    exact = (2.0, u, 2.0 - half, 2.0 + half)
    within = np.zeros(4)
    for seed in range(runs):
        run = SHAPES[0].monte_carlo(trials=trials, seed=seed)
        found = (run.value, run.u, run.interval.low, run.interval.high)
        errors = (run.value_error, run.u_error, *run.interval_error)
        within += [abs(f - e) <= error for f, e, error in zip(found, exact, errors, strict=True)]
    assert (np.abs(within - 0.683 * runs) < 4.0 * 6.7).all(), within


def test_errors_of_the_normal_by_their_formulas() -> None:
    run = number("x", 0.0, 1.0).monte_carlo(trials=1_000_000)
    # Of mean and standard deviation: 1/√N and 1/√(2N). Of a quantile: √(p(1−p)/N) over the density there.
    assert run.value_error == pytest.approx(1e-3, rel=0.01)
    assert run.u_error == pytest.approx(1e-3 / math.sqrt(2.0), rel=0.01)
    quantile_error = 1e-3 * math.sqrt(0.025 * 0.975) / stats.norm.pdf(stats.norm.ppf(0.975))
    # The density is taken from 2 × 156 trials, which errs by a sixteenth; three of these are granted.
    assert run.interval_error == pytest.approx([quantile_error] * 2, rel=3.0 / 16.0)
    assert run.cell == 0.0


def test_shortest_interval_of_an_exponential_begins_at_its_end() -> None:
    # The logarithm of one over a rectangular number is exponential: 95 % lie below ln 20.
    run = combine(lambda x: -np.log(x), Estimate.from_influence(
        Influence.within("x", label="x", value=0.5, half_width=0.5), name="value"
    )).monte_carlo(trials=MANY)  # fmt: skip
    assert run.shortest.low == pytest.approx(0.0, abs=3.0 * run.shortest_error[0])
    assert run.shortest.high == pytest.approx(math.log(20.0), abs=3.0 * run.shortest_error[1])
    assert max(run.shortest_error) < 0.03
    assert run.shortest.high - run.shortest.low < run.interval.high - run.interval.low


def test_the_place_of_the_shortest_interval_of_a_flat_distribution_is_not_claimed() -> None:
    flat = Estimate.from_influence(Influence.within("x", label="x", half_width=1.0), name="value")
    run = flat.monte_carlo(trials=MANY)
    # Every interval of length 1.9 within −1 to 1 is as short as any other.
    assert run.shortest.high - run.shortest.low == pytest.approx(1.9, abs=0.01)
    assert max(run.shortest_error) > 0.03
    assert abs(run.shortest.low + 0.95) <= 0.05 + run.shortest_error[0]


def test_a_level_beyond_the_trials_is_told() -> None:
    run = SHAPES[0].monte_carlo(trials=1_000, level=0.9999)
    assert run.interval_error == run.shortest_error == (math.inf, math.inf)
    assert codes(run) == ["interval-beyond-trials"]
    assert "1000000 trials" in run.flags[0].message


def test_u_that_hangs_on_few_trials_is_told() -> None:
    # One over a normal number has no variance: sooner or later a trial comes near to zero.
    run = combine(lambda x: 1.0 / x, number("x", 1.0, 0.3)).monte_carlo(trials=MANY)
    assert "u-hangs-on-few-trials" in codes(run)
    assert run.stable_digits == 0


@pytest.mark.parametrize(("dof", "error"), [(2.0, math.nan), (3.0, math.inf), (4.0, math.inf), (5.0, 0.0)])
def test_error_of_u_is_not_claimed_where_a_t_has_none(dof: float, error: float) -> None:
    run = number("m", 10.0, 0.1, dof=dof).monte_carlo(trials=MANY, few_replicates="scaled t")
    assert math.isnan(run.u_error) == math.isnan(error)
    assert math.isinf(run.u_error) == math.isinf(error)


def test_coverage_factor_is_that_of_the_distribution() -> None:
    # A rectangular distribution holds 95 % within 0.95 √3 u.
    run = SHAPES[1].monte_carlo(trials=MANY)
    assert run.coverage_factor == pytest.approx(0.95 * math.sqrt(3.0), abs=0.01)


def test_stable_digits_follow_from_the_largest_error() -> None:
    # u is 0.12: half a unit of its digits is 0.05, 0.005, 0.0005. The ends err by 2.67 u/√N (density of the normal at
    # its 97.5 % quantile), twice of which is 0.020 for a thousand trials, 0.0032 for 40 000, 0.00045 for two million.
    x = number("x", 2.0, 0.12)
    found = [x.monte_carlo(trials=trials).stable_digits for trials in (1_000, 40_000, 2_000_000)]
    assert found == [1, 2, 3]


def test_outcome_as_text_states_both_intervals_and_their_errors() -> None:
    lines = str(SHAPES[0].monte_carlo(trials=TRIALS)).splitlines()
    assert lines[0].startswith("NORMAL: 2.0")
    assert "numerical errors" in lines[0]
    assert [line.split(",")[1].split(":")[0].strip() for line in lines[1:]] == ["symmetric", "shortest"]


# ------------------------------------------------------------------------------------------------------------ adaptive
@pytest.mark.parametrize("digits", [1, 2])
@pytest.mark.parametrize("u", [0.1, 0.3, 0.95])
def test_an_adaptive_run_settles_to_the_digits_asked_for(digits: int, u: float) -> None:
    run = number("x", 2.0, u).monte_carlo(digits=digits)
    # By definition: 0.1 is 0.10, so that half a unit of its digits is 0.05 or 0.005; all of these u lie below one.
    assert run.tolerance == {1: 0.05, 2: 0.005}[digits] or (u, digits) == (0.95, 1)
    assert "not-settled" not in codes(run)
    half = u * stats.norm.ppf(0.975)
    for found, exact in ((run.value, 2.0), (run.u, u), (run.interval.low, 2.0 - half), (run.interval.high, 2.0 + half)):
        assert found == pytest.approx(exact, abs=2.0 * run.tolerance)  # twice the tolerance: four standard errors


def test_more_digits_take_more_trials_and_no_more_than_needed() -> None:
    runs = [number("x", 2.0, 0.95).monte_carlo(digits=digits) for digits in (1, 2)]
    assert runs[0].trials < runs[1].trials
    # Twice the error of an end, 2.67 u/√N, comes to 0.005 at N = 1.03 million; the spread of a few dozen batches errs
    # by less than a third of itself, and N goes with its square.
    assert 1.03e6 / 2.0 < runs[1].trials < 1.03e6 * 2.0


def test_an_adaptive_run_is_the_beginning_of_the_longer_one() -> None:
    adaptive = bent().monte_carlo(digits=1, threads=2)
    fixed = bent().monte_carlo(trials=adaptive.trials)
    assert (adaptive.value, adaptive.u, adaptive.interval) == (fixed.value, fixed.u, fixed.interval)
    assert adaptive == bent().monte_carlo(digits=1, block=5_000)


def bent() -> Estimate:
    return combine(lambda x, y: x * y, *SHAPES[:2])


def test_a_run_that_does_not_settle_ends_with_a_flag() -> None:
    run = number("x", 2.0, 0.95).monte_carlo(digits=2, trials=200_000)
    assert (run.trials, codes(run)) == (200_000, ["not-settled"])
    assert "2 significant digits" in run.flags[0].message


def test_an_exact_number_settles_at_once() -> None:
    run = Estimate.exactly(6.0, name="equivalents", label="z").monte_carlo(digits=2)
    assert (run.u, run.tolerance, run.flags) == (0.0, 0.0, ())


def test_draws_without_a_standard_deviation_cannot_settle_to_digits_of_it() -> None:
    with pytest.raises(DomainError) as caught:
        number("m", 1.0, 0.1, dof=2.0).monte_carlo(digits=1, few_replicates="scaled t")
    assert caught.value.argument == "digits"
    assert "plug-in" in caught.value.remedy


# ----------------------------------------------------------------------------------------------------------- long runs
@pytest.fixture
def few_kept(monkeypatch: pytest.MonkeyPatch) -> int:
    """Keep few trials, so that the grid is reached in a short run."""
    monkeypatch.setattr(distribution, "KEPT", 50_000)
    monkeypatch.setattr(distribution, "_HELD", 40_000)
    return 50_000


@pytest.mark.parametrize("threads", [1, 3])
@pytest.mark.parametrize(
    "result", [SHAPES[0], SHAPES[1], bent(), combine(lambda x: x**2, number("x", 0.0, 1.0))], ids=lambda r: r.label
)
def test_a_counted_run_is_the_kept_one_to_within_a_cell(
    monkeypatch: pytest.MonkeyPatch, result: Estimate, threads: int
) -> None:
    kept = result.monte_carlo(trials=MANY)
    monkeypatch.setattr(distribution, "KEPT", 50_000)
    counted = result.monte_carlo(trials=MANY, threads=threads)
    assert (counted.value, counted.u, counted.value_error, counted.u_error) == (
        kept.value,
        kept.u,
        kept.value_error,
        kept.u_error,
    )
    assert 0.0 < counted.cell < 2e-5 * (kept.interval.high - kept.interval.low)
    np.testing.assert_allclose(counted.interval, kept.interval, rtol=0.0, atol=counted.cell)
    # The error of an end grows by the cell, and its own ranks are read from the grid.
    np.testing.assert_allclose(counted.interval_error, kept.interval_error, rtol=0.0, atol=3.0 * counted.cell)
    assert counted.shortest.high - counted.shortest.low == pytest.approx(
        kept.shortest.high - kept.shortest.low, abs=3.0 * counted.cell
    )


@pytest.mark.usefixtures("few_kept")
def test_a_counted_run_is_the_same_for_any_block_and_number_of_threads() -> None:
    runs = [bent().monte_carlo(trials=MANY, block=block, threads=n) for block, n in ((16_384, 1), (999, 4), (10**6, 2))]
    assert runs[0] == runs[1] == runs[2]
    assert runs[0].cell > 0.0


@pytest.mark.usefixtures("few_kept")
def test_a_counted_exact_number_stays_exact() -> None:
    run = Estimate.exactly(0.1, name="equivalents", label="z").monte_carlo(trials=MANY)
    assert (run.value, run.u) == (0.1, 0.0)
    assert tuple(run.interval)[:2] == pytest.approx((0.1, 0.1), abs=2.0 * math.ulp(0.1))


@pytest.mark.usefixtures("few_kept")
def test_tails_without_end_do_not_coarsen_the_grid() -> None:
    # A t with one degree of freedom: its largest trial lies a hundred thousand u out.
    run = number("m", 0.0, 1.0, dof=1.0).monte_carlo(trials=MANY, few_replicates="scaled t")
    exact = stats.t.ppf(0.975, 1.0)
    assert run.cell < 2e-5 * 2.0 * exact
    assert run.interval.high == pytest.approx(exact, abs=4.0 * run.interval_error[1])
    assert run.interval.low == pytest.approx(-exact, abs=4.0 * run.interval_error[0])


def test_ten_million_trials_take_no_more_memory_than_the_two_million_that_are_kept() -> None:
    tracemalloc.start()
    try:
        run = SHAPES[0].monte_carlo(trials=10_000_000)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    # The kept ones take 17 MB, and the ten million would take 80.
    assert peak < 40e6
    half = 0.1 * stats.norm.ppf(0.975)
    assert run.interval.low == pytest.approx(2.0 - half, abs=4.0 * run.interval_error[0])
    assert run.interval.high == pytest.approx(2.0 + half, abs=4.0 * run.interval_error[1])
    quantile_error = 0.1 * math.sqrt(0.025 * 0.975 / 1e7) / stats.norm.pdf(stats.norm.ppf(0.975))
    # The density is taken from 2 × 494 trials, which errs by a thirtieth; three of these are granted.
    assert run.interval_error == pytest.approx([quantile_error] * 2, rel=0.1)


# -------------------------------------------------------------------------------------------------------- linear result
@pytest.mark.parametrize("seed", range(50))
def test_a_straight_formula_is_never_flagged(seed: int) -> None:
    total = combine(lambda *x: sum(x), *SHAPES, number("two", 1.0, 0.3, dof=1.0), number("three", 1.0, 0.2, dof=2.0))
    assert total.monte_carlo(trials=2_000, seed=seed).flags == ()


@pytest.mark.parametrize(
    "planted",
    [
        combine(lambda x: x * x, number("x", 0.0, 1.0)),
        combine(lambda x: x * x, number("x", 1.0, 0.2)),
        combine(np.exp, number("x", 0.0, 0.3)),
        combine(lambda x: 1.0 / x, Estimate.from_influence(
            Influence.within("x", label="x", value=1.0, half_width=0.5), name="value")),
        combine(lambda x, y: x * y, number("x", 1.0, 0.3), number("y", 1.0, 0.3)),
    ],
    ids=["square at zero", "square", "exponential", "one over", "product"],
)  # fmt: skip
def test_a_planted_bend_is_flagged(planted: Estimate) -> None:
    (flag,) = planted.monte_carlo(trials=MANY).flags
    assert flag.code == "linear-differs"
    assert "State the sampled result" in flag.message


def test_scaled_t_draws_are_not_compared_with_the_linear_result() -> None:
    assert number("m", 10.0, 0.1, dof=5.0).monte_carlo(trials=MANY, few_replicates="scaled t").flags == ()


@pytest.mark.parametrize("demo", ["drum", "acid", "caustic"])
def test_every_step_of_the_demos_agrees_to_one_percent_of_u_or_is_flagged(demo: str) -> None:
    """A step that is bent more, as the density of water over some kelvin is, says so; no result of a demo is."""
    ends = [strength.estimate for strength in run_demo(demo).strengths.values()]
    steps = list({id(step): step for end in ends for step in end.walk()}.values())
    samples, _ = sampled(steps, trials=MANY)
    assert len(steps) > 20
    for step, sample in zip(steps, samples, strict=True):
        # Three standard errors of mean and standard deviation; none of these has heavier tails than the normal.
        apart = max(abs(sample.mean() - step.value) - 3.0 * step.u / math.sqrt(MANY),
                    abs(sample.std(ddof=1) - step.u) - 3.0 * step.u / math.sqrt(2.0 * MANY))  # fmt: skip
        if apart > 0.01 * step.u + 1e-12 * abs(step.value):
            assert step not in ends, step.label
            assert "linear-differs" in {flag.code for flag in step.monte_carlo(trials=MANY).flags}, step.label


# ------------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"trials": 1.5}, "trials = 1.5: not a whole number. Expected a whole number, 100 or more."),
        ({"trials": 1e6}, "not a whole number. Expected a whole number, 100 or more. Write 1000000."),
        ({"trials": True}, "not a whole number"),
        ({"trials": 10}, "trials = 10: too small. Expected a whole number, 100 or more."),
        ({"digits": 2, "trials": 1_000}, "163840 or more. A run that is to settle needs 10 batches"),
        ({"digits": 0}, "digits = 0: too small. Expected a whole number, 1 or more. 1 to 6"),
        ({"digits": True}, "not a whole number"),
        ({"threads": 0}, "threads = 0: too small"),
        ({"seed": None}, "seed: not a whole number. Expected a whole number, 0 or more."),
        ({"level": "95 %"}, "level = '95 %': this is not a plain number"),
    ],
)
def test_an_impossible_option_is_told_as_it_was_given(options: dict[str, Any], said: str) -> None:
    with pytest.raises(DomainError) as caught:
        number("x", 1.0, 0.1).monte_carlo(**options)
    assert said in str(caught.value)
