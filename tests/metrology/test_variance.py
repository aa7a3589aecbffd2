"""Analysis of variance: against published figures, sums worked out here, and simulated days."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest

from assay import AssayError, Estimate, MethodPrecision, analysis_of_variance, combine, nested_analysis

DAYS = [[24.30, 24.36], [24.50, 24.44], [24.35, 24.37], [24.41, 24.43]]


def test_the_balanced_case_by_hand() -> None:
    """Mean squares by their definitions: 2 x the variance of the means, and the mean of the variances."""
    found = analysis_of_variance(DAYS)
    between = 2.0 * statistics.variance(map(statistics.fmean, DAYS))
    within = statistics.fmean(map(statistics.variance, DAYS))
    outer, inner = found.components
    assert (outer.mean_square, outer.mean_square_dof) == (pytest.approx(between), 3.0)
    assert (inner.mean_square, inner.mean_square_dof) == (pytest.approx(within), 4.0)
    assert outer.s == pytest.approx(math.sqrt((between - within) / 2.0))
    assert found.intermediate_s == pytest.approx(math.sqrt((between - within) / 2.0 + within))
    assert found.f_ratio == pytest.approx(between / within)
    assert outer.dof == pytest.approx((between - within) ** 2 / (between**2 / 3.0 + within**2 / 4.0))


def test_the_probability_of_f_for_one_and_four_degrees_of_freedom_is_that_of_t() -> None:
    """F(1, v) is t(v) squared: p of F is twice the upper probability of t (identity of the distributions)."""
    from scipy import special

    found = analysis_of_variance([[1.0, 1.2, 1.1], [1.4, 1.5, 1.3]])
    assert found.probability == pytest.approx(2.0 * special.stdtr(4.0, -math.sqrt(found.f_ratio)))


def test_unlike_groups_are_unbiased() -> None:
    """Over many sets of days with 2, 5 and 3 titres the variance between days is found right on the average."""
    generator = np.random.default_rng(3)
    variances = []
    for _ in range(4000):
        groups = [list(generator.normal(generator.normal(24.0, 0.05), 0.03, n)) for n in (2, 5, 3, 2)]
        outer, inner = analysis_of_variance(groups).components
        alike = (12 - (4 + 25 + 9 + 4) / 12) / 3
        variances.append((outer.mean_square - inner.mean_square) / alike)
    error = statistics.stdev(variances) / math.sqrt(len(variances))
    assert abs(statistics.fmean(variances) - 0.05**2) < 4.0 * error


def test_no_difference_between_days_is_a_flag_and_not_a_negative_variance() -> None:
    found = analysis_of_variance([[24.2, 24.6], [24.3, 24.5], [24.6, 24.2]])
    assert found.components[0].s == 0.0
    assert [flag.code for flag in found.flags] == ["between-not-distinguished"]
    assert "not the same as proven" in str(found)


def test_nested_by_hand() -> None:
    cube = np.random.default_rng(5).normal(10.0, 1.0, (3, 2, 4))
    found = nested_analysis(cube.tolist(), names=("batches", "analysts"))
    outer, inner, within = found.components
    means = cube.mean(axis=2)
    assert within.mean_square == pytest.approx(cube.var(axis=2, ddof=1).mean())
    assert inner.mean_square == pytest.approx(4.0 * means.var(axis=1, ddof=1).mean())
    assert outer.mean_square == pytest.approx(8.0 * means.mean(axis=1).var(ddof=1))
    assert (outer.mean_square_dof, inner.mean_square_dof, within.mean_square_dof) == (2.0, 3.0, 18.0)


def test_nested_components_are_found_on_the_average() -> None:
    generator = np.random.default_rng(8)
    found = []
    for _ in range(2000):
        cube = (
            generator.normal(0.0, 0.5, (4, 1, 1))
            + generator.normal(0.0, 0.3, (4, 3, 1))
            + generator.normal(10, 0.2, (4, 3, 2))
        )
        outer, inner, within = nested_analysis(cube.tolist()).components
        found.append(((outer.mean_square - inner.mean_square) / 6, (inner.mean_square - within.mean_square) / 2))
    for values, truth in zip(zip(*found, strict=True), (0.25, 0.09), strict=True):
        error = statistics.stdev(values) / math.sqrt(len(values))
        assert abs(statistics.fmean(values) - truth) < 4.0 * error


def test_a_later_result_counts_what_days_differ_by() -> None:
    """u² of one day's mean is that of the titres and that between days, with the degrees of freedom of each."""
    found = analysis_of_variance(DAYS)
    day = found.between("record/drum 7", label="drum 7")
    strength = Estimate.exactly(24.40, name="value", label="mean titre of today")
    result = combine(lambda x, day: x + day, strength, Estimate.from_influence(day, name="value"))
    assert result.u == pytest.approx(found.components[0].s)
    assert result.dof == pytest.approx(found.components[0].dof)
    assert found.between("record/drum 7", label="drum 7", groups=4).u == pytest.approx(found.components[0].s / 2.0)
    assert found.between("record/drum 7", label="drum 7", mean=found.mean).u == pytest.approx(
        found.components[0].s / found.mean
    )
    assert day.id != found.between("record/drum 8", label="drum 8").id
    assert found.repeatability.s == found.components[-1].s
    assert found.repeatability.dof == 4.0


def test_a_published_method() -> None:
    """Limits r and R are 2.77 times the standard deviations, which the standard rounds to 2.8."""
    method = MethodPrecision.from_limits(r=0.277, R=0.554, laboratories=9, source="a standard method")
    assert method.repeatability == pytest.approx(0.0999, abs=5e-5)
    assert method.between_laboratories == pytest.approx(math.sqrt(0.554**2 - 0.277**2) / 2.7718, rel=1e-4)
    bias = method.between("laboratory", label="ours")
    assert (bias.u, bias.dof) == (method.between_laboratories, 8.0)
    assert method.method_scatter(10.0).s == pytest.approx(10.0 * method.repeatability)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: analysis_of_variance([[24.3, 24.4]]), ["takes two", "days", "1"]),
        (lambda: analysis_of_variance([[24.3], [24.4]]), ["replicates", "Titrate twice"]),
        (lambda: analysis_of_variance([[24.3, 24.4], []]), ["list of results"]),
        (lambda: analysis_of_variance([[24.3, math.inf], [1.0]]), ["finite", "inf"]),
        (lambda: analysis_of_variance(["24.3", "24.4"]), ["list of results", "24.3"]),
        (lambda: nested_analysis([[[1.0, 2.0], [1.0, 2.0]], [[1.0, 2.0]]]), ["not balanced", "analysts"]),
        (lambda: nested_analysis([[[1.0], [2.0]], [[1.0], [2.0]]]), ["two of each", "2 x 2 x 1"]),
        (lambda: analysis_of_variance(DAYS).between("r", label="l", level="weeks"), ["weeks", "days"]),
        (lambda: analysis_of_variance(DAYS).between("r", label="l", groups=0), ["one group or more"]),
        (lambda: MethodPrecision(repeatability=0.2, reproducibility=0.1, laboratories=9, source="x"), ["exchanged"]),
        (lambda: MethodPrecision(repeatability=-0.2, reproducibility=0.1, laboratories=9, source="x"), ["above zero"]),
        (
            lambda: MethodPrecision(repeatability=0.1, reproducibility=0.2, laboratories=1, source="x"),
            ["two laboratories"],
        ),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(make: object, says: list[str]) -> None:
    with pytest.raises(AssayError) as refused:
        make()  # type: ignore[operator]
    for word in says:
        assert word in str(refused.value)
