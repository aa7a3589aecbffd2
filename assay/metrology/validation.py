"""Validation of the linear result by propagation of distributions (JCGM 101:2008, clause 8)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from assay.display.numbers import Interval, between, significant
from assay.flags import Flag
from assay.metrology.coverage import coverage_factor
from assay.metrology.monte_carlo import ERRORS_GRANTED, MonteCarlo, Plan, run
from assay.metrology.settling import Batches, tolerance_of
from assay.metrology.shapes import Array

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: JCGM 101:2008, 8.2: the sampled ends settle to a fifth of the tolerance that is tested.
_SHARE_OF_TOLERANCE = 0.2
#: Standard errors between a difference and the tolerance at which a run may end early. A choice of this library.
_DECISIVE = 4.0


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Validation:
    """Whether the linear result states what sampling its formula gives, to a number of significant digits of u.

    Both sides take every input as it stands: the sampled one by plug-in draws, the linear one by the factor of the
    normal distribution. So few degrees of freedom cannot fail it; a bent formula can, and so can a result that is
    ruled by one input that is not normal.

    Parameters
    ----------
    label, unit : str
        What was validated, and its unit.
    validated : bool
        Whether both ends agree within ``tolerance``.
    digits : int
        Significant digits of the linear u that were meant to be right.
    tolerance : float
        Half a unit of the last of them.
    linear, sampled : Interval
        The linear and the probabilistically symmetric sampled interval.
    differences : tuple of float
        Distance of the lower and of the upper ends.
    monte_carlo : MonteCarlo
        The run.
    flags : tuple of Flag
        Those of the run; ``linear-not-validated`` if the validation failed, ``validation-undecided`` if the trials were
        too few to tell, ``formula-unknown`` if a reloaded result was sampled through its linear form.

    References
    ----------
    [jcgm-101-2008] 8.1 and 8.2.

    Examples
    --------
    >>> from assay import Estimate, Influence, combine
    >>> a = Estimate.from_influence(Influence(id="a", label="a", value=10.0, u=0.1), name="value")
    >>> combine(lambda x: 2.0 * x, a).validate(digits=1).validated
    True
    >>> combine(lambda x: (x - 10.0) * (x - 10.0) + x, a).validate(digits=2).validated
    False

    """

    label: str
    unit: str
    validated: bool
    digits: int
    tolerance: float
    linear: Interval
    sampled: Interval
    differences: tuple[float, float]
    monte_carlo: MonteCarlo
    flags: tuple[Flag, ...] = ()

    def __repr__(self) -> str:
        flags = "".join(f"[{flag.code}] " for flag in self.flags)
        return f"<Validation {self.label!r}: {flags}{self._verdict()}>"

    def __str__(self) -> str:
        """Return the verdict with both intervals."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        lines = [f"{self.label}: {self._verdict()}"]
        for name, interval in (("linear", self.linear), ("sampled", self.sampled)):
            low, high = between(interval.low, interval.high)
            lines.append(f"  {100 * interval.level:g} %, {name}: {low} to {high}{unit}")
        return "\n".join([*lines, *(f"  {flag}" for flag in self.flags)])

    def _verdict(self) -> str:
        low, high = (significant(difference) for difference in self.differences)
        unit = "" if self.unit == "1" else f" {self.unit}"
        plural = "" if self.digits == 1 else "s"
        return (
            f"linear result {'validated' if self.validated else 'not validated'} to {self.digits} significant "
            f"digit{plural} of u, ends {low} and {high}{unit} apart, tolerance {significant(self.tolerance, 1)}{unit}, "
            f"{self.monte_carlo.trials} trials"
        )


def validated(estimate: Estimate, *, digits: int, plan: Plan) -> Validation:
    """Return the validation of a linear result; see `Estimate.validate`."""
    plan.check_adaptive(digits)
    half = coverage_factor(plan.level, math.inf) * estimate.u
    linear = Interval(estimate.value - half, estimate.value + half, plan.level)
    ends = np.array(linear[:2])
    # A linear u of zero has no digits; where the sampled one is not zero, its digits are the ones to be right.
    tolerance = tolerance_of(estimate.u, digits)

    def enough(batches: Batches, u: float) -> bool:
        wanted = tolerance or tolerance_of(u, digits)
        if batches.settled(_SHARE_OF_TOLERANCE * wanted):
            return True
        return batches.enough and _is_decided(
            np.abs(batches.averages[2:] - ends), _DECISIVE * batches.errors[2:], wanted
        )

    outcome, ended = run(estimate, plan, enough)
    tolerance = tolerance or tolerance_of(outcome.u, digits)
    differences = np.abs(np.array(outcome.interval[:2]) - ends)
    decided = ended or _is_decided(differences, ERRORS_GRANTED * np.array(outcome.interval_error), tolerance)
    agrees = bool((differences <= tolerance).all())
    made = Validation(
        label=estimate.label,
        unit=estimate.unit,
        validated=decided and agrees,
        digits=digits,
        tolerance=tolerance,
        linear=linear,
        sampled=outcome.interval,
        differences=(float(differences[0]), float(differences[1])),
        monte_carlo=outcome,
    )
    return replace(made, flags=(*outcome.flags, *_flags(made, decided=decided)))


def _is_decided(differences: Array, margins: Array, tolerance: float) -> bool:
    """Return whether both ends agree, or one does not, with a margin."""
    agree = (differences + margins <= tolerance).all()
    return bool(agree or (differences - margins > tolerance).any())


def _flags(made: Validation, *, decided: bool) -> tuple[Flag, ...]:
    flags = []
    unit = "" if made.unit == "1" else f" {made.unit}"
    low, high = between(made.sampled.low, made.sampled.high)
    apart = " and ".join(significant(difference) for difference in made.differences)
    allowed = f"{significant(made.tolerance, 1)}{unit} that {made.digits} significant digits of u allow"
    if not decided:
        message = (
            f"After {made.monte_carlo.trials} trials the ends of the linear interval lie {apart}{unit} from the "
            f"sampled ones, too near to the {allowed}. Run more trials, or ask for fewer digits."
        )
        flags.append(Flag(code="validation-undecided", message=message))
    elif not made.validated:
        message = (
            f"The ends of the linear interval lie {apart}{unit} from the sampled ones, more than the {allowed}: the "
            "formula is bent within the uncertainty of its inputs, or one input that is not normal rules the result. "
            f"State the sampled {100 * made.sampled.level:g} % interval, {low} to {high}{unit}."
        )
        flags.append(Flag(code="linear-not-validated", message=message))
    if made.monte_carlo.linear_form_of:
        message = (
            f"Read from a file without formula: {', '.join(made.monte_carlo.linear_form_of)}. Whether it is bent there "
            "cannot be told; validate it where it is computed."
        )
        flags.append(Flag(code="formula-unknown", message=message))
    return tuple(flags)
