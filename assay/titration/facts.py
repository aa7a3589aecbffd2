"""What is kept beside a strength: its label, its titrant, how it was sampled."""

from __future__ import annotations

from assay.bench.sampling import Sampling
from assay.errors import DataError, DomainError
from assay.substances.species import Species
from assay.substances.stated import stated_strength
from assay.substances.written import read_strength
from assay.titration.titrant import Titrant


def assay_facts(
    titrant: Titrant, *, species: Species, label: str | None, sampling: Sampling | None, per_mass: bool
) -> dict[str, str]:
    """Return the facts of an assay, measured per mass or per volume; the label's strength also as mol/L, exactly."""
    facts = {**titrant.facts, "titrant": titrant.label}
    if label is not None:
        facts["label"] = label
        stated = label_strength(label, species=species, per_mass=per_mass)
        if stated is not None:
            facts["label strength"] = repr(stated)
    if sampling is not None:
        facts["sampling"] = sampling.sentence()
    return facts


def label_strength(label: str, *, species: Species, per_mass: bool) -> float | None:
    """Return the strength on a label as mol/L, or ``None`` if it is by mass and no density of such a solution is known.

    Beside a strength measured per mass that is no loss: the two are compared without a density.

    Raises
    ------
    BasisError
        If the label does not say its basis.
    DataError
        If a density is needed and there is no table of it.
    DomainError
        If the strength is not above zero, or by mass more than any that is sold, or more than solutions hold where a
        density is needed.

    """
    number, basis = stated_strength(label, argument="label", species=species)
    try:
        return read_strength(label, argument="label", species=species)
    except (DataError, DomainError):
        # Hypochlorite is sold as a solid as well, of other salts: what the ceiling of liquor does not hold.
        most = 1.0 if species.kind == "hypochlorite" else species.ceiling_by_mass / species.basis_by_mass.scale
        if not per_mass or not basis.per_mass or number > most * basis.scale:
            raise
        return None
