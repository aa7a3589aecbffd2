"""What a dose may go into: products by the names on their labels, the reason that is told, and what water is."""

from __future__ import annotations

import pytest

from assay import Cylinder, Estimate, IncompatibleMixtureError, Influence, Strength, dose
from assay.dosing.incompatible import is_water, refuse_incompatible
from assay.dosing.volumes import Dose
from assay.substances.species import SPECIES

BOILS, SPATTERS = "neutralise each other violently", "water heats it so fast"

REFUSED = [
    *(("acid", into, "water heats it so fast that the liquid boils") for into in (
        "battery acid", "car battery acid", "strong sulfuric acid", "muriatic acid", "neat nitric acid",
        "oil of vitriol", "undiluted HCl", "spirits of salt", "muriatic acid 31 %",
    )),
    *(("acid", into, BOILS) for into in (
        "saturated caustic", "strong caustic", "concentrated caustic", "saturated sodium hydroxide",
        "sodium hydroxide, saturated", "strong alkali", "saturated NaOH", "neat caustic soda", "strong ammonia",
    )),
    *(("acid", into, "chlorine gas") for into in (
        "permanganate", "potassium permanganate", "KMnO4", "kmno4", "KMnO₄", "acidified permanganate solution",
    )),
    *(("acid", into, "chlorine gas") for into in (
        "pool shock", "shock treatment", "pool tablets", "swimming pool granules", "spa chemicals", "sanitiser tablets",
        "sanitizer tablets", "sterilising tablets", "sanitiser", "a disinfectant",
    )),
    *(("alkali", into, BOILS) for into in (
        "strong acid", "a strong acid", "muriatic acid", "battery acid", "strong hydrochloric acid", "spirits of salt",
        "Muriatic Acid 20 degree 31.45 %",
    )),
    *(("hypochlorite", into, "chlorine gas") for into in (
        "rust remover", "limescale remover", "lime scale remover", "descaling liquid", "iron(III) chloride",
        "iron(III)chloride solution", "aluminium sulfate", "aluminum sulphate", "Fe(NO3)3", "spirits of salt",
        "oil of vitriol", "disinfectant", "sanitiser",
    )),
    *(("hypochlorite", into, "noxious gases") for into in (
        "benzalkonium chloride", "benzalkonium", "quaternary disinfectant", "cetrimide",
    )),
    *(("hypochlorite", into, "alkyl hypochlorite") for into in (
        "methanol", "ethanol 96 %", "isopropanol", "rubbing alcohol", "alcohol", "alcoholic dye solution",
        "methylated spirit", "CH3OH", "EtOH", "ethylene glycol", "antifreeze",
    )),
    *(("hypochlorite", into, "chloroform") for into in (
        "acetone", "acetone, technical", "methyl ethyl ketone", "butanone",
    )),
    *(("hypochlorite", into, "chlorinated or explosive products") for into in (
        "paint thinner", "petrol", "solvent waste",
    )),
    *(("hypochlorite", into, "oxygen") for into in (
        "hydrogen peroxide", "hydrogen peroxide 3 %", "H2O2", "H₂O₂", "sodium percarbonate",
    )),
    *(("ammonia", into, "silver compounds that explode") for into in (
        "silver nitrate", "silver oxide", "AgNO3", "AgNO₃", "Ag2O", "Tollens reagent",
    )),
    *(("ammonia", into, "explosive compounds") for into in (
        "mercury", "mercury(II) chloride", "HgCl2", "mercuric oxide",
    )),
    *(("ammonia", into, "nitrogen triiodide") for into in (
        "iodine", "iodine crystals", "triiodide", "I₂", "Lugol's solution",
    )),
    *(("ammonia", into, "chloramines") for into in ("pool tablets", "pool shock", "sanitiser tablets", "disinfectant")),
    *(("ammonia", into, BOILS) for into in ("muriatic acid", "battery acid", "strong acid")),
]  # fmt: skip

