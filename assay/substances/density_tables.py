"""Densities from tables: that of a reagent at its strength, and the change of one with the temperature."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np

from assay.data import Row, table
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.kernels.density import (
    density_at_20_from_density,
    density_from_table_and_share,
    filled_concentration_from_share,
    hypochlorite_density_from_filled,
    lost_concentration_from_filled,
)
from assay.kernels.strength import mass_concentration_from_amount_concentration
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.shapes import Array
from assay.metrology.tape import primitive
from assay.substances.density import Density
from assay.substances.molar_mass import molar_mass
from assay.substances.species import HYPOCHLORITE, Species

#: Kelvin from 20 °C beyond which a density that cannot be brought there is flagged. A choice of this library: a
#: reagent's density changes by about 0.05 % per kelvin (common practice), so that 5 K are about 0.25 %.
_NEAR = 5.0
OFF_20 = "density-off-20-degrees"
_G_PER_ML = 1000.0  # the tables are in g/mL, the library in g/L
_G_PER_L = "g/L available chlorine"
_WEIGH = "Weigh the sample, or measure the density."


def density_at_20(density: Density, species: Species) -> Density:
    """Return the density of a reagent at 20 °C; as it is, and flagged if far from there, where no expansion is known.

    Parameters
    ----------
    density : Density
        The density, with the temperature at which it holds.
    species : Species
        Of what it is.

    Returns
    -------
    Density
        At 20 °C, if the tables have its change with the temperature.

    References
    ----------
    from memory: the temperature coefficient of `hypochlorite_density.csv`; the tables have none of another reagent.

    """
    if not density.difference:
        return density
    if species.kind == "hypochlorite":
        found = evaluate(
            density_at_20_from_density, name="density", label=density.estimate.label, density=density.estimate,
            thermal_slope=_coefficient_estimate("temperature coefficient", "thermal_slope", _G_PER_ML),
            temperature_difference=density.difference,
        )  # fmt: skip
        return replace(density, estimate=found, how=f"{density.how}, brought to 20 °C", difference=0.0)
    if abs(density.difference) <= _NEAR:
        return density
    message = (
        f"the density was {density.how}, {abs(density.difference):g} K from 20 °C, and how it changes with the "
        "temperature is not in the tables: it is off by about 0.05 % per kelvin. Measure it at 20 °C."
    )
    return density.flagged(Flag(code=OFF_20, message=message))


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
    DomainError
        If one of them is more than any liquor holds, or the liquor was filled with less than it holds today.

    """
    for argument, grams in (("filled", filled), ("label", label)):
        if grams is not None:
            _check_liquor(grams, argument)
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


def _check_liquor(grams: float, argument: str) -> None:
    if 0.0 < grams <= HYPOCHLORITE.ceiling:
        return
    raise DomainError(
        "no liquor is so strong",
        argument=argument,
        given=f"{grams:.4g} {_G_PER_L}",
        expected=f"above zero, up to {HYPOCHLORITE.ceiling:g} {_G_PER_L}",
        remedy=f"Check the basis: 150 {_G_PER_L} is {150.0 / molar_mass('Cl2').value:.4g} mol/L OCl-.",
    )


