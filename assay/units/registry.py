"""Units by pint: what one of a unit is in another, and quantities there and back. The only importer of pint."""

from __future__ import annotations

import math
import os
import re
import threading
from contextlib import suppress
from decimal import Decimal
from functools import lru_cache
from numbers import Real
from typing import TYPE_CHECKING, Any

from assay.errors import UnitError
from assay.units.kinds import MISREAD, SHARES, SPELLED, WRITTEN_AS, article

if TYPE_CHECKING:
    import pint

_UNIT = re.compile(
    r"(?:[A-Za-zµμΩ°%]+(?:\^?[-−]?[1-3])?|1)(?:\s*[/*·]\s*[A-Za-zµμ°]+(?:\^?[-−]?[1-3])?|\s[A-Za-zµμ]+-[1-3])*"
)

_REGISTRY_LOCK = threading.RLock()
if hasattr(os, "register_at_fork"):  # a child must not find the lock held by a thread that it does not have
    os.register_at_fork(
        before=_REGISTRY_LOCK.acquire, after_in_parent=_REGISTRY_LOCK.release, after_in_child=_REGISTRY_LOCK.release
    )


def application_registry() -> pint.UnitRegistry[Any]:
    """Return the application registry, built: pint builds it when it is first used, where two threads would collide."""
    with _REGISTRY_LOCK:
        import pint

        registry: pint.UnitRegistry[Any] = pint.get_application_registry().get()  # type: ignore[no-untyped-call]
        registry.Quantity  # noqa: B018  (asked for, so that it is built now)
        return registry


@lru_cache(maxsize=512)
def factor_of(unit_text: str, unit: str) -> float | None:
    """Return what one of a unit is in the inside unit; ``None`` if it is unknown or of another dimension."""
    if _UNIT.fullmatch(unit_text) is None or len(unit_text) > 24:  # noqa: PLR2004  (longer than any unit of this field)
        return None
    if unit == "g/g":
        # To pint every pure number is alike: an angle, a decibel, a volume fraction.
        above, _, below = unit_text.partition("/")
        masses = (factor_of(above, "g"), factor_of(below, "g"))
        return None if masses[0] is None or masses[1] is None else float(f"{masses[0] / masses[1]:.15g}")
    registry = application_registry()
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


def factor_in(rest: str, unit: str) -> float | None:
    """Return what one of a written unit is in another; ``None`` if it is unknown, misread or of another dimension."""
    if rest in {unit, WRITTEN_AS.get(unit)}:
        return 1.0
    if rest in MISREAD or unit == "1":
        return None
    if unit in SHARES:
        share = 0.01 if rest == "% w/w" else factor_of(rest, "g/g")
        return None if share is None else SHARES[unit] * share
    return factor_of(rest, SPELLED.get(unit, unit))


def magnitude_of(quantity: Any, unit: str, kind: str, *, argument: str) -> Any:  # noqa: ANN401  (of any registry)
    """Return the magnitude of a quantity of any registry in a unit.

    Raises
    ------
    UnitError
        If it is of another dimension.

    """
    with suppress(Exception):  # as in factor_of
        return quantity.m_as(unit)
    with suppress(Exception):  # floats do not multiply with the factors of a decimal or rational registry
        zero, one = (float(type(quantity)(number, quantity.units).m_as(unit)) for number in (0, 1))
        return quantity.magnitude * (one - zero) + zero
    raise UnitError(
        f"{quantity.units} is not a unit of {kind}.",
        argument=argument,
        given=str(quantity)[:80],
        expected=article(kind),
    )


def from_quantity(quantity: Any, unit: str, kind: str, *, argument: str) -> float:  # noqa: ANN401  (as above)
    """Return one plain number of a quantity of any registry in a unit.

    Raises
    ------
    UnitError
        If it is of another dimension, has an uncertainty, is an array or is not finite.

    """
    value = magnitude_of(quantity, unit, kind, argument=argument)
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


def quantity(magnitude: Any, unit: str) -> pint.Quantity[Any]:  # noqa: ANN401  (a float, a ufloat or an array)
    """Return a pint quantity of the application registry."""
    registry = application_registry()
    try:
        parsed = registry.parse_units(SPELLED.get(unit, unit))
    except Exception:  # noqa: BLE001  (as in factor_of)
        raise UnitError(
            "the unit of this result is no unit that a quantity can have.",
            argument="unit",
            given=unit,
            remedy="Use value and u, or combine with a unit such as 'mol/L'.",
        ) from None
    return registry.Quantity(magnitude, parsed)
