"""The error of a burette as a function of the delivered volume: the stated model written out, and its laws.

The model: the deviation G of the scale has rectangular margins of half the class limit; the normal scores behind it
have the correlation exp(-d²/2L²) at a distance d, L a tenth of the capacity; between knots a twentieth of the capacity
apart it is interpolated. Two rectangular deviates whose normal scores have correlation r have the correlation (6/pi)
asin(r/2).
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
COVARIANCE = (LIMIT / 2.0) ** 2 / 3.0 * (6.0 / math.pi) * np.arcsin(np.exp(-(DISTANCE**2) / 2.0) / 2.0)

readings = st.integers(0, 1000).map(lambda steps: steps * 0.05)  # every half division of the scale, mL


def burette(name: str = "B1") -> Burette:
    return Burette(name, capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def volume(initial: float, final: float) -> Estimate:
    return burette().titre(f"{initial:.3f} mL", f"{final:.3f} mL").volume()


def at(reading: float) -> np.ndarray:
    """Return the share of each knot in the deviation at a reading, mL."""
    return np.maximum(1.0 - np.abs(KNOTS - reading) / (CAPACITY / 20.0), 0.0)


def covariance(first: tuple[float, float], second: tuple[float, float]) -> float:
    """Return the covariance of two delivered volumes, mL²."""
    return float((at(first[1]) - at(first[0])) @ COVARIANCE @ (at(second[1]) - at(second[0])))


def covariance_found(a: Estimate, b: Estimate) -> float:
    """Return the covariance that the library gives two results, mL²."""
    return 1e6 * (combine(lambda x, y: x + y, a, b).u ** 2 - combine(lambda x, y: x - y, a, b).u ** 2) / 4.0


@given(readings)
def test_zero_for_a_volume_of_zero(reading: float) -> None:
    delivered = volume(reading, reading)
    assert delivered.value == 0.0
    assert delivered.u == pytest.approx(0.0, abs=1e-20)


@given(readings, readings, readings, readings)
def test_covariance_of_any_two_volumes_is_that_of_the_model(a: float, b: float, c: float, d: float) -> None:
    first, second = tuple(sorted((a, b))), tuple(sorted((c, d)))
    found = covariance_found(volume(*first), volume(*second))
    assert found == pytest.approx(covariance(first, second), rel=1e-9, abs=1e-15)
    assert 1e3 * volume(*first).u == pytest.approx(math.sqrt(covariance(first, first)), rel=1e-9, abs=1e-9)


@given(readings, readings, readings)
def test_volumes_one_after_another_add_up(a: float, b: float, c: float) -> None:
    low, middle, high = sorted((a, b, c))
    difference = combine(lambda x, y, z: x + y - z, volume(low, middle), volume(middle, high), volume(low, high))
    assert difference.value == pytest.approx(0.0, abs=1e-15)
    assert difference.u == pytest.approx(0.0, abs=1e-15)


def test_every_draw_keeps_every_pair_of_readings_within_the_class_limit() -> None:
    places = [0.0, 0.05, 0.4, 1.25, 2.5, 4.9, 5.0, 8.35, 12.5, 17.7, 24.35, 25.0, 31.2, 37.5, 42.05, 47.5, 49.95, 50.0]
    drawn, _ = sampled([burette().scale_error(place / 1000.0) for place in places], trials=50_000)
    deviations = 1000.0 * np.array(drawn)
    spread = deviations.max(axis=0) - deviations.min(axis=0)  # the largest error of any pair, trial by trial
    assert spread.max() <= LIMIT * (1.0 + 1e-12)
    assert spread.max() > 0.99 * LIMIT  # the limit is used, not merely kept
    assert np.abs(deviations).max() <= LIMIT / 2.0 * (1.0 + 1e-12)


@pytest.mark.parametrize("ends", [(0.0, 25.0), (0.0, 2.5), (0.0, 50.0), (1.2, 24.35), (30.0, 37.5)])
def test_drawn_errors_have_the_variance_of_the_linear_result(ends: tuple[float, float]) -> None:
    trials = 200_000
    (drawn,), _ = sampled([volume(*ends)], trials=trials)
    errors = 1000.0 * (drawn - drawn.mean())
    variance = float(np.mean(errors**2))
    standard_error = math.sqrt((float(np.mean(errors**4)) - variance**2) / trials)
    assert variance == pytest.approx(covariance(ends, ends), abs=4.0 * standard_error)


@pytest.mark.parametrize("final", [20.0, 25.0, 40.0, 50.0])
def test_well_above_the_correlation_length_it_is_triangular(final: float) -> None:
    """Two deviations that know nothing of each other, rectangular ±a/2 each: triangular ±a, u = a/√6."""
    assert 1000.0 * volume(0.0, final).u == pytest.approx(LIMIT / math.sqrt(6.0), rel=2e-4)
    (drawn,), _ = sampled([volume(0.0, final)], trials=100_000)
    beyond = float(np.mean(np.abs(1000.0 * drawn - final) > LIMIT / 2.0))
    assert beyond == pytest.approx(0.25, abs=4.0 * math.sqrt(0.25 * 0.75 / 100_000))  # (1 - 1/2)² of a triangle


@given(st.integers(400, 1000).map(lambda steps: steps * 0.05))
def test_interpolation_between_knots_loses_less_than_a_fiftieth(final: float) -> None:
    """Halfway between knots the variance of G is (1 + r)/2 of that at a knot, r = 0.873: with G(0), 0.984 of u."""
    assert 0.98 * LIMIT / math.sqrt(6.0) < 1000.0 * volume(0.0, final).u < LIMIT / math.sqrt(6.0) * (1.0 + 1e-9)


def test_correlation_of_two_titres_falls_with_the_distance_of_their_ends() -> None:
    titre = volume(0.0, 20.0)
    ends = [20.0, 20.5, 21.0, 22.5, 24.0, 25.0, 27.5, 30.0, 35.0]
    others = [volume(0.0, end) for end in ends]
    correlations = [covariance_found(titre, other) / (1e6 * titre.u * other.u) for other in others]
    assert correlations[0] == pytest.approx(1.0, abs=1e-12)
    assert all(nearer > further for nearer, further in pairwise(correlations))
    # What is left is the common zero, one of the two equal parts of each volume's variance.
    assert correlations[-1] == pytest.approx(0.5, abs=0.01)


@given(st.integers(1, 10).map(lambda steps: steps * 0.05))
def test_subtracting_a_blank_or_an_initial_reading_does_not_cancel_it(small: float) -> None:
    """A net titre of 25 mL keeps nine tenths of the contribution, whether blank or start is what is subtracted."""
    titre = volume(0.0, 25.0)
    net = combine(lambda v, b: v - b, titre, volume(0.0, small))
    assert net.u >= 0.9 * titre.u
    assert volume(small, 25.0).u >= 0.9 * titre.u
    assert 1e6 * net.u**2 == pytest.approx(covariance((small, 25.0), (small, 25.0)), rel=1e-9)
