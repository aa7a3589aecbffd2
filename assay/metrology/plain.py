"""Plain numbers: what the shapes and the options of a run are stated in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from typing import SupportsFloat, cast

import numpy as np

from assay.errors import DomainError


def plain(given: object, *, argument: str) -> float:
    """Return a plain number as a float.

    Raises
    ------
    DomainError
        If it is text, a quantity with a unit, or no single number.

    Examples
    --------
    >>> plain(2, argument="k")
    2.0

    """
    if type(given) is float:  # by far the most
        return given
    if not isinstance(given, (str, bytes)):  # float() would read them
        with suppress(TypeError, ValueError):
            return float(cast("SupportsFloat", given))
    raise DomainError(
        "this is not a plain number",
        argument=argument,
        given=given,
        expected="a number without text, in the unit of its quantity",
        remedy="Write 0.05 for '0.05 mL', and 0.95 for '95 %'.",
    )


def plain_values(given: Sequence[object], *, argument: str) -> list[float]:
    """Return several values as floats.

    Raises
    ------
    DomainError
        If they are no sequence, one is no plain number, or one is not finite.

    """
    if isinstance(given, (str, bytes)) or not np.iterable(given):
        raise DomainError("several values are needed", argument=argument, given=given, expected="a list of numbers")
    values = [plain(value, argument=f"value {place} of {argument}") for place, value in enumerate(given, 1)]
    for place, value in enumerate(values, 1):
        if not math.isfinite(value):
            raise DomainError(
                "this is not finite",
                argument=f"value {place} of {argument}",
                given=value,
                remedy="Leave out what was not observed.",
            )
    return values


def extent(name: str, given: object, id_: str) -> float:
    """Return a half-width, a step or an expanded uncertainty, or raise `DomainError` if it is none."""
    found = plain(given, argument=f"{name} of {id_}")
    if not (math.isfinite(found) and found >= 0.0):
        told = {"half_width": "a half-width", "step": "a step", "expanded": "an expanded uncertainty"}[name]
        raise DomainError(f"{told} is finite and not negative", argument=f"{name} of {id_}", given=given)
    return found


def check_dof(dof: float, id_: str) -> float:
    """Return degrees of freedom, or raise `DomainError` if they are below 1."""
    if not dof >= 1.0:
        raise DomainError("degrees of freedom are 1 or more", argument=f"dof of {id_}", given=dof)
    return dof


def check_limits(low: float, high: float, argument: str, *, infinite: bool = False) -> None:
    """Raise `DomainError` unless the lower limit is below the higher one."""
    low, high = plain(low, argument=argument), plain(high, argument=argument)
    if not (low < high and (infinite or (math.isfinite(low) and math.isfinite(high)))):
        raise DomainError(
            "a range has a lower and a higher limit",
            argument=argument,
            given=f"{low:g} to {high:g}",
            expected="low < high" + ("" if infinite else ", both finite"),
        )
