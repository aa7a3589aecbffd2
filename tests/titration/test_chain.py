"""The chain back to the primary standard, blanks set aside, and what a comparison shares."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from statistics import fmean

import pytest

from assay import (
    Balance,
    Burette,
    DataError,
    Dilution,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Influence,
    Pipette,
    PrimaryStandard,
    StandardSolution,
    Strength,
    Titrant,
    Titre,
    assay_acid_base,
    assay_hypochlorite,
    combine,
    load,
    report_json,
    report_text,
    save,
    standardise_by_aliquots,
    standardise_by_comparison,
    standardise_by_portions,
)
from assay.data import facts, text_resource
from assay.display.numbers import plus_minus
from assay.sheet.run import run_text
from tests.titration.by_hand import repeatability

BURETTE = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="B", read_to="0.05 mL")
BALANCE = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
P25, F250 = Pipette("P25", capacity="25 mL"), Flask("F250", capacity="250 mL")
EYE = EndPoint("phenolphthalein", operator="first bench")
KNOWN, FINALS = (25.00, 25.15, 25.05), (24.30, 24.45, 24.35)


def titres(*finals: float) -> list[Titre]:
    return [BURETTE.titre(f"{final:.2f} mL") for final in finals]


def rough(final: str) -> Titre:
    return BURETTE.titre(final, rough=True)


def thiosulfate(record: str | None = "d") -> Titrant:
    iodate = PrimaryStandard("KIO3", lot="2219", purity="99.95 % w/w", half_width="0.05 % w/w")
    solution = StandardSolution(standard=iodate, weighing=BALANCE.by_difference("21.4312 g", "20.5402 g"), flask=F250)
    return standardise_by_aliquots(solution, aliquot=P25, titres=titres(*KNOWN), blank=titres(0.05), record=record)


def compared(known: Titrant, record: str | None = "d", **options: object) -> Titrant:
    given = {"known_titres": titres(*KNOWN), "titres": titres(*FINALS), "blank": titres(0.05)} | options
    return standardise_by_comparison(known, record=record, **given)


def hydroxide(**options: object) -> Titrant:
    phthalate = PrimaryStandard("KHP", lot="0415", purity="99.95 % w/w", half_width="0.05 % w/w")
    weighed = zip(("14.5105 g", "14.5226 g", "14.4951 g"), titres(24.95, 25.55, 24.20), strict=True)
    portions = [(BALANCE.by_difference(gross, "14.0000 g"), titre) for gross, titre in weighed]
    given = {"portions": portions, "blank": titres(0.05), "end_point": EYE, "record": "base"} | options
    return standardise_by_portions(phthalate, **given)


def acid(titrant: Titrant, **options: object) -> Strength:
    given = {"aliquot": P25, "titres": titres(24.80, 24.85, 24.80), "blank": titres(0.05)} | options
    return assay_acid_base(titrant, "HCl", end_point=EYE, record="acid", **given)


def caustic(titrant: Titrant) -> Strength:
    return assay_acid_base(
        titrant, "NaOH", end_point=EYE, aliquot=P25, titres=titres(22.75, 22.80), blank=titres(0.05), record="caustic"
    )


# ------------------------------------------------------------------------------------------------------------ the chain
def test_a_titrant_against_a_standard_has_no_chain() -> None:
    assert thiosulfate().chain == ()
    (line,) = thiosulfate().traceability()
    assert "against potassium iodate, lot 2219, purity 99.95 % w/w" in line


def test_a_comparison_names_the_known_one_with_its_strength() -> None:
    known = thiosulfate()
    found = compared(known)
    first, second = found.traceability()
    e = known.estimate
    assert first == known.traceability()[0]
    assert plus_minus(e.value, e.expanded(), "mol/L") in first
    assert second.startswith("thiosulfate by comparison (d), (")
    assert second.endswith("compared with thiosulfate (d).")


def test_acid_against_hydroxide_is_not_said_to_be_against_phthalate() -> None:
    base = hydroxide()
    first, second, third = Titrant.from_strength(caustic(Titrant.from_strength(acid(base)))).traceability()
    assert first.startswith("sodium hydroxide (base), (0.100")
    assert "against potassium hydrogen phthalate, lot 0415" in first
    for line, against in ((second, "sodium hydroxide (base)"), (third, "acid")):
        assert f"degrees of freedom), against {against}; end point: phenolphthalein" in line
        assert "phthalate" not in line.partition("; end point")[0]


def test_the_level_is_that_of_the_report() -> None:
    found = thiosulfate()
    assert found.traceability(0.99) != found.traceability()
    assert plus_minus(found.estimate.value, found.estimate.expanded(0.99), "mol/L") in found.traceability(0.99)[0]


def test_strength_and_titrant_keep_their_chain_in_a_file(tmp_path: Path) -> None:
    base = hydroxide()
    strength = acid(base)
    titrant = Titrant.from_strength(strength)
    save(tmp_path / "all.json", strength=strength, titrant=titrant, compared=compared(thiosulfate()))
    again = load(tmp_path / "all.json")
    assert isinstance(again["strength"], Strength)
    for name, result in (("strength", Titrant.from_strength(again["strength"])), ("titrant", again["titrant"])):
        assert isinstance(result, Titrant), name
        assert result.traceability() == titrant.traceability()
        assert [link.estimate.u for link in result.links] == pytest.approx([base.estimate.u, titrant.estimate.u])
    # What it was assayed with is not lost under its own name.
    assert again["titrant"].name == "hydrochloric acid"
    assert dict(again["titrant"].facts) == dict(titrant.facts)
    assert again["titrant"].facts["titrant"] == base.label
    assert again["compared"].traceability()[1].endswith("compared with thiosulfate (d).")


def test_a_file_of_the_first_release_has_the_name_under_titrant() -> None:
    entry = thiosulfate().entry()
    told = dict(entry.facts)
    told["titrant"] = told.pop("name")
    old = type(entry)(kind=entry.kind, facts=told, estimate=entry.estimate)
    assert Titrant.from_entry(old).name == "thiosulfate"
    assert Titrant.from_entry(old).facts == thiosulfate().facts


def test_an_accepted_flag_leaves_the_chain() -> None:
    found = compared(thiosulfate(), blank=None)
    accepted = found.accepting("no-blank", because="shown in class")
    assert [flag.accepted for flag in accepted.flags] == ["shown in class"]
    assert accepted.traceability() == found.traceability()


COMPARED = """
[[standardisation]]
compared_with = "thiosulfate"
burette = "B1"
known_titres = ["25.00 mL", "25.05 mL", "25.00 mL"]
titres = ["24.30 mL", "24.35 mL", "24.30 mL"]
blank = "0.05 mL"

