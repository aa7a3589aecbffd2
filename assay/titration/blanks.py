"""Blanks: what the reagents alone consume, how it is joined to its titres, and the doubts about it."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from assay.bench.burette import Titre
from assay.bench.weighing import MassTitre
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.replicates import (
    MethodScatter,
    mean_of,
    scatter_of,
)
from assay.titration.titres import (
    KIND,
    AnyTitre,
    Conditions,
    TitreSet,
    check_titres,
    rounding_of,
    titre_set,
    told_aside,
    would_be,
)

BLANK_ABOVE = "blank-above-titre"
_ML = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CommonBlank:
    """Blanks that serve several assays: what is unknown about them is the same in all.

    Parameters
    ----------
    titres : tuple of titres
        The blanks.
    path : str
        The path under which they are known.

    """

    titres: tuple[AnyTitre, ...]
    path: str


Blank: TypeAlias = AnyTitre | Sequence[AnyTitre] | CommonBlank | None


def blanks_in(blank: Blank) -> tuple[AnyTitre, ...]:
    """Return the titres of a blank, none where it was not titrated.

    Raises
    ------
    DataError
        If something is not a titre, or titres by volume and by mass are mixed.

    """
    if blank is None:
        return ()
    if isinstance(blank, CommonBlank):
        return blank.titres
    return check_titres((blank,) if isinstance(blank, (Titre, MassTitre)) else blank, argument="blank")


def single_of(blank: Blank) -> AnyTitre | None:
    """Return the blank that counts if there is just one, whose scatter is then that of its titres."""
    kept = [titre for titre in blanks_in(blank) if titre.kept]
    return kept[0] if len(kept) == 1 else None


def check_blank(blank: Blank, titres: Sequence[AnyTitre]) -> None:
    """Refuse a blank by volume of titres by mass, and the other way round: their difference would be nonsense.

    Raises
    ------
    DataError
        If it is not a titre, or not of their kind.

    """
    wrong = [one for one in blanks_in(blank) if titres and one.unit != titres[0].unit]
    if wrong:
        raise DataError(
            f"the titres are by {KIND[titres[0].unit]}, the blank is by {KIND[wrong[0].unit]}",
            argument="blank",
            given=wrong[0].shown,
            expected=f"a titre like {titres[0].shown}",
            remedy="Titrate the blank as the titres were.",
        )


def nominal_blank(blank: Blank) -> float:
    """Return the blank by its readings, L or g; zero where none was titrated."""
    kept = [titre.nominal for titre in blanks_in(blank) if titre.kept]
    return statistics.fmean(kept) if kept else 0.0


def aside_blanks_flag(
    blank: Blank, empty: float, label: str, unit: str, with_all: Callable[[float], float]
) -> tuple[Flag, ...]:
    """Return a flag that tells which blanks were set aside, and what the result would be with them.

    Parameters
    ----------
    blank : titre, sequence of titres or None
        The blanks as given.
    empty : float [L] or [g]
        The mean of those that count.
    label, unit : str
        What the result is called, and its unit.
    with_all : callable
        Gives the result from another blank; NaN where there is none.

    """
    blanks = blanks_in(blank)
    aside = [titre for titre in blanks if not titre.kept]
    if not aside:
        return ()
    # The rest of a correction to the mean is the same with all blanks as with those kept.
    whole = statistics.fmean(titre.nominal for titre in blanks) + empty - nominal_blank(blank)
    message = f"not counted as blank of {label}: {told_aside(aside)}; with them {would_be(with_all(whole), unit)}."
    return (Flag(code="blanks-set-aside", message=message),)


def blank_of(
    blank: Blank,
    *,
    path: str,
    label: str,
    s: float,
    dof: float,
    conditions: Conditions,
    scattered: Influence | None = None,
) -> tuple[Estimate, tuple[Flag, ...]]:
    """Return the blank, L or g; a single one takes the repeatability ``s`` of its titres, with their ``dof``."""
    if blank is None:
        exact = Estimate.exactly(0.0, name="blank", label=f"blank of {label}: not titrated")
        message = f"no blank was titrated for {label}: what the reagents consume is counted as sample."
        return exact, (Flag(code="no-blank", message=message),)
    blanks = blanks_in(blank)
    kept = [titre for titre in blanks if titre.kept]
    if not kept:
        raise DomainError(
            "there is no replicate", argument="blank", remedy="Give one blank or more that is kept, or none at all."
        )
    own = replace(conditions, method_s=None, method_dof=math.inf)
    name = f"blank of {label}"
    if len(kept) > 1:
        at = blank.path if isinstance(blank, CommonBlank) else f"{path}/blank"
        return titre_set(blanks, path=at, label=name, conditions=own, of="blank").mean, ()
    rounding = rounding_of(kept)
    method = MethodScatter(s=math.hypot(s, rounding.shared, rounding.own), dof=dof if s > 0.0 else math.inf)
    mean = mean_of(
        [kept[0].measure(f"{path}/blank/1", of="blank")],
        scatter_of([kept[0].nominal], method=method, rounding=rounding),
        record=f"{path}/blank",
        name="titre" if kept[0].unit == "L" else "mass",
        label=name,
        scattered=scattered,
    )
    return own.corrected(mean, kept), ()


def titrated_with_blank(
    titres: Sequence[AnyTitre], blank: Blank, *, path: str, label: str, conditions: Conditions, known: int = 0
) -> tuple[TitreSet, Estimate, tuple[Flag, ...]]:
    """Return the titres of one titration, its blank and the flags of that; one s stands behind titres and single blank.

    Parameters
    ----------
    titres, blank
        As for `titre_set` and `blank_of`.
    path, label : str
        Path of the record, and what a person calls the result.
    conditions, known
        As for `titre_set`.

    """
    titrated = titre_set(
        titres,
        path=path,
        label=f"titre, {label}",
        conditions=conditions,
        single_blank=single_of(blank) is not None,
        known=known,
    )
    empty, flags = blank_of(
        blank,
        path=path,
        label=label,
        s=titrated.scatter.repeatability,
        dof=titrated.scatter.dof,
        conditions=conditions,
        scattered=titrated.blank_scatter,
    )
    return titrated, empty, flags


def blank_flag(titre: float, blank: float, label: str, unit: str) -> tuple[Flag, ...]:
    """Return a blocking flag if the blank is not below the titre; both in ``unit``, L or g."""
    if blank < titre:
        return ()
    scale, shown = (_ML, "mL") if unit == "L" else (1.0, "g")
    message = (
        f"the blank of {label}, {blank * scale:.5g} {shown}, is not below the titre, {titre * scale:.5g} {shown}: the "
        "result is given as it is computed, zero or negative, with its interval. Check the reagents, and whether the "
        "two were exchanged."
    )
    return (Flag(code=BLANK_ABOVE, message=message, blocking=True),)
