"""A table of a sheet, read key by key: unknown and missing keys and wrong kinds of value are named with their line."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TypeVar

from assay.errors import AssayError, SheetError, nearest
from assay.sheet.source import Path, Source

_T = TypeVar("_T")

_KINDS = {str: "a text in double quotes", list: "a list in [square brackets]", dict: "a table", bool: "true or false"}


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

    """

    source: Source
    path: Path
    data: dict[str, Any]

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

    def number(self, key: str, default: float) -> float:
        """Return a pure number."""
        value = self.data.get(key, default)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise self.error(key, "a pure number stands here, without quotes and without unit.", given=value)
        return float(value)

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
            raise self.error("", f"the key {key!r} is missing.", remedy=_missing(key, self.data))
        value = self.data[key]
        if not isinstance(value, kind):
            remedy = f'Write {key} = "{value}".' if kind is str and isinstance(value, (int, float)) else ""
            if kind is str and isinstance(value, (int, float)) and not isinstance(value, bool):
                remedy = f'A reading is a text with its unit and all its decimals, for example {key} = "{value} mL".'
            raise self.error(key, f"this is {_KINDS[kind]}.", given=value, remedy=remedy)
        return value

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
        own = _KEY_OF.get(error.argument, error.argument)
        at = (*self.path, own) if own in self.data else ((*self.path, key) if key else self.path)
        about = f"{error.argument}: " if error.argument and error.argument not in at else ""
        return self.source.error(
            at, f"{about}{error.problem}", given=error.given, expected=error.expected, remedy=error.remedy
        )


#: Argument names of the library that a sheet writes otherwise.
_KEY_OF = {"accuracy_class": "class", "dispenser": "with", "edition": "atomic_weights"}


def _missing(key: str, present: Iterable[str]) -> str:
    phrase = nearest(key, present) if present else ""
    return f"{phrase.replace('Did you mean', 'Is it written as')}" if phrase.startswith("Did") else f"Add {key} = …"