# The drum"""


def test_text_and_json_of_a_sheet_print_the_whole_chain() -> None:
    sheet = text_resource("demo_drum.toml").replace("[standardisation]", "[[standardisation]]", 1)
    assert sheet.count("# The drum") == 1
    result = run_text(sheet.replace("# The drum", COMPARED), name="demo.toml")
    (known,) = result.titrant.chain
    shown = plus_minus(known.estimate.value, known.estimate.expanded(), "mol/L")
    report = " ".join(report_text(result).split())
    traced = report.split("Traceability: ")[1:]
    assert len(traced) == 2
    assert traced[0].startswith(f"{known.estimate.label}, {shown}")
    assert f"compared with {known.estimate.label}." in traced[1]
    (titrant,) = (one for one in json.loads(report_json(result))["results"] if one["name"].startswith("titrant/"))
    (link,) = titrant["chain"]
    assert (link["value"], link["standard_uncertainty"]) == (known.estimate.value, known.estimate.u)
    assert link["traceability"]["standard"] == "potassium iodate"
    assert titrant["traceability"]["compared with"] == link["label"]


# ------------------------------------------------------------------------------------------------------- labels and s
@pytest.mark.parametrize("record", ["d", None])
def test_no_two_lines_of_a_budget_are_called_alike(record: str | None) -> None:
    twice = compared(compared(thiosulfate(record), record), record)
    labels = [line.label for line in twice.budget().lines]
    assert len(set(labels)) == len(labels)
    alone = [line.label for line in compared(thiosulfate("d"), "d").budget().lines]
    assert {"repeatability, titre, thiosulfate (d) and blank"} <= set(alone)
    assert "repeatability, titre with the known one, thiosulfate by comparison (d)" in alone
    assert not [label for label in alone if re.search(r"\[record/", label)]


