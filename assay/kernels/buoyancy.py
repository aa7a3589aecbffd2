"""Buoyancy of what is weighed, and volumes found by weighing."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


@valid(weights_density=POSITIVE, density=POSITIVE)
def buoyancy_factor_from_densities(air_density: Value, weights_density: Value, density: Value) -> Value:
    """Return mass over reading of a balance that was adjusted with weights in the same air.

    Parameters
    ----------
    air_density : float or array [g/L]
        Density of the air.
    weights_density : float or array [g/L]
        Density of the weights by which the balance was adjusted, above zero; 8000 g/L by convention.
    density : float or array [g/L]
        Density of what is weighed, above that of air.

    Returns
    -------
    float or array [1]
        The factor.

    References
    ----------
    [harvey-modern-2000] Example 5.1 in its exact form; [oiml-r111-2004] for the convention of 8000 kg/m³, from memory.

    Examples
    --------
    >>> round(buoyancy_factor_from_densities(1.2, 8400.0, 997.05), 6)  # water, brass weights
    1.001062

    """
    return (1.0 - air_density / weights_density) / (1.0 - air_density / density)


def vacuum_mass_from_mass(mass: Value, buoyancy_factor: Value) -> Value:
    """Return the mass itself of what was weighed in air.

    Parameters
    ----------
    mass : float or array [g]
        Mass as weighed in air.
    buoyancy_factor : float or array [1]
        Mass over reading.

    Returns
    -------
    float or array [g]
        The mass.

    References
    ----------
    [harvey-modern-2000] Example 5.1.

    Examples
    --------
    >>> round(vacuum_mass_from_mass(9.9736, 1.001062), 4)
    9.9842

    """
    return mass * buoyancy_factor


@valid(density=POSITIVE)
def z_factor_from_buoyancy(buoyancy_factor: Value, density: Value) -> Value:
    """Return the volume of a liquid for a gram of its reading, at its own temperature: no vessel has part in it.

    Parameters
    ----------
    buoyancy_factor : float or array [1]
        Mass over reading.
    density : float or array [g/L]
        Density of the liquid, above zero.

    Returns
    -------
    float or array [L/g]
        The factor; a thousand times it is in µL/mg.

    References
    ----------
    [iso-8655-6-2002] factor Z, from a reprint of its table.

    Examples
    --------
    >>> round(1000.0 * z_factor_from_buoyancy(1.0010525, 998.2067), 6)  # water at 20 °C
    1.002851

    """
    return buoyancy_factor / density


def volume_at_20_from_weighing(
    mass: Value, evaporated_mass: Value, z_factor: Value, ware_expansion: Value, temperature_difference: Value
) -> Value:
    """Return the volume of ware at 20 °C from the water that it held or delivered.

    Parameters
    ----------
    mass : float or array [g]
        The water, as weighed in air.
    evaporated_mass : float or array [g]
        Water that evaporated before it was weighed.
    z_factor : float or array [L/g]
        Volume of the water for a gram of reading.
    ware_expansion : float or array [1/K]
        Cubic expansion coefficient of the ware.
    temperature_difference : float or array [K]
        Temperature of water and ware less 20 °C.

    Returns
    -------
    float or array [L]
        The volume at 20 °C.

    References
    ----------
    [iso-4787-2010] calculation of the volume at the reference temperature, from memory.

    Examples
    --------
    >>> round(volume_at_20_from_weighing(9.9736, 0.0, 1.0040e-3, 9.9e-6, 5.0), 7)
    0.010013

    """
    return (mass + evaporated_mass) * z_factor * (1.0 - ware_expansion * temperature_difference)
