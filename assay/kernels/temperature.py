"""Volumes at another temperature than 20 °C."""

from __future__ import annotations

from assay.kernels.ranges import valid
from assay.kernels.value import Value
from assay.kernels.water import LIQUID_WATER, water_density_from_temperature_difference


@valid(temperature_difference=LIQUID_WATER)
def water_volume_ratio_from_temperature_difference(temperature_difference: Value) -> Value:
    """Return the volume that water has at 20 °C over that at another temperature: its density here over that at 20 °C.

    What the water at hand weighs more or less than that of the equation cancels.

    Parameters
    ----------
    temperature_difference : float or array [K]
        Its temperature less 20 °C, -20 K to 20 K.

    Returns
    -------
    float or array [1]
        The ratio, below 1 where it is warm.

    References
    ----------
    [tanaka-2001] equation 1, for both densities.

    Examples
    --------
    >>> round(water_volume_ratio_from_temperature_difference(5.0), 6)
    0.998838

    """
    warm = water_density_from_temperature_difference(temperature_difference, 0.0)
    return warm / water_density_from_temperature_difference(0.0, 0.0)


def volume_at_20_from_volume(
    volume: Value,
    ware_expansion: Value,
    water_volume_ratio: Value,
    excess_expansion: Value,
    temperature_difference: Value,
) -> Value:
    """Return the volume that a liquid has at 20 °C from what its ware indicates at another temperature.

    The ware grows with the temperature and the liquid grows more than glass: what was measured warm is less at 20 °C.
    Water grows the faster the warmer it is, so its density stands for it and not one coefficient; what a solution grows
    by more than water is nearly even between 10 °C and 30 °C.

    Parameters
    ----------
    volume : float or array [L]
        Volume as indicated by ware that is marked for 20 °C.
    ware_expansion : float or array [1/K]
        Cubic expansion coefficient of the ware, of its volume at 20 °C.
    water_volume_ratio : float or array [1]
        Volume of water at 20 °C over its volume at the temperature.
    excess_expansion : float or array [1/K]
        Mean cubic expansion of the liquid to 20 °C less that of water.
    temperature_difference : float or array [K]
        Temperature of liquid and ware less 20 °C.

    Returns
    -------
    float or array [L]
        The volume at 20 °C.

    References
    ----------
    common practice: what the ware gains is volume of the liquid that is not seen. That a solution keeps to water but
    for one coefficient is a choice of this library.

    Examples
    --------
    >>> round(volume_at_20_from_volume(1.0, 9.9e-6, 0.998838, 0.0, 5.0), 6)
    0.998887

    """
    in_ware = volume * (1.0 + ware_expansion * temperature_difference)
    return in_ware * water_volume_ratio * (1.0 - excess_expansion * temperature_difference)
