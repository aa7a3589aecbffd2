"""What a reagent must never be dispensed into."""

from __future__ import annotations

import re
from unicodedata import normalize

from assay.data import Fact, facts
from assay.errors import IncompatibleMixtureError

_WORD = re.compile(r"[^\W\d_]+")
_FORMULA = re.compile(r"[A-Za-z0-9()]+")
# What may stand at a formula without being part of it: a state, as in "HCl(aq)", and a percentage, as in "HCl37%".
_STATE = re.compile(r"\((?:aq|conc|dil|g|l|s)\.?\)|\d+(?:[.,]\d+)?\s*%", re.IGNORECASE)
# "acid-free water" and "water free of ammonia" name what is not there; in "water free of ammonia", water is there.
_ABSENT = re.compile(
    r"\bfree (?:of|from) \w+(?: (?:and|or) \w+)*|\b\w+[- ]free\b(?! (?:of|from)\b)",
    re.IGNORECASE,
)
# A strength told by a figure: "98 % sulfuric acid", "18 mol/L H2SO4", "12 M HCl".
_FIGURE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|(?:mol/L|mol/l|M|N)\b)")
#: Figures above which acid and alkali count as concentrated. A choice of this library: bench bottles of dilute acid and
#: alkali hold up to 6 mol/L (common practice), which is about 20 % w/w of hydrochloric acid or sodium hydroxide.
_CONCENTRATED = {"%": 20.0, "mol/L": 6.0}
_DILUTE = {"dilute", "diluted", "weak"}
# Water and nothing else, with what may be told of it: how much there is, and how it was purified.
_AMOUNT = r"\d+(?:[.,]\d+)?\s*(?:m[Ll]|[Ll]|litres?|liters?)"
_PURIFIED = (
    "tap|mains|drinking|cold|cool|cooled|ice|iced|warm|fresh|clean|pure|purified|ultrapure|distilled|boiled|"
    "deioni[sz]ed|deminerali[sz]ed|CO2[- ]free|ammonia[- ]free|chlorine[- ]free"
)
_WATER = re.compile(
    rf"(?:{_AMOUNT}\s+(?:of\s+)?)?(?:(?:{_PURIFIED}),?\s+(?:and\s+)?)*(?:water|H2O)(?:,?\s*{_AMOUNT})?", re.IGNORECASE
)


def is_water(into: str) -> bool:
    """Return whether a text names water and nothing else: how much of it, and how it was purified, may be told.

    Examples
    --------
    >>> is_water("500 mL of deionised water"), is_water("tap water with acid"), is_water("swimming pool water")
    (True, False, False)

    """
    return _WATER.fullmatch(" ".join(normalize("NFKC", into).split()).rstrip(".")) is not None


def refuse_incompatible(into: str, *, reagent: str, name: str | None = None) -> None:
    """Raise `IncompatibleMixtureError` if something dangerous happens when a reagent is dispensed into this.

    Parameters
    ----------
    into : str
        What the reagent is to be dispensed into, in words or as a formula.
    reagent : str
        Kind of what is dispensed: ``"hypochlorite"``, ``"acid"``, ``"alkali"`` or ``"ammonia"``.
    name : str, optional
        What it is called in the message; its kind if it has no name.

    Raises
    ------
    IncompatibleMixtureError
        Naming what was recognised and the hazard.
    DataError
        If nothing is known of this reagent: silence would not mean that it is safe.

    """
    present = _ABSENT.sub(" ", normalize("NFKC", into))  # subscripts become digits
    words = {word.casefold() for word in _WORD.findall(present)}
    words |= {"concentrated"} if _told_concentrated(present) else set()
    words |= {"dilute"} if _told_dilute(present) else set()
    formulas = {_stripped(token) for token in _FORMULA.findall(_STATE.sub(" ", present))}
    known = facts("incompatible")
    # What the reagent itself does comes first; what any aqueous liquid does is the lesser hazard.
    for row in (*known.select(dispensed=reagent), *known.select(dispensed="aqueous")):
        if _matches(row, words, formulas):
            raise IncompatibleMixtureError(
                f"{name or reagent} is never dispensed into {row.index['reagent']}: {row.fact}",
                argument="into",
                given=into,
                remedy=(
                    "No dose is given. Neutralise or rinse away what is there first, by local rules and by someone "
                    "licensed for the work; then state what the vessel really holds."
                ),
            )


def _told_concentrated(present: str) -> bool:
    """Return whether a figure says that something there is concentrated."""
    return any(_beyond(present))


def _told_dilute(present: str) -> bool:
    """Return whether figures say that nothing there is concentrated."""
    beyond = _beyond(present)
    return bool(beyond) and not any(beyond)


def _beyond(present: str) -> list[bool]:
    """Return of each figure whether it is above those of dilute acid and alkali."""
    return [
        float(number.replace(",", ".")) > _CONCENTRATED["%" if unit == "%" else "mol/L"]
        for number, unit in _FIGURE.findall(present)
    ]


def _matches(row: Fact, words: set[str], formulas: set[str]) -> bool:
    text, match = row.index["word"], row.index["match"]
    if match == "word":
        return text.casefold() in words
    if match == "ending":
        return any(word.endswith(text.casefold()) for word in words)
    if match == "formula":
        return _formula_in(formulas, text)
    if match == "undiluted" and words & _DILUTE:
        return False
    if match in {"both", "undiluted"}:
        return all(_any_of(part.split("/"), words, formulas) for part in text.split())
    return any(
        text in formula or (_in_one_case(formula) and text.casefold() in formula.casefold())
        for formula in formulas
        if any(character.isdigit() for character in formula)
    )


def _any_of(alternatives: list[str], words: set[str], formulas: set[str]) -> bool:
    """Return whether one of these is there: in small letters as the ending of a word, otherwise as a formula."""
    return any(
        any(word.endswith(text) for word in words) if text.islower() else _formula_in(formulas, text)
        for text in alternatives
    )


def _formula_in(formulas: set[str], text: str) -> bool:
    """Return whether a formula is there, as it is written or all in small or all in capital letters."""
    return any(
        formula == text or (_in_one_case(formula) and formula.casefold() == text.casefold()) for formula in formulas
    )


def _in_one_case(formula: str) -> bool:
    """Return whether a formula was written without regard to case: "nh2" may be NH2, but "nH2O" is n H2O."""
    return formula.islower() or formula.isupper()


def _stripped(token: str) -> str:
    """Return a formula without brackets that only surround it: "(HCl)", but not "(NH4)2SO4"."""
    opened, closed = token.count("("), token.count(")")
    if opened == closed == 1 and token.startswith("(") and token.endswith(")"):
        return token[1:-1]
    if opened > closed:
        return token.removeprefix("(")
    return token.removesuffix(")") if closed > opened else token
