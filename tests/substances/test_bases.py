"""Every basis of every species: there and back, with the correlation kept, and nothing used that is not needed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import (
    AssayError,
    BasisError,
    BlockedResultError,
    Burette,
    DataError,
    Density,
    DomainError,
    Estimate,
    Influence,
    Pipette,
    Strength,
    Titrant,
    UnitError,
    assay_hypochlorite,
    combine,
    measured_density,
)
from assay.flags import Flag
from assay.substances.species import SPECIES, Species, normal
from assay.substances.strength import NOT_SODIUM
from assay.substances.written import read_strength

# Abridged standard atomic weights of 2021 and their half-widths, g/mol.
WEIGHTS = {
    "H": (1.0080, 0.0002), "C": (12.011, 0.002), "N": (14.007, 0.001), "O": (15.999, 0.001),
    "Na": (22.98976928, 0.00000002), "S": (32.06, 0.02), "Cl": (35.45, 0.01), "K": (39.0983, 0.0001),
}  # fmt: skip
ATOMS = {
    "Cl2": {"Cl": 2}, "NaOCl": {"Na": 1, "O": 1, "Cl": 1}, "HCl": {"H": 1, "Cl": 1},
    "H2SO4": {"H": 2, "S": 1, "O": 4}, "HNO3": {"H": 1, "N": 1, "O": 3}, "CH3COOH": {"C": 2, "H": 4, "O": 2},
    "NaOH": {"Na": 1, "O": 1, "H": 1}, "KOH": {"K": 1, "O": 1, "H": 1}, "NH3": {"N": 1, "H": 3},
}  # fmt: skip
MASS = {formula: sum(n * WEIGHTS[atom][0] for atom, n in atoms.items()) for formula, atoms in ATOMS.items()}
RHO, RHO_HALF = 1160.0, 5.0  # g/L, invented

# What each species is stated in: as what, units in one g/L or one g/g, and whether per mass.
HYPOCHLORITE_BASES = {
    "mol/L OCl-": ("", 1.0, False),
    "g/L available chlorine": ("Cl2", 1.0, False),
    "% w/v available chlorine": ("Cl2", 0.1, False),
    "g/L NaOCl": ("NaOCl", 1.0, False),
    "% w/v NaOCl": ("NaOCl", 0.1, False),
    "% w/w available chlorine": ("Cl2", 100.0, True),
    "% w/w NaOCl": ("NaOCl", 100.0, True),
    "mg/kg available chlorine": ("Cl2", 1e6, True),
}


def bases_of(formula: str) -> dict[str, tuple[str, float, bool]]:
    return {
        f"mol/L {formula}": ("", 1.0, False),
        f"g/L {formula}": (formula, 1.0, False),
        f"% w/v {formula}": (formula, 0.1, False),
        f"% w/w {formula}": (formula, 100.0, True),
    }


BASES = {
    "hypochlorite": HYPOCHLORITE_BASES,
    "hydrochloric acid": bases_of("HCl"),
    "sulfuric acid": bases_of("H2SO4"),
    "nitric acid": bases_of("HNO3"),
    "acetic acid": bases_of("CH3COOH"),
    "sodium hydroxide": bases_of("NaOH"),
    "potassium hydroxide": bases_of("KOH"),
    "ammonia": bases_of("NH3"),
}
PAIRS = [
    (species, first, second) for species, keys in BASES.items() for first, second in itertools.permutations(keys, 2)
]


def in_one_mole_a_litre(species: str, key: str) -> float:
    """Return by hand what one mol/L is in a basis, at the density of these tests."""
    formula, scale, per_mass = BASES[species][key]
    return MASS.get(formula, 1.0) * scale / (RHO if per_mass else 1.0)


def relative_u_of_masses(first: str, second: str) -> float:
    """Return by hand the relative u of M(first)/M(second): each weight by the difference of its two slopes."""
    terms = []
    for atom, (_, half_width) in WEIGHTS.items():
        slopes = [ATOMS[f].get(atom, 0) / MASS[f] if f else 0.0 for f in (first, second)]
        terms.append((slopes[0] - slopes[1]) * half_width / math.sqrt(3.0))
    return math.hypot(*terms)


def density() -> Density:
    return measured_density("1.160 g/mL", half_width="0.005 g/mL", temperature="20 °C", name="bottle")


def strength(
    species: Species, value: float, u: float = 0.0, *, per_mass: bool = False, known: bool = True, source: str = ""
) -> Strength:
    influence = Influence(id="bottle", label="bottle", value=value, u=u)
    estimate = Estimate.from_influence(influence, name="amount_content" if per_mass else "amount_concentration")
    facts = {}
    if source:
        estimate = estimate.flagged(Flag(code=NOT_SODIUM, message=f"the source is {source}"))
        facts["source"] = source
    return Strength(species=species, estimate=estimate, facts=facts, density=density() if known else None)


# ---------------------------------------------------------------------------------------------------------- round trip
def test_the_bases_are_those_of_the_trade() -> None:
    assert set(SPECIES) == set(BASES)
    for name, species in SPECIES.items():
        assert {b.key: (b.formula, b.scale, b.per_mass) for b in species.bases} == BASES[name]
        assert all(basis.entities == 1.0 for basis in species.bases)


@pytest.mark.parametrize(("name", "first", "second"), PAIRS)
@given(number=st.floats(1e-6, 1e3))
def test_every_ordered_pair_makes_the_round_trip(name: str, first: str, second: str, number: float) -> None:
    def moved(value: float, start: str, end: str) -> float:
        stated = Estimate.exactly(value, name="value", label="bottle")
        return Strength.from_basis(stated, start, species=SPECIES[name], density=density()).in_basis(end).value

    there = moved(number, first, second)
    by_hand = number * in_one_mole_a_litre(name, second) / in_one_mole_a_litre(name, first)
    assert there == pytest.approx(by_hand, rel=1e-12)
    assert moved(there, second, first) == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(("name", "key"), [(name, key) for name, keys in BASES.items() for key in keys])
def test_a_stated_strength_comes_back_with_the_u_it_was_stated_with(name: str, key: str) -> None:
    """Into the amount inside and out again: molar mass and density cancel, value and u are what was stated."""
    stated = Estimate.from_influence(Influence(id="label", label="label", value=12.5, u=0.25), name="value")
    back = Strength.from_basis(stated, key, species=SPECIES[name], density=density()).in_basis(key)
    assert back.value == pytest.approx(12.5, rel=1e-12)
    assert back.u == pytest.approx(0.25, rel=1e-12)


# --------------------------------------------------------------------------------------------------------- correlation
@pytest.mark.parametrize("per_mass", [False, True])
@pytest.mark.parametrize(("name", "first", "second"), PAIRS)
def test_one_basis_over_another_has_only_the_density_and_the_molar_masses(
    name: str, first: str, second: str, *, per_mass: bool
) -> None:
    """The strength's own 5 % is gone; the density is there once if just one of the two is per mass, and else not."""
    species = SPECIES[name]
    drum = strength(species, 2e-3 if per_mass else 2.0, 1e-4 if per_mass else 0.1, per_mass=per_mass)
    ratio = combine(lambda a, b: a / b, drum.in_basis(first), drum.in_basis(second))
    (of_first, _, mass_first), (of_second, _, mass_second) = BASES[name][first], BASES[name][second]
    crosses = mass_first != mass_second
    of_density = RHO_HALF / math.sqrt(3.0) / RHO if crosses else 0.0
    by_hand = math.hypot(of_density, relative_u_of_masses(of_first, of_second))
    assert ratio.value == pytest.approx(in_one_mole_a_litre(name, first) / in_one_mole_a_litre(name, second), rel=1e-12)
    assert ratio.relative_u == pytest.approx(by_hand, rel=1e-9, abs=1e-15)
    used = {line.label for line in ratio.budget().lines if line.contribution > 1e-12 * ratio.value}
    assert ("density of bottle" in used) == crosses
    assert "bottle" not in used


