"""Molar masses as estimates: every element's atomic weight is an influence that all results share."""

from __future__ import annotations

from functools import lru_cache
from typing import NoReturn

from assay.data import Row, facts, table
from assay.errors import DataError, nearest
from assay.flags import Flag
from assay.kernels.strength import molar_mass_from_atomic_weights
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.substances.formula import parse_formula

#: Editions that only list what they changed, with the edition they amend.
_AMENDS = {"ciaaw-2024": "ciaaw-2021"}
DEFAULT_EDITION = "ciaaw-2024"


@lru_cache(maxsize=512)
def molar_mass(formula: str, *, edition: str = DEFAULT_EDITION) -> Estimate:
    """Return the molar mass of a formula.

    The quoted uncertainty of an atomic weight is taken as the half-width of a rectangular distribution. Atoms of one
    element are fully correlated, in one formula and between formulas.

    Parameters
    ----------
    formula : str
        Such as ``"KIO3"``, ``"Ca(OCl)2"`` or ``"Na2S2O3·5H2O"``; a hydrate's dot may be ``·``, ``.`` or ``*``.
    edition : str
        Edition of the atomic weights: ``"ciaaw-2024"`` (the 2021 table with the changes of 2024) or ``"ciaaw-2021"``;
        the editions that worked examples of guides use are there as well.

    Returns
    -------
    Estimate [g/mol]
        The molar mass.

    Raises
    ------
    DomainError
        If the formula cannot be read; the message points at the character.
    DataError
        If the edition is unknown, or an element has no standard atomic weight.

    References
    ----------
    [ciaaw-2021] abridged values; [ciaaw-2024] changes; [eurachem-cg4] Example A2, Step 3 (half-width and correlation).

    Examples
    --------
    >>> m = molar_mass("KIO3")
    >>> round(m.value, 4), round(m.u, 5)
    (213.9998, 0.00173)

    """
    counts = parse_formula(formula)
    weights = [_atomic_weight(symbol, edition) for symbol in counts]
    unstated = [symbol for symbol in counts if _row(symbol, edition).unstated]
    return evaluate(
        molar_mass_from_atomic_weights,
        *weights,
        name="molar_mass",
        label=f"M({formula})",
        flags=(_unstated_flag(unstated, edition),) if unstated else (),
        counts=tuple(counts.values()),
    )


def _unstated_flag(symbols: list[str], edition: str) -> Flag:
    message = f"edition {edition} states no uncertainty for {', '.join(symbols)}: none is counted."
    return Flag(code="unstated-uncertainty", message=message)


@lru_cache(maxsize=512)
def _atomic_weight(symbol: str, edition: str) -> Estimate:
    row = _row(symbol, edition)
    written_edition = row.index["edition"]
    half_width = 0.0 if row.unstated or row.exact else float(row.half_width or 0.0)
    return Estimate.from_influence(
        Influence.within(
            f"atomic-weight/{written_edition}/{symbol}",
            label=f"atomic weight of {row.index['name']}",
            value=row.value,
            half_width=half_width,
            source=f"[{row.source}] quoted uncertainty as half-width",
        ),
        name="atomic_weight",
    )


@lru_cache(maxsize=1)
def _rows() -> dict[tuple[str, str], Row]:
    return {(row.index["edition"], row.index["symbol"]): row for row in table("atomic_weights").rows}


def _row(symbol: str, edition: str) -> Row:
    rows = _rows()
    row = rows.get((edition, symbol)) or rows.get((_AMENDS.get(edition, ""), symbol))
    return row if row is not None else _refuse(symbol, edition)


def _refuse(symbol: str, edition: str) -> NoReturn:
    editions = {known for known, _ in _rows()}
    if edition not in editions:
        raise DataError(
            "unknown edition of the atomic weights",
            argument="edition",
            given=edition,
            remedy=nearest(edition, editions),
        )
    without = {fact.index["symbol"]: fact for fact in facts("elements_without_weight").rows}
    if symbol in without:
        raise DataError(
            f"{without[symbol].index['name']} has no standard atomic weight ({without[symbol].fact})",
            argument="formula",
            given=symbol,
            remedy="A molar mass needs the isotope that is meant; give it as an influence of your own.",
        )
    raise DataError(
        f"edition {edition!r} holds no atomic weight for this element",
        argument="formula",
        given=symbol,
        remedy=f"Use edition {DEFAULT_EDITION!r}.",
    )
