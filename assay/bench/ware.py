"""Class tolerances of volumetric ware, and what names make of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from assay.data import Row, table
from assay.errors import DataError, DomainError, Problems, nearest
from assay.units import read

#: The standard that is looked up when none is named.
STANDARDS = {
    "burette": "ISO 385:2005",
    "one-mark pipette": "ISO 648:2008",
    "graduated pipette": "ISO 835:2007",
    "volumetric flask": "ISO 1042:1998",
    "measuring cylinder": "ISO 4788:2005",
    "piston pipette": "ISO 8655-2:2002",
    "piston burette": "ISO 8655-3:2002",
    "syringe": "ISO 7886-1",
}

_DELIVERING = ("burette", "one-mark pipette", "graduated pipette")
_ML = 1000.0  # the tables are in mL, the library in L

#: Words in the note of a row that reach the budget.
_LOW = "with low confidence"
#: Kinds of error in the order in which they are listed; glass has one limit without a name.
_ERRORS = ("", "total", "systematic", "random")


def class_row(
    item: str, *, capacity: float, accuracy_class: str, standard: str | None, subdivision: float | None = None
) -> Row:
    """Return the row of the tolerance table for one piece of ware.

    Parameters
    ----------
    item : str
        ``"burette"``, ``"one-mark pipette"``, ``"graduated pipette"``, ``"volumetric flask"`` or
        ``"measuring cylinder"``.
    capacity, subdivision : float [L]
        Nominal capacity, and the value of one scale division of graduated ware; a row whose source states no
        subdivision holds for all.
    accuracy_class : str
        ``"A"`` or ``"B"``; ``"AS"`` has the limits of A.
    standard : str, optional
        Edition of the standard; the default is in `STANDARDS`.

    Raises
    ------
    DataError
        If the table has no such ware; the message names what it has.

    """
    edition = STANDARDS[item] if standard is None else str(standard)
    letter = limits_class(accuracy_class, item)
    rows = [row for row in table("volumetric_ware").rows if row.index["item"] == item]
    rows = _narrowed(rows, "standard", edition, argument="standard")
    rows = _narrowed(rows, "accuracy_class", letter, argument="accuracy_class")
    rows = _matching(rows, "nominal", capacity, argument=f"capacity of the {item}")
    if subdivision is not None:
        rows = _matching(rows, "subdivision", subdivision, argument=f"subdivision of the {item}")
    return rows[0]


def limits_class(accuracy_class: str, item: str) -> str:
    """Return the class whose limits hold, ``"A"`` or ``"B"``, for a class as it is written on the glass.

    Class AS, of which the limits are those of A, is that of ware that delivers, with a waiting time (from memory).

    Raises
    ------
    DataError
        If there is no such class.

    """
    delivers = item in _DELIVERING
    found = {"A": "A", "B": "B", **({"AS": "A"} if delivers else {})}.get(str(accuracy_class).strip().upper())
    if found is None:
        raise DataError(
            "not in the table of such ware.",
            argument="accuracy_class",
            given=accuracy_class,
            expected="'A', 'B' or 'AS', which has the limits of A" if delivers else "'A', 'B'",
            remedy="Unmarked glass counts as B.",
        )
    return found


def _narrowed(rows: list[Row], column: str, wanted: str, *, argument: str) -> list[Row]:
    found = [row for row in rows if row.index[column] == wanted]
    if not found:
        known = {row.index[column] for row in rows}
        raise DataError(
            "not in the table of such ware.", argument=argument, given=wanted, remedy=nearest(wanted, known)
        )
    return found


def _matching(rows: list[Row], column: str, wanted: float, *, argument: str) -> list[Row]:
    found = [
        row for row in rows if not row.index[column] or abs(float(row.index[column]) / _ML - wanted) < 1e-9 * wanted
    ]
    if not found:
        known = {float(row.index[column]) for row in rows}
        closest = sorted(known, key=lambda size: abs(size - wanted * _ML))[:3]
        nearest_ones = f"The nearest are {_listed(closest)}. " if len(known) > len(closest) else ""
        first = rows[0].index
        of_class = f" of class {first['accuracy_class']}" if "accuracy_class" in first else ""
        raise DataError(
            f"{first['standard']} has no such ware{of_class}.",
            argument=argument,
            given=f"{wanted * _ML:g} mL",
            expected="one of " + _listed(known),
            remedy=(
                f"{nearest_ones}Read the glass again, name another standard, "
                "or state your own tolerance='… mL' from its certificate."
            ),
        )
    return found


def _listed(sizes: Iterable[float]) -> str:
    return ", ".join(f"{size:g}" for size in sorted(sizes)) + " mL"


@dataclass(frozen=True, slots=True, kw_only=True)
class PistonLimits:
    """What a standard allows piston ware of one size.

    Parameters
    ----------
    systematic, random : float [L]
        Half-width of the systematic error, and standard deviation of one delivery; that is zero where the standard has
        one limit for both.
    source, random_source : str
        Where they are from, for the budget.

    """

    systematic: float
    random: float
    source: str
    random_source: str


def piston_limits(item: str, *, capacity: float, standard: str | None) -> PistonLimits:
    """Return the limits of a ``"piston pipette"`` or a ``"piston burette"`` of a capacity [L]; see `class_row`.

    Raises
    ------
    DataError
        If the table has no such ware; the message names what it has.

    """
    edition = STANDARDS[item] if standard is None else standard
    rows = [row for row in table("piston_ware").rows if row.index["item"] == item]
    rows = _narrowed(rows, "standard", edition, argument="standard")
    rows = _matching(rows, "nominal", capacity, argument=f"capacity of the {item}")
    by_error = {row.index["error"]: row for row in rows}
    if "total" in by_error:
        total = by_error["total"]
        return PistonLimits(
            systematic=float(total.half_width or 0.0) / _ML,
            random=0.0,
            source=f"{edition}, total error ±{total.half_width:g} mL{_doubt(total)}",
            random_source=f"{edition}, within its total error",
        )
    systematic, random = by_error["systematic"], by_error["random"]
    return PistonLimits(
        systematic=float(systematic.half_width or 0.0) / _ML,
        random=float(random.u or 0.0) / _ML,
        source=f"{edition}, systematic error ±{systematic.half_width:g} mL{_doubt(systematic)}",
        random_source=f"{edition}, random error s = {random.u:g} mL{_doubt(random)}",
    )


def _doubt(row: Row) -> str:
    """Return how far a row is to be trusted, for the budget; nothing of one that was plainly read."""
    doubtful = _LOW in row.note
    if row.provenance == "memory":
        return f", from memory {_LOW}" if doubtful else ", from memory"
    return f", {row.provenance} {_LOW}" if doubtful else ""


def where_editions_differ() -> tuple[tuple[str, str, float, Mapping[str, tuple[float, ...]]], ...]:
    """Return the ware to which standards or their editions give unlike limits of error.

    Returns
    -------
    tuple of (item, class, capacity [mL], limits)
        The limits by standard, mL; several where they go by the subdivision. Piston ware has no class, and its limits
        stand by standard and error: ``"systematic"`` and ``"random"``, or ``"total"`` for both together.

    """
    limits: dict[tuple[str, str, float], dict[str, dict[str, set[float]]]] = {}
    for row in (*table("volumetric_ware").rows, *table("piston_ware").rows):
        ware = (row.index["item"], row.index.get("accuracy_class", ""), float(row.index["nominal"]))
        by_error = limits.setdefault(ware, {}).setdefault(row.index["standard"], {})
        by_error.setdefault(row.index.get("error", ""), set()).add(float(row.half_width or row.u or 0.0))
    return tuple(
        (*ware, {
            f"{standard} {error}".strip(): tuple(sorted(by_error[error]))
            for standard, by_error in sorted(by_standard.items())
            for error in sorted(by_error, key=_ERRORS.index)
        })
        for ware, by_standard in sorted(limits.items())
        if any(by_error != other for by_error, other in pairwise(by_standard.values()))
    )  # fmt: skip


def class_source(row: Row) -> str:
    """Return where a tolerance is known from, for the budget; a row from memory, or of low confidence, says so."""
    return f"{row.index['standard']} class {row.index['accuracy_class']}, ±{row.half_width:g} mL{_doubt(row)}"


def read_above_zero(problems: Problems, ware: object, *arguments: str) -> None:
    """Read volumes that ware was given, and note those that are not above zero."""
    for argument in arguments:
        written = getattr(ware, argument)
        volume = None if written is None else problems.attempt(read, written, "volume", argument=argument)
        if volume is not None and volume <= 0.0:
            problems.add(DomainError("this is above zero", argument=argument, given=str(written)))


def check_shape(shape: str) -> str:
    """Return the shape of an error within a limit.

    Raises
    ------
    DomainError
        If it is neither triangular nor rectangular.

    """
    if shape not in {"triangular", "rectangular"}:
        raise DomainError(
            "the error of glass within its limit is triangular or rectangular",
            argument="shape",
            given=shape,
            expected='"triangular" or "rectangular"',
            remedy="Leave it out, or write 'triangular' if a record of calibrations speaks for small errors.",
        )
    return shape
