"""Thiosulfate against potassium dichromate, which needs acid and a wait in the dark."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import fmean

import pytest

from assay import (
    AssayError,
    Balance,
    Burette,
    DataError,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Pipette,
    PrimaryStandard,
    StandardSolution,
    Titrant,
    Titre,
    assay_acid_base,
    assay_hypochlorite,
    cautions,
    combine,
    report_text,
    standardise_by_aliquots,
    standardise_by_portions,
)
from assay.data import table, text_resource
from assay.sheet.run import run_text
from tests.titration.by_hand import Inputs, Value, delivered

Given = Mapping[str, Value]

FINALS = (24.90, 25.05, 24.95)  # mL
PORTIONS = [(0.1302, 26.60), (0.1251, 25.55), (0.1340, 27.30)]  # g, mL


def titres(*finals: float) -> list[Titre]:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    return [burette.titre(f"{final:.2f} mL") for final in finals]


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")


def dichromate(name: str = "potassium dichromate") -> PrimaryStandard:
    return PrimaryStandard(name, lot="D3", purity="99.95 % w/w", half_width="0.05 % w/w")


def p25() -> Pipette:
    return Pipette("P25", capacity="25 mL", accuracy_class="A")


def by_aliquots(standard: PrimaryStandard | None = None, mass: float = 1.2255, **options: object) -> Titrant:
    solution = StandardSolution(
        standard=standard or dichromate(),
        weighing=balance().by_difference(f"{10 + mass:.4f} g", "10.0000 g"),
        flask=Flask("F250", capacity="250 mL", accuracy_class="A"),
    )
    return standardise_by_aliquots(solution, aliquot=p25(), titres=titres(*FINALS), **options)


def bench() -> Inputs:
    return (
        Inputs()
        .atomic_weights("K", "Cr", "O")
        .within("purity", 0.9995, 0.0005)
        .within("gross", 0.0, 0.00015)
        .within("tare", 0.0, 0.00015)
        .burette("B1")
        .within("P25", 25.0, 0.03)
        .within("F250", 250.0, 0.15)
        .add("weighed gross", 0.0, 0.0001)
        .add("weighed tare", 0.0, 0.0001)
    )


def molar_mass(x: Given) -> Value:
    return 2 * x["K"] + 2 * x["Cr"] + 7 * x["O"]


def same(found: Estimate, inputs: Inputs, formula: Callable[[Given], Value]) -> None:
    assert found.value == pytest.approx(inputs.value(formula), rel=1e-11)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


# ------------------------------------------------------------------------------------------------------- value and u
def test_one_dichromate_takes_six_thiosulfate() -> None:
    """Cr2O7(2-) + 6 I- + 14 H+ → 2 Cr(3+) + 3 I2 + 7 H2O, and each I2 takes two thiosulfate."""
    standard = dichromate()
    assert (standard.formula, standard.titrant, standard.equivalents) == ("K2Cr2O7", "thiosulfate", 6.0)
    molar = 2 * 39.0983 + 2 * 51.9961 + 7 * 15.999
    found = by_aliquots(blank=titres(0.05))
    expected = 6.0 * 1.2255 * 0.9995 / molar * 0.1 / ((fmean(FINALS) - 0.05) / 1000.0)
    assert found.estimate.value == pytest.approx(expected, rel=1e-11)
    assert (found.name, found.flags) == ("thiosulfate", ())


def test_aliquots_against_a_formula_by_hand() -> None:
    found = by_aliquots().estimate
    inputs = bench().replicates("scatter", FINALS)

    def formula(x: Given) -> Value:
        mass = 1.2255 - x["gross"] + x["tare"] - x["weighed gross"] + x["weighed tare"]
        net = sum(delivered(x["B1"], v) for v in FINALS) / 3.0 + x["scatter"]
        return 6000 * mass * x["purity"] / molar_mass(x) * x["P25"] / x["F250"] / net

    same(found, inputs, formula)


def test_portions_against_a_formula_by_hand() -> None:
    found = standardise_by_portions(
        dichromate(),
        portions=[(balance().by_difference(f"{10 + m:.4f} g", "10.0000 g"), titres(v)[0]) for m, v in PORTIONS],
    )
    inputs = bench()

    def each(x: Given) -> list[Value]:
        per_gram = 6000 * x["purity"] / molar_mass(x)
        return [per_gram * (m - x["gross"] + x["tare"]) / delivered(x["B1"], v) for m, v in PORTIONS]

    values = [inputs.value(lambda x, k=k: each(x)[k]) for k in range(3)]
    inputs.portions("scatter", values, PORTIONS)
    same(found.estimate, inputs, lambda x: sum(each(x)) / 3.0 + x["scatter"])
    assert found.facts["standard"] == "potassium dichromate"


def test_iodate_and_dichromate_find_the_same_thiosulfate_and_share_the_bench() -> None:
    """Two standards for one bottle: what differs is purity, molar mass and weighing; flask, aliquot and scale go."""
    iodate = PrimaryStandard("KIO3", lot="A17", purity="99.95 % w/w", half_width="0.05 % w/w")
    mass = 1.2255 * (39.0983 + 126.90447 + 3 * 15.999) / (2 * 39.0983 + 2 * 51.9961 + 7 * 15.999)
    first, second = by_aliquots(record="d").estimate, by_aliquots(iodate, mass=round(mass, 4), record="i").estimate
    ratio = combine(lambda a, b: a / b, first, second)
    assert ratio.value == pytest.approx(1.0, abs=1e-4)
    shared = {"flask/F250/calibration", "pipette/P25/calibration", "burette/B1/calibration/25 mL"}
    assert shared <= set(first.influences) & set(second.influences)
    for id_ in shared:
        assert ratio.sensitivities[id_] == pytest.approx(0.0, abs=1e-9)
    apart = math.hypot(first.relative_u, second.relative_u)
    assert ratio.relative_u < apart
    # Both take six thiosulfate, so potassium and oxygen pull the same way: 2 K in the one, 1 K in the other.
    potassium = ratio.sensitivities["atomic-weight/ciaaw-2021/K"]
    assert potassium == pytest.approx(1.0 / (39.0983 + 126.90447 + 3 * 15.999) - 2.0 / 294.1816, rel=1e-3)


def test_hypochlorite_with_it_is_one_chain() -> None:
    found = assay_hypochlorite(by_aliquots(), aliquot=p25(), titres=titres(20.10, 20.25, 20.15)).estimate
    inputs = bench().replicates("scatter", FINALS)
    inputs.replicates("assay", (20.10, 20.25, 20.15))

    def formula(x: Given) -> Value:
        mass = 1.2255 - x["gross"] + x["tare"] - x["weighed gross"] + x["weighed tare"]
        net = sum(delivered(x["B1"], v) for v in FINALS) / 3.0 + x["scatter"]
        amount = sum(delivered(x["B1"], v) for v in (20.10, 20.25, 20.15)) / 3.0 + x["assay"]
        # The pipette took the aliquots of both: it goes.
        return 6000 * mass * x["purity"] / molar_mass(x) / x["F250"] / net * amount / 2.0

    same(found, inputs, formula)
    assert found.sensitivities["pipette/P25/calibration"] == pytest.approx(0.0, abs=1e-9)


# --------------------------------------------------------------------------------------------------------- procedure
def place(words: str) -> int:
    """Return the number of the only caution that says these words."""
    (found,) = (k for k, line in enumerate(cautions("dichromate")) if words in line)
    return found


def test_the_wait_in_the_dark_is_stated_and_comes_before_the_titration() -> None:
    dark = cautions("dichromate")[place("dark")]
    for words in ["iodide and acid added", "covered", "10 minutes"]:
        assert words in dark
    assert place("dark") < place("titrate at once")


def test_what_dichromate_does_to_people_and_drains_is_stated_first() -> None:
    assert place("causes cancer") == 0
    assert "drain" in cautions("dichromate")[place("heavy metal waste")]


SHEET = text_resource("demo_drum.toml")


def test_the_report_of_a_sheet_with_dichromate_prints_them() -> None:
    text = SHEET.replace("potassium iodate", "potassium dichromate")
    assert text != SHEET
    printed = {name: " ".join(report_text(run_text(sheet, name=name)).split()) for name, sheet in
               (("iodate", SHEET), ("dichromate", text))}  # fmt: skip
    for line in cautions("dichromate"):
        assert line in printed["dichromate"]
        assert line not in printed["iodate"]


def test_the_factor_of_the_table_is_that_of_its_source() -> None:
    """The source prints 49.04 mg for a milliequivalent of thiosulfate, which is the molar mass over six."""
    (row,) = (
        row
        for row in table("primary_standards").rows
        if row.index["formula"] == "K2Cr2O7" and row.index["quantity"].startswith("equivalents")
    )
    assert "49.04 mg" in row.note
    assert 294.1816 / row.value == pytest.approx(49.04, rel=2e-4)


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: dichromate("potassium dicromate"),
            DataError,
            ["primary standards", "'potassium dicromate'", "'potassium dichromate'"],
        ),
        (lambda: dichromate("sodium dichromate"), DataError, ["primary standards", "'potassium dichromate'"]),
        (
            lambda: assay_acid_base(
                by_aliquots(),
                "hydrochloric acid",
                aliquot=p25(),
                titres=titres(20.0, 20.1),
                end_point=EndPoint("phenolphthalein"),
            ),
            DomainError,
            ["titrated with sodium hydroxide", "'thiosulfate'"],
        ),
        (
            lambda: run_text(
                SHEET.replace("potassium iodate", "potassium bichromat"), name="demo.toml"
            ),
            AssayError,
            ["demo.toml", "potassium bichromat", "'potassium dichromate'"],
        ),
    ],
)  # fmt: skip
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)
