"""Consistency of several results and their weighted mean: discordance is named, blocks, and is counted in u."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from assay.errors import BlockedResultError, DataError, DomainError
from assay.metrology.comparison import compare
from assay.metrology.consistency import Consistency, consistency, weighted_mean
from assay.metrology.covariance import covariance
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence


def number(id_: str, value: float, u: float, dof: float = math.inf) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, dof=dof), name="value")


def numbers(*pairs: tuple[float, float], dof: float = math.inf) -> list[Estimate]:
    return [number(f"r{k + 1}", value, u, dof) for k, (value, u) in enumerate(pairs)]


def sharing(common: Estimate, results: list[Estimate], slopes: list[float] | None = None) -> list[Estimate]:
    """Return results to each of which a common deviation is added."""
    return [
        combine(lambda x, c, s=slope: x + s * c, result, common, label=result.label)
        for result, slope in zip(results, slopes or [1.0] * len(results), strict=True)
    ]


# --------------------------------------------------------------------------------------------------- published examples


def test_the_mean_of_three_resistances() -> None:
    """[taylor-error-analysis] weighted averages, from memory: 11 ± 1, 12 ± 1 and 10 ± 3 ohms give 11.42 ± 0.69."""
    mean = weighted_mean(*numbers((11.0, 1.0), (12.0, 1.0), (10.0, 3.0)))
    assert mean.value == pytest.approx(11.42, abs=0.005)
    assert mean.u == pytest.approx(0.69, abs=0.005)


@pytest.mark.parametrize(("n", "more"), [(4, "73"), (10, "13")])
def test_the_scatter_of_few_results_is_itself_uncertain(n: int, more: str) -> None:
    """[bodnar-elster-2014] abstract: the u of an adjusted value is so many per cent larger than by the Birge ratio.

    Here the mean has the u of the Birge ratio, and degrees of freedom: the standard deviation of its t is that figure.
    """
    found = consistency(*numbers(*((1000.0 * k, 1e-3) for k in range(n))))
    assert found.mean.u == pytest.approx(found.u_external, rel=1e-9)
    assert found.mean.dof == pytest.approx(n - 1, rel=1e-6)
    assert 100.0 * (stats.t.std(found.mean.dof) - 1.0) == pytest.approx(float(more), abs=0.5)


# ---------------------------------------------------------------------------------------------- the mean, by other ways


@given(
    values=st.lists(st.floats(-5.0, 5.0), min_size=2, max_size=5),
    us=st.lists(st.floats(0.1, 3.0), min_size=5, max_size=5),
    slopes=st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=5),
)
def test_no_other_weights_give_a_smaller_u(values: list[float], us: list[float], slopes: list[float]) -> None:
    n = len(values)
    results = sharing(number("common", 0.0, 1.0), numbers(*zip(values, us, strict=False)), slopes[:n])
    found = consistency(*results)
    matrix = np.diag(np.square(us[:n])) + np.outer(slopes[:n], slopes[:n])
    # The smallest wᵀVw with weights that add to one, by a Lagrange multiplier.
    system = np.block([[2.0 * matrix, np.ones((n, 1))], [np.ones((1, n)), np.zeros((1, 1))]])
    weights = np.linalg.solve(system, np.append(np.zeros(n), 1.0))[:n]
    np.testing.assert_allclose(found.weights, weights, rtol=1e-7, atol=1e-9)
    assert found.u_internal == pytest.approx(math.sqrt(weights @ matrix @ weights), rel=1e-8)
    mean = sum(w * v for w, v in zip(weights, values, strict=True))
    assert found.mean.value == pytest.approx(mean, rel=1e-7, abs=1e-8)

    def misfit(m: float) -> float:
        apart = np.array(values) - m
        return float(apart @ np.linalg.solve(matrix, apart))

    least = optimize.minimize_scalar(misfit, bracket=(mean - 1.0, mean + 1.0))
    assert found.chi_squared.observed == pytest.approx(least.fun, rel=1e-6, abs=1e-9)
    if found.consistent:
        assert found.mean.u == pytest.approx(found.u_internal, rel=1e-9)


@given(common=st.floats(0.1, 10.0), shift=st.floats(-1e3, 1e3))
def test_what_all_share_changes_neither_weights_nor_chi_squared(common: float, shift: float) -> None:
    plain = numbers((1.0, 0.1), (1.1, 0.2), (1.3, 0.3))
    shared = sharing(number("titrant", shift, common), plain)
    alone, together = consistency(*plain), consistency(*shared)
    np.testing.assert_allclose(together.weights, alone.weights, rtol=1e-6)
    assert together.chi_squared.observed == pytest.approx(alone.chi_squared.observed, rel=1e-6)
    assert together.mean.u == pytest.approx(math.hypot(alone.mean.u, common), rel=1e-9)


def test_the_mean_stays_correlated_with_what_it_is_of() -> None:
    results = sharing(number("titrant", 0.0, 0.3), numbers((1.0, 0.1), (1.1, 0.2), (1.3, 0.3)))
    mean = weighted_mean(*results)
    for result in results:  # a property of weights that minimise u
        assert covariance(mean, result) == pytest.approx(mean.u**2, rel=1e-9)
    assert (mean.name, mean.label) == ("value", "weighted mean")


def test_a_mean_keeps_the_name_of_what_it_is_a_mean_of() -> None:
    a, b = (
        Estimate.from_influence(Influence(id=i, label=i, value=0.1, u=0.01 * (1 + k)), name="amount_concentration")
        for k, i in enumerate("ab")
    )
    mean = weighted_mean(a, b, label="both")
    assert (mean.name, mean.unit, mean.label) == ("amount_concentration", "mol/L", "both")


# ------------------------------------------------------------------------------------------------ chi-squared and Birge


def test_chi_squared_of_known_uncertainties() -> None:
    found = consistency(*numbers((0.0, 1.0), (1.0, 1.0), (2.0, 1.0)))
    assert found.chi_squared.observed == pytest.approx(2.0)
    assert found.chi_squared.critical == pytest.approx(5.991, abs=0.0005)  # any table of chi-squared, 2 and 0.05
    assert found.chi_squared.probability == pytest.approx(math.exp(-1.0))
    assert (found.chi_squared.dof, found.chi_squared.dof_of_u) == (2, math.inf)
    assert found.birge_ratio == pytest.approx(1.0)
    assert found.u_external == pytest.approx(found.u_internal)


@given(
    values=st.tuples(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0)),
    us=st.tuples(st.floats(0.1, 2.0), st.floats(0.1, 2.0)),
    dofs=st.tuples(st.sampled_from([1.0, 2.0, 7.0, math.inf]), st.sampled_from([1.0, 2.0, 7.0, math.inf])),
)
def test_two_results_are_consistent_where_they_are_compatible(
    values: tuple[float, float], us: tuple[float, float], dofs: tuple[float, float]
) -> None:
    pair = [number(f"r{k}", v, u, d) for k, (v, u, d) in enumerate(zip(values, us, dofs, strict=True))]
    assume(abs(values[0] - values[1]) > 1e-6)
    shared = sharing(number("titrant", 0.0, 0.5, 3.0), pair)
    found, compared = consistency(*shared), compare(*shared)
    assert found.chi_squared.observed == pytest.approx(compared.zeta**2, rel=1e-7)
    assert found.chi_squared.dof_of_u == pytest.approx(compared.difference.dof, rel=1e-7)
    # By Welch's test; a comparison is more cautious where few observations stand beside what is known.
    p = 2.0 * stats.t.sf(abs(compared.zeta), min(compared.difference.dof, 1e12))
    assert found.chi_squared.probability == pytest.approx(p, rel=1e-6)
    assume(abs(p - 0.05) > 1e-6)
    assert found.consistent == (p > 0.05)
    assert compared.probability >= p * (1.0 - 1e-6)
    assert compared.compatible or not found.consistent


def welch_1951(samples: list[np.ndarray]) -> float:
    """Return the probability by Welch's test of several means, as it stands in textbooks: from memory."""
    k = len(samples)
    weights = np.array([sample.size / sample.var(ddof=1) for sample in samples])
    means = np.array([sample.mean() for sample in samples])
    mean = (weights * means).sum() / weights.sum()
    lost = sum((1.0 - w / weights.sum()) ** 2 / (s.size - 1) for w, s in zip(weights, samples, strict=True))
    observed = (weights * (means - mean) ** 2).sum() / (k - 1) / (1.0 + 2.0 * (k - 2) / (k**2 - 1) * lost)
    return float(stats.f.sf(observed, k - 1, (k**2 - 1) / (3.0 * lost)))


