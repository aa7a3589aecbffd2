"""Replicate titres: what counts, what was set aside, and the mean with its blank."""

from __future__ import annotations

import hashlib
import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias, TypeVar

from assay.bench.burette import Titre
from assay.bench.temperature import LIQUID, Temperature, at_20, liquid_of
from assay.bench.weighing import MassTitre
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.metrology.replicates import (
    MethodScatter,
    Rounding,
    Scatter,
    mean_of,
    scatter_of,
    scatter_with_others,
)
from assay.titration.end_point import EndPoint, check_end_point
from assay.units import Written, read

#: A titre by volume or by mass.
AnyTitre: TypeAlias = Titre | MassTitre


_Measured = TypeVar("_Measured", Estimate, EstimateBatch)
_ML = 1000.0
KIND = {"L": "volume", "g": "mass"}


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
    liquid : str
        As what the titrant expands; see `liquid_of`.

    """

    end_point: EndPoint | None = None
    temperature: Temperature | None = None
    method_s: Written | None = None
    method_dof: float = math.inf
    liquid: str = LIQUID

    def __post_init__(self) -> None:
        """Refuse a name in place of an end point, and a number in place of a temperature."""
        if self.end_point is not None:
            check_end_point(self.end_point)
        if self.temperature is not None and not isinstance(self.temperature, Temperature):
            raise DataError(
                "this is not a temperature of the liquids",
                argument="temperature",
                given=self.temperature,
                remedy="Write Temperature('22 °C', half_width='2 K', day='…').",
            )

    def titrating(self, concentration: float) -> Conditions:
        """Return the same for a titrant of about this concentration, mol/L."""
        return replace(self, liquid=liquid_of(concentration))

    def scatter(self, unit: str) -> MethodScatter | None:
        """Return the known scatter of one titre, in L or g."""
        if self.method_s is None:
            return None
        return MethodScatter(s=read(self.method_s, KIND[unit], argument="method_s"), dof=self.method_dof)

    def corrected(self, titre: _Measured, titres: Sequence[AnyTitre]) -> _Measured:
        """Return a titre, or a mean or a batch, at 20 °C and at the equivalence point; by mass, no temperature acts."""
        first = titres[0]
        if isinstance(first, Titre):
            titre = at_20(titre, first.material, self.temperature, self.liquid)
        return titre if self.end_point is None else self.end_point.corrected(titre, first.unit)


def check_titres(titres: Sequence[AnyTitre] | str, *, argument: str) -> tuple[AnyTitre, ...]:
    """Return titres as a tuple; refuse what is not one before anything is read from it.

    Raises
    ------
    DataError
        If something is not a titre or not a sequence of them, or titres by volume and by mass are mixed.

    """
    given: object = titres
    several = isinstance(given, Iterable) and not isinstance(given, str)
    listed: tuple[object, ...] = tuple(titres) if several else (given,)
    untitrated = " Where no blank was titrated, leave it out: the result then says so." if argument == "blank" else ""
    for titre in listed:
        if not isinstance(titre, (Titre, MassTitre)):
            raise DataError(
                "this is not a titre",
                argument=argument,
                given=titre,
                expected="titres made by a burette or a balance",
                remedy="Write burette.titre('0.00 mL', '24.35 mL') or balance.titre('82.415 g', '57.466 g')."
                f"{untitrated}",
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
    known_scatter : Influence or None
        Deviation of the mean of the titres with a known titrant, where the s of the method stands behind these as well.

    """

    kept: tuple[AnyTitre, ...]
    aside: tuple[AnyTitre, ...]
    scatter: Scatter
    mean: Estimate
    blank_scatter: Influence | None = None
    known_scatter: Influence | None = None

    @property
    def mean_of_all(self) -> float:
        """What the mean would be with those set aside, L or g; the corrections of the mean stay as they are."""
        return statistics.fmean(titre.nominal for titre in (*self.kept, *self.aside)) + (
            self.mean.value - self.scatter.mean
        )


def aside_flag(aside: Sequence[AnyTitre], with_all: float, label: str, unit: str) -> tuple[Flag, ...]:
    """Return a flag that tells which titres were set aside, and what the result would be with them."""
    if not aside:
        return ()
    message = f"not counted for {label}: {told_aside(aside)}; with them {would_be(with_all, unit)}."
    return (Flag(code="titres-set-aside", message=message),)


def told_aside(aside: Sequence[AnyTitre]) -> str:
    """Return the titres that were set aside, each with its reason."""
    return ", ".join(f"{titre.shown} ({titre.void or 'rough'})" for titre in aside)


def would_be(value: float, unit: str) -> str:
    """Return what a result would be with those set aside, in words."""
    return f"it would be {value:.5g} {unit}" if math.isfinite(value) else "there would be no result"


def titre_set(
    titres: Sequence[AnyTitre],
    *,
    path: str,
    label: str,
    conditions: Conditions,
    single_blank: bool = False,
    known: int = 0,
    scattered: Influence | None = None,
    of: str = "titre",
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
    known : int
        Number of titres with a known titrant behind which the same known scatter stands.
    scattered : Influence, optional
        Deviation of the mean, where it shares its s with another set.
    of : str
        ``"blank"`` for titres of the reagents alone.

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
    others = {"blank": scatter.repeatability} if single_blank else {}
    others |= {"known titrant": scatter.repeatability / math.sqrt(known)} if known else {}
    of_others: dict[str, Influence] = {}
    if others and scatter.repeatability > 0.0:
        scattered, *rest = scatter_with_others(scatter, record=path, name=name, label=label, others=others)
        of_others = dict(zip(others, rest, strict=True))
    measures = [titre.measure(f"{path}/{k + 1}", of=of) for k, titre in enumerate(kept)]
    mean = mean_of(measures, scatter, record=path, name=name, label=label, scattered=scattered)
    return TitreSet(
        kept=kept,
        aside=aside,
        scatter=scatter,
        mean=conditions.corrected(mean, kept),
        blank_scatter=of_others.get("blank"),
        known_scatter=of_others.get("known titrant"),
    )