@pytest.mark.parametrize(("name", "key"), [(name, key) for name, keys in BASES.items() for key in keys])
def test_u_of_one_basis_is_that_of_the_strength_the_molar_mass_and_a_density_that_is_used(name: str, key: str) -> None:
    found = strength(SPECIES[name], 2.0, 0.01).in_basis(key)
    formula, _, per_mass = BASES[name][key]
    by_hand = [0.005, relative_u_of_masses(formula, ""), RHO_HALF / math.sqrt(3.0) / RHO if per_mass else 0.0]
    assert found.relative_u == pytest.approx(math.hypot(*by_hand), rel=1e-9)


@pytest.mark.parametrize("name", BASES)
def test_a_weighed_sample_needs_no_density_for_a_strength_per_mass(name: str) -> None:
    weighed = strength(SPECIES[name], 2e-3, 1e-5, per_mass=True, known=False)
    assert list(weighed.bases()) == [key for key, (_, _, per_mass) in BASES[name].items() if per_mass]
    with_density = strength(SPECIES[name], 2e-3, 1e-5, per_mass=True).bases()
    for key, estimate in weighed.bases().items():
        assert estimate.value == with_density[key].value
        assert estimate.u == with_density[key].u
    assert list(with_density) == list(BASES[name])


@pytest.mark.parametrize("name", BASES)
def test_a_pipetted_sample_without_a_density_is_stated_per_volume_only(name: str) -> None:
    pipetted = strength(SPECIES[name], 2.0, known=False)
    assert list(pipetted.bases()) == [key for key, (_, _, per_mass) in BASES[name].items() if not per_mass]


