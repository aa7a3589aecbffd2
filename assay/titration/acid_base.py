"""Acids and bases at an indicator's end point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

from assay.bench.sampling import Sampling
from assay.bench.setting import OneVolume
from assay.bench.temperature import Temperature
from assay.bench.weighing import Weighing
from assay.display.numbers import degrees, plus_minus, significant, value_and_u
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError
from assay.flags import Flag, codes_of
from assay.kernels.carbonate import carbonate_from_end_points, hydroxide_from_end_points
from assay.metrology.estimate import Estimate, Kernel
from assay.metrology.evaluation import evaluate
from assay.substances.density import Density
from assay.substances.species import Species, species_named
from assay.substances.strength import Strength
from assay.titration.assays import Dilution, Sample, strength_of
from assay.titration.blanks import Blank
from assay.titration.container import sampling_flags, strength_of_container
from assay.titration.end_point import EndPoint, check_end_point
from assay.titration.facts import assay_facts
from assay.titration.plausibility import plausibility_flags
from assay.titration.titrant import Titrant
from assay.titration.titres import AnyTitre, Conditions
from assay.units import Written

#: Indicators whose end point takes carbonate to hydrogen carbonate only.
_FIRST = ("phenolphthalein", "thymolphthalein")
#: Indicators whose end point takes carbonate to carbonic acid.
_SECOND = ("methyl orange", "bromocresol green", "methyl red")

#: Indicators that change between the two: the share of the carbonate that they find drifts as carbon dioxide escapes.
_BETWEEN = ("bromothymol blue", "phenol red")

#: Flag of a strength that counts carbonate as well.
_COUNTED = "carbonate-counted"


def assay_acid_base(
    titrant: Titrant,
    species: str,
    *,
    end_point: EndPoint,
    aliquot: OneVolume | None = None,
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
    orange or bromocresol green the hydroxide and all the carbonate; see `hydroxide_and_carbonate`. Bromothymol blue and
    phenol red change between the two and find neither: they serve strong acids, and alkali that holds no carbonate.

    Parameters
    ----------
    titrant : Titrant
        Sodium hydroxide for an acid, hydrochloric acid for a base.
    species : str
        ``"hydrochloric acid"``, ``"sulfuric acid"``, ``"nitric acid"``, ``"acetic acid"``, ``"sodium hydroxide"``,
        ``"potassium hydroxide"`` or ``"ammonia"``; a formula or a name of the trade, such as ``"HCl"`` or ``"muriatic
        acid"``, is understood.
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
        If the species is unknown, or something given is not what belongs there.
    DomainError
        If the titrant is not the one for this species.
    BlockedResultError
        If the titrant carries a blocking flag.
    BasisError
        If the label's strength does not say its basis.

    References
    ----------
    [eurachem-cg4] Example A3 (hydrochloric acid); common practice for the choice of indicators.

    Examples
    --------
    >>> import assay
    >>> hydroxide = assay.run_demo("acid").titrant
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> titres = [burette.titre("24.35 mL"), burette.titre("24.40 mL")]
    >>> vinegar = assay_acid_base(
    ...     hydroxide,
    ...     "acetic acid",
    ...     end_point=assay.EndPoint("phenolphthalein", operator="first bench"),
    ...     aliquot=assay.Pipette("P25", capacity="25 mL"),
    ...     titres=titres,
    ...     blank=burette.titre("0.05 mL"),
    ... )
    >>> vinegar
    <Strength 'acetic acid': [portion-only] 0.09766 mol/L, u = 0.00024 mol/L, dof = 5.33>

    """
    found = acid_or_base(species)
    check_end_point(end_point)
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    sample = Sample(aliquot=aliquot, titres=titres, portions=portions, dilutions=dilutions)
    facts = assay_facts(titrant, species=found, label=label, sampling=sampling, per_mass=sample.per_mass)
    facts["end point"] = end_point.sentence(with_blank=blank is not None)
    estimate = strength_of(sample, titrant=titrant, species=found, blank=blank, conditions=conditions, record=record)
    estimate = strength_of_container(estimate, sampling, record=record)
    flags = [*end_point.flags_for(found), *plausibility_flags(estimate, found, label), *found_by(found, end_point)]
    flags += sampling_flags(estimate.label, sampling)
    strength = Strength(species=found, estimate=estimate.flagged(*flags), facts=facts, chain=titrant.links)
    return strength if density is None else strength.with_density(density)


