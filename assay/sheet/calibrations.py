"""What a sheet or a cupboard says of one piece of ware itself: its certificate, or weighings of water."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assay.bench.balance import Balance
from assay.bench.burette_calibration import BuretteCalibration, calibrate_burette
from assay.bench.calibration import Calibration, calibrate
from assay.bench.certificates import Certificate, CorrectionTable
from assay.bench.temperature import Temperature
from assay.bench.weighing import Weighing
from assay.sheet.air import air_of, occasion
from assay.sheet.table import Table

CERTIFICATE, CORRECTIONS, CALIBRATION = "certificate", "corrections", "calibration"
#: Which of them each kind of ware takes.
OF_KIND: Mapping[str, tuple[str, ...]] = {
    "burette": (CORRECTIONS, CALIBRATION),
    "pipette": (CERTIFICATE, CALIBRATION),
    "flask": (CERTIFICATE, CALIBRATION),
    "graduated pipette": (CORRECTIONS, CALIBRATION),
    "piston burette": (CORRECTIONS, CALIBRATION),
    "syringe": (CORRECTIONS, CALIBRATION),
    "piston pipette": (CERTIFICATE, CORRECTIONS, CALIBRATION),
}
#: Ware that is weighed at points of its scale.
_SCALED = ("burette", "graduated pipette", "piston burette", "syringe")
#: Ware that is not of borosilicate glass unless it says so.
_PLASTIC = ("piston pipette", "syringe")


def calibration_of(
    table: Table, kind: str, name: str, *, used: str, balances: Mapping[str, Balance]
) -> Certificate | CorrectionTable | Calibration | BuretteCalibration | None:
    """Return what the table of an instrument says of this very piece; ``None`` if nothing."""
    stated = [key for key in OF_KIND.get(kind, ()) if table.has(key)]
    if len(stated) > 1:
        raise table.error(stated[1], f"it stands beside '{stated[0]}'.", remedy="Give one of the two.")
    if not stated:
        return None
    one = table.table(stated[0])
    if stated[0] == CERTIFICATE:
        return _certificate(one, used)
    if stated[0] == CORRECTIONS:
        return _corrections(one, used)
    usual = "polypropylene" if kind in _PLASTIC else "borosilicate"
    return _weighed(one, kind, name, material=table.text("material", usual), balances=balances, used=used)


def _factor(one: Table) -> dict[str, Any]:
    return {key: one.number(key) for key in ("k", "level", "dof") if one.has(key)}


def _certificate(one: Table, used: str) -> Certificate:
    one = one.showing(
        volume="9.987 mL",
        expanded="0.006 mL",
        date="2026-03-02",
        number="K 118",
        drift="0.002 mL",
        repeatability="0.003 mL",
    )
    one.only("volume", "expanded", "k", "level", "dof", "date", "number", "drift", "repeatability")
    with one.reading():
        return Certificate(
            volume=one.text("volume"),
            expanded=one.text("expanded"),
            date=one.dated("date"),
            number=one.text("number", ""),
            drift=one.maybe("drift"),
            repeatability=one.maybe("repeatability"),
            used=used,
            **_factor(one),
        )


def _corrections(one: Table, used: str) -> CorrectionTable:
    one = one.showing(expanded="0.010 mL", date="2026-03-02", number="K 119", drift="0.005 mL")
    one.only("readings", "corrections", "expanded", "k", "level", "dof", "correlation", "date", "number", "drift")
    with one.reading():
        return CorrectionTable(
            readings=one.items("readings"),
            corrections=one.items("corrections"),
            expanded=one.text("expanded"),
            correlation=one.number("correlation", 0.5),
            date=one.dated("date"),
            number=one.text("number", ""),
            drift=one.maybe("drift"),
            used=used,
            **_factor(one),
        )


def _weighed(
    one: Table, kind: str, name: str, *, material: str, balances: Mapping[str, Balance], used: str
) -> Calibration | BuretteCalibration:
    one = one.showing(
        balance="W1",
        date="2026-11-10",
        water="21.0 °C",
        water_half_width="0.5 K",
        evaporation="0.5 mg",
        drift="0.002 mL",
    )
    one.only("balance", "date", "water", "water_half_width", "air", "weighings", "evaporation", "drift")
    on = balance_named(one, balances)
    date = one.dated("date")
    with one.reading():
        water = (one.text("water"), one.text("water_half_width"))
        stated: dict[str, Any] = {
            "water": Temperature(water[0], half_width=water[1], day=occasion(f"calibration {date}", water)),
            "air": air_of(one, day=f"calibration {date}"),
            "date": date,
            "material": material,
            "evaporation": one.maybe("evaporation"),
            "drift": one.maybe("drift"),
            "used": used,
        }
        if kind in _SCALED:
            points = one.table("weighings")
            by_reading = {reading: _weighings(points, reading, on) for reading in points.data}
            return calibrate_burette(name, by_reading, **stated)
        return calibrate(f"{kind} {name}", _weighings(one, "weighings", on), **stated)


def balance_named(one: Table, balances: Mapping[str, Balance]) -> Balance:
    """Return the balance that a table names.

    Raises
    ------
    SheetError
        If there is none of this name.

    """
    on = one.text("balance")
    if on not in balances:
        raise one.error("balance", "no such balance stands under [instruments].", given=on, remedy="Describe it there.")
    return balances[on]


def _weighings(one: Table, key: str, balance: Balance) -> list[Weighing]:
    found = []
    for k, readings in enumerate(one.items(key)):
        pair = isinstance(readings, list) and len(readings) == 2 and all(isinstance(x, str) for x in readings)  # noqa: PLR2004
        if not pair:
            raise one.source.error(
                (*one.path, key, k),
                "a weighing is a pair of readings, with and without the water.",
                given=str(readings)[:60],
                remedy='Write [["29.9612 g", "20.0000 g"], …], for a burette a list for each reading.',
            )
        with one.reading(key):
            found.append(balance.by_difference(*readings))
    return found
