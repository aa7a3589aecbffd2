"""Running a bench sheet: objects from its tables, results from its readings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sized
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TypeAlias

from assay.bench.burette_calibration import BuretteCalibration
from assay.bench.calibration import Calibration
from assay.data import text_resource
from assay.display.numbers import plus_minus
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.dosing.dose import dose
from assay.dosing.requirement import Deliverable, Equivalents
from assay.dosing.volumes import Dose
from assay.errors import DataError, SheetError, nearest
from assay.flags import Flag, codes_of
from assay.metrology.control import ControlChart
from assay.metrology.coverage import check_level
from assay.metrology.recovery import Recovery
from assay.sheet.control import charts, recoveries
from assay.sheet.cupboard import included, merged_by_name
from assay.sheet.instruments import Instruments
from assay.sheet.source import Source, parsed
from assay.sheet.steps import Steps, reasons
from assay.sheet.table import Table, named_strength
from assay.substances.strength import Strength
from assay.titration.acid_base import Caustic, hydroxide_and_carbonate
from assay.titration.titrant import Titrant

SCHEMA = 1
#: The demo sheets that ship with the library, by name; the first runs when no sheet is given.
DEMOS = {"drum": "demo_drum.toml", "acid": "demo_acid.toml", "caustic": "demo_caustic.toml"}


_Flagged: TypeAlias = Calibration | BuretteCalibration | Titrant | Strength | Dose | ControlChart | Recovery


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class SheetResult:
    """What a bench sheet gives.

    Parameters
    ----------
    title : str
        Title of the sheet.
    date : datetime.date
        Day of the readings.
    titrants : mapping of str to Titrant
        The standardised titrants, by what they are, in the order of the sheet.
    strengths : mapping of str to Strength
        Strength of each sample, by its name.
    doses : tuple of Dose
        The doses, in the order of the sheet.
    level : float
        Level of confidence at which U is stated.
    caustics : mapping of str to Caustic
        Hydroxide and carbonate, where a caustic was assayed to two end points.
    temperature : str
        What was stated of the temperature; empty if nothing was.
    controls : mapping of str to ControlChart
        The control charts, by their name.
    recoveries : mapping of str to Recovery
        The recoveries of controls of known strength, by the name of the sample.
    calibrations : mapping of str to Calibration or BuretteCalibration
        What was calibrated on the sheet itself, by the name of the instrument.

    References
    ----------
    common practice: a result is kept with its standard, its lot and its label.

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("acid")
    <SheetResult 'Prep room: hydrochloric acid from the hardware shelf', 2026-11-17: [assumed-density] 1
    titrant, 1 strength, 1 dose>

    """

    title: str
    date: dt.date
    titrants: Mapping[str, Titrant]
    strengths: Mapping[str, Strength]
    doses: tuple[Dose, ...]
    level: float
    caustics: Mapping[str, Caustic] = field(default_factory=dict)
    temperature: str = ""
    controls: Mapping[str, ControlChart] = field(default_factory=dict)
    recoveries: Mapping[str, Recovery] = field(default_factory=dict)
    calibrations: Mapping[str, Calibration | BuretteCalibration] = field(default_factory=dict)

    @property
    def titrant(self) -> Titrant:
        """The titrant that was standardised first."""
        if not self.titrants:
            raise DataError("no titrant was standardised on this sheet", argument="titrant", given=self.title)
        return next(iter(self.titrants.values()))

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data, each once."""
        caustics = (flag for caustic in self.caustics.values() for flag in caustic.flags)
        results: tuple[_Flagged, ...] = (
            *self.calibrations.values(), *self.titrants.values(), *self.strengths.values(), *self.doses,
            *self.controls.values(), *self.recoveries.values(),
        )  # fmt: skip
        return tuple(dict.fromkeys((*(flag for result in results for flag in result.flags), *caustics)))

    def rows(self) -> Rows:
        """Return titrants, strengths, caustics and doses as rows of text, as they were measured."""
        calibrated = (
            ("calibration", e.label, plus_minus(1000.0 * e.value, 1000.0 * e.expanded(self.level), "mL"))
            for found in self.calibrations.values()
            for e in found.found()
        )
        numbers = [
            *(("titrant", name, titrant.estimate) for name, titrant in self.titrants.items()),
            *(("strength", name, strength.estimate) for name, strength in self.strengths.items()),
            *(
                ("caustic", f"{name}, {e.label}", e)
                for name, caustic in self.caustics.items()
                for e in (caustic.hydroxide, caustic.carbonate)
            ),
            *(("recovery", name, found.recovery) for name, found in self.recoveries.items()),
        ]
        measured = ((kind, name, plus_minus(e.value, e.expanded(self.level), e.unit)) for kind, name, e in numbers)
        dosed = (
            (f"dose, {volume.kind}", f"{dosed.required.label} of {dosed.reagent}", volume.instruction(dosed.dispenser))
            for dosed in self.doses
            for volume in dosed.volumes
        )
        title = f"{self.title}, {self.date}; U at {100 * self.level:g} %"
        return Rows(title=title, head=("", "of", "value ± U"), body=(*calibrated, *measured, *dosed))

    def __repr__(self) -> str:
        counted: tuple[tuple[Sized, str], ...] = (
            (self.titrants, "titrant"), (self.strengths, "strength"), (self.doses, "dose")
        )  # fmt: skip
        if self.calibrations:
            counted = ((self.calibrations, "calibration"), *(pair for pair in counted if len(pair[0])))
        found = ", ".join(f"{len(results)} {kind}{'' if len(results) == 1 else 's'}" for results, kind in counted)
        return f"<SheetResult {self.title!r}, {self.date}: {codes_of(self.flags)}{found}>"

    def _first_lines(self) -> tuple[str, ...]:
        """Return what is read before the volumes: not to mix, and the doubts."""
        first = (line for dosed in self.doses for line in dosed.first_caution())
        return tuple(dict.fromkeys((*first, *(f"! {flag}" for flag in self.flags))))


