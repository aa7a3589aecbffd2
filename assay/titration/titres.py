"""Replicate titres: what counts, what was set aside, and the mean with its blank."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias, TypeVar

from assay.bench.balance import MassTitre
from assay.bench.burette import Titre
from assay.bench.temperature import Temperature, at_20
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.influence import Influence, fresh_id, path_part
from assay.metrology.replicates import (
    MethodScatter,
    Rounding,
    Scatter,
    mean_of,
    scatter_of,
    scatter_with_single,
)
from assay.titration.end_point import EndPoint
from assay.units import Written, read

#: A titre by volume or by mass.
AnyTitre: TypeAlias = Titre | MassTitre


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

_Measured = TypeVar("_Measured", Estimate, EstimateBatch)
BLANK_ABOVE = "blank-above-titre"
_ML = 1000.0
_KIND = {"L": "volume", "g": "mass"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What holds for all titres of one titration.

    Parameters
    ----------
    end_point : EndPoint or None
        Indicator and operator.
    temperature : Temperature or None
        Temperature of the liquids.
    method_s : str, quantity or None
        Known standard deviation of one titre.
    method_dof : float
        Its degrees of freedom.

    """

    end_point: EndPoint | None = None
    temperature: Temperature | None = None
    method_s: Written | None = None
    method_dof: float = math.inf

    def scatter(self, unit: str) -> MethodScatter | None:
        """Return the known scatter of one titre, in L or g."""
        if self.method_s is None:
            return None
        return MethodScatter(s=read(self.method_s, _KIND[unit], argument="method_s"), dof=self.method_dof)

    def corrected(self, titre: _Measured, titres: Sequence[AnyTitre]) -> _Measured:
        """Return a titre, or a mean or a batch, at 20 °C and at the equivalence point; by mass, no temperature acts."""
        first = titres[0]
        if isinstance(first, Titre):
            titre = at_20(titre, first.material, self.temperature)
        return titre if self.end_point is None else self.end_point.corrected(titre, first.unit)


def check_titres(titres: Sequence[AnyTitre] | str, *, argument: str) -> tuple[AnyTitre, ...]:
    """Return titres as a tuple; refuse what is not one before anything is read from it.

    Raises
    ------
    DataError
        If something is not a titre, or titres by volume and by mass are mixed.

    """
    listed: tuple[object, ...] = (titres,) if isinstance(titres, str) else tuple(titres)
    for titre in listed:
        if not isinstance(titre, (Titre, MassTitre)):
            raise DataError(
                "this is not a titre",
                argument=argument,
                given=titre,
                expected="titres made by a burette or a balance",
                remedy="Write burette.titre('0.00 mL', '24.35 mL') or balance.titre('82.415 g', '57.466 g').",
            )
    found = tuple(titre for titre in listed if isinstance(titre, (Titre, MassTitre)))
    if len({titre.unit for titre in found}) > 1:
        raise DataError(
            "titres by volume and titres by mass do not average",
            argument=argument,
            given=", ".join(titre.shown for titre in found),
            remedy="Give those of one kind.",
        )
    return found


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


def rounding_of(titres: Sequence[AnyTitre]) -> Rounding:
    """Return the rounding of one titre: shared if all began at the same reading, its own if the starts were random.

    A titre from a common start rounds one reading that matters, its end, and like titres are rounded alike; titres from
    random starts round both readings, each time anew. A single titre counts as from a common start if that is zero, to
    which a burette is set; of another start nothing says that it was set and not read. A refilled titre rounds each
    further pair. A titre by mass has the repeatability of its balance, each time anew.
    """
    volumes = [titre for titre in titres if isinstance(titre, Titre)]
    if not volumes:
        masses = [titre.weighing.u_repeatability() for titre in titres if isinstance(titre, MassTitre)]
        return Rounding(own=max(masses, default=0.0))
    start = volumes[0].start if len(volumes) > 1 else 0.0
    common = all(abs(titre.start - start) < titre.burette.step / 2.0 for titre in volumes)
    step = max(titre.burette.step for titre in volumes)
    return rounding_of_readings(step, common=common, further=max(len(titre.segments) for titre in volumes) - 1)


def rounding_of_readings(step: float, *, common: bool, further: int = 0) -> Rounding:
    """Return the rounding of a titre whose readings are made in a step [L], from a common start or a random one."""
    step_u = step / math.sqrt(12.0)
    if common:
        return Rounding(shared=step_u, own=step_u * math.sqrt(2.0 * further))
    return Rounding(own=step_u * math.sqrt(2.0 + 2.0 * further))


