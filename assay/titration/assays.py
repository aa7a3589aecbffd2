"""What every assay does: from the titres of a sample to its strength, per volume or per mass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean

from assay.bench.filled import Filled, check_filled, is_filled
from assay.bench.setting import OneVolume, check_one_volume
from assay.bench.temperature import LIQUID, Temperature, at_20, liquid_of
from assay.bench.weighing import Weighing
from assay.errors import DataError, DomainError
from assay.flags import Flag, refuse_blocked
from assay.kernels.dilution import (
    dilution_factor_from_deliveries,
    dilution_factor_from_factors,
    dilution_factor_from_volumes,
)
from assay.kernels.titration import analyte_concentration_from_titre, equivalents_in_aliquot_from_titre
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.substances.species import Species
from assay.titration.blanks import (
    Blank,
    aside_blanks_flag,
    blank_flag,
    blanks_in,
    check_blank,
    nominal_blank,
    titrated_with_blank,
)
from assay.titration.portions import PortionSet
from assay.titration.standardisation import check_unit
from assay.titration.titrant import Titrant
from assay.titration.titres import (
    AnyTitre,
    Conditions,
    aside_flag,
    check_titres,
    record_path,
)
from assay.titration.weighed_titrant import check_weighed_as

PORTION_ONLY = "portion-only"
#: Under this and its number a dilution is known in its record.
DILUTION = "dilution"
_EXCHANGED = "Are pipette and flask exchanged?"
_TAKEN = "a Pipette, or a Weighing made by a balance, or ware set to a volume"
_WRITTEN = (
    "Write Dilution(pipette, flask), Dilution(syringe.measure('5.0 mL'), flask), Dilution(weighing, flask), or "
    "cylinder.measure('250 mL') in place of a flask."
)


def _no_dilution(argument: str, given: object, expected: str, remedy: str) -> DataError:
    return DataError(
        "this is not what belongs here in a dilution",
        argument=argument,
        given=getattr(given, "label", given),
        expected=expected,
        remedy=remedy,
    )


@dataclass(frozen=True, slots=True)
class Dilution:
    """One dilution: a pipetted volume or a weighed portion made up in a flask.

    A weighed dilution is one flask wherever it is used. A pipetted one counts as made anew for each assay: give all
    aliquots of one flask to one assay.

    Parameters
    ----------
    taken : Pipette, ware set to a volume, or Weighing
        What is taken of the sample, such as ``syringe.measure("5.0 mL")``; a weighing gives the strength per mass,
        without a density.
    flask : Flask, or a cylinder or a beaker filled to a graduation
        What it is made up in, such as ``cylinder.measure("250 mL")``.

    Raises
    ------
    DataError
        If what is taken is not a volume or a weighing, or no solution is made up in that.
    DomainError
        If the flask is not larger than the pipette.

    References
    ----------
    common practice: what is taken, made up to the mark.

    Examples
    --------
    >>> import assay
    >>> p10, f250 = assay.Pipette("P10", capacity="10 mL"), assay.Flask("F250", capacity="250 mL")
    >>> Dilution(p10, f250).factor("drum").value
    25.0

    """

    taken: OneVolume | Weighing
    flask: Filled

    def __post_init__(self) -> None:
        """Refuse a dilution that concentrates, and one whose parts stand in each other's place."""
        self._check_kinds()
        made_up = self.flask.volume().value
        taken = self.taken.volume().value if isinstance(self.taken, OneVolume) else 0.0
        if made_up <= taken:
            raise DomainError(
                f"a dilution cannot concentrate: {1000 * taken:g} mL are taken and made up to {1000 * made_up:g} mL",
                argument="dilution",
                remedy=_EXCHANGED,
            )

    def _check_kinds(self) -> None:
        taken: object = self.taken
        if is_filled(taken) and isinstance(self.flask, (OneVolume, Weighing)) and not is_filled(self.flask):
            raise _no_dilution("taken", taken, _TAKEN, _EXCHANGED)
        if not isinstance(taken, (OneVolume, Weighing)):
            raise _no_dilution("taken", taken, _TAKEN, _WRITTEN)
        check_filled(self.flask, argument="flask", remedy=_WRITTEN)

    @property
    def path(self) -> str:
        """The path under which its weighing is known: the same for every assay from its flask; empty for a pipette."""
        return self.taken.path if isinstance(self.taken, Weighing) else ""

    def factor(
        self,
        path: str,
        temperature: Temperature | None = None,
        *,
        taken_as: str = LIQUID,
        made_up_as: str = LIQUID,
        average: bool = False,
    ) -> Estimate:
        """Return the factor by which the concentration falls; litres per gram for a weighed portion.

        The path is that of the weighing, or of a delivery that stands for itself; what is new in one dilution is left
        out of the ``average``. What is taken and what is made up expand as the liquids that `liquid_of` names.
        """
        factor = self._average(path, temperature, taken_as, made_up_as)
        taken, made_up = self.new_in_each(path)
        if average or (taken is None and made_up is None):
            return factor
        return evaluate(
            dilution_factor_from_deliveries,
            name="dilution_factor",
            label=factor.label,
            unit=factor.unit,
            dilution_factor=factor,
            taken_volume=self.nominal[0],
            made_up_volume=self.nominal[1],
            taken_deviation=0.0 if taken is None else taken,
            made_up_deviation=0.0 if made_up is None else made_up,
        )

    @property
    def nominal(self) -> tuple[float, float]:
        """Volumes taken and made up, L, on which what is new in each acts; that of a weighed portion means nothing."""
        taken = self.taken.volume().value if isinstance(self.taken, OneVolume) else 1.0
        return taken, self.flask.volume().value

    def new_in_each(self, path: str) -> tuple[Estimate | None, Estimate | None]:
        """Return what is new in what is taken and in what is made up, L, known under a path; ``None`` if nothing is."""
        taken = self.taken.new_in_each(path) if isinstance(self.taken, OneVolume) else None
        return taken, self.flask.new_in_filling(path)

    def _average(self, path: str, temperature: Temperature | None, taken_as: str, made_up_as: str) -> Estimate:
        made_up = at_20(self.flask.volume(), self.flask.material, temperature, made_up_as)
        if isinstance(self.taken, OneVolume):
            volume = self.taken.volume()
            taken, what = at_20(volume, self.taken.material, temperature, taken_as), self.taken.label
            unit = "1"
        else:
            mass = self.taken.mass(path, weighed="sample")
            taken, what = replace(mass, label=f"mass of sample made up in {self.flask.label}"), "weighed portion"
            unit = "L/g"
        return evaluate(
            dilution_factor_from_volumes,
            name="dilution_factor",
            label=f"dilution {what} to {self.flask.label}",
            unit=unit,
            taken_volume=taken,
            made_up_volume=made_up,
        )

    def readings(self) -> str:
        """Return what was read, if anything was, as text that is the same for the same readings."""
        return self.taken.readings() if isinstance(self.taken, Weighing) else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """How a sample was brought to titration.

    Parameters
    ----------
    aliquot : Pipette, ware set to a volume, or None
        What takes each titrated aliquot.
    titres : sequence of titres
        Titres of the aliquots.
    portions : sequence of (Weighing, titre)
        Or: weighed portions, each with its titre.
    dilutions : sequence of Dilution
        The dilutions before, in order.

    Raises
    ------
    DomainError
        If both ways or none are given, or a weighed portion follows a dilution.

    """

    aliquot: OneVolume | None
    titres: Sequence[AnyTitre]
    portions: Sequence[tuple[Weighing, AnyTitre]]
    dilutions: Sequence[Dilution]

    def __post_init__(self) -> None:
        """Refuse what does not fit together."""
        if self.aliquot is not None:
            check_one_volume(self.aliquot, argument="aliquot")
        if bool(self.portions) == (self.aliquot is not None):
            raise DomainError(
                "a sample is titrated in pipetted aliquots or in weighed portions, one of the two",
                argument="aliquot",
                remedy="Give aliquot with titres, or portions=[(weighing, titre), …].",
            )
        if self.portions and (self.dilutions or self.titres):
            raise DomainError(
                "weighed portions stand alone: each has its own titre, and none was diluted before",
                argument="portions",
                remedy="Weigh into the flask of the first dilution instead: dilutions=[Dilution(weighing, flask)].",
            )
        if any(isinstance(dilution.taken, Weighing) for dilution in self.dilutions[1:]):
            raise DomainError(
                "only the sample itself is weighed; later dilutions are pipetted",
                argument="dilutions",
                remedy="Give the weighed dilution first.",
            )

    @property
    def per_mass(self) -> bool:
        """Whether the strength comes out per mass of sample."""
        return bool(self.portions) or (bool(self.dilutions) and isinstance(self.dilutions[0].taken, Weighing))

    def readings(self) -> list[str]:
        """Return all readings as texts that are the same for the same readings."""
        weighed = [f"{weighing.readings()}|{titre.readings()}" for weighing, titre in self.portions]
        # A pipetted dilution has no readings, and adds nothing to what the record is known by.
        diluted = [dilution.readings() for dilution in self.dilutions if dilution.readings()]
        return [*diluted, *(titre.readings() for titre in self.titres), *weighed]


