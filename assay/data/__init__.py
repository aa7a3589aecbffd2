"""The tables and the one reader of them.

A table of values has the columns ``[index…],value,u,half_width,dof,unit,shape,source,locator,provenance,note``; a
table of facts has ``[index…],fact,source,locator,provenance,note``. What the columns mean and how a row is added is
written in ``README.md`` beside the tables. Nothing here knows chemistry: a row is looked up by its index columns and
returned whole, with its source.
"""

from __future__ import annotations

import csv
import hashlib
import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Final

from assay.data._table import Fact, Row, Table
from assay.errors import DataError, nearest

__all__ = [
    "PROVENANCES",
    "SHAPES",
    "Fact",
    "Reference",
    "Row",
    "Table",
    "facts",
    "references",
    "table",
    "table_digests",
    "table_names",
    "text_resource",
]

#: How a number came into a table: seen in its source, calculated from what was seen, agreed by the trade, or recalled.
PROVENANCES: Final = ("read", "computed", "common practice", "memory")

#: Shapes that a row may name (JCGM 101:2008, table 1): those that can be drawn from.
SHAPES: Final = ("normal", "rectangular", "triangular")

_VALUE_COLUMNS: Final = (
    "value", "u", "half_width", "dof", "unit", "shape", "source", "locator", "provenance", "note",
)  # fmt: skip
_FACT_COLUMNS: Final = ("fact", "source", "locator", "provenance", "note")
_SEEN: Final = ("read", "excerpt", "memory")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """One published source, or the common practice of the trade.

    Parameters
    ----------
    key : str
        Name by which tables and docstrings cite it.
    citation : str
        Authors, title and place.
    year : int or None
        Year of the edition used; ``None`` where the copy that was read shows none.
    kind : str
        Article, book, guide, standard and so on.
    seen : str
        ``"read"``, ``"excerpt"`` or ``"memory"``.
    how : str
        What was seen of it, in a sentence.
    doi, isbn : str
        Empty if there is none.

    """

    key: str
    citation: str
    year: int | None
    kind: str
    seen: str
    how: str
    doi: str = ""
    isbn: str = ""


@cache
def table(name: str) -> Table[Row]:
    """Return the table of values with this name.

    Parameters
    ----------
    name : str
        Name of the file without its ending.

    Raises
    ------
    DataError
        If there is no such table, if it is a table of facts, or if a line of it cannot be read.

    Examples
    --------
    >>> table("primary_standards").find(name="potassium iodate", quantity="purity").half_width
    0.0005

    """
    header, lines = _read(name, _VALUE_COLUMNS, "facts")
    columns, units = _index_columns(header)
    width = len(columns)
    rows = tuple(_row(name, number, tuple(zip(columns, line, strict=False)), line[width:]) for number, line in lines)
    return Table(name=name, columns=columns, units=units, rows=rows)


@cache
def facts(name: str) -> Table[Fact]:
    """Return the table of facts with this name.

    Parameters
    ----------
    name : str
        Name of the file without its ending.

    Raises
    ------
    DataError
        If there is no such table, if it is a table of values, or if a line of it cannot be read.

    Examples
    --------
    >>> facts("elements_without_weight").find(symbol="Tc").fact
    'no standard atomic weight: no isotope mixture of its own on Earth'

    """
    header, lines = _read(name, _FACT_COLUMNS, "table")
    columns, units = _index_columns(header)
    rows = tuple(_fact(tuple(zip(columns, line, strict=False)), line[len(columns) :]) for _, line in lines)
    return Table(name=name, columns=columns, units=units, rows=rows)


def table_names() -> tuple[str, ...]:
    """Return the names of all tables, of values and of facts, in alphabetical order."""
    return tuple(name.removesuffix(".csv") for name in _file_names() if name.endswith(".csv"))


@cache
def table_digests() -> dict[str, str]:
    """Return the start of the SHA-256 of each table, by name: which state of the tables a result was made with."""
    return {name: hashlib.sha256(text_resource(f"{name}.csv").encode()).hexdigest()[:12] for name in table_names()}


