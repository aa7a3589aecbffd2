"""Strengths as people write them: what is read, what is said of one that leaves something open, and NaOCl's gate."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from assay import (
    BasisError,
    BlockedResultError,
    Burette,
    Cylinder,
    Estimate,
    Influence,
    Pipette,
    Strength,
    Titrant,
    assay_hypochlorite,
    dose,
    run_sheet,
)
from assay.flags import Flag
from assay.sheet.run import SheetResult, run_text
from assay.substances.species import HYPOCHLORITE, SPECIES, names_sodium_hypochlorite, spelled
from assay.substances.strength import NOT_SODIUM
from assay.substances.written import read_strength

M_CL2, M_NAOCL, M_HCL = 70.90, 74.43876928, 36.458  # g/mol, abridged weights of 2021
_CHOICE = re.compile(r"'([^']*)' \(")


def read(written: object, species: str = "hypochlorite") -> float:
    return read_strength(written, argument="label", species=SPECIES[species])  # type: ignore[arg-type]


def told(written: object, species: str = "hypochlorite") -> str:
    with pytest.raises(BasisError) as caught:
        read(written, species)
    assert (caught.value.argument, caught.value.given) == ("label", written)
    return str(caught.value)


def offered(written: object, species: str = "hypochlorite") -> list[str]:
    """Return what may be meant, in the order in which it is offered."""
    return _CHOICE.findall(told(written, species))


# ------------------------------------------------------------------------------------------------- spellings of a unit
@pytest.mark.parametrize(
    ("written", "grams"),
    [
        *((f"12.5 {unit} available chlorine", 125.0) for unit in (
            "% w/v", "% m/v", "%m/v", "% (w/v)", "% (m/v)", "% wt/vol", "% mass/volume", "w/v %", "g/100 mL",
            "g/(100 mL)", "percent w/v", "per cent m/v",
        )),
        *((f"12.5 % available chlorine{end}", 125.0) for end in (" w/v", " (w/v)", ", m/v", " (m/v)")),
        ("125000 mg/L available chlorine", 125.0),
        ("125000 mg/l active chlorine", 125.0),
        ("12.5 trade %", 125.0),
    ],
)  # fmt: skip
def test_per_volume(written: str, grams: float) -> None:
    assert read(written) == pytest.approx(grams / M_CL2, rel=1e-12)


@pytest.mark.parametrize(
    "unit",
    [
        "% w/w",
        "% m/m",
        "% (w/w)",
        "wt%",
        "wt %",
        "wt.%",
        "% wt",
        "% by mass",
        "% by weight",
        "mass %",
        "weight percent",
    ],
)
def test_per_mass(unit: str) -> None:
    by_hand = 0.32 * 1159.0 / M_HCL  # the table has 1.159 g/mL at 32 % w/w
    assert read(f"32 {unit} HCl", "hydrochloric acid") == pytest.approx(by_hand, rel=1e-12)
    assert read(f"32 {unit} hydrochloric acid", "hydrochloric acid") == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize(
    "written", ["32 % HCl by mass", "32 % HCl (w/w)", "320 g/kg HCl", "320000 mg/kg HCl", "320 mg/g HCl"]
)
def test_per_mass_written_otherwise(written: str) -> None:
    assert read(written, "hydrochloric acid") == pytest.approx(0.32 * 1159.0 / M_HCL, rel=1e-12)


def test_scaled_units_are_exactly_the_unit() -> None:
    assert read("125000 mg/L available chlorine") == read("125 g/L available chlorine")
    assert read("2100 mmol/L OCl-") == read("2.1 mol/L OCl-")


@pytest.mark.parametrize("key", ["% m/v NaOCl", "wt% NaOCl", "% NaOCl (w/v)"])
def test_a_basis_is_asked_for_by_the_same_spellings(key: str) -> None:
    basis = HYPOCHLORITE.basis(key)
    assert basis is not None
    assert basis.key == spelled(key)


@pytest.mark.parametrize("text", ["% muriatic acid", "% available chlorine", "% HCl", "% v/v NaOCl", "ppm Cl2"])
def test_what_does_not_say_per_what_is_not_made_to(text: str) -> None:
    assert spelled(text) == text


# ------------------------------------------------------------------------------------------------- only what is missing
@pytest.mark.parametrize(
    ("written", "species", "problem"),
    [
        ("12.5 % available chlorine", "hypochlorite", "does not say per what: per volume (w/v) or per mass (w/w)."),
        ("37 % HCl", "hydrochloric acid", "'% HCl' does not say per what"),
        ("37 % muriatic acid", "hydrochloric acid", "'% muriatic acid' does not say per what"),
        ("50000 ppm available chlorine", "hypochlorite", "does not say per what"),
        ("12.5 % w/v", "hypochlorite", "'% w/v' alone does not say as what the strength is expressed."),
        ("12.5 % m/v", "hypochlorite", "'% m/v' alone does not say as what the strength is expressed."),
        ("32 % w/w", "hydrochloric acid", "'% w/w' alone does not say as what the strength is expressed."),
        ("150 g/l", "hypochlorite", "'g/l' alone does not say as what the strength is expressed."),
        ("125000 mg/L", "hypochlorite", "'mg/L' alone does not say as what the strength is expressed."),
        ("10 M", "hydrochloric acid", "'M' alone does not say as what the strength is expressed."),
        ("10 M HCl", "hydrochloric acid", "'M HCl' is written with mol/L here."),
        ("12 % w/w bleach", "hypochlorite", "'% w/w bleach' does not say as what the strength is expressed."),
        ("12.5 %", "hypochlorite", "'%' alone does not say as what the strength is expressed and per what."),
        ("12.5", "hypochlorite", "a bare number does not say as what the strength is expressed and per what."),
        (12.5, "hypochlorite", "a bare number does not say as what the strength is expressed and per what."),
        ("15 % bleach", "hypochlorite", "'% bleach' does not say as what the strength is expressed and per what."),
        ("150 available chlorine", "hypochlorite", "does not say in which unit, and so not per what."),
        ("1 N HCl", "hydrochloric acid", "does not say how many equivalents one mole counts for."),
        ("1 N", "sulfuric acid", "does not say how many equivalents one mole counts for, and of what."),
        ("9.5 mol HCl", "hydrochloric acid", "'mol HCl' is an amount, and does not say in which volume or mass."),
        ("150 g NaOCl", "hypochlorite", "'g NaOCl' is an amount"),
        ("20 °Bé", "hydrochloric acid", "degrees Baumé tell a density (about 1.16 g/mL), not a strength."),
        ("20 Be", "hypochlorite", "degrees Baumé tell a density"),
        ("20 degrees Baume", "hydrochloric acid", "degrees Baumé tell a density"),
        ("26 °Bé", "ammonia", "degrees Baumé tell a density (about 0.897 g/mL)"),
        ("12 % v/v NaOCl", "hypochlorite", "is per volume of the pure liquid"),
        ("32 % w/w NaOH", "hydrochloric acid", "this is a strength of sodium hydroxide"),
        ("32 % NaOH", "hydrochloric acid", "this is a strength of sodium hydroxide"),
        ("32 % muriatic acid", "sodium hydroxide", "this is a strength of hydrochloric acid"),
        ("12 zz NaOCl", "hypochlorite", "'zz' is no unit of a strength here."),
        ("5 mol/L available chlorine", "hypochlorite", "is not how this strength is stated."),
        ("12 % hypochlorite", "hypochlorite", "is not how this strength is stated."),
        ("12 % w/v xyz", "hypochlorite", "'xyz' is not known here, of hypochlorite."),
        (None, "hypochlorite", "a strength is a text that says its basis."),
        (float("nan"), "hypochlorite", "a strength is a text that says its basis."),
    ],
)
def test_the_message_says_what_is_missing_and_no_more(written: object, species: str, problem: str) -> None:
    if written is None or written != written:  # noqa: PLR0124  (NaN: the argument cannot be compared)
        with pytest.raises(BasisError, match=problem):
            read(written, species)
        return
    assert problem in told(written, species)


# ------------------------------------------------------------------------------------- narrowed, the likeliest first
@pytest.mark.parametrize(
    ("written", "species", "choices"),
    [
        (
            "12.5 % available chlorine",
            "hypochlorite",
            ["12.5 % w/v available chlorine", "12.5 % w/w available chlorine"],
        ),
        ("37 % HCl", "hydrochloric acid", ["37 % w/w HCl", "37 % w/v HCl"]),
        ("32 % w/w", "hydrochloric acid", ["32 % w/w HCl"]),
        ("10 M", "hydrochloric acid", ["10 mol/L HCl"]),
        ("1.5 M NaOCl", "hypochlorite", ["1.5 mol/L OCl-"]),
        ("125000 mg/L", "hypochlorite", ["125 g/L available chlorine", "125 g/L NaOCl"]),
        ("50000 ppm NaOCl", "hypochlorite", ["50 g/L NaOCl", "5 % w/w NaOCl"]),
        ("9.5 mol HCl", "hydrochloric acid", ["9.5 mol/L HCl"]),
        ("150 g NaOCl", "hypochlorite", ["150 g/L NaOCl"]),
        ("2100 mmol NaOCl", "hypochlorite", ["2.1 mol/L OCl-"]),
        ("1 N", "sulfuric acid", ["0.5 mol/L H2SO4"]),
        ("0.1 N NaOCl", "hypochlorite", ["0.05 mol/L OCl-"]),
        ("45 %", "potassium hydroxide", ["45 % w/w KOH", "45 % w/v KOH"]),
        ("45 %", "hydrochloric acid", ["45 % w/v HCl", "45 % w/w HCl"]),  # no acid has 45 % w/w
        ("2", "hydrochloric acid", ["2 mol/L HCl", "2 % w/w HCl", "2 % w/v HCl", "2 g/L HCl"]),
        ("32", "hydrochloric acid", ["32 % w/w HCl", "32 % w/v HCl", "32 g/L HCl", "32 mol/L HCl"]),
        ("15 % w/v available chlorin", "hypochlorite", ["15 % w/v available chlorine"]),
        ("32 % w/v HCI", "hydrochloric acid", ["32 % w/v HCl"]),
        ("32 % w/v NaOH", "hydrochloric acid", ["32 % w/v HCl"]),
        ("15 % availble chlorine", "hypochlorite", ["15 % w/v available chlorine", "15 % w/w available chlorine"]),
    ],
)
def test_the_choices_are_those_that_the_words_leave(written: str, species: str, choices: list[str]) -> None:
    assert offered(written, species) == choices


@pytest.mark.parametrize("written", ["15 % w/v available chlorin", "32 % w/v Na0Cl", "15 % availble chlorine"])
def test_a_misspelt_word_is_asked_after(written: str) -> None:
    assert "Did you mean '" in told(written)
    assert told(written).endswith("?")


@pytest.mark.parametrize("written", ["150", 150, 150.0])
def test_the_sane_choice_of_a_bare_number_comes_first(written: object) -> None:
    found = offered(written)
    assert found[:2] == ["150 g/L available chlorine", "150 g/L NaOCl"]
    assert len(found) == len(HYPOCHLORITE.bases)
    text = told(written)
    assert "'150 mol/L OCl-' (1.064e+04 g/L available chlorine, more than any liquor holds)" in text
    first_doubt = text.index("more than any")
    assert first_doubt > text.index("'150 g/L NaOCl'")


@pytest.mark.parametrize("species", SPECIES)
@pytest.mark.parametrize("number", ["0.5", "12.5", "32", "150", "400"])
def test_what_is_never_sold_is_offered_last(species: str, number: str) -> None:
    text = told(number, species)
    doubtful = [f"'{choice}'" for choice in offered(number, species)]
    doubts = ["more than any" in part for part in text.partition("meant: ")[2].split(", or ")]
    assert len(doubts) == len(doubtful) == len(SPECIES[species].bases)
    assert doubts == sorted(doubts)


def test_every_choice_can_be_read_or_needs_a_density() -> None:
    for written, species in (("12.5", "hypochlorite"), ("125000 mg/L", "hypochlorite"), ("32", "hydrochloric acid")):
        for choice in offered(written, species):
            if "w/w" in choice or "mol/L" in choice or "mg/kg" in choice:
                continue
            assert read(choice, species) > 0.0


def test_the_grams_told_are_those_of_the_choice() -> None:
    """12.5 % w/v is 125 g/L; 12.5 % w/v NaOCl is 125 × 70.90/74.44 = 119.1 g/L available chlorine."""
    text = told("12.5 %")
    assert "'12.5 % w/v available chlorine' (125 g/L available chlorine)" in text
    assert f"'12.5 % w/v NaOCl' ({125.0 * M_CL2 / M_NAOCL:.4g} g/L available chlorine)" in text


# ------------------------------------------------------------------------------------------- NaOCl of another source
SOURCE = "calcium hypochlorite"
REASON = "the customer's form asks for it (K)"
CYLINDER = Cylinder("C250", capacity="250 mL", subdivision="2 mL")


def other_source(drum: str = "drum", **facts: str) -> Strength:
    influence = Influence(id=drum, label=drum, value=2.0, u=0.02)
    estimate = Estimate.from_influence(influence, name="amount_concentration")
    flag = Flag(code=NOT_SODIUM, message=f"the source is {SOURCE}: g/L or per cent NaOCl would name what is not there.")
    return Strength(species=HYPOCHLORITE, estimate=estimate.flagged(flag), facts={"source": SOURCE, **facts})


def assayed(label: str | None, source: str = SOURCE) -> Strength:
    influence = Influence(id="thiosulfate", label="thiosulfate", value=0.1, u=1e-4)
    titrant = Titrant(name="thiosulfate", estimate=Estimate.from_influence(influence, name="titrant_concentration"))
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    titres = [burette.titre("24.30 mL"), burette.titre("24.35 mL")]
    return assay_hypochlorite(
        titrant, aliquot=Pipette("P10", capacity="10 mL"), titres=titres, source=source, label=label
    )


WAYS_IN: list[tuple[str, Callable[[Strength], object]]] = [
    *((f"basis = '{key}'", lambda one, key=key: one.in_basis(key)) for key in (
        "mol/L NaOCl", "g/L NaOCl", "% w/v NaClO", "g/L sodium hypochlorite", "% m/v NaOCl",
    )),
    *((f"deliver = '{amount}'", lambda one, amount=amount: dose(one, deliver=amount, dispenser=CYLINDER, into="water"))
      for amount in ("6 g NaOCl", "0.1 mol NaOCl", "6 g sodium hypochlorite")),
    ("limit = '20 g NaOCl'", lambda one: dose(
        one, deliver="0.1 mol OCl-", limit="20 g NaOCl", dispenser=CYLINDER, into="water",
    )),
    ("label = '150 g/L NaOCl'", lambda one: dose(
        one, deliver="0.1 mol OCl-", label="150 g/L NaOCl", dispenser=CYLINDER, into="water",
    )),
    ("filled = '160 g/L NaOCl'", lambda one: one.assuming_density(filled="160 g/L NaOCl")),
]  # fmt: skip


@pytest.mark.parametrize(("given", "use"), WAYS_IN)
def test_every_way_in_as_sodium_hypochlorite_needs_the_acceptance(
    given: str, use: Callable[[Strength], object]
) -> None:
    with pytest.raises(BlockedResultError) as caught:
        use(other_source())
    message = str(caught.value)
    assert message.startswith(given)
    for words in (SOURCE, "would name what is not there", "Use available chlorine", f".accepting({NOT_SODIUM!r}"):
        assert words in message
    assert use(other_source().accepting(NOT_SODIUM, because=REASON)) is not None


def test_one_unaccepted_assay_of_two_is_enough_to_refuse() -> None:
    pair = [other_source("first drum").accepting(NOT_SODIUM, because=REASON), other_source("second drum")]
    with pytest.raises(BlockedResultError, match="would name what is not there"):
        dose(pair, deliver="6 g NaOCl", dispenser=CYLINDER, into="water")
    accepted = dose(pair, deliver="6 g NaOCl", dispenser=CYLINDER, into="water", accept={NOT_SODIUM: REASON})
    assert accepted.nominal is not None


@pytest.mark.parametrize("deliver", ["0.1 mol OCl-", "0.1 mol hypochlorite", "7 g available chlorine"])
def test_what_is_not_as_sodium_hypochlorite_is_open(deliver: str) -> None:
    found = dose(other_source(), deliver=deliver, label="150 g/L Cl2", dispenser=CYLINDER, into="water")
    assert found.by_label is not None
    assert other_source().in_basis("mol/L hypochlorite").value == 2.0


@pytest.mark.parametrize("label", ["150 g/L NaOCl", "15 % w/v sodium hypochlorite", "2 mol/L NaOCl"])
def test_a_label_in_sodium_hypochlorite_blocks_an_assay_of_another_source(label: str) -> None:
    found = assayed(label)
    (flag,) = [flag for flag in found.flags if flag.code == NOT_SODIUM]
    assert flag.blocking
    assert label in flag.message
    with pytest.raises(BlockedResultError, match=NOT_SODIUM):
        dose(found, deliver="0.01 mol OCl-", dispenser=CYLINDER, into="water")
    accepted = found.accepting(NOT_SODIUM, because=REASON)
    assert dose(accepted, deliver="0.01 mol OCl-", dispenser=CYLINDER, into="water").by_label is not None


def test_a_label_in_available_chlorine_does_not() -> None:
    (flag,) = [flag for flag in assayed("150 g/L available chlorine").flags if flag.code == NOT_SODIUM]
    assert not flag.blocking
    assert not [flag for flag in assayed("150 g/L NaOCl", "sodium hypochlorite").flags if flag.code == NOT_SODIUM]


def on_a_sheet(extra: str) -> SheetResult:
    from assay.data import text_resource

    sheet = text_resource("demo_drum.toml")
    before = next(line for line in sheet.splitlines() if line.startswith("label = "))
    changed = sheet.replace(before, f'label = "16 % w/v NaOCl"\nsource = "{SOURCE}"\n{extra}')
    assert changed != sheet
    return run_text(changed, name="sheet.toml")


def test_on_a_sheet_it_is_accepted_in_the_table_of_the_assay() -> None:
    assert run_sheet().doses
    with pytest.raises(ValueError, match=NOT_SODIUM):
        on_a_sheet("")
    result = on_a_sheet(f'accept = {{ {NOT_SODIUM} = "{REASON}" }}')
    (strength,) = result.strengths.values()
    assert [flag.accepted for flag in strength.flags if flag.code == NOT_SODIUM] == [REASON]
    assert result.doses[0].by_label is not None


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("6 g NaOCl", True), ("mol/L NaClO", True), ("15 % w/v Sodium Hypochlorite", True),
        ("6 g available chlorine", False), ("mol/L OCl-", False), ("2 mol/L hypochlorite", False),
    ],
)  # fmt: skip
def test_what_names_sodium_hypochlorite(text: str, *, named: bool) -> None:
    assert names_sodium_hypochlorite(text) == named
