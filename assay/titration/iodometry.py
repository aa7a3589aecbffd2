"""Hypochlorite by iodometry."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from assay.bench.sampling import Sampling
from assay.bench.setting import OneVolume
from assay.bench.temperature import Temperature
from assay.bench.weighing import Weighing
from assay.flags import Flag
from assay.substances.density import Density
from assay.substances.species import HYPOCHLORITE, names_sodium_hypochlorite
from assay.substances.strength import NOT_SODIUM, Strength
from assay.titration.assays import Dilution, Sample, consumed_by_aliquot, strength_of
from assay.titration.blanks import Blank, nominal_blank
from assay.titration.container import sampling_flags, strength_of_container
from assay.titration.facts import assay_facts
from assay.titration.plausibility import plausibility_flags
from assay.titration.titrant import Titrant
from assay.titration.titres import AnyTitre, Conditions
from assay.units import Written

#: Most oxidant in one aliquot, mol of electrons: common practice; 50 mL of 0.1 mol/L thiosulfate.
LARGEST_ALIQUOT = 0.005
TOO_STRONG = "aliquot-too-strong"
SODIUM = "sodium hypochlorite"
#: Available chlorine above which no other source is sold, % w/w: common practice; trichloroisocyanurate has about 90.
_SOLID = 100.0


def assay_hypochlorite(
    titrant: Titrant,
    *,
    aliquot: OneVolume | None = None,
    titres: Sequence[AnyTitre] = (),
    portions: Sequence[tuple[Weighing, AnyTitre]] = (),
    dilutions: Sequence[Dilution] = (),
    blank: Blank = None,
    label: str | None = None,
    source: str = SODIUM,
    sampling: Sampling | None = None,
    density: Density | None = None,
    temperature: Temperature | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
    record: str | None = None,
) -> Strength:
    """Return the strength of hypochlorite from the thiosulfate that the iodine it sets free consumes.

    What is measured is the total oxidant that acts on iodide in dilute acetic acid, expressed as hypochlorite. It is
    that of the portion that was tested; for the container, the sampling must be stated.

    Parameters
    ----------
    titrant : Titrant
        Standardised thiosulfate.
    aliquot : Pipette, or ware set to a volume, optional
        What takes each titrated aliquot, such as ``syringe.measure("5.0 mL")``.
    titres : sequence of Titre or MassTitre
        Titres of the aliquots.
    portions : sequence of (Weighing, titre)
        Instead of both: weighed portions, each with its titre; the strength is then per mass and needs no density.
    dilutions : sequence of Dilution
        The dilutions between sample and aliquot, in order; none if the sample itself was titrated.
    blank : titre or a sequence, optional
        Titres of the reagents alone; leaving it out is flagged.
    label : str, optional
        Strength on the label, such as ``"12.5 % w/v available chlorine"``: a strength well above it is flagged.
    source : str
        What gave the hypochlorite: another source than sodium hypochlorite, such as ``"calcium hypochlorite"`` or
        ``"sodium dichloroisocyanurate"``, is stated as NaOCl only after that was accepted by name; a label as NaOCl
        blocks it until then.
    sampling : Sampling, optional
        How the portion was taken; without it the result is flagged as one of the portion only.
    density : Density, optional
        Density of the sample, for a strength per mass from a pipetted sample and the other way round.
    temperature : Temperature, optional
        Temperature of the liquids; volumes are then stated at 20 °C.
    method_s : str or quantity, optional
        Known standard deviation of one titre; needed for a single titre.
    method_dof : float
        Its degrees of freedom.
    record : str, optional
        Name of the record, such as ``"drum 7, 16 November"``.

    Returns
    -------
    Strength
        Of hypochlorite, with its flags.

    Raises
    ------
    BlockedResultError
        If the titrant carries a blocking flag.
    DomainError
        If the titrant is not thiosulfate, or there is a single titre without ``method_s``.
    BasisError
        If the label's strength does not say its basis.

    References
    ----------
    [usp-32-hypochlorite] Assay (a weighed portion); [bp-strong-hypochlorite] Assay (10 mL to 250 mL, aliquots of 10
    mL).

    Examples
    --------
    >>> import assay
    >>> thiosulfate = assay.run_demo("drum").titrant
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> p10, p25 = assay.Pipette("P10", capacity="10 mL"), assay.Pipette("P25", capacity="25 mL")
    >>> flask = assay.Flask("F250", capacity="250 mL")
    >>> titres = [burette.titre("24.35 mL"), burette.titre("24.40 mL")]
    >>> drum = assay_hypochlorite(
    ...     thiosulfate,
    ...     aliquot=p25,
    ...     titres=titres,
    ...     dilutions=[assay.Dilution(p10, flask)],
    ...     blank=burette.titre("0.05 mL"),
    ... )
    >>> drum.in_basis("g/L available chlorine")
    <Estimate 'hypochlorite, g/L available chlorine': [titres-set-aside] [portion-only] 86.41 g/L, u = 0.28 g/L,
    dof = 14.1>

    """
    sample = Sample(aliquot=aliquot, titres=titres, portions=portions, dilutions=dilutions)
    facts = assay_facts(titrant, species=HYPOCHLORITE, label=label, sampling=sampling, per_mass=sample.per_mass)
    conditions = Conditions(temperature=temperature, method_s=method_s, method_dof=method_dof)
    estimate = strength_of(
        sample, titrant=titrant, species=HYPOCHLORITE, blank=blank, conditions=conditions, record=record
    )
    estimate = strength_of_container(estimate, sampling, record=record)
    liquor = is_liquor(source)
    plausible = plausibility_flags(estimate, HYPOCHLORITE, label, ceiling_by_mass=None if liquor else _SOLID)
    flags = [*_aliquot_flag(sample, titrant, blank), *plausible, *sampling_flags(estimate.label, sampling)]
    if not liquor:
        flags.append(source_flag(source, label))
        facts["source"] = source
    strength = Strength(species=HYPOCHLORITE, estimate=estimate.flagged(*flags), facts=facts, chain=titrant.links)
    return strength if density is None else strength.with_density(density)


def _aliquot_flag(sample: Sample, titrant: Titrant, blank: Blank) -> tuple[Flag, ...]:
    consumed = consumed_by_aliquot(sample, titrant, nominal_blank(blank))
    if consumed <= LARGEST_ALIQUOT:
        return ()
    message = (
        f"an aliquot held {1000 * consumed:.3g} milliequivalents of oxidant, more than {1000 * LARGEST_ALIQUOT:g}: "
        "the iodine may outrun the iodide and evaporate. Dilute further and titrate again."
    )
    return (Flag(code=TOO_STRONG, message=message),)


def is_liquor(source: str) -> bool:
    """Return whether a source is sodium hypochlorite, by whatever name."""
    return HYPOCHLORITE.basis(f"g/L {source}") == HYPOCHLORITE.basis("g/L NaOCl")


def source_flag(source: str, label: str | None) -> Flag:
    """Return the flag of a hypochlorite that is not the sodium salt; it blocks where the label says that it is."""
    message = f"the source is {source}: g/L or per cent NaOCl would name what is not there."
    as_sodium = label is not None and names_sodium_hypochlorite(label)
    if as_sodium:
        message += f" So does the label, {label}: is it of this container?"
    return Flag(code=NOT_SODIUM, message=message, blocking=as_sodium)
