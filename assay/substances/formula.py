"""Chemical formulas as text: which elements, and how many atoms of each."""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import Final, NoReturn

from assay.data import facts, table
from assay.errors import DomainError, nearest

#: Signs that separate the parts of an adduct such as a hydrate.
_DOTS: Final = "·.*•⋅∙"

_OPENING: Final = {"(": ")", "[": "]", "{": "}"}
_CLOSING: Final = {closing: opening for opening, closing in _OPENING.items()}
_DIGITS: Final = "0123456789"
_SUBSCRIPTS: Final = str.maketrans("₀₁₂₃₄₅₆₇₈₉", _DIGITS)
_CHARGE_SIGNS: Final = "+-\N{MINUS SIGN}\N{EN DASH}⁺⁻^⁰¹²³⁴⁵⁶⁷⁸⁹"
_STATES: Final = ("(aq)", "(g)", "(l)", "(s)")
_ISOTOPES: Final = {"D": "deuterium", "T": "tritium"}

#: No substance that is weighed and titrated has more atoms of one element in its formula; it also keeps counts finite.
_MOST_ATOMS: Final = 999_999


def parse_formula(text: str) -> dict[str, int]:
    """Return the number of atoms of each element in one formula unit.

    Parameters
    ----------
    text : str
        Symbols, counts as digits or subscripts, nested brackets ``()``, ``[]``, ``{}``, and the parts of a hydrate or
        another adduct joined by ``·`` (also ``.``, ``*``, ``•``), each part with a coefficient if need be. The first
        part may have one only if another part follows: ``"2CaSO4·H2O"``.

    Returns
    -------
    dict of str to int
        Atoms by symbol, in the order in which the symbols first appear.

    Raises
    ------
    DomainError
        If the text is no such formula; the message points at the character where reading failed. Charges, isotopes,
        states of aggregation and decimal counts are not part of a formula.

    Notes
    -----
    Not for structural formulas or names. An element that has no standard atomic weight is read like any other; it is
    refused where its weight is needed. A point between two digits is read as the dot of a hydrate only where ``H2O``
    follows the coefficient and the digit before it is no count of 1, because it may be a decimal elsewhere.

    The rules of writing are those of the trade (common practice).

    References
    ----------
    common practice: the rules of writing formulas.

    Examples
    --------
    >>> parse_formula("CuSO4·5H2O")
    {'Cu': 1, 'S': 1, 'O': 9, 'H': 10}
    >>> parse_formula("Na2S2O3.5H2O")
    {'Na': 2, 'S': 2, 'O': 8, 'H': 10}
    >>> parse_formula("K₄[Fe(CN)₆]")
    {'K': 4, 'Fe': 1, 'C': 6, 'N': 6}
    >>> parse_formula("Na2Co3)")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.DomainError: formula = 'Na2Co3)': ...
        Na2Co3)
              ^

    """
    return _Reader(text).formula()


@cache
def known_symbols() -> frozenset[str]:
    """Return the symbols of all elements, with and without a standard atomic weight.

    Examples
    --------
    >>> len(known_symbols())
    118

    """
    with_weight = table("atomic_weights").choices("symbol", edition="ciaaw-2021")
    without = facts("elements_without_weight").choices("symbol")
    return frozenset(with_weight + without)


