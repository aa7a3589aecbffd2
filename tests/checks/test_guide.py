"""The guide's examples: its answer with its assumptions, ours beside it, and every difference accounted for by hand."""

from __future__ import annotations

import math

import pytest

from assay.checks.guide import Cause, Comparison, guide_comparison

COMPARISONS = guide_comparison()
A1, A2, A3, TRIPLICATE, VISUAL = COMPARISONS
TITRATIONS = [A3, TRIPLICATE, VISUAL]

#: Cubic expansion of dilute solutions at 20 °C, and of borosilicate glass. By the equation of the density of water,
#: A5 (1 - f), f = (t + A1)² (t + A2)/(A3 (t + A4)), that of water is f (2/(t + A1) + 1/(t + A2) - 1/(t + A4))/(1 - f).
_F = (20.0 - 3.983035) ** 2 * (20.0 + 301.797) / (522528.9 * (20.0 + 69.34881))
WATER = _F / (1.0 - _F) * (2.0 / (20.0 - 3.983035) + 1.0 / (20.0 + 301.797) - 1.0 / (20.0 + 69.34881))
LIQUID, GLASS = WATER + 2.0e-5, 9.9e-6


def named(comparison: Comparison) -> str:
    return comparison.example


def cause(comparison: Comparison, name: str) -> Cause:
    return next(cause for cause in comparison.causes if cause.name == name)


@pytest.mark.parametrize("comparison", COMPARISONS, ids=named)
def test_value_and_u_are_those_of_the_guide_with_its_assumptions(comparison: Comparison) -> None:
    assert comparison.value.agrees
    assert comparison.u.agrees
    assert comparison.u.check.answer == "u"
    assert not comparison.value.check.disagrees
    assert not comparison.u.check.disagrees


@pytest.mark.parametrize("comparison", COMPARISONS, ids=named)
def test_the_two_answers_differ_in_u_and_not_in_value(comparison: Comparison) -> None:
    assert comparison.house.value == pytest.approx(comparison.guide.value, rel=1e-12)
    assert comparison.house.unit == comparison.guide.unit == comparison.unit


@pytest.mark.parametrize("comparison", COMPARISONS, ids=named)
def test_squares_of_the_causes_add_to_the_square_of_u(comparison: Comparison) -> None:
    assert math.hypot(*(c.guide for c in comparison.causes)) == pytest.approx(comparison.guide.u, rel=1e-12)
    assert math.hypot(*(c.house for c in comparison.causes)) == pytest.approx(comparison.house.u, rel=1e-12)


@pytest.mark.parametrize("comparison", COMPARISONS, ids=named)
def test_every_difference_is_explained_and_nothing_else(comparison: Comparison) -> None:
    different = [c.name for c in comparison.causes if abs(c.guide - c.house) > 0.01 * max(c.guide, c.house)]
    assert [c.name for c in comparison.causes if c.why] == different


# ------------------------------------------------------------------------------------------------------- worked by hand
def test_a1_temperature_acts_on_liquid_less_glass() -> None:
    by_hand = A1.house.value * 4.0 / math.sqrt(3.0) * (LIQUID - GLASS)
    assert cause(A1, "temperature").house == pytest.approx(by_hand, rel=1e-9)


def test_water_expands_at_20_degrees_as_the_guide_has_it() -> None:
    assert f"{WATER:.1e}" == "2.1e-04"


def test_a2_temperature_is_rectangular_and_acts_on_liquid_less_glass() -> None:
    by_hand = A2.house.value * 3.0 / math.sqrt(3.0) * (LIQUID - GLASS)
    assert cause(A2, "temperature").house == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize("comparison", TITRATIONS, ids=named)
def test_a3_one_temperature_is_left_of_three_volumes(comparison: Comparison) -> None:
    # V2/(V1·V3), each in proportion to 1 + x: one power of (1 + x) is left, but for an excess that does not expand.
    one_volume = comparison.house.value * 4.0 / math.sqrt(3.0) * (LIQUID - GLASS)
    excess = 0.05 if comparison is VISUAL else 0.0
    powers = 1.0 + 18.64 / (18.64 - excess) - 14.89 / (14.89 - excess)
    assert cause(comparison, "temperature").house == pytest.approx(one_volume * powers, rel=1e-9)


def test_a3_the_eye_cancels_but_for_the_difference_of_the_titres() -> None:
    by_hand = VISUAL.house.value * 0.03 * (1.0 / 14.84 - 1.0 / 18.59)
    assert cause(VISUAL, "end point").house == pytest.approx(by_hand, rel=1e-9)
    apart = VISUAL.guide.value * 0.03 * math.hypot(1.0 / 14.84, 1.0 / 18.59)
    assert cause(VISUAL, "end point").guide == pytest.approx(apart, rel=1e-9)


def correlation(one: float, other: float) -> float:
    """Return that of two rectangular deviations of the scale, readings in mL on a burette of 20 mL."""
    return 6.0 / math.pi * math.asin(math.exp(-0.5 * ((one - other) / 2.0) ** 2) / 2.0)


def burette_u(weights: dict[float, float]) -> float:
    """Return u of a weighted sum of deviations at whole millilitres, each within half of ±0.03 mL."""
    pairs = [(a, b) for a in weights for b in weights]
    return 0.015 / math.sqrt(3.0) * math.sqrt(sum(weights[a] * weights[b] * correlation(a, b) for a, b in pairs))


def test_a3_one_scale_is_counted_once() -> None:
    second, first = 1.0 / 14.89, 1.0 / 18.64
    weights = {18.0: -0.36 * first, 19.0: -0.64 * first, 14.0: 0.11 * second, 15.0: 0.89 * second, 0.0: first - second}
    assert cause(A3, "burette").house == pytest.approx(A3.house.value * burette_u(weights), rel=1e-6)


def test_a2_the_scale_is_interpolated() -> None:
    weights = {18.0: 0.36 / 18.64, 19.0: 0.64 / 18.64, 0.0: -1.0 / 18.64}
    assert cause(A2, "burette").house == pytest.approx(A2.house.value * burette_u(weights), rel=1e-6)


@pytest.mark.parametrize(("comparison", "n"), [(A3, 1), (TRIPLICATE, 3)], ids=["one", "three"])
def test_a3_repeatability_is_a_tenth_of_a_per_cent_over_root_n(comparison: Comparison, n: int) -> None:
    by_hand = comparison.house.value * 0.001 / math.sqrt(n)
    assert cause(comparison, "repeatability").house == pytest.approx(by_hand, rel=1e-6)
    assert cause(comparison, "repeatability").guide == pytest.approx(by_hand, rel=1e-6)


def test_independence_makes_the_visual_end_point_look_worse_than_it_is() -> None:
    assert VISUAL.guide.u > 2.0 * VISUAL.house.u
