"""Work the published values out and compare them with what was printed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from assay.checks.operands import Operands
from assay.checks.rows import Check, agrees, read_checks
from assay.checks.steps import STEPS
from assay.metrology.estimate import Estimate

#: Unit of a library result to the unit in which a source prints it. Exact, by definition of the units.
FACTORS: Mapping[tuple[str, str], Decimal] = {
    ("g", "mg"): Decimal(1000),
    ("g", "lb"): 1 / Decimal("453.59237"),
    ("mol", "mmol"): Decimal(1000),
    ("mol/L", "mmol/mL"): Decimal(1),
    ("L", "mL"): Decimal(1000),
    ("L", "gal"): 1 / Decimal("3.785411784"),
    ("L", "qt"): 1 / Decimal("0.946352946"),
    ("L", "fl oz"): 1 / Decimal("0.0295735295625"),
    ("g/L", "mg/mL"): Decimal(1),
    ("g/L", "g/mL"): Decimal("0.001"),
    ("g/L", "µg/mL"): Decimal(1000),
    ("g/L", "mg/L"): Decimal(1000),
    ("g/L", "g/(100 mL)"): Decimal("0.1"),
    ("g/g", "%"): Decimal(100),
    ("1", "%"): Decimal(100),
}

#: What of a result a source prints.
_ANSWERS: Mapping[str, Callable[[Estimate, Check], tuple[float, str]]] = {
    "value": lambda result, _: (result.value, result.unit),
    "u": lambda result, _: (result.u, result.unit),
    "contribution": lambda result, check: (_contribution(result, check), result.unit),
    "relative u": lambda result, _: (result.relative_u, "1"),
    "relative U": lambda result, _: (result.relative_u * result.coverage_factor(0.95), "1"),
    "dof": lambda result, _: (result.dof, "1"),
    "coverage factor": lambda result, _: (result.coverage_factor(0.95), "1"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A published value and ours.

    Parameters
    ----------
    check : Check
        The row.
    ours : float
        Our value, in the unit of the row.

    """

    check: Check
    ours: float

    @property
    def agrees(self) -> bool:
        """Whether ours lies within half a unit of the last printed digit."""
        return agrees(self.ours, self.check.printed)

    @property
    def as_recorded(self) -> bool:
        """Whether it agrees or, where the print is recorded as wrong, disagrees and is the recomputed value."""
        if not self.check.disagrees:
            return self.agrees
        return not self.agrees and agrees(self.ours, self.check.recomputed)


def outcomes(checks: tuple[Check, ...] | None = None) -> tuple[Outcome, ...]:
    """Return the outcome of every row that ships with the library, or of some of them."""
    return tuple(Outcome(check=check, ours=answer(check)) for check in (read_checks() if checks is None else checks))


def answer(check: Check) -> float:
    """Return our value of what a row prints, in the unit of the row."""
    number, unit = _ANSWERS[check.answer](result_of(check), check)
    return number if unit == check.unit else float(Decimal(number) * FACTORS[unit, check.unit])


def result_of(check: Check) -> Estimate:
    """Return the result of the last step of a row.

    Raises
    ------
    ValueError
        If the row has no steps.

    """
    operands = Operands(check)
    result = None
    for step in check.steps:
        result = STEPS[next(key for key in step if key in STEPS)](operands, step)
        operands.keep(step.get("name", ""), result)
    if result is None:
        raise ValueError(f"{check.id} has no steps")
    return result


def _contribution(result: Estimate, check: Check) -> float:
    """Return what the named inputs, or the atomic weights, contribute to u; they are independent of each other."""
    prefixes = [name if name == "atomic-weight" else f"published/{check.id}/{name}" for name in check.of]
    return math.hypot(
        *(
            sensitivity * result.influences[id_].u
            for id_, sensitivity in result.sensitivities.items()
            if any(id_ == prefix or id_.startswith(f"{prefix}/") for prefix in prefixes)
        )
    )