def run_sheet(path: str | FilePath | None = None) -> SheetResult:
    """Return the results of a bench sheet.

    Parameters
    ----------
    path : str or Path, optional
        The sheet, a TOML file with ``schema = 1``; the demo sheet of the drum if none is given.

    Returns
    -------
    SheetResult
        Titrants, strengths and doses.

    Raises
    ------
    SheetError
        If the sheet cannot be read, or something in it cannot be used; the message names file, line, table and key.

    References
    ----------
    common practice for the course of the titrations.

    Examples
    --------
    >>> run_sheet().title
    'Prep room: drum of hypochlorite for the dye-fading practical'

    """
    if path is None:
        return run_demo("drum")
    return run_text(_text_of(FilePath(path)), name=str(path), folder=FilePath(path).parent)


def run_demo(name: str) -> SheetResult:
    """Return the results of one of the demo sheets: ``"drum"``, ``"acid"`` or ``"caustic"``.

    Parameters
    ----------
    name : str
        Which.

    Returns
    -------
    SheetResult
        Titrants, strengths and doses.

    Raises
    ------
    SheetError
        If there is no such demo.

    References
    ----------
    common practice for the course of the titrations; the readings are invented.

    Examples
    --------
    >>> run_demo("caustic").title
    'Prep room: old caustic that stood open'

    """
    if name not in DEMOS:
        raise SheetError("there is no such demo sheet.", argument="demo", given=name, remedy=nearest(name, DEMOS))
    return run_text(text_resource(DEMOS[name]), name=DEMOS[name])


def run_text(text: str, *, name: str, folder: FilePath | None = None) -> SheetResult:
    """Return the results of a bench sheet given as text, which lies in a folder or in none; see `run_sheet`."""
    return _Reader(parsed(text, name), folder).result()