def strength_of(
    sample: Sample,
    *,
    titrant: Titrant,
    species: Species,
    blank: Blank,
    conditions: Conditions,
    record: str | None,
) -> Estimate:
    """Return the strength of a sample, mol/L or mol/g, with the flags of its titration.

    Raises
    ------
    BlockedResultError
        If the titrant carries a blocking flag.
    DomainError
        If the titrant is not the one for this species, or titres and titrant are not of one kind.

    """
    check_titrant(titrant, species)
    check_titres(sample.titres, argument="titres")
    check_titres([titre for _, titre in sample.portions], argument="portions")
    check_unit(titrant, [*sample.titres, *(titre for _, titre in sample.portions)])
    check_blank(blank, [*sample.titres, *(titre for _, titre in sample.portions)])
    check_weighed_as(titrant.facts, blanks_in(blank))
    if titrant.unit == "L":
        conditions = conditions.titrating(titrant.estimate.value)
    path = record_path(record, sample.readings())
    label = species.name if record is None else record
    name = "amount_content" if sample.per_mass else "amount_concentration"
    if sample.portions:

        def one(at: str, weighing: Weighing, titre: Estimate, empty: Estimate) -> Estimate:
            portion = weighing.mass(at, repeatability=False, weighed="sample")
            shown = f"{label}, {at.rsplit('/', 1)[-1]}"
            return _strength(titrant, species, titre, empty, portion, 1.0, name, shown)

        return PortionSet(portions=sample.portions, path=path, label=label, name=name).mean(one, blank, conditions)
    return _of_aliquots(sample, titrant, species, blank, conditions, path, label, name)