@given(sizes=st.lists(st.integers(3, 9), min_size=2, max_size=5), seed=st.integers(0, 1000))
def test_means_of_replicates_are_tested_as_by_welch_whatever_they_share(sizes: list[int], seed: int) -> None:
    generator = np.random.default_rng(seed)
    samples = [generator.normal(0.5 * k, 1.0 + k, n) for k, n in enumerate(sizes)]
    means = [
        Estimate.from_influence(Influence.observed(f"m{k}", list(sample), label=f"m{k}"), name="value")
        for k, sample in enumerate(samples)
    ]
    for results in (means, sharing(number("titrant", 0.0, 2.0, 1.0), means)):
        found = consistency(*results).chi_squared.probability
        assert found == pytest.approx(welch_1951(samples), rel=1e-6)


@pytest.mark.parametrize("n", [2, 5])
def test_what_agrees_is_called_discordant_as_often_as_the_level_says(n: int) -> None:
    generator, runs, rate = np.random.default_rng(2), 2000, 0.05
    found = 0
    for _ in range(runs):
        deviations, titrant = generator.standard_normal(n), generator.standard_normal()
        results = numbers(*((x * (k + 1.0), k + 1.0) for k, x in enumerate(deviations)))
        shared = sharing(number("titrant", 3.0 * titrant, 3.0), results, [0.2 + 0.4 * k for k in range(n)])
        found += not consistency(*shared).consistent
    assert abs(found / runs - rate) <= 3.0 * math.sqrt(rate * (1.0 - rate) / runs)


