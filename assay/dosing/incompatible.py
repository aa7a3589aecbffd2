"""What a reagent must never be dispensed into."""

from __future__ import annotations

import re

from assay.data import Fact, facts
from assay.errors import IncompatibleMixtureError

_WORD = re.compile(r"[^\W\d_]+")
_FORMULA = re.compile(r"[A-Z(][A-Za-z0-9()]*")
# "acid-free water" and "water free of ammonia" name what is not there.
_ABSENT = re.compile(r"\b[\w]+[- ]free\b|\bfree (?:of|from) [\w]+(?: and [\w]+| or [\w]+)*", re.IGNORECASE)


def refuse_incompatible(into: str, *, reagent: str) -> None:
    """Raise `IncompatibleMixtureError` if something dangerous forms when hypochlorite is dispensed into this.

    Parameters
    ----------
    into : str
        What the reagent is to be dispensed into, in words or as a formula.
    reagent : str
        What is dispensed.

    Raises
    ------
    IncompatibleMixtureError
        Naming what was recognised and the hazard.

    """
    present = _ABSENT.sub(" ", into)
    words = {word.casefold() for word in _WORD.findall(present)}
    formulas = set(_FORMULA.findall(present))
    for row in facts("incompatible").rows:
        if _matches(row, words, formulas):
            raise IncompatibleMixtureError(
                f"{reagent} is never dispensed into {row.index['reagent']}: {row.fact}",
                argument="into",
                given=into,
                remedy=(
                    "No dose is given. Neutralise or rinse away what is there first, by local rules and by someone "
                    "licensed for the work; then state what the vessel really holds."
                ),
            )


def _matches(row: Fact, words: set[str], formulas: set[str]) -> bool:
    text, match = row.index["word"], row.index["match"]
    if match == "word":
        return text.casefold() in words
    if match == "ending":
        return any(word.endswith(text.casefold()) for word in words)
    if match == "formula":
        return text in formulas
    return any(text in formula for formula in formulas if any(character.isdigit() for character in formula))
