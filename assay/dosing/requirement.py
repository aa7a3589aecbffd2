"""What a dose is to deliver."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TypeAlias

from assay.errors import DomainError, UnitError
from assay.kernels.dosing import required_amount_from_equivalents
from assay.kernels.weighing import amount_from_mass
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.substances.molar_mass import molar_mass
from assay.substances.species import Species
from assay.substances.written import read_amount
from assay.units import read


@dataclass(frozen=True, slots=True)
class Equivalents:
    """A number of molar equivalents of another reagent.

    Parameters
    ----------
    number : float
        Moles to deliver for each mole of the other reagent, above zero.
    of : str or Estimate
        How much of it there is: ``"0.100 mol"``, or a mass such as ``"12.5 g"`` with its formula.
    formula : str, optional
        Formula of the other reagent, for a mass.

    References
    ----------
    common practice: a reagent is asked for in equivalents of another.

    Examples
    --------
    >>> Equivalents(1.2, of="0.100 mol").amount().value
    0.12

    """

    number: float
    of: str | Estimate
    formula: str | None = None

    def amount(self) -> Estimate:
        """Return the amount to deliver, mol.

        Raises
        ------
        DomainError
            If the number is not finite and above zero.
        UnitError
            If the amount of the other reagent is no amount, or a mass without a formula.

        """
        number = float(self.number)
        if not (isfinite(number) and number > 0.0):
            raise DomainError("a number of equivalents is above zero", argument="number", given=self.number)
        return evaluate(
            required_amount_from_equivalents,
            name="required_amount",
            label=str(self),
            reagent_amount=self._reagent(),
            equivalents=number,
        )

    def _reagent(self) -> Estimate | float:
        if isinstance(self.of, Estimate):
            return _amount(self.of, argument="of")
        if self.formula is None:
            try:
                amount = read(self.of, "amount", argument="of")
            except UnitError as error:
                hint = "For a mass, give the formula of that reagent as well: formula='C6H12O'."
                raise UnitError(error.problem, argument="of", given=self.of, remedy=hint) from None
            if amount <= 0.0:
                raise DomainError("an amount to meet is above zero", argument="of", given=self.of)
            return amount
        return evaluate(
            amount_from_mass,
            name="reagent_amount",
            label=f"{self.of} of {self.formula}",
            mass=read(self.of, "mass", argument="of"),
            purity=1.0,
            molar_mass=molar_mass(self.formula),
        )

    def __str__(self) -> str:
        of = self.of.label if isinstance(self.of, Estimate) else self.of
        return f"{self.number:g} equivalents of {of}{'' if self.formula is None else f' {self.formula}'}"


def _amount(estimate: Estimate, *, argument: str) -> Estimate:
    if estimate.unit != "mol":
        raise UnitError(
            f"{estimate.label} is in {estimate.unit}, not in mol",
            argument=argument,
            given=estimate.value,
            expected="an amount of substance",
            remedy="Divide a mass by a molar mass: combine(lambda m, molar: m / molar, …, unit='mol').",
        )
    if estimate.value <= 0.0:
        raise DomainError("an amount to deliver is above zero", argument=argument, given=estimate.value)
    return estimate


Deliverable: TypeAlias = "str | Equivalents | Estimate"


def required_amount(deliver: Deliverable, *, argument: str, species: Species) -> Estimate:
    """Return what is to be delivered as an amount of the species, mol."""
    if isinstance(deliver, Equivalents):
        return deliver.amount()
    if isinstance(deliver, Estimate):
        return _amount(deliver, argument=argument)
    return read_amount(deliver, argument=argument, species=species)
