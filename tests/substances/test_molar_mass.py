"""Molar masses: sums done by hand, and what fully correlated atoms do to their uncertainty."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import DataError, combine, molar_mass

# Abridged standard atomic weights of 2021 as printed, with the quoted uncertainty.
WEIGHTS = {
    "H": (1.0080, 0.0002), "C": (12.011, 0.002), "N": (14.007, 0.001), "O": (15.999, 0.001), "Na": (22.98976928, 2e-8),
    "S": (32.06, 0.02), "Cl": (35.45, 0.01), "K": (39.0983, 0.0001), "Ca": (40.078, 0.004), "Fe": (55.845, 0.002),
    "Cu": (63.546, 0.003), "I": (126.90447, 0.00003),
}  # fmt: skip

# Formula, atoms counted by hand, sum done by hand to the last digit of the least known weight.
BY_HAND = [
    ("KIO3", {"K": 1, "I": 1, "O": 3}, "213.99977"),
    ("NaOCl", {"Na": 1, "O": 1, "Cl": 1}, "74.43877"),
    ("Cl2", {"Cl": 2}, "70.900"),
    ("Na2S2O3·5H2O", {"Na": 2, "S": 2, "O": 8, "H": 10}, "248.17154"),
    ("Na2S2O3.5H2O", {"Na": 2, "S": 2, "O": 8, "H": 10}, "248.17154"),
    ("CuSO4*5H2O", {"Cu": 1, "S": 1, "O": 9, "H": 10}, "249.677"),
    ("Ca(OCl)2", {"Ca": 1, "O": 2, "Cl": 2}, "142.976"),
    ("K4[Fe(CN)6]·3H2O", {"K": 4, "Fe": 1, "C": 6, "N": 6, "H": 6, "O": 3}, "422.3912"),
    ("(NH4)2Fe(SO4)2·6H2O", {"N": 2, "H": 20, "Fe": 1, "S": 2, "O": 14}, "392.125"),
    ("C8H5KO4", {"C": 8, "H": 5, "K": 1, "O": 4}, "204.2223"),
    ("I2", {"I": 2}, "253.80894"),
    ("Fe(SO4(NH4)2)·6H2O", {"Fe": 1, "S": 1, "O": 10, "N": 2, "H": 20}, "296.069"),
]


@pytest.mark.parametrize(("formula", "atoms", "printed"), BY_HAND)
def test_value_and_u_by_hand(formula: str, atoms: dict[str, int], printed: str) -> None:
    found = molar_mass(formula)
    half_a_digit = 0.5 * 10.0 ** -len(printed.split(".")[1])
    assert found.value == pytest.approx(float(printed), abs=half_a_digit * (1.0 + 1e-9))
    assert found.value == pytest.approx(sum(n * WEIGHTS[symbol][0] for symbol, n in atoms.items()), rel=1e-14)
    squares = sum((n * WEIGHTS[symbol][1]) ** 2 / 3.0 for symbol, n in atoms.items())
    assert found.u == pytest.approx(math.sqrt(squares), rel=1e-12)
    assert math.isinf(found.dof)
    assert found.unit == "g/mol"


def test_the_guides_example_as_printed() -> None:
    """Potassium hydrogen phthalate with the guide's own weights: 204.2212 g/mol, u = 0.0038 (example A2)."""
    found = molar_mass("C8H5KO4", edition="eurachem-cg4")
    assert f"{found.value:.4f}" == "204.2212"
    assert f"{found.u:.4f}" == "0.0038"


# ------------------------------------------------------------------------------------------------------ correlation
@given(st.sampled_from(sorted(WEIGHTS)), st.integers(1, 60))
def test_atoms_of_one_element_are_fully_correlated(symbol: str, count: int) -> None:
    many = molar_mass(f"{symbol}{count}")
    assert many.u == pytest.approx(count * WEIGHTS[symbol][1] / math.sqrt(3.0), rel=1e-12)  # n u, not √n u
    assert many.value == pytest.approx(count * WEIGHTS[symbol][0], rel=1e-14)


@pytest.mark.parametrize("formula", [row[0] for row in BY_HAND])
def test_over_itself_it_has_no_uncertainty(formula: str) -> None:
    ratio = combine(lambda a, b: a / b, molar_mass(formula), molar_mass(formula))
    assert ratio.value == 1.0
    assert ratio.u == pytest.approx(0.0, abs=1e-18)


