"""A strength that says what it is, as what it is expressed and per what."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import partial
from types import MappingProxyType
from typing import TypeVar

from assay.display.numbers import degrees, measured, plus_minus, significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import BasisError, BlockedResultError, DataError
from assay.flags import Flag, accept, merged
from assay.kernels.density import amount_concentration_from_amount_content, amount_content_from_amount_concentration
from assay.kernels.strength import (
    inner_value_from_stated_value,
    mass_concentration_from_amount_concentration,
    mass_fraction_from_amount_content,
    stated_value_from_value,
)
from assay.metrology.batch import evaluate_like
from assay.metrology.budget import Budget
from assay.metrology.conformity import Conformity
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.substances.chain import Link, parts_of, taken_from
from assay.substances.density import Density
from assay.substances.density_tables import assumed_hypochlorite_density, density_at_20, density_table
from assay.substances.limits import in_basis_of
from assay.substances.molar_mass import molar_mass
from assay.substances.species import SPECIES, Basis, Species, names_sodium_hypochlorite
from assay.substances.stated import read_stated

#: Flag of a strength whose source is not sodium hypochlorite, so that NaOCl is only a way of counting.
NOT_SODIUM = "expressed-as-sodium-hypochlorite"
ASSUMED_DENSITY = "assumed-density"
_Measured = TypeVar("_Measured", Estimate, EstimateBatch)

#: Glossary name of a value in each kind of basis.
_NAMES = {
    "mol/L": "amount_concentration",
    "g/L": "mass_concentration",
    "g/(100 mL)": "mass_per_volume_percent",
    "g/(100 g)": "mass_percent",
    "mg/kg": "mass_parts",
}


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Strength:
    """How strong a reagent is: a measured amount that can be stated in every basis of its species.

    Parameters
    ----------
    species : Species
        What it is.
    estimate : Estimate
        Amount of the species' entity per volume, mol/L, or per mass, mol/g.
    facts : mapping of str to str
        What else is known: sample, date, standard, lot, purity, how it was sampled.
    density : Density or None
        Density of the sample, which stands between per mass and per volume.
    chain : tuple of Link
        The titrants through which it leads back to a primary standard, the one against that standard first.

    References
    ----------
    common practice for the bases; [jcgm-100-2008] 5.2.2: what two bases share stays correlated.

    Examples
    --------
    >>> import assay
    >>> drum = assay.run_demo("drum").strengths["drum 7"]
    >>> drum.in_basis("% w/v available chlorine")
    <Estimate '2026-11-16 drum 7, % w/v available chlorine': [titres-set-aside] 11.066 g/(100 mL), u = 0.045
    g/(100 mL), dof = 45.7>

    """

    species: Species
    estimate: Estimate
    facts: Mapping[str, str] = field(default_factory=dict)
    density: Density | None = None
    chain: tuple[Link, ...] = ()

    def __post_init__(self) -> None:
        """Close the mapping."""
        object.__setattr__(self, "facts", MappingProxyType(dict(self.facts)))

    def __reduce__(self) -> tuple[Callable[[], Strength], tuple[()]]:
        """Pickle it from its parts: a closed mapping cannot be pickled."""
        parts = {one.name: getattr(self, one.name) for one in fields(self)}
        return partial(Strength, **{**parts, "facts": dict(self.facts)}), ()

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self.estimate.label

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data, and about the density beside it."""
        return self.estimate.flags if self.density is None else merged([self.estimate.flags, self.density.flags])

    @property
    def per_mass(self) -> bool:
        """Whether it was measured per mass of sample."""
        return self.estimate.name == "amount_content"

    def in_basis(self, key: str) -> Estimate:
        """Return the strength in another basis, with the uncertainty of the molar mass and of a density that is used.

        Parameters
        ----------
        key : str
            Such as ``"g/L available chlorine"``; see `bases`.

        Raises
        ------
        BasisError
            If the species has no such basis, or a density is needed and not known.
        BlockedResultError
            If it is to be stated as NaOCl and comes from another source, unless that was accepted by name.

        """
        basis = self.species.stated_in(key)
        refuse_as_sodium(self.flags, key, argument="basis")
        return expressed(self._inner(per_mass=basis.per_mass), basis, label=f"{self.label}, {basis.key}")

    def bases(self) -> dict[str, Estimate]:
        """Return the strength in every basis that can be stated, by the basis' key."""
        return {
            basis.key: self.in_basis(basis.key)
            for basis in self.species.bases
            if self._may_be(basis) and (basis.per_mass == self.per_mass or self.density is not None)
        }

    def _may_be(self, basis: Basis) -> bool:
        return not names_sodium_hypochlorite(basis.key) or _refusing(self.flags) is None

    def _inner(self, *, per_mass: bool) -> Estimate:
        if per_mass == self.per_mass:
            return self.estimate
        if self.density is None:
            needed = "per mass" if per_mass else "per volume"
            first = "Weigh the sample instead of pipetting it, give" if per_mass else "Give"
            raise BasisError(
                f"a strength {needed} needs the density of the sample",
                argument="density",
                remedy=f"{first} a measured density (with_density), or let one be assumed from a table and shown as "
                "assumed (assuming_density); on a bench sheet density = { … } in the table of the assay.",
            )
        if per_mass:
            return evaluate(
                amount_content_from_amount_concentration, name="amount_content", label=self.label,
                amount_concentration=self.estimate, density=self.density.estimate,
            )  # fmt: skip
        return evaluate(
            amount_concentration_from_amount_content, name="amount_concentration", label=self.label,
            amount_content=self.estimate, density=self.density.estimate,
        )  # fmt: skip

    def per_volume(self) -> Strength:
        """Return the strength per volume, by which a volume is dosed.

        Raises
        ------
        BasisError
            If it was measured per mass and no density is known.

        """
        return replace(self, estimate=self._inner(per_mass=False))

    def with_density(self, density: Density) -> Strength:
        """Return the strength with a density, so that it can be stated per mass and per volume.

        It takes the place of one that was there before, with its flag. A density measured at another temperature is
        brought to 20 °C where the tables have the expansion of the reagent, and flagged otherwise.

        """
        known = density_at_20(density, self.species)
        if density.assumed:
            better = "measure it, to state a strength per volume"
            better = better if self.per_mass else "weigh the sample, which needs none"
            message = f"the density is {density.how}; for a surer figure, {better}."
            known = known.flagged(Flag(code=ASSUMED_DENSITY, message=message))
        return replace(self, density=known)

    def assuming_density(self, *, filled: Strength | str | None = None) -> Strength:
        """Return the strength with a density assumed from a sourced table, and flagged as assumed.

        Parameters
        ----------
        filled : str or Strength, optional
            Strength of a hypochlorite when its container was filled, such as ``"150 g/L available chlorine"``. Unknown,
            it lies between today's and the label's.

        Raises
        ------
        BasisError
            If the strength when filled does not say its basis, or today's was measured per mass.
        BlockedResultError
            If the strength when filled is as NaOCl and the source is another, unless that was accepted by name.
        DataError
            If there is no table, or neither the strength when filled nor that of the label is known, or one when filled
            is given of a reagent that is not hypochlorite.
        DomainError
            If no liquor is so strong, or it was filled with less than it holds today.

        """
        if self.species.kind != "hypochlorite":
            if filled is not None:
                raise DataError(
                    "only hypochlorite keeps the salt of what it lost; the density of "
                    f"{self.species.name} follows from today's strength",
                    argument="filled",
                    given=filled,
                    remedy="Leave it out.",
                )
            return self.with_density(density_table(self.species, self.estimate))
        if self.per_mass:
            raise BasisError(
                "the density of hypochlorite is assumed from a strength per volume; this one was measured per mass",
                argument="density",
                remedy="Measure the density, by weighing a pipetted volume for example.",
            )
        chlorine = molar_mass("Cl2").value
        stated = self.facts.get("label strength")
        return self.with_density(
            assumed_hypochlorite_density(
                self.estimate,
                filled=None if filled is None else self._filled(filled) * chlorine,
                label=None if stated is None else float(stated) * chlorine,
            )
        )

    def _filled(self, filled: Strength | str) -> float:
        if isinstance(filled, Strength):
            return filled.per_volume().estimate.value
        refuse_as_sodium(self.flags, filled, argument="filled")
        return read_stated(filled, argument="filled", species=self.species)

    def budget(self) -> Budget:
        """Return the uncertainty budget of the amount per volume or per mass that was measured."""
        return self.estimate.budget()

    def probability_below(self, limit: str) -> float:
        """Return the probability that the true strength is below a limit such as ``"80 g/L available chlorine"``."""
        estimate, limits = in_basis_of(self, limit=limit)
        return estimate.probability_below(str(limits["limit"]))

    def probability_above(self, limit: str) -> float:
        """Return the probability that the true strength is above a limit; see `probability_below`."""
        estimate, limits = in_basis_of(self, limit=limit)
        return estimate.probability_above(str(limits["limit"]))

    def conformity(
        self,
        *,
        lower: str | None = None,
        upper: str | None = None,
        risk: float | None = None,
        guard_factor: float | None = None,
        guard_band: str | None = None,
        level: float = 0.95,
    ) -> Conformity:
        """Return whether the strength is fit, unfit or undecided by specification limits in a named basis.

        Parameters
        ----------
        lower, upper : str, optional
            The specification limits with their basis, both in the same: ``"8 % w/v available chlorine"``.
        risk, guard_factor, guard_band, level
            The decision rule; see `Estimate.conformity`. The width of a guard band is written in the same basis.

        Raises
        ------
        BasisError
            If a limit does not say its basis, or two are in different ones.
        AssayError
            Otherwise as for `Estimate.conformity`.

        """
        estimate, limits = in_basis_of(self, lower=lower, upper=upper, guard_band=guard_band)
        return estimate.conformity(**limits, risk=risk, guard_factor=guard_factor, level=level)

    def accepting(self, code: str, *, because: str) -> Strength:
        """Return the same strength with a flag accepted by name, the reason recorded."""
        accept(self.flags, code, because=because)  # of both together, so that a misspelt name is offered all there are
        accepted = self
        if code in {flag.code for flag in self.estimate.flags}:
            accepted = replace(accepted, estimate=self.estimate.accepting(code, because=because))
        if self.density is not None and code in {flag.code for flag in self.density.flags}:
            accepted = replace(accepted, density=self.density.accepting(code, because=because))
        return accepted

    def entry(self) -> Entry:
        """Return what is saved of it."""
        before, parts = parts_of(self.chain)
        facts = {**self.facts, **before, "species": self.species.name}
        if self.density is not None:
            facts |= {"density": self.density.how, "density assumed": str(self.density.assumed)}
            parts |= {"density": self.density.estimate}
        return Entry(kind="strength", facts=facts, estimate=self.estimate, parts=parts)

    @classmethod
    def from_entry(cls, entry: Entry) -> Strength:
        """Return a strength from what was saved of it."""
        facts = dict(entry.facts)
        species = SPECIES[facts.pop("species")]
        chain = taken_from(facts, entry.parts)
        density = None
        if "density" in entry.parts:
            how, assumed = facts.pop("density"), facts.pop("density assumed") == "True"
            density = Density(estimate=entry.parts["density"], how=how, assumed=assumed)
        return cls(species=species, estimate=entry.estimate, facts=facts, density=density, chain=chain)

    @classmethod
    def from_basis(cls, stated: Estimate, key: str, *, species: Species, density: Density | None = None) -> Strength:
        """Return the strength that is stated by an estimate in one of the bases of a species.

        Parameters
        ----------
        stated : Estimate
            The value, in the unit of the basis.
        key : str
            The basis, such as ``"% w/w HCl"``.
        species : Species
            What it is of.
        density : Density, optional
            Density of the sample.

        Raises
        ------
        BasisError
            If the species has no such basis.

        """
        basis = species.stated_in(key)
        name = "amount_content" if basis.per_mass else "amount_concentration"
        estimate = stated
        if basis.formula:
            estimate = evaluate(
                inner_value_from_stated_value, name=name, label=stated.label, value=stated,
                scale=basis.scale, molar_mass=molar_mass(basis.formula), entities=basis.entities,
            )  # fmt: skip
        return cls(species=species, estimate=replace(estimate, name=name), density=density)

    def rows(self, level: float = 0.95) -> Rows:
        """Return the strength in every basis that can be stated as rows of text."""
        body = tuple(
            (
                key,
                plus_minus(e.value, e.expanded(level), e.unit),
                significant(e.u),
                f"{e.coverage_factor(level):.2f}",
                degrees(e.coverage_dof),
            )
            for key, e in self.bases().items()
        )
        return Rows(
            title=f"{self.label}: strength, U at {100 * level:g} %",
            head=("as", "value ± U", "u", "k", "dof"),
            body=body,
        )

    def __repr__(self) -> str:
        return measured(self.estimate.flagged(*self.flags), kind="Strength")


