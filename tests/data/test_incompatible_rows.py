"""What the rows of the table of incompatible mixtures recognise, reagent by reagent, and what they let through."""

from __future__ import annotations

import pytest

from assay.data import facts
from assay.dosing.incompatible import refuse_incompatible
from assay.errors import DataError, IncompatibleMixtureError

INTO_CONCENTRATED_ACID = [
    "concentrated sulfuric acid", "sulfuric acid, concentrated", "conc. HCl", "conc H2SO4", "Concentrated Nitric Acid",
    "oleum", "fuming nitric acid", "hydrochloric acid (conc.)",
]  # fmt: skip
INTO_CONCENTRATED_ALKALI = [
    "concentrated sodium hydroxide", "conc. NaOH", "concentrated caustic soda", "caustic, concentrated",
    "concentrated alkaline liquor",
    "sodium hydroxide pellets", "caustic soda flakes", "solid KOH", "lye beads", "quicklime",
]  # fmt: skip

REFUSED = [
    *(("acid", into, "chlorine gas") for into in (
        "hypochlorite", "sodium hypochlorite solution", "hypochlorites", "household bleach", "bleaching powder",
        "chlorinated lime", "pool chlorine", "NaOCl", "NaClO", "Ca(OCl)2", "Ca(ClO)2", "OCl-", "eau de Javel",
        "trichloroisocyanurate", "sodium dichloroisocyanurate", "NaDCC tablets", "a cleaner", "chloramine T",
    )),
    *(("acid", into, "chlorine dioxide") for into in ("sodium chlorite", "potassium chlorate", "NaClO2")),
    *(("acid", into, "hydrogen cyanide") for into in ("potassium cyanide", "KCN", "cyanide waste")),
    *(("acid", into, "hydrogen sulfide") for into in (
        "sodium sulfide", "sodium sulphide", "sodium hydrosulfide", "Na2S", "lime sulfur", "liver of sulphur",
    )),
    *(("acid", into, "sulfur dioxide") for into in (
        "sodium sulfite", "sodium bisulphite", "metabisulfite", "Na2SO3", "thiosulfate", "sodium thiosulphate",
        "Na2S2O3", "hypo",
    )),
    *(("acid", into, "nitrogen oxides") for into in ("sodium nitrite", "NaNO2")),
    *(("acid", into, "hydrazoic acid") for into in ("sodium azide", "NaN3")),
    *(("acid", into, "neutralise each other violently") for into in INTO_CONCENTRATED_ALKALI),
    *(("acid", into, "neutralise each other violently") for into in ("concentrated ammonia", "conc. NH3")),
    *(("acid", into, "spatter") for into in INTO_CONCENTRATED_ACID),
    *(("ammonia", into, "chloramines") for into in ("hypochlorite", "bleach", "NaOCl", "Ca(OCl)2", "kitchen cleaner")),
    *(("ammonia", into, "nitrogen triiodide") for into in ("iodine", "tincture of iodine", "povidone-iodine", "I2")),
    *(("ammonia", into, "neutralise each other violently") for into in INTO_CONCENTRATED_ACID),
    *(("ammonia", into, "spatter") for into in INTO_CONCENTRATED_ALKALI),
    *(("alkali", into, "neutralise each other violently") for into in INTO_CONCENTRATED_ACID),
    ("alkali", "glacial acetic acid", "neutralise each other violently"),
    *(("alkali", into, "ammonia gas") for into in (
        "ammonium chloride", "NH4Cl", "(NH4)2SO4", "ammonium nitrate solution", "fertiliser",
    )),
    *(("alkali", into, "hydrogen") for into in ("an aluminium pan", "aluminum", "galvanised bucket", "zinc dust")),
    *(("alkali", into, "spatter") for into in INTO_CONCENTRATED_ALKALI),
    *(("hypochlorite", into, "chlorine gas") for into in INTO_CONCENTRATED_ACID if "acid" in into or "H" in into),
    *(("hypochlorite", into, "spatter") for into in (*INTO_CONCENTRATED_ALKALI, "oleum", "drain opener")),
    *(("hypochlorite", into, "chlorine gas") for into in (
        "hydrogen chloride", "aqua regia", "HCOOH", "sodium hydrogen sulfate",
    )),
]  # fmt: skip

ALLOWED = [
    ("acid", "water"), ("acid", "deionised water"), ("acid", "0.1 mol/L NaOH"), ("acid", "sodium hydroxide solution"),
    ("acid", "caustic soda, 4 % w/w"), ("acid", "sodium carbonate"), ("acid", "dilute ammonia"), ("acid", "NaCl"),
    ("acid", "dechlorinated water"), ("acid", "chlorine-free water"), ("acid", "sodium sulfate"), ("acid", "ice"),
    ("acid", "chloride solution"), ("acid", "potassium perchlorate"), ("acid", "dilute hydrochloric acid"),
    ("ammonia", "water"), ("ammonia", "0.5 mol/L sulfuric acid"), ("ammonia", "dilute HCl"),
    ("ammonia", "potassium iodide"), ("ammonia", "copper sulfate solution"), ("ammonia", "ammonium chloride buffer"),
    ("alkali", "water"), ("alkali", "0.1 mol/L HCl"), ("alkali", "acetic acid of low concentration"),
    ("alkali", "potassium hydrogen phthalate"), ("alkali", "ammonium-free water"), ("alkali", "zinc sulfate solution"),
    ("alkali", "hypochlorite"),
    ("hypochlorite", "0.1 mol/L NaOH"), ("hypochlorite", "sodium hydroxide solution"),
    ("hypochlorite", "a dye solution"),
]  # fmt: skip


@pytest.mark.parametrize(("reagent", "into", "hazard"), REFUSED)
def test_refused_with_its_hazard(reagent: str, into: str, hazard: str) -> None:
    with pytest.raises(IncompatibleMixtureError, match=hazard) as caught:
        refuse_incompatible(into, reagent=reagent)
    assert str(caught.value).count(f"{reagent} is never dispensed into") == 1


@pytest.mark.parametrize(("reagent", "into"), ALLOWED)
def test_allowed(reagent: str, into: str) -> None:
    refuse_incompatible(into, reagent=reagent)


def test_each_reagent_has_rows_of_its_own_before_those_of_any_aqueous_liquid() -> None:
    with pytest.raises(IncompatibleMixtureError, match="neutralise"):
        refuse_incompatible("conc. sulfuric acid", reagent="alkali")
    assert facts("incompatible").select(dispensed="aqueous")


@pytest.mark.parametrize("reagent", ["hydrochloric acid", "caustic", "Hypochlorite", ""])
def test_a_reagent_that_the_table_does_not_know_is_not_let_through(reagent: str) -> None:
    with pytest.raises(DataError, match="incompatible"):
        refuse_incompatible("water", reagent=reagent)