def references() -> dict[str, Reference]:
    """Return all sources by key.

    Raises
    ------
    DataError
        If an entry of the file lacks a field, has an unknown one, or does not say how the source was seen.

    Examples
    --------
    >>> references()["jcgm-101-2008"].year
    2008

    """
    return dict(_references())


@cache
def _references() -> dict[str, Reference]:
    return {key: _reference(key, fields) for key, fields in tomllib.loads(text_resource("references.toml")).items()}


def _reference(key: str, fields: dict[str, Any]) -> Reference:
    try:
        reference = Reference(key=key, **{"year": None, **fields})
    except TypeError as error:
        raise DataError(f"the entry cannot be read: {error}", argument="references.toml", given=key) from None
    if reference.seen not in _SEEN:
        raise DataError(
            "the entry does not say how the source was seen",
            argument="references.toml",
            given=key,
            expected=f"seen = one of {', '.join(_SEEN)}",
        )
    return reference


def text_resource(name: str) -> str:
    """Return the text of a file that stands beside the tables.

    Parameters
    ----------
    name : str
        Name of the file with its ending.

    Raises
    ------
    DataError
        If there is no such file.

    """
    if name not in _file_names():
        remedy = nearest(name, _file_names())
        raise DataError("no such file ships with the library", argument="name", given=name, remedy=remedy)
    return resources.files(__name__).joinpath(name).read_text(encoding="utf-8")


@cache
def _file_names() -> tuple[str, ...]:
    files = (entry.name for entry in resources.files(__name__).iterdir() if entry.is_file())
    return tuple(sorted(name for name in files if not name.endswith((".py", ".pyc"))))


def _read(name: str, trailer: tuple[str, ...], other_reader: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Return the index part of the header, and the lines of the file with their numbers."""
    if name not in table_names():
        raise DataError("no such table", argument="name", given=name, remedy=nearest(name, table_names()))
    reader = csv.reader(text_resource(f"{name}.csv").splitlines(), strict=True)
    header = next(reader)
    if tuple(header[-len(trailer) :]) != trailer:
        raise DataError(
            f"the header of this table does not end in {','.join(trailer)}",
            argument="name",
            given=name,
            remedy=f"Read it with {other_reader}({name!r}).",
        )
    lines = [(reader.line_num, line) for line in reader]
    for number, line in lines:
        if len(line) != len(header):
            raise _unreadable(name, number, f"has {len(line)} cells, the header has {len(header)}")
    return header[: -len(trailer)], lines


def _index_columns(header: list[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return names and units of index columns such as ``nominal[mL]``."""
    split = [column.removesuffix("]").partition("[") for column in header]
    return tuple(name for name, _, _ in split), tuple(unit for _, _, unit in split)


def _row(name: str, number: int, cells: tuple[tuple[str, str], ...], line: list[str]) -> Row:
    value, u, half_width, dof, unit, shape, source, locator, provenance, note = line
    exact, unstated = u == "exact", u == "unstated"
    has_u = bool(u) and not exact and not unstated
    if (exact, unstated, has_u, bool(half_width)).count(True) != 1:
        raise _unreadable(name, number, "needs a number in u or in half_width, or one of 'exact' and 'unstated' in u")
    return Row(
        cells=cells,
        value=_number(name, number, "value", value),
        u=_number(name, number, "u", u) if has_u else None,
        half_width=_number(name, number, "half_width", half_width) if half_width else None,
        dof=_number(name, number, "dof", dof) if dof else math.inf,
        unit=unit,
        shape=shape,
        source=source,
        locator=locator,
        provenance=provenance,
        note=note,
        exact=exact,
        unstated=unstated,
    )


def _fact(cells: tuple[tuple[str, str], ...], line: list[str]) -> Fact:
    fact, source, locator, provenance, note = line
    return Fact(cells=cells, fact=fact, source=source, locator=locator, provenance=provenance, note=note)


def _number(name: str, number: int, column: str, text: str) -> float:
    try:
        result = float(text)
    except ValueError:
        result = math.nan
    if not math.isfinite(result):
        raise _unreadable(name, number, f"has {text!r} in column {column}, which is no number")
    return result


def _unreadable(name: str, number: int, fault: str) -> DataError:
    return DataError(f"line {number} {fault}", argument=f"{name}.csv")
