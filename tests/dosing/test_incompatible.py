"""What hypochlorite must never be dispensed into, as people write it, and what it may."""

from __future__ import annotations

import pytest

from assay import Cylinder, Estimate, IncompatibleMixtureError, Influence, Strength, dose
from assay.dosing.incompatible import refuse_incompatible
from assay.substances.species import HYPOCHLORITE

ACIDS = [
    "acid", "acids", "an acid", "Acid", "ACID", "weak acids", "acidified water", "acidic water", "battery acid",
    "hydrochloric acid", "Hydrochloric Acid", "hydrochloric", "muriatic acid", "hydrogen chloride", "sulfuric acid",
    "sulphuric acid", "nitric acid", "phosphoric acid", "acetic acid", "acetic acid 5 %", "glacial acetic acid",
    "citric acid", "oxalic acid", "formic acid", "0.1 mol/L hydrochloric acid", "water with a little acid", "vinegar",
    "lemon juice", "aqua regia", "descaler", "toilet cleaner", "sodium bisulfate", "sodium hydrogen sulfate",
    "sodium hydrogensulfate", "alum", "ferric chloride",
    "HCl", "hcl", "HCL", "dilute HCl", "dilute HCl(aq)", "HCl (aq)", "conc. HCl", "1 M HCl", "0.1M HCl", "2 mol/L HCl",
    "HCl 37 %", "HCl37%", "HCl/NaCl", "water + HCl", "(HCl)", "HCl.", "HBr", "HF", "HI", "HNO3", "HNO₃", "hno3",
    "H2SO4", "H₂SO₄", "h2so4", "H2SO4(conc.)", "0.05 mol/L H2SO4", "H3PO4", "H₃PO₄", "HClO4", "CH3COOH", "ch3cooh",
    "CH₃COOH", "CH3CO2H", "HCOOH", "AcOH", "HOAc", "C6H8O7", "NaHSO4", "KHSO4", "FeCl3", "Al2(SO4)3",
]  # fmt: skip

AMMONIA_AND_ITS_SALTS = [
    "ammonia", "Ammonia", "AMMONIA", "household ammonia", "ammonia water", "aqueous ammonia 25 %", "ammoniacal liquor",
    "ammonium chloride", "Ammonium Chloride", "ammonium sulfate", "ammonium nitrate solution", "ammonium hydroxide",
    "sal ammoniac", "quaternary ammonium disinfectant", "tetramethylammonium hydroxide", "fertiliser", "fertilizer",
    "NH3", "nh3", "NH₃", "NH3(aq)", "NH3 (aq)", "aqueous NH3", "2 M NH3", "NH4OH", "NH4Cl", "nh4cl", "NH₄Cl",
    "NH4Cl solution", "NH4Cl(aq)", "(NH4)2SO4", "(NH₄)₂SO₄", "NH4NO3", "(NH4)2CO3", "NH4+",
]  # fmt: skip

AMINES_AND_UREA = [
    "amine", "amines", "triethylamine", "Triethylamine", "methylamine hydrochloride", "ethanolamine", "hydroxylamine",
    "ethylenediamine", "aniline", "hydrazine", "amino acids", "glycine", "tris buffer", "guanidine hydrochloride",
    "CH3NH2", "CH₃NH₂", "ch3nh2", "(CH3)2NH", "(CH3)3N", "(C2H5)3N", "N(CH3)3", "C6H5NH2", "H2NCH2CH2NH2",
    "urea", "Urea", "UREA", "urea solution", "5 % urea", "carbamide", "urine", "CO(NH2)2", "CO(NH₂)₂", "co(nh2)2",
    "(NH2)2CO", "CH4N2O", "H2NCONH2",
]  # fmt: skip

ALLOWED = [
    "water", "Water", "tap water", "deionised water", "distilled water 500 mL", "500 mL of water", "ice", "pool water",
    "dye solution", "methylene blue solution", "Brilliant Blue dye", "acid-free water", "acid free water",
    "ammonia-free water", "water free of ammonia", "water free from acid", "water free from acid and ammonia",
    "urea-free water", "HCl-free water", "sodium hydroxide", "NaOH", "0.1 mol/L NaOH", "sodium carbonate", "Na2CO3",
    "sodium chloride", "NaCl", "NaCl solution", "brine", "potassium iodide", "KI", "sodium hydrogencarbonate", "NaHCO3",
    "phosphate buffer pH 7", "Na2HPO4", "a glass beaker", "hypochlorite", "H2O", "H₂O", "CO2 free water",
    "dye solution(clear)", "Na2SO4·nH2O", "zinc sulfate", "ammeter bath",
]  # fmt: skip


@pytest.mark.parametrize("into", [*ACIDS, *AMMONIA_AND_ITS_SALTS, *AMINES_AND_UREA])
def test_refused_by_name(into: str) -> None:
    with pytest.raises(IncompatibleMixtureError, match="hypochlorite is never dispensed into") as caught:
        refuse_incompatible(into, reagent="hypochlorite")
    assert caught.value.given == into
    assert caught.value.argument == "into"
    assert "No dose is given" in caught.value.remedy


@pytest.mark.parametrize("into", ALLOWED)
def test_allowed(into: str) -> None:
    refuse_incompatible(into, reagent="hypochlorite")


@pytest.mark.parametrize(
    "into", ["acid-free ammonia", "ammonia-free hydrochloric acid", "water free of iron, with acid", "dust free acid"]
)
def test_what_is_absent_does_not_hide_what_is_there(into: str) -> None:
    with pytest.raises(IncompatibleMixtureError):
        refuse_incompatible(into, reagent="hypochlorite")


@pytest.mark.parametrize(
    ("into", "hazard"),
    [
        ("hydrochloric acid", "chlorine gas"),
        ("household ammonia", "chloramines"),
        ("NH4Cl", "nitrogen trichloride"),
        ("triethylamine", "chloramines"),
        ("urea", "nitrogen trichloride"),
    ],
)
def test_the_hazard_is_named(into: str, hazard: str) -> None:
    with pytest.raises(IncompatibleMixtureError, match=hazard):
        refuse_incompatible(into, reagent="hypochlorite")


def test_no_dose_is_given_before_anything_else_is_looked_at() -> None:
    influence = Influence(id="drum", label="drum", value=2.0, u=0.02)
    strength = Strength(species=HYPOCHLORITE, estimate=Estimate.from_influence(influence, name="amount_concentration"))
    cylinder = Cylinder("C250", capacity="250 mL", subdivision="2 mL")
    with pytest.raises(IncompatibleMixtureError, match="ammonia"):
        dose(strength, deliver="nonsense", dispenser=cylinder, into="household ammonia")
