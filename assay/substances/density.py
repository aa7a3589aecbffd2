"""Density of a reagent: measured, or assumed from a sourced table and shown as assumed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from assay.data import Row, table
from assay.errors import DataError, DomainError
from assay.kernels.density import (
    density_from_weighing,
    filled_concentration_from_share,
    hypochlorite_density_from_filled,
    lost_concentration_from_filled,
)
from assay.kernels.replicates import sum_from_values
from assay.kernels.strength import mass_concentration_from_amount_concentration
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate, evaluate
from assay.metrology.influence import Influence, fresh_id, path_part
from assay.metrology.shapes import Array
from assay.metrology.tape import primitive
from assay.substances.molar_mass import molar_mass
from assay.units import Written, read

if TYPE_CHECKING:
    from assay.substances.species import Species

_G_PER_ML = 1000.0  # the tables are in g/mL, the library in g/L
_G_PER_L = "g/L available chlorine"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Density:
    """A density and how it is known.

    Parameters
    ----------
    estimate : Estimate [g/L]
        The density.
    how : str
        ``"measured …"`` or ``"assumed …"``, with the temperature.
    assumed : bool
        Whether it was assumed from a table.

    """

    estimate: Estimate
    how: str
    assumed: bool = False


def measured_density(value: Written, *, half_width: Written, temperature: Written, name: str | None = None) -> Density:
    """Return a density read from a hydrometer, a density meter or a certificate.

    Parameters
    ----------
    value : str or quantity
        Such as ``"1.160 g/mL"``.
    half_width : str or quantity
        Half-width of the reading, taken as rectangular.
    temperature : str or quantity
        Temperature at which it holds, such as ``"20 °C"``.
    name : str, optional
        Name of the reading; without it, it cannot be recognised again.

    Returns
    -------
    Density
        The density, marked as measured.

    Raises
    ------
    UnitError
        If a unit is missing or wrong.
    DomainError
        If the density is not above zero.

    Examples
    --------
    >>> measured_density("1.160 g/mL", half_width="0.005 g/mL", temperature="20 °C").estimate.value
    1160.0

    """
    grams = read(value, "density", argument="value")
    wide = read(half_width, "density", argument="half_width")
    read(temperature, "temperature", argument="temperature")
    if grams <= 0.0:
        raise DomainError("a density is above zero", argument="value", given=str(value))
    id_ = fresh_id("density") if name is None else f"density/{path_part(name, argument='name')}"
    influence = Influence.within(
        id_, label=f"density{'' if name is None else f' of {name}'}", value=grams, half_width=wide,
        source=f"measured at {temperature}, ±{half_width}",
    )  # fmt: skip
    return Density(
        estimate=Estimate.from_influence(influence, name="density"), how=f"measured {value} at {temperature}"
    )


def density_by_weighing(mass: Estimate, volume: Estimate, *, temperature: Written) -> Density:
    """Return a density from a weighed volume.

    Parameters
    ----------
    mass : Estimate [g]
        What the volume weighs.
    volume : Estimate [L]
        The volume, such as that of a pipette.
    temperature : str or quantity
        Temperature of the liquid.

    Returns
    -------
    Density
        The density, marked as measured.

    """
    read(temperature, "temperature", argument="temperature")
    found = evaluate(density_from_weighing, name="density", label="density by weighing", mass=mass, volume=volume)
    return Density(estimate=found, how=f"measured by weighing at {temperature}")


def assumed_hypochlorite_density(strength: Estimate, *, filled: float | None, label: float | None) -> Density:
    """Return the density of hypochlorite from its strength when filled.

    Parameters
    ----------
    strength : Estimate [mol/L]
        Strength today.
    filled : float or None [g/L]
        Available chlorine when filled, if it is known.
    label : float or None [g/L]
        Available chlorine by the label: with today's strength, the interval in which the filling strength lies.

    Returns
    -------
    Density
        The density, marked as assumed.

    Raises
    ------
    DataError
        If neither is known.

    """
    chlorine = molar_mass("Cl2")
    today = evaluate(
        mass_concentration_from_amount_concentration, name="mass_concentration", label="available chlorine today",
        amount_concentration=strength, molar_mass=chlorine, entities=1.0,
    )  # fmt: skip
    at_filling, how = _filled(today, filled, label)
    lost = evaluate(
        lost_concentration_from_filled, name="lost_concentration", label="hypochlorite lost",
        filled_concentration=at_filling, mass_concentration=today, molar_mass=chlorine,
    )  # fmt: skip
    found = evaluate(
        hypochlorite_density_from_filled,
        name="density",
        label="assumed density",
        density_of_water=_G_PER_ML * _coefficient("density of water").value,
        slope=_G_PER_ML * _coefficient("slope in available chlorine").value,
        filled_concentration=at_filling,
        ageing_slope=_coefficient_estimate("ageing", "ageing_slope", _G_PER_ML),
        lost_concentration=lost,
        model_factor=_coefficient_estimate("factor", "model_factor", 1.0),
    )
    return Density(estimate=found, how=how, assumed=True)


def _filled(today: Estimate, filled: float | None, label: float | None) -> tuple[Estimate | float, str]:
    if filled is not None:
        return filled, f"assumed at 20 °C for a liquor filled at {filled:g} {_G_PER_L}"
    if label is None:
        raise DataError(
            "the density of an aged hypochlorite follows from its strength when filled, which is not known",
            argument="filled",
            remedy="Weigh the sample, measure the density, or state the label's strength or that when filled.",
        )
    share = Influence.within(
        "density/hypochlorite/strength when filled", label="strength when filled, from today's to the label's",
        value=0.5, half_width=0.5, source="not known: anywhere between today's strength and the label's",
    )  # fmt: skip
    between = evaluate(
        filled_concentration_from_share, name="filled_concentration", label="strength when filled",
        mass_concentration=today, stated_concentration=label,
        filled_share=Estimate.from_influence(share, name="filled_share"),
    )  # fmt: skip
    how = f"assumed at 20 °C for a liquor filled between today's strength and the label's {label:g} {_G_PER_L}"
    return between, how


def _coefficient(quantity: str) -> Row:
    return next(row for row in table("hypochlorite_density").rows if row.index["quantity"] == quantity)


def _coefficient_estimate(quantity: str, name: str, scale: float) -> Estimate:
    row = _coefficient(quantity)
    id_ = f"table/hypochlorite density/{quantity}"
    label = f"hypochlorite density, {quantity}"
    source = f"[{row.source}] {row.provenance}"
    if row.half_width is not None:
        influence = Influence.within(
            id_, label=label, value=scale * row.value, half_width=scale * row.half_width, shape=row.shape, source=source
        )
    else:
        influence = Influence(
            id=id_, label=label, value=scale * row.value, u=scale * float(row.u or 0.0), source=source
        )
    return Estimate.from_influence(influence, name=name)


@lru_cache(maxsize=16)
def _columns(formula: str) -> tuple[Array, Array, float, str]:
    """Return mass fraction (g/g), density (g/L), its widest half-width and the source, of a solute's table at 20 °C."""
    rows = [row for row in table("solution_density").rows if row.index["solute"] == formula]
    if not rows:
        raise DataError(
            "there is no table of densities of its solutions",
            argument="species",
            given=formula,
            remedy="Weigh the sample, or measure the density.",
        )
    rows.sort(key=lambda row: float(row.index["mass_percent"]))
    fractions = np.array([float(row.index["mass_percent"]) / 100.0 for row in rows])
    densities = np.array([_G_PER_ML * row.value for row in rows])
    widest = max(_G_PER_ML * float(row.half_width or 0.0) for row in rows)
    return fractions, densities, widest, f"[{rows[1].source}] densities at 20 °C"


