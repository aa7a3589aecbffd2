"""Density of water."""

from __future__ import annotations

from assay.kernels.ranges import Range, valid
from assay.kernels.value import Value

#: Temperatures for which the equation was fitted, less 20 °C, K: 0 °C to 40 °C.
LIQUID_WATER: Range = (-20.0, 20.0)

# Tanaka et al. 2001, for pure water of ocean isotopes (VSMOW) without dissolved air at 101 325 Pa.
_A1, _A2, _A3, _A4, _A5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950


@valid(temperature_difference=LIQUID_WATER)
def water_density_from_temperature_difference(temperature_difference: Value, water_density_error: Value) -> Value:
    """Return the density of water.

    Parameters
    ----------
    temperature_difference : float or array [K]
        Its temperature less 20 °C, -20 K to 20 K.
    water_density_error : float or array [g/L]
        Density of the water at hand less that of the equation: isotopes, dissolved air, pressure, impurities.

    Returns
    -------
    float or array [g/L]
        The density; the number is the same in kg/m³.

    References
    ----------
    [tanaka-2001] equation 1, for water without air at 101 325 Pa.

    Examples
    --------
    >>> round(water_density_from_temperature_difference(0.0, 0.0), 4)
    998.2067

    """
    t = temperature_difference + 20.0
    return _A5 * (1.0 - (t + _A1) ** 2 * (t + _A2) / (_A3 * (t + _A4))) + water_density_error