# ---------------------------------------------------------------------------------------------------------- discordance


@pytest.mark.parametrize(("replicates", "covered"), [(3, 0.74), (10, 0.90)])
def test_weights_from_few_replicates_cover_less_than_stated_and_say_so(replicates: int, covered: float) -> None:
    """The figures of the docstring, and that the flag's factor is not more than what is missing."""
    generator, runs, inside, off, stated = np.random.default_rng(1953), 500, 0, [], []
    for _ in range(runs):
        samples = math.sqrt(replicates) * generator.standard_normal((5, replicates))
        observed = [Influence.observed(f"r{k}", list(sample), label=f"r{k}") for k, sample in enumerate(samples)]
        found = consistency(*(Estimate.from_influence(influence, name="value") for influence in observed))
        inside += abs(found.mean.value) <= found.mean.expanded(0.95)
        if found.consistent:
            off.append(found.mean.value)
            stated.append(found.u_internal)
    assert abs(inside / runs - covered) <= 3.0 * math.sqrt(covered * (1.0 - covered) / runs)
    # Equal weights: a deviation has (0.8² + 4 × 0.2²)² / (0.8⁴ + 4 × 0.2⁴) = 1.538 times the dof of a result.
    factor = math.sqrt(1.0 + 4.0 * 5.0 * 0.2 * 0.8 / (1.538 * (replicates - 1)))
    missing = np.std(off) / math.sqrt(np.mean(np.square(stated)))
    assert factor <= missing * (1.0 + 3.0 / math.sqrt(2.0 * len(off)))
    alike = consistency(*numbers(*[(float(k), 2.0) for k in range(5)], dof=replicates - 1.0))
    (flag,) = alike.flags
    assert (flag.code, flag.blocking) == ("chance-weights", False)
    assert f"at least {factor:.1f} times as large" in flag.message


