"""Results in files: what was found today is correlated with what is found next month."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TypeAlias

from assay.data import table_digests
from assay.errors import DataError, nearest
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.saved import Document, decoded, encoded
from assay.substances.strength import Strength
from assay.titration.batch import StrengthBatch
from assay.titration.titrant import Titrant

Saveable: TypeAlias = Estimate | Strength | Titrant


def _estimate(entry: Entry) -> Estimate:
    return entry.estimate


def _entry_of(name: str, result: object) -> Entry:
    """Return what is written of a result."""
    if isinstance(result, Estimate):
        return Entry(kind="estimate", facts={}, estimate=result)
    if isinstance(result, (Strength, Titrant)):
        return result.entry()
    remedy = "Save the strengths, titrants or estimates that it was made from, or that it holds."
    if isinstance(result, (EstimateBatch, StrengthBatch)):
        remedy = (
            "Save its rows: save(path, **{f'row {i}': batch[i] for i in range(len(batch)) if not batch.mask[i]}); they "
            "keep what they share."
        )
    raise DataError(
        f"{type(result).__name__} cannot be saved",
        argument=name,
        given=repr(result)[:80],
        expected="an estimate, a strength or a titrant",
        remedy=remedy,
    )


_SHOWN = 5
_KINDS: Mapping[str, Callable[[Entry], Saveable]] = {
    "estimate": _estimate,
    "strength": Strength.from_entry,
    "titrant": Titrant.from_entry,
}


def save(path: str | Path, **results: Saveable) -> None:
    """Write results to a file.

    Parameters
    ----------
    path : str or Path
        The file, JSON; an existing one is replaced whole or not at all.
    **results : Estimate, Strength or Titrant
        The results, by the names under which they are to be found again.

    Raises
    ------
    DataError
        If there is nothing to save, something is not one of these, or one influence id stands for two sets of facts.

    References
    ----------
    [jcgm-100-2008] F.1.2: what results share as an input is their correlation.

    Examples
    --------
    >>> import assay
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     save(Path(folder) / "today.json", drum=assay.run_demo("drum").strengths["drum 7"])
    ...     print([file.name for file in Path(folder).iterdir()])
    ['today.json']

    """
    if not results:
        raise DataError("there is nothing to save", argument="results", remedy="Write save(path, drum=strength).")
    entries = {name: _entry_of(name, result) for name, result in results.items()}
    target = Path(path)
    # Others may be writing the same file: each has a draft of its own.
    draft = target.with_name(f"{target.name}.{os.getpid()}-{threading.get_ident()}.part")
    contents = encoded(entries, tables=table_digests(), editions=_editions)
    try:
        draft.write_bytes(contents)
        draft.replace(target)
    except OSError as error:
        with suppress(OSError):
            draft.unlink(missing_ok=True)
        raise DataError(
            f"the file cannot be written: {error.strerror}",
            argument="path",
            given=str(path),
            remedy="Check the folder and its rights.",
        ) from None


def _editions(ids: Iterable[str]) -> dict[str, set[str]]:
    """Return the editions of tables in use, by name of the table; each stands in the ids of its values."""
    weights = {id_.split("/")[1] for id_ in ids if id_.startswith("atomic-weight/")}
    return {"atomic_weights": weights} if weights else {}


class Results(Mapping[str, Saveable]):
    """The results that a file holds, by name; each is made when it is first asked for.

    Parameters
    ----------
    document : Document
        What the file holds.

    """

    def __init__(self, document: Document) -> None:
        self._document = document
        self._made: dict[str, Saveable] = {}

    @property
    def assay_version(self) -> str:
        """Version of the library that wrote the file."""
        return self._document.assay_version

    @property
    def tables(self) -> Mapping[str, str]:
        """Digest of each table with which the results were obtained, by name of the table."""
        return self._document.tables

    @property
    def editions(self) -> Mapping[str, tuple[str, ...]]:
        """Editions that the results use, by name of the table."""
        return {name: tuple(found) for name, found in self._document.editions.items()}

    def __len__(self) -> int:
        return len(self._document.entries)

    def __iter__(self) -> Iterator[str]:
        return iter(self._document.entries)

    def __contains__(self, name: object) -> bool:
        return name in self._document.entries

    def __getitem__(self, name: str) -> Saveable:
        if name not in self._made:
            if name not in self:
                raise KeyError(f"there is no result {name!r} in the file. {nearest(name, self)}")
            entry = self._document.entries[name]
            # Of two threads that make it at once, both get the one that was kept first.
            self._made.setdefault(name, _KINDS[entry.kind](entry))
        return self._made[name]

    def __repr__(self) -> str:
        first = ", ".join(repr(name) for name, _ in zip(self, range(_SHOWN), strict=False))
        return f"<Results: {first}{', …' if len(self) > _SHOWN else ''} ({len(self)})>"


def load(path: str | Path) -> Results:
    """Return the results that a file holds, by name.

    They keep value, u, degrees of freedom, budget and their correlation with everything else, also with results of
    other files and processes. Their Monte Carlo samples the linear form, and says so.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    mapping of str to Estimate, Strength or Titrant
        The results. The file is checked as a whole; each result is made when it is first asked for. ``tables``,
        ``editions`` and ``assay_version`` say with what they were obtained.

    Raises
    ------
    DataError
        If the file is missing, cut off, edited, of another schema, or holds an unknown kind of result.

    References
    ----------
    [jcgm-100-2008] F.1.2: what results share as an input is their correlation.

    Examples
    --------
    >>> import assay
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "today.json"
    ...     save(path, thiosulfate=assay.run_demo("drum").titrant)
    ...     print(load(path)["thiosulfate"].name)
    thiosulfate

    """
    where = str(path)
    try:
        contents = Path(path).read_bytes()
    except OSError as error:
        raise DataError(
            f"the file cannot be read: {error.strerror}",
            argument="path",
            given=where,
            remedy="Check the name, the folder and its rights.",
        ) from None
    document = decoded(contents, where=where)
    for kind in sorted(document.kinds - set(_KINDS)):
        raise DataError("unknown kind of result", argument=where, given=kind, remedy=nearest(kind, _KINDS))
    return Results(document)
