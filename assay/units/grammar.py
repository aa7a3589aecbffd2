"""The grammar of a written number: one decimal number with a point, then what follows it."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import NamedTuple

from assay.errors import UnitError

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?![0-9,])(?:\.[0-9]+)?")


class Parts(NamedTuple):
    """A text split into its number and what follows it."""

    number: Decimal
    step: Decimal
    rest: str


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
