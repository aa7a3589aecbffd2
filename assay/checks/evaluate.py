"""Work the published values out and compare them with what was printed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from assay.checks.operands import Operands
from assay.checks.rows import Check, agrees, read_checks
from assay.checks.sampled import SAMPLED, sampled
from assay.checks.steps import STEPS
from assay.metrology.covariance import correlation
from assay.metrology.coverage import coverage_factor
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
    ("L/g", "µL/mg"): Decimal(1000),
    ("g/L", "kg/m³"): Decimal(1),
    ("g/L", "mg/cm³"): Decimal(1),
    ("g/g", "%"): Decimal(100),
    ("1", "%"): Decimal(100),
}

#: What of a result a source prints, and its unit.
_ANSWERS: Mapping[str, Callable[[Operands, Estimate, Check], tuple[float, str]]] = {
    "value": lambda _, result, __: (result.value, result.unit),
    "u": lambda _, result, __: (result.u, result.unit),
    "U": lambda _, result, check: (_expanded(result, check), result.unit),
    "low": lambda _, result, check: (result.value - _expanded(result, check), result.unit),
    "high": lambda _, result, check: (result.value + _expanded(result, check), result.unit),
    "variance": lambda _, result, __: (result.u**2, f"{result.unit}²"),
    "s": lambda _, result, __: (result.u * math.sqrt(result.dof + 1.0), result.unit),  # of a mean of dof + 1 readings
    "correlation": lambda operands, _, check: (_correlation(operands, check), "1"),
    "contribution": lambda _, result, check: (_contribution(result, check), result.unit),
    "relative u": lambda _, result, __: (result.relative_u, "1"),
    "relative U": lambda _, result, check: (result.relative_u * _factor(result, check), "1"),
    "dof": lambda _, result, __: (result.dof, "1"),
    "coverage factor": lambda _, result, check: (_factor(result, check), "1"),
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
    run_error : float
        Standard error of its difference from the print, as far as one of them was sampled.

    """

    check: Check
    ours: float
    run_error: float = 0.0

    @property
    def agrees(self) -> bool:
        """Whether ours lies within half a unit of the last printed digit, and three run errors."""
        return self._is(self.check.printed)

    @property
    def as_recorded(self) -> bool:
        """Whether it agrees or, where the print is recorded as wrong, disagrees and is the recomputed value."""
        if not self.check.disagrees:
            return self.agrees
        return not self.agrees and self._is(self.check.recomputed)

    def _is(self, printed: str) -> bool:
        return agrees(self.ours, printed, run_error=self.run_error, exact=self.check.exact)


def outcomes(checks: tuple[Check, ...] | None = None) -> tuple[Outcome, ...]:
    """Return the outcome of every row that ships with the library, or of some of them."""
    return tuple(outcome(check) for check in (read_checks() if checks is None else checks))


def outcome(check: Check) -> Outcome:
    """Return the outcome of one row."""
    operands, result = _worked(check)
    if check.answer in SAMPLED:
        number, run_error = sampled(check, result)
        unit = result.unit
    else:
        (number, unit), run_error = _ANSWERS[check.answer](operands, result, check), 0.0
    factor = Decimal(1) if unit == check.unit else FACTORS[unit, check.unit]
    ours = number if factor == 1 else float(Decimal(number) * factor)
    return Outcome(check=check, ours=ours, run_error=run_error * float(factor))


def answer(check: Check) -> float:
    """Return our value of what a row prints, in the unit of the row."""
    return outcome(check).ours


def result_of(check: Check) -> Estimate:
    """Return the result of the last step of a row.

    Raises
    ------
    ValueError
        If the row has no steps.

    """
    return _worked(check)[1]


def _worked(check: Check) -> tuple[Operands, Estimate]:
    operands = Operands(check)
    result = None
    for step in check.steps:
        result = STEPS[next(key for key in step if key in STEPS)](operands, step)
        operands.keep(step.get("name", ""), result)
    if result is None:
        raise ValueError(f"{check.id} has no steps")
    return operands, result


def _expanded(result: Estimate, check: Check) -> float:
    return result.u * (check.k or _factor(result, check))


def _factor(result: Estimate, check: Check) -> float:
    """Return k as the guides find it, at the degrees of freedom of Welch-Satterthwaite; ours is more cautious."""
    return coverage_factor(check.level, result.dof)


def _correlation(operands: Operands, check: Check) -> float:
    one, other = (operands.estimate(f"@{name}", "value") for name in check.of)
    return correlation(one, other)


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
