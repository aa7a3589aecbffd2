"""Limits of a strength: read in a named basis, the same in whatever basis they are written."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import AssayError, BasisError, DataError, UnitError
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.substances.species import HYPOCHLORITE
from assay.substances.strength import Strength


def strength(value: float = 1.5, u: float = 0.02, dof: float = math.inf) -> Strength:
    influence = Influence(id="s", label="drum", value=value, u=u, dof=dof)
    return Strength(species=HYPOCHLORITE, estimate=Estimate.from_influence(influence, name="amount_concentration"))


@given(grams=st.floats(80.0, 130.0), u=st.floats(0.005, 0.1), dof=st.sampled_from([2.0, 12.0, math.inf]))
def test_a_limit_is_the_same_in_every_basis_of_one_substance(grams: float, u: float, dof: float) -> None:
    of = strength(u=u, dof=dof)
    by_volume = of.probability_below(f"{grams!r} g/L available chlorine")
    assert of.probability_below(f"{grams / 10.0!r} % w/v available chlorine") == pytest.approx(by_volume, rel=1e-9)
    assert of.probability_above(f"{grams!r} g/L Cl2") == pytest.approx(1.0 - by_volume, abs=1e-12)
    estimate = of.in_basis("g/L available chlorine")
    assert estimate.probability_below(f"{grams!r} g/L") == by_volume


def test_amount_and_mass_meet_at_the_molar_mass() -> None:
    # 2 x 35.45 g/mol of chlorine: 1.5 mol/L of hypochlorite is 106.35 g/L.
    assert strength().probability_below("106.35 g/L available chlorine") == pytest.approx(0.5, abs=0.01)


def test_a_strength_is_fit_unfit_or_undecided() -> None:
    decided = [
        strength(value).conformity(lower="100 g/L available chlorine", guard_band="4 g/L available chlorine").decision
        for value in (1.3, 1.4, 1.5)  # 92.2, 99.3 and 106.4 g/L
    ]
    assert decided == ["unfit", "undecided", "fit"]
    found = strength().conformity(lower="10 % w/v available chlorine", upper="12 % w/v available chlorine", risk=0.01)
    assert found.unit == "g/(100 mL)"
    assert found.specification == (10.0, 12.0)
    assert found.label == "drum, % w/v available chlorine"


@pytest.mark.parametrize(
    ("limits", "error", "told"),
    [
        ({}, DataError, "no specification limit"),
        ({"guard_band": "1 g/L NaOCl"}, DataError, "no specification limit"),
        ({"lower": "100 g/L"}, BasisError, "'g/L' alone does not say"),
        ({"lower": "10"}, BasisError, "a bare number does not say"),
        ({"lower": "10 %"}, BasisError, "'10 % w/v available chlorine'"),
        ({"lower": 10.0}, BasisError, "with its basis"),
        ({"lower": "10,5 g/L NaOCl"}, UnitError, "decimal comma"),
        ({"lower": "8 % w/w available chlorine"}, BasisError, "density"),
        ({"lower": "9 % w/v NaOCl", "upper": "150 g/L available chlorine"}, BasisError, "different bases"),
    ],
)
def test_a_limit_that_says_too_little_is_refused(limits: dict[str, object], error: type[AssayError], told: str) -> None:
    with pytest.raises(error) as refused:
        strength().conformity(**limits)
    assert told in str(refused.value)
