"""The saved form of results: JSON that keeps numbers exactly and correlation whole.

A file names its schema; files of every schema are read for ever, and those of the newest are written. It holds the
SHA-256 of the rest of its contents in a settled layout, which finds edits and losses. It is for integrity and not for
security: whoever can write the file can write the digest too.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import Any

from assay.errors import AssayError, DataError
from assay.metrology import schema_1, schema_2
from assay.metrology.entry import Entry
from assay.metrology.saved_rows import lists_of
from assay.metrology.schema_2 import as_json

SCHEMA = 2

Json = dict[str, Any]

_READERS: Mapping[int, Callable[[Json, str], Mapping[str, Entry]]] = {1: schema_1.entries_of, 2: schema_2.Entries}
_STATED = re.compile(rb'\A\{"sha256":"[0-9a-f]{64}",\s*')
_AGAIN = "save the results again from where they were obtained."


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """What a file holds.

    Parameters
    ----------
    entries : mapping of str to Entry
        The results, by name.
    kinds : frozenset of str
        What kinds of results they are.
    assay_version : str
        Version of the library that wrote it.
    tables : mapping of str to str
        Its tables, by name, with a digest of each.
    editions : mapping of str to sequence of str
        Which editions of a table the results use, by name of the table.

    """

    entries: Mapping[str, Entry]
    kinds: frozenset[str]
    assay_version: str
    tables: Mapping[str, str] = field(default_factory=dict)
    editions: Mapping[str, Iterable[str]] = field(default_factory=dict)


def encoded(
    entries: Mapping[str, Entry],
    *,
    tables: Mapping[str, str],
    editions: Callable[[Iterable[str]], Mapping[str, Iterable[str]]] = lambda _ids: {},
) -> bytes:
    """Return results as the contents of a file, in UTF-8.

    Parameters
    ----------
    entries : mapping of str to Entry
        The results by the names under which they are to be found again.
    tables : mapping of str to str
        The tables in use, by name, with a digest of each.
    editions : callable
        Returns the editions of the tables in use, by name of the table, from the ids of all influences.

    Raises
    ------
    DataError
        If one influence id stands for two sets of facts, or something cannot be written.

    """
    try:
        lists, ids = lists_of(entries)
        head = {
            "assay_version": version("assay"),
            "columns": schema_2.COLUMNS,
            "editions": {name: sorted(found) for name, found in editions(ids).items()},
            "schema": SCHEMA,
            "tables": dict(tables),
        }
        rest = _laid_out({name: as_json(part) for name, part in head.items()}, lists)
        return f'{{"sha256":"{_sha256(rest)}",\n'.encode() + rest
    except AssayError:
        raise
    except ValueError as error:
        raise DataError(
            f"this cannot be written to a file: {error}",
            argument="results",
            remedy="Look for a sensitivity without limits, or half a character in a label.",
        ) from None


def _laid_out(parts: Mapping[str, str], lists: Mapping[str, Iterable[str]]) -> bytes:
    """Return a document after its digest, which is over this: its parts in order, a line for each row of a list."""
    lines = {name: part.encode() for name, part in parts.items()}
    lines |= {name: b"[\n" + b",\n".join(map(str.encode, rows)) + b"\n]" for name, rows in lists.items()}
    return b",\n".join(f'"{name}":'.encode() + lines[name] for name in sorted(lines)) + b"}"


def decoded(text: str | bytes, *, where: str) -> Document:
    """Return what a file holds.

    The results have value, u, degrees of freedom, budget and correlation; the kernels are not saved, so Monte Carlo
    samples their linear form and says so.

    Parameters
    ----------
    text : str or bytes
        Contents of the file.
    where : str
        Name of the file, for messages.

    Raises
    ------
    DataError
        If the file is cut off, edited, of another schema, or names one influence twice with different facts.

    """
    document = _checked(text, where)
    try:
        entries = _READERS[document["schema"]](document, where)
        return Document(
            entries=entries,
            kinds=_kinds(entries),
            assay_version=str(document["assay_version"]),
            tables=dict(document["tables"]),
            editions=dict(document.get("editions", {})),
        )
    except AssayError:
        raise
    except (LookupError, TypeError, ValueError, AttributeError):
        raise DataError(
            "a part of the file is missing, although its SHA-256 is right",
            argument=where,
            remedy=f"It was not made by this library: {_AGAIN}",
        ) from None


def _kinds(entries: Mapping[str, Entry]) -> frozenset[str]:
    if isinstance(entries, schema_2.Entries):
        return entries.kinds
    return frozenset(entry.kind for entry in entries.values())


def _checked(text: str | bytes, where: str) -> Json:
    try:
        raw = text.encode() if isinstance(text, str) else text
        document = json.loads(raw)
        schema, digest = document["schema"], document.pop("sha256")
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise _not_whole(where) from None
    if type(schema) is not int or schema not in _READERS:
        known = " and ".join(str(number) for number in _READERS)
        raise DataError(
            f"the file has schema {schema!r}; this version reads schema {known}",
            argument=where,
            remedy=(
                f"Read it with the version that it names in assay_version, {document.get('assay_version')}, "
                "or update this one."
            ),
        )
    if not _agrees(document, raw, digest):
        raise DataError(
            "the file was changed after it was saved: its contents no longer have its SHA-256",
            argument=where,
            remedy=f"Restore it from a copy, or {_AGAIN}",
        )
    return dict(document)


def _not_whole(where: str) -> DataError:
    """Return the error of a file that is cut off or something else."""
    return DataError(
        "this is not a whole file of saved results",
        argument=where,
        remedy=f"It may be cut off or hand-made: {_AGAIN}",
    )


def _agrees(document: Json, raw: bytes, digest: object) -> bool:
    """Return whether a file says what was written.

    It is quickest to see that a text is the same to the letter; but it may have been laid out anew by something that
    reads and writes JSON, and still say the same.
    """
    stated = _STATED.match(raw)
    if stated is not None and _sha256(memoryview(raw)[stated.end() :]) == digest:
        return True
    try:
        return _digest(document) == digest
    except ValueError:  # NaN, an infinity or half a character, which the library never writes
        return False


def _digest(document: Json) -> str:
    rest = {name: part for name, part in document.items() if name != "sha256"}
    if rest["schema"] == 1:
        return _sha256(as_json(rest).encode())
    lists = {name: map(as_json, part) for name, part in rest.items() if isinstance(part, list)}
    return _sha256(_laid_out({name: as_json(part) for name, part in rest.items() if name not in lists}, lists))


def _sha256(contents: bytes | memoryview) -> str:
    return hashlib.sha256(contents).hexdigest()
