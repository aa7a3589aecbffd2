"""Strength in every basis: values by hand, round trips, and refusals that say what may have been meant."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import AssayError, BasisError, DomainError, Estimate, Influence, Strength, UnitError, combine
from assay.substances.species import HYPOCHLORITE
from assay.substances.written import read_amount, read_strength

SODIUM, OXYGEN, CHLORINE = (22.98976928, 2e-8), (15.999, 0.001), (35.45, 0.01)  # atomic weight and half-width, 2021
M_CL2 = 2 * CHLORINE[0]
M_NAOCL = SODIUM[0] + OXYGEN[0] + CHLORINE[0]

# What one mol/L OCl- is in each basis, by hand.
PER_MOLE = {
    "mol/L OCl-": 1.0,
    "g/L available chlorine": M_CL2,
    "% w/v available chlorine": M_CL2 / 10.0,
    "g/L NaOCl": M_NAOCL,
    "% w/v NaOCl": M_NAOCL / 10.0,
}
# Relative derivatives of the molar mass of each basis with respect to the weights of Na, O and Cl.
SLOPES = {"": (0.0, 0.0, 0.0), "Cl2": (0.0, 0.0, 2 / M_CL2), "NaOCl": (1 / M_NAOCL, 1 / M_NAOCL, 1 / M_NAOCL)}


def strength(value: float, u: float = 0.0, id_: str = "drum") -> Strength:
    influence = Influence(id=id_, label="drum", value=value, u=u, dof=4.0)
    return Strength(species=HYPOCHLORITE, estimate=Estimate.from_influence(influence, name="amount_concentration"))


# -------------------------------------------------------------------------------------------------------------- bases
def test_every_basis_by_hand() -> None:
    found = strength(2.0, 0.01).bases()
    assert list(found) == list(PER_MOLE)
    for key, per_mole in PER_MOLE.items():
        assert found[key].value == pytest.approx(2.0 * per_mole, rel=1e-13)
    assert [estimate.unit for estimate in found.values()] == ["mol/L", "g/L", "g/(100 mL)", "g/L", "g/(100 mL)"]


def test_the_trade_percent_is_a_tenth_of_the_grams_in_a_litre() -> None:
    assert read_strength("12.5 % w/v available chlorine", argument="label") == pytest.approx(125.0 / M_CL2, rel=1e-13)
    assert read_strength("125 g/L available chlorine", argument="label") == pytest.approx(125.0 / M_CL2, rel=1e-13)
    assert read_strength("158 g/L NaOCl", argument="label") == pytest.approx(158.0 / M_NAOCL, rel=1e-13)
    assert read_strength("2.1 mol/L OCl-", argument="label") == 2.1
    assert read_strength(strength(2.1), argument="label") == 2.1


@pytest.mark.parametrize(("first", "second"), list(itertools.permutations(PER_MOLE, 2)))
@given(st.floats(1e-6, 1e3))
def test_every_ordered_pair_of_bases_makes_the_round_trip(first: str, second: str, number: float) -> None:
    there = strength(read_strength(f"{number!r} {first}", argument="label")).in_basis(second).value
    assert there == pytest.approx(number * PER_MOLE[second] / PER_MOLE[first], rel=1e-12)
    back = strength(read_strength(f"{there!r} {second}", argument="label")).in_basis(first).value
    assert back == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(("first", "second"), list(itertools.product(PER_MOLE, repeat=2)))
def test_the_ratio_of_two_bases_knows_only_the_molar_masses(first: str, second: str) -> None:
    """The strength's own u, here 5 %, is gone; of the atomic weights what does not cancel is left."""
    drum = strength(2.0, 0.1)
    ratio = combine(lambda a, b: a / b, drum.in_basis(first), drum.in_basis(second))
    slopes = [SLOPES[HYPOCHLORITE.basis(key).formula] for key in (first, second)]
    by_hand = math.sqrt(
        sum(((a - b) * weight[1]) ** 2 / 3.0 for a, b, weight in zip(*slopes, (SODIUM, OXYGEN, CHLORINE), strict=True))
    )
    assert ratio.relative_u == pytest.approx(by_hand, rel=1e-9, abs=1e-16)
    assert ratio.relative_u < 3e-4


def test_u_in_grams_adds_that_of_the_molar_mass() -> None:
    grams = strength(2.0, 0.002).in_basis("g/L available chlorine")
    assert grams.relative_u == pytest.approx(math.hypot(0.001, 2 * 0.01 / math.sqrt(3.0) / M_CL2), rel=1e-10)


def test_an_unknown_basis_is_refused_with_the_nearest() -> None:
    with pytest.raises(BasisError, match="g/L chlorine") as caught:
        strength(2.0).in_basis("g/L chlorine")
    assert "'g/L available chlorine'" in caught.value.remedy


# ------------------------------------------------------------------------------------- what does not say what it means
def test_a_bare_percent_lists_the_choices_with_the_grams_in_a_litre() -> None:
    """12.5 % w/v as Cl2 is 125 g/L, as NaOCl 125 × 70.90/74.439 = 119.1; by mass at 1.16 g/mL 145 and 138.1."""
    with pytest.raises(BasisError, match="does not say as what") as caught:
        read_strength("12.5 %", argument="label")
    remedy = caught.value.remedy
    assert "'12.5 % w/v available chlorine' (125 g/L available chlorine)" in remedy
    assert "'12.5 % w/v NaOCl' (119.1 g/L available chlorine)" in remedy
    assert "'12.5 % w/w available chlorine' (145 g/L available chlorine at 1.16 g/mL)" in remedy
    assert "'12.5 % w/w NaOCl' (138.1 g/L available chlorine at 1.16 g/mL)" in remedy
    assert "1.16 g/mL" in remedy
    assert "g/L NaOCl'" not in remedy  # a per cent is not a number of grams