def test_shared_elements_cancel_between_formulas() -> None:
    """A hydrate less its water is the anhydrous salt; 2 NaOCl less Na2O2Cl is one Cl."""
    dry = combine(lambda a, b, c: a - 5.0 * b - c, *(molar_mass(f) for f in ("CuSO4·5H2O", "H2O", "CuSO4")))
    assert dry.value == pytest.approx(0.0, abs=1e-12)
    assert dry.u == pytest.approx(0.0, abs=1e-15)
    chlorine = combine(lambda a, b: 2.0 * a - b, molar_mass("NaOCl"), molar_mass("Na2O2Cl"))
    assert chlorine.u == pytest.approx(0.01 / math.sqrt(3.0), rel=1e-9)


def test_ratio_of_two_formulas_by_hand() -> None:
    """R = Cl2/NaOCl: dR/R = 2 dCl/(2 Cl) - (dNa + dO + dCl)/M."""
    m = 22.98976928 + 15.999 + 35.45
    ratio = combine(lambda a, b: a / b, molar_mass("Cl2"), molar_mass("NaOCl"))
    relative = math.sqrt(((1 / 35.45 - 1 / m) * 0.01) ** 2 + (0.001 / m) ** 2 + (2e-8 / m) ** 2) / math.sqrt(3.0)
    assert ratio.relative_u == pytest.approx(relative, rel=1e-9)


# ---------------------------------------------------------------------------------------------------------- editions
@pytest.mark.parametrize(
    ("symbol", "before", "after"),
    [
        ("Zr", (91.224, 0.002), (91.222, 0.003)),
        ("Gd", (157.25, 0.03), (157.249, 0.002)),
        ("Lu", (174.9668, 0.0001), (174.96669, 0.00005)),
    ],
)
def test_the_edition_of_2024_replaces_what_it_revised(
    symbol: str, before: tuple[float, float], after: tuple[float, float]
) -> None:
    for edition, (value, half_width) in {"ciaaw-2021": before, "ciaaw-2024": after}.items():
        found = molar_mass(symbol, edition=edition)
        assert found.value == value
        assert found.u == pytest.approx(half_width / math.sqrt(3.0), rel=1e-12)
    assert molar_mass(symbol).value == after[0]  # the newest is the default


def test_what_was_not_revised_is_the_same_influence_in_both_editions() -> None:
    ratio = combine(lambda a, b: a / b, molar_mass("KIO3", edition="ciaaw-2021"), molar_mass("KIO3"))
    assert ratio.u == pytest.approx(0.0, abs=1e-18)


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("formula", "symbol", "name"),
    [
        ("Tc", "Tc", "technetium"),
        ("NaTcO4", "Tc", "technetium"),
        ("PmCl3", "Pm", "promethium"),
        ("H2Po", "Po", "polonium"),
        ("RaCl2", "Ra", "radium"),
        ("Og", "Og", "oganesson"),
    ],
)
def test_an_element_without_standard_atomic_weight_is_refused_by_name(formula: str, symbol: str, name: str) -> None:
    with pytest.raises(DataError, match=f"{name} has no standard atomic weight") as caught:
        molar_mass(formula)
    assert caught.value.given == symbol
    assert "isotope" in caught.value.remedy


def test_thorium_protactinium_and_uranium_have_one() -> None:
    assert molar_mass("UO2").value == pytest.approx(238.02891 + 2 * 15.999, rel=1e-12)
    assert molar_mass("Th").value == 232.0377
    assert molar_mass("Pa").value == 231.03588


def test_an_unknown_edition_is_refused_with_the_nearest() -> None:
    with pytest.raises(DataError, match="ciaaw-2020") as caught:
        molar_mass("KIO3", edition="ciaaw-2020")
    assert "'ciaaw-2021'" in caught.value.remedy


def test_an_element_that_an_edition_lacks_is_refused() -> None:
    with pytest.raises(DataError, match="'eurachem-cg4' holds no atomic weight") as caught:
        molar_mass("NaCl", edition="eurachem-cg4")
    assert caught.value.given == "Na"