def test_lines_without_a_record_are_told_apart_by_their_id() -> None:
    a, b = (
        Estimate.from_influence(
            Influence(id=f"record/{k}/scatter", label="repeatability", value=1.0, u=0.1), name="volume"
        )
        for k in (1, 2)
    )
    total = a.budget().lines[0].label, b.budget().lines[0].label
    assert total == ("repeatability", "repeatability")
    labels = {line.label for line in combine(lambda x, y: x + y, a, b).budget().lines}
    assert labels == {"repeatability [record/1/scatter]", "repeatability [record/2/scatter]"}


def test_a_single_titre_of_a_comparison_needs_the_scatter_of_the_method() -> None:
    known = thiosulfate()
    with pytest.raises(DomainError, match=r"state method_s"):
        compared(known, titres=titres(24.30))
    found = compared(known, titres=titres(24.30), method_s="0.03 mL", method_dof=8.0)
    # One s stands behind three titres, one titre and the blank: one term, with its 8 degrees of freedom.
    (line,) = (line for line in found.budget().lines if len(line.ids) == 3)
    assert line.dof == 8.0
    assert {id_.rsplit("/", 2)[-2:][0] for id_ in line.ids} >= {"known titrant", "blank"}
    net, net_known, s = 24.30 - 0.05, fmean(KNOWN) - 0.05, repeatability(0.03)
    # c = C (t' - b)/(t - b): relative derivatives 1/(t' - b), -1/(t - b), and their sum with the other sign for b.
    by_hand = s * math.sqrt((1 / net_known) ** 2 / 3 + (1 / net) ** 2 + (1 / net - 1 / net_known) ** 2)
    assert line.contribution / found.estimate.value == pytest.approx(by_hand, rel=1e-9)


# ----------------------------------------------------------------------------------------------------- blanks set aside
def flag_of(result: Titrant | Strength) -> str:
    (told,) = (flag for flag in result.flags if flag.code == "blanks-set-aside")
    assert not told.blocking
    return told.message


def with_it(message: str) -> float:
    assert "1.25 mL (rough)" in message
    return float(message.rpartition("it would be ")[2].split()[0])


BLANKS = [*titres(0.05, 0.05), rough("1.25 mL")]
KEPT, ALL = 0.05, (0.05 + 0.05 + 1.25) / 3


def test_of_an_assay_the_result_with_them_is_told() -> None:
    found = acid(hydroxide(), blank=BLANKS)
    net = fmean((24.80, 24.85, 24.80))
    expected = found.estimate.value * (net - ALL) / (net - KEPT)
    assert with_it(flag_of(found)) == pytest.approx(expected, rel=1e-4)


def test_of_a_single_kept_blank_as_well() -> None:
    found = acid(hydroxide(), blank=[*titres(0.05), rough("1.25 mL")])
    net = fmean((24.80, 24.85, 24.80))
    assert with_it(flag_of(found)) == pytest.approx(found.estimate.value * (net - 0.65) / (net - KEPT), rel=1e-4)


