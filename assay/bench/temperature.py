"""Temperature of the liquids at the bench: one influence that all of them share on one day."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np

from assay.data import table
from assay.errors import DataError, DomainError, Problems, nearest
from assay.kernels.temperature import volume_at_20_from_volume, water_volume_ratio_from_temperature_difference
from assay.kernels.value import Value
from assay.metrology.batch import evaluate_like
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.units import Written, read

#: What ware is made of, by the name that is written on a sheet, and by that in the table.
MATERIALS = {
    "borosilicate": "borosilicate glass 3.3",
    "soda-lime": "soda-lime glass",
    "polypropylene": "polypropylene",
    "polymethylpentene": "polymethylpentene",
}
#: Temperatures between which the coefficients hold, K: the ranges of the table were chosen for 10 °C to 30 °C.
COLDEST, WARMEST = 283.15, 303.15
#: Widest half-width, K: half of that range. What is drawn then lies from 0 °C to 40 °C, as the equation for water does.
WIDEST = (WARMEST - COLDEST) / 2.0
#: Row of the table that stands for all dilute solutions.
LIQUID = "dilute solutions"
_Measured = TypeVar("_Measured", Estimate, EstimateBatch)
#: Rows that stand for solutions, and up to how many equivalents in a litre: the stronger, the more they expand.
_UP_TO = (
    (0.25, LIQUID),
    (1.0, "solutions of 0.25 to 1 equivalent per litre"),
    (5.0, "solutions of 1 to 5 equivalents per litre"),
)
_MOST = tuple(most for most, _ in _UP_TO)
LIQUIDS = (*(name for _, name in _UP_TO), "solutions above 5 equivalents per litre")
#: Kind of row of the table that says what a solution expands by more than water.
_BEYOND = "liquid beyond water"
_MARKED = 293.15  # volumetric ware is marked for 20 °C: ISO 4787, common practice


def material_of(name: str) -> str:
    """Return a material of volumetric ware, or raise `DataError` if it is not in the table."""
    if str(name) not in MATERIALS:
        raise DataError(
            "unknown material of volumetric ware", argument="material", given=name, remedy=nearest(str(name), MATERIALS)
        )
    return name


@dataclass(frozen=True, slots=True)
class Temperature:
    """Temperature of the liquids handled together: one influence for all of them, another for another day.

    Volumes are then stated at 20 °C. Most of the correction cancels where titrant, sample and glass are equally warm;
    what is left is counted because the influence is shared. A liquid expands as water does, faster where it is warmer,
    and by what its strength, in equivalents per litre, adds: little in most titrants and diluted samples, more in a
    sample that was pipetted undiluted.

    Parameters
    ----------
    liquid : str or quantity
        Temperature of the liquids, such as ``"23 °C"``, from 10 °C to 30 °C.
    half_width : str or quantity
        Half-width within which it is known, taken as rectangular, such as ``"2 K"``; at most 10 K.
    day : str, optional
        Name of the day or of the room's record; without it, it cannot be recognised again.

    Raises
    ------
    DomainError
        If the temperature lies outside the range of the coefficients, or the half-width is negative or above 10 K.
    UnitError
        If a temperature has no unit.

    References
    ----------
    [eurachem-cg4] Example A1: the temperature as a rectangular range. [tanaka-2001] density of water.

    Examples
    --------
    >>> Temperature("23 °C", half_width="2 K", day="2026-11-16").difference().value
    3.0

    """

    liquid: Written
    half_width: Written = field(kw_only=True)
    day: str | None = field(default=None, kw_only=True)
    _difference: Estimate = field(init=False, repr=False, compare=False)
    _water: Estimate = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read both numbers."""
        problems = Problems()
        kelvin = problems.attempt(read, self.liquid, "temperature", argument="liquid")
        wide = problems.attempt(read, self.half_width, "temperature difference", argument="half_width")
        problems.raise_any()
        if wide < 0.0:
            raise DomainError("a half-width is not negative", argument="half_width", given=str(self.half_width))
        if wide > WIDEST:
            raise DomainError(
                "so wide a range says nothing of the liquids: they may freeze or boil in it, or leave the range of the "
                "coefficients of expansion",
                argument="half_width",
                given=str(self.half_width),
                expected=f"at most {WIDEST:g} K",
                remedy="State how far the thermometer or the room may be off, such as '2 K'.",
            )
        if not COLDEST <= kelvin <= WARMEST:
            raise DomainError(
                "the coefficients of expansion do not hold at this temperature",
                argument="liquid",
                given=str(self.liquid),
                expected="10 °C to 30 °C",
                remedy="Let the liquids come to the temperature of the room.",
            )
        id_ = fresh_id("temperature") if self.day is None else f"temperature/{path_part(self.day, argument='day')}"
        influence = Influence.within(
            id_,
            label="temperature of the liquids",
            value=round(kelvin - _MARKED, 9),
            half_width=wide,
            source=f"{self.liquid} ± {self.half_width}, one influence for all liquids",
        )
        difference = Estimate.from_influence(influence, name="temperature_difference")
        water = evaluate(
            water_volume_ratio_from_temperature_difference,
            name="water_volume_ratio",
            label="volume of water at 20 °C over that of the day",
            temperature_difference=difference,
        )
        object.__setattr__(self, "_difference", difference)
        object.__setattr__(self, "_water", water)

    def difference(self) -> Estimate:
        """Return the temperature less 20 °C, K."""
        return self._difference

    def at_20(self, volume: _Measured, material: str, liquid: str = LIQUID) -> _Measured:
        """Return a volume at 20 °C, L, or a batch of them, from that indicated by ware here; see `liquid_of`."""
        return evaluate_like(
            volume,
            volume_at_20_from_volume,
            "volume",
            name="volume",
            label=volume.label,
            ware_expansion=ware_expansion(material),
            water_volume_ratio=self._water,
            excess_expansion=_coefficient(_BEYOND, liquid, "excess_expansion"),
            temperature_difference=self._difference,
        )


