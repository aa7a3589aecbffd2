"""The unit door: quantities and strings become plain numbers here, and nowhere else. The only importer of pint.

A string is one decimal number with a point, then a unit. The number is read by the grammar of this module; pint sees
only the unit. (Given a whole string, pint reads ``"25,00 mL"`` as 2500 mL and does not come back from ``"9**9**9
mL"``.)
"""

from __future__ import annotations

import math
import os
import re
import threading
from contextlib import suppress
from decimal import Decimal
from functools import lru_cache
from numbers import Real
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

from assay.errors import UnitError, nearest

if TYPE_CHECKING:
    import numpy as np
    import pint

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?![0-9,])(?:\.[0-9]+)?")
_UNIT = re.compile(
    r"(?:[A-Za-zµμΩ°%]+(?:\^?[-−]?[1-3])?|1)(?:\s*[/*·]\s*[A-Za-zµμ°]+(?:\^?[-−]?[1-3])?|\s[A-Za-zµμ]+-[1-3])*"
)

#: Unit inside the library for each kind of quantity, and examples of what a person may write.
INTERNAL: dict[str, tuple[str, str]] = {
    "volume": ("L", "'25.00 mL' or '0.25 L'"),
    "mass": ("g", "'0.1234 g' or '0.1 mg'"),
    "amount": ("mol", "'0.25 mol' or '12.5 mmol'"),
    "amount concentration": ("mol/L", "'0.1 mol/L'"),
    "mass concentration": ("g/L", "'150 g/L'"),
    "density": ("g/L", "'1.160 g/mL'"),
    "time": ("s", "'20 min' or '2 h'"),
    "temperature": ("K", "'20 °C' or '293.15 K'"),
    "temperature difference": ("delta_degC", "'2 K'"),
    "mass fraction": ("g/g", "'99.95 % w/w' or '0.9995 g/g'"),
    "pressure": ("Pa", "'1013 hPa'"),
}

#: Spellings that pint would read as something else than a bench does.
_MISREAD = {
    "ML": "mL (ML is a million litres)",
    "Ml": "mL",
    "MMOL": "mmol",
    "G": "g",
    "Mg": "mg (Mg is a million grams)",
    "MG": "mg",
    "gr": "g",
    "gm": "g",
    "cc": "mL",
    "lt": "L",
    "N": "mol/L, after deciding what one equivalent is",
    "M": "mol/L",
    "mM": "mmol/L",
    "µM": "µmol/L",
    "μM": "µmol/L",
    "uM": "µmol/L",
    "molar": "mol/L",
}

#: Spellings to offer for each kind of quantity.
_KNOWN: dict[str, tuple[str, ...]] = {
    "volume": ("mL", "L", "µL"),
    "mass": ("g", "mg", "kg"),
    "amount": ("mol", "mmol"),
    "amount concentration": ("mol/L", "mmol/L"),
    "mass concentration": ("g/L", "mg/L"),
    "density": ("g/mL", "kg/L", "g/L"),
    "time": ("s", "min", "h", "day"),
    "temperature": ("°C", "K"),
    "temperature difference": ("K",),
    "mass fraction": ("% w/w", "g/g", "mg/g", "g/kg", "mg/kg"),
    "pressure": ("hPa", "kPa", "mbar", "Pa"),
}

#: What to write instead of a share that does not say per what.
_PER_MASS = {
    "%": "Write '{} % w/w' if that is meant.",
    "percent": "Write '{} % w/w' if that is meant.",
    "per cent": "Write '{} % w/w' if that is meant.",
    "‰": "Write '{} g/kg' if that is meant.",
    "ppm": "Write '{} mg/kg' if that is meant.",
    "ppb": "Write '{} µg/kg' if that is meant.",
}

Written: TypeAlias = "str | pint.Quantity[Any]"
Array: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"


class Reading(NamedTuple):
    """A number as it was written: its value inside the library, and the step of its last digit."""

    value: float
    step: float


class Parts(NamedTuple):
    """A text split into its number and what follows it."""

    number: Decimal
    step: Decimal
    rest: str


#: Units of the glossary that pint spells otherwise: grams in 100 mL are grams in a decilitre.
_SPELLED = {"1": "dimensionless", "g/(100 mL)": "g/dL", "g/g": "dimensionless", "g/(100 g)": "percent"}

#: Shares by mass, as units of one gram in a gram, and how a bench writes those that pint would not know.
_SHARES = {"g/g": 1.0, "g/(100 g)": 100.0, "mg/kg": 1e6}
_WRITTEN = {"g/(100 g)": "% w/w", "g/(100 mL)": "% w/v"}