def test_the_strength_per_volume_of_a_weighed_sample_is_amount_times_density() -> None:
    weighed = strength(SPECIES["hydrochloric acid"], 0.009, 1e-5, per_mass=True)
    per_volume = weighed.per_volume()
    assert per_volume.estimate.value == pytest.approx(0.009 * RHO, rel=1e-12)
    by_hand = math.hypot(1e-5 / 0.009, RHO_HALF / math.sqrt(3.0) / RHO)
    assert per_volume.estimate.relative_u == pytest.approx(by_hand, rel=1e-12)
    assert not per_volume.per_mass
    again = per_volume.in_basis("% w/w HCl")
    assert again.u == pytest.approx(weighed.in_basis("% w/w HCl").u, rel=1e-12)  # the density went in and out again


def test_units_and_names_are_those_of_the_basis() -> None:
    found = strength(SPECIES["hypochlorite"], 2.0).bases()
    units = ["mol/L", "g/L", "g/(100 mL)", "g/L", "g/(100 mL)", "g/(100 g)", "g/(100 g)", "mg/kg"]
    assert [estimate.unit for estimate in found.values()] == units
    assert [estimate.label for estimate in found.values()][-1] == "bottle, mg/kg available chlorine"


# ----------------------------------------------------------------------------------------------------- as it is written
@pytest.mark.parametrize(
    ("name", "written", "key"),
    [
        ("hypochlorite", "% w/w as NaOCl", "% w/w NaOCl"),
        ("hypochlorite", "%  w/w  NaClO", "% w/w NaOCl"),
        ("hypochlorite", "percent w/v available chlorine", "% w/v available chlorine"),
        ("hypochlorite", "per cent w/w Cl₂", "% w/w available chlorine"),
        ("hypochlorite", "G/L Available Chlorine", "g/L available chlorine"),
        ("hypochlorite", "mg/kg active chlorine", "mg/kg available chlorine"),
        ("hypochlorite", "trade %", "% w/v available chlorine"),
        ("hypochlorite", "mol/L ClO⁻", "mol/L OCl-"),
        ("hydrochloric acid", "% w/w as HCl", "% w/w HCl"),
        ("hydrochloric acid", "% w/w hydrogen chloride", "% w/w HCl"),
        ("sulfuric acid", "% w/w sulphuric acid", "% w/w H2SO4"),
        ("acetic acid", "mol/L HOAc", "mol/L CH3COOH"),
        ("sodium hydroxide", "% w/v caustic soda", "% w/v NaOH"),
    ],
)
def test_a_basis_is_known_by_the_ways_in_which_the_trade_writes_it(name: str, written: str, key: str) -> None:
    basis = SPECIES[name].basis(written)
    assert basis is not None
    assert basis.key == key


def test_no_writing_stands_for_two_bases_of_one_species() -> None:
    for species in SPECIES.values():
        written = [normal(text) for basis in species.bases for text in {basis.key, *basis.aliases}]
        assert len(set(written)) == len(written)


def test_a_label_by_mass_is_read_with_the_density_of_a_fresh_solution() -> None:
    """32 % w/w HCl at the table's 1.159 g/mL; 12.5 % w/w chlorine at 998.2/(1 − 1.323 × 0.125) g/L."""
    acid = read_strength("32 % w/w HCl", argument="label", species=SPECIES["hydrochloric acid"])
    assert acid == pytest.approx(0.32 * 1159.0 / MASS["HCl"], rel=1e-12)
    liquor = read_strength("12.5 % w/w available chlorine", argument="label")
    assert liquor == pytest.approx(0.125 * 998.2 / (1.0 - 1.323 * 0.125) / MASS["Cl2"], rel=1e-12)
    as_sodium = read_strength(f"{12.5 * MASS['NaOCl'] / MASS['Cl2']!r} % w/w NaOCl", argument="label")
    assert as_sodium == pytest.approx(liquor, rel=1e-12)
    assert read_strength("125000 mg/kg Cl2", argument="label") == pytest.approx(liquor, rel=1e-12)


