"""The instruments of a sheet, by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

from assay.bench.balance import Balance
from assay.bench.burette import Burette
from assay.bench.vessels import Cylinder, Flask, Pipette
from assay.dosing.dispenser import Dispenser
from assay.errors import nearest
from assay.sheet.calibrations import OF_KIND, calibration_of
from assay.sheet.table import Table

Instrument: TypeAlias = Burette | Pipette | Flask | Cylinder | Balance
_I = TypeVar("_I", bound=Instrument)

_WARE = ("class", "standard", "tolerance", "material")
#: What makes each kind of instrument, the keys it needs, and those it may have.
_KINDS: Mapping[str, tuple[Callable[..., Instrument], tuple[str, ...], tuple[str, ...]]] = {
    "burette": (Burette, ("capacity", "subdivision"), (*_WARE, "read_to", "shape")),
    "pipette": (Pipette, ("capacity",), (*_WARE, "shape")),
    "flask": (Flask, ("capacity",), (*_WARE, "shape")),
    "cylinder": (Cylinder, ("capacity", "subdivision"), _WARE),
    "balance": (Balance, ("readability", "repeatability", "linearity"), ("eccentricity", "drift", "drift_load")),
}


def _instrument_of(name: str, table: Table, *, used: str, balances: Mapping[str, Balance]) -> Instrument:
    kind = table.text("kind")
    if kind not in _KINDS:
        raise table.error("kind", "unknown kind of instrument.", given=kind, remedy=nearest(kind, _KINDS))
    make, needed, optional = _KINDS[kind]
    numbers = ("repeatability_dof",) if kind == "balance" else ()
    table.only("kind", *needed, *optional, *numbers, *OF_KIND.get(kind, ()))
    written: dict[str, Any] = {key: table.text(key) for key in (*needed, *(key for key in optional if table.has(key)))}
    if "class" in written:
        written["accuracy_class"] = written.pop("class")
    written |= {key: table.number(key) for key in numbers if table.has(key)}
    known = calibration_of(table, kind, name, used=used, balances=balances)
    if known is not None:
        written["calibration"] = known
    with table.reading():
        return make(name, **written)


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
        wanted = table.text(key)
        if wanted not in self.by_name:
            remedy = nearest(wanted, self.by_name) if self.by_name else "Describe it under [instruments]."
            raise table.error(key, "no such instrument stands under [instruments].", given=wanted, remedy=remedy)
        instrument = self.by_name[wanted]
        if not isinstance(instrument, kind):
            found, needed = type(instrument).__name__.lower(), kind.__name__.lower()
            raise table.error(key, f"this is a {found}; a {needed} is needed here.", given=wanted)
        return instrument

    def dispenser(self, table: Table, key: str) -> Dispenser:
        """Return the burette, pipette or cylinder that a key names."""
        instrument = self.by_name.get(table.text(key))
        if isinstance(instrument, (Burette, Pipette, Cylinder)):
            return instrument
        return self.get(table, key, Cylinder)