def check_titrant(titrant: Titrant, species: Species) -> None:
    """Refuse a titrant that is blocked, or is not the one for a species.

    Raises
    ------
    BlockedResultError
        If it carries a blocking flag.
    DomainError
        If it is another titrant.

    """
    refuse_blocked(titrant.flags, what="the titrant")
    if titrant.name != species.titrant:
        raise DomainError(
            f"{species.name} is titrated with {species.titrant}",
            argument="titrant",
            given=titrant.name,
            remedy="Standardise that one, or check the species.",
        )


def portion_and_factor(
    aliquot: OneVolume,
    dilutions: Sequence[Dilution],
    liquids: Sequence[str],
    temperature: Temperature | None,
    path: str = "",
    *,
    average: bool = False,
) -> tuple[Estimate, Estimate]:
    """Return the volume of the titrated portion, L, and the factor of all dilutions before it; see `liquids_of`.

    Deliveries that stand for themselves are known under the path; ``average`` leaves them out.
    """
    factors = [
        dilution.factor(
            dilution.path or f"{path}/{DILUTION} {k}", temperature, taken_as=before, made_up_as=after, average=average
        )
        for k, (dilution, (before, after)) in enumerate(zip(dilutions, pairwise(liquids), strict=True), 1)
    ]
    factor = evaluate(
        dilution_factor_from_factors,
        *factors,
        name="dilution_factor",
        label="dilution of the sample",
        unit=factors[0].unit if factors else "1",  # only the first can be of a weighed portion
    )
    return at_20(aliquot.volume(), aliquot.material, temperature, liquids[-1]), factor


