"""Standardisations and assays as they stand on a sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from assay.bench.sampling import Sampling
from assay.bench.setting import one_delivery
from assay.bench.temperature import Temperature
from assay.errors import nearest
from assay.flags import refuse_blocked
from assay.sheet.air import air_of
from assay.sheet.instruments import Instruments
from assay.sheet.readings import Means, density_at, titres_of
from assay.sheet.sampling import sampling_of
from assay.sheet.table import Table
from assay.substances.density import Density, density_by_weighing, measured_density
from assay.substances.molar_mass import DEFAULT_EDITION
from assay.substances.species import HYPOCHLORITE, Species, is_species, species_named
from assay.substances.strength import Strength
from assay.titration.acid_base import assay_acid_base
from assay.titration.assays import Dilution
from assay.titration.drift import titrant_at
from assay.titration.end_point import EndPoint
from assay.titration.facts import label_strength
from assay.titration.iodometry import SODIUM, assay_hypochlorite
from assay.titration.standardisation import (
    standardise_by_aliquots,
    standardise_by_comparison,
    standardise_by_portions,
)
from assay.titration.standards import PrimaryStandard, StandardSolution
from assay.titration.titrant import Titrant

_R = TypeVar("_R", Titrant, Strength)

_METHOD = ("method_s", "method_dof")
_COMMON = ("burette", "balance", "titrant_density", "blank", *_METHOD, "end_point", "accept")
_STANDARD = ("standard", "lot", "purity", "half_width", "atomic_weights", "density")
_SAMPLE = ("aliquot", "titres", "portion", "dilutions")


def reasons(table: Table) -> dict[str, str]:
    """Return the flags that a table accepts, each with its reason."""
    if not table.has("accept"):
        return {}
    accepted = table.table("accept")
    return {code: accepted.text(code) for code in accepted.data}


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """What the steps of one sheet share.

    Parameters
    ----------
    date : datetime.date
        Day of the readings.
    root : Table
        The whole sheet.
    instruments : Instruments
        Its instruments.

    """

    date: dt.date
    root: Table
    instruments: Instruments

    def titrants(self) -> dict[str, Titrant]:
        """Return the titrants by what they are, each of which may be standardised with those before it."""
        found: dict[str, Titrant] = {}
        tables = self.root.tables("standardisation")
        if not tables:
            raise self.root.missing("standardisation")
        dated: dict[str, dict[dt.date, Titrant]] = {}
        for table in tables:
            day = self._day(table)
            on_that_day = replace(self, date=day)
            titrant = self._accepted(table, on_that_day._titrant(table, found))  # noqa: SLF001  (the same steps, dated)
            with table.reading():
                refuse_blocked(titrant.flags, what="the titrant")
            if table.has("compared_with") and not table.has("on"):
                dated.pop(titrant.name, None)  # it takes the place of the one that it was compared with
            days = dated.setdefault(titrant.name, {})
            if day in days:
                raise table.error(
                    "on" if table.has("on") else "",
                    f"{titrant.name} was standardised above as well; that one would not be used.",
                    remedy="Keep one of the two, and check the other on a sheet of its own; or give each its day, "
                    "on = 2026-11-02, and the titrant is taken between them.",
                )
            days[day] = titrant
            found[titrant.name] = titrant if len(days) == 1 else table.call("on", titrant_at, days, self.date)
        return found

    def _day(self, table: Table) -> dt.date:
        """Return the day of a standardisation: that of the sheet, if it has none of its own."""
        return table.day("on", self.date)

    def _titrant(self, table: Table, known: Mapping[str, Titrant]) -> Titrant:
        if table.has("compared_with"):
            return self._by_comparison(table, known)
        if table.has("species"):
            _, strength = self._acid_base(table, known, extra=("species", "on"), sample=_species(table).name)
            return table.call("species", Titrant.from_strength, strength)
        table.only(*_STANDARD, *_COMMON, "on", "gross", "tare", "flask", "aliquot", "titres", "portion")
        with table.reading():
            standard = PrimaryStandard(
                table.text("standard"),
                lot=table.maybe("lot"),
                purity=table.text("purity"),
                half_width=table.text("half_width"),
                edition=table.text("atomic_weights", DEFAULT_EDITION),
            )
        means = self._means(table.showing(density="3.9 g/mL"))
        density = density_at(means.table, "density") or (standard.density if means.air is not None else None)
        options = self._options(means) | {"record": f"{self.date} {standard.titrant}"}
        if table.has("portion"):
            _refuse_beside_portions(table, "titres", "flask", "aliquot", "gross", "tare")
            return table.call(
                "portion",
                standardise_by_portions,
                standard,
                portions=means.portions("portion", density=density),
                **options,
            )
        flask = self.instruments.made_up(table, "flask")
        weighing = means.weighing(means.table, density=density)
        solution = StandardSolution(standard=standard, weighing=weighing, flask=flask)
        titres = titres_of(table, "titres", means)
        aliquot = self.instruments.taken(table, "aliquot")
        return table.call("titres", standardise_by_aliquots, solution, aliquot=aliquot, titres=titres, **options)

    def _by_comparison(self, table: Table, known: Mapping[str, Titrant]) -> Titrant:
        table.only(*_COMMON, "on", "compared_with", "known_titres", "titres")
        means = self._means(table)
        return table.call(
            "titres",
            standardise_by_comparison,
            _named(table, "compared_with", known),
            known_titres=titres_of(table, "known_titres", means),
            titres=titres_of(table, "titres", means),
            record=f"{self.date} {table.text('compared_with')}",
            **self._options(means),
        )

    def strength(self, table: Table, titrants: Mapping[str, Titrant]) -> tuple[str, Strength]:
        """Return name and strength of the sample that a table assays."""
        sample = table.text("sample")
        extra = ("sample", "species", "titrant", "label", "sampling", "density")
        if _species(table, default="hypochlorite").kind != "hypochlorite":
            return self._acid_base(table, titrants, extra=extra, sample=sample)
        table.only(*extra, "source", *_SAMPLE, *_COMMON)
        arguments = self._sample(table, sample, HYPOCHLORITE)
        if arguments.pop("end_point") is not None:
            raise table.error("end_point", "the end point of iodometry is that of starch.", remedy="Leave it out.")
        strength = table.call(
            "titres",
            assay_hypochlorite,
            _titrant_for(table, HYPOCHLORITE, titrants),
            source=table.text("source", SODIUM),
            **arguments,
        )
        return sample, self._with_density(table, self._accepted(table, strength))

    def _acid_base(
        self, table: Table, titrants: Mapping[str, Titrant], *, extra: tuple[str, ...], sample: str
    ) -> tuple[str, Strength]:
        table.only(*extra, *_SAMPLE, *_COMMON)
        species = _species(table)
        arguments = self._sample(table, sample, species)
        if arguments["end_point"] is None:
            raise table.error(
                "", "the indicator is not named.", remedy='Add end_point = { indicator = "…", operator = "…" }.'
            )
        titrant = _titrant_for(table, species, titrants)
        strength = table.call("titres", assay_acid_base, titrant, species.name, **arguments)
        return sample, self._with_density(table, self._accepted(table, strength))

    def _sample(self, table: Table, sample: str, species: Species) -> dict[str, Any]:
        means = self._means(table)
        if table.has("portion"):
            _refuse_beside_portions(table, "titres", "aliquot", "dilutions")
            taken: dict[str, Any] = {"portions": means.portions("portion")}
        else:
            taken = {
                "aliquot": self.instruments.taken(table, "aliquot"),
                "titres": titres_of(table, "titres", means),
                "dilutions": [self._dilution(one, means) for one in table.tables("dilutions")],
            }
        weighed = table.has("portion") or any("gross" in one.data for one in table.tables("dilutions")[:1])
        return {
            **taken,
            **self._options(means),
            "label": _label(table, species, per_mass=weighed),
            "sampling": self._sampling(table),
            "record": f"{self.date} {sample}",
        }

    def _means(self, table: Table) -> Means:
        air = air_of(self.root, day=str(self.date)) if self.root.has("air") else None
        return Means(table=table, instruments=self.instruments, air=air)

    def _options(self, means: Means) -> dict[str, Any]:
        table = means.table
        return {
            "blank": titres_of(table, "blank", means) or None,
            "end_point": self._end_point(table),
            "temperature": self._temperature(),
            "method_s": table.maybe("method_s"),
            "method_dof": table.number("method_dof", float("inf")),
        }

    def _end_point(self, table: Table) -> EndPoint | None:
        if not table.has("end_point"):
            return None
        one = table.table("end_point").only("indicator", "operator", "excess", "u")
        with one.reading():
            return EndPoint(
                one.text("indicator"),
                operator=one.maybe("operator"),
                excess=one.text("excess", "0.00 mL"),
                u=one.text("u", "0.03 mL"),
            )

    def _temperature(self) -> Temperature | None:
        if not self.root.has("temperature"):
            return None
        one = self.root.table("temperature").only("liquids", "half_width").showing(half_width="2 K")
        with one.reading():
            return Temperature(one.text("liquids"), half_width=one.text("half_width"), day=str(self.date))

    def temperature_stated(self) -> str:
        """Return what the sheet states of the temperature; empty if nothing."""
        if not self.root.has("temperature"):
            return ""
        one = self.root.table("temperature")
        return f"{one.text('liquids')} ± {one.text('half_width')}"

    def _dilution(self, table: Table, means: Means) -> Dilution:
        table = table.showing(density="1.16 g/mL").only("pipette", "flask", "gross", "tare", "density")
        flask = self.instruments.made_up(table, "flask")
        if table.has("gross"):
            if table.has("pipette"):
                raise table.error(
                    "pipette", "the sample is weighed and pipetted at once.", remedy="Keep one of the two."
                )
            return table.call("flask", Dilution, means.weighing(table), flask)
        if table.has("density"):
            raise table.error("density", "what is taken by volume needs no density here.", remedy="Leave it out.")
        return table.call("flask", Dilution, self.instruments.taken(table, "pipette"), flask)

    def _sampling(self, table: Table) -> Sampling | None:
        if not table.has("sampling"):
            return None
        return sampling_of(table.table("sampling"))

    def _with_density(self, table: Table, strength: Strength) -> Strength:
        if not table.has("density"):
            return strength
        one = table.table("density").only(
            "value", "half_width", "temperature", "gross", "tare", "pipette", "assumed", "filled"
        )
        one = one.showing(half_width="0.002 g/mL")
        if one.truth("assumed"):
            filled = one.maybe("filled")
            return one.call("assumed" if filled is None else "filled", strength.assuming_density, filled=filled)
        if one.has("filled"):
            raise one.error(
                "filled", "only an assumed density goes by the strength when filled; here it would not be used.",
                remedy="Add assumed = true and leave the measured density out, or leave this out.",
            )  # fmt: skip
        return strength.with_density(self._density(one, table, strength.label))

    def _density(self, one: Table, table: Table, label: str) -> Density:
        if one.has("gross"):
            pipette = self.instruments.taken(one, "pipette")
            means = self._means(table)
            weighing = means.weighing(one)
            if means.air is not None:  # buoyed up as a liquid of the density that the readings give
                buoyed = f"{weighing.nominal / pipette.volume().value:.6g} g/L"
                weighing = means.weighing(one, density=buoyed)
            record = f"record/{label}/density/{weighing.readings()}"
            mass, volume = weighing.mass(record, weighed="density"), one_delivery(pipette, record)
            return one.call("temperature", density_by_weighing, mass, volume, temperature=one.text("temperature"))
        with one.reading():
            return measured_density(
                one.text("value"),
                half_width=one.text("half_width"),
                temperature=one.text("temperature"),
                name=label.replace("/", "-"),
            )

    def _accepted(self, table: Table, result: _R) -> _R:
        for code, reason in reasons(table).items():
            result = table.table("accept").call(code, result.accepting, code, because=reason)
        return result


def _species(table: Table, default: str | None = None) -> Species:
    """Return the reagent that a table names, by any of its names."""
    return table.call("species", species_named, table.text("species", default))


def _label(table: Table, species: Species, *, per_mass: bool) -> str | None:
    """Return the label's strength, read once where it stands, so that a mistake is told at its key."""
    stated = table.showing(label=f"15 {species.bases[2].key}").maybe("label")
    if stated is not None:
        table.call("label", label_strength, stated, species=species, per_mass=per_mass)
    return stated


def _refuse_beside_portions(table: Table, *keys: str) -> None:
    for key in keys:
        if table.has(key):
            raise table.error(
                key, "there are weighed portions on the sheet as well; this would not be used.",
                remedy=f"Keep the portions, or {', '.join(keys)}.",
            )  # fmt: skip


def _named(table: Table, key: str, titrants: Mapping[str, Titrant]) -> Titrant:
    name = table.text(key)
    if name not in titrants and is_species(name):
        name = species_named(name).name
    if name not in titrants:
        raise table.error(
            key, "no such titrant was standardised before.", given=name,
            remedy=nearest(name, titrants) if titrants else "Give its [[standardisation]] first.",
        )  # fmt: skip
    return titrants[name]


def _titrant_for(table: Table, species: Species, titrants: Mapping[str, Titrant]) -> Titrant:
    if table.has("titrant"):
        return _named(table, "titrant", titrants)
    wanted = species.titrant
    if wanted not in titrants:
        raise table.error(
            "", f"{species.name} is titrated with {wanted}, which is not standardised on this sheet.",
            remedy=f"Add a [[standardisation]] of {wanted}.",
        )  # fmt: skip
    return titrants[wanted]