# ------------------------------------------------------------------------------------- NaOCl of what is not sodium's
SODIUM_KEYS = [key for key, (formula, _, _) in HYPOCHLORITE_BASES.items() if formula == "NaOCl"]


@pytest.mark.parametrize("source", ["calcium hypochlorite", "sodium dichloroisocyanurate"])
@pytest.mark.parametrize("key", SODIUM_KEYS)
def test_another_source_is_stated_as_sodium_hypochlorite_only_after_acceptance_by_name(source: str, key: str) -> None:
    found = strength(SPECIES["hypochlorite"], 2.0, source=source)
    with pytest.raises(BlockedResultError) as caught:
        found.in_basis(key)
    for words in (source, "would name what is not there", "Use available chlorine", f".accepting({NOT_SODIUM!r}"):
        assert words in str(caught.value)
    assert not set(found.bases()) & set(SODIUM_KEYS)
    assert "NaOCl" not in str(found).partition("strength, U")[2]

    accepted = found.accepting(NOT_SODIUM, because="the customer's form asks for it (K)")
    assert accepted.in_basis(key).value == strength(SPECIES["hypochlorite"], 2.0).in_basis(key).value
    assert list(accepted.bases()) == list(HYPOCHLORITE_BASES)
    (flag,) = accepted.in_basis(key).flags
    assert flag.accepted == "the customer's form asks for it (K)"


def test_all_other_bases_of_another_source_are_open() -> None:
    found = strength(SPECIES["hypochlorite"], 2.0, source="calcium hypochlorite")
    assert list(found.bases()) == [key for key in HYPOCHLORITE_BASES if key not in SODIUM_KEYS]
    assert found.in_basis("g/L available chlorine").value == pytest.approx(2.0 * MASS["Cl2"], rel=1e-12)


@pytest.mark.parametrize(
    ("code", "because", "says"),
    [
        ("expressed-as-sodium", "asked for", ["Did you mean 'expressed-as-sodium-hypochlorite'?"]),
        (NOT_SODIUM, "  ", ["with a reason", "who accepted it and why"]),
    ],
)
def test_an_acceptance_has_the_name_and_a_reason(code: str, because: str, says: list[str]) -> None:
    found = strength(SPECIES["hypochlorite"], 2.0, source="calcium hypochlorite")
    with pytest.raises(DataError) as caught:
        found.accepting(code, because=because)
    assert all(words in str(caught.value) for words in says)


@pytest.mark.parametrize(
    ("source", "flagged"),
    [
        ("sodium hypochlorite", False),
        ("Sodium hypochlorite", False),
        ("NaOCl", False),
        ("NaClO", False),
        ("calcium hypochlorite", True),
        ("available chlorine", True),
        ("trichloroisocyanuric acid", True),
        ("", True),
    ],
)
def test_an_assay_of_another_source_is_flagged(source: str, *, flagged: bool) -> None:
    influence = Influence(id="thiosulfate", label="thiosulfate", value=0.1, u=1e-4)
    titrant = Titrant(name="thiosulfate", estimate=Estimate.from_influence(influence, name="titrant_concentration"))
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    titres = [burette.titre("24.30 mL"), burette.titre("24.35 mL")]
    found = assay_hypochlorite(titrant, aliquot=Pipette("P10", capacity="10 mL"), titres=titres, source=source)
    assert (NOT_SODIUM in {flag.code for flag in found.flags}) == flagged
    assert ("g/L NaOCl" in found.bases()) != flagged


# ----------------------------------------------------------------------------------------------------------- refusals
def read(written: str, species: str) -> float:
    return read_strength(written, argument="label", species=SPECIES[species])


def stated(key: str, species: str, *, per_mass: bool = False, known: bool = True) -> Estimate:
    return strength(SPECIES[species], 2e-3 if per_mass else 2.0, per_mass=per_mass, known=known).in_basis(key)


