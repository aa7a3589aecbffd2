"""Readings as plain numbers: a written quantity, or one of any pint registry, in the unit inside the library."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from assay.errors import UnitError, nearest
from assay.units.grammar import Parts, split
from assay.units.kinds import INTERNAL, KNOWN, MISREAD, PER_MASS, SPELLED, WRITTEN_AS, article
from assay.units.registry import factor_in, factor_of, from_quantity

if TYPE_CHECKING:
    import pint

Written: TypeAlias = "str | pint.Quantity[Any]"


class Reading(NamedTuple):
    """A number as it was written: its value inside the library, and the step of its last digit."""

    value: float
    step: float


def read(written: Written, kind: str, *, argument: str) -> float:
    """Return a quantity as a plain number in the unit that the library uses inside.

    Parameters
    ----------
    written : str or pint.Quantity
        ``"25.00 mL"``, or a quantity of any pint registry.
    kind : str
        One of the keys of `INTERNAL`.
    argument : str
        Name of the argument, for messages.

    Raises
    ------
    UnitError
        If the unit is missing, unknown or of another dimension, or the number cannot be read.

    Examples
    --------
    >>> read("25.00 mL", "volume", argument="capacity")
    0.025

    """
    return read_with_step(written, kind, argument=argument).value


def read_with_step(written: Written, kind: str, *, argument: str) -> Reading:
    """Return a quantity as `read` does, with the step of its last written digit (0 for a pint quantity)."""
    unit, example = INTERNAL[kind]
    if isinstance(written, str):
        parts = split(written, argument=argument, example=example)
        if not parts.rest:
            _refuse_bare(written, kind, argument=argument)
        reading = converted(parts, kind, argument=argument, written=written)
    elif hasattr(written, "m_as"):
        reading = Reading(from_quantity(written, unit, kind, argument=argument), 0.0)
    else:
        reading = _refuse_bare(written, kind, argument=argument)
    problem = "the number is too large to be a reading." if math.isinf(reading.value) else ""
    if kind == "temperature" and reading.value < 0.0:
        problem = "the temperature is below absolute zero."
    if problem:
        raise UnitError(problem, argument=argument, given=written, remedy=f"Write for example {example}.")
    return reading


def converted(parts: Parts, kind: str, *, argument: str, written: str) -> Reading:
    """Return a number with its unit in the unit inside the library.

    Raises
    ------
    UnitError
        If the unit is unknown, misread at the bench, of another dimension, or a share that does not say per what.

    """
    unit, example = INTERNAL[kind]
    if kind == "temperature" and parts.rest in {"°C", "degC", "℃"}:
        return Reading(float(parts.number) + 273.15, float(parts.step))
    if kind == "mass fraction" and parts.rest == "% w/w":
        return Reading(float(parts.number.scaleb(-2)), float(parts.step.scaleb(-2)))
    if kind == "mass fraction" and parts.rest in PER_MASS:
        raise UnitError(
            f"{parts.rest!r} does not say per what.",
            argument=argument,
            given=written,
            expected=f"{article(kind)}, such as {example}",
            remedy=PER_MASS[parts.rest].format(parts.number),
        )
    if parts.rest in MISREAD:
        raise UnitError(
            f"the unit {parts.rest!r} is not what a bench means by it.",
            argument=argument,
            given=written,
            expected=f"{article(kind)}, such as {example}",
            remedy=f"Did you mean {MISREAD[parts.rest]}?",
        )
    factor = factor_of(parts.rest, unit)
    if factor is None:
        raise UnitError(
            f"{parts.rest!r} is not a unit of {kind}.",
            argument=argument,
            given=written,
            expected=f"{article(kind)}, such as {example}",
            remedy=_unit_hint(parts.rest, kind),
        )
    # Multiplied as decimal numbers, so that "24.35 mL" is the float nearest to 0.02435.
    scale = Decimal(repr(factor))
    return Reading(float(parts.number * scale), float(parts.step * scale))


def kind_of(unit_text: str) -> str:
    """Return the kind of quantity that a unit measures; empty if it is none of `INTERNAL`.

    Examples
    --------
    >>> kind_of("mg"), kind_of("furlong/fortnight")
    ('mass', '')

    """
    return next((kind for kind, (unit, _) in INTERNAL.items() if factor_of(unit_text, unit) is not None), "")


def _refuse_bare(written: object, kind: str, *, argument: str) -> Reading:
    example = INTERNAL[kind][1]
    if isinstance(written, (str, int, float)):
        problem = "a bare number has no unit."
    else:
        problem = f"{type(written).__name__} is not a quantity."
    raise UnitError(
        problem, argument=argument, given=written, expected=article(kind), remedy=f"Write for example {example}."
    )


def _unit_hint(unit_text: str, kind: str) -> str:
    if kind == "temperature difference" and unit_text in KNOWN["temperature"]:
        return "A difference of temperatures is written in kelvin: 2 °C more or less are '2 K'."
    if any(unit_text in known for known in KNOWN.values()):
        return "The number may belong to another argument."
    return nearest(unit_text, KNOWN[kind])


def read_fraction(written: Written, *, argument: str) -> float:
    """Return a mass fraction, written ``"99.95 % w/w"`` or ``"0.9995 g/g"``.

    Raises
    ------
    UnitError
        As for `read`.

    Examples
    --------
    >>> read_fraction("99.95 % w/w", argument="purity")
    0.9995

    """
    return read(written, "mass fraction", argument=argument)


def read_in(written: Written | float, unit: str, *, argument: str) -> float:
    """Return a quantity as a plain number in a given unit, such as that of a result.

    Parameters
    ----------
    written : str, pint.Quantity or float
        ``"80 g/L"``, or a quantity of any pint registry; a plain number where the unit is ``"1"``.
    unit : str
        The unit.
    argument : str
        Name of the argument, for messages.

    Raises
    ------
    UnitError
        If the unit is missing, unknown or of another dimension, or the number cannot be read.

    Examples
    --------
    >>> read_in("80 mg/mL", "g/L", argument="lower"), read_in(0.95, "1", argument="lower")
    (80.0, 0.95)

    """
    spelled = WRITTEN_AS.get(unit, unit)
    example = "0.95" if unit == "1" else f"'5 {spelled}'"
    if hasattr(written, "m_as"):
        return from_quantity(written, SPELLED.get(unit, unit), f"quantity in {spelled}", argument=argument)
    if isinstance(written, str):
        parts = split(written, argument=argument, example=example)
        factor = (1.0 if unit == "1" else None) if not parts.rest else factor_in(parts.rest, unit)
        number = float(parts.number * Decimal(repr(factor))) if factor is not None else math.nan
        given = f"the unit {parts.rest!r}" if parts.rest else "a bare number"
    else:
        is_number = isinstance(written, (int, float)) and not isinstance(written, bool)
        number = float(written) if is_number and unit == "1" else math.nan
        given = "a bare number" if is_number and unit != "1" else f"{written!r}"
    if not math.isfinite(number):
        raise UnitError(
            f"{given} cannot be compared with a result in {spelled}." if unit != "1" else f"{given} is no pure number.",
            argument=argument,
            given=written if isinstance(written, (str, int, float)) else type(written).__name__,
            remedy=f"Write for example {example}.",
        )
    return number
