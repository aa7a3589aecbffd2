"""Density of water and of moist air against other codes, over the whole range, within what is published of both.

Water: the equation of Tanaka et al. has an expanded uncertainty of 0.0009 kg/m³ (from memory), IAPWS-95 of 1e-6 in the
liquid at atmospheric pressure (IAPWS R6-95, from memory): 0.0019 kg/m³ together. Air: CIPM-2007 has a relative standard
uncertainty of 22e-6 (Picard et al. 2008, from memory), 44e-6 expanded; the referee rests on another equation of state,
whose own uncertainty is larger, and no more than 44e-6 is allowed.
"""

from __future__ import annotations

import numpy as np
import pytest

from assay.kernels.air import air_density_from_cipm
from assay.kernels.water import water_density_from_temperature_difference

_REASON = "the referees are installed with the extra 'referees'"
iapws = pytest.importorskip("iapws", reason=_REASON)
humid_air = pytest.importorskip("CoolProp.HumidAirProp", reason=_REASON)

_ATMOSPHERE = 0.101325  # MPa
_WATER_ALLOWED, _AIR_ALLOWED = 0.0019, 44e-6


@pytest.mark.parametrize("celsius", np.linspace(0.0, 40.0, 41).tolist())
def test_water(celsius: float) -> None:
    theirs = iapws.IAPWS95(T=273.15 + max(celsius, 0.01), P=_ATMOSPHERE).rho
    ours = water_density_from_temperature_difference(max(celsius, 0.01) - 20.0, 0.0)
    assert ours == pytest.approx(theirs, abs=_WATER_ALLOWED)


@pytest.mark.parametrize("humidity", [0.0, 0.2, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("pascal", [60_000.0, 80_000.0, 101_325.0, 110_000.0])
@pytest.mark.parametrize("celsius", [15.0, 18.0, 20.0, 22.0, 25.0, 27.0])
def test_moist_air(celsius: float, pascal: float, humidity: float) -> None:
    kelvin = 273.15 + celsius
    theirs = 1.0 / humid_air.HAPropsSI("Vha", "T", kelvin, "P", pascal, "R", humidity)
    assert air_density_from_cipm(kelvin, pascal, humidity, 0.0) == pytest.approx(theirs, rel=_AIR_ALLOWED)
