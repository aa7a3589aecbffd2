"""The cupboard: instruments that many sheets share, in files beside them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from assay.errors import SheetError, nearest
from assay.sheet.source import Source, parsed
from assay.sheet.table import Table

SCHEMA = 1
KEY = "cupboard"


def included(root: Table, folder: Path | None) -> Iterator[Table]:
    """Yield the tables [instruments] of a sheet and of the files that it includes, the sheet's own first.

    Parameters
    ----------
    root : Table
        The sheet.
    folder : Path or None
        Where it lies; ``None`` if it was given as text.

    Raises
    ------
    SheetError
        If a file is not there, lies outside the folder of the sheet, includes itself by way of others, or is no
        cupboard.

    """
    own = () if folder is None else (Path(root.source.name).resolve(),)
    yield from _included(root, folder, folder, own)


def _included(root: Table, folder: Path | None, top: Path | None, way: tuple[Path, ...]) -> Iterator[Table]:
    if root.has("instruments"):
        yield root.table("instruments")
    for written in _names(root):
        path = _place(root, written, folder, top)
        if path in way:
            told = " → ".join(one.name for one in (*way[way.index(path) :], path))
            raise root.error(
                KEY, f"these files include each other: {told}.", remedy="Leave one of the keys 'cupboard' out."
            )
        source = _read(root, path, written)
        inner = Table(source=source, path=(), data=source.data)
        inner.only("schema", KEY, "instruments")
        if inner.data.get("schema") != SCHEMA or isinstance(inner.data.get("schema"), bool):
            raise inner.error(
                "schema" if inner.has("schema") else "",
                "this is not a cupboard that can be read.",
                given=inner.data.get("schema"),
                expected=f"schema = {SCHEMA}",
                remedy=f"Begin the file with schema = {SCHEMA}.",
            )
        yield from _included(inner, path.parent, top, (*way, path))


def _names(root: Table) -> list[str]:
    written: Any = root.data.get(KEY, [])
    names = [written] if isinstance(written, str) else written
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise root.error(
            KEY,
            "this is the name of a file, or a list of names.",
            given=str(written)[:60],
            remedy='Write cupboard = "cupboard.toml".',
        )
    return names


def _place(root: Table, written: str, folder: Path | None, top: Path | None) -> Path:
    if folder is None or top is None:
        raise root.error(
            KEY,
            "a sheet that is given as text lies in no folder, so it can include nothing.",
            given=written,
            remedy="Save it as a file and run that, or write the instruments into it.",
        )
    if not written.strip() or "\0" in written:
        raise root.error(KEY, "this is no name of a file.", given=written, remedy='Write cupboard = "cupboard.toml".')
    path = (folder / written).resolve()
    if Path(written).is_absolute() or not path.is_relative_to(top.resolve()):
        raise root.error(
            KEY,
            "a cupboard lies in the folder of the sheet, or in one below it.",
            given=written,
            expected="a relative path that does not leave the folder",
            remedy="Copy the file there; then a sheet and what it needs stay together.",
        )
    return path


def _read(root: Table, path: Path, written: str) -> Source:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        others = [other.name for other in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        remedy = nearest(path.name, others) if others else "Check the name and the folder."
        raise root.error(KEY, "there is no such file.", given=written, remedy=remedy) from None
    except UnicodeDecodeError:
        raise root.error(
            KEY, "the file is not UTF-8 text.", given=written, remedy="Save it as UTF-8 (plain text)."
        ) from None
    except OSError as error:
        raise root.error(
            KEY, f"the file cannot be opened: {error.strerror or 'unknown reason'}.", given=written
        ) from None
    return parsed(text, written)


def merged_by_name(tables: Iterator[Table]) -> dict[str, Table]:
    """Return the tables of all instruments by name; one that two files describe alike is one.

    Raises
    ------
    SheetError
        If two of one name have different facts; both places are named.

    """
    found: dict[str, Table] = {}
    for table in tables:
        for name in table.data:
            one = table.table(name)
            known = found.setdefault(name, one)
            if known.data != one.data:
                raise _differ(name, known, one)
    return found


def _differ(name: str, known: Table, other: Table) -> SheetError:
    keys = sorted(key for key in known.data.keys() | other.data.keys() if known.data.get(key) != other.data.get(key))
    return other.error(
        "",
        f"{name} is also described in {known.source.name}, line {known.source.line_of(known.path)}, "
        f"with another {' and '.join(keys)}.",
        remedy="One name is one instrument: name them apart, or keep one of the two. What was calibrated again has "
        "another date in its certificate, in one place.",
    )
