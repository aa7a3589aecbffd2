"""A titrant by comparison with a known one: equal portions, titrated with one and with the other."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import fmean, stdev

import numpy as np
import pytest

from assay import (
    AssayError,
    Balance,
    BlockedResultError,
    Burette,
    DataError,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Influence,
    Pipette,
    PrimaryStandard,
    StandardSolution,
    Temperature,
    Titrant,
    Titre,
    assay_hypochlorite,
    combine,
    standardise_by_aliquots,
    standardise_by_comparison,
)
from tests.titration.by_hand import Inputs, Value, delivered

Given = Mapping[str, Value]

# mL for equal aliquots of one iodine solution.
KNOWN, FINALS, BLANK = (25.00, 25.15, 25.05), (24.30, 24.45, 24.35), 0.10


def titres(*finals: float, tolerance: str | None = None) -> list[Titre]:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A", tolerance=tolerance)
    return [burette.titre(f"{final:.2f} mL") for final in finals]


def thiosulfate(name: str = "thiosulfate") -> Titrant:
    influence = Influence(id="bottle/known", label="the known one", value=0.1, u=0.0001)
    estimate = Estimate.from_influence(influence, name="titrant_concentration")
    return Titrant(name=name, estimate=estimate, facts={"standard": "potassium iodate", "lot": "A17"})


def compared(*finals: float, known: tuple[float, ...] = KNOWN, **options: object) -> Titrant:
    return standardise_by_comparison(
        thiosulfate(), known_titres=titres(*known), titres=titres(*(finals or FINALS)), **options
    )


def bench() -> Inputs:
    return (
        Inputs()
        .add("known", 0.1, 0.0001)
        .burette("B1")
        .replicates("known scatter", KNOWN)
        .replicates("scatter", FINALS)
    )


def mean(x: Given, finals: tuple[float, ...], scatter: str) -> Value:
    return sum(delivered(x["B1"], v) for v in finals) / len(finals) + x[scatter]


def by_hand(x: Given) -> Value:
    """Equal amounts are titrated: strengths are inversely as titres."""
    return x["known"] * mean(x, KNOWN, "known scatter") / mean(x, FINALS, "scatter")


def same(found: Estimate, inputs: Inputs, formula: Callable[[Given], Value]) -> None:
    assert found.value == pytest.approx(inputs.value(formula), rel=1e-11)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


# ------------------------------------------------------------------------------------------------------- value and u
def test_plain_arithmetic() -> None:
    found = compared()
    assert found.estimate.value == pytest.approx(0.1 * fmean(KNOWN) / fmean(FINALS), rel=1e-12)
    assert (found.name, found.unit, found.estimate.unit) == ("thiosulfate", "L", "mol/L")


def test_against_a_formula_by_hand() -> None:
    """Titres that end near each other share their part of the scale: it nearly cancels in their ratio."""
    found = compared().estimate
    same(found, bench(), by_hand)
    (line,) = (line for line in found.budget().lines if line.label.startswith("calibration of burette"))
    alone = 0.05 / math.sqrt(3.0) / 25.0
    assert line.contribution / found.value < 0.2 * alone


def test_with_a_single_blank_the_scatter_of_the_new_titres_stands_behind_it() -> None:
    found = compared(blank=titres(BLANK)[0]).estimate
    inputs = bench().replicates_and_blank("scatter", FINALS)

    def formula(x: Given) -> Value:
        empty = delivered(x["B1"], BLANK) + x["scatter"][1]
        net = sum(delivered(x["B1"], v) for v in FINALS) / 3.0 + x["scatter"][0] - empty
        return x["known"] * (mean(x, KNOWN, "known scatter") - empty) / net

    same(found, inputs, formula)


def test_with_several_blanks() -> None:
    blanks = (0.05, 0.15)
    found = compared(blank=titres(*blanks)).estimate
    inputs = bench().replicates("blanks", blanks)

    def formula(x: Given) -> Value:
        empty = mean(x, blanks, "blanks")
        return x["known"] * (mean(x, KNOWN, "known scatter") - empty) / (mean(x, FINALS, "scatter") - empty)

    same(found, inputs, formula)


def test_a_simulated_comparison_gives_the_same_u() -> None:
    """Known strength, rounding and scatter drawn titre by titre, from a burette without error."""
    generator = np.random.default_rng(5)
    trials = 200_000
    known, finals = (generator.normal(np.array(v)[:, None], stdev(v), size=(3, trials)) for v in (KNOWN, FINALS))
    drawn = generator.normal(0.1, 0.0001, trials) * known.mean(axis=0) / finals.mean(axis=0)
    found = standardise_by_comparison(
        thiosulfate(),
        known_titres=titres(*KNOWN, tolerance="0.000001 mL"),
        titres=titres(*FINALS, tolerance="0.000001 mL"),
    ).estimate
    assert found.u == pytest.approx(drawn.std(ddof=1), rel=5.0 / math.sqrt(2.0 * trials))


def test_warm_liquids_cancel_where_both_are_equally_warm() -> None:
    day = Temperature("26 °C", half_width="2 K", day="2026-11-16")
    cold, warm = (compared(record="r", temperature=temperature).estimate for temperature in (None, day))
    assert warm.value == pytest.approx(cold.value, rel=1e-12)
    assert warm.sensitivities["temperature/2026-11-16"] == pytest.approx(0.0, abs=1e-12)


def test_titres_that_agree_still_have_their_rounding() -> None:
    found = compared(24.5, 24.5, known=(25.0, 25.0)).estimate
    rounded = [line.contribution / found.value for line in found.budget().lines if line.ids[0].endswith("/resolution")]
    step = 0.05 / math.sqrt(12.0)
    assert sorted(rounded) == pytest.approx([step / 25.0, step / 24.5], rel=1e-9)


# ------------------------------------------------------------------------------------------------------ what is shared
def iodate_standardised() -> Titrant:
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")
    solution = StandardSolution(
        standard=PrimaryStandard("KIO3", lot="A17", purity="99.95 % w/w", half_width="0.05 % w/w"),
        weighing=balance.by_difference("11.4470 g", "10.5555 g"),
        flask=Flask("F250", capacity="250 mL", accuracy_class="A"),
    )
    pipette = Pipette("P25", capacity="25 mL", accuracy_class="A")
    return standardise_by_aliquots(solution, aliquot=pipette, titres=titres(24.60, 24.70), record="Monday")


def test_all_that_is_behind_the_known_one_is_behind_the_other() -> None:
    known = iodate_standardised()
    found = standardise_by_comparison(known, known_titres=titres(*KNOWN), titres=titres(*FINALS))
    assert set(known.estimate.influences) <= set(found.estimate.influences)
    ratio = combine(lambda a, b: a / b, found.estimate, known.estimate)
    inputs = bench()
    same(ratio, inputs, lambda x: by_hand(x) / x["known"])
    assert ratio.relative_u < math.hypot(found.estimate.relative_u, known.estimate.relative_u)


def test_an_assay_with_both_shares_the_known_one() -> None:
    known = thiosulfate()
    other = compared(record="new bottle")
    pipette = Pipette("P25", capacity="25 mL", accuracy_class="A")
    first, second = (
        assay_hypochlorite(one, aliquot=pipette, titres=titres(*v), record=name).estimate
        for name, one, v in (("first", known, (25.00, 25.15)), ("second", other, (24.30, 24.45)))
    )
    inputs = bench()
    for name, v in (("a", (25.00, 25.15)), ("b", (24.30, 24.45))):
        inputs.replicates(name, v)

    def formula(x: Given) -> Value:
        return x["known"] * mean(x, (25.00, 25.15), "a") / (by_hand(x) * mean(x, (24.30, 24.45), "b"))

    same(combine(lambda a, b: a / b, first, second), inputs, formula)


def test_the_same_record_read_twice_is_the_same_titrant() -> None:
    first, again = (compared(record="Monday").estimate for _ in range(2))
    assert combine(lambda a, b: a - b, first, again).u == pytest.approx(0.0, abs=1e-15)
    other = compared(24.30, 24.45, record="Monday").estimate  # a corrected reading is another record
    assert combine(lambda a, b: a - b, first, other).u > 0.0


def test_hydroxide_by_comparison_with_another() -> None:
    """The step is the same for acids and bases, with an end point of one operator in both titrations."""
    base = standardise_by_comparison(
        thiosulfate("sodium hydroxide"),
        known_titres=titres(*KNOWN),
        titres=titres(*FINALS),
        end_point=EndPoint("phenolphthalein", operator="K", excess="0.05 mL"),
    )
    inputs = bench().add("excess", 0.05, 0.03)

    def formula(x: Given) -> Value:
        known = mean(x, KNOWN, "known scatter") - x["excess"]
        return x["known"] * known / (mean(x, FINALS, "scatter") - x["excess"])

    same(base.estimate, inputs, formula)
    assert base.name == "sodium hydroxide"


# ------------------------------------------------------------------------------------------------------- facts, flags
def test_what_the_traceability_line_needs() -> None:
    found = compared(record="new bottle")
    assert found.facts == {"standard": "potassium iodate", "lot": "A17", "compared with": "the known one"}
    assert found.label == "thiosulfate by comparison (new bottle)"
    assert compared().label == "thiosulfate by comparison"


def test_no_blank_is_flagged_and_does_not_block() -> None:
    assert [(flag.code, flag.blocking) for flag in compared().flags] == [("no-blank", False)]
    assert compared(blank=titres(0.05)).flags == ()


@pytest.mark.parametrize("which", ["known_titres", "titres"])
def test_set_aside_titres_are_told_with_the_value_with_them(which: str) -> None:
    rough = titres(25.00)[0].burette.titre("27.00 mL", rough=True)
    given = {"known_titres": titres(*KNOWN), "titres": titres(*FINALS)}
    given[which] = [*given[which], rough]
    found = standardise_by_comparison(thiosulfate(), blank=titres(BLANK, BLANK), **given)
    (flag,) = found.flags
    assert flag.code == "titres-set-aside"
    assert "27 mL (rough)" in flag.message
    known = (*KNOWN, 27.00) if which == "known_titres" else KNOWN
    finals = (*FINALS, 27.00) if which == "titres" else FINALS
    assert f"{0.1 * (fmean(known) - BLANK) / (fmean(finals) - BLANK):.5g} mol/L" in flag.message
    assert found.estimate.value == pytest.approx(0.1 * (fmean(KNOWN) - BLANK) / (fmean(FINALS) - BLANK), rel=1e-12)


@pytest.mark.parametrize(
    ("known", "finals", "says"),
    [
        ((25.0, 25.1), (10.0, 10.1), "10.05 mL"),
        ((5.0, 5.1), (24.3, 24.4), "titrated with the known one"),
        ((12.0, 12.0), (24.3, 24.4), "12 mL"),
    ],
)
def test_a_blank_above_either_titre_blocks(known: tuple[float, ...], finals: tuple[float, ...], says: str) -> None:
    found = compared(*finals, known=known, blank=titres(12.0, 12.0))
    expected = 0.1 * (fmean(known) - 12.0) / (fmean(finals) - 12.0)
    assert found.estimate.value == pytest.approx(expected, rel=1e-12, abs=1e-15)
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("blank-above-titre", True)
    assert says in flag.message
    with pytest.raises(BlockedResultError, match="blank-above-titre"):
        assay_hypochlorite(found, aliquot=Pipette("P", capacity="10 mL"), titres=titres(20.0, 20.2))


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: compared(24.30), DomainError, ["single titre", "Titrate again"]),
        (lambda: compared(known=(25.0,)), DomainError, ["single titre", "Titrate again"]),
        (lambda: compared(known=()), DomainError, ["no replicate"]),
        (lambda: compared(0.0, 0.0), DomainError, ["titre less its blank is zero"]),
        (lambda: compared(24.3, 24.3, blank=titres(24.3, 24.3)), DomainError, ["titre less its blank is zero"]),
        (lambda: compared(blank="0.05 mL"), DataError, ["0.05 mL", "burette.titre("]),
        (
            lambda: compared(
                blank=Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg").titre("9 g", "8.9 g")
            ),
            DataError,
            ["blank", "0.1 g", "24.3 mL"],
        ),
        (lambda: compared(blank=[]), DomainError, ["no replicate", "blank"]),
        (
            lambda: standardise_by_comparison(thiosulfate(), known_titres=["25 mL"], titres=titres(24.3, 24.4)),
            DataError,
            ["known_titres", "25 mL", "burette.titre("],
        ),
        (
            lambda: standardise_by_comparison(thiosulfate(), known_titres=titres(25.0, 25.1), titres=["24.3 mL"]),
            DataError,
            ["titres", "24.3 mL", "burette.titre("],
        ),
        (
            lambda: standardise_by_comparison(
                compared(10.0, 10.1, blank=titres(12.0, 12.0)), known_titres=titres(25.0, 25.1), titres=titres(24, 24.1)
            ),
            BlockedResultError,
            ["the known titrant", "blank-above-titre", "accepting"],
        ),
        (lambda: compared(record="a/b"), DataError, ["record", "a/b"]),
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
