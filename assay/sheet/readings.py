"""Titres and weighings as they stand on a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

from assay.bench.air import Air
from assay.bench.balance import Balance, weighed_density
from assay.bench.burette import Burette
from assay.bench.weighing import Weighing
from assay.sheet.instruments import Instruments
from assay.sheet.table import Table
from assay.titration.titres import AnyTitre
from assay.units import Written

_Read = TypeVar("_Read", Balance, Burette)

_BY_MASS = ', or, if the titrant was weighed, write each titre as { before = "82.415 g", after = "57.466 g" }'
TITRE_FORM = (
    'Write ["0.00 mL", "24.35 mL"], or { initial = "0.00 mL", final = "24.35 mL", void = "overshot" }, '
    'or by mass { before = "82.415 g", after = "57.466 g" }.'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What a table's readings are read on: its burette, its balance.

    Parameters
    ----------
    table : Table
        The table that names them.
    instruments : Instruments
        The instruments of the sheet.
    air : Air, optional
        The air at the balance, if the sheet states it.

    """

    table: Table
    instruments: Instruments
    air: Air | None = None

    def burette(self, at: Table) -> Burette:
        """Return the table's burette; where it names none, the error stands at the reading that needs one."""
        if self.titrant_density() is not None:
            raise self.table.error(
                "titrant_density",
                "a titre by volume needs no density; it would not be used.",
                remedy=f"Leave it out{_BY_MASS}.",
            )
        return self._named(at, "burette", Burette, "B1")

    def balance(self, at: Table) -> Balance:
        """Return the table's balance; where it names none, the error stands at the reading that needs one."""
        return self._named(at, "balance", Balance, "W1")

    def _named(self, at: Table, key: str, kind: type[_Read], example: str) -> _Read:
        if not self.table.has(key):
            raise at.error(
                "",
                f"the key {key!r} is missing: a reading of a {key} needs one.",
                remedy=f'Add {key} = "{example}" to the table{_BY_MASS if key == "burette" else ""}.',
            )
        return self.instruments.get(self.table, key, kind)

    def weighing(self, at: Table, *, density: Written | None = None) -> Weighing:
        """Return the weighing that a table holds as gross and tare, of something with a density if that is known."""
        stated = density_at(at, "density")
        buoyed = self.buoyed(density if stated is None else stated)
        return at.call("gross", self.balance(at).by_difference, at.text("gross"), at.text("tare"), **buoyed)

    def buoyed(self, density: Written | None) -> dict[str, Any]:
        """Return what a balance takes to correct for the buoyancy of what has a density; nothing if that is unknown."""
        return {} if density is None else {"density": density, "air": self.air}

    def titrant_density(self) -> str | None:
        """Return the density of the titrant, for titres by mass."""
        return density_at(self.table.showing(titrant_density="1.02 g/mL"), "titrant_density")

    def portions(self, key: str, *, density: Written | None = None) -> list[tuple[Weighing, AnyTitre]]:
        """Return the weighed portions with their titres that the table holds, of something with a density if known."""
        return [self._portion(one, density) for one in self.table.tables(key)]

    def _portion(self, one: Table, density: Written | None) -> tuple[Weighing, AnyTitre]:
        one = one.showing(density="1.16 g/mL").only("gross", "tare", "density", "titre")
        titres = titres_of(one, "titre", self)
        if len(titres) != 1:
            raise one.error("titre" if titres else "", "each portion has one titre.", remedy=TITRE_FORM)
        return self.weighing(one, density=density), titres[0]


def density_at(table: Table, key: str) -> str | None:
    """Return the density of something weighed that a key states, read once where it stands; ``None`` if it does not."""
    stated = table.maybe(key)
    if stated is not None:
        table.call(key, weighed_density, stated, argument=key)
    return stated


def titres_of(table: Table, key: str, means: Means) -> list[AnyTitre]:
    """Return the titres that a key holds: pairs of readings, single readings from zero, or tables."""
    value = table.data.get(key, [])
    if isinstance(value, (str, dict)):
        return [_titre(table, (key,), means, value)]
    if not isinstance(value, list):
        raise table.error(key, "this is not a list of titres.", given=value, remedy=TITRE_FORM)
    if len(value) == 2 and all(isinstance(part, str) for part in value):  # noqa: PLR2004
        if key == "titre":
            return [_titre(table, (key,), means, value)]
        raise table.error(
            key, "two readings may be one titre or two.", given=value,
            remedy=f'Write [["{value[0]}", "{value[1]}"]] for one titre, or '
            f'[{{ final = "{value[0]}" }}, {{ final = "{value[1]}" }}] for two from zero.',
        )  # fmt: skip
    return [_titre(table, (key, k), means, item) for k, item in enumerate(value)]


def _titre(table: Table, place: tuple[str | int, ...], means: Means, item: object) -> AnyTitre:
    data = item if isinstance(item, dict) else {}
    one = Table(source=table.source, path=(*table.path, *place), data=data)
    with one.reading():
        if isinstance(item, str):
            return means.burette(one).titre(item)
        if isinstance(item, list) and len(item) == 2 and all(isinstance(part, str) for part in item):  # noqa: PLR2004
            return means.burette(one).titre(item[0], item[1])
        if isinstance(item, dict) and "before" in item:
            one.only("before", "after", "rough", "void")
            return means.balance(one).titre(
                one.text("before"),
                one.text("after"),
                rough=one.truth("rough"),
                void=one.text("void", ""),
                **means.buoyed(means.titrant_density()),
            )
        if isinstance(item, dict):
            one.only("initial", "final", "refilled", "rough", "void")
            return means.burette(one).titre(
                one.text("initial", "0 mL"),
                one.text("final"),
                refilled=_refilled(one),
                rough=one.truth("rough"),
                void=one.text("void", ""),
            )
    raise one.error("", "this is not a titre.", given=item, remedy=TITRE_FORM)


def _refilled(table: Table) -> list[tuple[str, str]]:
    pairs = []
    for pair in table.items("refilled"):
        if not (isinstance(pair, list) and len(pair) == 2 and all(isinstance(part, str) for part in pair)):  # noqa: PLR2004
            raise table.error(
                "refilled", "this is a list of pairs of readings.", given=pair,
                remedy='Write refilled = [["0.00 mL", "3.20 mL"]].',
            )  # fmt: skip
        pairs.append((pair[0], pair[1]))
    return pairs
