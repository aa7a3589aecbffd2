"""Strengths and amounts as a person writes them, and what is said when they leave something open."""

from __future__ import annotations

from decimal import Decimal
from typing import TypeAlias

from assay.errors import BasisError, DataError, DomainError
from assay.kernels.weighing import amount_from_mass
from assay.metrology.estimate import Estimate, evaluate
from assay.substances.density import fresh_hypochlorite_density, table_density_at
from assay.substances.molar_mass import molar_mass
from assay.substances.species import HYPOCHLORITE, Basis, Species, normal
from assay.substances.strength import Strength, check_positive
from assay.units import Parts, kind_of, read, split

StrengthLike: TypeAlias = Strength | str

#: Density at which a message shows a hypochlorite by mass, g/mL: a usual figure for 12.5 % liquor, common practice.
DENSITY_SHOWN = 1.16


def read_strength(written: StrengthLike, *, argument: str, species: Species = HYPOCHLORITE) -> float:
    """Return a written strength, such as one from a label, as mol/L of the species.

    A strength by mass is turned into one by volume with the density of a fresh solution of that strength, from the
    tables.

    Parameters
    ----------
    written : str or Strength
        ``"12.5 % w/v available chlorine"``, ``"150 g/L available chlorine"``, ``"2.1 mol/L OCl-"``, ``"158 g/L
        NaOCl"``, ``"32 % w/w HCl"``.
    argument : str
        Name of the argument, for messages.
    species : Species
        Of what the strength is.

    Raises
    ------
    BasisError
        If the basis is missing or unclear; the message lists what may be meant and the g/L that each would be.
    DomainError
        If the strength is not above zero.
    DataError
        If it is by mass and there is no table of densities.

    Examples
    --------
    >>> round(read_strength("12.5 % w/v available chlorine", argument="label"), 3)
    1.763

    """
    if isinstance(written, Strength):
        return written.per_volume().estimate.value
    if not isinstance(written, str):
        raise _unclear(Parts(Decimal(str(written)), Decimal(1), ""), written, argument, species)
    parts = split(written, argument=argument, example=f"'… {species.bases[2].key}'")
    basis = species.basis(parts.rest)
    if basis is None:
        raise _unclear(parts, written, argument, species)
    check_positive(float(parts.number), argument=argument, given=written)
    return amount_concentration_of(float(parts.number), basis, species)


def amount_concentration_of(number: float, basis: Basis, species: Species) -> float:
    """Return a number in a basis as mol/L of the species, by mass with the density of a fresh solution."""
    if not basis.formula:
        return number
    grams = number / basis.scale
    moles = grams / (basis.entities * molar_mass(basis.formula).value)
    return moles * _fresh_density(grams, basis, species) if basis.per_mass else moles


def _fresh_density(mass_fraction: float, basis: Basis, species: Species) -> float:
    if species.kind == "hypochlorite":
        chlorine = mass_fraction * molar_mass("Cl2").value / (basis.entities * molar_mass(basis.formula).value)
        return fresh_hypochlorite_density(chlorine)
    return table_density_at(species, mass_fraction)


def _unclear(parts: Parts, written: object, argument: str, species: Species) -> BasisError:
    unit = "%" if parts.rest.startswith("%") else parts.rest
    of_unit = [basis for basis in species.bases if unit and basis.key.startswith(unit)]
    ordered = sorted(of_unit or species.bases, key=lambda basis: (not basis.percent, basis.per_mass))
    meanings = [
        f"{f'{parts.number} {basis.key}'!r} ({_in_grams(float(parts.number), basis, species)})" for basis in ordered
    ]
    given = f"{parts.rest!r} alone" if parts.rest else "a bare number"
    return BasisError(
        f"{given} does not say as what the strength is expressed and per what.",
        argument=argument,
        given=written,
        remedy=f"Look at the label or the certificate and write which is meant: {', or '.join(meanings)}.",
    )


def _in_grams(number: float, basis: Basis, species: Species) -> str:
    """Return what a number in a basis is in grams per litre, with the density that was taken for one by mass."""
    reference = next(b for b in species.bases if b.formula and not b.per_mass and b.scale == 1.0)
    at = ""
    if basis.per_mass:
        density = 1000.0 * DENSITY_SHOWN
        if species.kind != "hypochlorite":
            try:
                density = _fresh_density(number / basis.scale, basis, species)
            except (DataError, DomainError):
                return "needs the density"
        at = f" at {density / 1000.0:.4g} g/mL"
        moles = number / basis.scale * density / (basis.entities * molar_mass(basis.formula).value)
    else:
        moles = amount_concentration_of(number, basis, species)
    grams = moles / amount_concentration_of(1.0, reference, species)
    doubt = f", more than any {_sold(species)} holds" if grams > species.ceiling else ""
    return f"{grams:.4g} {reference.key}{at}{doubt}"


def _sold(species: Species) -> str:
    return "liquor" if species.kind == "hypochlorite" else species.name


def read_amount(written: str, *, argument: str, species: Species = HYPOCHLORITE) -> Estimate:
    """Return a written amount of a species: ``"0.25 mol OCl-"``, ``"17.7 g available chlorine"`` or ``"12 g NaOCl"``.

    Raises
    ------
    BasisError
        If it is not said of what, or as what.
    UnitError
        If the number or its unit cannot be read.
    DomainError
        If it is not above zero.

    Examples
    --------
    >>> round(read_amount("17.725 g available chlorine", argument="deliver").value, 6)
    0.25

    """
    example = f"'0.25 mol {species.entity}' or '17.7 g {species.bases[1].substance}'"
    parts = split(str(written), argument=argument, example=example)
    unit, _, substance = parts.rest.partition(" ")
    kind = kind_of(unit)
    named = next((b for b in species.bases if _names(b, substance) and (kind == "mass") == bool(b.formula)), None)
    if named is None or kind not in {"mass", "amount"}:
        raise BasisError(
            "this does not say an amount of what, as what.",
            argument=argument,
            given=written,
            expected="an amount or a mass with what it is of: "
            + ", ".join(repr(name) for name in dict.fromkeys(basis.substance for basis in species.bases)),
            remedy=f"Write for example {example}.",
        )
    value = read(f"{parts.number} {unit}", kind, argument=argument)
    if value <= 0.0:
        raise DomainError(
            "an amount to deliver is above zero",
            argument=argument,
            given=written,
            remedy=f"Write for example {example}.",
        )
    if not named.formula:
        return Estimate.exactly(value, name="required_amount", label=written)
    return evaluate(
        amount_from_mass,
        name="required_amount",
        label=written,
        mass=value / named.entities,
        purity=1.0,
        molar_mass=molar_mass(named.formula),
    )


def _names(basis: Basis, substance: str) -> bool:
    wanted = normal(substance)
    return bool(wanted) and any(normal(alias).endswith(f"/l{wanted}") for alias in (basis.key, *basis.aliases))
