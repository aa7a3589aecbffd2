"""Strengths and amounts as a person writes them."""

from __future__ import annotations

from typing import TypeAlias

from assay.errors import BasisError, DomainError
from assay.kernels.weighing import amount_from_mass
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.substances.molar_mass import molar_mass
from assay.substances.species import HYPOCHLORITE, Basis, Species, normal
from assay.substances.stated import read_stated
from assay.substances.strength import Strength
from assay.units import kind_of, read, split

StrengthLike: TypeAlias = Strength | str


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
        If the strength is not above zero, or it is by mass and more than solutions hold.
    DataError
        If it is by mass and there is no table of densities.

    Examples
    --------
    >>> round(read_strength("12.5 % w/v available chlorine", argument="label"), 3)
    1.763

    """
    if isinstance(written, Strength):
        return written.per_volume().estimate.value
    return read_stated(written, argument=argument, species=species)


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
