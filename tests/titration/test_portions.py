"""Weighed portions, each with its own titre: their mean, their scatter, and what they share."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import fmean, stdev

import pytest

from assay import (
    AssayError,
    Balance,
    Burette,
    DataError,
    DomainError,
    EndPoint,
    Estimate,
    Influence,
    Pipette,
    PrimaryStandard,
    Strength,
    Temperature,
    Titrant,
    Titre,
    assay_hypochlorite,
    combine,
    standardise_by_portions,
)
from assay.data import table
from tests.titration.by_hand import READ, WEIGHED, Inputs, Value, at_20, delivered, repeatability, rounding

Given = Mapping[str, Value]

# Grams of a hypochlorite and mL of 0.1 mol/L thiosulfate. The contents scatter by more than rounding can hide.
PORTIONS = [(1.2510, 24.60), (1.3015, 25.75), (1.2204, 24.10)]


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def portions_of(listed: list[tuple[float, float]]) -> list[tuple[object, Titre]]:
    return [(balance().by_difference(f"{10 + mass:.4f} g", "10.0000 g"), titres(final)[0]) for mass, final in listed]


def thiosulfate() -> Titrant:
    influence = Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.0001)
    return Titrant(name="thiosulfate", estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def assayed(listed: list[tuple[float, float]] = PORTIONS, **options: object) -> Strength:
    return assay_hypochlorite(thiosulfate(), portions=portions_of(listed), **options)


def bench() -> Inputs:
    return Inputs().add("titrant", 0.1, 0.0001).within("gross", 0.0, 0.00015).within("tare", 0.0, 0.00015).burette("B1")


def content(x: Given, mass: float, final: float, blank: Value = 0.0) -> Value:
    """Return mol/g of hypochlorite: one takes two thiosulfate."""
    return x["titrant"] * (delivered(x["B1"], final) - blank) / 1000 / 2 / (mass - x["gross"] + x["tare"])


def contents(listed: list[tuple[float, float]], blank: float = 0.0) -> list[float]:
    return [0.1 * (final - blank) / 1000 / 2 / mass for mass, final in listed]


# ------------------------------------------------------------------------------------------------------------ the mean
def test_without_a_blank_against_a_formula_by_hand() -> None:
    found = assayed().estimate
    each = contents(PORTIONS)
    assert stdev(each) / fmean(each) > math.hypot(READ / 24.1, WEIGHED / 1.22)  # nothing is hidden
    inputs = bench().portions("scatter", each, PORTIONS)

    def formula(x: Given) -> Value:
        return sum(content(x, m, v) for m, v in PORTIONS) / 3.0 + x["scatter"]

    assert found.value == pytest.approx(fmean(each), rel=1e-12)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)
    assert (found.name, found.unit) == ("amount_content", "mol/g")


def test_with_a_single_blank_one_scatter_stands_behind_both() -> None:
    """The blank's s is that of a titre: the relative scatter of grams a millilitre, times the mean titre."""
    blank = 0.10
    found = assayed(blank=titres(blank)[0]).estimate
    each, per_ml = contents(PORTIONS, blank), [m / v for m, v in PORTIONS]
    s = stdev(per_ml) / fmean(per_ml) * fmean(v for _, v in PORTIONS)
    shared, own = (
        READ * max(c / v for c, (_, v) in zip(each, PORTIONS, strict=True)),
        WEIGHED * max(c / m for c, (m, _) in zip(each, PORTIONS, strict=True)),
    )
    left = repeatability(stdev(each), shared=shared, own=own)
    # Of the blank, too, only what is not rounding scatters; its reading is rounded once.
    covariance = [[left**2 / 3.0, 0.0], [0.0, (s * left / stdev(each)) ** 2]]
    known = [[rounding(stdev(each), 3, shared=shared, own=own) ** 2, 0.0], [0.0, READ**2]]
    inputs = bench().together("scatter", [0.0, 0.0], covariance, 2.0, known)

    def formula(x: Given) -> Value:
        empty = delivered(x["B1"], blank) + x["scatter"][1]
        return sum(content(x, m, v, empty) for m, v in PORTIONS) / 3.0 + x["scatter"][0]

    assert found.value == pytest.approx(fmean(each), rel=1e-12)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


