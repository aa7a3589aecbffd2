"""The error of a burette as a function of the delivered volume: the stated model written out, and its laws.

The model: the deviation G of the scale has rectangular margins, of the class limit and nothing at zero, or, where the
error is stated as triangular, of half the class limit everywhere. The normal scores behind it have the correlation
exp(-d²/2L²) at a distance d, L a tenth of the capacity; between knots a twentieth of the capacity apart it is
interpolated. Two rectangular deviates whose normal scores have correlation r have the correlation (6/pi) asin(r/2).
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import Burette, Estimate, combine
from assay.metrology.sampling import sampled

LIMIT = 0.05  # mL: class A, 50 mL
CAPACITY = 50.0
KNOTS = np.linspace(0.0, CAPACITY, 21)
DISTANCE = np.subtract.outer(KNOTS, KNOTS) / (CAPACITY / 10.0)
ALIKE = (6.0 / math.pi) * np.arcsin(np.exp(-(DISTANCE**2) / 2.0) / 2.0)
COVARIANCES = {
    "triangular": (LIMIT / 2.0) ** 2 / 3.0 * ALIKE,
    "rectangular": LIMIT**2 / 3.0 * ALIKE * np.outer(KNOTS > 0.0, KNOTS > 0.0),
}
SHAPES = tuple(COVARIANCES)

readings = st.integers(0, 1000).map(lambda steps: steps * 0.05)  # every half division of the scale, mL


def burette(shape: str = "rectangular") -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A", shape=shape)


def volume(initial: float, final: float, shape: str = "rectangular") -> Estimate:
    return burette(shape).titre(f"{initial:.3f} mL", f"{final:.3f} mL").volume()


def at(reading: float) -> np.ndarray:
    """Return the share of each knot in the deviation at a reading, mL."""
    return np.maximum(1.0 - np.abs(KNOTS - reading) / (CAPACITY / 20.0), 0.0)


def covariance(first: tuple[float, float], second: tuple[float, float], shape: str) -> float:
    """Return the covariance of two delivered volumes, mL²."""
    return float((at(first[1]) - at(first[0])) @ COVARIANCES[shape] @ (at(second[1]) - at(second[0])))


def covariance_found(a: Estimate, b: Estimate) -> float:
    """Return the covariance that the library gives two results, mL²."""
    return 1e6 * (combine(lambda x, y: x + y, a, b).u ** 2 - combine(lambda x, y: x - y, a, b).u ** 2) / 4.0


def test_it_is_rectangular_unless_stated_otherwise() -> None:
    stated = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    assert stated.titre("24.35 mL").volume().u == volume(0.0, 24.35, "rectangular").u


@given(readings, st.sampled_from(SHAPES))
def test_zero_for_a_volume_of_zero(reading: float, shape: str) -> None:
    delivered = volume(reading, reading, shape)
    assert delivered.value == 0.0
    assert delivered.u == pytest.approx(0.0, abs=1e-20)


@given(readings, readings, readings, readings, st.sampled_from(SHAPES))
def test_covariance_of_any_two_volumes_is_that_of_the_model(a: float, b: float, c: float, d: float, shape: str) -> None:
    first, second = tuple(sorted((a, b))), tuple(sorted((c, d)))
    found = covariance_found(volume(*first, shape), volume(*second, shape))
    assert found == pytest.approx(covariance(first, second, shape), rel=1e-9, abs=1e-15)
    by_hand = math.sqrt(covariance(first, first, shape))
    assert 1e3 * volume(*first, shape).u == pytest.approx(by_hand, rel=1e-9, abs=1e-9)


@given(readings, readings, readings, st.sampled_from(SHAPES))
def test_volumes_one_after_another_add_up(a: float, b: float, c: float, shape: str) -> None:
    low, middle, high = sorted((a, b, c))
    parts = [volume(*ends, shape) for ends in ((low, middle), (middle, high), (low, high))]
    difference = combine(lambda x, y, z: x + y - z, *parts)
    assert difference.value == pytest.approx(0.0, abs=1e-15)
    assert difference.u == pytest.approx(0.0, abs=1e-15)


PLACES = [0.0, 0.05, 0.4, 1.25, 2.5, 4.9, 5.0, 8.35, 12.5, 17.7, 24.35, 25.0, 31.2, 37.5, 42.05, 47.5, 49.95, 50.0]


def test_every_draw_keeps_every_volume_from_zero_within_the_class_limit() -> None:
    drawn, _ = sampled([volume(0.0, place) for place in PLACES], trials=50_000)
    errors = 1000.0 * np.array(drawn) - np.array(PLACES)[:, None]
    assert np.abs(errors).max() <= LIMIT * (1.0 + 1e-9)
    assert np.abs(errors).max() > 0.99 * LIMIT  # the limit is used, not merely kept
    between = errors.max(axis=0) - errors.min(axis=0)
    assert LIMIT < between.max() <= 2.0 * LIMIT * (1.0 + 1e-9)  # from another start it may be more than the limit


def test_every_triangular_draw_keeps_every_pair_of_readings_within_the_class_limit() -> None:
    drawn, _ = sampled([burette("triangular").scale_error(place / 1000.0) for place in PLACES], trials=50_000)
    deviations = 1000.0 * np.array(drawn)
    spread = deviations.max(axis=0) - deviations.min(axis=0)  # the largest error of any pair, trial by trial
    assert spread.max() <= LIMIT * (1.0 + 1e-12)
    assert spread.max() > 0.99 * LIMIT  # the limit is used, not merely kept
    assert np.abs(deviations).max() <= LIMIT / 2.0 * (1.0 + 1e-12)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("ends", [(0.0, 25.0), (0.0, 2.5), (0.0, 50.0), (1.2, 24.35), (30.0, 37.5)])
def test_drawn_errors_have_the_variance_of_the_linear_result(ends: tuple[float, float], shape: str) -> None:
    trials = 200_000
    (drawn,), _ = sampled([volume(*ends, shape)], trials=trials)
    errors = 1000.0 * (drawn - drawn.mean())
    variance = float(np.mean(errors**2))
    standard_error = math.sqrt((float(np.mean(errors**4)) - variance**2) / trials)
    assert variance == pytest.approx(covariance(ends, ends, shape), abs=4.0 * standard_error)


@pytest.mark.parametrize("final", [2.5, 20.0, 25.0, 40.0, 50.0])
def test_at_a_knot_it_is_rectangular(final: float) -> None:
    assert 1000.0 * volume(0.0, final).u == pytest.approx(LIMIT / math.sqrt(3.0), rel=1e-9)
    (drawn,), _ = sampled([volume(0.0, final)], trials=100_000)
    beyond = float(np.mean(np.abs(1000.0 * drawn - final) > LIMIT / 2.0))
    assert beyond == pytest.approx(0.5, abs=4.0 * math.sqrt(0.5 * 0.5 / 100_000))  # 1 - 1/2 of a rectangle


@pytest.mark.parametrize("final", [20.0, 25.0, 40.0, 50.0])
def test_well_above_the_correlation_length_it_is_triangular_where_that_is_stated(final: float) -> None:
    """Two deviations that know nothing of each other, rectangular ±a/2 each: triangular ±a, u = a/√6."""
    assert 1000.0 * volume(0.0, final, "triangular").u == pytest.approx(LIMIT / math.sqrt(6.0), rel=2e-4)
    (drawn,), _ = sampled([volume(0.0, final, "triangular")], trials=100_000)
    beyond = float(np.mean(np.abs(1000.0 * drawn - final) > LIMIT / 2.0))
    assert beyond == pytest.approx(0.25, abs=4.0 * math.sqrt(0.25 * 0.75 / 100_000))  # (1 - 1/2)² of a triangle


@given(st.integers(400, 1000).map(lambda steps: steps * 0.05))
def test_interpolation_between_knots_loses_less_than_a_twenty_fifth(final: float) -> None:
    """Halfway between knots the variance of G is (1 + r)/2 of that at a knot, r = 0.873: u is 0.968 of it.

    Where the error is triangular, there is G(0) beside it, which is not interpolated: 0.984.
    """
    for shape, parts, lost in (("rectangular", 3.0, 0.04), ("triangular", 6.0, 0.02)):
        most = LIMIT / math.sqrt(parts)
        assert (1.0 - lost) * most < 1000.0 * volume(0.0, final, shape).u < most * (1.0 + 1e-9)


@pytest.mark.parametrize(("shape", "left"), [("rectangular", 0.0), ("triangular", 0.5)])
def test_correlation_of_two_titres_falls_with_the_distance_of_their_ends(shape: str, left: float) -> None:
    titre = volume(0.0, 20.0, shape)
    ends = [20.0, 20.5, 21.0, 22.5, 24.0, 25.0, 27.5, 30.0, 35.0]
    others = [volume(0.0, end, shape) for end in ends]
    correlations = [covariance_found(titre, other) / (1e6 * titre.u * other.u) for other in others]
    assert correlations[0] == pytest.approx(1.0, abs=1e-12)
    assert all(nearer > further for nearer, further in pairwise(correlations))
    # Triangular, what is left is the common zero, one of the two equal parts of each volume's variance.
    assert correlations[-1] == pytest.approx(left, abs=0.02)


@given(st.integers(1, 10).map(lambda steps: steps * 0.05), st.sampled_from(SHAPES))
def test_subtracting_a_blank_or_an_initial_reading_does_not_cancel_it(small: float, shape: str) -> None:
    """A net titre of 25 mL keeps nine tenths of the contribution, whether blank or start is what is subtracted."""
    titre = volume(0.0, 25.0, shape)
    net = combine(lambda v, b: v - b, titre, volume(0.0, small, shape))
    assert net.u >= 0.9 * titre.u
    assert volume(small, 25.0, shape).u >= 0.9 * titre.u
    assert 1e6 * net.u**2 == pytest.approx(covariance((small, 25.0), (small, 25.0), shape), rel=1e-9)