@dataclass(frozen=True, slots=True, kw_only=True)
class TitreSet:
    """The titres of one titration.

    Parameters
    ----------
    kept, aside : tuple of titres
        Those that count, and those that were marked rough or void.
    scatter : Scatter
        What the kept ones say about their mean, L or g.
    mean : Estimate
        Their mean, L or g, under the conditions of the titration.
    blank_scatter : Influence or None
        Deviation of a single blank, where there is one and the titres scatter: one s stands behind both.

    """

    kept: tuple[AnyTitre, ...]
    aside: tuple[AnyTitre, ...]
    scatter: Scatter
    mean: Estimate
    blank_scatter: Influence | None = None


def single_of(blank: Blank) -> AnyTitre | None:
    """Return the blank that counts if there is just one, whose scatter is then that of its titres."""
    kept = [titre for titre in blanks_in(blank) if titre.kept]
    return kept[0] if len(kept) == 1 else None


def blanks_in(blank: Blank) -> tuple[AnyTitre, ...]:
    """Return the titres of a blank, none if none was titrated; refuse what is not one."""
    if blank is None:
        return ()
    if isinstance(blank, CommonBlank):
        return blank.titres
    return check_titres((blank,) if isinstance(blank, (Titre, MassTitre)) else blank, argument="blank")


def nominal_blank(blank: Blank) -> float:
    """Return the blank by its readings, L or g; zero where none was titrated."""
    listed = blanks_in(blank)
    return math.fsum(titre.nominal for titre in listed if titre.kept) / max(sum(titre.kept for titre in listed), 1)


def aside_flag(aside: Sequence[AnyTitre], with_all: float, label: str, unit: str) -> tuple[Flag, ...]:
    """Return a flag that tells which titres were set aside, and what the result would be with them."""
    if not aside:
        return ()
    told = ", ".join(f"{titre.shown} ({titre.void or 'rough'})" for titre in aside)
    message = f"not counted for {label}: {told}; with them it would be {with_all:.5g} {unit}."
    return (Flag(code="titres-set-aside", message=message),)


def titre_set(
    titres: Sequence[AnyTitre], *, path: str, label: str, conditions: Conditions, single_blank: bool = False
) -> TitreSet:
    """Return titres sorted into kept and set aside, with the mean of the kept.

    Where a single blank belongs to them, its scatter comes from the same s and is given beside the mean.

    Parameters
    ----------
    titres : sequence of titres
        By volume or by mass.
    path, label : str
        Path of the record, and what a person calls them.
    conditions : Conditions
        What holds for all of them.
    single_blank : bool
        Whether a single blank belongs to them.

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
    unit = kept[0].unit if kept else "L"
    scatter = scatter_of(
        [titre.nominal for titre in kept],
        method=conditions.scatter(unit),
        rounding=rounding_of(kept) if kept else Rounding(),
    )
    name = "titre" if unit == "L" else "mass"
    of_mean, of_blank = None, None
    if single_blank and scatter.repeatability > 0.0:
        of_mean, of_blank = scatter_with_single(
            scatter, record=path, name=name, label=label, single="blank", single_u=scatter.repeatability
        )
    measures = [titre.measure(f"{path}/{k + 1}") for k, titre in enumerate(kept)]
    mean = mean_of(measures, scatter, record=path, name=name, label=label, scattered=of_mean)
    corrected = conditions.corrected(mean, kept)
    return TitreSet(kept=kept, aside=aside, scatter=scatter, mean=corrected, blank_scatter=of_blank)


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
    own = Conditions(end_point=conditions.end_point, temperature=conditions.temperature)
    name = f"blank of {label}"
    if len(kept) > 1:
        at = blank.path if isinstance(blank, CommonBlank) else f"{path}/blank"
        return titre_set(blanks, path=at, label=name, conditions=own).mean, ()
    rounding = rounding_of(kept)
    method = MethodScatter(s=math.hypot(s, rounding.shared, rounding.own), dof=dof if s > 0.0 else math.inf)
    mean = mean_of(
        [kept[0].measure(f"{path}/blank/1")],
        scatter_of([kept[0].nominal], method=method, rounding=rounding),
        record=f"{path}/blank",
        name="titre" if kept[0].unit == "L" else "mass",
        label=name,
        scattered=scattered,
    )
    return own.corrected(mean, kept), ()


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
