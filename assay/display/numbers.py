"""Rounding for display: the uncertainty to two significant digits, the value to match. Nothing else is ever rounded."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import NamedTuple, Protocol

from assay.flags import Flag, codes_of

#: Room for every digit of every float at any place.
_EXACT = Context(prec=1100)


class Interval(NamedTuple):
    """An interval and the level of confidence at which it is stated."""

    low: float
    high: float
    level: float


class Measured(Protocol):
    """What a number needs so that it can be shown."""

    @property
    def label(self) -> str:
        """What a person calls it."""

    @property
    def value(self) -> float:
        """Best value."""

    @property
    def u(self) -> float:
        """Standard uncertainty."""

    @property
    def unit(self) -> str:
        """Unit of both."""

    @property
    def dof(self) -> float:
        """Degrees of freedom."""

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data."""


def places_of(u: float, digits: int = 2) -> int | None:
    """Return the decimal places that show an uncertainty to its significant digits; ``None`` without uncertainty.

    References
    ----------
    [jcgm-100-2008] 7.2.6: two significant digits usually suffice, and the value is rounded to match.

    Examples
    --------
    >>> places_of(0.0123), places_of(123.0)
    (3, -1)
    >>> places_of(0.0998)  # rounds up to 0.10, still two digits
    2

    """
    if not u > 0.0 or not math.isfinite(u):
        return None
    places = digits - 1 - Decimal(repr(float(u))).adjusted()
    if Decimal(fixed(u, places)) >= Decimal(1).scaleb(digits - places):
        places -= 1
    return places


def fixed(value: float, places: int) -> str:
    """Return a number rounded half to even at a decimal place; a negative place rounds to tens, hundreds and so on.

    Examples
    --------
    >>> fixed(1234.5, -2), fixed(2.345, 2)
    ('1200', '2.34')

    """
    if not math.isfinite(value):
        return {math.inf: "∞", -math.inf: "-∞"}.get(value, "undefined")
    shown = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN, context=_EXACT)
    return f"{shown or abs(shown):f}"  # a rounded zero has no sign


def significant(value: float, digits: int = 2) -> str:
    """Return a number to a number of significant digits, in plain notation where that is short.

    Examples
    --------
    >>> significant(0.012345), significant(0.0000012345), significant(0.0)
    ('0.012', '1.2e-06', '0')

    """
    if value == 0.0:
        return "0"
    places = places_of(abs(value), digits)
    if places is None:
        return fixed(value, 0)
    if -4 < places < 7:  # noqa: PLR2004  (beyond, zeros outnumber digits)
        return fixed(value, places)
    return f"{value:.{digits - 1}e}"


def value_and_u(value: float, u: float) -> tuple[str, str]:
    """Return value and uncertainty as text, by the rule of this module.

    Examples
    --------
    >>> value_and_u(0.1021362, 0.0001005)
    ('0.10214', '0.00010')

    """
    places = places_of(u)
    if places is None:
        return f"{value:.10g}", fixed(u, 0)
    return fixed(value, places), fixed(u, places)


def between(low: float, high: float) -> tuple[str, str]:
    """Return the limits of an interval as text, to two digits of its half-width.

    Examples
    --------
    >>> between(0.1019351, 0.1023372)
    ('0.10194', '0.10234')

    """
    half = (high - low) / 2.0
    return value_and_u(low, half)[0], value_and_u(high, half)[0]


def plus_minus(value: float, expanded: float, unit: str) -> str:
    """Return ``(value ± U) unit``.

    Examples
    --------
    >>> plus_minus(0.1021362, 0.000201, "mol/L")
    '(0.10214 ± 0.00020) mol/L'

    """
    value_text, expanded_text = value_and_u(value, expanded)
    return f"({value_text} ± {expanded_text}) {unit}".removesuffix(" 1")


def degrees(dof: float) -> str:
    """Return degrees of freedom for a report."""
    if dof > 1e6:  # noqa: PLR2004  (t is normal there)
        return "∞"
    return "> 1000" if dof > 1000.0 else f"{dof:.3g}"  # noqa: PLR2004  (more than anyone reads)


def measured(number: Measured, *, kind: str = "") -> str:
    """Return one line for a measured number, blocking flags first."""
    value_text, u_text = value_and_u(number.value, number.u)
    unit = "" if number.unit == "1" else f" {number.unit}"
    line = f"{codes_of(number.flags)}{value_text}{unit}, u = {u_text}{unit}, dof = {degrees(number.dof)}"
    return f"<{kind} {number.label!r}: {line}>" if kind else line