def from_basis(key: str, species: str) -> Strength:
    one = Estimate.exactly(1.0, name="value", label="bottle")
    return Strength.from_basis(one, key, species=SPECIES[species])


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: stated("% w/w available chlorine", "hypochlorite", known=False),
            BasisError,
            ["per mass needs the density", "Weigh the sample", "with_density", "assuming_density"],
        ),
        (
            lambda: stated("g/L HCl", "hydrochloric acid", per_mass=True, known=False),
            BasisError,
            ["per volume needs the density", "measured density"],
        ),
        (
            lambda: strength(SPECIES["ammonia"], 2e-3, per_mass=True, known=False).per_volume(),
            BasisError,
            ["per volume needs the density"],
        ),
        (lambda: stated("% w/w HCI", "hydrochloric acid"), BasisError, ["% w/w HCI", "Did you mean '% w/w HCl'"]),
        (lambda: stated("% w/w NaOH", "hydrochloric acid"), BasisError, ["hydrochloric acid", "% w/w NaOH", "% w/w"]),
        (lambda: stated("ppm available chlorine", "hypochlorite"), BasisError, ["ppm", "g/L available chlorine"]),
        (lambda: from_basis("% w/w NaOCI", "hypochlorite"), BasisError, ["NaOCI", "'% w/w NaOCl'"]),
        (
            lambda: read("32 %", "hydrochloric acid"),
            BasisError,
            ["'32 % w/v HCl' (320 g/L HCl)", "'32 % w/w HCl' (370.9 g/L HCl at 1.159 g/mL)"],
        ),
        (lambda: read("32 % w/w", "hydrochloric acid"), BasisError, ["32 % w/w", "'32 % w/w HCl' (370.9 g/L"]),
        (lambda: read("32 % w/w NaOH", "hydrochloric acid"), BasisError, ["NaOH", "'32 % w/w HCl'"]),
        (lambda: read("10 M", "hydrochloric acid"), BasisError, ["'M' alone", "'10 mol/L HCl' (364.6 g/L HCl)"]),
        (
            lambda: read("1 N", "sulfuric acid"),
            BasisError,
            ["how many equivalents one mole counts for", "'0.5 mol/L H2SO4' (49.04 g/L H2SO4)"],
        ),
        (lambda: read("320 g/L", "hydrochloric acid"), BasisError, ["'g/L' alone", "'320 g/L HCl' (320 g/L HCl)"]),
        (
            lambda: read("32", "hydrochloric acid"),
            BasisError,
            ["a bare number", "'32 mol/L HCl' (1167 g/L HCl, more than any hydrochloric acid holds)"],
        ),
        (lambda: read("96 %", "sulfuric acid"), BasisError, ["'96 % w/w H2SO4' (1762 g/L H2SO4 at 1.835"]),
        (lambda: read("25 %", "ammonia"), BasisError, ["'25 % w/w NH3' (226.8 g/L NH3 at 0.907 g/mL)"]),
        (lambda: read("45 %", "potassium hydroxide"), BasisError, ["'45 % w/w KOH' (needs the density)"]),
        (lambda: read("5 % m/m", "hypochlorite"), BasisError, ["5 % m/m", "'5 % w/w available chlorine' (58 g/L"]),
        (lambda: read("50000 ppm", "hypochlorite"), BasisError, ["'ppm' alone", "mg/kg available chlorine' (58 g/L"]),
        (
            lambda: read("50000 mg/kg", "hypochlorite"),
            BasisError,
            ["'50000 mg/kg available chlorine' (58 g/L available chlorine at 1.16 g/mL)"],
        ),
        (lambda: read("32,5 % w/w HCl", "hydrochloric acid"), UnitError, ["comma", "'32.5 % w/w HCl'"]),
        (lambda: read("32 ± 1 % w/w HCl", "hydrochloric acid"), UnitError, ["±", "own argument"]),
        (lambda: read("-32 % w/w HCl", "hydrochloric acid"), DomainError, ["-32 % w/w HCl", "above zero"]),
        (
            lambda: read("45 % w/w HCl", "hydrochloric acid"),
            DomainError,
            ["label = '45 % w/w HCl'", "up to 40 % w/w", "'… g/L HCl'", "leave it out"],
        ),
        (
            lambda: read("45 % w/w KOH", "potassium hydroxide"),
            DataError,
            ["label = '45 % w/w KOH'", "no table of densities", "'… g/L KOH'", "leave it out"],
        ),
        (
            lambda: read("65 % w/w available chlorine", "hypochlorite"),
            DomainError,
            ["label = '65 % w/w available chlorine'", "up to 18.8 % w/w", "of a solid", "leave it out"],
        ),
        (lambda: read("120 % w/w NaOCl", "hypochlorite"), DomainError, ["120 % w/w NaOCl", "'… g/L NaOCl'"]),
        (lambda: read("760000 mg/kg Cl2", "hypochlorite"), DomainError, ["760000 mg/kg Cl2", "no liquor holds"]),
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


def test_a_refusal_keeps_what_was_given() -> None:
    with pytest.raises(DataError) as caught:
        read("45 % w/w KOH", "potassium hydroxide")
    assert (caught.value.argument, caught.value.given) == ("label", "45 % w/w KOH")
    assert caught.value.remedy
