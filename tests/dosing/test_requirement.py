"""What a dose is to deliver: amounts, masses, and equivalents of another reagent."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from assay import AssayError, BasisError, DataError, DomainError, Equivalents, Estimate, Influence, UnitError
from assay.dosing.requirement import Deliverable, required_amount
from assay.substances.species import HYPOCHLORITE

# Glucose by hand, g/mol, with half-widths C 0.002, H 0.0002, O 0.001.
M_GLUCOSE = 6 * 12.011 + 12 * 1.0080 + 6 * 15.999
U_GLUCOSE = math.sqrt(((6 * 0.002) ** 2 + (12 * 0.0002) ** 2 + (6 * 0.001) ** 2) / 3.0)


def amount(deliver: Deliverable) -> Estimate:
    return required_amount(deliver, argument="deliver", species=HYPOCHLORITE)


def measured(value: float, name: str = "required_amount") -> Estimate:
    return Estimate.from_influence(Influence(id="need", label="need", value=value, u=0.01 * abs(value)), name=name)


def test_equivalents_of_an_amount() -> None:
    found = amount(Equivalents(1.2, of="0.100 mol"))
    assert found.value == pytest.approx(0.12, rel=1e-14)
    assert (found.u, found.unit) == (0.0, "mol")
    assert amount(Equivalents(0.5, of="12.5 mmol")).value == pytest.approx(0.00625, rel=1e-14)


def test_equivalents_of_a_mass_with_its_formula() -> None:
    found = amount(Equivalents(1.2, of="12.5 g", formula="C6H12O6"))
    assert found.value == pytest.approx(1.2 * 12.5 / M_GLUCOSE, rel=1e-13)
    assert found.relative_u == pytest.approx(U_GLUCOSE / M_GLUCOSE, rel=1e-10)
    assert found.label == "1.2 equivalents of 12.5 g C6H12O6"


def test_equivalents_of_a_measured_amount() -> None:
    found = amount(Equivalents(2, of=measured(0.1)))
    assert found.value == pytest.approx(0.2, rel=1e-14)
    assert found.relative_u == pytest.approx(0.01, rel=1e-12)


def test_a_measured_amount_is_taken_as_it_is() -> None:
    need = measured(0.25)
    assert amount(need) is need


def test_text_is_read_with_its_basis() -> None:
    assert amount("17.725 g available chlorine").value == pytest.approx(17.725 / 70.90, rel=1e-13)


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: amount("0.25"), BasisError, ["0.25", "'0.25 mol OCl-'"]),
        (lambda: amount(0.25), BasisError, ["0.25", "'0.25 mol OCl-'"]),
        (lambda: amount("12.5 %"), BasisError, ["12.5 %", "available chlorine"]),
        (lambda: amount("0.25 L available chlorine"), BasisError, ["0.25 L", "an amount or a mass"]),
        (lambda: amount("0,25 mol OCl-"), UnitError, ["0,25", "'0.25 mol OCl-'"]),
        (lambda: amount("nan mol OCl-"), UnitError, ["nan mol", "NaN"]),
        (lambda: amount("-0.25 mol OCl-"), DomainError, ["-0.25 mol OCl-", "above zero"]),
        (lambda: amount(Equivalents(0, of="0.1 mol")), DomainError, ["number", "above zero"]),
        (lambda: amount(Equivalents(-1, of="0.1 mol")), DomainError, ["-1", "above zero"]),
        (lambda: amount(Equivalents(math.nan, of="0.1 mol")), DomainError, ["nan", "above zero"]),
        (lambda: amount(Equivalents(math.inf, of="0.1 mol")), DomainError, ["inf", "above zero"]),
        (lambda: amount(Equivalents(1, of="12.5 g")), UnitError, ["12.5 g", "formula="]),
        (lambda: amount(Equivalents(1, of="0.1")), UnitError, ["'0.1'"]),
        (lambda: amount(Equivalents(1, of="-0.1 mol")), DomainError, ["-0.1"]),
        (lambda: amount(Equivalents(1, of="0 mol")), DomainError, ["0"]),
        (lambda: amount(Equivalents(1, of="0.1 mol", formula="NaCl")), UnitError, ["0.1 mol", "not a unit of mass"]),
        (lambda: amount(Equivalents(1, of="1 g", formula="NaTcO4")), DataError, ["technetium"]),
        (lambda: amount(Equivalents(1, of="1 g", formula="Xx")), DomainError, ["'Xx'"]),
        (lambda: amount(measured(17.7, "mass")), UnitError, ["17.7", "mol"]),
        (lambda: amount(Equivalents(1, of=measured(17.7, "mass"))), UnitError, ["17.7", "mol"]),
        (lambda: amount(measured(-0.25)), DomainError, ["-0.25", "above zero"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)
