"""Strengths that cannot be: more than is sold, or more than the label says."""

from __future__ import annotations

from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.substances.species import Species
from assay.substances.stated import amount_concentration_of, amount_content_of, stated_strength

IMPLAUSIBLE = "implausible-strength"
ABOVE_LABEL = "above-label"


def largest_sold(species: Species) -> float:
    """Return the strength, mol/L, above which no such reagent is sold."""
    return amount_concentration_of(species.ceiling, species.bases[1], species)


def plausibility_flags(
    estimate: Estimate, species: Species, label: str | None, *, ceiling_by_mass: float | None = None
) -> tuple[Flag, ...]:
    """Return flags of a strength beyond any that is sold, or above that of its label.

    Parameters
    ----------
    estimate : Estimate [mol/L] or [mol/g]
        The strength.
    species : Species
        Of what it is.
    label : str or None
        The label's strength.
    ceiling_by_mass : float, optional [% w/w]
        In place of the species' own, for another source of it.

    """
    flags = _implausible(estimate, species, species.ceiling_by_mass if ceiling_by_mass is None else ceiling_by_mass)
    return flags if label is None else (*flags, *_above_label(estimate, species, label))


def _implausible(estimate: Estimate, species: Species, by_mass: float) -> tuple[Flag, ...]:
    if estimate.name == "amount_content":
        basis, ceiling = species.basis_by_mass, by_mass
        most, least = amount_content_of(ceiling, basis), estimate.value - estimate.expanded()
    else:
        basis, ceiling = species.bases[1], species.ceiling
        most, least = largest_sold(species), estimate.value
    if least <= most:
        return ()
    pure = basis.per_mass and ceiling >= basis.scale
    message = (
        f"the strength found, {ceiling * estimate.value / most:.3g} {basis.key}, is above {ceiling:g} {basis.key}, "
        f"more than {'the pure substance' if pure else 'is sold'}. Check the dilutions: is one counted twice, or an "
        "aliquot entered in place of a flask?"
    )
    return (Flag(code=IMPLAUSIBLE, message=message, blocking=True),)


def _above_label(estimate: Estimate, species: Species, label: str) -> tuple[Flag, ...]:
    """Return a flag of a strength above its label's; between mass and volume stands the density of a fresh solution."""
    number, basis = stated_strength(label, argument="label", species=species)
    found, by, least = estimate.value, "", estimate.value - estimate.expanded()
    if least <= 0.0:
        return ()
    try:
        if estimate.name != "amount_content":
            stated = amount_concentration_of(number, basis, species)
        elif basis.per_mass:
            stated = amount_content_of(number, basis)
        else:
            stated = amount_concentration_of(number, basis, species)
            whole = species.basis_by_mass
            found = amount_concentration_of(found / amount_content_of(1.0, whole), whole, species)
            by = ", by the density of a fresh solution"
    except (DataError, DomainError):
        return ()  # no density is known for it
    if found * least / estimate.value <= stated:
        return ()
    message = (
        f"the strength found is {100 * found / stated:.0f} % of the label's {label}{by}, above it by more than U. "
        f"{species.name.capitalize()} does not gain strength: check the basis of the label, dilutions and titrant."
    )
    return (Flag(code=ABOVE_LABEL, message=message),)