def acid_or_base(name: str) -> Species:
    """Return an acid or a base by its name, or raise `DataError` if it is not known."""
    found = species_named(name, what="acid or base")
    if found.kind == "hypochlorite":
        raise DataError(
            "unknown as an acid or base: this is an oxidant",
            argument="species",
            given=name,
            remedy="Titrate it by iodometry: assay_hypochlorite.",
        )
    return found


def found_by(species: Species, end_point: EndPoint) -> tuple[Flag, ...]:
    """Return a note on what the indicator finds in a caustic that may hold carbonate."""
    if species.kind != "alkali" or end_point.indicator not in (*_FIRST, *_SECOND, *_BETWEEN):
        return ()
    named = end_point.indicator
    if named in _BETWEEN:
        message = (
            f"{named} changes between the two steps of carbonate: it finds the hydroxide and more than half of any "
            "carbonate but not all, a share that grows while carbon dioxide escapes. It serves an alkali that holds no "
            "carbonate; titrate one that may hold some to phenolphthalein, and to methyl orange or bromocresol green."
        )
    else:
        message = (
            f"{named} finds the hydroxide and {'half' if named in _FIRST else 'all'} of any carbonate: a caustic that "
            "drank carbon dioxide gives two answers with two indicators, and both together give hydroxide and "
            "carbonate."
        )
    return (Flag(code=_COUNTED, message=message),)


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Caustic:
    """Hydroxide and carbonate of a caustic, with the flags of both assays.

    Parameters
    ----------
    hydroxide, carbonate : Estimate [mol/L] or [mol/g]
        Amount of each.
    strength : Strength
        The hydroxide alone as a strength of its species, to be dosed by where carbonate does not do the work.

    References
    ----------
    common practice: titration of hydroxide and carbonate to two end points.

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("caustic").caustics["old caustic"]
    <Caustic 'hydroxide of old caustic': [carbonate-counted] hydroxide 0.8743 mol/L, u = 0.0047 mol/L, carbonate
    0.0347 mol/L, u = 0.0019 mol/L>

    """

    hydroxide: Estimate
    carbonate: Estimate
    strength: Strength

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data, each once."""
        return tuple(dict.fromkeys((*self.hydroxide.flags, *self.carbonate.flags)))

    def rows(self, level: float = 0.95) -> Rows:
        """Return both amounts as rows of text."""
        return Rows(
            title=f"{self.strength.label}: hydroxide and carbonate, from two end points, U at {100 * level:g} %",
            head=("of", "value ± U", "u", "k", "dof"),
            body=tuple(
                (
                    e.label,
                    plus_minus(e.value, e.expanded(level), e.unit),
                    significant(e.u),
                    f"{e.coverage_factor(level):.2f}",
                    degrees(e.coverage_dof),
                )
                for e in (self.hydroxide, self.carbonate)
            ),
        )

    def __repr__(self) -> str:
        found = ", ".join(f"{e.label} {_short(e)}" for e in (self.hydroxide, self.carbonate))
        return f"<Caustic {self.strength.label!r}: {codes_of(self.flags)}{found}>"


def _short(estimate: Estimate) -> str:
    value, u = value_and_u(estimate.value, estimate.u)
    return f"{value} {estimate.unit}, u = {u} {estimate.unit}"


def hydroxide_and_carbonate(*, phenolphthalein: Strength, methyl_orange: Strength, label: str | None = None) -> Caustic:
    """Return hydroxide and carbonate from assays of one caustic to two end points.

    Parameters
    ----------
    phenolphthalein : Strength
        Assay to phenolphthalein: hydroxide and half the carbonate.
    methyl_orange : Strength
        Assay to methyl orange or bromocresol green: hydroxide and all the carbonate.
    label : str, optional
        What a person calls the caustic.

    Returns
    -------
    Caustic
        Both amounts, with the correlation of the two assays; a carbonate of zero within its U is no carbonate found. A
        hydroxide below zero by more than U is flagged as hydrogen carbonate; a carbonate below zero by more than U
        cannot be, and its flag blocks.

    Raises
    ------
    DomainError
        If the two are not of one alkali and one kind, per volume or per mass, or were titrated to other end points.

    References
    ----------
    common practice: titration of hydroxide and carbonate to two end points.

    Examples
    --------
    >>> import assay
    >>> first, second = assay.run_demo("caustic").strengths.values()
    >>> hydroxide_and_carbonate(phenolphthalein=first, methyl_orange=second).carbonate
    <Estimate 'carbonate': [carbonate-counted] 0.0347 mol/L, u = 0.0019 mol/L, dof = 7.72>

    """
    if phenolphthalein.species.kind != "alkali":
        raise DomainError(
            "hydroxide and carbonate are those of a caustic",
            argument="phenolphthalein",
            given=phenolphthalein.species.name,
            expected="sodium hydroxide or potassium hydroxide",
            remedy="Check the species of the assay.",
        )
    if phenolphthalein.species != methyl_orange.species or phenolphthalein.per_mass != methyl_orange.per_mass:
        raise DomainError(
            "the two assays are not of one alkali in one unit",
            argument="methyl_orange",
            given=methyl_orange.label,
            remedy="Assay the same caustic to both end points in the same way.",
        )

    _check_indicator(phenolphthalein, _FIRST, argument="phenolphthalein")
    _check_indicator(methyl_orange, _SECOND, argument="methyl_orange")

    def found(kernel: Kernel, label: str) -> Estimate:
        first, total = phenolphthalein.estimate, methyl_orange.estimate
        return evaluate(kernel, name=first.name, label=label, first_alkali=first, total_alkali=total)

    hydroxide, carbonate = found(hydroxide_from_end_points, "hydroxide"), found(carbonate_from_end_points, "carbonate")
    flags: list[Flag] = []
    if hydroxide.value + hydroxide.expanded() < 0.0:
        message = (
            "the second end point takes more than twice the acid of the first: no hydroxide is left, and what lacks is "
            "hydrogen carbonate."
        )
        flags.append(Flag(code="hydrogen-carbonate", message=message))
    if carbonate.value + carbonate.expanded() < 0.0:
        message = (
            "methyl orange found less alkali than phenolphthalein, by more than U, which no caustic does: were titres, "
            "dilutions or samples exchanged?"
        )
        flags.append(Flag(code="carbonate-below-zero", message=message, blocking=True))
    hydroxide = replace(hydroxide, flags=_without_note(hydroxide.flags)).flagged(*flags)
    name = "hydroxide" if label is None else f"hydroxide of {label}"
    strength = replace(phenolphthalein, estimate=replace(hydroxide, label=name), facts=_shared_facts(phenolphthalein))
    return Caustic(hydroxide=hydroxide, carbonate=carbonate.flagged(*flags), strength=strength)


def _without_note(flags: Sequence[Flag]) -> tuple[Flag, ...]:
    """Leave out what an end point finds besides hydroxide: here it was taken off."""
    return tuple(flag for flag in flags if flag.code != _COUNTED)


def _shared_facts(first: Strength) -> dict[str, str]:
    return {**first.facts, "end point": "the hydroxide alone, from the end points of two indicators"}


def _check_indicator(strength: Strength, fitting: tuple[str, ...], *, argument: str) -> None:
    """Refuse an assay to the other end point; one that does not tell its end point is trusted."""
    told = strength.facts.get("end point")
    if told is not None and not told.startswith(fitting):
        raise DomainError(
            "this assay was titrated to another end point",
            argument=argument,
            given=told,
            expected=" or ".join(fitting),
            remedy="Are the two assays exchanged, or is one of them entered twice?",
        )
