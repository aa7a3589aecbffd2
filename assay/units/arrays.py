"""Many readings at once as arrays of plain numbers."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, TypeAlias

from assay.errors import UnitError
from assay.units.grammar import Parts
from assay.units.kinds import INTERNAL, KNOWN
from assay.units.reading import converted
from assay.units.registry import magnitude_of

if TYPE_CHECKING:
    import numpy as np

Array: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"


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
            remedy=f"Give unit, such as unit={KNOWN[kind][0]!r}, or a quantity made of the whole array.",
        )
    factor = 1.0
    if unit is not None:
        factor = converted(Parts(Decimal(1), Decimal(1), unit.strip()), kind, argument="unit", written=unit).value
    plain = magnitude_of(written, INTERNAL[kind][0], kind, argument=argument) if is_quantity else written
    try:
        numbers = np.ma.filled(np.ma.asarray(plain).astype(float), np.nan)
    except (TypeError, ValueError):
        raise UnitError(
            "this is not an array of numbers.",
            argument=argument,
            given=str(written)[:80],
            remedy="Give numbers in rows of equal length, NaN where a place is empty, and the unit beside them.",
        ) from None
    inside: Array = numbers * factor
    return inside
