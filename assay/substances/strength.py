"""A strength that says what it is, as what it is expressed and per what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import TypeAlias

from assay.display.numbers import degrees, measured, plus_minus, significant
from assay.display.rows import Rows, html, latex, text
from assay.errors import BasisError, DomainError, nearest
from assay.flags import Flag
from assay.kernels.strength import mass_concentration_from_amount_concentration, percent_from_mass_concentration
from assay.kernels.weighing import amount_from_mass
from assay.metrology.budget import Budget
from assay.metrology.estimate import Estimate, evaluate
from assay.metrology.saved import Entry
from assay.substances.molar_mass import molar_mass
from assay.substances.species import HYPOCHLORITE, SPECIES, Basis, Species, normal
from assay.units import Parts, kind_of, read, split

StrengthLike: TypeAlias = "Strength | str"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Strength:
    """How strong a reagent is: a measured amount concentration that can be stated in every basis of its species.

    Parameters
    ----------
    species : Species
        What it is.
    estimate : Estimate
        Amount concentration of the species' entity, mol/L.
    facts : mapping of str to str
        What else is known: sample, date, standard, lot, purity, how it was sampled.

    """

    species: Species
    estimate: Estimate
    facts: Mapping[str, str] = field(default_factory=dict)

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self.estimate.label

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data."""
        return self.estimate.flags

    def in_basis(self, key: str) -> Estimate:
        """Return the strength in another basis, with the uncertainty of the molar mass.

        Parameters
        ----------
        key : str
            Such as ``"g/L available chlorine"``; see `bases`.

        Raises
        ------
        BasisError
            If the species has no such basis.

        """
        basis = self.species.basis(key)
        if basis is None:
            raise BasisError(
                f"{self.species.name} is not stated in this basis",
                argument="basis",
                given=key,
                remedy=nearest(key, [b.key for b in self.species.bases]),
            )
        return expressed(self.estimate, basis, label=f"{self.label}, {basis.key}")

    def bases(self) -> dict[str, Estimate]:
        """Return the strength in every basis of its species, by the basis' key."""
        return {basis.key: self.in_basis(basis.key) for basis in self.species.bases}

    def budget(self) -> Budget:
        """Return the uncertainty budget of the amount concentration."""
        return self.estimate.budget()

    def accepting(self, code: str, *, because: str) -> Strength:
        """Return the same strength with a flag accepted by name, the reason recorded."""
        return replace(self, estimate=self.estimate.accepting(code, because=because))

    def entry(self) -> Entry:
        """Return what is saved of it."""
        return Entry(kind="strength", facts={**self.facts, "species": self.species.name}, estimate=self.estimate)

    @classmethod
    def from_entry(cls, entry: Entry) -> Strength:
        """Return a strength from what was saved of it."""
        facts = dict(entry.facts)
        return cls(species=SPECIES[facts.pop("species")], estimate=entry.estimate, facts=facts)

    def rows(self, level: float = 0.95) -> Rows:
        """Return the strength in every basis as rows of text."""
        body = tuple(
            (
                key,
                plus_minus(e.value, e.expanded(level), e.unit),
                significant(e.u),
                f"{e.coverage_factor(level):.2f}",
                degrees(e.dof),
            )
            for key, e in self.bases().items()
        )
        return Rows(
            title=f"{self.label}: strength, U at {100 * level:g} %",
            head=("as", "value ± U", "u", "k", "dof"),
            body=body,
        )

    def __repr__(self) -> str:
        return measured(self.estimate, kind="Strength")

    def __str__(self) -> str:
        return "\n".join([*(f"! {flag}" for flag in self.flags), text(self.rows())])

    def _repr_html_(self) -> str:
        return html(self.rows(), before=tuple(f"! {flag}" for flag in self.flags))

    def _repr_latex_(self) -> str:
        return latex(self.rows(), before=tuple(f"! {flag}" for flag in self.flags))


def expressed(estimate: Estimate, basis: Basis, *, label: str) -> Estimate:
    """Return an amount concentration in a basis of its species."""
    if not basis.formula:
        return estimate
    grams = evaluate(
        mass_concentration_from_amount_concentration,
        name="mass_concentration",
        label=label,
        amount_concentration=estimate,
        molar_mass=molar_mass(basis.formula),
        entities=basis.entities,
    )
    if not basis.percent:
        return grams
    return evaluate(
        percent_from_mass_concentration, name="mass_per_volume_percent", label=label, mass_concentration=grams
    )