def test_of_aliquots_of_a_standard() -> None:
    iodate = PrimaryStandard("KIO3", lot="2219", purity="99.95 % w/w", half_width="0.05 % w/w")
    solution = StandardSolution(standard=iodate, weighing=BALANCE.by_difference("21.4312 g", "20.5402 g"), flask=F250)
    found = standardise_by_aliquots(solution, aliquot=P25, titres=titres(*KNOWN), blank=BLANKS)
    expected = found.estimate.value * (fmean(KNOWN) - KEPT) / (fmean(KNOWN) - ALL)
    assert with_it(flag_of(found)) == pytest.approx(expected, rel=1e-4)


def test_of_portions_of_a_standard() -> None:
    found = hydroxide(blank=BLANKS)
    volumes, masses = (24.95, 25.55, 24.20), (0.5105, 0.5226, 0.4951)
    ratio = fmean(m / (v - ALL) for m, v in zip(masses, volumes, strict=True)) / fmean(
        m / (v - KEPT) for m, v in zip(masses, volumes, strict=True)
    )
    assert with_it(flag_of(found)) == pytest.approx(found.estimate.value * ratio, rel=1e-4)


def test_of_a_comparison() -> None:
    found = compared(thiosulfate(), blank=BLANKS)
    ratio = (fmean(KNOWN) - ALL) / (fmean(KNOWN) - KEPT) * (fmean(FINALS) - KEPT) / (fmean(FINALS) - ALL)
    assert with_it(flag_of(found)) == pytest.approx(found.estimate.value * ratio, rel=1e-4)


def test_of_hypochlorite_by_portions_and_where_it_would_leave_nothing() -> None:
    portions = [(BALANCE.by_difference(gross, "10.0000 g"), titre) for gross, titre in zip(
        ("11.0000 g", "11.0100 g"), titres(1.25, 1.26), strict=True
    )]  # fmt: skip
    found = assay_hypochlorite(thiosulfate(), portions=portions, blank=[*titres(0.05), rough("2.45 mL")])
    assert flag_of(found).endswith("with them there would be no result.")


def test_where_none_is_set_aside_nothing_is_told() -> None:
    dilution = [Dilution(Pipette("P10", capacity="10 mL"), F250)]
    drum = assay_hypochlorite(
        thiosulfate(), aliquot=P25, titres=titres(31.20, 31.15), dilutions=dilution, blank=titres(0.05, 0.10)
    )
    assert "blanks-set-aside" not in {flag.code for flag in drum.flags}


# ---------------------------------------------------------------------------------------------------------- known names
@pytest.mark.parametrize(
    ("name", "formula"),
    [
        ("KHP", "C8H5KO4"), ("khp", "C8H5KO4"), ("potassium biphthalate", "C8H5KO4"), ("KHC8H4O4", "C8H5KO4"),
        ("soda ash", "Na2CO3"), ("Sodium carbonate, anhydrous", "Na2CO3"), ("Na2CO3", "Na2CO3"),
        ("K2Cr2O7", "K2Cr2O7"), ("K₂Cr₂O₇", "K2Cr2O7"), ("potassium bichromate", "K2Cr2O7"), ("KIO3", "KIO3"),
    ],
)  # fmt: skip
def test_a_standard_by_its_formula_or_a_common_name(name: str, formula: str) -> None:
    standard = PrimaryStandard(name, lot="A17", purity="1 g/g", half_width="0.0005 g/g")
    assert standard.formula == formula
    assert standard.label == PrimaryStandard(formula, lot="A17", purity="1 g/g", half_width="0.0005 g/g").label


def test_every_common_name_leads_to_a_standard() -> None:
    rows = facts("standard_names").rows
    assert len(rows) > 10
    for row in rows:
        assert PrimaryStandard(row.index["name"], purity="1 g/g", half_width="0 g/g").trace()["standard"] == row.fact


@pytest.mark.parametrize("name", ["washing soda", "KPH", "potassium", ""])
def test_another_name_is_refused(name: str) -> None:
    with pytest.raises(DataError, match="primary standards"):
        PrimaryStandard(name, purity="1 g/g", half_width="0 g/g")
