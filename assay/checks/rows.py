"""The published values as they are printed, each with the steps by which the library comes to it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from assay.substances.molar_mass import DEFAULT_EDITION

#: Keys of a row that stand for what several rows share.
_SHARED = ("chain", "given", "steps", "inputs")


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
        For ``answer = "contribution"``: the inputs whose contribution it is.
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
    edition: str = DEFAULT_EDITION
    carried: str = ""
    disagrees: str = ""
    recomputed: str = ""
    note: str = ""


@cache
def read_checks() -> tuple[Check, ...]:
    """Return the rows that ship with the library, file by file in alphabetical order.

    ``chain`` in a row stands for steps that several rows share, before the row's own; ``given`` for inputs that several
    rows share, which the row's own replace by name.
    """
    files = _files()
    chains = {name: steps for content in files.values() for name, steps in content.get("chain", {}).items()}
    givens = {name: inputs for content in files.values() for name, inputs in content.get("given", {}).items()}
    checks = []
    for kind, content in files.items():
        for row in content["check"]:
            own = {key: value for key, value in row.items() if key not in _SHARED}
            steps = [*(chains[row["chain"]] if "chain" in row else ()), *row.get("steps", ())]
            inputs = {**(givens[row["given"]] if "given" in row else {}), **row.get("inputs", {})}
            checks.append(Check(kind=kind, steps=steps, inputs=inputs, **own))
    return tuple(checks)


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


def agrees(ours: float, printed: str) -> bool:
    """Return whether ours lies within half a unit of the last printed digit.

    Both roundings of a tie agree: 8.5155 with 8.515 and with 8.516. A float is no exact decimal, so a few units of its
    own last place are allowed for; the digits that a source prints are far coarser.

    Examples
    --------
    >>> agrees(8.5155, "8.515"), agrees(8.5155, "8.516"), agrees(8.5156, "8.515")
    (True, True, False)

    """
    return abs(Decimal(ours) - Decimal(printed)) <= half_unit(printed) + 8 * Decimal(math.ulp(ours))