class _Reader:
    """Read one formula from left to right; every fault is raised where it stands."""

    def __init__(self, given: str) -> None:
        self._given = given
        # One sign for one sign: a position in the text is a position in what was given.
        self._text = given.translate(_SUBSCRIPTS)
        self._end = len(given.rstrip())
        self._at = len(given) - len(given.lstrip())

    def formula(self) -> dict[str, int]:
        if self._at >= self._end:
            self._refuse("there is no formula", self._at, "Write one, such as 'KIO3' or 'Na2S2O3·5H2O'.")
        self._refuse_decimals()
        total: dict[str, int] = {}
        first_coefficient = self._at if self._peek() in _DIGITS else None
        parts = 0
        while True:
            coefficient = self._number() if self._peek() in _DIGITS else 1
            self._skip_spaces()
            where = self._at
            self._add(total, self._part(), coefficient, where)
            parts += 1
            self._skip_spaces()
            if self._at == self._end:
                break
            self._at += 1
            self._skip_spaces()
        if first_coefficient is not None and parts == 1:
            self._refuse(
                "a number stands before the formula",
                first_coefficient,
                "Give one formula unit and multiply the amount.",
            )
        return total

    def _part(self) -> dict[str, int]:
        """Read up to the next dot outside brackets, or to the end."""
        open_at: list[int] = []
        levels: list[dict[str, int]] = [{}]
        start = self._at
        while self._at < self._end:
            sign, where = self._peek(), self._at
            if sign.isascii() and sign.isupper():
                self._add(levels[-1], {self._symbol(): 1}, self._count(), where)
            elif sign in _OPENING:
                self._refuse_state()
                open_at.append(where)
                levels.append({})
                self._at += 1
            elif sign in _CLOSING:
                self._check_closing(open_at, levels)
                self._at += 1
                inner = levels.pop()
                opened = open_at.pop()
                self._add(levels[-1], inner, self._count(), opened)
            elif sign in _DOTS or self._only_a_dot_follows_spaces():
                break
            else:
                self._refuse_sign(sign)
        if open_at:
            bracket = self._text[open_at[-1]]
            self._refuse(f"this {bracket!r} is never closed", open_at[-1], f"Close it with {_OPENING[bracket]!r}.")
        if self._at == start:
            self._refuse_empty_part()
        return levels[0]

    def _symbol(self) -> str:
        start = self._at
        self._at += 1
        while self._at < self._end and self._peek().isascii() and self._peek().islower():
            self._at += 1
        symbol = self._text[start : self._at]
        if symbol in _ISOTOPES:
            self._refuse(
                f"{symbol!r} ({_ISOTOPES[symbol]}) is an isotope; isotopes have no place in a formula here",
                start,
                "The atomic weights are those of the natural elements: write 'H' if that is what was weighed.",
            )
        if symbol not in known_symbols():
            self._refuse(f"{symbol!r} is not the symbol of an element", start, _likely(symbol), width=len(symbol))
        return symbol

    def _count(self) -> int:
        return self._number() if self._peek() in _DIGITS else 1

    def _number(self) -> int:
        start = self._at
        while self._at < self._end and self._peek() in _DIGITS:
            self._at += 1
        digits = self._text[start : self._at]
        if digits.startswith("0"):
            self._refuse(
                "a count is a whole number that does not begin with zero", start, "Leave out what occurs no times."
            )
        if len(digits) > len(str(_MOST_ATOMS)):
            self._refuse(f"a count above {_MOST_ATOMS} belongs to no substance", start, "Check the digits.")
        return int(digits)

    def _add(self, total: dict[str, int], more: dict[str, int], times: int, where: int) -> None:
        for symbol, atoms in more.items():
            total[symbol] = total.get(symbol, 0) + atoms * times
            if total[symbol] > _MOST_ATOMS:
                self._refuse(
                    f"more than {_MOST_ATOMS} atoms of {symbol} belong to no substance", where, "Check the counts."
                )

    def _check_closing(self, open_at: list[int], levels: list[dict[str, int]]) -> None:
        sign = self._peek()
        if not open_at:
            self._refuse(
                f"this {sign!r} was never opened", self._at, f"Open it with {_CLOSING[sign]!r} or leave it out."
            )
        bracket = self._text[open_at[-1]]
        if _OPENING[bracket] != sign:
            self._refuse(f"this {sign!r} closes a {bracket!r}", self._at, f"Close it with {_OPENING[bracket]!r}.")
        if not levels[-1]:
            self._refuse("the brackets are empty", open_at[-1], "Leave them out.", width=self._at - open_at[-1] + 1)

    def _refuse_decimals(self) -> None:
        """Refuse a point or comma between two digits, unless it can only be the dot of a hydrate."""
        for at in range(self._at + 1, self._end - 1):
            between = self._text[at - 1] in _DIGITS and self._text[at + 1] in _DIGITS
            if not between or self._text[at] not in ".,":
                continue
            if self._text[at] == "." and self._is_hydrate_point(at):
                continue
            self._refuse(
                "a count is a whole number; this may be a decimal",
                at,
                "Multiply the formula until all counts are whole, as in '2CaSO4·H2O'; for a hydrate write '·'.",
            )

    def _is_hydrate_point(self, at: int) -> bool:
        before = self._text[:at]
        count = before[len(before.rstrip(_DIGITS)) :]
        after = self._text[at + 1 : self._end].lstrip(_DIGITS).lstrip()
        return count not in {"0", "1"} and after == "H2O"

    def _refuse_state(self) -> None:
        for state in _STATES:
            if self._text.startswith(state, self._at):
                self._refuse(
                    f"{state!r} is a state, not part of a formula", self._at, "Leave it off.", width=len(state)
                )

    def _refuse_empty_part(self) -> NoReturn:
        if self._at == self._end:
            self._refuse(
                "a formula is missing at the end", max(self._at - 1, 0), "Leave this off, or write what follows."
            )
        self._refuse(
            "a formula is missing before this dot", self._at, "Leave the dot out, or write what stands before it."
        )

    def _refuse_sign(self, sign: str) -> NoReturn:
        if sign in _CHARGE_SIGNS:
            problem, remedy = (
                "a charge is not part of a formula",
                "Leave it off: electrons do not count in a molar mass.",
            )
        elif sign.isascii() and sign.islower():
            problem, remedy = "a symbol starts with a capital letter", _likely(self._word())
        elif sign in _DIGITS:
            problem, remedy = (
                "a count stands after a symbol or a bracket",
                "Write the symbol first, or '·' before a hydrate.",
            )
        elif sign.isspace():
            problem, remedy = "a formula has no spaces inside", "Close the gap."
        else:
            problem = f"{sign!r} ({unicodedata.name(sign, 'no name')}) is not part of a formula"
            remedy = "Use the letters A to Z and a to z, digits, brackets and '·'."
        self._refuse(problem, self._at, remedy)

    def _word(self) -> str:
        """Return the run of letters that starts here."""
        end = self._at
        while end < self._end and self._text[end].isascii() and self._text[end].isalpha():
            end += 1
        return self._text[self._at : end]

    def _peek(self) -> str:
        # A space stands for the end: it is no digit, no letter and no bracket.
        return self._text[self._at] if self._at < self._end else " "

    def _skip_spaces(self) -> None:
        while self._at < self._end and self._text[self._at] == " ":
            self._at += 1

    def _only_a_dot_follows_spaces(self) -> bool:
        rest = self._text[self._at : self._end]
        return rest.startswith(" ") and rest.lstrip(" ")[:1] in set(_DOTS)

    def _refuse(self, problem: str, at: int, remedy: str, *, width: int = 1) -> NoReturn:
        # What would move the line on (a tab, a line break) is shown as a space, so that the caret stands right.
        shown = "".join(sign if sign.isprintable() else " " for sign in self._given)
        raise DomainError(
            problem,
            argument="formula",
            given=self._given,
            remedy=f"{remedy}\n    {shown}\n    {' ' * at}{'^' * width}",
        )


def _likely(wrong: str) -> str:
    """Return what may have been meant by letters that are no symbol."""
    spelt = _capitalised(wrong)
    if spelt:
        return f"Did you mean {' or '.join(repr(choice) for choice in spelt)}?"
    alike = [symbol for symbol in known_symbols() if symbol[0] == wrong[0].upper()]
    return nearest(wrong.capitalize(), alike) if alike else f"No symbol starts with {wrong[0].upper()!r}."


def _capitalised(letters: str) -> list[str]:
    """Return the ways, at most three, to spell the letters as symbols by capitals alone; fewest symbols first."""
    ways: list[list[list[str]]] = [[[]]]
    for end in range(1, min(len(letters), 12) + 1):
        here: list[list[str]] = []
        for length in (2, 1):
            symbol = letters[end - length : end].capitalize() if length <= end else ""
            if symbol in known_symbols():
                here += [[*way, symbol] for way in ways[end - length]]
        ways.append(sorted(here, key=len)[:3])
    return ["".join(way) for way in ways[-1]] if len(letters) == len(ways) - 1 else []
