"""Doses of every reagent: volumes by plain arithmetic, what is refused from either side, what is printed first.

Molar masses are sums of the abridged atomic weights of CIAAW [ciaaw-2021]; strengths are invented.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import stats

from assay import (
    BasisError,
    Cylinder,
    DataError,
    Density,
    Dose,
    Equivalents,
    Estimate,
    IncompatibleMixtureError,
    Influence,
    Strength,
    cautions,
    density_by_weighing,
    dose,
    measured_density,
)
from assay.dosing.incompatible import refuse_incompatible
from assay.substances.species import SPECIES

H, C, N, O, NA, S, CL, K = 1.008, 12.011, 14.007, 15.999, 22.98976928, 32.06, 35.45, 39.0983  # noqa: E741  (oxygen)


@dataclass(frozen=True)
class Reagent:
    """A reagent at an invented strength: kind, formula, mol/L, and g/mol."""

    kind: str
    formula: str
    concentration: float
    molar_mass: float


REAGENTS = {
    "hypochlorite": Reagent("hypochlorite", "OCl-", 1.6, 2 * CL),  # by mass as available chlorine
    "hydrochloric acid": Reagent("acid", "HCl", 9.4, H + CL),
    "sulfuric acid": Reagent("acid", "H2SO4", 2.5, 2 * H + S + 4 * O),
    "nitric acid": Reagent("acid", "HNO3", 7.0, H + N + 3 * O),
    "acetic acid": Reagent("acid", "CH3COOH", 5.0, 2 * C + 4 * H + 2 * O),
    "sodium hydroxide": Reagent("alkali", "NaOH", 4.0, NA + O + H),
    "potassium hydroxide": Reagent("alkali", "KOH", 3.0, K + O + H),
    "ammonia": Reagent("ammonia", "NH3", 12.0, N + 3 * H),
}
FINE = Cylinder("fine", capacity="1 L", subdivision="0.001 mL", tolerance="0 mL")
CYLINDER = Cylinder("C250", capacity="250 mL", subdivision="2 mL")


def strength(name: str, **facts: str) -> Strength:
    value = REAGENTS[name].concentration
    influence = Influence(id=f"bottle/{name}", label=f"bottle of {name}", value=value, u=0.01 * value)
    return Strength(
        species=SPECIES[name],
        estimate=Estimate.from_influence(influence, name="amount_concentration"),
        facts=facts,
    )


def dosed(name: str, **options: object) -> Dose:
    reagent = REAGENTS[name]
    whole = {"deliver": f"0.25 mol {reagent.formula}", "dispenser": FINE, "into": "water", **options}
    return dose(strength(name), **whole)


def test_every_reagent_is_here() -> None:
    assert set(REAGENTS) == set(SPECIES)
    assert {name: reagent.kind for name, reagent in REAGENTS.items()} == {n: s.kind for n, s in SPECIES.items()}


# ----------------------------------------------------------------------------------------------------------- volumes
@pytest.mark.parametrize("name", REAGENTS)
def test_the_volume_of_an_amount(name: str) -> None:
    found = dosed(name)
    exact = 0.25 / REAGENTS[name].concentration
    assert found.nominal.volume == pytest.approx(exact, abs=0.51e-6)  # half a graduation
    assert found.at_most.volume < exact < found.at_least.volume
    # With 1 % of strength, P(c V ≥ n) is that of the normal. It is kept, and exceeded by at most 7 standard errors of
    # 2e5 draws (3 of the library's rule, 4 for their luck) and what a graduation more is worth.
    norm = stats.norm(REAGENTS[name].concentration, 0.01 * REAGENTS[name].concentration)
    for kept, volume in (
        (lambda v: norm.sf(0.25 / v), found.at_least.volume),
        (lambda v: norm.cdf(0.25 / v), found.at_most.volume),
    ):
        graduation = abs(kept(volume + 1e-6) - kept(volume - 1e-6)) / 2.0
        assert 0.95 <= kept(volume) <= 0.95 + 7.0 * math.sqrt(0.95 * 0.05 / 200_000) + graduation
    assert (found.reagent, found.kind) == (name, REAGENTS[name].kind)
    assert found.nominal.delivered.value == pytest.approx(REAGENTS[name].concentration * found.nominal.volume)


@pytest.mark.parametrize("name", REAGENTS)
def test_the_volume_of_a_mass(name: str) -> None:
    reagent = REAGENTS[name]
    substance = "available chlorine" if name == "hypochlorite" else reagent.formula
    found = dosed(name, deliver=f"12.5 g {substance}")
    assert found.required.value == pytest.approx(12.5 / reagent.molar_mass, rel=1e-10)
    assert found.nominal.volume == pytest.approx(12.5 / reagent.molar_mass / reagent.concentration, abs=0.51e-6)


@pytest.mark.parametrize("name", [name for name in REAGENTS if name != "hypochlorite"])
def test_what_is_to_be_delivered_may_be_told_by_name_or_formula(name: str) -> None:
    by_formula, by_name = dosed(name), dosed(name, deliver=f"0.25 mol {name}")
    assert [v.volume for v in by_formula.volumes] == [v.volume for v in by_name.volumes]


def test_acid_for_a_weighed_base_as_equivalents() -> None:
    """12.5 g of sodium carbonate takes two of hydrochloric acid for each of its own."""
    found = dosed("hydrochloric acid", deliver=Equivalents(2.0, of="12.5 g", formula="Na2CO3"))
    exact = 2.0 * 12.5 / (2 * NA + C + 3 * O) / 9.4
    assert found.nominal.volume == pytest.approx(exact, abs=0.51e-6)


@pytest.mark.parametrize("name", REAGENTS)
def test_trusting_a_label_per_volume(name: str) -> None:
    """The label states a quarter more than is there: its volume delivers 80 %."""
    reagent = REAGENTS[name]
    found = dosed(name, label=f"{1.25 * reagent.concentration} mol/L {reagent.formula}")
    assert found.by_label.value == pytest.approx(0.8 * 0.25, rel=1e-12)
    assert "80 % of what is asked" in str(found)


def test_trusting_a_label_per_mass() -> None:
    """30 % w/w of hydrochloric acid at the 1.1492 g/mL of the table of densities [crc-handbook] is 9.456 mol/L."""
    found = dosed("hydrochloric acid", label="30 % w/w HCl")
    stated = 0.30 * 1149.2 / (H + CL)
    assert found.by_label.value == pytest.approx(9.4 * 0.25 / stated, rel=1e-9)


@pytest.mark.parametrize("name", REAGENTS)
@pytest.mark.parametrize("given", ["0.25", "0.25 mol", "12.5 g", "12.5 %", "25 mL {entity}", "0.25 mol glucose"])
def test_an_amount_of_something_else_or_of_nothing_is_refused_with_what_it_may_be_of(name: str, given: str) -> None:
    reagent = REAGENTS[name]
    with pytest.raises(BasisError) as caught:
        dosed(name, deliver=given.format(entity=reagent.formula))
    assert repr(given.format(entity=reagent.formula)) in str(caught.value)
    assert f"'0.25 mol {reagent.formula}'" in str(caught.value)


@pytest.mark.parametrize("name", REAGENTS)
def test_an_amount_of_another_reagent_is_refused(name: str) -> None:
    other = "KOH" if name != "potassium hydroxide" else "NaOH"
    with pytest.raises(BasisError, match=f"0.25 mol {other}"):
        dosed(name, deliver=f"0.25 mol {other}")


def test_assays_of_two_reagents_are_never_averaged() -> None:
    pair = [strength("hydrochloric acid"), strength("nitric acid")]
    with pytest.raises(DataError, match="of one reagent"):
        dose(pair, deliver="0.25 mol HCl", dispenser=FINE, into="water")


# ----------------------------------------------------------------------------------------------- strengths per mass
CONTENT = 0.00819  # mol/g


def weighed(u: float = 0.00002) -> Strength:
    influence = Influence(id="weighed", label="weighed", value=CONTENT, u=u)
    return Strength(
        species=SPECIES["hydrochloric acid"], estimate=Estimate.from_influence(influence, name="amount_content")
    )


def test_a_strength_per_mass_is_dosed_by_volume_with_its_density() -> None:
    density = measured_density("1.148 g/mL", half_width="0.002 g/mL", temperature="20 °C", name="hydrometer")
    found = dose(weighed().with_density(density), deliver="0.25 mol HCl", dispenser=FINE, into="water")
    assert found.strength.value == pytest.approx(CONTENT * 1148.0, rel=1e-12)
    relative = math.hypot(0.00002 / CONTENT, 0.002 / math.sqrt(3.0) / 1.148)
    assert found.strength.relative_u == pytest.approx(relative, rel=1e-9)
    assert found.nominal.volume == pytest.approx(0.25 / (CONTENT * 1148.0), abs=0.51e-6)


def test_a_strength_per_mass_without_a_density_is_refused_with_the_ways_to_one() -> None:
    with pytest.raises(BasisError, match="a strength per volume needs the density of the sample") as caught:
        dose(weighed(), deliver="0.25 mol HCl", dispenser=FINE, into="water")
    for words in ("measured density", "assumed from a table"):
        assert words in str(caught.value)
    assert "Weigh the sample" not in str(caught.value)  # it was weighed


def test_an_assumed_density_is_told_where_a_dose_hangs_on_it() -> None:
    found = dose(weighed().assuming_density(), deliver="0.25 mol HCl", dispenser=FINE, into="water")
    assert [flag.code for flag in found.flags] == ["assumed-density"]
    assert "assumed at 20 °C" in str(found)


@pytest.mark.parametrize("assurance", [0.90, 0.95, 0.99])
def test_the_assurance_of_a_weighed_acid_with_a_density_by_weighing(assurance: float) -> None:
    """Content, mass and pipette of the density, scale and setting of the cylinder are drawn here by their own shapes.

    The promise is kept to three standard errors of these draws, and one graduation nearer breaks it or keeps it by no
    more than six standard errors of the library's 2 × 10⁵ draws and three of these.
    """
    mass = Estimate.from_influence(Influence(id="m", label="m", value=11.48, u=0.05), name="mass")
    volume = Estimate.from_influence(
        Influence.within("v", label="v", value=0.010, half_width=0.00004, shape="triangular"), name="volume"
    )
    density: Density = density_by_weighing(mass, volume, temperature="20 °C")
    found = dose(
        weighed(0.00004).with_density(density),
        deliver="0.25 mol HCl", dispenser=Cylinder("C50", capacity="50 mL", subdivision="0.1 mL", tolerance="0.2 mL"),
        into="water", assurance=assurance,
    )  # fmt: skip
    n = 200_000
    rng = np.random.default_rng(11)
    litre = (11.48 + 0.05 * rng.standard_normal(n)) / (0.010 + rng.triangular(-0.00004, 0.0, 0.00004, n))
    concentration = (CONTENT + 0.00004 * rng.standard_normal(n)) * litre
    error = rng.uniform(-0.2, 0.2, n) + rng.uniform(-0.05, 0.05, n)  # mL

    def met(kind: str, millilitres: float) -> float:
        delivered = concentration * (millilitres + error) / 1000.0
        return float(np.mean(delivered >= 0.25 if kind == "at least" else delivered <= 0.25))

    se = math.sqrt(assurance * (1.0 - assurance) / n)
    for one, step in ((found.at_least, -0.1), (found.at_most, 0.1)):
        assert met(one.kind, 1000.0 * one.volume) >= assurance - 3.0 * se
        assert met(one.kind, 1000.0 * one.volume + step) <= assurance + 9.0 * se


# ------------------------------------------------------------------------------------------------ never dispensed into
CONCENTRATED_ACIDS = [
    "concentrated sulfuric acid", "concentrated acid", "conc. H2SO4", "conc HCl", "concentrated nitric acid",
    "H2SO4 (conc.)", "oleum", "fuming nitric acid", "98 % sulfuric acid", "sulfuric acid 95 %", "37 % HCl",
    "HCl 37%", "12 mol/L HCl", "18 M H2SO4", "nitric acid, 65,5 %",
]  # fmt: skip
CONCENTRATED_ALKALIS = [
    "concentrated sodium hydroxide", "concentrated caustic", "conc. NaOH", "concentrated lye", "strong, conc. alkali",
    "50 % NaOH", "NaOH 50%", "19 mol/L NaOH", "caustic soda 46 % w/w", "sodium hydroxide pellets", "NaOH pellets",
    "caustic flakes", "KOH flakes", "solid potassium hydroxide", "quicklime", "drain opener",
]  # fmt: skip
HYPOCHLORITES = [
    "hypochlorite", "sodium hypochlorite", "Sodium Hypochlorite 12.5 %", "calcium hypochlorite", "bleach", "Bleach",
    "household bleach", "thin bleach in water", "NaOCl", "NaClO", "naocl", "NaOCl solution", "Ca(OCl)2", "Ca(ClO)2",
    "HOCl", "OCl-", "chlorinated water", "dichloroisocyanurate", "pool chlorine", "eau de Javel", "cleaner",
]  # fmt: skip


@pytest.mark.parametrize("name", REAGENTS)
@pytest.mark.parametrize("into", CONCENTRATED_ACIDS)
def test_nothing_with_water_goes_into_concentrated_acid(name: str, into: str) -> None:
    with pytest.raises(IncompatibleMixtureError, match=f"^into = .*{name} is never dispensed into") as caught:
        dosed(name, into=into)
    assert (caught.value.argument, caught.value.given) == ("into", into)
    assert "No dose is given" in caught.value.remedy


@pytest.mark.parametrize("name", REAGENTS)
@pytest.mark.parametrize("into", CONCENTRATED_ALKALIS)
def test_nothing_with_water_goes_into_concentrated_or_solid_alkali(name: str, into: str) -> None:
    with pytest.raises(IncompatibleMixtureError, match=f"{name} is never dispensed into"):
        dosed(name, into=into)


@pytest.mark.parametrize("name", [name for name, r in REAGENTS.items() if r.kind in {"acid", "ammonia"}])
@pytest.mark.parametrize("into", HYPOCHLORITES)
def test_acid_and_ammonia_never_go_into_hypochlorite(name: str, into: str) -> None:
    with pytest.raises(IncompatibleMixtureError, match=f"{name} is never dispensed into"):
        dosed(name, into=into)


@pytest.mark.parametrize("name", [name for name, r in REAGENTS.items() if r.kind in {"acid", "ammonia"}])
def test_hypochlorite_never_goes_into_them(name: str) -> None:
    """The other side: by name, by formula, dilute or not."""
    for into in (name, f"dilute {name}", REAGENTS[name].formula, f"0.1 mol/L {REAGENTS[name].formula}"):
        with pytest.raises(IncompatibleMixtureError, match="hypochlorite is never dispensed into"):
            dosed("hypochlorite", into=into)


@pytest.mark.parametrize(
    ("name", "into", "hazard"),
    [
        ("hydrochloric acid", "bleach", "chlorine gas"),
        ("acetic acid", "NaOCl", "chlorine gas"),
        ("hypochlorite", "hydrochloric acid", "chlorine gas"),
        ("hypochlorite", "ammonia", "chloramines"),
        ("ammonia", "bleach", "chloramines"),
        ("ammonia", "hypochlorite", "nitrogen trichloride"),
        ("ammonia", "iodine solution", "nitrogen triiodide"),
        ("ammonia", "I2", "nitrogen triiodide"),
        ("ammonia", "bromine water", "violently"),
        ("ammonia", "glacial acetic acid", "neutralise"),
        ("hydrochloric acid", "sodium cyanide", "hydrogen cyanide"),
        ("hydrochloric acid", "Na2S", "hydrogen sulfide"),
        ("sulfuric acid", "sodium sulfite", "sulfur dioxide"),
        ("nitric acid", "thiosulfate", "sulfur dioxide"),
        ("hydrochloric acid", "sodium nitrite", "nitrogen oxides"),
        ("hydrochloric acid", "NaN3", "hydrazoic acid"),
        ("hydrochloric acid", "sodium chlorite", "chlorine dioxide"),
        ("sulfuric acid", "concentrated sodium hydroxide", "boil and spatter"),
        ("sulfuric acid", "concentrated ammonia", "boil and spatter"),
        ("sodium hydroxide", "concentrated sulfuric acid", "boil and spatter"),
        ("potassium hydroxide", "35 % HCl", "boil and spatter"),
        ("sodium hydroxide", "NH4Cl", "ammonia gas"),
        ("sodium hydroxide", "fertiliser", "ammonia gas"),
        ("potassium hydroxide", "an aluminium bucket", "hydrogen"),
        ("sodium hydroxide", "a galvanised bucket", "hydrogen"),
        ("acetic acid", "concentrated sulfuric acid", "into the water, never the reverse"),
        ("hydrochloric acid", "98 % sulfuric acid", "into the water, never the reverse"),
        ("sodium hydroxide", "50 % NaOH", "into the water, never the reverse"),
        ("hypochlorite", "NaOH pellets", "boils and spatters"),
    ],
)
def test_the_hazard_is_named(name: str, into: str, hazard: str) -> None:
    with pytest.raises(IncompatibleMixtureError) as caught:
        dosed(name, into=into)
    assert hazard in str(caught.value)


@pytest.mark.parametrize(
    ("name", "into"),
    [
        *((name, "water") for name in REAGENTS),
        *((name, "500 mL of deionised water") for name in REAGENTS),
        ("hydrochloric acid", "0.1 mol/L NaOH"),
        ("hydrochloric acid", "dilute sodium hydroxide"),
        ("hydrochloric acid", "5 % acetic acid"),
        ("hydrochloric acid", "1 M NaOH"),
        ("acetic acid", "sodium acetate solution"),
        ("sulfuric acid", "copper sulfate, 10 %"),
        ("nitric acid", "dilute HCl"),
        ("sodium hydroxide", "0.1 mol/L HCl"),
        ("sodium hydroxide", "bleach"),  # keeps it alkaline
        ("potassium hydroxide", "6 mol/L HCl"),
        ("sodium hydroxide", "phosphate buffer"),
        ("ammonia", "ammonium chloride solution"),
        ("ammonia", "0.5 mol/L sulfuric acid"),
        ("ammonia", "chlorine-free water"),
        ("hydrochloric acid", "sulfide-free water"),
        ("hypochlorite", "0.1 mol/L NaOH"),
        ("hydrochloric acid", "ethanol 96 %"),
    ],
)
def test_allowed(name: str, into: str) -> None:
    assert dosed(name, into=into).nominal is not None


@pytest.mark.parametrize("figure", ["20 %", "6 mol/L", "6 M", "2.5 %"])
def test_up_to_a_bench_bottle_of_dilute_acid_is_dilute(figure: str) -> None:
    refuse_incompatible(f"{figure} HCl", reagent="alkali")


@pytest.mark.parametrize("figure", ["20.1 %", "6.1 mol/L", "7 M", "37%"])
def test_above_it_is_concentrated(figure: str) -> None:
    with pytest.raises(IncompatibleMixtureError):
        refuse_incompatible(f"{figure} HCl", reagent="alkali")


@pytest.mark.parametrize("reagent", ["", "water", "methanol"])
def test_of_a_reagent_of_which_nothing_is_known_nothing_is_promised(reagent: str) -> None:
    with pytest.raises(DataError):
        refuse_incompatible("water", reagent=reagent)


@pytest.mark.parametrize("name", REAGENTS)
def test_no_dose_is_given_before_anything_else_is_looked_at(name: str) -> None:
    with pytest.raises(IncompatibleMixtureError):
        dosed(name, into="concentrated sulfuric acid", deliver="nonsense", assurance=95, portions=0)


# ----------------------------------------------------------------------------------------------------- cautions printed
NEVER = {
    "hypochlorite": "Never dispense hypochlorite into acid, ammonia",
    "acid": "Never dispense acid into hypochlorite",
    "alkali": "Never dispense alkali into concentrated acid",
    "ammonia": "Never dispense ammonia into hypochlorite",
}


@pytest.mark.parametrize("name", REAGENTS)
@pytest.mark.parametrize("into", [None, "the grey bucket"])
def test_into_anything_but_water_the_caution_comes_before_the_volumes(name: str, into: str | None) -> None:
    found = dosed(name, into=into)
    for page in (str(found), found._repr_html_(), found._repr_latex_()):
        assert page.index(f"CAUTION: {NEVER[REAGENTS[name].kind]}") < page.index("nominal")
    assert "CAUTION" not in str(dosed(name, into="water"))


@pytest.mark.parametrize("name", REAGENTS)
def test_the_cautions_of_a_dose_are_those_of_its_kind_and_then_the_rules_of_the_place(name: str) -> None:
    kind = REAGENTS[name].kind
    told = dosed(name).cautions()
    assert told == cautions(f"dosing {kind}") + cautions("local codes")
    assert told[0].startswith(NEVER[kind])
    assert any("Label what was made" in line for line in told)
    assert "licensed for the work" in told[-1]


@pytest.mark.parametrize("kind", ["acid", "alkali"])
def test_the_strong_liquid_goes_into_the_water(kind: str) -> None:
    assert any("into the water, slowly and with stirring" in line for line in cautions(f"dosing {kind}"))
    assert any("never water" in line for line in cautions(f"handling {kind}"))


@pytest.mark.parametrize("name", REAGENTS)
def test_every_form_names_the_reagent_and_its_volumes(name: str) -> None:
    found = dosed(name, dispenser=CYLINDER)
    for page in (str(found), repr(found), found._repr_html_(), found._repr_latex_()):
        assert f"Dose of {name}" in page
        for volume in found.volumes:
            assert f"{1000 * volume.volume:g} mL" in page