_REGISTRY_LOCK = threading.RLock()
if hasattr(os, "register_at_fork"):  # a child must not find the lock held by a thread that it does not have
    os.register_at_fork(
        before=_REGISTRY_LOCK.acquire, after_in_parent=_REGISTRY_LOCK.release, after_in_child=_REGISTRY_LOCK.release
    )


def _registry() -> pint.UnitRegistry[Any]:
    """Return the application registry, built: pint builds it when it is first used, where two threads would collide."""
    with _REGISTRY_LOCK:
        import pint

        registry: pint.UnitRegistry[Any] = pint.get_application_registry().get()  # type: ignore[no-untyped-call]
        registry.Quantity  # noqa: B018  (asked for, so that it is built now)
        return registry


def split(text: str, *, argument: str, example: str) -> Parts:
    """Return the number at the start of a text, its last digit's step, and the rest.

    Raises
    ------
    UnitError
        If the number is not one decimal number with a point; the message says what to write instead.

    """
    stripped = text.strip()
    match = _NUMBER.match(stripped)
    if match is None:
        raise UnitError(_no_number(stripped), argument=argument, given=text, remedy=f"Write for example {example}.")
    rest = stripped[match.end() :].strip()
    _refuse_number_tail(stripped, match.group(), rest, argument=argument, example=example)
    number = Decimal(match.group())
    exponent = number.as_tuple().exponent
    return Parts(number, Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0), rest)


def _no_number(text: str) -> str:
    if re.match(r"[+-]?(nan|inf)", text, re.IGNORECASE):
        return "NaN and infinity are no readings."
    if not text:
        return "nothing is written here."
    if text[0] in "−–—":
        return "the minus sign is a dash; a computer needs the hyphen-minus '-'."
    return "there is no number at the start."


def _refuse_number_tail(text: str, number: str, rest: str, *, argument: str, example: str) -> None:
    """Refuse what follows a number if it is more number: a comma, an uncertainty, a power, an expression."""
    tail = rest[:1]
    problem = remedy = ""
    if tail == ",":
        problem, remedy = "a decimal comma is not read, since elsewhere it marks thousands.", _without_commas(text)
    elif tail in {"±", "("} or rest.startswith("+/-"):
        problem = "a number with its uncertainty in one string is not read."
        remedy = f"Write '{number} …' and state the uncertainty in its own argument (tolerance, half_width or u)."
    elif tail in {"*", "^", "+", "-", "/", "×", "·"} or re.match(r"x\s*10", rest):
        problem, remedy = "an expression is not computed.", f"Write one number, for example {example}."
    elif tail.isdigit() or tail in {".", "'", "_"}:
        problem, remedy = "this is more than one number.", f"Write one number with a point, for example {example}."
    elif number.lstrip("+-").startswith("."):
        problem, remedy = "a number begins with a digit.", f"Write '{number.replace('.', '0.')} …'."
    if problem:
        raise UnitError(problem, argument=argument, given=text, remedy=remedy)


def _without_commas(text: str) -> str:
    pointed = re.sub(r"^([+-]?[0-9]+),", r"\1.", text)
    thousands = _THOUSANDS.match(text)
    if thousands is None:
        return f"Write {pointed!r}."
    joined = thousands.group().replace(",", "") + text[thousands.end() :]
    return f"Write {joined!r}." if "," in pointed or pointed.count(".") > 1 else f"Write {joined!r} or {pointed!r}."


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
        reading = _converted(parts, kind, argument=argument, written=written)
    elif hasattr(written, "m_as"):
        reading = Reading(_from_quantity(written, unit, kind, argument=argument), 0.0)
    else:
        reading = _refuse_bare(written, kind, argument=argument)
    problem = "the number is too large to be a reading." if math.isinf(reading.value) else ""
    if kind == "temperature" and reading.value < 0.0:
        problem = "the temperature is below absolute zero."
    if problem:
        raise UnitError(problem, argument=argument, given=written, remedy=f"Write for example {example}.")
    return reading


