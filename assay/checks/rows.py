"""The published values as they are printed, each with the steps by which the library comes to it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from assay.substances.molar_mass import DEFAULT_EDITION

#: Keys of a row that stand for what several rows share.
_SHARED = ("chain", "given", "steps", "inputs")

#: Standard errors of the difference of two runs that are allowed for.
_RUN_ERRORS = 3.0


@dataclass(frozen=True, kw_only=True)
class Check:
    """One printed number, and how the library comes to it.

    Parameters
    ----------
    kind : str
        Name of the file it stands in.
    id, quantity : str
        Its name, and what was printed.
    printed, unit : str
        The number with the very digits of the source, and its unit.
    steps : list of dict
        The steps; the last one gives the answer. See `assay.checks.steps`.
    source, locator, provenance : str
        Key of the references, place in the source, and how the number was seen.
    inputs : dict
        What the source gives, as text.
    answer : str
        What of the last result was printed; see `assay.checks.evaluate`.
    of : list of str
        For ``answer = "contribution"``: the inputs whose contribution it is; for ``"correlation"``: the two results.
    level : float
        Level of confidence, for an interval, an expanded uncertainty or a coverage factor.
    k : float
        Coverage factor, where the source states it and not a level; 0 if it does not.
    draws : str
        How a sampled answer draws inputs with few degrees of freedom; see `Estimate.monte_carlo`.
    trials : int
        Number of trials by which the source found what it prints; 0 if it did not sample.
    exact : bool
        Whether the printed number is exact, so that its last digit allows for nothing.
    edition : str
        Atomic weights.
    carried : str
        What the source rounded midway and is taken over as printed.
    disagrees, recomputed : str
        Why the print is wrong, and the right value with its own digits.
    note : str
        What a reader has to know besides.

    """

    kind: str
    id: str
    quantity: str
    printed: str
    unit: str
    steps: list[dict[str, Any]]
    source: str
    locator: str
    provenance: str
    inputs: dict[str, Any] = field(default_factory=dict)
    answer: str = "value"
    of: list[str] = field(default_factory=list)
    level: float = 0.95
    k: float = 0.0
    draws: str = "plug-in"
    trials: int = 0
    exact: bool = False
    edition: str = DEFAULT_EDITION
    carried: str = ""
    disagrees: str = ""
    recomputed: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A printed number that is not worked out, and why.

    Parameters
    ----------
    kind, id, quantity, printed, unit, source, locator, provenance
        As for `Check`; ``printed`` may be words where it stands for many numbers.
    why : str
        What the library lacks, or why the number cannot be compared.

    """

    kind: str
    id: str
    quantity: str
    printed: str
    unit: str
    source: str
    locator: str
    provenance: str
    why: str


@cache
def read_left_out() -> tuple[LeftOut, ...]:
    """Return the printed numbers that ship with the library and are not worked out, file by file."""
    return tuple(LeftOut(kind=kind, **row) for kind, content in _files().items() for row in content.get("left_out", ()))


@cache
def read_checks() -> tuple[Check, ...]:
    """Return the rows that ship with the library, file by file in alphabetical order.

    ``chain`` in a row stands for steps that several rows share, before the row's own; ``given`` for inputs that several
    rows share, which the row's own replace by name. A ``t_table`` stands for one row for each of its cells.
    """
    files = _files()
    chains = {name: steps for content in files.values() for name, steps in content.get("chain", {}).items()}
    givens = {name: inputs for content in files.values() for name, inputs in content.get("given", {}).items()}
    checks = []
    for kind, content in files.items():
        for row in (
            *content.get("check", ()),
            *_cells(content.get("t_table", ())),
            *_grid(content.get("grid", ())),
        ):
            own = {key: value for key, value in row.items() if key not in _SHARED}
            steps = [*(chains[row["chain"]] if "chain" in row else ()), *row.get("steps", ())]
            inputs = {**(givens[row["given"]] if "given" in row else {}), **row.get("inputs", {})}
            checks.append(Check(kind=kind, steps=steps, inputs=inputs, **own))
    return tuple(checks)