@pytest.mark.parametrize(("u_common", "factor"), [(0.0, "1.4"), (1.0, "1.2"), (10.0, "")])
def test_what_all_share_is_free_of_the_weights(u_common: float, factor: str) -> None:
    """Five of u = 2 and 2 degrees of freedom have a mean of u² = 0.8, to which 1.04 × 0.8 is to be added."""
    own = numbers(*[(float(k), 2.0) for k in range(5)], dof=2.0)
    flags = consistency(*(sharing(number("c", 0.0, u_common), own) if u_common else own)).flags
    assert [flag.code for flag in flags] == (["chance-weights"] if factor else [])
    assert all(f"at least {factor} times" in flag.message for flag in flags)


@pytest.mark.parametrize("dof", [math.inf, 60.0])
def test_weights_that_are_known_are_not_flagged(dof: float) -> None:
    assert consistency(*numbers((10.0, 1.0), (11.0, 2.0), (10.5, 1.0), dof=dof)).flags == ()


def discordant() -> Consistency:
    return consistency(*numbers((10.0, 0.1), (10.1, 0.1), (10.05, 0.1), (11.0, 0.1)))


def test_discordance_is_never_averaged_in_silence() -> None:
    found = discordant()
    assert not found.consistent
    assert found.outlying == ("r4",)
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("discordant", True)
    assert "4.8 times as much" in flag.message  # √(0.6819/0.1²/3), the sum of squares about 10.2875
    assert "r4" in flag.message
    with pytest.raises(BlockedResultError, match="discordant"):
        found.mean.conformity(lower=5.0)
    accepted = found.mean.accepting("discordant", because="the fourth is from another drum")
    assert accepted.conformity(lower=5.0).decision == "fit"


def test_accepted_or_not_the_scatter_is_counted() -> None:
    found = discordant()
    values = np.array([10.0, 10.1, 10.05, 11.0])
    assert found.mean.value == pytest.approx(values.mean())
    assert found.u_internal == pytest.approx(0.05)
    # For equal u the external one is the standard deviation of the mean, whatever that u is.
    assert found.u_external == pytest.approx(values.std(ddof=1) / 2.0)
    assert found.mean.u == pytest.approx(found.u_external)
    accepted = found.mean.accepting("discordant", because="seen")
    assert accepted.u == found.mean.u
    assert accepted.budget().lines[0].label == "scatter between results, weighted mean"


def test_what_stands_alone_is_what_is_outlying() -> None:
    found = consistency(*numbers((10.0, 0.1), (10.05, 0.1), (9.95, 0.1), (10.0, 0.1), (10.0, 0.1), (10.8, 0.1)))
    assert found.outlying == ("r6",)
    assert consistency(*numbers((1.0, 0.1), (2.0, 0.1))).outlying == ("r1", "r2")


def test_results_of_which_no_two_agree_are_all_outlying() -> None:
    assert consistency(*numbers((1.0, 0.1), (2.0, 0.1), (4.0, 0.1))).outlying == ("r1", "r2", "r3")


def test_several_that_lie_outside_are_all_named() -> None:
    found = consistency(*numbers((10.0, 0.1), (10.1, 0.1), (12.0, 0.1), (9.9, 0.1), (7.0, 0.1), (10.0, 0.1)))
    assert found.outlying == ("r3", "r5")


def test_the_order_of_the_results_changes_nothing() -> None:
    results = numbers((10.0, 0.1), (10.3, 0.17), (9.1, 0.13), (11.0, 0.19))
    means = [consistency(*permuted).mean for permuted in itertools.permutations(results)]
    assert len({mean.u for mean in means}) == 1 or max(m.u for m in means) == pytest.approx(means[0].u, rel=1e-14)
    scatters = {
        influence for mean in means for influence in mean.influences.values() if "scatter between" in influence.label
    }
    assert len(scatters) == 1
    # The same influence, so that means of the same results are the same number.
    assert combine(lambda a, b: a - b, means[0], means[-1]).u == pytest.approx(0.0, abs=1e-12)


