"""Strengths as a label states them, and what is said of one that leaves something open."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches

from assay.errors import BasisError, DataError, DomainError
from assay.kernels.density import amount_concentration_from_amount_content
from assay.kernels.strength import inner_value_from_stated_value
from assay.substances.density_tables import fresh_hypochlorite_density, table_density_at
from assay.substances.molar_mass import molar_mass
from assay.substances.species import SPECIES, Basis, Species, is_species, normal, species_named, spelled
from assay.units import Parts, split

#: Density at which a message shows a hypochlorite by mass, g/mL: a usual figure for 12.5 % liquor, common practice.
DENSITY_SHOWN = 1.16

_G_PER_ML = 1000.0
_AS_WHAT = "as what the strength is expressed"
_PER_WHAT = "per what: per volume (w/v) or per mass (w/w)"
#: Units that are read as another of a basis, with what one of them is in it.
_SCALED = {
    "mg/L": ("g/L", Decimal("0.001")),
    "mmol/L": ("mol/L", Decimal("0.001")),
    "g/kg": ("% w/w", Decimal("0.1")),
    "mg/g": ("% w/w", Decimal("0.1")),
    "mg/kg": ("% w/w", Decimal("0.0001")),
}
#: Units that say per what. The longer of two that begin alike stands first.
_SAY_PER_WHAT = ("% w/v", "% w/w", "mol/L", "mmol/L", "g/L", "mg/L", "mg/kg", "g/kg", "mg/g", "M")
#: Units of amounts; a name alone may be that of an amount as well.
_AMOUNTS = ("mol/L", "mmol/L", "mol", "mmol", "M", "N", "")
_AMOUNTS_OF = ("mol", "mmol", "g", "mg")
_BAUME = re.compile(r"(?:°|deg(?:rees?)?\.?)?\s*(?:Bé|Be|Baumé|Baume)\b", re.IGNORECASE)


def read_stated(written: object, *, argument: str, species: Species) -> float:
    """Return a written strength as mol/L of the species; see `assay.substances.written.read_strength`."""
    number, basis = stated_strength(written, argument=argument, species=species)
    try:
        return amount_concentration_of(number, basis, species)
    except (DataError, DomainError) as error:
        per_volume = next(b for b in species.bases if b.formula == basis.formula and not b.per_mass)
        raise type(error)(
            error.problem,
            argument=argument,
            given=written,
            expected=error.expected,
            remedy=f"By mass it needs a density: state it per volume, '… {per_volume.key}', or leave it out.",
        ) from error


def stated_strength(written: object, *, argument: str, species: Species) -> tuple[float, Basis]:
    """Return number and basis of a written strength.

    Raises
    ------
    BasisError
        If the basis is missing or unclear.
    DomainError
        If the strength is not above zero.

    """
    parts = _parts(written, argument, species)
    found = _in_a_basis(parts.number, parts.rest, species)
    if found is None:
        raise _unclear(parts, written, argument, species)
    number, basis = found
    return check_positive(float(number), argument=argument, given=written), basis


def _parts(written: object, argument: str, species: Species) -> Parts:
    if isinstance(written, str):
        return split(written, argument=argument, example=f"'… {species.bases[2].key}'")
    if isinstance(written, int | float) and not isinstance(written, bool) and math.isfinite(written):
        raise _unclear(Parts(Decimal(f"{written:.6g}"), Decimal(1), ""), written, argument, species)
    raise BasisError(
        "a strength is a text that says its basis.",
        argument=argument,
        given=written,
        remedy=f"Write for example '… {species.bases[1].key}'.",
    )


def check_positive(value: float, *, argument: str, given: object) -> float:
    """Return a strength, or raise `DomainError` if it is not above zero."""
    if value <= 0.0:
        raise DomainError(
            "a strength is above zero", argument=argument, given=given, remedy="Read the label again, and the sign."
        )
    return value


def _in_a_basis(number: Decimal, rest: str, species: Species) -> tuple[Decimal, Basis] | None:
    basis = species.basis(rest)
    if basis is not None:
        return number, basis
    unit, substance = _unit_and_substance(rest)
    if unit in _SCALED:
        key, factor = _SCALED[unit]
        basis = species.basis(f"{key} {substance}")
        if basis is not None:
            return number * factor, basis
    return None


def amount_content_of(number: float, basis: Basis) -> float:
    """Return a number in a basis by mass as mol/g of the species; it needs no density."""
    return _amount_of(number, basis)


def amount_concentration_of(number: float, basis: Basis, species: Species) -> float:
    """Return a number in a basis as mol/L of the species, by mass with the density of a fresh solution."""
    if not basis.formula:
        return number
    amount = _amount_of(number, basis)
    if not basis.per_mass:
        return amount
    density = _fresh_density(number / basis.scale, amount, species)
    return float(amount_concentration_from_amount_content(amount, density))


def _amount_of(number: float, basis: Basis) -> float:
    """Return moles of the species in the litre or the gram that the basis speaks of."""
    molar = molar_mass(basis.formula).value
    return float(inner_value_from_stated_value(number, basis.scale, molar_mass=molar, entities=basis.entities))


def _fresh_density(mass_fraction: float, amount_content: float, species: Species) -> float:
    if species.kind == "hypochlorite":
        return fresh_hypochlorite_density(amount_content * molar_mass("Cl2").value)
    return table_density_at(species, mass_fraction)


# ------------------------------------------------------------------------------------- what is said of an unclear one
@dataclass(frozen=True, slots=True)
class _Meaning:
    """One thing that may be meant.

    Parameters
    ----------
    number : Decimal
        In the unit of the basis.
    basis : Basis
        The basis.
    grams : float
        What it is in the second basis of the species, g/L; by mass without a table, as if a litre weighed 1000 g.
    how : str
        At which density, or why there is none.
    too_strong : bool
        Whether none so strong is sold.

    """

    number: Decimal
    basis: Basis
    grams: float
    how: str
    too_strong: bool

    def told(self, species: Species) -> str:
        reference = species.bases[1].key
        doubt = f", more than any {_sold(species)} holds" if self.too_strong else ""
        grams = "needs the density" if self.how.startswith("needs") else f"{self.grams:.4g} {reference}{self.how}"
        return f"'{self.number:f} {self.basis.key}' ({grams}{doubt})"


def _unclear(parts: Parts, written: object, argument: str, species: Species) -> BasisError:
    """Return the error for a strength that leaves something open: what that is, and what may be meant."""
    if _BAUME.match(parts.rest):
        return _baume(parts.number, written, argument, species)
    unit, substance = _unit_and_substance(parts.rest)
    problem, named = _open(parts.rest, unit, substance, species)
    lead, end = "Look at the label or the certificate and write which is meant:", "."
    if not problem:
        problem = f"{substance!r} is not known here, of {species.name}."
        named = _alike(substance, species)
        lead, end = ("Did you mean", "?") if named else (lead, end)
    meanings = _meanings(parts.number, unit, named, species)
    listed = ", or ".join(meaning.told(species) for meaning in _ordered(meanings, species))
    return BasisError(problem, argument=argument, given=written, remedy=f"{lead} {listed}{end}")


def _open(rest: str, unit: str, substance: str, species: Species) -> tuple[str, list[Basis]]:
    """Return what is open in a written strength, and the bases that its words leave; nothing if a word is unknown."""
    known = [basis for basis in species.bases if normal(substance) in set(map(normal, _names_of(basis)))]
    # What is stated by mass is not as an amount, though its name be that of one.
    named = [basis for basis in known if basis.formula or unit in _AMOUNTS]
    if named or not substance:
        return _missing(rest, unit, said=bool(named), alone=not substance), named
    if known:
        return _otherwise(rest), []
    other = _named_species(substance)
    if other is species:  # by a name of the trade, which is that of the one substance of an acid or alkali
        single = species.kind != "hypochlorite"
        return _missing(rest, unit, said=single, alone=False), list(species.bases) if single else []
    if other is not None:
        return f"this is a strength of {other.name}, and the reagent is {species.name}.", []
    return "", []


def _alike(substance: str, species: Species) -> list[Basis]:
    """Return the bases with the name that is most like a misspelt one."""
    names = {name.casefold(): name for name in _all_names(species)}
    close = get_close_matches(substance.casefold(), names, n=1, cutoff=0.6)
    return [basis for basis in species.bases if close and names[close[0]] in _names_of(basis)]


def _named_species(substance: str) -> Species | None:
    """Return the species that a substance is of, if it is known by this name."""
    if is_species(substance):
        return species_named(substance)
    wanted = normal(substance)
    return next((one for one in SPECIES.values() if wanted in {normal(name) for name in _all_names(one)}), None)


def _missing(rest: str, unit: str, *, said: bool, alone: bool) -> str:
    """Return the sentence that tells what a strength does not say, and only that."""
    if not rest:
        return f"a bare number does not say {_AS_WHAT} and per what."
    if unit == "% v/v":
        return f"{rest!r} is per volume of the pure liquid, which is not how this strength is stated."
    if unit == "N":
        return f"{rest!r} does not say how many equivalents one mole counts for{'' if said else ', and of what'}."
    if said and unit in _AMOUNTS_OF:
        return f"{rest!r} is an amount, and does not say in which volume or mass."
    if not said:
        missing = _AS_WHAT if unit in _SAY_PER_WHAT else f"{_AS_WHAT} and per what"
        return f"{rest!r} {'alone ' if alone else ''}does not say {missing}."
    return {
        "": f"{rest!r} does not say in which unit, and so not per what.",
        "M": f"{rest!r} is written with mol/L here.",
        "%": f"{rest!r} does not say {_PER_WHAT}.",
        "ppm": f"{rest!r} does not say {_PER_WHAT}.",
    }.get(unit, _otherwise(rest) if unit in _SAY_PER_WHAT else f"{unit!r} is no unit of a strength here.")


def _otherwise(rest: str) -> str:
    return f"{rest!r} is not how this strength is stated."


def _unit_and_substance(rest: str) -> tuple[str, str]:
    """Return the unit that stands in front, as this library writes it, and what follows it."""
    text = spelled(rest)
    for unit in (*_SAY_PER_WHAT[:-1], "% v/v", "ppm", "%"):
        after = text[len(unit) :]
        if text.casefold().startswith(unit.casefold()) and (unit == "%" or not after[:1].isalnum()):
            return unit, after.strip()
    first, _, after = text.partition(" ")
    if first in {"M", "N", "molar", "normal"}:
        return first[0].upper(), after
    return ("", text) if _named_species(text) is not None else (first, after)


def _names_of(basis: Basis) -> tuple[str, ...]:
    """Return the names of what a strength is expressed as, without the unit before them."""
    unit = basis.key.removesuffix(basis.substance)
    return (basis.substance, *(alias.removeprefix(unit) for alias in basis.aliases if alias.startswith(unit)))


def _all_names(species: Species) -> Iterator[str]:
    return (name for basis in species.bases for name in _names_of(basis))


def _meanings(number: Decimal, unit: str, named: Iterable[Basis], species: Species) -> list[_Meaning]:
    """Return what may be meant: narrowed by the unit and by the substance, as far as they were told."""
    of_substance = list(named) or list(species.bases)
    for bases in (of_substance, species.bases):
        told = [_meaning(n, basis, species) for basis in bases for n in _as_unit(number, unit, basis, species)]
        if told:
            return told
    return [_meaning(number, basis, species) for basis in of_substance]


def _as_unit(number: Decimal, unit: str, basis: Basis, species: Species) -> Iterator[Decimal]:
    """Yield the number in a basis, if the unit that was written can be meant as that of the basis."""
    own = basis.key.removesuffix(f" {basis.substance}")
    if unit in _AMOUNTS_OF:
        unit = f"{unit}/L"  # in a litre, which was left out
    if unit == own or (unit, own) == ("M", "mol/L") or (unit in {"%", "% v/v"} and basis.percent):
        yield number
    elif unit == "N" and own == "mol/L":
        yield (number / Decimal(str(species.equivalents))).normalize()
    elif unit == "ppm":
        exact = "mg/kg" in {b.key.partition(" ")[0] for b in species.bases if b.formula == basis.formula}
        if own == "mg/kg" or (own == "% w/w" and not exact):
            yield number if own == "mg/kg" else (number * Decimal("0.0001")).normalize()
        elif own == "g/L":
            yield (number * Decimal("0.001")).normalize()
    elif unit in _SCALED and _SCALED[unit][0] == own:
        yield (number * _SCALED[unit][1]).normalize()


def _meaning(number: Decimal, basis: Basis, species: Species) -> _Meaning:
    reference = species.bases[1]
    value, how = float(number), ""
    mass = basis.entities * molar_mass(basis.formula).value if basis.formula else 1.0
    if basis.per_mass:
        fraction = value / basis.scale
        density, how = _density_shown(fraction, species)
        moles = fraction * density / mass
        whole = species.basis_by_mass
        by_mass = whole.scale * fraction / mass * whole.entities * molar_mass(whole.formula).value
    else:
        moles, by_mass = amount_concentration_of(value, basis, species), 0.0
    grams = moles / amount_concentration_of(1.0, reference, species)
    too_strong = grams > species.ceiling or by_mass > species.ceiling_by_mass
    return _Meaning(number, basis, grams, how, too_strong)


def _density_shown(fraction: float, species: Species) -> tuple[float, str]:
    density = _G_PER_ML * DENSITY_SHOWN
    if species.kind != "hypochlorite":
        try:
            density = table_density_at(species, fraction)
        except (DataError, DomainError):
            return _G_PER_ML, "needs the density"
    return density, f" at {density / _G_PER_ML:.4g} g/mL"


def _ordered(meanings: Iterable[_Meaning], species: Species) -> list[_Meaning]:
    """Return what may be meant, the likeliest first.

    What is stronger than any that is sold comes last. The rest is compared with half of the strongest that is sold:
    within a factor of 4, then within 16 and so on; among those alike, hypochlorite is stated as available chlorine and
    per volume first, acids and alkalis per mass (common practice).
    """
    usual = species.ceiling / 2.0

    def place(meaning: _Meaning) -> tuple[bool, int, bool, bool, bool]:
        away = int(abs(math.log(meaning.grams / usual, 4.0))) if meaning.grams > 0.0 else 0
        basis = meaning.basis
        if species.kind == "hypochlorite":
            return meaning.too_strong, away, basis.formula != "Cl2", basis.per_mass, basis.percent
        return meaning.too_strong, away, not basis.per_mass, bool(basis.formula), basis.percent

    return sorted(meanings, key=place)


def _sold(species: Species) -> str:
    return "liquor" if species.kind == "hypochlorite" else species.name


def _baume(number: Decimal, written: object, argument: str, species: Species) -> BasisError:
    """Return the error for degrees Baumé, which tell a density.

    References
    ----------
    from memory: the American scale at 60 °F, 145/(145 - B) for liquids heavier than water and 140/(130 + B) for
    lighter ones, of which the reagents here have ammonia alone.

    """
    degrees = float(number)
    light = species.kind == "ammonia"
    gravity = 140.0 / (130.0 + degrees) if light else 145.0 / (145.0 - degrees) if degrees < 145.0 else math.nan  # noqa: PLR2004  (the scale's own modulus)
    about = f" (about {gravity:.3g} g/mL)" if math.isfinite(gravity) and gravity > 0.0 else ""
    whole = species.basis_by_mass.key
    return BasisError(
        f"degrees Baumé tell a density{about}, not a strength.",
        argument=argument,
        given=written,
        remedy=f"Look at the label or the certificate for the strength that belongs to it, '… {whole}' or "
        f"'… {species.bases[1].key}', and write that; or leave it out.",
    )
