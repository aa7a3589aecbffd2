"""The bases in which a strength is written, and what the trade calls them."""

from __future__ import annotations

import pytest

from assay.substances.species import HYPOCHLORITE, SPECIES, normal


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("mol/L OCl-", "mol/L OCl-"),
        ("mol/L OCl⁻", "mol/L OCl-"),
        ("mol/L OCl−", "mol/L OCl-"),
        ("mol/L NaOCl", "mol/L OCl-"),
        ("mol/L hypochlorite", "mol/L OCl-"),
        ("g/L available chlorine", "g/L available chlorine"),
        ("g/L as available chlorine", "g/L available chlorine"),
        ("g/L Cl2", "g/L available chlorine"),
        ("g/L Cl₂", "g/L available chlorine"),
        ("g/L available Cl₂", "g/L available chlorine"),
        ("g/l Available Chlorine", "g/L available chlorine"),
        ("% w/v available chlorine", "% w/v available chlorine"),
        ("%w/v available chlorine", "% w/v available chlorine"),
        ("% w/v as Cl2", "% w/v available chlorine"),
        ("per cent w/v available chlorine", "% w/v available chlorine"),
        ("percent w/v active chlorine", "% w/v available chlorine"),
        ("trade %", "% w/v available chlorine"),
        ("g/L NaOCl", "g/L NaOCl"),
        ("g/L sodium hypochlorite", "g/L NaOCl"),
        ("g/L NaClO", "g/L NaOCl"),
        ("% w/v sodium hypochlorite", "% w/v NaOCl"),
    ],
)
def test_a_basis_is_known_by_what_the_trade_writes(written: str, key: str) -> None:
    basis = HYPOCHLORITE.basis(written)
    assert basis is not None
    assert basis.key == key


@pytest.mark.parametrize(
    "written",
    ["", "%", "% w/w", "g/L", "ppm", "mg/kg", "N", "M", "mol/L", "% w/v"],
)
def test_what_leaves_something_open_is_no_basis(written: str) -> None:
    assert HYPOCHLORITE.basis(written) is None


def test_every_key_and_alias_names_one_basis_only() -> None:
    names = [normal(name) for basis in HYPOCHLORITE.bases for name in {basis.key, *basis.aliases}]
    for basis in HYPOCHLORITE.bases:
        for name in (basis.key, *basis.aliases):
            assert HYPOCHLORITE.basis(name) is basis
    assert {normal(basis.key) for basis in HYPOCHLORITE.bases} <= set(names)


def test_the_first_basis_is_the_amount_used_inside() -> None:
    first, *others = HYPOCHLORITE.bases
    assert (first.key, first.formula) == ("mol/L OCl-", "")
    assert all(basis.formula for basis in others)


def test_one_hypochlorite_takes_two_thiosulfate_and_stands_for_one_chlorine() -> None:
    """OCl- sets one I2 free, which takes two thiosulfate; Cl2 + 2 OH- → OCl- + Cl- + H2O, one Cl2 for one OCl-."""
    assert HYPOCHLORITE.equivalents == 2.0
    assert {basis.entities for basis in HYPOCHLORITE.bases} == {1.0}
    assert SPECIES["hypochlorite"] is HYPOCHLORITE