def _of_aliquots(  # noqa: PLR0917  (the parts of one assay)
    sample: Sample,
    titrant: Titrant,
    species: Species,
    blank: Blank,
    conditions: Conditions,
    path: str,
    label: str,
    name: str,
) -> Estimate:
    assert sample.aliquot is not None  # noqa: S101  (Sample has refused the other case; this tells the type checker)
    titrated, empty, flags = titrated_with_blank(sample.titres, blank, path=path, label=label, conditions=conditions)
    consumed = consumed_by_aliquot(sample, titrant, nominal_blank(blank))
    liquids = liquids_of(sample.aliquot, sample.dilutions, consumed)
    portion, factor = portion_and_factor(sample.aliquot, sample.dilutions, liquids, conditions.temperature, path)
    estimate = _strength(titrant, species, titrated.mean, empty, portion, factor, name, label)
    net = titrated.mean.value - empty.value
    with_all = estimate.value * (titrated.mean_of_all - empty.value) / (net or 1.0)
    flags += blank_flag(titrated.mean.value, empty.value, label, titrant.unit)
    flags += aside_flag(titrated.aside, with_all, label, estimate.unit)
    flags += aside_blanks_flag(
        blank,
        empty.value,
        label,
        estimate.unit,
        lambda other: estimate.value * (titrated.mean.value - other) / (net or 1.0),
    )
    return estimate.flagged(*flags)


def liquids_of(aliquot: OneVolume, dilutions: Sequence[Dilution], consumed: float) -> tuple[str, ...]:
    """Return as what the sample expands, and then the liquid of each flask, by what an aliquot consumed, mol."""
    return tuple(liquid_of(strength) for strength in equivalents_along(aliquot, dilutions, consumed))


def equivalents_along(aliquot: OneVolume, dilutions: Sequence[Dilution], consumed: Value) -> tuple[Value, ...]:
    """Return how strong the sample is, and then the liquid of each flask, mol/L, by what an aliquot consumed, mol."""
    strength = consumed / aliquot.volume().value
    strengths = [strength]
    for dilution in reversed(dilutions):
        # A weighed portion has no volume that could expand.
        taken = dilution.taken.volume().value if isinstance(dilution.taken, OneVolume) else math.inf
        strength = strength * (dilution.flask.volume().value / taken)
        strengths.append(strength)
    return tuple(reversed(strengths))


def _strength(  # noqa: PLR0917  (the operands of one kernel, and what the result is called)
    titrant: Titrant,
    species: Species,
    titre: Estimate,
    blank: Estimate,
    portion: Estimate,
    factor: Estimate | float,
    name: str,
    label: str,
) -> Estimate:
    return evaluate(
        analyte_concentration_from_titre,
        name=name,
        label=label,
        titrant_concentration=titrant.estimate,
        titre=titre,
        blank=blank,
        equivalents=species.equivalents,
        aliquot_volume=portion,
        dilution_factor=factor,
    )


def consumed_by_aliquot(sample: Sample, titrant: Titrant, blank: float) -> float:
    """Return the amount of titrant that an aliquot or portion consumed on the average, mol, by the readings."""
    titres = [titre.nominal for titre in (*sample.titres, *(t for _, t in sample.portions)) if titre.kept]
    return float(equivalents_in_aliquot_from_titre(titrant.estimate.value, fmean(titres), blank))


def portion_only(name: str) -> Flag:
    """Return the flag of a result that speaks of the portion tested, because the sampling is not stated."""
    message = (
        f"sampling and delay are not stated for {name}: the uncertainty is that of the portion tested, not of the "
        "drum or bottle it came from."
    )
    return Flag(code=PORTION_ONLY, message=message)
