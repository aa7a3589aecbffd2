"""Replicate titres: what counts, what was set aside, and the mean with its blank."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assay.bench.burette import Titre
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence, fresh_id, path_part
from assay.metrology.replicates import (
    MethodScatter,
    Rounding,
    Scatter,
    mean_of,
    scatter_of,
    scatter_with_single,
)
from assay.units import Written, read

_ML = 1000.0


def check_titres(titres: Sequence[Titre] | str, *, argument: str) -> tuple[Titre, ...]:
    """Return titres as a tuple; refuse what is not one before anything is read from it.

    Raises
    ------
    DataError
        If something is not a titre.

    """
    listed: tuple[object, ...] = (titres,) if isinstance(titres, str) else tuple(titres)
    for titre in listed:
        if not isinstance(titre, Titre):
            raise DataError(
                "this is not a titre",
                argument=argument,
                given=titre,
                expected="titres made by a burette",
                remedy="Write burette.titre('0.00 mL', '24.35 mL').",
            )
    return tuple(titre for titre in listed if isinstance(titre, Titre))


def check_net(net: float, *, label: str) -> None:
    """Refuse a net titre of zero, by which nothing can be divided.

    Raises
    ------
    DomainError
        If it is zero.

    """
    if net == 0.0:
        raise DomainError(
            "the titre less its blank is zero: no concentration can be found from it",
            argument=label,
            given="0 mL",
            remedy="Check the readings: was a blank entered as a titre?",
        )


def record_path(record: str | None, readings: Iterable[str]) -> str:
    """Return the path under which the readings of one titration are known.

    It is made from the name of the record and from the readings, so that the same record read twice is the same, and a
    corrected reading makes another.
    """
    if record is None:
        return fresh_id("record")
    digest = hashlib.sha256("|".join(readings).encode()).hexdigest()[:10]
    return f"record/{path_part(record, argument='record')}/{digest}"


def method_scatter(method_s: Written | None, method_dof: float) -> MethodScatter | None:
    """Return a known scatter of the method from its argument, a volume."""
    if method_s is None:
        return None
    return MethodScatter(s=read(method_s, "volume", argument="method_s"), dof=method_dof)


def rounding_of(titres: Sequence[Titre]) -> Rounding:
    """Return the rounding of one titre: shared if all began at the same reading, its own if the starts were random.

    A titre from a common start rounds one reading that matters, its end, and like titres are rounded alike; titres from
    random starts round both readings, each time anew. A refilled titre rounds each further pair.
    """
    step_u = max(titre.burette.step for titre in titres) / math.sqrt(12.0)
    further = max(len(titre.segments) for titre in titres) - 1
    common = all(abs(titre.start - titres[0].start) < titre.burette.step / 2.0 for titre in titres)
    if common:
        return Rounding(shared=step_u, own=step_u * math.sqrt(2.0 * further))
    return Rounding(own=step_u * math.sqrt(2.0 + 2.0 * further))


@dataclass(frozen=True, slots=True, kw_only=True)
class TitreSet:
    """The titres of one titration.

    Parameters
    ----------
    kept, aside : tuple of Titre
        Those that count, and those that were marked rough or void.
    scatter : Scatter
        What the kept ones say about their mean, L.
    mean : Estimate
        Their mean, L.
    blank_scatter : Influence or None
        Deviation of a single blank, where there is one and the titres scatter: one s stands behind both.

    """

    kept: tuple[Titre, ...]
    aside: tuple[Titre, ...]
    scatter: Scatter
    mean: Estimate
    blank_scatter: Influence | None = None


def single_of(blank: Titre | Sequence[Titre] | None) -> Titre | None:
    """Return the blank that counts if there is just one, whose scatter is then that of its titres."""
    if blank is None:
        return None
    kept = [
        titre
        for titre in ((blank,) if isinstance(blank, Titre) else check_titres(blank, argument="blank"))
        if titre.kept
    ]
    return kept[0] if len(kept) == 1 else None


def aside_flag(aside: Sequence[Titre], with_all: float, label: str) -> tuple[Flag, ...]:
    """Return a flag that tells which titres were set aside, and what the result would be with them."""
    if not aside:
        return ()
    told = ", ".join(f"{titre.nominal * _ML:.6g} mL ({titre.void or 'rough'})" for titre in aside)
    message = f"not counted for {label}: {told}; with them it would be {with_all:.5g} mol/L."
    return (Flag(code="titres-set-aside", message=message),)


def titre_set(
    titres: Sequence[Titre], *, path: str, label: str, method: MethodScatter | None, single_blank: bool = False
) -> TitreSet:
    """Return titres sorted into kept and set aside, with the mean of the kept.

    Where a single blank belongs to them, its scatter comes from the same s and is given beside the mean.

    Raises
    ------
    DataError
        If something is not a titre.
    DomainError
        If none is kept, or a single one without a known scatter of the method.

    """
    titres = check_titres(titres, argument=label)
    kept = tuple(titre for titre in titres if titre.kept)
    aside = tuple(titre for titre in titres if not titre.kept)
    rounding = rounding_of(kept) if kept else Rounding()
    scatter = scatter_of([titre.nominal for titre in kept], method=method, rounding=rounding)
    of_mean, of_blank = None, None
    if single_blank and scatter.s > 0.0:
        of_mean, of_blank = scatter_with_single(
            scatter, record=path, name="titre", label=label, single="blank", single_u=scatter.s
        )
    volumes = [titre.volume() for titre in kept]
    mean = mean_of(volumes, scatter, record=path, name="titre", label=label, scattered=of_mean)
    return TitreSet(kept=kept, aside=aside, scatter=scatter, mean=mean, blank_scatter=of_blank)


def blank_of(
    blank: Titre | Sequence[Titre] | None,
    *,
    path: str,
    label: str,
    s: float,
    dof: float,
    scattered: Influence | None = None,
) -> tuple[Estimate, tuple[Flag, ...]]:
    """Return the blank, L; a single one takes the scatter ``s`` of a titre it belongs to, with its ``dof``."""
    if blank is None:
        exact = Estimate.exactly(0.0, name="blank", label=f"blank of {label}: not titrated")
        message = f"no blank was titrated for {label}: what the reagents consume is counted as sample."
        return exact, (Flag(code="no-blank", message=message),)
    blanks = (blank,) if isinstance(blank, Titre) else check_titres(blank, argument="blank")
    kept = [titre for titre in blanks if titre.kept]
    if not kept:
        raise DomainError(
            "there is no replicate", argument="blank", remedy="Give one blank or more that is kept, or none at all."
        )
    name = f"blank of {label}"
    if len(kept) > 1:
        return titre_set(blanks, path=f"{path}/blank", label=name, method=None).mean, ()
    # Where the titres agree to the last digit, their rounding stands in for the scatter that they do not show.
    method = MethodScatter(s=s, dof=dof) if s > 0.0 else MethodScatter(s=kept[0].burette.step / math.sqrt(12.0))
    scatter = scatter_of([kept[0].nominal], method=method, rounding=rounding_of(kept))
    mean = mean_of([kept[0].volume()], scatter, record=f"{path}/blank", name="titre", label=name, scattered=scattered)
    return mean, ()


def blank_flag(titre: float, blank: float, label: str) -> tuple[Flag, ...]:
    """Return a blocking flag if the blank is not below the titre."""
    if blank < titre:
        return ()
    return (
        Flag(
            code="blank-above-titre",
            message=(
                f"the blank of {label}, {blank * _ML:.5g} mL, is not below the titre, {titre * _ML:.5g} mL: the result "
                "is given as it is computed, zero or negative, with its interval. Check the reagents, and whether the "
                "two were exchanged."
            ),
            blocking=True,
        ),
    )