def _filled(today: Estimate, filled: float | None, label: float | None) -> tuple[Estimate | float, str]:
    if filled is not None:
        if filled < today.value - max(today.expanded(), 1e-9 * today.value):
            raise DomainError(
                "hypochlorite does not gain strength: it was filled with no less than it holds today",
                argument="filled",
                given=f"{filled:.4g} {_G_PER_L}",
                expected=f"{today.value:.4g} {_G_PER_L} or more",
                remedy="Check the basis of both, and whether today's strength is that of the undiluted sample.",
            )
        return filled, f"assumed at 20 °C for a liquor filled at {filled:g} {_G_PER_L}"
    if label is None:
        raise DataError(
            "the density of an aged hypochlorite follows from its strength when filled, which is not known",
            argument="filled",
            remedy="Weigh the sample, measure the density, or state the label's strength or that when filled.",
        )
    # Another drum has another past: what is not known of one is not what is not known of the other.
    which = hashlib.sha256(f"{today.value!r}|{label!r}|{sorted(today.influences)}".encode()).hexdigest()[:10]
    share = Influence.within(
        f"density/hypochlorite/{which}/strength when filled", label="strength when filled, from today's to the label's",
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
def _columns(formula: str) -> tuple[Array, Array, Array, str, float]:
    """Return a solute's table at 20 °C: mass fractions (g/g), densities (g/L), their half-widths and the source.

    The last is the mass fraction above which no uncertainty is stated; there the widest half-width stands for it.
    """
    rows = [row for row in table("solution_density").rows if row.index["solute"] == formula]
    if not rows:
        raise DataError(
            "there is no table of densities of its solutions",
            argument="species",
            given=formula,
            remedy=_WEIGH,
        )
    rows.sort(key=lambda row: float(row.index["mass_percent"]))
    fractions = np.array([float(row.index["mass_percent"]) / 100.0 for row in rows])
    densities = np.array([_G_PER_ML * row.value for row in rows])
    widest = max(float(row.half_width or 0.0) for row in rows)
    half_widths = np.array([_G_PER_ML * (widest if row.half_width is None else row.half_width) for row in rows])
    stated = max(float(row.index["mass_percent"]) / 100.0 for row in rows if not row.unstated)
    return fractions, densities, half_widths, f"[{rows[1].source}] densities at 20 °C", stated


def density_table(species: Species, strength: Estimate) -> Density:
    """Return the density of a solution of an acid or alkali from a sourced table at its strength.

    The rows of one solute are one influence: by which share of its half-width a row is off, all rows are. The
    half-width is that at the strength, between rows like the density itself.

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
    fractions, densities, half_widths, source, stated = _columns(formula)
    mass = molar_mass(formula).value
    per_volume = strength.name == "amount_concentration"
    grid = fractions * densities / mass if per_volume else fractions / mass
    if not grid[0] <= strength.value <= grid[-1]:
        raise DomainError(
            "the strength lies beyond the table of densities",
            argument=strength.label,
            given=strength.value,
            expected=f"up to {grid[-1]:.4g} {strength.unit}",
            remedy=_WEIGH,
        )
    looked_up = evaluate(
        _look_up(grid, densities, "density_from_table"), strength, name="density", label=f"density of {species.name}"
    )
    half_width = evaluate(
        _look_up(grid, half_widths, "half_width_from_table"),
        strength,
        name="density_half_width",
        label="half-width at this strength",
    )
    influence = Influence.within(
        f"table/solution density/{formula}",
        label=f"table of densities of {species.name}",
        half_width=1.0,
        source=f"{source}; in half-widths of the table",
    )
    share = Estimate.from_influence(influence, name="relative_value")
    label = f"assumed density of {species.name}"
    found = evaluate(
        density_from_table_and_share,
        name="density",
        label=label,
        density=looked_up,
        density_half_width=half_width,
        relative_value=share,
    )
    how = "assumed at 20 °C from a table of densities of its solutions"
    if float(np.interp(strength.value, grid, fractions)) > stated:
        how += ", which states no uncertainty at this strength (that of its weaker solutions is taken)"
    return Density(estimate=found, how=how, assumed=True)


def _look_up(grid: Array, values: Array, name: str) -> Callable[..., Value]:
    slopes = np.diff(values) / np.diff(grid)

    def slope(x: Value) -> Value:
        place = np.clip(np.searchsorted(grid, x, side="right") - 1, 0, len(slopes) - 1)
        return slopes[place]

    return primitive(lambda x: np.interp(x, grid, values), lambda x: (slope(x),), name=name)


def fresh_hypochlorite_density(mass_fraction: float) -> float:
    """Return the density in g/L of a fresh hypochlorite with a mass fraction of available chlorine in g/g, at 20 °C.

    The model is linear in grams per litre, so that the density is that of water over 1 - slope × mass fraction.

    Raises
    ------
    DomainError
        If no liquor holds so much: the model is one of liquors, not of solids.

    """
    water = _G_PER_ML * _coefficient("density of water").value
    slope = _G_PER_ML * _coefficient("slope in available chlorine").value
    most = HYPOCHLORITE.ceiling / (water + slope * HYPOCHLORITE.ceiling)
    if not mass_fraction <= most:
        raise DomainError(
            "no liquor holds so much available chlorine; of a solid, state the solution made of it",
            argument="mass_fraction",
            given=mass_fraction,
            expected=f"up to {100.0 * most:.3g} % w/w available chlorine",
            remedy=_WEIGH,
        )
    return water / (1.0 - slope * mass_fraction)


def table_density_at(species: Species, mass_fraction: float) -> float:
    """Return the density in g/L of a solution with a mass fraction in g/g, by interpolation in the table at 20 °C."""
    fractions, densities, *_ = _columns(species.entity)
    if not fractions[0] <= mass_fraction <= fractions[-1]:
        raise DomainError(
            "the mass fraction lies beyond the table of densities",
            argument=species.name,
            given=mass_fraction,
            expected=f"up to {100 * fractions[-1]:g} % w/w",
            remedy=_WEIGH,
        )
    return float(np.interp(mass_fraction, fractions, densities))