ALLOWED = [
    ("acid", "pool water"), ("acid", "dilute muriatic acid"), ("acid", "muriatic acid, 10 %"), ("acid", "lime water"),
    ("acid", "saturated sodium chloride"), ("acid", "saturated lime water"), ("acid", "permanganate-free water"),
    ("acid", "manganese sulfate"), ("acid", "alcohol"), ("acid", "a shocking pink dye"),
    ("alkali", "dilute muriatic acid"), ("alkali", "5 % battery acid"), ("alkali", "1 mol/L muriatic acid"),
    ("hypochlorite", "pool water"), ("hypochlorite", "sodium sulfate"), ("hypochlorite", "calcium chloride"),
    ("hypochlorite", "alcohol-free water"), ("hypochlorite", "peroxide-free water"), ("hypochlorite", "a clean pan"),
    ("hypochlorite", "water at pH 9"), ("hypochlorite", "potassium chloride"), ("hypochlorite", "food colour"),
    ("ammonia", "copper nitrate"), ("ammonia", "pool water"), ("ammonia", "silver-free water"),
    ("ammonia", "HgO-free water"),
]  # fmt: skip


@pytest.mark.parametrize(("reagent", "into", "reason"), REFUSED)
def test_refused_with_the_reason_that_is_right_for_it(reagent: str, into: str, reason: str) -> None:
    with pytest.raises(IncompatibleMixtureError) as caught:
        refuse_incompatible(into, reagent=reagent)
    assert reason in str(caught.value)
    assert caught.value.given == into


@pytest.mark.parametrize(("reagent", "into"), ALLOWED)
def test_let_through(reagent: str, into: str) -> None:
    refuse_incompatible(into, reagent=reagent)


def test_an_acid_is_not_an_alcohol_by_its_old_name() -> None:
    """Spirits of salt is hydrochloric acid: chlorine gas, and no word of alkyl hypochlorites."""
    with pytest.raises(IncompatibleMixtureError) as caught:
        refuse_incompatible("spirits of salt", reagent="hypochlorite")
    assert "alkyl" not in str(caught.value)


# --------------------------------------------------------------------------------------------------------------- water
WATERS = [
    "water", "Water", "H2O", "H₂O", "distilled water", "deionised water", "deionized water", "demineralised water",
    "tap water", "mains water", "cold tap water", "500 mL of water", "500 mL water", "0.5 L of deionised water",
    "distilled water 500 mL", "purified water", "boiled and cooled water", "ice water", "drinking water",
    "CO2-free water",
]  # fmt: skip
OTHERS = [
    "swimming pool water", "pool water", "tap water with acid", "water and acid", "acid in water", "sea water",
    "soapy water", "waste water", "water from the grey bucket", "watercolour", "ammonia water", "lime water",
    "salt water", "bath water", "rinse water", "water?", "acidified water", "the grey bucket", "bromine water",
    "water bath", "well water",
]  # fmt: skip


@pytest.mark.parametrize("into", WATERS)
def test_water_is_water(into: str) -> None:
    assert is_water(into)


@pytest.mark.parametrize("into", OTHERS)
def test_what_has_water_in_its_name_is_not_water(into: str) -> None:
    assert not is_water(into)


def dosed(into: str, name: str) -> Dose:
    influence = Influence(id="bottle", label="bottle", value=1.5, u=0.002)
    strength = Strength(species=SPECIES[name], estimate=Estimate.from_influence(influence, name="amount_concentration"))
    cylinder = Cylinder("C100", capacity="100 mL", subdivision="1 mL")
    return dose(strength, deliver=f"0.06 mol {SPECIES[name].entity}", dispenser=cylinder, into=into)


@pytest.mark.parametrize(
    ("name", "into"),
    [
        ("hypochlorite", "swimming pool water"),
        ("hydrochloric acid", "tap water with acid"),
        ("sodium hydroxide", "waste water"),
        ("ammonia", "water of the fish tank"),
    ],
)
def test_the_caution_comes_first_unless_it_is_water_alone(name: str, into: str) -> None:
    assert str(dosed(into, name)).startswith("CAUTION: Never dispense")
    assert "CAUTION" not in str(dosed("deionised water", name))
