"""What cannot be: strengths that no bottle holds, strengths above their label, and things in each other's place."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable

import pytest

from assay import (
    Balance,
    BlockedResultError,
    Burette,
    Cylinder,
    DataError,
    Dilution,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Sampling,
    SheetError,
    Strength,
    Titrant,
    Titre,
    Weighing,
    assay_acid_base,
    assay_hypochlorite,
    dose,
    measured_density,
)
from assay.data import table, text_resource
from assay.sheet.run import run_text
from assay.substances.species import SPECIES

SAMPLED = Sampling(method="bottle inverted", delay="10 min")
# g/mol from the standard atomic weights of 2021.
MASS = {
    "hydrochloric acid": 36.458, "sulfuric acid": 98.072, "nitric acid": 63.012, "acetic acid": 60.052,
    "sodium hydroxide": 39.9968, "potassium hydroxide": 56.1053, "ammonia": 17.031, "hypochlorite": 70.90,
}  # fmt: skip
EQUIVALENTS = {"sulfuric acid": 2, "hypochlorite": 2}
INDICATOR = {"acetic acid": "phenolphthalein", "ammonia": "methyl red"}


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def weighed(grams: float) -> Weighing:
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    return balance.by_difference(f"{100 + grams:.4f} g", "100.0000 g")


def pipette(millilitres: int = 10) -> Pipette:
    return Pipette(f"P{millilitres}", capacity=f"{millilitres} mL", accuracy_class="A")


def flask(millilitres: int = 250) -> Flask:
    return Flask(f"F{millilitres}", capacity=f"{millilitres} mL", accuracy_class="A")


def titrant(species: str) -> Titrant:
    name = SPECIES[species].titrant
    influence = Influence(id=f"bottle/{name}", label=name, value=0.1, u=0.0001)
    return Titrant(name=name, estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def holding(percent: float, species: str, **options: object) -> Strength:
    """Return the assay of a sample of which 10 mL of 250 mL take 20.00 mL of 0.1 mol/L, weighed to hold so much w/w."""
    millimoles = 2.0 / EQUIVALENTS.get(species, 1) * 25.0
    grams = millimoles * MASS[species] / 1000.0 / (percent / 100.0)
    return assayed(species, [Dilution(weighed(grams), flask())], **options)


def per_litre(moles: float, species: str, **options: object) -> Strength:
    """Return the assay of a sample that holds so many mol/L, diluted twice from 10 mL to 250 mL."""
    final = moles / 625.0 * EQUIVALENTS.get(species, 1) * 10.0 / 0.1
    return assayed(species, [Dilution(pipette(), flask())] * 2, final=final, **options)


def assayed(species: str, dilutions: list[Dilution], *, final: float = 20.0, **options: object) -> Strength:
    whole: dict[str, object] = {
        "aliquot": pipette(), "titres": titres(final, final + 0.01), "blank": titres(0.0, 0.0), "dilutions": dilutions,
        "sampling": SAMPLED, **options,
    }  # fmt: skip
    if species == "hypochlorite":
        return assay_hypochlorite(titrant(species), **whole)  # type: ignore[arg-type]
    end_point = EndPoint(INDICATOR.get(species, "phenolphthalein"), operator="K")
    return assay_acid_base(titrant(species), species, end_point=end_point, **whole)  # type: ignore[arg-type]


def message_of(found: Strength, code: str) -> str:
    (flag,) = (flag for flag in found.flags if flag.code == code)
    return flag.message


def codes(found: Strength) -> set[str]:
    return {flag.code for flag in found.flags} - {"carbonate-counted"}


# ---------------------------------------------------------------------------------------------------- more than is sold
def test_hydrochloric_acid_of_84_per_cent_is_no_acid_in_water() -> None:
    density = measured_density("1.19 g/mL", half_width="0.01 g/mL", temperature="20 °C")
    found = holding(84.0, "hydrochloric acid", density=density)
    assert found.in_basis("% w/w HCl").value == pytest.approx(84.0, rel=0.002)
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("implausible-strength", True)
    assert flag.message.startswith("the strength found, 84 % w/w HCl, is above 40 % w/w HCl, more than is sold.")
    with pytest.raises(BlockedResultError, match="implausible-strength"):
        dose(
            found, deliver="0.1 mol HCl", into="water",
            dispenser=Cylinder("C25", capacity="25 mL", subdivision="0.5 mL"),
        )  # fmt: skip


@pytest.mark.parametrize(
    ("species", "ceiling"),
    [
        ("hydrochloric acid", 40.0),
        ("ammonia", 36.0),
        ("hypochlorite", 20.0),
        ("sulfuric acid", 100.0),
        ("nitric acid", 100.0),
        ("acetic acid", 100.0),
        ("sodium hydroxide", 100.0),
        ("potassium hydroxide", 100.0),
    ],
)
def test_a_weighed_sample_has_a_ceiling_too(species: str, ceiling: float) -> None:
    assert codes(holding(0.98 * ceiling, species)) == set()
    above = holding(1.02 * ceiling, species)
    assert codes(above) == {"implausible-strength"}
    told = message_of(above, "implausible-strength")
    assert f"is above {ceiling:g} {SPECIES[species].basis_by_mass.key}" in told
    assert ("the pure substance" in told) == (ceiling == 100.0)


def test_weighed_portions_have_the_same_ceiling() -> None:
    grams = 0.002 * MASS["hydrochloric acid"] / 0.84
    found = assay_acid_base(
        titrant("hydrochloric acid"), "hydrochloric acid", sampling=SAMPLED, blank=titres(0.0, 0.0),
        portions=[(weighed(grams), titre) for titre in titres(20.0, 20.01)],
        end_point=EndPoint("phenolphthalein", operator="K"),
    )  # fmt: skip
    assert codes(found) == {"implausible-strength"}


def test_the_ceilings_by_mass_and_by_volume_are_of_one_solution() -> None:
    """A reagent sold as a solution: its ceiling by mass, with the density in the table, is that by volume to 5 %."""
    for name in ("hydrochloric acid", "ammonia"):
        species = SPECIES[name]
        rows = [row for row in table("solution_density").rows if row.index["solute"] == species.entity]
        densest = min(rows, key=lambda row: abs(float(row.index["mass_percent"]) - species.ceiling_by_mass))
        grams = 10.0 * species.ceiling_by_mass * densest.value
        assert grams == pytest.approx(species.ceiling, rel=0.05)
        strongest = max(float(row.index["mass_percent"]) for row in rows)
        assert strongest <= species.ceiling_by_mass


@pytest.mark.parametrize("source", ["calcium hypochlorite", "trichloroisocyanuric acid"])
def test_a_solid_source_of_chlorine_may_hold_more_than_liquor(source: str) -> None:
    assert "implausible-strength" not in codes(holding(65.0, "hypochlorite", source=source))
    assert "implausible-strength" in codes(holding(65.0, "hypochlorite"))
    assert "implausible-strength" in codes(holding(103.0, "hypochlorite", source=source))


# ------------------------------------------------------------------------------------------------------ above its label
def test_a_strength_by_mass_is_compared_with_a_label_by_mass() -> None:
    found = holding(35.6, "hydrochloric acid", label="31 % w/w HCl")
    assert codes(found) == {"above-label"}
    assert message_of(found, "above-label").startswith("the strength found is 115 % of the label's 31 % w/w HCl, above")
    assert codes(holding(31.0, "hydrochloric acid", label="31 % w/w HCl")) == set()
    assert codes(holding(28.0, "hydrochloric acid", label="31 % w/w HCl")) == set()


@pytest.mark.parametrize("label", ["5 % w/w NaOCl", "4.763 % w/w available chlorine", "47630 mg/kg available chlorine"])
def test_in_whatever_basis_by_mass_the_label_is(label: str) -> None:
    """5 g of NaOCl, 74.44 g/mol, count for 4.763 g of chlorine."""
    assert codes(holding(4.763, "hypochlorite", label=label)) == set()
    assert "105 % of the label's" in message_of(holding(1.05 * 4.763, "hypochlorite", label=label), "above-label")


def test_a_label_by_volume_is_compared_by_the_density_of_a_fresh_solution() -> None:
    """30 % w/w hydrochloric acid weighs 1.1492 g/mL: 344.8 g/L."""
    assert codes(holding(30.0, "hydrochloric acid", label="345 g/L HCl")) == set()
    told = message_of(holding(30.0, "hydrochloric acid", label="300 g/L HCl"), "above-label")
    assert told.startswith("the strength found is 115 % of the label's 300 g/L HCl, by the density of a fresh solution")


def test_where_no_density_is_known_mass_is_still_compared_with_mass() -> None:
    """There is no table of nitric acid, and that of sodium hydroxide ends before pellets begin."""
    assert codes(holding(65.0, "nitric acid", label="65 % w/w HNO3")) == set()
    assert codes(holding(70.0, "nitric acid", label="65 % w/w HNO3")) == {"above-label"}
    assert codes(holding(70.0, "nitric acid", label="700 g/L HNO3")) == set()  # not comparable
    assert codes(holding(97.0, "sodium hydroxide", label="98 % w/w NaOH")) == set()
    assert codes(holding(97.0, "sodium hydroxide", label="90 % w/w NaOH")) == {"above-label"}
    assert "label strength" not in holding(65.0, "nitric acid", label="65 % w/w HNO3").facts


def test_such_a_label_does_not_stop_the_dose() -> None:
    found = holding(65.0, "nitric acid", label="65 % w/w HNO3")
    with pytest.raises(DataError, match="no table of densities"):
        found.assuming_density()
    cylinder = Cylinder("C25", capacity="25 mL", subdivision="0.5 mL")
    given = per_litre(10.0, "hydrochloric acid", label="400 g/L HCl")
    assert dose(given, deliver="0.1 mol HCl", into="water", dispenser=cylinder).by_label is not None


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: per_litre(10.0, "nitric acid", label="65 % w/w HNO3"), DataError, ["label", "no table of densities"]),
        (lambda: holding(30.0, "hydrochloric acid", label="61 % w/w HCl"), DomainError, ["'61 % w/w HCl'", "40 % w/w"]),
        (lambda: holding(90.0, "nitric acid", label="0 % w/w HNO3"), DomainError, ["label", "above zero"]),
    ],
)
def test_a_label_that_cannot_be_is_still_refused(
    call: Callable[[], object], error: type[Exception], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)


def test_by_volume_all_is_as_before() -> None:
    assert codes(per_litre(10.0, "hydrochloric acid", label="365 g/L HCl")) == set()
    told = message_of(per_litre(10.0, "hydrochloric acid", label="330 g/L HCl"), "above-label")
    assert "of the label's 330 g/L HCl, above" in told
    assert codes(per_litre(13.5, "hydrochloric acid")) == {"implausible-strength"}


# ------------------------------------------------------------------------------------------------------------ the sheet
def test_on_a_sheet_a_stronger_acid_than_its_label_is_told_and_an_impossible_one_stops() -> None:
    demo = text_resource("demo_acid.toml")
    # The portion is 6.194 g and holds 29.7 % w/w; a lighter one holds as much more.
    for tare, code in (("147.2500 g", "above-label"), ("150.2100 g", "implausible-strength")):
        assert demo.count('tare = "146.2100 g"') == 1
        text = demo.replace('tare = "146.2100 g"', f'tare = "{tare}"')
        measured = 'density = { value = "1.19 g/mL", half_width = "0.01 g/mL", temperature = "20 °C" }'
        text = text.replace("density = { assumed = true }", measured)
        if code == "above-label":
            assert code in codes(run_text(text, name="bench.toml").strengths["hardware acid"])
        else:
            with pytest.raises(SheetError, match=code):
                run_text(text, name="bench.toml")


def test_on_a_sheet_a_label_by_mass_needs_no_density_beside_a_weighed_sample() -> None:
    text = text_resource("demo_acid.toml")
    for old, new in (
        ('species = "hydrochloric acid"', 'species = "nitric acid"'),
        ('label = "31 % w/w HCl"', 'label = "65 % w/w HNO3"'),
        ("density = { assumed = true }\n", ""),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    text = text[: text.index("[[dose]]")]
    found = run_text(text, name="bench.toml").strengths["hardware acid"]
    # 29.7 % w/w as HCl are 51.4 % as HNO3.
    assert found.in_basis("% w/w HNO3").value == pytest.approx(51.4, abs=0.5)
    assert codes(found) == set()


# -------------------------------------------------------------------------------------------- things in the wrong place
@pytest.mark.parametrize(
    ("taken", "made_up", "says"),
    [
        (flask(250), pipette(), ["taken", "flask F250", "a Pipette, or a Weighing", "exchanged"]),
        (flask(250), weighed(1.0), ["taken", "flask F250", "exchanged"]),
        (flask(100), flask(250), ["taken", "flask F100", "a Pipette, or a Weighing", "Dilution(pipette, flask)"]),
        (pipette(10), pipette(25), ["flask", "pipette P25", "a Flask"]),
        ("P10", flask(), ["taken = 'P10'", "a Pipette"]),
        (pipette(), "F250", ["flask = 'F250'", "a Flask"]),
        (pipette(), None, ["flask", "a Flask"]),
        (Cylinder("C25", capacity="25 mL", subdivision="0.5 mL"), flask(), ["taken", "cylinder C25"]),
    ],
)
def test_a_dilution_takes_a_pipette_or_a_weighing_and_makes_it_up_in_a_flask(
    taken: object, made_up: object, says: list[str]
) -> None:
    with pytest.raises(DataError) as caught:
        Dilution(taken, made_up)  # type: ignore[arg-type]
    for words in says:
        assert words in str(caught.value)


def test_a_demo_and_a_file_at_once_are_refused() -> None:
    command = (sys.executable, "-X", "utf8", "-W", "error", "-m", "assay", "--demo", "acid", "nofile.toml")
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False, timeout=60)
    assert (done.returncode, done.stdout) == (2, "")
    assert "'nofile.toml' would not be read" in done.stderr
