"""The instruments of a sheet, by name."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

from assay.bench.balance import Balance
from assay.bench.beaker import Beaker
from assay.bench.burette import Burette
from assay.bench.dropper import Dropper
from assay.bench.filled import Filled, is_filled
from assay.bench.graduated import GraduatedPipette, Syringe
from assay.bench.piston import PistonBurette, PistonPipette
from assay.bench.setting import OneVolume, SetVolume
from assay.bench.vessels import Cylinder, Flask, Pipette
from assay.dosing.dispenser import Dispenser
from assay.errors import SheetError, nearest
from assay.sheet.calibrations import OF_KIND, balance_named, calibration_of
from assay.sheet.table import Table

Instrument: TypeAlias = Burette | Pipette | PistonPipette | Dropper | Flask | Cylinder | Beaker | Balance
_I = TypeVar("_I", bound=Instrument)

_WARE = ("class", "standard", "tolerance", "material")
_PISTON = ("standard", "tolerance", "repeatability", "shape", "material")
_DROPS = ("half_width", "material")
#: What makes each kind of instrument, the keys it needs, and those it may have.
_KINDS: Mapping[str, tuple[Callable[..., Instrument], tuple[str, ...], tuple[str, ...]]] = {
    "burette": (Burette, ("capacity", "subdivision"), (*_WARE, "read_to", "shape")),
    "pipette": (Pipette, ("capacity",), (*_WARE, "shape")),
    "graduated pipette": (GraduatedPipette, ("capacity", "subdivision"), (*_WARE, "read_to", "shape")),
    "piston pipette": (PistonPipette, ("capacity",), ("subdivision", *_PISTON)),
    "piston burette": (PistonBurette, ("capacity", "subdivision"), ("read_to", *_PISTON)),
    "syringe": (Syringe, ("capacity", "subdivision"), ("read_to", "standard", "tolerance", "material", "shape")),
    "dropper": (Dropper, ("drops", "balance", "gross", "tare", "density"), ("scatter", *_DROPS)),
    "flask": (Flask, ("capacity",), (*_WARE, "shape")),
    "cylinder": (Cylinder, ("capacity", "subdivision"), (*_WARE, "shape")),
    "beaker": (Beaker, ("capacity", "subdivision"), ("read_to", "tolerance", "material")),
    "balance": (Balance, ("readability", "repeatability", "linearity"), ("eccentricity", "drift", "drift_load")),
}


def _instrument_of(name: str, table: Table, *, used: str, balances: Mapping[str, Balance]) -> Instrument:
    kind = table.text("kind")
    if kind not in _KINDS:
        raise table.error("kind", "unknown kind of instrument.", given=kind, remedy=nearest(kind, _KINDS))
    make, needed, optional = _KINDS[kind]
    if kind == "dropper":
        return _dropper(name, table.only("kind", *needed, *optional), balances)
    numbers = ("repeatability_dof",) if kind == "balance" else ()
    table.only("kind", *needed, *optional, *numbers, *OF_KIND.get(kind, ()))
    read = table.showing(repeatability="0.003 mL") if kind.startswith("piston") else table
    written: dict[str, Any] = {key: read.text(key) for key in (*needed, *(key for key in optional if table.has(key)))}
    if "class" in written:
        written["accuracy_class"] = written.pop("class")
    written |= {key: table.number(key) for key in numbers if table.has(key)}
    known = calibration_of(table, kind, name, used=used, balances=balances)
    if known is not None:
        written["calibration"] = known
    with table.reading():
        return make(name, **written)


def _dropper(name: str, table: Table, balances: Mapping[str, Balance]) -> Dropper:
    """Return a dropper by the drops that were counted onto a balance of the sheet."""
    one = table.showing(density="0.998 g/mL", half_width="0.001 g/mL", balance="W1", gross="14.51 g", tare="12.00 g")
    balance = balance_named(one, balances)
    further: dict[str, Any] = {key: one.text(key) for key in _DROPS if one.has(key)}
    if one.has("scatter"):
        further["scatter"] = one.number("scatter")
    with one.reading():
        return Dropper(
            name,
            drops=one.whole("drops", 0) if one.has("drops") else None,
            weighing=one.call("gross", balance.by_difference, one.text("gross"), one.text("tare")),
            density=one.text("density"),
            **further,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Instruments:
    """The instruments that a sheet describes.

    Parameters
    ----------
    by_name : mapping of str to instrument
        The instruments.

    """

    by_name: Mapping[str, Instrument]

    @classmethod
    def of(cls, tables: Mapping[str, Table], *, used: str) -> Instruments:
        """Return the instruments of these tables, on the day on which they are used."""
        # Balances first: other ware may have been calibrated on one.
        ordered = sorted(tables, key=lambda name: tables[name].data.get("kind") != "balance")
        made: dict[str, Instrument] = {}
        for name in ordered:
            balances = {known: one for known, one in made.items() if isinstance(one, Balance)}
            made[name] = _instrument_of(name, tables[name], used=used, balances=balances)
        return cls(by_name={name: made[name] for name in tables})

    def get(self, table: Table, key: str, kind: type[_I]) -> _I:
        """Return the instrument that a key names, of the kind that is needed there.

        Raises
        ------
        SheetError
            If there is none of this name, or it is of another kind.

        """
        instrument = self._named(table, key)
        if not isinstance(instrument, kind):
            raise table.error(
                key, f"this is a {_told(type(instrument))}; a {_told(kind)} is needed here.", given=table.text(key)
            )
        return instrument

    def _named(self, table: Table, key: str) -> Instrument:
        wanted = table.text(key)
        if wanted not in self.by_name:
            remedy = nearest(wanted, self.by_name) if self.by_name else "Describe it under [instruments]."
            raise table.error(key, "no such instrument stands under [instruments].", given=wanted, remedy=remedy)
        return self.by_name[wanted]

    def taken(self, table: Table, key: str) -> OneVolume:
        """Return what a key says is taken: a pipette by name, or ware with the volume to which it is set.

        Raises
        ------
        SheetError
            If there is none of this name, it takes nothing, or the volume is missing or beyond its scale.

        """
        if not isinstance(table.data.get(key), dict):
            instrument = self._named(table, key)
            if isinstance(instrument, OneVolume):
                return instrument
            raise _without_volume(table, key, instrument)
        one = table.table(key).showing(volume="5.0 mL", **{"with": "S10"}).only("with", "volume", "drops")
        instrument = self._named(one, "with")
        used, other = ("drops", "volume") if isinstance(instrument, Dropper) else ("volume", "drops")
        if one.has(other):
            raise one.error(
                other, f"this is a {_told(type(instrument))}; it has {used} here.", remedy=f"Write {used} = …."
            )
        if isinstance(instrument, Dropper):
            return one.call("drops", instrument.measure, one.whole("drops", 0))
        if isinstance(instrument, (Burette, PistonPipette, Cylinder, Beaker)):
            return one.call("volume", instrument.measure, one.text("volume"))
        if isinstance(instrument, Pipette):
            raise one.error(
                "with", "a pipette with one mark delivers its capacity.", given=one.text("with"),
                remedy=f'Write {key} = "{one.text("with")}".',
            )  # fmt: skip
        raise one.error(
            "with", f"this is a {_told(type(instrument))}; a pipette is needed here.", given=one.text("with")
        )

    def made_up(self, table: Table, key: str) -> Filled:
        """Return what a key says a solution is made up in: a flask by name, or ware filled to a graduation.

        Raises
        ------
        SheetError
            If there is none of this name, or no solution is made up in it.

        """
        if not isinstance(table.data.get(key), dict):
            instrument = self._named(table, key)
            if isinstance(instrument, (Cylinder, Beaker)):
                raise _without_volume(table, key, instrument)
            return self.get(table, key, Flask)
        one = table.table(key)
        if isinstance(self._named(one, "with"), Flask):
            raise one.error(
                "with", "a flask is filled to its mark.", given=one.text("with"),
                remedy=f'Write {key} = "{one.text("with")}".',
            )  # fmt: skip
        filled = self.taken(table, key)
        if isinstance(filled, SetVolume) and is_filled(filled):
            return filled
        raise one.error(
            "with", "no solution is made up in this.", given=one.text("with"),
            remedy="Name a flask, a cylinder or a beaker.",
        )  # fmt: skip

    def dispenser(self, table: Table, key: str) -> Dispenser:
        """Return the burette, pipette, cylinder or other dispenser that a key names."""
        instrument = self.by_name.get(table.text(key))
        if isinstance(instrument, Dispenser):
            return instrument
        return self.get(table, key, Cylinder)


def _told(kind: type) -> str:
    """Return what people call a kind of instrument."""
    return re.sub(r"(?<!^)([A-Z])", r" \1", kind.__name__).lower()


def _without_volume(table: Table, key: str, instrument: Instrument) -> SheetError:
    told, name = _told(type(instrument)), table.text(key)
    if isinstance(instrument, (Flask, Balance)):
        return table.error(key, f"this is a {told}; a pipette is needed here.", given=name)
    how = "drops = 20" if isinstance(instrument, Dropper) else 'volume = "5.0 mL"'
    return table.error(
        key,
        f"this is a {told}; it is not said which volume it takes.",
        given=name,
        remedy=f'Write {key} = {{ with = "{name}", {how} }}.',
    )