def liquid_of(equivalents: float) -> str:
    """Return the row of the table of expansions that stands for a solution.

    Parameters
    ----------
    equivalents : float [mol/L]
        About how many moles of protons, hydroxide or electrons it exchanges.

    Examples
    --------
    >>> liquid_of(0.1), liquid_of(0.9)
    ('dilute solutions', 'solutions of 0.25 to 1 equivalent per litre')

    """
    return LIQUIDS[int(liquid_place(equivalents))]


def liquid_place(equivalents: Value) -> Value:
    """Return the place in `LIQUIDS` of what stands for a solution, or for many; see `liquid_of`."""
    # Of a reading that is missing nothing is known: it is put with the dilute ones, and its row has no number anyway.
    place: Value = np.searchsorted(_MOST, np.where(equivalents > 0.0, equivalents, 0.0))
    return place


def at_20(volume: _Measured, material: str, temperature: Temperature | None, liquid: str = LIQUID) -> _Measured:
    """Return a volume of a liquid at 20 °C, or a batch of them; as it is where no temperature is stated."""
    return volume if temperature is None else temperature.at_20(volume, material, liquid)


def ware_expansion(material: str) -> Estimate:
    """Return the cubic expansion coefficient of a material of volumetric ware, 1/K."""
    return _coefficient("ware", MATERIALS[material_of(material)], "ware_expansion")


def _coefficient(kind: str, material: str, name: str) -> Estimate:
    rows = table("thermal_expansion").rows
    row = next(row for row in rows if (row.index["kind"], row.index["material"]) == (kind, material))
    what = material if kind == "ware" else f"{material} beyond water"
    influence = Influence.within(
        f"table/thermal expansion/{what}",
        label=f"expansion of {what}",
        value=row.value,
        half_width=float(row.half_width or 0.0),
        source=f"[{row.source}] {row.provenance}",
    )
    return Estimate.from_influence(influence, name=name)
