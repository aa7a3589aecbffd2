"""Density of solutions, and what it turns into what."""

from __future__ import annotations

from assay.kernels.ranges import NOT_NEGATIVE, POSITIVE, valid
from assay.kernels.value import Value


@valid(density=POSITIVE)
def amount_content_from_amount_concentration(amount_concentration: Value, density: Value) -> Value:
    """Return the amount in a gram of solution from that in a litre.

    Parameters
    ----------
    amount_concentration : float or array [mol/L]
        Amount in a litre.
    density : float or array [g/L]
        Density of the solution, above zero.

    Returns
    -------
    float or array [mol/g]
        Amount in a gram.

    References
    ----------
    common practice: per volume over density is per mass.

    Examples
    --------
    >>> round(amount_content_from_amount_concentration(2.0, 1160.0), 6)
    0.001724

    """
    return amount_concentration / density


@valid(density=POSITIVE)
def amount_concentration_from_amount_content(amount_content: Value, density: Value) -> Value:
    """Return the amount in a litre of solution from that in a gram.

    Parameters
    ----------
    amount_content : float or array [mol/g]
        Amount in a gram.
    density : float or array [g/L]
        Density of the solution, above zero.

    Returns
    -------
    float or array [mol/L]
        Amount in a litre.

    References
    ----------
    common practice: per mass times density is per volume.

    Examples
    --------
    >>> amount_concentration_from_amount_content(0.002, 1100.0)
    2.2

    """
    return amount_content * density


@valid(volume=POSITIVE)
def density_from_weighing(mass: Value, volume: Value) -> Value:
    """Return the density of a liquid from a weighed volume, not corrected for the buoyancy of air.

    Parameters
    ----------
    mass : float or array [g]
        Mass of the liquid, as weighed in air.
    volume : float or array [L]
        Its volume, above zero.

    Returns
    -------
    float or array [g/L]
        The density; about 0.1 % low for want of the buoyancy correction.

    References
    ----------
    common practice: mass over volume.

    Examples
    --------
    >>> round(density_from_weighing(11.7, 0.010), 1)
    1170.0

    """
    return mass / volume


def filled_concentration_from_share(
    mass_concentration: Value, stated_concentration: Value, filled_share: Value
) -> Value:
    """Return the strength when filled, somewhere between today's and the label's.

    Parameters
    ----------
    mass_concentration : float or array [g/L]
        Strength today, as available chlorine.
    stated_concentration : float or array [g/L]
        Strength by the label, as available chlorine.
    filled_share : float or array [1]
        0 for today's strength, 1 for the label's.

    Returns
    -------
    float or array [g/L]
        The strength when filled.

    References
    ----------
    common practice: a container held at least what it holds today, and hardly more than its label said.

    Examples
    --------
    >>> filled_concentration_from_share(60.0, 150.0, 0.5)
    105.0

    """
    return mass_concentration + filled_share * (stated_concentration - mass_concentration)


@valid(molar_mass=(1.0, 1e6))
def lost_concentration_from_filled(filled_concentration: Value, mass_concentration: Value, molar_mass: Value) -> Value:
    """Return the hypochlorite lost since filling.

    Parameters
    ----------
    filled_concentration : float or array [g/L]
        Strength when filled, as available chlorine.
    mass_concentration : float or array [g/L]
        Strength today, as available chlorine.
    molar_mass : float or array [g/mol]
        Molar mass of chlorine, Cl2.

    Returns
    -------
    float or array [mol/L]
        The loss.

    References
    ----------
    common practice: difference of the strengths.

    Examples
    --------
    >>> round(lost_concentration_from_filled(150.0, 60.0, 70.90), 3)
    1.269

    """
    return (filled_concentration - mass_concentration) / molar_mass


def hypochlorite_density_from_filled(
    density_of_water: Value,
    slope: Value,
    filled_concentration: Value,
    ageing_slope: Value,
    lost_concentration: Value,
    model_factor: Value,
) -> Value:
    """Return the density of a hypochlorite liquor at 20 °C, fresh or aged.

    Ageing turns hypochlorite into chloride and chlorate, which stay: an aged liquor keeps nearly the density it was
    filled with, and a table at today's strength gives too little.

    Parameters
    ----------
    density_of_water : float or array [g/L]
        Density of water at 20 °C.
    slope : float or array [g/g]
        Rise of the density of fresh liquor with its available chlorine.
    filled_concentration : float or array [g/L]
        Available chlorine when filled.
    ageing_slope : float or array [g/mol]
        Change of the density for each mole lost in a litre.
    lost_concentration : float or array [mol/L]
        Hypochlorite lost since filling.
    model_factor : float or array [1]
        True density over that of the model.

    Returns
    -------
    float or array [g/L]
        The density.

    References
    ----------
    [hypochlorite-density-bulletin] specific gravity against available chlorine, fitted; ageing from memory.

    Examples
    --------
    >>> round(hypochlorite_density_from_filled(998.2, 1.323, 150.0, -5.0, 1.27, 1.0), 0)
    1190.0

    """
    return model_factor * (density_of_water + slope * filled_concentration) + ageing_slope * lost_concentration


@valid(density=POSITIVE)
def mass_from_volume(volume: Value, density: Value) -> Value:
    """Return the mass of a volume of liquid.

    Parameters
    ----------
    volume : float or array [L]
        The volume.
    density : float or array [g/L]
        Its density, above zero.

    Returns
    -------
    float or array [g]
        The mass.

    References
    ----------
    common practice: volume times density.

    Examples
    --------
    >>> mass_from_volume(0.025, 1000.0)
    25.0

    """
    return volume * density


def density_at_20_from_density(density: Value, thermal_slope: Value, temperature_difference: Value) -> Value:
    """Return the density that a liquid has at 20 °C from that at another temperature.

    Parameters
    ----------
    density : float or array [g/L]
        Density at the other temperature.
    thermal_slope : float or array [g/(L K)]
        Change of the density for each kelvin, below zero.
    temperature_difference : float or array [K]
        The other temperature less 20 °C.

    Returns
    -------
    float or array [g/L]
        The density at 20 °C.

    References
    ----------
    common practice: linear over a few tens of kelvin.

    Examples
    --------
    >>> density_at_20_from_density(1160.0, -0.5, 5.0)
    1162.5

    """
    return density - thermal_slope * temperature_difference


@valid(density=POSITIVE, density_half_width=NOT_NEGATIVE)
def density_from_table_and_share(density: Value, density_half_width: Value, relative_value: Value) -> Value:
    """Return the density of a solution from that of a table that is off by a share of its half-width.

    Parameters
    ----------
    density : float or array [g/L]
        Density by the table, above zero.
    density_half_width : float or array [g/L]
        Half-width of the table there.
    relative_value : float or array [1]
        Deviation of the table over its half-width: the same at every strength of one solute.

    Returns
    -------
    float or array [g/L]
        The density.

    References
    ----------
    common practice: the rows of one table err alike.

    Examples
    --------
    >>> density_from_table_and_share(1150.0, 2.0, -0.5)
    1149.0

    """
    return density + relative_value * density_half_width
