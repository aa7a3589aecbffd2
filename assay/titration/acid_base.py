"""Acids and bases at an indicator's end point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from assay.bench.balance import Weighing
from assay.bench.sampling import Sampling
from assay.bench.temperature import Temperature
from assay.bench.vessels import Pipette
from assay.errors import DataError, DomainError, nearest
from assay.flags import Flag
from assay.kernels.carbonate import carbonate_from_end_points, hydroxide_from_end_points
from assay.metrology.estimate import Estimate, Kernel, evaluate
from assay.substances.density import Density
from assay.substances.species import SPECIES, Species
from assay.substances.strength import Strength
from assay.titration.assays import Dilution, Sample, plausibility_flags, portion_only, strength_of
from assay.titration.end_point import EndPoint
from assay.titration.facts import assay_facts
from assay.titration.titrant import Titrant
from assay.titration.titres import AnyTitre, Blank, Conditions
from assay.units import Written

#: Indicators whose end point takes carbonate to hydrogen carbonate only.
_FIRST = ("phenolphthalein", "thymolphthalein")


def assay_acid_base(
    titrant: Titrant,
    species: str,
    *,
    end_point: EndPoint,
    aliquot: Pipette | None = None,
    titres: Sequence[AnyTitre] = (),
    portions: Sequence[tuple[Weighing, AnyTitre]] = (),
    dilutions: Sequence[Dilution] = (),
    blank: Blank = None,
    label: str | None = None,
    sampling: Sampling | None = None,
    density: Density | None = None,
    temperature: Temperature | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
    record: str | None = None,
) -> Strength:
    """Return the strength of an acid or a base by titration to an indicator's end point.

    What is measured is the total acid or alkali that the titrant finds up to the colour change, expressed as the
    species. In a caustic that drank carbon dioxide, phenolphthalein finds the hydroxide and half the carbonate, methyl
    orange or bromocresol green the hydroxide and all the carbonate; see `hydroxide_and_carbonate`.

    Parameters
    ----------
    titrant : Titrant
        Sodium hydroxide for an acid, hydrochloric acid for a base.
    species : str
        ``"hydrochloric acid"``, ``"sulfuric acid"``, ``"nitric acid"``, ``"acetic acid"``, ``"sodium hydroxide"``,
        ``"potassium hydroxide"`` or ``"ammonia"``.
    end_point : EndPoint
        Indicator and operator; an indicator that changes away from the equivalence point is a blocking flag.
    aliquot, titres, portions, dilutions, blank
        As for `assay_hypochlorite`.
    label : str, optional
        Strength on the label, such as ``"32 % w/w HCl"``.
    sampling, density, temperature, method_s, method_dof, record
        As for `assay_hypochlorite`.

    Returns
    -------
    Strength
        Of the species, with its flags.

    Raises
    ------
    DataError
        If the species is unknown.
    DomainError
        If the titrant is not the one for this species.
    BlockedResultError
        If the titrant carries a blocking flag.
    BasisError
        If the label's strength does not say its basis.

    References
    ----------
    [eurachem-cg4] Example A3 (hydrochloric acid); common practice for the choice of indicators.

    """
    found = acid_or_base(species)
    facts = assay_facts(titrant, species=found, label=label, sampling=sampling)
    facts["end point"] = end_point.sentence()
    sample = Sample(aliquot=aliquot, titres=titres, portions=portions, dilutions=dilutions)
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    estimate = strength_of(sample, titrant=titrant, species=found, blank=blank, conditions=conditions, record=record)
    flags = [*end_point.flags_for(found), *plausibility_flags(estimate, found, label), *found_by(found, end_point)]
    if sampling is None:
        flags.append(portion_only(estimate.label))
    strength = Strength(species=found, estimate=estimate.flagged(*flags), facts=facts)
    return strength if density is None else strength.with_density(density)


def acid_or_base(name: str) -> Species:
    """Return an acid or a base by its name, or raise `DataError` if it is not known."""
    known = [other for other, species in SPECIES.items() if species.kind != "hypochlorite"]
    if name not in known:
        raise DataError("unknown acid or base", argument="species", given=name, remedy=nearest(name, known))
    return SPECIES[name]


def found_by(species: Species, end_point: EndPoint) -> tuple[Flag, ...]:
    """Return a note on what the indicator finds in a caustic that may hold carbonate."""
    if species.kind != "alkali":
        return ()
    if end_point.indicator in _FIRST:
        found = "the hydroxide and half of any carbonate"
    else:
        found = "the hydroxide and all of any carbonate"
    message = (
        f"{end_point.indicator} finds {found}: a caustic that drank carbon dioxide gives two answers with two "
        "indicators, and both together give hydroxide and carbonate."
    )
    return (Flag(code="carbonate-counted", message=message),)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Caustic:
    """Hydroxide and carbonate of a caustic.

    Parameters
    ----------
    hydroxide, carbonate : Estimate [mol/L] or [mol/g]
        Amount of each.

    """

    hydroxide: Estimate
    carbonate: Estimate


def hydroxide_and_carbonate(*, phenolphthalein: Strength, methyl_orange: Strength) -> Caustic:
    """Return hydroxide and carbonate from assays of one caustic to two end points.

    Parameters
    ----------
    phenolphthalein : Strength
        Assay to phenolphthalein: hydroxide and half the carbonate.
    methyl_orange : Strength
        Assay to methyl orange or bromocresol green: hydroxide and all the carbonate.

    Returns
    -------
    Caustic
        Both amounts, with the correlation of the two assays; a carbonate of zero within its U is no carbonate found.

    Raises
    ------
    DomainError
        If the two are not of one alkali and one kind, per volume or per mass.

    References
    ----------
    common practice: titration of hydroxide and carbonate to two end points.

    """
    if phenolphthalein.species != methyl_orange.species or phenolphthalein.per_mass != methyl_orange.per_mass:
        raise DomainError(
            "the two assays are not of one alkali in one unit",
            argument="methyl_orange",
            given=methyl_orange.label,
            remedy="Assay the same caustic to both end points in the same way.",
        )

    def found(kernel: Kernel, label: str) -> Estimate:
        first, total = phenolphthalein.estimate, methyl_orange.estimate
        return evaluate(kernel, name=first.name, label=label, first_alkali=first, total_alkali=total)

    return Caustic(
        hydroxide=found(hydroxide_from_end_points, "hydroxide"), carbonate=found(carbonate_from_end_points, "carbonate")
    )