def _cells(tables: Sequence[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield a row for each cell of printed tables of t, which is k of a result with so many degrees of freedom.

    ``columns`` are the levels, or with ``one_sided`` the probabilities above t; ``rows`` are the printed values by
    degrees of freedom; ``wrong`` gives the recomputed value of a cell, such as ``"7/0.001"``, that ``disagrees``.
    """
    for table in tables:
        own = {key: table[key] for key in ("source", "locator", "provenance")}
        wrong = table.get("wrong", {})
        for dof, printed in table["rows"].items():
            for column, cell in zip(table["columns"], printed, strict=True):
                side = "above t" if table["one_sided"] else "within ±t"
                place = f"{dof}/{column}"
                yield {
                    "id": f"{table['id']}-{dof}-{column}",
                    "quantity": f"t, {column} of the distribution {side}, {dof} degrees of freedom",
                    "printed": cell,
                    "unit": "1",
                    "answer": "coverage factor",
                    "level": 1.0 - 2.0 * float(column) if table["one_sided"] else float(column),
                    "inputs": {"x": {"value": "0", "u": "1", "dof": float(dof)}},
                    "steps": [{"model": "x"}],
                    **own,
                    **({"disagrees": table["disagrees"], "recomputed": wrong[place]} if place in wrong else {}),
                }


def _grid(tables: Sequence[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield a row for each cell of printed tables with two entries, which stand in the inputs and in the quantity.

    ``{row}`` and ``{column}`` stand for the entries as printed, ``{row_from_20}`` for that of the row less 20;
    ``wrong`` is that of `_cells`.
    """
    for table in tables:
        own = {key: table[key] for key in ("unit", "source", "locator", "provenance", "steps")}
        wrong = table.get("wrong", {})
        for row, printed in table["rows"].items():
            for column, cell in zip(table["columns"], printed, strict=True):
                entries = {"row": row, "column": column, "row_from_20": Decimal(row) - 20}
                place = f"{row}/{column}"
                yield {
                    "id": f"{table['id']}-{row}-{column}",
                    "quantity": table["quantity"].format(**entries),
                    "printed": cell,
                    "inputs": {name: text.format(**entries) for name, text in table["inputs"].items()},
                    **own,
                    **({"disagrees": table["disagrees"], "recomputed": wrong[place]} if place in wrong else {}),
                }


def _files() -> Mapping[str, dict[str, Any]]:
    folder = resources.files("assay.data").joinpath("published")
    files = sorted((entry for entry in folder.iterdir() if entry.name.endswith(".toml")), key=lambda entry: entry.name)
    return MappingProxyType(
        {entry.name.removesuffix(".toml"): tomllib.loads(entry.read_text(encoding="utf-8")) for entry in files}
    )


def last_place(printed: str) -> int:
    """Return the power of ten of the last printed digit.

    Examples
    --------
    >>> last_place("3.722"), last_place("35450"), last_place("7.47e-05")
    (-3, 0, -7)

    """
    exponent = Decimal(printed).as_tuple().exponent
    if not isinstance(exponent, int):
        raise TypeError(f"{printed!r} is no finite number")
    return exponent


def half_unit(printed: str) -> Decimal:
    """Return half a unit of the last printed digit.

    Examples
    --------
    >>> half_unit("3.722"), half_unit("35450"), half_unit("7.47e-05")
    (Decimal('0.0005'), Decimal('0.5'), Decimal('5E-8'))

    """
    return Decimal(1).scaleb(last_place(printed)) / 2


def agrees(ours: float, printed: str, *, run_error: float = 0.0, exact: bool = False) -> bool:
    """Return whether ours lies within half a unit of the last printed digit.

    Both roundings of a tie agree: 8.5155 with 8.515 and with 8.516. A float is no exact decimal, so a few units of its
    own last place are allowed for; the digits that a source prints are far coarser. Where one of them was sampled,
    three standard errors of their difference, ``run_error``, are allowed for besides. ``exact`` takes the printed
    number for exact.

    Examples
    --------
    >>> agrees(8.5155, "8.515"), agrees(8.5155, "8.516"), agrees(8.5156, "8.515")
    (True, True, False)
    >>> agrees(8.5165, "8.515", run_error=0.0004), agrees(8.5165, "8.515", run_error=0.0003)
    (True, False)
    >>> agrees(0.1, "0.1", exact=True), agrees(0.101, "0.1", exact=True)
    (True, False)

    """
    rounding = Decimal(0) if exact else half_unit(printed)
    allowed = rounding + Decimal(_RUN_ERRORS * run_error) + 8 * Decimal(math.ulp(ours))
    return abs(Decimal(ours) - Decimal(printed)) <= allowed
