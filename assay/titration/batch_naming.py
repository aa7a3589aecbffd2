"""How a batch of assays and its rows are known."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import overload

from assay.bench.titre_batch import TitreBatch
from assay.errors import DataError
from assay.metrology.identity import fresh_id, path_part
from assay.titration.blanks import Blank
from assay.titration.titres import record_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Naming:
    """How a batch and its rows are known.

    Parameters
    ----------
    path : str
        The path of the whole.
    record : str
        Its name.
    names : sequence of str
        Those of its rows.

    """

    path: str
    record: str
    names: Sequence[str]


class _Numbered(Sequence[str]):
    """Names of rows that are only counted, made when they are asked for."""

    def __init__(self, record: str, rows: int) -> None:
        self._record, self._rows = record, range(rows)

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, i: int) -> str: ...
    @overload
    def __getitem__(self, i: slice) -> list[str]: ...
    def __getitem__(self, i: int | slice) -> str | list[str]:
        if isinstance(i, slice):
            return [self._name(k) for k in self._rows[i]]
        return self._name(self._rows[i])

    def __iter__(self) -> Iterator[str]:
        return map(self._name, self._rows)

    def index(self, value: str, start: int = 0, stop: int | None = None) -> int:
        """Return the row of this name, without looking at all of them."""
        del start, stop
        head, _, number = value.rpartition(" ")
        if not number.isdecimal() or not 1 <= int(number) <= len(self) or value != self._name(int(number) - 1):
            raise ValueError(value)
        del head
        return int(number) - 1

    def _name(self, i: int) -> str:
        return f"{self._record}, row {i + 1}"


def naming_of(titres: TitreBatch, blank: Blank | TitreBatch, record: str | None, names: Sequence[str] | None) -> Naming:
    """Return how a batch and its rows are known; see `assay_hypochlorite_batch`.

    Raises
    ------
    DataError
        If the titres are not in rows, names and titres do not agree in number, or a name stands twice or is no text.

    """
    given: object = titres
    if not isinstance(given, TitreBatch):
        raise DataError(
            "the titres of a batch are readings in rows",
            argument="titres",
            given=type(given).__name__,
            expected="a TitreBatch",
            remedy="Write TitreBatch(burette=burette, final=[[24.30, 24.40], …], unit='mL'), or give the titres of one "
            "sample to the assay of one.",
        )
    if isinstance(names, str):
        raise DataError(
            "each row has a name of its own", argument="names", given=names, remedy=f"Write [{names!r}, …]."
        )
    unnamed = "batch" if names is not None else fresh_id("batch").rsplit("/", 1)[-1]
    whole = unnamed if record is None else path_part(record, argument="record")
    texts = [titres.digest(), blank.digest() if isinstance(blank, TitreBatch) else ""]
    if names is None:
        return Naming(path=record_path(whole, texts), record=whole, names=_Numbered(whole, len(titres)))
    listed = tuple(path_part(name, argument="names") for name in names)
    twice = [name for name, count in Counter(listed).items() if count > 1][:3]
    if len(listed) != len(titres) or twice:
        raise DataError(
            "each row has a name of its own",
            argument="names",
            given=", ".join(twice) or f"{len(listed)} names",
            expected=f"{len(titres)} different names",
            remedy="Two assays of one drum are told apart by a date or a number.",
        )
    digest = hashlib.sha256("\n".join(listed).encode()).hexdigest()
    return Naming(path=record_path(whole, [*texts, digest]), record=whole, names=listed)
