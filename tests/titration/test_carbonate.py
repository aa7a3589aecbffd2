"""Aged caustic to two end points: hydroxide and carbonate, and what cannot be."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import pytest

from assay import (
    AssayError,
    Balance,
    BlockedResultError,
    Burette,
    Cylinder,
    Dilution,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Strength,
    Titrant,
    Titre,
    assay_acid_base,
    combine,
    dose,
    hydroxide_and_carbonate,
    report_text,
)
from assay.data import text_resource
from assay.sheet.run import run_text
from tests.titration.by_hand import Inputs, Value, delivered

Given = Mapping[str, Value]

FIRST, TOTAL = (22.70, 22.85, 22.75), (23.65, 23.55, 23.70)  # mL


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def p25() -> Pipette:
    return Pipette("P25", capacity="25 mL", accuracy_class="A")


def titrant(name: str = "hydrochloric acid") -> Titrant:
    influence = Influence(id=f"bottle/{name}", label=name, value=0.1, u=0.0001)
    return Titrant(name=name, estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def caustic(indicator: str, *finals: float, species: str = "sodium hydroxide", **options: object) -> Strength:
    """Return an assay of 25 mL of a caustic that was diluted from 25 mL to 250 mL."""
    whole = {
        "aliquot": p25(),
        "titres": titres(*finals),
        "dilutions": [Dilution(p25(), Flask("F250", capacity="250 mL", accuracy_class="A"))],
        "end_point": EndPoint(indicator, operator="K"),
        **options,
    }
    with_ = titrant("sodium hydroxide" if species == "hydrochloric acid" else "hydrochloric acid")
    return assay_acid_base(with_, species, **whole)


def inputs() -> Inputs:
    found = Inputs().add("acid", 0.1, 0.0001).burette("B1").within("P25", 25.0, 0.03).within("F250", 250.0, 0.15)
    for name, finals in (("first", FIRST), ("total", TOTAL)):
        found.replicates(f"{name} scatter", finals)
        found.add(f"{name} judgement", 0.0, 0.03)
    return found


def alkali(name: str, finals: tuple[float, ...]) -> Callable[[Given], Value]:
    def formula(x: Given) -> Value:
        net = sum(delivered(x["B1"], v) for v in finals) / 3.0 + x[f"{name} scatter"] - x[f"{name} judgement"]
        return x["acid"] * net / x["P25"] * x["F250"] / x["P25"]

    return formula


first_alkali, total_alkali = alkali("first", FIRST), alkali("total", TOTAL)


def both(second: str = "methyl orange") -> tuple[Strength, Strength]:
    return caustic("phenolphthalein", *FIRST, record="p"), caustic(second, *TOTAL, record="m")


@pytest.mark.parametrize("second", ["methyl orange", "bromocresol green", "methyl red"])
def test_hydroxide_and_carbonate_against_a_formula_by_hand(second: str) -> None:
    """Phenolphthalein finds OH and half of CO3, the other all of it: CO3 = T - P and OH = 2 P - T."""
    phenolphthalein, methyl_orange = both(second)
    found = hydroxide_and_carbonate(phenolphthalein=phenolphthalein, methyl_orange=methyl_orange)
    for estimate, formula in (
        (phenolphthalein.estimate, first_alkali),
        (methyl_orange.estimate, total_alkali),
        (found.hydroxide, lambda x: 2.0 * first_alkali(x) - total_alkali(x)),
        (found.carbonate, lambda x: total_alkali(x) - first_alkali(x)),
    ):
        by_hand = inputs()
        assert estimate.value == pytest.approx(by_hand.value(formula), rel=1e-10)
        assert estimate.u == pytest.approx(by_hand.u(formula), rel=1e-7)
        assert estimate.dof == pytest.approx(by_hand.dof(formula), rel=1e-6)
        assert estimate.unit == "mol/L"


def test_plain_arithmetic() -> None:
    """With 0.1 mol/L acid and an aliquot of 2.5 mL of caustic: 22.767 mL and 23.633 mL are 0.9107 and 0.9453 mol/L."""
    phenolphthalein, methyl_orange = both()
    found = hydroxide_and_carbonate(phenolphthalein=phenolphthalein, methyl_orange=methyl_orange)
    assert found.carbonate.value == pytest.approx(0.1 * (70.90 - 68.30) / 3.0 / 2.5, rel=1e-10)
    assert found.hydroxide.value == pytest.approx(0.1 * (2 * 68.30 - 70.90) / 3.0 / 2.5, rel=1e-10)


def test_what_both_assays_share_cancels_in_the_carbonate() -> None:
    """Acid, pipette and flask scale both alike, so that they count for the carbonate alone and not for each alkali."""
    phenolphthalein, methyl_orange = both()
    found = hydroxide_and_carbonate(phenolphthalein=phenolphthalein, methyl_orange=methyl_orange).carbonate
    line = next(line for line in found.budget().lines if line.ids == ("bottle/hydrochloric acid",))
    assert line.contribution == pytest.approx(0.001 * found.value, rel=1e-9)
    apart = math.hypot(phenolphthalein.estimate.u, methyl_orange.estimate.u)
    assert found.u < apart
    # Two indicators are two judgements: they do not cancel.
    judged = [line.contribution for line in found.budget().lines if "colour judgement" in line.label]
    assert judged == pytest.approx([0.1 * 0.03 / 2.5] * 2, rel=1e-9)


def test_hydroxide_and_carbonate_are_correlated_as_by_hand() -> None:
    phenolphthalein, methyl_orange = both()
    found = hydroxide_and_carbonate(phenolphthalein=phenolphthalein, methyl_orange=methyl_orange)
    total = combine(lambda a, b: a + b, found.hydroxide, found.carbonate)
    assert total.value == pytest.approx(phenolphthalein.estimate.value, rel=1e-12)  # OH + CO3 is P
    assert total.u == pytest.approx(phenolphthalein.estimate.u, rel=1e-10)
    again = combine(lambda a, b: a + 2.0 * b, found.hydroxide, found.carbonate)
    assert (again.value, again.u) == pytest.approx((methyl_orange.estimate.value, methyl_orange.estimate.u), rel=1e-10)
    r = inputs().correlation(
        lambda x: 2.0 * first_alkali(x) - total_alkali(x), lambda x: total_alkali(x) - first_alkali(x)
    )
    assert r < -0.5  # what the one wins the other loses
    covariance = (total.u**2 - found.hydroxide.u**2 - found.carbonate.u**2) / 2.0
    assert covariance / (found.hydroxide.u * found.carbonate.u) == pytest.approx(r, rel=1e-6)


def test_one_blank_and_one_weighed_flask_serve_both() -> None:
    """A weighed caustic is known per gram; its weighing is the same for both end points."""
    weighing = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg").by_difference(
        "152.4040 g", "126.2100 g"
    )
    dilutions = [Dilution(weighing, Flask("F250", capacity="250 mL", accuracy_class="A"))]
    first = caustic("phenolphthalein", *FIRST, dilutions=dilutions, blank=titres(0.05, 0.05), record="p")
    total = caustic("methyl orange", *TOTAL, dilutions=dilutions, blank=titres(0.05, 0.05), record="m")
    found = hydroxide_and_carbonate(phenolphthalein=first, methyl_orange=total)
    assert found.carbonate.unit == "mol/g"
    expected = 0.1 * (70.90 - 68.30) / 3.0 / 25.0 * 0.250 / 26.194
    assert found.carbonate.value == pytest.approx(expected, rel=1e-10)
    weighed = [id_ for id_ in found.carbonate.influences if "/weighing/" in id_]
    assert len(weighed) == 2  # gross and tare, once
    assert set(weighed) <= set(first.estimate.influences) & set(total.estimate.influences)


# ---------------------------------------------------------------------------------------------- what cannot be, or may
def test_a_fresh_caustic_has_no_carbonate_within_u() -> None:
    found = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", *FIRST), methyl_orange=caustic("methyl orange", *FIRST)
    )
    low, high, _ = found.carbonate.interval(0.95)
    assert low < 0.0 < high
    assert {"hydrogen-carbonate", "carbonate-below-zero"}.isdisjoint(flag.code for flag in found.carbonate.flags)


def test_a_carbonate_below_zero_by_more_than_u_cannot_be_and_blocks() -> None:
    found = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", *TOTAL), methyl_orange=caustic("methyl orange", *FIRST)
    )
    assert found.carbonate.value == pytest.approx(0.1 * (68.30 - 70.90) / 3.0 / 2.5, rel=1e-10)  # not clipped
    assert found.carbonate.interval(0.95).high < 0.0
    for estimate in (found.hydroxide, found.carbonate):
        (flag,) = (flag for flag in estimate.flags if flag.code == "carbonate-below-zero")
        assert flag.blocking
        assert "less alkali than phenolphthalein" in flag.message
        assert "exchanged" in flag.message


def test_more_than_twice_the_first_end_point_is_hydrogen_carbonate() -> None:
    """P = 10 mL and T = 25 mL: 10 mL of carbonate and 5 mL of hydrogen carbonate, no hydroxide."""
    found = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", 10.00, 10.05), methyl_orange=caustic("methyl orange", 25.05, 25.10)
    )
    assert found.hydroxide.value == pytest.approx(0.1 * (2 * 10.025 - 25.075) / 2.5, rel=1e-10)
    (flag,) = (flag for flag in found.hydroxide.flags if flag.code == "hydrogen-carbonate")
    assert not flag.blocking
    assert "no hydroxide is left" in flag.message


def test_a_hydroxide_below_zero_within_u_is_none_and_nothing_more() -> None:
    """P = 12.50 mL and T = 25.05 mL: pure carbonate to half a division."""
    found = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", 12.50, 12.50), methyl_orange=caustic("methyl orange", 25.05, 25.05)
    )
    low, high, _ = found.hydroxide.interval(0.95)
    assert low < found.hydroxide.value < 0.0 < high
    assert "hydrogen-carbonate" not in {flag.code for flag in found.hydroxide.flags}


def test_flags_of_both_assays_stay() -> None:
    found = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", *FIRST), methyl_orange=caustic("methyl orange", *TOTAL)
    )
    for estimate in (found.hydroxide, found.carbonate, found.strength.estimate):
        assert [flag.code for flag in estimate.flags].count("no-blank") == 1
        assert "portion-only" in {flag.code for flag in estimate.flags}
    # The note that carbonate is counted holds for each assay, not for the hydroxide, of which it was taken off.
    assert "carbonate-counted" not in {flag.code for flag in found.hydroxide.flags}


def cylinder() -> Cylinder:
    return Cylinder("C250", capacity="250 mL", subdivision="2 mL")


def test_the_hydroxide_alone_is_a_strength_to_dose_by() -> None:
    first, total = both()
    found = hydroxide_and_carbonate(phenolphthalein=first, methyl_orange=total, label="old caustic")
    assert found.strength.species is first.species
    assert (found.strength.estimate.value, found.strength.estimate.u) == (found.hydroxide.value, found.hydroxide.u)
    assert "old caustic" in found.strength.label
    by_hydroxide, by_first = (
        dose(one, deliver="0.100 mol NaOH", dispenser=cylinder(), into="water") for one in (found.strength, first)
    )
    # More of it is needed than an assay says that counts half the carbonate as hydroxide.
    assert by_hydroxide.volumes[0].volume > by_first.volumes[0].volume


def test_what_cannot_be_is_not_dosed_by() -> None:
    wrong = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", *TOTAL), methyl_orange=caustic("methyl orange", *FIRST)
    )
    with pytest.raises(BlockedResultError, match="carbonate-below-zero"):
        dose(wrong.strength, deliver="0.100 mol NaOH", dispenser=cylinder(), into="water")
    spent = hydroxide_and_carbonate(
        phenolphthalein=caustic("phenolphthalein", 10.00, 10.05), methyl_orange=caustic("methyl orange", 25.05, 25.10)
    )
    assert dose(spent.strength, deliver="0.100 mol NaOH", dispenser=cylinder(), into="water").volumes == ()


def test_the_report_of_a_sheet_tells_it() -> None:
    whole = text_resource("demo_caustic.toml")
    sheet = whole[: whole.index("[[dose]]")]  # a dose by it would be refused
    pink = '[["0.00 mL", "22.75 mL"], ["0.00 mL", "22.80 mL"], ["0.00 mL", "22.75 mL"]]'
    green = '[["0.00 mL", "23.65 mL"], ["0.00 mL", "23.60 mL"], ["0.00 mL", "23.65 mL"]]'
    exchanged = sheet.replace(pink, "…").replace(green, pink).replace("…", green)
    assert exchanged != sheet
    printed = [report_text(run_text(text, name="caustic.toml")) for text in (sheet, exchanged)]
    assert ["carbonate-below-zero (blocks later steps)" in text for text in printed] == [False, True]
    # What an assay has told already is not told again.
    assert [text.count("! carbonate-counted") for text in printed] == [2, 2]


@pytest.mark.parametrize(
    ("first", "second", "says"),
    [
        (("methyl orange", *TOTAL), ("phenolphthalein", *FIRST), ["another end point", "methyl orange", "exchanged"]),
        (("phenolphthalein", *FIRST), ("phenolphthalein", *FIRST), ["methyl_orange", "another end point", "twice"]),
        (("methyl orange", *TOTAL), ("methyl orange", *TOTAL), ["phenolphthalein = ", "another end point"]),
        (("phenolphthalein", *FIRST), ("phenol red", *TOTAL), ["phenol red", "methyl orange or bromocresol green"]),
    ],
)
def test_end_points_in_an_impossible_order_are_refused(
    first: tuple[object, ...], second: tuple[object, ...], says: list[str]
) -> None:
    with pytest.raises(DomainError) as caught:
        hydroxide_and_carbonate(phenolphthalein=caustic(*first), methyl_orange=caustic(*second))
    for words in says:
        assert words in str(caught.value)


def weighed_portion() -> Strength:
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")
    portion = (balance.by_difference("12 g", "10 g"), titres(20.0)[0])
    return assay_acid_base(
        titrant(), "sodium hydroxide", portions=[portion], end_point=EndPoint("methyl orange"), method_s="0.04 mL"
    )


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: hydroxide_and_carbonate(
                phenolphthalein=caustic("phenolphthalein", *FIRST),
                methyl_orange=caustic("methyl orange", *TOTAL, species="potassium hydroxide"),
            ),
            DomainError,
            ["one alkali", "potassium hydroxide", "same caustic"],
        ),
        (
            lambda: hydroxide_and_carbonate(
                phenolphthalein=caustic("phenolphthalein", *FIRST), methyl_orange=weighed_portion()
            ),
            DomainError,
            ["one unit", "in the same way"],
        ),
        (
            lambda: hydroxide_and_carbonate(
                phenolphthalein=caustic("phenolphthalein", *FIRST, species="hydrochloric acid"),
                methyl_orange=caustic("methyl orange", *TOTAL, species="hydrochloric acid"),
            ),
            DomainError,
            ["'hydrochloric acid'", "sodium hydroxide or potassium hydroxide"],
        ),
        (
            lambda: hydroxide_and_carbonate(
                phenolphthalein=caustic("phenolphthalein", *FIRST, species="ammonia"),
                methyl_orange=caustic("methyl orange", *TOTAL, species="ammonia"),
            ),
            DomainError,
            ["'ammonia'", "those of a caustic"],
        ),
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