def density_table(species: Species, strength: Estimate) -> Density:
    """Return the density of a solution of an acid or alkali from a sourced table at its strength.

    The rows of one solute are one influence with the widest half-width of the table: what they are off by, they share.

    Parameters
    ----------
    species : Species
        What is dissolved.
    strength : Estimate [mol/L] or [mol/g]
        Its strength.

    Returns
    -------
    Density
        The density at 20 °C, marked as assumed.

    Raises
    ------
    DataError
        If there is no table for it.
    DomainError
        If the strength lies beyond the table.

    """
    formula = species.entity
    fractions, densities, half_width, source = _columns(formula)
    mass = molar_mass(formula).value
    per_volume = strength.name == "amount_concentration"
    grid = fractions * densities / mass if per_volume else fractions / mass
    if not grid[0] <= strength.value <= grid[-1]:
        raise DomainError(
            "the strength lies beyond the table of densities",
            argument=strength.label,
            given=strength.value,
            expected=f"up to {grid[-1]:.4g} {strength.unit}",
        )
    looked_up = evaluate(_look_up(grid, densities), strength, name="density", label=f"density of {species.name}")
    influence = Influence.within(
        f"table/solution density/{formula}",
        label=f"table of densities of {species.name}",
        half_width=half_width,
        source=source,
    )
    off = Estimate.from_influence(influence, name="density")
    found = evaluate(sum_from_values, looked_up, off, name="density", label=f"assumed density of {species.name}")
    return Density(estimate=found, how="assumed at 20 °C from a table of densities of its solutions", assumed=True)


def _look_up(grid: Array, values: Array) -> Callable[..., Value]:
    slopes = np.diff(values) / np.diff(grid)

    def slope(x: Value) -> Value:
        place = np.clip(np.searchsorted(grid, x, side="right") - 1, 0, len(slopes) - 1)
        return slopes[place]

    return primitive(lambda x: np.interp(x, grid, values), lambda x: (slope(x),), name="density_from_table")


def fresh_hypochlorite_density(mass_fraction: float) -> float:
    """Return the density in g/L of a fresh hypochlorite with a mass fraction of available chlorine in g/g, at 20 °C.

    The model is linear in grams per litre, so that the density is that of water over 1 - slope × mass fraction.
    """
    water = _G_PER_ML * _coefficient("density of water").value
    slope = _G_PER_ML * _coefficient("slope in available chlorine").value
    return water / (1.0 - slope * mass_fraction)


def table_density_at(species: Species, mass_fraction: float) -> float:
    """Return the density in g/L of a solution with a mass fraction in g/g, by interpolation in the table at 20 °C."""
    fractions, densities, _, _ = _columns(species.entity)
    if not fractions[0] <= mass_fraction <= fractions[-1]:
        raise DomainError(
            "the mass fraction lies beyond the table of densities",
            argument=species.name,
            given=mass_fraction,
            expected=f"up to {100 * fractions[-1]:g} % w/w",
        )
    return float(np.interp(mass_fraction, fractions, densities))