def test_with_several_blanks_they_have_a_scatter_of_their_own() -> None:
    blanks = (0.05, 0.15)
    found = assayed(blank=titres(*blanks)).estimate
    each = contents(PORTIONS, 0.10)
    inputs = bench().portions("scatter", each, PORTIONS)
    inputs.replicates("blanks", blanks)

    def formula(x: Given) -> Value:
        empty = sum(delivered(x["B1"], b) for b in blanks) / 2.0 + x["blanks"]
        return sum(content(x, m, v, empty) for m, v in PORTIONS) / 3.0 + x["scatter"]

    assert found.value == pytest.approx(fmean(each), rel=1e-12)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


def test_each_portion_counts_alike_whatever_it_weighs() -> None:
    """The mean of the contents, not the sum of the titres over the sum of the masses."""
    unlike = [(0.5000, 10.00), (2.0000, 41.00)]
    found = assayed(unlike).estimate.value
    assert found == pytest.approx(fmean(contents(unlike)), rel=1e-12)
    assert found != pytest.approx(0.1 * 51.00 / 1000 / 2 / 2.5, rel=1e-3)


def test_portions_that_agree_still_count_rounding_and_weighing() -> None:
    found = assayed([(1.2500, 25.00)] * 2).estimate
    (line,) = (line for line in found.budget().lines if line.ids[0].endswith("/resolution"))
    hidden = math.hypot(READ / 25.0, WEIGHED / 1.25 / math.sqrt(2.0))
    assert line.contribution / found.value == pytest.approx(hidden, rel=1e-9)
    assert math.isinf(found.dof)


def test_random_starts_round_both_readings_each_time_anew() -> None:
    starts = [("1.00 mL", "26.00 mL"), ("7.35 mL", "32.35 mL")]
    weighed = balance().by_difference("11.2500 g", "10.0000 g")
    portions = [(weighed, burette().titre(*pair)) for pair in starts]
    found = assay_hypochlorite(thiosulfate(), portions=portions).estimate
    (line,) = (line for line in found.budget().lines if line.ids[0].endswith("/resolution"))
    own = math.hypot(READ * math.sqrt(2.0) / 25.0, WEIGHED / 1.25)
    assert line.contribution / found.value == pytest.approx(own / math.sqrt(2.0), rel=1e-9)


def test_a_scatter_known_from_elsewhere() -> None:
    found = assayed(PORTIONS[:1], method_s="0.06 mL", method_dof=8.0).estimate
    inputs = bench().mean("titre", 0.06, 1, 8.0, own=WEIGHED * PORTIONS[0][1] / PORTIONS[0][0])
    mass, final = PORTIONS[0]

    def formula(x: Given) -> Value:
        # The scatter moves the content by what it moves the titre by.
        return content(x, mass, final) + 0.1 / 1000 / 2 / mass * x["titre"]

    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


def test_a_simulated_balance_and_burette_give_the_same_u() -> None:
    """Linearity, scale, titrant and scatter drawn by hand, 200 000 times."""
    trials = 200_000
    each = contents(PORTIONS)
    inputs = bench().portions("scatter", each, PORTIONS)
    drawn = inputs.draws(lambda x: sum(content(x, m, v) for m, v in PORTIONS) / 3.0 + x["scatter"], trials, seed=3)
    assert drawn.std(ddof=1) == pytest.approx(assayed().estimate.u, rel=5.0 / math.sqrt(2.0 * trials))


# ------------------------------------------------------------------------------------------------------ what is shared
def test_two_assays_on_one_bench_share_all_but_their_scatter() -> None:
    other = [(1.1005, 21.70), (1.1507, 22.65)]
    first, second = assayed(record="drum 1").estimate, assayed(other, record="drum 2").estimate
    inputs = bench()
    for name, listed in (("first", PORTIONS), ("second", other)):
        inputs.portions(name, contents(listed), listed)

    def formula(x: Given) -> Value:
        a = sum(content(x, m, v) for m, v in PORTIONS) / 3.0 + x["first"]
        return a / (sum(content(x, m, v) for m, v in other) / 2.0 + x["second"])

    ratio = combine(lambda a, b: a / b, first, second)
    assert ratio.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert ratio.dof == pytest.approx(inputs.dof(formula), rel=1e-6)
    assert ratio.relative_u < math.hypot(first.relative_u, second.relative_u)


