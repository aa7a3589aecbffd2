"""A table of a sheet, read key by key: unknown and missing keys and wrong kinds of value are named with their line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from assay.errors import AssayError, SheetError, nearest
from assay.sheet.source import Path, Source
from assay.substances.strength import Strength

_T = TypeVar("_T")

_KINDS = {
    str: "a text in double quotes is needed here.",
    list: "a list in [square brackets] is needed here.",
    dict: "a table is needed here.",
    bool: "true or false is needed here, without quotes.",
}

_READING = "24.35 mL"
#: What is written for keys that are texts with a unit or a basis, where a number without quotes was found.
_EXAMPLES = {
    **dict.fromkeys(("gross", "tare"), "21.4312 g"),
    **dict.fromkeys(("before", "after"), "82.415 g"),
    **dict.fromkeys(("readability", "repeatability", "linearity"), "0.1 mg"),
    **dict.fromkeys(("read_to", "tolerance", "method_s"), "0.05 mL"),
    "capacity": "50 mL",
    "subdivision": "0.1 mL",
    **dict.fromkeys(("initial", "final"), _READING),
    **dict.fromkeys(("purity", "half_width"), "99.95 % w/w"),
    **dict.fromkeys(("deliver", "limit"), "0.100 mol OCl-"),
    "label": "15 % w/v available chlorine",
    "delay": "15 min",
    "loss_in": "1 h",
    "places": "top, middle and bottom",
    "mixing": "rolled for 5 min",
    "basis": "g/L available chlorine",
    "known": "100.0 g/L available chlorine",
    "method": "drum rolled, drawn through the tap",
    "available": "18 L",
    "void": "overshot",
    "indicator": "phenolphthalein",
    "operator": "first bench",
    **dict.fromkeys(("excess", "u"), "0.03 mL"),
    "liquids": "22 °C",
    "value": "1.160 g/mL",
    "temperature": "20 °C",
    "filled": "150 g/L available chlorine",
    "pipette": "P10",
    "flask": "F250",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of a sheet.

    Parameters
    ----------
    source : Source
        The sheet.
    path : tuple
        Where in it the table stands.
    data : dict
        What it says.
    examples : mapping of str to str
        What is written for keys of this table, where that is not what is written elsewhere.

    """

    source: Source
    path: Path
    data: dict[str, Any]
    examples: Mapping[str, str] = field(default_factory=dict)

    def showing(self, **examples: str) -> Table:
        """Return the table with examples of its own for messages."""
        return replace(self, examples={**self.examples, **examples})

    def _example(self, key: str) -> str:
        """Return what is written for a key; empty if there is no example."""
        return self.examples.get(key, _EXAMPLES.get(key, ""))

    def only(self, *known: str) -> Table:
        """Return the table, or raise `SheetError` if it has a key that is not among these."""
        for key in self.data:
            if key not in known:
                raise self.source.error((*self.path, key), "unknown key.", remedy=nearest(key, known))
        return self

    def has(self, key: str) -> bool:
        """Return whether the key is there."""
        return key in self.data

    def error(self, key: str, problem: str, **parts: Any) -> SheetError:  # noqa: ANN401  (parts of an error)
        """Return an error that names this table and a key."""
        return self.source.error((*self.path, key) if key else self.path, problem, **parts)

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text; the default, if there is one, where the key is missing."""
        return self._value(key, str, default)

    def maybe(self, key: str) -> str | None:
        """Return a text, or ``None`` where the key is missing."""
        return self.text(key) if self.has(key) else None

    def items(self, key: str) -> list[Any]:
        """Return a list, empty where the key is missing."""
        return self._value(key, list, [])

    def truth(self, key: str) -> bool:
        """Return true or false; false where the key is missing."""
        return self._value(key, bool, default=False)

    def number(self, key: str, default: float | None = None) -> float:
        """Return a pure number; the default, if there is one, where the key is missing."""
        value = self.data.get(key, default)
        if value is None:
            raise self.missing(key)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.error(key, "a pure number is needed here, without quotes and without unit.", given=value)
        return float(value)

    def day(self, key: str, default: dt.date | None = None) -> dt.date:
        """Return a date; the default, if there is one, where the key is missing."""
        value = self.data.get(key, default)
        if value is None:
            raise self.missing(key)
        if isinstance(value, dt.datetime) or not isinstance(value, dt.date):
            raise self.error(
                key,
                "this is not a date.",
                given=str(value),
                remedy=f"Write for example {key} = 2026-11-16, without quotes.",
            )
        return value

    def dated(self, key: str) -> str:
        """Return a date as text, written in quotes or without them."""
        return str(self.day(key)) if isinstance(self.data.get(key), dt.date) else self.text(key)

    def whole(self, key: str, default: int) -> int:
        """Return a whole number; the default where the key is missing."""
        value = self.data.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.error(key, "a whole number is needed here, without quotes.", given=value)
        return value

    def table(self, key: str) -> Table:
        """Return a table inside this one."""
        return Table(source=self.source, path=(*self.path, key), data=self._value(key, dict, None))

    def tables(self, key: str) -> list[Table]:
        """Return the tables of an array; a single table counts as an array of one, a missing one as none."""
        value = self.data.get(key, [])
        if isinstance(value, dict):
            return [self.table(key)]
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.error(key, f"this is a table: write [{key}], or [[{key}]] for several.", given=str(value)[:60])
        return [Table(source=self.source, path=(*self.path, key, k), data=item) for k, item in enumerate(value)]

    def _value(self, key: str, kind: type[_T], default: _T | None) -> _T:
        if key not in self.data:
            if default is not None:
                return default
            raise self.missing(key)
        value = self.data[key]
        if not isinstance(value, kind):
            given = None if isinstance(value, (dict, list)) else value
            as_text = _as_text(key, value, self._example(key)) if kind is str else ""
            remedy = self._several(key, value) if kind is dict else as_text
            raise self.error(key, _KINDS[kind], given=given, remedy=remedy)
        return value

    def missing(self, key: str) -> SheetError:
        """Return an error that says which key this table lacks."""
        if not self.path and key in {"instruments", "standardisation"}:
            return self.error("", f"the table [{key}] is missing.", remedy="Add it: the demo sheet shows its keys.")
        example = f'"{self._example(key)}"' if self._example(key) else "…"
        return self.error("", f"the key {key!r} is missing.", remedy=f"Add {key} = {example}.")

    def _several(self, key: str, value: object) -> str:
        if isinstance(value, list) and all(isinstance(item, dict) for item in value):
            return "It stands once, in single brackets: [" + ".".join(map(str, (*self.path, key))) + "]."
        return f"Give it a header of its own: [{'.'.join(str(p) for p in (*self.path, key) if isinstance(p, str))}]."

    @contextmanager
    def reading(self, key: str = "") -> Iterator[None]:
        """Turn an `AssayError` raised inside into a `SheetError` that names this table, the key and the line."""
        try:
            yield
        except SheetError:
            raise
        except AssayError as error:
            raise self._placed(error, key) from None

    def call(self, key: str, function: Callable[..., _T], *args: Any, **kwargs: Any) -> _T:  # noqa: ANN401  (any function)
        """Return what a function returns, its errors placed at a key."""
        with self.reading(key):
            return function(*args, **kwargs)

    def _placed(self, error: AssayError, key: str) -> SheetError:
        if error.problems:
            placed = [self._placed(problem, key) for problem in error.problems]
            return SheetError(
                f"{len(placed)} things need mending:\n" + "\n".join(f"  - {one}" for one in placed),
                problems=tuple(placed),
            )
        argument = error.argument.partition(" of the ")[0]
        own = argument if argument in self.data else _KEY_OF.get(argument, argument)
        at = (*self.path, own) if own in self.data else ((*self.path, key) if key else self.path)
        about = f"{error.argument}: " if argument and own not in at and argument not in _UNTOLD else ""
        return self.source.error(
            at, f"{about}{error.problem}", given=error.given, expected=error.expected, remedy=error.remedy
        )


def named_strength(table: Table, key: str, strengths: Mapping[str, Strength]) -> Strength:
    """Return the strength of the sample that a key names."""
    chosen = table.text(key)
    if chosen not in strengths:
        raise table.error(
            key, "no sample of this name is assayed on the sheet.", given=chosen, remedy=nearest(chosen, strengths)
        )
    return strengths[chosen]


#: Argument names of the library that a sheet writes otherwise.
_KEY_OF = {
    "accuracy_class": "class",
    "dispenser": "with",
    "edition": "atomic_weights",
    "record": "sample",
    "number": "equivalents",
    "liquid": "liquids",
}

#: Argument names that say nothing at the bench.
_UNTOLD = {"code", "because", "dilution", "name", "results"}


def _as_text(key: str, value: object, example: str) -> str:
    """Return how a value is written as a text, where another kind of value was found."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return f'Write for example {key} = "{example}".' if example else ""
    if example:
        return f'Write number, unit and all decimals between quotes, for example {key} = "{example}".'
    return f'Write {key} = "{value}".'
