"""Results in files: what was found today is correlated with what is found next month."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TypeAlias

from assay.data import table_digests
from assay.errors import DataError, nearest
from assay.metrology.estimate import Estimate
from assay.metrology.saved import Entry, decoded, encoded
from assay.substances.strength import Strength
from assay.titration.titrant import Titrant

Saveable: TypeAlias = Estimate | Strength | Titrant


def _estimate(entry: Entry) -> Estimate:
    return entry.estimate


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
        If there is nothing to save, or one influence id stands for two sets of facts.

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
    entries = {
        name: Entry(kind="estimate", facts={}, estimate=result) if isinstance(result, Estimate) else result.entry()
        for name, result in results.items()
    }
    target = Path(path)
    draft = target.with_name(target.name + ".part")
    text = encoded(entries, tables=table_digests())
    try:
        draft.write_text(text, encoding="utf-8")
        draft.replace(target)
    except OSError as error:
        raise DataError(
            f"the file cannot be written: {error.strerror}",
            argument="path",
            given=str(path),
            remedy="Check the folder and its rights.",
        ) from None


def load(path: str | Path) -> dict[str, Saveable]:
    """Return the results that a file holds, by name.

    They keep value, u, degrees of freedom, budget and their correlation with everything else, also with results of
    other files and processes. Their Monte Carlo samples the linear form, and says so.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    dict of str to Estimate, Strength or Titrant
        The results.

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
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise DataError(f"the file cannot be read: {error}", argument="path", given=str(path)) from None
    return {name: _made(entry, str(path)) for name, entry in decoded(text, where=str(path)).items()}


def _made(entry: Entry, where: str) -> Saveable:
    if entry.kind not in _KINDS:
        raise DataError("unknown kind of result", argument=where, given=entry.kind, remedy=nearest(entry.kind, _KINDS))
    return _KINDS[entry.kind](entry)
