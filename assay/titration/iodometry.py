"""Hypochlorite by iodometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from statistics import fmean

from assay.bench.burette import Titre
from assay.bench.sampling import Sampling
from assay.bench.vessels import Flask, Pipette
from assay.errors import DomainError
from assay.flags import Flag, refuse_blocked
from assay.kernels.dilution import dilution_factor_from_factors, dilution_factor_from_volumes
from assay.kernels.titration import analyte_concentration_from_titre, equivalents_in_aliquot_from_titre
from assay.metrology.estimate import Estimate, evaluate
from assay.substances.species import HYPOCHLORITE
from assay.substances.strength import CEILING_G_PER_L, Strength, read_strength
from assay.titration.standardisation import Titrant
from assay.titration.titres import (
    aside_flag,
    blank_flag,
    blank_of,
    check_titres,
    method_scatter,
    record_path,
    single_of,
    titre_set,
)
from assay.units import Written

#: Most oxidant in one aliquot, mol of electrons: common practice; 50 mL of 0.1 mol/L thiosulfate.
LARGEST_ALIQUOT = 0.005

PORTION_ONLY = "portion-only"


@dataclass(frozen=True, slots=True)
class Dilution:
    """One dilution: a pipetted volume made up in a flask.

    Parameters
    ----------
    pipette : Pipette
        What takes the volume.
    flask : Flask
        What it is made up in.

    Raises
    ------
    DomainError
        If the flask is not larger than the pipette.

    """

    pipette: Pipette
    flask: Flask

    def __post_init__(self) -> None:
        """Refuse a dilution that concentrates."""
        taken, made_up = self.pipette.volume().value, self.flask.volume().value
        if made_up <= taken:
            raise DomainError(
                f"a dilution cannot concentrate: {1000 * taken:g} mL are taken and made up to {1000 * made_up:g} mL",
                argument="dilution",
                remedy="Are pipette and flask exchanged?",
            )

    def factor(self) -> Estimate:
        """Return the factor by which the concentration falls."""
        return evaluate(
            dilution_factor_from_volumes,
            name="dilution_factor",
            label=f"dilution {self.pipette.label} to {self.flask.label}",
            taken_volume=self.pipette.volume(),
            made_up_volume=self.flask.volume(),
        )


def assay_hypochlorite(
    titrant: Titrant,
    *,
    aliquot: Pipette,
    titres: Sequence[Titre],
    dilutions: Sequence[Dilution] = (),
    blank: Titre | Sequence[Titre] | None = None,
    label: str | None = None,
    sampling: Sampling | None = None,
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
    aliquot : Pipette
        The pipette that takes each titrated aliquot.
    titres : sequence of Titre
        Titres of the aliquots.
    dilutions : sequence of Dilution
        The dilutions between sample and aliquot, in order; none if the sample itself was titrated.
    blank : Titre or sequence of Titre, optional
        Titres of the reagents alone; leaving it out is flagged.
    label : str, optional
        Strength on the label, such as ``"12.5 % w/v available chlorine"``: a strength well above it is flagged.
    sampling : Sampling, optional
        How the portion was taken; without it the result is flagged as one of the portion only.
    method_s : str or quantity, optional
        Known standard deviation of one titre, a volume; needed for a single titre.
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
    [usp-32-hypochlorite] Sodium Hypochlorite Solution, Assay; [bp-strong-hypochlorite] Assay (10 mL to 250 mL,
    aliquots of 10 mL).

    """
    refuse_blocked(titrant.flags, what="the titrant")
    if titrant.name != "thiosulfate":
        raise DomainError("hypochlorite is titrated with thiosulfate", argument="titrant", given=titrant.name)
    stated = None if label is None else read_strength(label, argument="label")
    titres = check_titres(titres, argument="titres")
    path = record_path(record, [titre.readings() for titre in titres])
    name = "hypochlorite" if record is None else record
    titrated = titre_set(
        titres,
        path=path,
        label=f"titre, {name}",
        method=method_scatter(method_s, method_dof),
        single_blank=single_of(blank) is not None,
    )
    scatter = titrated.scatter
    empty, flags = blank_of(
        blank, path=path, label=name, s=scatter.s, dof=scatter.dof, scattered=titrated.blank_scatter
    )
    estimate = evaluate(
        analyte_concentration_from_titre,
        name="amount_concentration",
        label=name,
        titrant_concentration=titrant.estimate,
        titre=titrated.mean,
        blank=empty,
        equivalents=HYPOCHLORITE.equivalents,
        aliquot_volume=aliquot.volume(),
        dilution_factor=_factor(dilutions),
    )
    whole = fmean(titre.nominal for titre in titres)
    with_all = estimate.value * (whole - empty.value) / ((titrated.mean.value - empty.value) or 1.0)
    flags += blank_flag(titrated.mean.value, empty.value, name)
    flags += aside_flag(titrated.aside, with_all, name)
    flags += _aliquot_flag(titrant, titrated.mean, empty)
    flags += _plausibility_flags(estimate, stated, label)
    flags += () if sampling is not None else (_portion_only(name),)
    facts = {**titrant.facts, "titrant": titrant.label}
    if label is not None:
        facts["label"] = label
    if sampling is not None:
        facts["sampling"] = sampling.sentence()
    return Strength(species=HYPOCHLORITE, estimate=estimate.flagged(*flags), facts=facts)


def _factor(dilutions: Sequence[Dilution]) -> Estimate:
    return evaluate(
        dilution_factor_from_factors,
        *(dilution.factor() for dilution in dilutions),
        name="dilution_factor",
        label="dilution of the sample",
    )


def _aliquot_flag(titrant: Titrant, titre: Estimate, blank: Estimate) -> tuple[Flag, ...]:
    consumed = evaluate(
        equivalents_in_aliquot_from_titre,
        name="amount",
        label="thiosulfate consumed by an aliquot",
        titrant_concentration=titrant.estimate,
        titre=titre,
        blank=blank,
    ).value
    if consumed <= LARGEST_ALIQUOT:
        return ()
    message = (
        f"an aliquot held {1000 * consumed:.3g} milliequivalents of oxidant, more than {1000 * LARGEST_ALIQUOT:g}: "
        "the iodine may outrun the iodide and evaporate. Dilute further and titrate again."
    )
    return (Flag(code="aliquot-too-strong", message=message),)


def _plausibility_flags(estimate: Estimate, stated: float | None, label: str | None) -> tuple[Flag, ...]:
    flags: list[Flag] = []
    ceiling = read_strength(f"{CEILING_G_PER_L} g/L available chlorine", argument="ceiling")
    if estimate.value > ceiling:
        message = (
            f"the strength found is above {CEILING_G_PER_L:g} g/L available chlorine, more than any liquor holds. "
            "Check the dilutions: is one counted twice, or an aliquot entered in place of a flask?"
        )
        flags.append(Flag(code="implausible-strength", message=message, blocking=True))
    if stated is not None and estimate.value - estimate.expanded() > stated:
        message = (
            f"the strength found is {100 * estimate.value / stated:.0f} % of the label's {label}, above it by more "
            "than U. Hypochlorite does not gain strength: check the basis of the label, the dilutions and the titrant."
        )
        flags.append(Flag(code="above-label", message=message))
    return tuple(flags)


def _portion_only(name: str) -> Flag:
    message = (
        f"sampling and delay are not stated for {name}: the uncertainty is that of the portion tested, not of the "
        "drum or bottle it came from."
    )
    return Flag(code=PORTION_ONLY, message=message)