def test_warm_titres_are_brought_to_20_degrees_and_masses_are_not() -> None:
    day = Temperature("25 °C", half_width="1 K", day="2026-11-16")
    found = assayed(temperature=day).estimate
    glass, beyond = (
        next(row for row in table("thermal_expansion").rows if row.index["material"] == material)
        for material in ("borosilicate glass 3.3", "dilute solutions")
    )
    inputs = bench().within("K above 20", 5.0, 1.0)
    inputs.within("glass", glass.value, float(glass.half_width or 0.0))
    inputs.within("beyond", beyond.value, float(beyond.half_width or 0.0))
    factor = at_20(1.0, glass.value, beyond.value, 5.0)
    inputs.portions("scatter", [factor * c for c in contents(PORTIONS)], PORTIONS)

    def formula(x: Given) -> Value:
        warm = at_20(1.0, x["glass"], x["beyond"], x["K above 20"])
        return sum(content(x, m, v) for m, v in PORTIONS) / 3.0 * warm + x["scatter"]

    assert found.value == pytest.approx(factor * fmean(contents(PORTIONS)), rel=1e-12)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


# -------------------------------------------------------------------------------------------------------------- flags
def test_a_rough_portion_is_told_with_the_result_with_it() -> None:
    rough = (balance().by_difference("11.4000 g", "10.0000 g"), burette().titre("29.50 mL", rough=True))
    found = assay_hypochlorite(thiosulfate(), portions=[*portions_of(PORTIONS), rough])
    assert found.estimate.value == pytest.approx(fmean(contents(PORTIONS)), rel=1e-12)
    (flag,) = (flag for flag in found.flags if flag.code == "titres-set-aside")
    assert "29.5 mL (rough)" in flag.message
    assert f"{fmean(contents([*PORTIONS, (1.4000, 29.50)])):.5g} mol/g" in flag.message


def test_a_void_portion_keeps_its_reason() -> None:
    void = (balance().by_difference("11.4000 g", "10.0000 g"), burette().titre("29.50 mL", void="spilt"))
    found = assay_hypochlorite(thiosulfate(), portions=[*portions_of(PORTIONS), void])
    assert any("29.5 mL (spilt)" in flag.message for flag in found.flags)


def phthalate(blank: float | None, excess: str) -> Titrant:
    """Return sodium hydroxide from portions that take 24.95 mL and 25.05 mL."""
    standard = PrimaryStandard("C8H5KO4", lot="1", purity="1 g/g", half_width="0.0005 g/g")
    return standardise_by_portions(
        standard,
        portions=portions_of([(0.5105, 24.95), (0.5226, 25.05)]),
        blank=None if blank is None else titres(blank, blank),
        end_point=EndPoint("phenolphthalein", operator="K", excess=excess),
    )


@pytest.mark.parametrize("excess", ["0.00 mL", "0.05 mL", "-0.05 mL"])
@pytest.mark.parametrize(("blank", "blocked"), [(24.98, False), (25.02, True)])
def test_titre_and_blank_are_compared_at_the_same_colour(blank: float, excess: str, *, blocked: bool) -> None:
    """The end point's excess is in both: it makes a blank neither larger nor smaller than the titre."""
    codes = {flag.code for flag in phthalate(blank, excess).flags if flag.blocking}
    assert codes == ({"blank-above-titre"} if blocked else set())


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: assayed(PORTIONS[:1]), DomainError, ["single titre", "method_s"]),
        (lambda: assayed([]), DomainError, ["pipetted aliquots or in weighed portions", "portions=["]),
        (
            lambda: assay_hypochlorite(
                thiosulfate(),
                portions=[(balance().by_difference("11 g", "10 g"), burette().titre("24 mL", rough=True))],
            ),
            DomainError,
            ["no replicate", "kept"],
        ),
        (lambda: assayed([(1.25, 0.0), (1.25, 25.0)]), DomainError, ["titre less its blank is zero"]),
        (lambda: assayed([(1.25, 25.0), (1.25, 25.0)], blank=titres(25.0)), DomainError, ["blank is zero", "readings"]),
        (lambda: phthalate(None, "24.95 mL"), DomainError, ["excess", "24.95 mL", "0.5 mL"]),
        (
            lambda: assay_hypochlorite(thiosulfate(), portions=[(balance().by_difference("2 g", "1 g"), "24.35 mL")]),
            DataError,
            ["24.35 mL", "burette.titre("],
        ),
        (
            lambda: assayed(aliquot=Pipette("P", capacity="25 mL")),
            DomainError,
            ["one of the two", "aliquot with titres"],
        ),
        (lambda: assayed(titres=titres(24.0)), DomainError, ["weighed portions stand alone"]),
        (lambda: balance().by_difference("10 g", "11 g"), DomainError, ["gross", "exchanged"]),
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