def _converted(parts: Parts, kind: str, *, argument: str, written: str) -> Reading:
    unit, example = INTERNAL[kind]
    if kind == "temperature" and parts.rest in {"°C", "degC", "℃"}:
        return Reading(float(parts.number) + 273.15, float(parts.step))
    if kind == "mass fraction" and parts.rest == "% w/w":
        return Reading(float(parts.number.scaleb(-2)), float(parts.step.scaleb(-2)))
    if kind == "mass fraction" and parts.rest in _PER_MASS:
        raise UnitError(
            f"{parts.rest!r} does not say per what.",
            argument=argument,
            given=written,
            expected=f"{_article(kind)}, such as {example}",
            remedy=_PER_MASS[parts.rest].format(parts.number),
        )
    if parts.rest in _MISREAD:
        raise UnitError(
            f"the unit {parts.rest!r} is not what a bench means by it.",
            argument=argument,
            given=written,
            expected=f"{_article(kind)}, such as {example}",
            remedy=f"Did you mean {_MISREAD[parts.rest]}?",
        )
    factor = _factor(parts.rest, unit)
    if factor is None:
        raise UnitError(
            f"{parts.rest!r} is not a unit of {kind}.",
            argument=argument,
            given=written,
            expected=f"{_article(kind)}, such as {example}",
            remedy=_unit_hint(parts.rest, kind),
        )
    # Multiplied as decimal numbers, so that "24.35 mL" is the float nearest to 0.02435.
    scale = Decimal(repr(factor))
    return Reading(float(parts.number * scale), float(parts.step * scale))


@lru_cache(maxsize=512)
def _factor(unit_text: str, unit: str) -> float | None:
    """Return what one of a unit is in the inside unit; ``None`` if it is unknown or of another dimension."""
    if _UNIT.fullmatch(unit_text) is None or len(unit_text) > 24:  # noqa: PLR2004  (longer than any unit of this field)
        return None
    if unit == "g/g":
        # To pint every pure number is alike: an angle, a decibel, a volume fraction.
        above, _, below = unit_text.partition("/")
        masses = (_factor(above, "g"), _factor(below, "g"))
        return None if masses[0] is None or masses[1] is None else float(f"{masses[0] / masses[1]:.15g}")
    registry = _registry()
    spelled = re.sub(
        r"(?<=[A-Za-zµμ])\^?[-−]?[1-3]", lambda m: "**" + m.group().lstrip("^").replace("−", "-"), unit_text
    )
    spelled = spelled.replace("·", "*").replace("μ", "µ")
    spelled = re.sub(r"\s+(?=[A-Za-zµ])", "*", spelled)
    try:
        parsed = registry.parse_units(spelled)
        factor = float(registry.Quantity(1.0, parsed).m_as(unit))
        if float(registry.Quantity(0.0, parsed).m_as(unit)) != 0.0:
            return None  # a scale with another zero, such as °F, is no factor
    except Exception:  # noqa: BLE001  (pint raises many classes, also tokenizer errors; each means: no such unit here)
        return None
    return float(f"{factor:.15g}")


def kind_of(unit_text: str) -> str:
    """Return the kind of quantity that a unit measures; empty if it is none of `INTERNAL`.

    Examples
    --------
    >>> kind_of("mg"), kind_of("furlong/fortnight")
    ('mass', '')

    """
    return next((kind for kind, (unit, _) in INTERNAL.items() if _factor(unit_text, unit) is not None), "")


def read_array(written: Any, kind: str, *, unit: str | None = None, argument: str) -> Array:  # noqa: ANN401  (of any registry, or anything numpy makes an array of)
    """Return many quantities as plain numbers in the unit that the library uses inside.

    Parameters
    ----------
    written : pint.Quantity of an array, or array
        The quantities; plain numbers need ``unit``. NaN, and what is masked, is a number that was not read.
    kind : str
        One of the keys of `INTERNAL` that has no other zero: all but ``"temperature"``.
    unit : str, optional
        Unit of plain numbers, such as ``"mL"``.
    argument : str
        Name of the argument, for messages.

    Raises
    ------
    UnitError
        If the unit is missing, told twice, unknown or of another dimension, or something is not a number.

    Examples
    --------
    >>> read_array([24.35, 24.40], "volume", unit="mL", argument="final").round(6).tolist()
    [0.02435, 0.0244]

    """
    import numpy as np

    is_quantity = hasattr(written, "m_as")
    if is_quantity and unit is not None:
        raise UnitError(
            "the unit is told twice, by the quantity and by unit.",
            argument=argument,
            given=unit,
            remedy="Give the quantity alone, or plain numbers with their unit.",
        )
    if not is_quantity and unit is None:
        raise UnitError(
            "bare numbers have no unit.",
            argument=argument,
            given=f"{type(written).__name__} of numbers",
            remedy=f"Give unit, such as unit={_KNOWN[kind][0]!r}, or a quantity made of the whole array.",
        )
    factor = 1.0
    if unit is not None:
        factor = _converted(Parts(Decimal(1), Decimal(1), unit.strip()), kind, argument="unit", written=unit).value
    plain = _magnitude(written, INTERNAL[kind][0], kind, argument=argument) if is_quantity else written
    try:
        numbers = np.ma.filled(np.ma.asarray(plain).astype(float), np.nan)
    except (TypeError, ValueError):
        raise UnitError(
            "this is not an array of numbers.",
            argument=argument,
            given=str(written)[:80],
            remedy="Give numbers in rows of equal length, NaN where a place is empty, and the unit beside them.",
        ) from None
    converted: Array = numbers * factor
    return converted