def expressed(estimate: _Measured, basis: Basis, *, label: str) -> _Measured:
    """Return an amount per volume, or per mass for a basis by mass, or a batch of them, in a basis of its species."""
    if not basis.formula:
        return estimate
    if basis.per_mass:
        inner = evaluate_like(
            estimate, mass_fraction_from_amount_content, "amount_content", name="mass_fraction", label=label,
            molar_mass=molar_mass(basis.formula), entities=basis.entities,
        )  # fmt: skip
    else:
        inner = evaluate_like(
            estimate, mass_concentration_from_amount_concentration, "amount_concentration",
            name="mass_concentration", label=label, molar_mass=molar_mass(basis.formula), entities=basis.entities,
        )  # fmt: skip
    if basis.scale == 1.0:
        return inner
    return evaluate_like(
        inner, stated_value_from_value, "value", name=_NAMES[basis.unit], label=label, scale=basis.scale
    )


def refuse_as_sodium(flags: tuple[Flag, ...], written: object, *, argument: str) -> None:
    """Refuse what is written as NaOCl beside a strength of another source, unless that was accepted by name.

    Parameters
    ----------
    flags : tuple of Flag
        Those of the strength.
    written : object
        A basis, an amount or a strength as it is written; anything else than a text says nothing of NaOCl.
    argument : str
        Name of the argument, for messages.

    Raises
    ------
    BlockedResultError
        If it names NaOCl, which is not there.

    """
    flag = _refusing(flags)
    if flag is None or not isinstance(written, str) or not names_sodium_hypochlorite(written):
        return
    raise BlockedResultError(
        f"as NaOCl it would name what is not there: {flag.message.partition(':')[0]}.",
        argument=argument,
        given=written,
        remedy=f"Use available chlorine, or accept it by name: .accepting({NOT_SODIUM!r}, because='…') on the "
        f'strength, on a bench sheet accept = {{ {NOT_SODIUM} = "…" }} in the table of the assay.',
    )


def _refusing(flags: tuple[Flag, ...]) -> Flag | None:
    return next((flag for flag in flags if flag.code == NOT_SODIUM and not flag.accepted), None)
