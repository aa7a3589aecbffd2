"""The density of air: which equation, its value and its uncertainty."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from assay import Air, AssayError, DomainError, UnitError
from assay.bench.air import CIPM, CONVENTIONAL, OIML
from assay.kernels.air import (
    CIPM_PRESSURES,
    HUMIDITIES,
    ROOM_TEMPERATURES,
    air_density_from_approximation,
    air_density_from_cipm,
)


@pytest.mark.parametrize(
    ("air", "equation"),
    [
        (Air("20 °C", pressure="1013 hPa", humidity="50 %"), CIPM),
        (Air("15 °C", pressure="600 hPa", humidity="0 %"), CIPM),
        (Air("14.9 °C", pressure="1013 hPa", humidity="50 %"), OIML),
        (Air("27.5 °C", pressure="1013 hPa", humidity="50 %"), OIML),
        (Air("20 °C", pressure="1013 hPa"), OIML),
        (Air(), CONVENTIONAL),
    ],
)
def test_the_equation_follows_what_was_measured(air: Air, equation: str) -> None:
    assert air.equation == equation
    assert equation in air.density().label


def test_u_is_that_of_the_inputs_by_the_ideal_gas() -> None:
    """Density goes as p/T; water vapour is light, 23.39 hPa at saturation and 6.2 % more for each kelvin."""
    air = Air("20 °C", pressure="1013 hPa", humidity="50 %")
    density = air.density()
    lighter = 0.378 * 23.39 / 1013.0
    by_hand = math.hypot(1.0 / 293.15 + 0.062 * 0.5 * lighter, 2.0 / 1013.0, 0.1 * lighter) / math.sqrt(3.0)
    assert density.u / density.value == pytest.approx(by_hand, rel=0.02)


def test_where_nothing_was_measured_it_is_conventional_within_a_tenth() -> None:
    density = Air().density()
    assert density.value == 1.2
    assert density.u == pytest.approx(0.12 / math.sqrt(3.0))


def test_one_day_is_one_influence_and_two_are_two() -> None:
    first, again = (Air("20 °C", pressure="1013 hPa", humidity="50 %", day="Monday").density() for _ in range(2))
    other = Air("20 °C", pressure="1013 hPa", humidity="50 %", day="Tuesday").density()
    assert first.influences.keys() == again.influences.keys()
    shared = first.influences.keys() & other.influences.keys()
    assert shared == {"table/air density/CIPM-2007"}


@pytest.mark.parametrize(
    ("stated", "error", "says"),
    [
        ({"temperature": "20 °C"}, DomainError, ["pressure", "both, or neither"]),
        ({"pressure": "1013 hPa"}, DomainError, ["temperature", "both, or neither"]),
        ({"humidity": "45 %"}, DomainError, ["45 %", "temperature and pressure"]),
        ({"temperature": "5 °C", "pressure": "1013 hPa"}, DomainError, ["5 °C", "10 °C to 30 °C"]),
        ({"temperature": "20 °C", "pressure": "101 hPa"}, DomainError, ["101 hPa", "600 hPa to 1100 hPa"]),
        ({"temperature": "20 °C", "pressure": "1013"}, UnitError, ["1013", "hPa"]),
        ({"temperature": "20 °C", "pressure": "1013 hPa", "humidity": "0.45"}, UnitError, ["0.45", "45 %"]),
        ({"temperature": "20 °C", "pressure": "1013 hPa", "humidity": "145 %"}, DomainError, ["145 %", "100 %"]),
        ({"temperature": "20 °C", "pressure": "1013 hPa", "humidity": 45}, UnitError, ["45", "per cent"]),
        ({"humidity_half_width": "wide"}, AssayError, ["humidity_half_width", "wide"]),
        ({"temperature_half_width": "-1 K"}, DomainError, ["temperature_half_width", "-1 K", "not negative"]),
        ({"pressure_half_width": "2000 hPa"}, DomainError, ["2000 hPa", "0 hPa to 250 hPa"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    stated: dict[str, Any], error: type[Exception], says: list[str]
) -> None:
    with pytest.raises(error) as refused:
        Air(**stated)
    for word in says:
        assert word in str(refused.value)


def test_the_approximation_is_as_near_as_its_half_width_says() -> None:
    """Over the whole range in which it is used; the half-width of air.py is this figure."""
    t = np.linspace(*ROOM_TEMPERATURES, 41)[:, None, None]
    p = np.linspace(*CIPM_PRESSURES, 41)[None, :, None]
    h = np.linspace(*HUMIDITIES, 21)[None, None, :]
    apart = np.abs(air_density_from_approximation(t, p, h, 0.0) / air_density_from_cipm(t, p, h, 0.0) - 1.0)
    assert 3.0e-4 < apart.max() < 3.2e-4


@pytest.mark.parametrize(
    ("humidity", "middle", "half"), [("95 %", 0.925, 0.075), ("4 %", 0.07, 0.07), ("50 %", 0.5, 0.1)]
)
def test_no_humidity_lies_beyond_its_range(humidity: str, middle: float, half: float) -> None:
    """What ±10 % adds beyond 0 % and 100 % is cut off; then no draw leaves the range of the equation."""
    density = Air("20 °C", pressure="1000 hPa", humidity=humidity, day="damp").density()
    stated = density.influences["air/damp/relative_humidity"]
    assert stated.value == pytest.approx(middle)
    assert stated.u == pytest.approx(half / math.sqrt(3.0))
    assert not density.monte_carlo(trials=20_000).flags
