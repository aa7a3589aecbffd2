"""Density of moist air."""

from __future__ import annotations

import numpy as np

from assay.kernels.ranges import Range, valid
from assay.kernels.value import Value

#: Where the equation CIPM-2007 is recommended, K and Pa: 15 °C to 27 °C, 600 hPa to 1100 hPa.
CIPM_TEMPERATURES: Range = (288.15, 300.15)
CIPM_PRESSURES: Range = (60_000.0, 110_000.0)
#: Where it may be used, with less certainty outside what is recommended: 10 °C to 40 °C.
WIDER_TEMPERATURES: Range = (283.15, 313.15)
#: Where the approximation keeps near it: 10 °C to 30 °C. At 40 °C in saturated air they differ by 0.3 %.
ROOM_TEMPERATURES: Range = (283.15, 303.15)
HUMIDITIES: Range = (0.0, 1.0)

_CELSIUS = 273.15
_GAS_CONSTANT = 8.314472  # J/(mol K), as the equation was published
_DRY_AIR = 28.96546  # g/mol, at a mole fraction of carbon dioxide of 0.0004
_WATER_LIGHTER = 0.3780  # 1 less the molar mass of water over that of dry air


@valid(temperature=WIDER_TEMPERATURES, pressure=CIPM_PRESSURES, relative_humidity=HUMIDITIES)
def air_density_from_cipm(
    temperature: Value, pressure: Value, relative_humidity: Value, air_density_error: Value
) -> Value:
    """Return the density of moist air from temperature, pressure and humidity, by the equation CIPM-2007.

    Parameters
    ----------
    temperature : float or array [K]
        Of the air, 283.15 K to 313.15 K; 288.15 K to 300.15 K is what is recommended.
    pressure : float or array [Pa]
        Of the air, 60 000 Pa to 110 000 Pa.
    relative_humidity : float or array [1]
        0 to 1.
    air_density_error : float or array [g/L]
        True density less that of the equation.

    Returns
    -------
    float or array [g/L]
        The density; the number is the same in kg/m³.

    References
    ----------
    [picard-2008] equation CIPM-2007 with its appendix A.1, at a mole fraction of carbon dioxide of 0.0004.

    Examples
    --------
    >>> float(air_density_from_cipm(293.15, 101325.0, 0.5, 0.0).round(5))
    1.19931

    """
    t = temperature - _CELSIUS
    saturation = np.exp(
        1.2378847e-5 * temperature**2 - 1.9121316e-2 * temperature + 33.93711047 - 6.3431645e3 / temperature
    )
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * t**2
    x = relative_humidity * enhancement * saturation / pressure  # mole fraction of water vapour
    ratio = pressure / temperature
    compressibility = (
        1.0
        - ratio
        * (
            1.58123e-6
            - 2.9331e-8 * t
            + 1.1043e-10 * t**2
            + (5.707e-6 - 2.051e-8 * t) * x
            + (1.9898e-4 - 2.376e-6 * t) * x**2
        )
        + ratio**2 * (1.83e-11 - 0.765e-8 * x**2)
    )
    # Pa g/J is g/m³: a thousandth of it is g/L.
    molar = _DRY_AIR * 1e-3 * (1.0 - _WATER_LIGHTER * x)
    return ratio * molar / (compressibility * _GAS_CONSTANT) + air_density_error


@valid(temperature=ROOM_TEMPERATURES, pressure=CIPM_PRESSURES, relative_humidity=HUMIDITIES)
def air_density_from_approximation(
    temperature: Value, pressure: Value, relative_humidity: Value, air_density_error: Value
) -> Value:
    """Return the density of moist air from temperature, pressure and humidity, by the approximation of OIML R 111.

    Parameters
    ----------
    temperature : float or array [K]
        Of the air, 283.15 K to 303.15 K.
    pressure : float or array [Pa]
        Of the air, 60 000 Pa to 110 000 Pa.
    relative_humidity : float or array [1]
        0 to 1.
    air_density_error : float or array [g/L]
        True density less that of the approximation.

    Returns
    -------
    float or array [g/L]
        The density; the number is the same in kg/m³.

    References
    ----------
    [oiml-r111-2004] equation E.3-1, from memory.

    Examples
    --------
    >>> float(air_density_from_approximation(293.15, 101325.0, 0.5, 0.0).round(5))
    1.19929

    """
    hectopascal, percent = pressure / 100.0, relative_humidity * 100.0
    t = temperature - _CELSIUS
    return (0.34848 * hectopascal - 0.009 * percent * np.exp(0.061 * t)) / temperature + air_density_error
