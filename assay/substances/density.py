"""Density of a reagent: measured, or assumed from a sourced table and shown as assumed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from assay.errors import DomainError, Problems
from assay.flags import Flag
from assay.kernels.density import density_from_weighing
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.units import Written, read

#: Densities between which every reagent lies, g/L: the tables reach from 892 (ammonia) to 1836 (sulfuric acid).
LIGHTEST, DENSEST = 700.0, 2000.0
#: Temperatures between which a density is measured, K: reagents are handled as liquids from 0 °C to 50 °C, common
#: practice.
COLDEST, WARMEST = 273.15, 323.15
_AT = 293.15  # the tables, and strengths per volume, hold at 20 °C
_G_PER_ML = 1000.0  # the tables are in g/mL, the library in g/L
_USUAL = f"{LIGHTEST / _G_PER_ML:g} g/mL to {DENSEST / _G_PER_ML:g} g/mL"


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
    difference : float [K]
        Temperature at which it holds, less 20 °C.

    References
    ----------
    [crc-handbook] Concentrative properties of aqueous solutions (the tables); common practice for measuring.

    Examples
    --------
    >>> measured_density("1.160 g/mL", half_width="0.005 g/mL", temperature="20 °C").how
    'measured 1.160 g/mL at 20 °C'

    """

    estimate: Estimate
    how: str
    assumed: bool = False
    difference: float = 0.0

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about it; a strength that is computed with it takes them over."""
        return self.estimate.flags

    def flagged(self, *flags: Flag) -> Density:
        """Return the same density with further flags."""
        return replace(self, estimate=self.estimate.flagged(*flags))

    def accepting(self, code: str, *, because: str) -> Density:
        """Return the same density with a flag accepted by name, the reason recorded."""
        return replace(self, estimate=self.estimate.accepting(code, because=because))


def measured_density(value: Written, *, half_width: Written, temperature: Written, name: str | None = None) -> Density:
    """Return a density read from a hydrometer, a density meter or a certificate.

    Parameters
    ----------
    value : str or quantity
        Such as ``"1.160 g/mL"``.
    half_width : str or quantity
        Half-width of the reading, taken as rectangular.
    temperature : str or quantity
        Temperature at which it holds, such as ``"20 °C"``, from 0 °C to 50 °C.
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
        If no reagent has such a density, the half-width is negative or as wide as the density, or no reagent is handled
        at this temperature.

    References
    ----------
    common practice: a hydrometer or a density meter is read at a stated temperature.

    Examples
    --------
    >>> measured_density("1.160 g/mL", half_width="0.005 g/mL", temperature="20 °C").estimate.value
    1160.0

    """
    problems = Problems()
    grams = problems.attempt(_read_density, value)
    wide = problems.attempt(read, half_width, "density", argument="half_width")
    difference = problems.attempt(_read_difference, temperature)
    problems.raise_any()
    if not 0.0 <= wide < grams:
        raise DomainError(
            "a half-width is not negative and less than the density", argument="half_width", given=str(half_width)
        )
    id_ = fresh_id("density") if name is None else f"density/{path_part(name, argument='name')}"
    influence = Influence.within(
        id_, label=f"density{'' if name is None else f' of {name}'}", value=grams, half_width=wide,
        source=f"measured at {temperature}, ±{half_width}",
    )  # fmt: skip
    return Density(
        estimate=Estimate.from_influence(influence, name="density"),
        how=f"measured {value} at {temperature}",
        difference=difference,
    )


def _read_difference(temperature: Written) -> float:
    """Return a temperature less 20 °C, K."""
    kelvin = read(temperature, "temperature", argument="temperature")
    if not COLDEST <= kelvin <= WARMEST:
        raise DomainError(
            "no reagent is handled at this temperature",
            argument="temperature",
            given=str(temperature),
            expected="0 °C to 50 °C, at best 20 °C",
            remedy="Check the reading, or let the liquid come to the temperature of the room.",
        )
    return round(kelvin - _AT, 9)


def _read_density(value: Written) -> float:
    grams = read(value, "density", argument="value")
    if LIGHTEST <= grams <= DENSEST:
        return grams
    meant = next((g for g in (grams * _G_PER_ML, grams / _G_PER_ML) if LIGHTEST <= g <= DENSEST), None)
    raise DomainError(
        "no reagent has such a density",
        argument="value",
        given=str(value),
        expected=_USUAL,
        remedy="Check the reading." if meant is None else f"Did you mean '{meant / _G_PER_ML:.10g} g/mL'?",
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
        Temperature of the liquid, from 0 °C to 50 °C.

    Returns
    -------
    Density
        The density, marked as measured.

    Raises
    ------
    DomainError
        If no reagent has such a density, or none is handled at this temperature.

    References
    ----------
    common practice: a pipetted volume is weighed.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> mass = balance.by_difference("42.6031 g", "31.0031 g").mass("density, 16 November")
    >>> volume = assay.Pipette("P10", capacity="10 mL").volume()
    >>> density_by_weighing(mass, volume, temperature="20 °C").estimate
    <Estimate 'density by weighing': 1160.0 g/L, u = 2.7 g/L, dof = ∞>

    """
    difference = _read_difference(temperature)
    found = evaluate(density_from_weighing, name="density", label="density by weighing", mass=mass, volume=volume)
    if not LIGHTEST <= found.value <= DENSEST:
        raise DomainError(
            f"no reagent has such a density, {found.value / _G_PER_ML:.4g} g/mL",
            argument="mass",
            given=f"{mass.value:.6g} g in {_G_PER_ML * volume.value:.6g} mL",
            expected=_USUAL,
            remedy="Was the mass of the vessel left in, or another pipette used?",
        )
    return Density(estimate=found, how=f"measured by weighing at {temperature}", difference=difference)