def test_results_of_one_label_are_told_apart() -> None:
    a, b, c = (
        Estimate.from_influence(Influence(id=i, label="drum", value=v, u=0.1), name="value")
        for i, v in (("a", 1.0), ("b", 1.01), ("c", 3.0))
    )
    assert consistency(a, b, c).outlying == ("drum (3)",)
    assert "drum (2)" in str(consistency(a, b, c))


# --------------------------------------------------------------------------------------------------- flags and refusals


def test_a_negative_weight_is_flagged() -> None:
    results = sharing(number("common", 0.0, 1.0), numbers((1.0, 0.1), (1.5, 0.1)), [1.0, 1.5])
    found = consistency(*results)
    assert min(found.weights) < 0.0
    assert found.mean.value < 1.0  # outside of both
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("negative-weight", False)
    assert "(r2)" in flag.message


def test_one_result_is_not_averaged() -> None:
    with pytest.raises(DomainError, match="list with a star"):
        consistency(number("a", 1.0, 0.1))
    with pytest.raises(DomainError, match="two or more"):
        weighted_mean()


def test_a_result_without_uncertainty_is_refused_by_name() -> None:
    with pytest.raises(DomainError, match="all the weight") as refused:
        consistency(number("a", 1.0, 0.1), number("certified", 1.0, 0.0))
    assert refused.value.argument == "certified"


def test_the_same_result_twice_is_refused() -> None:
    a, b = number("a", 1.0, 0.1), number("b", 1.1, 0.1)
    for again in (a, number("a", 1.0, 0.1), combine(lambda x: 3.0 * x / 3.0, a, label="again")):
        with pytest.raises(DataError, match="count twice"):
            consistency(a, b, again)


def test_results_that_follow_from_each_other_are_refused_by_name() -> None:
    a, b, c = numbers((1.0, 0.1), (2.0, 0.2), (1.4, 0.1))
    middle = combine(lambda x, y: 0.5 * (x + y), a, b, label="middle")
    with pytest.raises(DataError, match="follow from each other") as refused:
        consistency(a, b, c, middle)
    assert set(str(refused.value.given).split(", ")) == {"r1", "r2", "middle"}


def test_units_and_levels_are_checked() -> None:
    grams = combine(lambda v: v, number("y", 1.0, 0.1), unit="g/L")
    with pytest.raises(DataError, match="different units"):
        consistency(number("a", 1.0, 0.1), grams)
    with pytest.raises(DataError, match="float is not an estimate"):
        consistency(number("a", 1.0, 0.1), 2.0)  # type: ignore[arg-type]
    with pytest.raises(DomainError, match=r"Write 0.95"):
        consistency(*numbers((1.0, 0.1), (1.1, 0.1)), level=95)


# --------------------------------------------------------------------------------------------------------- presentation


def test_it_is_shown_with_weights_and_both_uncertainties() -> None:
    found = consistency(*numbers((11.0, 1.0), (12.0, 1.0), (10.0, 3.0)))
    assert repr(found) == (
        "<Consistency of 3 results: consistent at 95 %, chi-squared = 0.737 (critical 5.99, 2 degrees of freedom), "
        "Birge ratio 0.607>"
    )
    shown = str(found)
    for told in ("r1", "0.474", "0.053", "Weighted mean (11.4 ± 1.3) at 95 %", "internal 0.69, external 0.42"):
        assert told in shown
    assert "<table>" in found._repr_html_()
    assert r"\begin{tabular}" in found._repr_latex_()
    assert repr(discordant()).startswith("<Consistency of 4 results: [!discordant] discordant at 95 %")
    assert "outlying" in str(discordant())
