"""What a row gives as text becomes numbers, influences and the results of earlier steps."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from assay.checks.rows import Check
from assay.glossary import TERMS
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.substances.molar_mass import molar_mass
from assay.substances.species import HYPOCHLORITE
from assay.substances.written import read_strength
from assay.units import kind_of, read, split

#: Kind of quantity of `assay.units` for a unit of the glossary.
_KINDS = {
    "L": "volume",
    "g": "mass",
    "mol": "amount",
    "mol/L": "amount concentration",
    "g/L": "mass concentration",
    "g/g": "mass fraction",
    "K": "temperature difference",
    "Pa": "pressure",
}


class Operands:
    """The inputs of one row and what its steps have found so far.

    ``@name`` stands for an input or for the result of an earlier step, ``M(KIO3)`` for a molar mass in the row's
    edition. An input that is a table is an influence, the same one wherever the row uses it; two inputs that are named
    apart are independent.

    Parameters
    ----------
    check : Check
        The row.

    """

    def __init__(self, check: Check) -> None:
        self._check = check
        self._results: dict[str, Estimate] = {}

    @property
    def edition(self) -> str:
        """Edition of the atomic weights."""
        return self._check.edition

    @property
    def path(self) -> str:
        """The path under which the inputs of this row are known as influences."""
        return f"published/{self._check.id}"

    def keep(self, name: str, result: Estimate) -> None:
        """Keep the result of a step for later ones, if it has a name."""
        if name:
            self._results[name] = result

    def given(self, written: Any) -> Any:  # noqa: ANN401  (what TOML holds)
        """Return an input by its name; anything else as it is."""
        if isinstance(written, str) and written.startswith("@"):
            return self._check.inputs[written[1:]]
        return written

    def operand(self, written: Any, parameter: str) -> Estimate | float:  # noqa: ANN401  (what TOML holds)
        """Return the operand that is written for a parameter of the glossary."""
        named = written[1:] if isinstance(written, str) and written.startswith("@") else ""
        if named in self._results:
            return self._results[named]
        label = named or parameter
        given = self.given(written)
        if isinstance(given, dict):
            return Estimate.from_influence(self._influence(given, label, parameter), name=parameter)
        if given.startswith("M("):
            return molar_mass(given[2:-1], edition=self.edition)
        return number(given, parameter)

    def estimate(self, written: Any, parameter: str) -> Estimate:  # noqa: ANN401  (what TOML holds)
        """Return the operand as an estimate; a plain number is exact, as its source takes it to be."""
        found = self.operand(written, parameter)
        return found if isinstance(found, Estimate) else Estimate.exactly(found, name=parameter, label="as printed")

    def influence(self, name: str) -> Influence:
        """Return an input that is a table as an influence, by its name with its ``@``."""
        return self._influence(self.given(name), name[1:], "value")

    def _influence(self, given: dict[str, Any], label: str, parameter: str) -> Influence:
        numbers: dict[str, Any] = {
            key: number(given[key], parameter) for key in ("value", "u", "half_width", "s") if key in given
        }
        shape: dict[str, Any] = {key: given[key] for key in ("shape", "parameters") if key in given}
        shape["parameters"] = tuple(shape.get("parameters", ()))
        id_ = f"{self.path}/{label}"
        if "half_width" in numbers:
            within = Influence.within(id_, label=label, **numbers, **shape)
            return replace(within, dof=given.get("dof", math.inf))
        dof = given.get("dof", math.inf)
        if "s" in numbers:  # the standard deviation of one of n readings, of which the value is the mean
            numbers["u"], dof = numbers.pop("s") / math.sqrt(given["n"]), given["n"] - 1
        return Influence(id=id_, label=label, **numbers, **shape, dof=dof)


def number(written: str, parameter: str) -> float:
    """Return a printed quantity as a plain number in the unit that the library uses for a parameter.

    Examples
    --------
    >>> number("24.35 mL", "titre"), number("1.12 g/mL", "density")
    (0.02435, 1120.0)

    """
    unit = TERMS[parameter].unit
    if unit not in _KINDS and parameter != "value":
        plain, _, rest = written.partition(" ")
        if rest not in {unit, unit.removeprefix("1")}:
            raise ValueError(f"{written!r} is not in {unit}")
        return float(plain)
    parts = split(written, argument=parameter, example="'25.00 mL'")
    if parameter == "value":  # an operand of the user's own arithmetic: of whatever kind its unit says
        kind = "mass fraction" if parts.rest == "% w/w" else kind_of(parts.rest)
        return read(written, kind, argument=parameter) if parts.rest else float(parts.number)
    if unit == "mol/L" and HYPOCHLORITE.basis(parts.rest) is not None:
        return read_strength(written, argument=parameter)
    # Of the two kinds in kelvin only this one has another zero.
    return read(written, "temperature" if parameter == "temperature" else _KINDS[unit], argument=parameter)
