r"""Symbols, units and numbers within formulas: the glossary's LaTeX as plain text, and both as pieces."""

from __future__ import annotations

import re
from decimal import Decimal
from unicodedata import lookup

from assay.display.formulas import ATOM, QUANTITY, SUM, Piece
from assay.display.numbers import fixed

_LETTERS = (
    "alpha beta gamma delta epsilon zeta eta theta kappa lambda mu nu xi pi rho sigma tau phi chi psi omega "
    "Gamma Delta Theta Lambda Xi Pi Sigma Phi Psi Omega"
)


def _greek(name: str) -> str:
    """Return the letter that LaTeX calls by a name."""
    size = "CAPITAL" if name[0].isupper() else "SMALL"
    return lookup(f"GREEK {size} LETTER {name.upper().replace('LAMBDA', 'LAMDA')}")


_SIGNS = {name: _greek(name) for name in _LETTERS.split()} | {"ell": lookup("SCRIPT SMALL L")}
_PLAIN_FROM, _PLAIN_BELOW = 1e-5, 1e7  # numbers between are written without an exponent
_MOST_DIGITS = 17


def plain(symbol: str) -> str:
    r"""Return a symbol of the glossary as plain text.

    Examples
    --------
    >>> plain(r"\delta m_\mathrm{g}"), plain(r"G_{k+1}"), plain(r"\phi'"), plain(r"\bar x")
    ('δm_g', 'G_(k+1)', "φ'", 'x̄')

    """
    shown = re.sub(r"\\(?:mathrm|text)\{([^{}]*)\}", r"\1", symbol)
    shown = re.sub(r"\\bar\s*(\w)", "\\1\u0304", shown)
    shown = re.sub(r"\\([A-Za-z]+)\s*", lambda match: _SIGNS.get(match[1], match[1]), shown)
    shown = re.sub(r"\{(\w*)\}", r"\1", shown)
    return shown.replace("{", "(").replace("}", ")").replace(",", "")


def numbered(symbol: str, number: int) -> str:
    r"""Return a symbol with a number as its index, or added to the index that it has.

    Examples
    --------
    >>> numbered("x_i", 3), numbered(r"A_\mathrm{r}", 2), numbered("F", 1)
    ('x_{3}', 'A_{\\mathrm{r}2}', 'F_{1}')

    """
    base, _, index = symbol.partition("_")
    index = "" if index == "i" else index.removeprefix("{").removesuffix("}") if index.startswith("{") else index
    return f"{base}_{{{index}{number}}}"


def symbol_pieces(symbol: str) -> tuple[Piece, Piece]:
    """Return a symbol as a piece of text and of LaTeX; one that is itself a formula gets brackets where they matter."""
    bare = re.sub(r"\{[^{}]*\}", "", symbol)
    level = SUM if any(sign in bare for sign in "+-/") else ATOM
    return Piece(plain(symbol), level), Piece(symbol, level)


def number_pieces(number: str, unit: str) -> tuple[Piece, Piece]:
    r"""Return a number with its unit as a piece of text and of LaTeX.

    Examples
    --------
    >>> text, latex = number_pieces("-1.5e-05", "mol/L")
    >>> text.written, latex.written
    ('-1.5e-05 [mol/L]', '-1.5 \\times 10^{-5}\\,\\mathrm{mol/L}')

    """
    mantissa, _, exponent = number.partition("e")
    power = rf" \times 10^{{{int(exponent)}}}" if exponent else ""
    units = "" if unit == "1" else rf"\,\mathrm{{{latex_unit(unit)}}}"
    level = SUM if number.startswith("-") else QUANTITY if units or power else ATOM
    text_level = SUM if number.startswith("-") else QUANTITY if units else ATOM
    return Piece(number if unit == "1" else f"{number} [{unit}]", text_level), Piece(mantissa + power + units, level)


def latex_unit(unit: str) -> str:
    r"""Return a unit for the mathematical mode of LaTeX.

    Examples
    --------
    >>> latex_unit("g/(100 mL)"), latex_unit("1/K")
    ('g/(100\\,mL)', 'K^{-1}')

    """
    if unit.startswith("1/") and unit[2:].isalpha():
        return f"{unit[2:]}^{{-1}}"
    return unit.replace("%", r"\%").replace("_", r"\_").replace("°", r"^{\circ}").replace(" ", r"\,")


def to_places(value: float, places: int) -> str:
    """Return a number rounded at a decimal place, in plain notation or with an exponent.

    Examples
    --------
    >>> to_places(0.0249471, 6), to_places(1.23456e-6, 8), to_places(0.0, 3), to_places(2.3e9, -8)
    ('0.024947', '1.23e-06', '0.000', '2.3e+09')

    """
    magnitude = abs(value)
    if magnitude == 0.0 or _PLAIN_FROM <= magnitude < _PLAIN_BELOW:
        return fixed(value, max(places, 0))
    digits = places + int(f"{magnitude:e}".partition("e")[2])
    if digits < 0:  # it rounds to nothing at this place
        return "0"
    return f"{value:.{min(digits, _MOST_DIGITS)}e}"


def shortest(value: float) -> str:
    """Return the shortest number that reads back as the same float.

    Examples
    --------
    >>> shortest(6.0), shortest(0.02495), shortest(1e-5)
    ('6', '0.02495', '0.00001')

    """
    plain_number = _PLAIN_FROM <= abs(value) < _PLAIN_BELOW
    return (f"{Decimal(repr(float(value))):f}" if plain_number else repr(float(value))).removesuffix(".0")