def _magnitude(quantity: Any, unit: str, kind: str, *, argument: str) -> Any:  # noqa: ANN401  (of any registry)
    with suppress(Exception):  # as in _factor
        return quantity.m_as(unit)
    with suppress(Exception):  # floats do not multiply with the factors of a decimal or rational registry
        zero, one = (float(type(quantity)(number, quantity.units).m_as(unit)) for number in (0, 1))
        return quantity.magnitude * (one - zero) + zero
    raise UnitError(
        f"{quantity.units} is not a unit of {kind}.",
        argument=argument,
        given=str(quantity)[:80],
        expected=_article(kind),
    )


def _from_quantity(quantity: Any, unit: str, kind: str, *, argument: str) -> float:  # noqa: ANN401  (as above)
    value = _magnitude(quantity, unit, kind, argument=argument)
    if not isinstance(value, (Real, Decimal)):  # a registry may have numbers of its own sort
        has_uncertainty = hasattr(value, "std_dev")
        raise UnitError(
            f"a plain number is needed before the unit, not {type(value).__name__}.",
            argument=argument,
            given=str(quantity)[:80],
            remedy="State the uncertainty in its own argument."
            if has_uncertainty
            else "Give one number; several readings are several quantities, and arrays are read where batches are.",
        )
    if not math.isfinite(value):
        raise UnitError("NaN and infinity are no readings.", argument=argument, given=str(quantity))
    return float(value)


def _refuse_bare(written: object, kind: str, *, argument: str) -> Reading:
    example = INTERNAL[kind][1]
    if isinstance(written, (str, int, float)):
        problem = "a bare number has no unit."
    else:
        problem = f"{type(written).__name__} is not a quantity."
    raise UnitError(
        problem, argument=argument, given=written, expected=_article(kind), remedy=f"Write for example {example}."
    )


def _article(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _unit_hint(unit_text: str, kind: str) -> str:
    if kind == "temperature difference" and unit_text in _KNOWN["temperature"]:
        return "A difference of temperatures is written in kelvin: 2 °C more or less are '2 K'."
    if any(unit_text in known for known in _KNOWN.values()):
        return "The number may belong to another argument."
    return nearest(unit_text, _KNOWN[kind])


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


def quantity(magnitude: Any, unit: str) -> pint.Quantity[Any]:  # noqa: ANN401  (a float, a ufloat or an array)
    """Return a pint quantity of the application registry."""
    registry = _registry()
    try:
        parsed = registry.parse_units(_SPELLED.get(unit, unit))
    except Exception:  # noqa: BLE001  (as in _factor)
        raise UnitError(
            "the unit of this result is no unit that a quantity can have.",
            argument="unit",
            given=unit,
            remedy="Use value and u, or combine with a unit such as 'mol/L'.",
        ) from None
    return registry.Quantity(magnitude, parsed)


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
    spelled = _WRITTEN.get(unit, unit)
    example = "0.95" if unit == "1" else f"'5 {spelled}'"
    if hasattr(written, "m_as"):
        return _from_quantity(written, _SPELLED.get(unit, unit), f"quantity in {spelled}", argument=argument)
    if isinstance(written, str):
        parts = split(written, argument=argument, example=example)
        factor = (1.0 if unit == "1" else None) if not parts.rest else _factor_in(parts.rest, unit)
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


def _factor_in(rest: str, unit: str) -> float | None:
    """Return what one of a written unit is in another; ``None`` if it is unknown, misread or of another dimension."""
    if rest in {unit, _WRITTEN.get(unit)}:
        return 1.0
    if rest in _MISREAD or unit == "1":
        return None
    if unit in _SHARES:
        share = 0.01 if rest == "% w/w" else _factor(rest, "g/g")
        return None if share is None else _SHARES[unit] * share
    return _factor(rest, _SPELLED.get(unit, unit))