def _text_of(path: FilePath) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        sheets = [other.name for other in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        remedy = nearest(path.name, sheets) if sheets else "Check the name and the folder."
        raise SheetError("there is no such file.", argument="sheet", given=str(path), remedy=remedy) from None
    except UnicodeDecodeError:
        raise SheetError(
            "the file is not UTF-8 text.", argument="sheet", given=str(path), remedy="Save it as UTF-8 (plain text)."
        ) from None
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise SheetError(f"the file cannot be opened: {reason}.", argument="sheet", given=str(path)) from None


class _Reader:
    """Reads one sheet from top to bottom."""

    def __init__(self, source: Source, folder: FilePath | None) -> None:
        self.root = Table(source=source, path=(), data=source.data)
        self._check_schema()
        self.root.only(
            "schema", "title", "date", "level", "temperature", "air", "cupboard", "instruments", "standardisation",
            "assay", "caustic", "dose", "control", "recovery",
        )  # fmt: skip
        self.title = self.root.text("title")
        self.date = self._date()
        self.level = self.root.call("level", check_level, self.root.number("level", 0.95))
        if not self.root.has("cupboard"):
            self.root.table("instruments")  # one of the two is needed
        self.tables = merged_by_name(included(self.root, folder))
        self.instruments = Instruments.of(self.tables, used=str(self.date))
        self.steps = Steps(date=self.date, root=self.root, instruments=self.instruments)

    def _check_schema(self) -> None:
        schema = self.root.data.get("schema")
        if schema is None:
            raise self.root.error("", "the key 'schema' is missing.", remedy=f"Begin the sheet with schema = {SCHEMA}.")
        if schema != SCHEMA or isinstance(schema, bool):
            raise self.root.error(
                "schema", "this is a sheet of another schema.", given=schema, expected=f"schema = {SCHEMA}",
                remedy="Read it with the version it was written for, or bring its keys up to date.",
            )  # fmt: skip

    def _date(self) -> dt.date:
        if not self.root.has("date"):
            raise self.root.error(
                "",
                "the day of the readings is missing.",
                remedy="Write for example date = 2026-11-16, without quotes.",
            )
        return self.root.day("date")

    def _strengths(self, titrants: Mapping[str, Titrant]) -> dict[str, Strength]:
        strengths: dict[str, Strength] = {}
        for table in self.root.tables("assay"):
            sample, strength = self.steps.strength(table, titrants)
            if sample in strengths:
                raise table.error("sample", "two samples have this name.", given=sample, remedy="Name them apart.")
            strengths[sample] = strength
        if not strengths:
            raise self.root.error(
                "", "there is no [assay] on the sheet.", remedy="Add a table [assay] with its titres."
            )
        return strengths

    def _caustics(self, strengths: Mapping[str, Strength]) -> dict[str, Caustic]:
        found: dict[str, Caustic] = {}
        for table in self.root.tables("caustic"):
            table.only("name", "phenolphthalein", "methyl_orange")
            name = table.text("name")
            if name in found or name in strengths:
                raise table.error(
                    "name", "two caustics, or a caustic and a sample, have this name.", given=name,
                    remedy="Name them apart.",
                )  # fmt: skip
            first, second = (named_strength(table, key, strengths) for key in ("phenolphthalein", "methyl_orange"))
            found[name] = table.call(
                "methyl_orange", hydroxide_and_carbonate, phenolphthalein=first, methyl_orange=second, label=name
            )
        return found

    def _dose(self, table: Table, strengths: Mapping[str, Strength], caustics: Mapping[str, Caustic]) -> Dose:
        table.only(
            "of", "deliver", "limit", "into", "with", "assurance", "available", "accept", "portions", "spare", "binding"
        )
        named = {**strengths, **{name: caustic.strength for name, caustic in caustics.items()}}
        used = [named_strength(table, "of", named)] if table.has("of") else list(strengths.values())
        entity = used[0].species.entity
        table = table.showing(deliver=f"0.100 mol {entity}", limit=f"0.110 mol {entity}")
        dispenser = self.instruments.dispenser(table, "with")
        with table.reading():
            return dose(
                used,
                deliver=self._deliverable(table, "deliver"),
                limit=self._deliverable(table, "limit") if table.has("limit") else None,
                dispenser=dispenser,
                into=table.maybe("into"),
                assurance=table.number("assurance", 0.95),
                available=table.maybe("available"),
                accept=reasons(table),
                portions=table.whole("portions", 1),
                spare=table.whole("spare", 0),
                binding=table.text("binding", "each"),
            )

    def _deliverable(self, table: Table, key: str) -> Deliverable:
        if not isinstance(table.data.get(key), dict):
            return table.text(key)
        one = table.table(key).only("equivalents", "of", "formula")
        wanted = Equivalents(one.number("equivalents"), of=one.text("of"), formula=one.maybe("formula"))
        one.call("of", wanted.amount)
        return wanted

    def result(self) -> SheetResult:
        """Return the results of the sheet."""
        # A sheet may calibrate alone.
        titrates = any(self.root.has(key) for key in ("standardisation", "assay", "caustic", "dose"))
        titrants = self.steps.titrants() if titrates or not self.calibrations else {}
        strengths = self._strengths(titrants) if titrants else {}
        caustics = self._caustics(strengths)
        doses = tuple(self._dose(table, strengths, caustics) for table in self.root.tables("dose"))
        return SheetResult(
            title=self.title,
            date=self.date,
            titrants=titrants,
            strengths=strengths,
            doses=doses,
            level=self.level,
            caustics=caustics,
            temperature=self.steps.temperature_stated(),
            controls=charts(self.root, strengths),
            recoveries=recoveries(self.root, strengths, date=str(self.date), level=self.level),
            calibrations=self.calibrations,
        )

    @property
    def calibrations(self) -> dict[str, Calibration | BuretteCalibration]:
        """What was calibrated on this sheet, and not in a cupboard."""
        found = {name: getattr(one, "calibration", None) for name, one in self.instruments.by_name.items()}
        return {
            name: one
            for name, one in found.items()
            if isinstance(one, (Calibration, BuretteCalibration)) and self.tables[name].source is self.root.source
        }
