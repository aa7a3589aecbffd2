"""Shapes: mean 0 and standard deviation 1 whatever the parameters, and draws that follow the quantiles."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from assay.errors import DataError, DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.shapes import Shape, u_from_half_width

DRAWS = 400_000
SHAPES = [
    Shape("normal"),
    Shape("rectangular"),
    Shape("triangular"),
    Shape("arcsine"),
    Shape("trapezoidal", (0.0,)),
    Shape("trapezoidal", (0.35,)),
    Shape("trapezoidal", (1.0,)),
    Shape("t", (5.0,)),
    Shape("truncated normal", (-1.0, 0.5)),
    Shape("truncated normal", (2.0, math.inf)),
    Shape("truncated normal", (-math.inf, 0.0)),
    Shape("truncated normal", (40.0, 50.0)),
    Shape("truncated normal", (-1e-6, 1e-6)),
    Shape("log-normal", (0.4,)),
    Shape("beta", (2.0, 5.0)),
    Shape("beta", (0.5, 0.5)),
    Shape("sample", (1.0, 2.0, 2.0, 9.0)),
]
# The same distributions by an independent package.
PEERS = {
    "normal": stats.norm(),
    "rectangular": stats.uniform(-math.sqrt(3.0), 2.0 * math.sqrt(3.0)),
    "triangular": stats.triang(0.5, -math.sqrt(6.0), 2.0 * math.sqrt(6.0)),
    "arcsine": stats.arcsine(-math.sqrt(2.0), 2.0 * math.sqrt(2.0)),
}


@pytest.mark.parametrize("name", PEERS)
def test_quantiles_are_those_of_the_distribution(name: str) -> None:
    probabilities = np.array([0.0, 1e-9, 0.025, 0.3, 0.5, 0.81, 0.975, 1.0 - 1e-9, 1.0])
    assert Shape(name).quantile(probabilities) == pytest.approx(PEERS[name].ppf(probabilities), rel=1e-9, abs=1e-12)


@given(top=st.floats(0.0, 0.99), p=st.floats(0.0, 1.0))
def test_trapezoidal_quantile(top: float, p: float) -> None:
    half = math.sqrt(6.0 / (1.0 + top * top))  # JCGM 101:2008, 6.4.4.2, for variance 1
    peer = stats.trapezoid(0.5 - 0.5 * top, 0.5 + 0.5 * top, -half, 2.0 * half)
    assert Shape("trapezoidal", (top,)).quantile(p) == pytest.approx(peer.ppf(p), abs=1e-6)


@given(low=st.floats(-4.0, 1.0), width=st.floats(0.1, 5.0), p=st.floats(0.01, 0.99))
def test_truncated_quantile_is_that_of_the_cut_normal(low: float, width: float, p: float) -> None:
    high = low + width
    cut = Influence.truncated("cut", label="cut", value=0.0, u=1.0, low=low, high=high)
    below, within = stats.norm.cdf(low), stats.norm.cdf(high) - stats.norm.cdf(low)
    assert (stats.norm.cdf(cut.quantile(p)) - below) / within == pytest.approx(p, abs=1e-9)


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_mean_is_zero_and_standard_deviation_one(shape: Shape) -> None:
    if shape.name == "sample":
        deviations = shape.quantile((np.arange(4) + 0.5) / 4)
        assert deviations.mean() == pytest.approx(0.0, abs=1e-15)
        assert deviations.std() == pytest.approx(1.0, rel=1e-15)
        return
    mean, _ = integrate.quad(shape.quantile, 0.0, 1.0, limit=400)
    variance, _ = integrate.quad(lambda p: float(shape.quantile(p)) ** 2, 0.0, 1.0, limit=400)
    assert mean == pytest.approx(0.0, abs=1e-6)
    assert variance == pytest.approx(1.0, rel=1e-5)


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_draws_follow_the_quantiles(shape: Shape) -> None:
    drawn = shape.draw(np.random.default_rng(7), DRAWS)
    for p in (0.05, 0.3, 0.5, 0.8, 0.99):
        share = float(np.mean(drawn <= shape.quantile(p) + 1e-12))
        error = math.sqrt(p * (1.0 - p) / DRAWS)
        # A sample has steps, here at 1, 2 (twice) and 9: the share up to a quantile is the whole step.
        expected = p if shape.name != "sample" else 0.25 if p <= 0.25 else 0.75 if p <= 0.75 else 1.0
        assert share == pytest.approx(expected, abs=4.0 * error)


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_drawing_in_parts_changes_nothing(shape: Shape) -> None:
    whole = shape.draw(np.random.default_rng(11), 1000)
    generator = np.random.default_rng(11)
    assert np.array_equal(np.concatenate([shape.draw(generator, n) for n in (1, 299, 700)]), whole)


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_margin_of_a_normal_score_keeps_its_rank(shape: Shape) -> None:
    scores = np.linspace(-5.0, 5.0, 41)
    margin = shape.from_normal(scores)
    assert (np.diff(margin) >= 0.0).all()
    assert margin == pytest.approx(np.asarray(shape.quantile(stats.norm.cdf(scores))), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "parameters", "expected"),
    [
        ("normal", (1.0,), "no parameters"),
        ("trapezoidal", (), "top"),
        ("trapezoidal", (1.2,), "0 to 1"),
        ("t", (2.0,), "no standard deviation"),
        ("t", (math.nan,), "above 2"),
        ("truncated normal", (1.0, 1.0), "lower first"),
        ("log-normal", (0.0,), "above 0"),
        ("beta", (0.0, 1.0), "above 0"),
        ("beta", (1.0,), "two exponents"),
        ("sample", (3.0,), "two values"),
        ("sample", (3.0, 3.0), "not all the same"),
        ("sample", (3.0, math.inf), "finite"),
    ],
)
def test_wrong_parameters_are_refused(name: str, parameters: tuple[float, ...], expected: str) -> None:
    with pytest.raises(DomainError, match=expected):
        Shape(name, parameters)


def test_few_degrees_of_freedom_name_the_remedy() -> None:
    with pytest.raises(DomainError, match="state u = s/√n with dof"):
        Shape("t", (2.0,))


@pytest.mark.parametrize("shape", ["normal", "log-normal"])
def test_no_half_width_without_bounds(shape: str) -> None:
    with pytest.raises(DataError, match="no half-width"):
        u_from_half_width(0.1, shape, (0.3,) if shape == "log-normal" else ())


INPUTS = [
    Influence.within("a", label="a", value=2.0, half_width=0.1, shape="trapezoidal", parameters=(0.5,)),
    Influence.within("b", label="b", value=2.0, half_width=0.1, shape="arcsine"),
    Influence.between("c", label="c", low=1.0, high=4.0),
    Influence.between("d", label="d", low=1.0, high=4.0, shape="beta", parameters=(2.0, 5.0)),
    Influence.certified("e", label="e", value=3.0, expanded=0.2, k=2.0),
    Influence.rounded("f", label="f", value=3.0, step=0.05),
    Influence.truncated("g", label="g", value=0.999, u=0.001, high=1.0),
    Influence.log_normal("h", label="h", median=2.0, factor=1.5),
    Influence.sampled("i", [1.0, 1.5, 7.0], label="i"),
    Influence(id="j", label="j", value=1.0, u=0.1, shape="t", parameters=(6.0,)),
]


@pytest.mark.parametrize("influence", INPUTS, ids=lambda i: i.shape)
def test_sampled_and_linear_agree_on_mean_and_u(influence: Influence) -> None:
    estimate = Estimate.from_influence(influence, name="value")
    run = estimate.monte_carlo(trials=DRAWS)
    drawn = influence.value + influence.u * influence.distribution.draw(np.random.default_rng(2), DRAWS)
    excess = float(((drawn - influence.value) ** 4).mean() / influence.u**4) - 1.0  # of the variance of the variance
    assert run.value == pytest.approx(estimate.value, abs=4.0 * influence.u / math.sqrt(DRAWS))
    assert run.u == pytest.approx(estimate.u, rel=4.0 * 0.5 * math.sqrt(excess / DRAWS))


def test_constructors_give_the_u_of_the_guide() -> None:
    assert Influence.certified("e", label="e", value=3.0, expanded=0.2, level=0.95).u == pytest.approx(0.2 / 1.959964)
    # JCGM 100:2008, Table G.2: t for 95 % and 4 degrees of freedom is 2.78.
    certified = Influence.certified("e", label="e", value=3.0, expanded=2.78, level=0.95, dof=4.0)
    assert certified.u == pytest.approx(1.0, abs=0.002)
    assert certified.dof == 4.0
    assert Influence.rounded("f", label="f", step=0.1).u == pytest.approx(0.1 / math.sqrt(12.0))
    observed = Influence.observed("o", [1.0, 2.0, 3.0, 6.0], label="o")
    assert (observed.value, observed.dof, observed.kind) == (3.0, 3.0, "A")
    assert observed.u == pytest.approx(math.sqrt(14.0 / 3.0 / 4.0))


def test_between_with_a_beta_has_the_moments_of_the_beta() -> None:
    d = Influence.between("d", label="d", low=1.0, high=4.0, shape="beta", parameters=(2.0, 5.0))
    assert d.value == pytest.approx(1.0 + 3.0 * 2.0 / 7.0)
    assert d.u == pytest.approx(3.0 * math.sqrt(10.0 / (49.0 * 8.0)))
    assert [d.quantile(0.0), d.quantile(1.0)] == pytest.approx([1.0, 4.0])


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Influence.certified("c", label="c", value=1.0, expanded=0.1), "k or level"),
        (lambda: Influence.certified("c", label="c", value=1.0, expanded=0.1, k=2.0, level=0.95), "both"),
        (lambda: Influence.certified("c", label="c", value=1.0, expanded=0.1, k=0.0), "above zero"),
        (lambda: Influence.certified("c", label="c", value=1.0, expanded=0.1, level=95.0), "0.95"),
        (lambda: Influence.between("c", label="c", low=2.0, high=1.0), "2 to 1"),
        (lambda: Influence.observed("c", [1.0], label="c"), "scatter"),
        (lambda: Influence.truncated("c", label="c", value=1.0, u=0.0, high=2.0), "above zero"),
        (lambda: Influence.log_normal("c", label="c", median=-1.0, factor=2.0), "median"),
        (lambda: Influence.log_normal("c", label="c", median=1.0, factor=1.0), "above one"),
        (lambda: Influence.sampled("c", [1.0, 1.0], label="c"), "not all the same"),
    ],
)
def test_wrong_constructions_are_refused(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(DomainError, match=words):
        make()


@pytest.mark.parametrize("ends", [(-1e-8, 1e-8), (-1e-4, 0.0), (0.0, 1e-6), (-0.5, 0.5 + 1e-9)])
def test_u_of_a_narrow_cut_keeps_its_digits(ends: tuple[float, float]) -> None:
    # Within a narrow range about zero the density is 1 - x²/2: the variance of a symmetric range of half-width h is
    # h²/3 (1 - 2 h²/15) to the next order, and that of a range to one side differs from width²/12 by its square.
    low, high = ends
    width = high - low
    u = Influence.truncated("cut", label="cut", value=0.0, u=1.0, low=low, high=high).u
    expected = width / math.sqrt(12.0)
    if width < 0.1:
        assert u == pytest.approx(expected, rel=width**2)
    else:
        variance = integrate.quad(lambda x: x * x * stats.norm.pdf(x), low, high, epsabs=0.0, epsrel=1e-12)[0]
        assert u == pytest.approx(math.sqrt(variance / (stats.norm.cdf(high) - stats.norm.cdf(low))), rel=1e-9)


@pytest.mark.parametrize("distance", [8.0, 40.0, 400.0])
def test_u_of_a_far_cut_keeps_its_digits(distance: float) -> None:
    # Beyond a far limit the density is exp(-distance x - x²/2).
    def moment(power: int) -> float:
        def integrand(x: float) -> float:
            return x**power * math.exp(-x * (distance + 0.5 * x))

        return float(integrate.quad(integrand, 0.0, 60.0 / distance, epsabs=0.0, epsrel=1e-12)[0])

    mean, square = moment(1) / moment(0), moment(2) / moment(0)
    cut = Influence.truncated("cut", label="cut", value=0.0, u=1.0, low=distance)
    assert cut.value - distance == pytest.approx(mean, rel=1e-9)
    assert cut.u == pytest.approx(math.sqrt(square - mean * mean), rel=1e-9)
    mirrored = Influence.truncated("cut", label="cut", value=0.0, u=1.0, high=-distance)
    assert (mirrored.value, mirrored.u) == (-cut.value, pytest.approx(cut.u, rel=1e-12))


@pytest.mark.parametrize(
    ("given", "usual"), [("uniform", "rectangular"), ("Gaussian", "normal"), ("U-shaped", "arcsine"), ("student", "t")]
)
def test_another_name_of_a_shape_is_told_in_ours(given: str, usual: str) -> None:
    with pytest.raises(DataError, match=f"called '{usual}'"):
        Influence.within("a", label="a", half_width=0.1, shape=given)


@pytest.mark.parametrize("influence", INPUTS, ids=lambda i: i.shape)
@pytest.mark.parametrize("probability", [-0.1, 1.1, 95.0, math.nan])
def test_no_quantile_outside_0_to_1(influence: Influence, probability: float) -> None:
    with pytest.raises(DomainError, match="0 to 1"):
        influence.quantile(probability)


@pytest.mark.parametrize(
    ("make", "argument", "words"),
    [
        (lambda: Influence.within("a", label="a", half_width="0.1 mL"), "half_width of a", "0.05 for '0.05 mL'"),
        (lambda: Influence.rounded("a", label="a", step=-0.1), "step of a", "not negative"),
        (lambda: Influence.rounded("a", label="a", step="0.1"), "step of a", "plain number"),
        (lambda: Influence.certified("a", label="a", value=1.0, expanded=-0.1, k=2.0), "expanded of a", "negative"),
        (lambda: Influence.certified("a", label="a", value=1.0, expanded=0.1, k="2"), "k", "plain number"),
        (lambda: Influence.certified("a", label="a", value=1.0, expanded=0.1, level="95 %"), "level", "for '95 %'"),
        (lambda: Influence.certified("a", label="a", value=1.0, expanded=0.1, level=0.95, dof=0.0), "dof of a", "1 or"),
        (lambda: Influence.observed("a", [1.0, math.nan], label="a"), "value 2 of a", "not finite"),
        (lambda: Influence.observed("a", [], label="a"), "values of a", "no observation"),
        (lambda: Influence.observed("a", 24.35, label="a"), "a", "list of numbers"),
        (lambda: Influence.between("a", label="a", low="1 g", high=2.0), "low of a", "plain number"),
        (lambda: Influence.sampled("a", [], label="a"), "values of a", "no spread"),
        (lambda: Influence.sampled("a", [1.0, "2"], label="a"), "value 2 of a", "plain number"),
        (lambda: Influence(id="a", label="a", value="2", u=0.1), "value of a", "plain number"),
        (lambda: Influence(id="a", label="a", value=2.0, u=0.1, shape="t", dof=5.0), "parameters", r"\(dof,\)"),
    ],
)
def test_a_wrong_construction_is_told_by_what_was_given(make: object, argument: str, words: str) -> None:
    assert callable(make)
    with pytest.raises(DomainError, match=words) as caught:
        make()
    assert caught.value.argument == argument


def test_one_parameter_may_stand_alone_and_values_in_any_order() -> None:
    alone = Influence.within("a", label="a", half_width=0.1, shape="trapezoidal", parameters=0.5)  # type: ignore[arg-type]
    assert alone.parameters == (0.5,)
    assert Influence.sampled("a", np.array([3.0, 1.0, 2.0]), label="a").quantile(0.5) == pytest.approx(2.0)  # type: ignore[arg-type]