def read_strength(written: StrengthLike, *, argument: str, species: Species = HYPOCHLORITE) -> float:
    """Return a written strength, such as one from a label, as mol/L of the species.

    Parameters
    ----------
    written : str or Strength
        ``"12.5 % w/v available chlorine"``, ``"150 g/L available chlorine"``, ``"2.1 mol/L OCl-"``, ``"158 g/L
        NaOCl"``.
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

    Examples
    --------
    >>> round(read_strength("12.5 % w/v available chlorine", argument="label"), 3)
    1.763

    """
    if isinstance(written, Strength):
        return written.estimate.value
    if not isinstance(written, str):
        raise _unclear(Parts(Decimal(str(written)), Decimal(1), ""), written, argument, species)
    parts = split(written, argument=argument, example="'12.5 % w/v available chlorine'")
    basis = species.basis(parts.rest)
    if basis is None:
        raise _unclear(parts, written, argument, species)
    if parts.number <= 0:
        raise DomainError("a strength is above zero", argument=argument, given=written)
    return amount_concentration_of(float(parts.number), basis)


def amount_concentration_of(number: float, basis: Basis) -> float:
    """Return a number in a basis as mol/L of the species."""
    one_mole = expressed(Estimate.exactly(1.0, name="amount_concentration", label="1 mol/L"), basis, label="1 mol/L")
    return number / one_mole.value


#: Above this no hypochlorite liquor is sold: common practice, 150 to 180 g/L fresh; EN 901 covers up to 18 % active
#: chlorine.
CEILING_G_PER_L = 250.0


def _unclear(parts: Parts, written: object, argument: str, species: Species) -> BasisError:
    unit = "%" if parts.rest.startswith("%") else parts.rest
    of_unit = [basis for basis in species.bases if unit and basis.key.startswith(unit)]
    ordered = sorted(of_unit or species.bases, key=lambda basis: not basis.percent)
    number = float(parts.number)
    meanings = [f"{f'{parts.number} {basis.key}'!r} ({_in_grams(number, basis, species)})" for basis in ordered]
    by_mass = ""
    if not of_unit or unit == "%":
        readings = [
            f"{parts.number} % w/w {basis.substance} would be {_in_grams(number * DENSITY_SHOWN, basis, species)}"
            for basis in ordered
            if basis.percent
        ]
        by_mass = (
            f" A per cent by mass (w/w) needs the density and is not read: at {DENSITY_SHOWN:g} g/mL, "
            + ", ".join(readings)
            + "; times the density in g/mL it is a per cent w/v."
        )
    given = f"{parts.rest!r} alone" if parts.rest else "a bare number"
    return BasisError(
        f"{given} does not say as what the strength is expressed and per what.",
        argument=argument,
        given=written,
        remedy=f"Look at the label or the certificate and write which is meant: {', or '.join(meanings)}.{by_mass}",
    )


#: Density at which the message above shows a per cent by mass, g/mL: a usual figure for 12.5 % liquor, common practice.
DENSITY_SHOWN = 1.16


def _in_grams(number: float, basis: Basis, species: Species) -> str:
    reference = next(b for b in species.bases if b.formula and not b.percent)
    grams = _grams(number, basis, reference)
    doubt = ", more than any liquor holds" if grams > CEILING_G_PER_L else ""
    return f"{grams:.4g} {reference.key}{doubt}"


def _grams(number: float, basis: Basis, reference: Basis) -> float:
    moles = amount_concentration_of(number, basis)
    return moles / amount_concentration_of(1.0, reference)


def read_amount(written: str, *, argument: str, species: Species = HYPOCHLORITE) -> Estimate:
    """Return a written amount of a species: ``"0.25 mol OCl-"``, ``"17.7 g available chlorine"`` or ``"12 g NaOCl"``.

    Raises
    ------
    BasisError
        If it is not said of what, or as what.
    UnitError
        If the number or its unit cannot be read.

    Examples
    --------
    >>> round(read_amount("17.725 g available chlorine", argument="deliver").value, 6)
    0.25

    """
    example = f"'0.25 mol {species.entity}' or '17.7 g available chlorine'"
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
        raise DomainError("an amount to deliver is above zero", argument=argument, given=written)
    if not named.formula:
        return Estimate.exactly(value, name="required_amount", label=written)
    return evaluate(
        amount_from_mass,
        name="required_amount",
        label=written,
        mass=value * named.entities,
        purity=1.0,
        molar_mass=molar_mass(named.formula),
    )


def _names(basis: Basis, substance: str) -> bool:
    wanted = normal(substance)
    return bool(wanted) and any(normal(alias).endswith(f"/l{wanted}") for alias in (basis.key, *basis.aliases))
