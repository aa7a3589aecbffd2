"""Running a bench sheet: objects from its tables, results from its readings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any, TypeAlias, TypeVar

from assay.bench.balance import Balance, Weighing
from assay.bench.burette import Burette, Titre
from assay.bench.sampling import Sampling
from assay.bench.vessels import Cylinder, Flask, Pipette
from assay.data import text_resource
from assay.dosing.dispenser import Dispenser
from assay.dosing.dose import dose
from assay.dosing.requirement import Deliverable, Equivalents
from assay.dosing.volumes import Dose
from assay.errors import SheetError, nearest
from assay.flags import refuse_blocked
from assay.metrology.coverage import check_level
from assay.sheet.source import Source, parsed
from assay.sheet.table import Table
from assay.substances.molar_mass import DEFAULT_EDITION
from assay.substances.strength import Strength
from assay.titration.assays import Dilution
from assay.titration.iodometry import assay_hypochlorite
from assay.titration.standardisation import standardise_by_aliquots, standardise_by_portions
from assay.titration.standards import PrimaryStandard, StandardSolution
from assay.titration.titrant import Titrant

SCHEMA = 1
DEMO = "demo_drum.toml"

Instrument: TypeAlias = Burette | Pipette | Flask | Cylinder | Balance
_I = TypeVar("_I", bound=Instrument)
_R = TypeVar("_R", Titrant, Strength)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetResult:
    """What a bench sheet gives.

    Parameters
    ----------
    title : str
        Title of the sheet.
    date : dt.date
        Day of the readings.
    titrant : Titrant
        The standardised titrant.
    strengths : mapping of str to Strength
        Strength of each sample, by its name.
    doses : tuple of Dose
        The doses, in the order of the sheet.
    level : float
        Level of confidence at which U is stated.

    """

    title: str
    date: dt.date
    titrant: Titrant
    strengths: Mapping[str, Strength]
    doses: tuple[Dose, ...]
    level: float


def run_sheet(path: str | FilePath | None = None) -> SheetResult:
    """Return the results of a bench sheet.

    Parameters
    ----------
    path : str or Path, optional
        The sheet, a TOML file with ``schema = 1``; the demo sheet that ships with the library if none is given.

    Returns
    -------
    SheetResult
        Titrant, strengths and doses.

    Raises
    ------
    SheetError
        If the sheet cannot be read, or something in it cannot be used; the message names file, line, table and key.

    Examples
    --------
    >>> run_sheet().title
    'Prep room: drum of hypochlorite for the dye-fading practical'

    """
    if path is None:
        return run_text(text_resource(DEMO), name=DEMO)
    return run_text(_text_of(FilePath(path)), name=str(path))


def run_text(text: str, *, name: str) -> SheetResult:
    """Return the results of a bench sheet given as text; see `run_sheet`."""
    return _Reader(parsed(text, name)).result()


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


_WARE = ("class", "standard", "tolerance")
#: What makes each kind of instrument, the keys it needs, and those it may have.
_KINDS: Mapping[str, tuple[Callable[..., Instrument], tuple[str, ...], tuple[str, ...]]] = {
    "burette": (Burette, ("capacity", "subdivision"), (*_WARE, "read_to")),
    "pipette": (Pipette, ("capacity",), _WARE),
    "flask": (Flask, ("capacity",), _WARE),
    "cylinder": (Cylinder, ("capacity", "subdivision"), _WARE),
    "balance": (Balance, ("readability", "repeatability", "linearity"), ()),
}


def _instrument_of(name: str, table: Table) -> Instrument:
    kind = table.text("kind")
    if kind not in _KINDS:
        raise table.error("kind", "unknown kind of instrument.", given=kind, remedy=nearest(kind, _KINDS))
    make, needed, optional = _KINDS[kind]
    table.only("kind", *needed, *optional)
    written = {key: table.text(key) for key in (*needed, *(key for key in optional if table.has(key)))}
    if "class" in written:
        written["accuracy_class"] = written.pop("class")
    with table.reading():
        return make(name, **written)


class _Reader:
    """Reads one sheet from top to bottom."""

    def __init__(self, source: Source) -> None:
        self.root = Table(source=source, path=(), data=source.data)
        self._check_schema()
        self.root.only("schema", "title", "date", "level", "instruments", "standardisation", "assay", "dose")
        self.title = self.root.text("title")
        self.date = self._date()
        self.level = self.root.call("level", check_level, self.root.number("level", 0.95))
        self.instruments = self._instruments()

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
        value = self.root.data.get("date")
        if isinstance(value, dt.datetime) or not isinstance(value, dt.date):
            raise self.root.error(
                "date" if value is not None else "",
                "the day of the readings is missing." if value is None else "this is not a date.",
                given=None if value is None else str(value),
                remedy="Write for example date = 2026-11-16, without quotes.",
            )
        return value

    def _instruments(self) -> dict[str, Instrument]:
        table = self.root.table("instruments")
        return {name: _instrument_of(name, table.table(name)) for name in table.data}

    def _instrument(self, table: Table, key: str, *kinds: type[_I]) -> _I:
        wanted = table.text(key)
        if wanted not in self.instruments:
            remedy = nearest(wanted, self.instruments) if self.instruments else "Describe it under [instruments]."
            raise table.error(key, "no such instrument stands under [instruments].", given=wanted, remedy=remedy)
        instrument = self.instruments[wanted]
        if not isinstance(instrument, kinds):
            names = " or ".join(kind.__name__.lower() for kind in kinds)
            raise table.error(
                key, f"this is a {type(instrument).__name__.lower()}; a {names} is needed here.", given=wanted
            )
        return instrument

    def _dispenser(self, table: Table) -> Dispenser:
        instrument = self.instruments.get(table.text("with"))
        if isinstance(instrument, (Burette, Pipette, Cylinder)):
            return instrument
        return self._instrument(table, "with", Cylinder)

    def _titres(self, table: Table, key: str, burette: Burette) -> list[Titre]:
        value = table.data.get(key, [])
        if isinstance(value, (str, dict)):
            return [self._titre(table, (key,), burette, value)]
        if not isinstance(value, list):
            raise table.error(key, "this is not a list of titres.", given=value, remedy=_TITRE_FORM)
        if len(value) == 2 and all(isinstance(part, str) for part in value):  # noqa: PLR2004
            if key == "titre":
                return [self._titre(table, (key,), burette, value)]
            raise table.error(
                key, "two readings may be one titre or two.", given=value,
                remedy=f'Write [["{value[0]}", "{value[1]}"]] for one titre, or '
                f'[{{ final = "{value[0]}" }}, {{ final = "{value[1]}" }}] for two from zero.',
            )  # fmt: skip
        return [self._titre(table, (key, k), burette, item) for k, item in enumerate(value)]

    def _titre(self, table: Table, place: tuple[str | int, ...], burette: Burette, item: object) -> Titre:
        data = item if isinstance(item, dict) else {}
        one = Table(source=table.source, path=(*table.path, *place), data=data)
        with one.reading():
            if isinstance(item, str):
                return burette.titre(item)
            if isinstance(item, list) and len(item) == 2 and all(isinstance(part, str) for part in item):  # noqa: PLR2004
                return burette.titre(item[0], item[1])
            if isinstance(item, dict):
                one.only("initial", "final", "refilled", "rough", "void")
                return burette.titre(
                    one.text("initial", "0 mL"),
                    one.text("final"),
                    refilled=self._refilled(one),
                    rough=one.truth("rough"),
                    void=one.text("void", ""),
                )
        raise one.error("", "this is not a titre.", given=item, remedy=_TITRE_FORM)

    def _refilled(self, table: Table) -> list[tuple[str, str]]:
        pairs = []
        for pair in table.items("refilled"):
            if not (isinstance(pair, list) and len(pair) == 2 and all(isinstance(part, str) for part in pair)):  # noqa: PLR2004
                raise table.error(
                    "refilled", "this is a list of pairs of readings.", given=pair,
                    remedy='Write refilled = [["0.00 mL", "3.20 mL"]].',
                )  # fmt: skip
            pairs.append((pair[0], pair[1]))
        return pairs

    def _weighing(self, table: Table, balance: Balance) -> Weighing:
        return table.call("gross", balance.by_difference, table.text("gross"), table.text("tare"))

    def _titrant(self) -> Titrant:
        table = self.root.table("standardisation").only(
            "standard", "lot", "purity", "half_width", "atomic_weights", "balance", "gross", "tare", "flask", "aliquot",
            "burette", "titres", "portion", "blank", "method_s", "method_dof", "accept",
        )  # fmt: skip
        with table.reading():
            standard = PrimaryStandard(
                table.text("standard"),
                lot=table.maybe("lot"),
                purity=table.text("purity"),
                half_width=table.text("half_width"),
                edition=table.text("atomic_weights", DEFAULT_EDITION),
            )
        balance = self._instrument(table, "balance", Balance)
        burette = self._instrument(table, "burette", Burette)
        options = self._options(table, burette) | {"record": f"{self.date} {standard.titrant}"}
        if table.has("portion"):
            for key in ("titres", "flask", "aliquot", "gross", "tare"):
                if table.has(key):
                    raise table.error(
                        key, "there are weighed portions on the sheet as well; this would not be used.",
                        remedy="Keep [[standardisation.portion]], or flask, aliquot and titres.",
                    )  # fmt: skip
            portions = [self._portion(one, balance, burette) for one in table.tables("portion")]
            titrant = table.call("portion", standardise_by_portions, standard, portions=portions, **options)
        else:
            flask = self._instrument(table, "flask", Flask)
            solution = StandardSolution(standard=standard, weighing=self._weighing(table, balance), flask=flask)
            titres = self._titres(table, "titres", burette)
            aliquot = self._instrument(table, "aliquot", Pipette)
            titrant = table.call("titres", standardise_by_aliquots, solution, aliquot=aliquot, titres=titres, **options)
        return self._accepted(table, titrant)

    def _portion(self, table: Table, balance: Balance, burette: Burette) -> tuple[Weighing, Titre]:
        table.only("gross", "tare", "titre")
        titres = self._titres(table, "titre", burette)
        if len(titres) != 1:
            raise table.error("titre" if titres else "", "each portion has one titre.", remedy=_TITRE_FORM)
        return self._weighing(table, balance), titres[0]

    def _options(self, table: Table, burette: Burette) -> dict[str, Any]:
        return {
            "blank": self._titres(table, "blank", burette) or None,
            "method_s": table.maybe("method_s"),
            "method_dof": table.number("method_dof", float("inf")),
        }

    def _strength(self, table: Table, titrant: Titrant) -> tuple[str, Strength]:
        table.only(
            "sample", "label", "dilutions", "aliquot", "burette", "titres", "blank", "sampling", "method_s",
            "method_dof", "accept",
        )  # fmt: skip
        sample = table.text("sample")
        burette = self._instrument(table, "burette", Burette)
        strength = table.call(
            "titres",
            assay_hypochlorite,
            titrant,
            aliquot=self._instrument(table, "aliquot", Pipette),
            titres=self._titres(table, "titres", burette),
            dilutions=[self._dilution(one) for one in table.tables("dilutions")],
            label=table.maybe("label"),
            sampling=self._sampling(table),
            record=f"{self.date} {sample}",
            **self._options(table, burette),
        )
        return sample, self._accepted(table, strength)

    def _dilution(self, table: Table) -> Dilution:
        table.only("pipette", "flask")
        pipette = self._instrument(table, "pipette", Pipette)
        return table.call("flask", Dilution, pipette, self._instrument(table, "flask", Flask))

    def _sampling(self, table: Table) -> Sampling | None:
        if not table.has("sampling"):
            return None
        one = table.table("sampling").only("method", "delay")
        with one.reading():
            return Sampling(method=one.text("method"), delay=one.text("delay"))

    def _reasons(self, table: Table) -> dict[str, str]:
        if not table.has("accept"):
            return {}
        accepted = table.table("accept")
        return {code: accepted.text(code) for code in accepted.data}

    def _accepted(self, table: Table, result: _R) -> _R:
        for code, reason in self._reasons(table).items():
            result = table.table("accept").call(code, result.accepting, code, because=reason)
        return result

    def _dose(self, table: Table, strengths: Mapping[str, Strength]) -> Dose:
        table.only("of", "deliver", "limit", "into", "with", "assurance", "available", "accept")
        chosen = table.text("of") if table.has("of") else None
        if chosen is not None and chosen not in strengths:
            raise table.error("of", "no sample of this name is assayed on the sheet.", given=chosen,
                              remedy=nearest(chosen, strengths))  # fmt: skip
        used = list(strengths.values()) if chosen is None else [strengths[chosen]]
        dispenser = self._dispenser(table)
        with table.reading():
            return dose(
                used,
                deliver=self._deliverable(table, "deliver"),
                limit=self._deliverable(table, "limit") if table.has("limit") else None,
                dispenser=dispenser,
                into=table.maybe("into"),
                assurance=table.number("assurance", 0.95),
                available=table.maybe("available"),
                accept=self._reasons(table),
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
        titrant = self._titrant()
        with self.root.table("standardisation").reading():
            refuse_blocked(titrant.flags, what="the titrant")
        strengths: dict[str, Strength] = {}
        for table in self.root.tables("assay"):
            sample, strength = self._strength(table, titrant)
            if sample in strengths:
                raise table.error("sample", "two samples have this name.", given=sample, remedy="Name them apart.")
            strengths[sample] = strength
        if not strengths:
            raise self.root.error(
                "", "there is no [assay] on the sheet.", remedy="Add a table [assay] with its titres."
            )
        return SheetResult(
            title=self.title,
            date=self.date,
            titrant=titrant,
            strengths=strengths,
            doses=tuple(self._dose(table, strengths) for table in self.root.tables("dose")),
            level=self.level,
        )


_TITRE_FORM = 'Write ["0.00 mL", "24.35 mL"], or { initial = "0.00 mL", final = "24.35 mL", void = "overshot" }.'