@pytest.mark.parametrize("written", ["12.5", 12.5, " 12.5 "])
def test_a_bare_number_lists_every_basis(written: object) -> None:
    """12.5 as mol/L would be 12.5 × 70.90 = 886.3 g/L, as g/L NaOCl 11.91 g/L available chlorine."""
    with pytest.raises(BasisError, match="a bare number does not say") as caught:
        read_strength(written, argument="label")
    for key in PER_MOLE:
        assert f"'12.5 {key}'" in caught.value.remedy
    for grams in ["125 g/L", "119.1 g/L", "145 g/L", "138.1 g/L", "886.3 g/L", "12.5 g/L", "11.91 g/L"]:
        assert f"{grams} available chlorine" in caught.value.remedy
    assert "more than any liquor holds" in caught.value.remedy


def test_grams_a_litre_of_nothing_list_what_they_may_be_of() -> None:
    with pytest.raises(BasisError, match="'g/L' alone") as caught:
        read_strength("150 g/L", argument="label")
    assert "'150 g/L available chlorine' (150 g/L" in caught.value.remedy
    assert "'150 g/L NaOCl' (142.9 g/L" in caught.value.remedy  # 150 × 70.90/74.439
    assert "%" not in caught.value.remedy


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: read_strength("12.5 % w/w", argument="label"),
            BasisError,
            ["12.5 % w/w", "g/mL"],
        ),
        (lambda: read_strength("12.5 percent", argument="label"), BasisError, ["12.5 percent", "w/v"]),
        (lambda: read_strength("500 ppm", argument="label"), BasisError, ["500 ppm", "available chlorine"]),
        (lambda: read_strength("0.1 N", argument="label"), BasisError, ["equivalents", "'0.05 mol/L OCl-'"]),
        (lambda: read_strength("0.1 M", argument="label"), BasisError, ["0.1 M", "'0.1 mol/L OCl-'"]),
        (lambda: read_strength("2 mol/L", argument="label"), BasisError, ["2 mol/L", "'2 mol/L OCl-'"]),
        (lambda: read_strength("12,5 % w/v NaOCl", argument="label"), UnitError, ["comma", "'12.5 % w/v NaOCl'"]),
        (lambda: read_strength("nan g/L NaOCl", argument="label"), UnitError, ["NaN"]),
        (lambda: read_strength("-1 g/L NaOCl", argument="label"), DomainError, ["-1 g/L NaOCl", "above zero"]),
        (lambda: read_strength("strong", argument="label"), UnitError, ["strong", "no number", "available chlorine"]),
        (lambda: read_strength("12 ± 1 g/L NaOCl", argument="label"), UnitError, ["±", "own argument"]),
        (lambda: read_amount("0.25", argument="deliver"), BasisError, ["0.25", "'0.25 mol OCl-'"]),
        (lambda: read_amount("0.25 mol", argument="deliver"), BasisError, ["0.25 mol", "'available chlorine'"]),
        (lambda: read_amount("17 g", argument="deliver"), BasisError, ["17 g", "'NaOCl'"]),
        (
            lambda: read_amount("17 mol available chlorine", argument="deliver"),
            BasisError,
            ["17 mol available chlorine"],
        ),
        (lambda: read_amount("17 mL OCl-", argument="deliver"), BasisError, ["17 mL OCl-", "'0.25 mol OCl-'"]),
        (lambda: read_amount("-0.2 mol OCl-", argument="deliver"), DomainError, ["-0.2 mol OCl-", "above zero"]),
        (lambda: read_amount("0 g NaOCl", argument="deliver"), DomainError, ["0 g NaOCl", "above zero"]),
        (lambda: read_amount("0,25 mol OCl-", argument="deliver"), UnitError, ["0,25 mol OCl-", "'0.25 mol OCl-'"]),
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


# ------------------------------------------------------------------------------------------------------------- amounts
@pytest.mark.parametrize(
    ("written", "moles"),
    [
        ("0.25 mol OCl-", 0.25),
        ("250 mmol OCl⁻", 0.25),
        ("250 mmol NaOCl", 0.25),
        ("17.725 g available chlorine", 17.725 / M_CL2),
        ("17.725 g Cl2", 17.725 / M_CL2),
        ("1.2 kg available chlorine", 1200.0 / M_CL2),
        ("500 mg NaOCl", 0.5 / M_NAOCL),
    ],
)
def test_an_amount_says_of_what(written: str, moles: float) -> None:
    found = read_amount(written, argument="deliver")
    assert found.value == pytest.approx(moles, rel=1e-13)
    assert (found.label, found.unit) == (written, "mol")


def test_an_amount_by_mass_has_the_uncertainty_of_the_molar_mass() -> None:
    assert read_amount("17.725 g available chlorine", argument="deliver").relative_u == pytest.approx(
        2 * 0.01 / math.sqrt(3.0) / M_CL2, rel=1e-10
    )
    assert read_amount("0.25 mol OCl-", argument="deliver").u == 0.0


# ------------------------------------------------------------------------------------------------------------- display
def test_rows_show_every_basis_with_k_and_degrees_of_freedom() -> None:
    text = str(strength(2.0, 0.1))  # 5 %: beside it the molar masses add nothing to the degrees of freedom
    for key in PER_MOLE:
        assert key in text
    assert text.count("2.78") == len(PER_MOLE)  # t at 95 % and 4 degrees of freedom
