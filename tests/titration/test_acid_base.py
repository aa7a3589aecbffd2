"""Acids and bases at an indicator's end point, against plain arithmetic and formulas written out by hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from statistics import fmean, stdev

import pytest

from assay import (
    AssayError,
    Balance,
    BasisError,
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
    PrimaryStandard,
    Sampling,
    StandardSolution,
    Strength,
    Temperature,
    Titrant,
    Titre,
    UnitError,
    acid_base_procedure,
    assay_acid_base,
    combine,
    dose,
    measured_density,
    standardise_by_aliquots,
    standardise_by_portions,
)
from assay.data import table
from tests.titration.by_hand import Inputs, Value, at_20, delivered

Given = Mapping[str, Value]

SAMPLED = Sampling(method="bottle inverted, poured in the fume hood", delay="10 min")
PURITY, PURITY_HALF = 0.9995, 0.0005
LINEARITY = 0.00015  # g, half-width
E, U_E = 0.05, 0.03  # mL
PINK = {"indicator": "phenolphthalein", "operator": "K", "excess": "0.05 mL"}
ORANGE = {"indicator": "methyl orange", "operator": "K", "excess": "0.05 mL"}


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")


def p25() -> Pipette:
    return Pipette("P25", capacity="25 mL", accuracy_class="A")


def p10() -> Pipette:
    return Pipette("P10", capacity="10 mL", accuracy_class="A")


def f250() -> Flask:
    return Flask("F250", capacity="250 mL", accuracy_class="A")


def standard(name: str) -> PrimaryStandard:
    return PrimaryStandard(name, lot="L1", purity="99.95 % w/w", half_width="0.05 % w/w")


def at(indicator: str, operator: str | None = "K", excess: str = "0.05 mL") -> EndPoint:
    return EndPoint(indicator, operator=operator, excess=excess)


def titrant(name: str, value: float = 0.1) -> Titrant:
    influence = Influence(id=f"bottle/{name}", label=name, value=value, u=0.001 * value)
    return Titrant(name=name, estimate=Estimate.from_influence(influence, name="titrant_concentration"))


# Masses, g, and titres, mL. The concentrations scatter by more than the rounding of a reading can hide.
PHTHALATE = [(0.5105, 25.00), (0.5226, 25.65), (0.4951, 24.20)]
CARBONATE = [(0.1302, 24.60), (0.1365, 25.70), (0.1284, 24.25)]


def portions_of(listed: list[tuple[float, float]]) -> list[tuple[object, Titre]]:
    return [(balance().by_difference(f"{14 + mass:.4f} g", "14.0000 g"), titres(final)[0]) for mass, final in listed]


def hydroxide(operator: str | None = "K", **options: object) -> Titrant:
    """Return sodium hydroxide against potassium hydrogen phthalate."""
    return standardise_by_portions(
        standard("potassium hydrogen phthalate"),
        portions=portions_of(PHTHALATE),
        end_point=at("phenolphthalein", operator),
        **options,
    )


def bench() -> Inputs:
    """Return the inputs that all titrations of this file share, in g and mL."""
    return (
        Inputs()
        .atomic_weights("H", "C", "O", "Na", "K")
        .within("purity", PURITY, PURITY_HALF)
        .within("gross", 0.0, LINEARITY)
        .within("tare", 0.0, LINEARITY)
        .burette("B1")
        .within("P25", 25.0, 0.03)
        .within("P10", 10.0, 0.02)
        .within("F250", 250.0, 0.15)
        .add("excess", E, U_E)
        .add("titrant", 0.1, 0.0001)
    )


def phthalate_mass(x: Given) -> Value:
    return 8 * x["C"] + 5 * x["H"] + x["K"] + 4 * x["O"]


def carbonate_mass(x: Given) -> Value:
    return 2 * x["Na"] + x["C"] + 3 * x["O"]


def from_phthalate(x: Given, excess: str = "excess") -> list[Value]:
    """Return mol/L of hydroxide from each portion: one hydroxide for one hydrogen phthalate."""
    return [
        1000 * (mass - x["gross"] + x["tare"]) * x["purity"] / phthalate_mass(x) / (delivered(x["B1"], v) - x[excess])
        for mass, v in PHTHALATE
    ]


def mean_hydroxide(x: Given) -> Value:
    return sum(from_phthalate(x)) / 3.0 + x["portions"]


def with_hydroxide(inputs: Inputs) -> Inputs:
    """Add the scatter of the three portions of phthalate."""
    each = [inputs.value(lambda x, k=k: from_phthalate(x)[k]) for k in range(3)]
    assert stdev(each) / fmean(each) > math.hypot(0.05 / math.sqrt(12.0) / 24.2, 1e-4 * math.sqrt(2.0) / 0.495)
    return inputs.portions("portions", each, PHTHALATE)


def same(found: Estimate, inputs: Inputs, formula: Callable[[Given], Value]) -> None:
    """Compare value, u and degrees of freedom with those by hand."""
    assert found.value == pytest.approx(inputs.value(formula), rel=1e-12)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


# -------------------------------------------------------------------------------------------------- standardisations
def test_hydroxide_against_phthalate() -> None:
    found = hydroxide()
    assert (found.name, found.unit) == ("sodium hydroxide", "L")
    assert [flag.code for flag in found.flags] == ["no-blank"]
    assert found.facts["end point"] == "phenolphthalein (colourless to pink), judged by K"
    assert found.facts["standard"] == "potassium hydrogen phthalate"
    same(found.estimate, with_hydroxide(bench()), mean_hydroxide)


def test_hydroxide_against_aliquots_of_a_phthalate_solution() -> None:
    solution = StandardSolution(
        standard=standard("potassium hydrogen phthalate"),
        weighing=balance().by_difference("19.1050 g", "14.0000 g"),
        flask=f250(),
    )
    finals = (24.90, 25.05, 24.95)
    found = standardise_by_aliquots(
        solution, aliquot=p25(), titres=titres(*finals), end_point=at("phenolphthalein")
    ).estimate
    inputs = bench().replicates("titres", finals)
    inputs.add("weighed gross", 0.0, 0.0001).add("weighed tare", 0.0, 0.0001)  # repeatability: weighed once

    def formula(x: Given) -> Value:
        mass = 5.1050 - x["gross"] + x["tare"] - x["weighed gross"] + x["weighed tare"]
        net = sum(delivered(x["B1"], v) for v in finals) / 3.0 + x["titres"] - x["excess"]
        return 1000 * mass * x["purity"] / phthalate_mass(x) * x["P25"] / x["F250"] / net

    same(found, inputs, formula)


def test_acid_against_carbonate() -> None:
    """One carbonate takes two hydrochloric acid to methyl orange."""
    found = standardise_by_portions(
        standard("sodium carbonate"), portions=portions_of(CARBONATE), end_point=at("methyl orange")
    )
    assert found.name == "hydrochloric acid"

    def each(x: Given) -> list[Value]:
        per_gram = 2000 * x["purity"] / carbonate_mass(x)
        return [
            per_gram * (mass - x["gross"] + x["tare"]) / (delivered(x["B1"], v) - x["excess"]) for mass, v in CARBONATE
        ]

    inputs = bench()
    values = [inputs.value(lambda x, k=k: each(x)[k]) for k in range(3)]
    hidden = math.hypot(0.05 / math.sqrt(12.0) / 24.2, 1e-4 * math.sqrt(2.0) / 0.128)
    assert stdev(values) / fmean(values) > hidden
    inputs.portions("portions", values, CARBONATE)
    same(found.estimate, inputs, lambda x: sum(each(x)) / 3.0 + x["portions"])


ACID = (24.60, 24.75, 24.70)  # titres of 25 mL of acid with that hydroxide, mL


def acid_against_hydroxide(operator: str | None = "K", **options: object) -> Strength:
    return assay_acid_base(
        hydroxide(),
        "hydrochloric acid",
        aliquot=p25(),
        titres=titres(*ACID),
        end_point=at("phenolphthalein", operator),
        sampling=SAMPLED,
        **options,
    )


def acid_by_hand(x: Given, excess: str = "excess") -> Value:
    net = sum(delivered(x["B1"], v) for v in ACID) / 3.0 + x["titres"] - x[excess]
    return mean_hydroxide(x) * net / x["P25"]


def test_acid_against_that_hydroxide_is_one_chain() -> None:
    """Purity, molar mass, burette and the operator's judgement run through both titrations."""
    inputs = with_hydroxide(bench()).replicates("titres", ACID)
    found = acid_against_hydroxide()
    same(found.estimate, inputs, acid_by_hand)
    assert found.estimate.unit == "mol/L"
    titrant_again = Titrant.from_strength(found)
    assert (titrant_again.name, titrant_again.estimate.u) == ("hydrochloric acid", found.estimate.u)


def test_acid_and_its_hydroxide_are_correlated_as_by_hand() -> None:
    inputs = with_hydroxide(bench()).replicates("titres", ACID)
    base = hydroxide(record="Monday")
    acid = assay_acid_base(
        base, "hydrochloric acid", aliquot=p25(), titres=titres(*ACID), end_point=at("phenolphthalein")
    )
    difference = combine(lambda a, b: a - b, acid.estimate, base.estimate)
    assert difference.u == pytest.approx(inputs.u(lambda x: acid_by_hand(x) - mean_hydroxide(x)), rel=1e-7)
    first, second = acid.estimate.u, base.estimate.u
    r = (first**2 + second**2 - difference.u**2) / (2.0 * first * second)
    assert r == pytest.approx(inputs.correlation(acid_by_hand, mean_hydroxide), rel=1e-6)
    assert r > 0.0


# ------------------------------------------------------------------------------------------------ whose eye judged it
def in_the_standardisation() -> float:
    """Return d ln c/d e of the hydroxide, 1/mL: that of each portion counts by its concentration."""
    each = [mass / (v - E) for mass, v in PHTHALATE]
    return sum(c / (v - E) for c, (_, v) in zip(each, PHTHALATE, strict=True)) / sum(each)


def test_one_operator_at_both_ends_cancels_most_of_the_judgement() -> None:
    """With e in both titrations d ln c/d e is 1/V(standardisation) - 1/V(assay); with two operators both count."""
    inputs = with_hydroxide(bench()).replicates("titres", ACID)
    inputs.add("other", E, U_E)
    one, two = acid_against_hydroxide("K").estimate, acid_against_hydroxide("L").estimate
    same(one, inputs, acid_by_hand)
    same(two, inputs, lambda x: acid_by_hand(x, "other"))
    assert two.value == one.value
    judged = "operator/K/phenolphthalein/end point"
    slope = one.sensitivities[judged] / one.value / 1000
    assert slope == pytest.approx(in_the_standardisation() - 1.0 / (fmean(ACID) - E), rel=1e-7)
    assert abs(one.sensitivities[judged]) < 0.05 * abs(two.sensitivities[judged])
    assert two.u**2 - one.u**2 > 1.9 * (U_E / 25.0 * one.value) ** 2


def test_an_operator_who_is_not_named_is_nobody_known() -> None:
    unnamed = acid_against_hydroxide(None).estimate
    assert unnamed.u == pytest.approx(acid_against_hydroxide("L").estimate.u, rel=1e-12)
    assert sum("end point" in id_ for id_ in unnamed.influences) == 2


def test_the_judgement_cancels_less_where_the_titres_differ() -> None:
    """At a tenth of the titre the same 0.03 mL weighs ten times as much, and a tenth of it cancels."""
    found = assay_acid_base(
        hydroxide(), "hydrochloric acid", aliquot=p25(), titres=titres(2.50, 2.60), end_point=at("phenolphthalein")
    ).estimate
    slope = found.sensitivities["operator/K/phenolphthalein/end point"] / found.value / 1000
    assert slope == pytest.approx(in_the_standardisation() - 1.0 / (2.55 - E), rel=1e-9)


def test_two_samples_judged_by_one_operator_with_one_titrant() -> None:
    """Acid and vinegar share hydroxide, burette, pipette and eye: nearly all but the scatter of the titres."""
    finals = {"hydrochloric acid": (24.60, 24.75, 24.70), "acetic acid": (20.10, 20.25, 20.15)}
    base = hydroxide(record="Monday")
    first, second = (
        assay_acid_base(base, name, aliquot=p25(), titres=titres(*v), end_point=at("phenolphthalein")).estimate
        for name, v in finals.items()
    )
    inputs = with_hydroxide(bench())
    for name, v in finals.items():
        inputs.replicates(name, v)

    def strength(name: str) -> Callable[[Given], Value]:
        def formula(x: Given) -> Value:
            net = sum(delivered(x["B1"], v) for v in finals[name]) / 3.0 + x[name] - x["excess"]
            return mean_hydroxide(x) * net / x["P25"]

        return formula

    acid, vinegar = (strength(name) for name in finals)
    same(first, inputs, acid)
    same(second, inputs, vinegar)
    ratio = combine(lambda a, b: a / b, first, second)
    same(ratio, inputs, lambda x: acid(x) / vinegar(x))
    assert ratio.relative_u < math.hypot(first.relative_u, second.relative_u)
    covariance = inputs.covariance(acid, vinegar)
    total = combine(lambda a, b: a + b, first, second)
    assert (total.u**2 - first.u**2 - second.u**2) / 2.0 == pytest.approx(covariance, rel=1e-6)


def test_simulated_chain_agrees_with_u() -> None:
    """Drawn by hand: the scatter of 200 000 outcomes is u, within five times what a run of this size errs by."""
    trials = 200_000
    inputs = with_hydroxide(bench()).replicates("titres", ACID)
    drawn = inputs.draws(acid_by_hand, trials, seed=7)
    found = acid_against_hydroxide().estimate
    assert drawn.std(ddof=1) == pytest.approx(found.u, rel=5.0 / math.sqrt(2.0 * trials))
    assert found.monte_carlo(trials=50_000).u == pytest.approx(found.u, rel=5.0 / math.sqrt(100_000))


# ------------------------------------------------------------------------------------------------------------ assays
BASE, HCL = "sodium hydroxide", "hydrochloric acid"
ASSAYS = [
    ("hydrochloric acid", BASE, "phenolphthalein", 1),
    ("hydrochloric acid", BASE, "methyl orange", 1),
    ("nitric acid", BASE, "bromothymol blue", 1),
    ("sulfuric acid", BASE, "methyl red", 2),
    ("acetic acid", BASE, "phenolphthalein", 1),
    ("acetic acid", BASE, "thymolphthalein", 1),
    ("sodium hydroxide", HCL, "phenolphthalein", 1),
    ("potassium hydroxide", HCL, "bromocresol green", 1),
    ("ammonia", HCL, "methyl red", 1),
    ("ammonia", HCL, "methyl orange", 1),
]


@pytest.mark.parametrize(("species", "with_", "indicator", "equivalents"), ASSAYS)
def test_every_assay_against_a_formula_by_hand(species: str, with_: str, indicator: str, equivalents: int) -> None:
    """A diluted sample, three titres and a single blank to the same colour: the judgement is in both and goes."""
    finals, blank = (24.30, 24.45, 24.36), 0.10
    found = assay_acid_base(
        titrant(with_),
        species,
        aliquot=p10(),
        titres=titres(*finals),
        dilutions=[Dilution(p10(), f250())],
        blank=titres(blank)[0],
        end_point=at(indicator),
        sampling=SAMPLED,
    )
    inputs = bench().replicates_and_blank("scatter", finals)

    def formula(x: Given) -> Value:
        mean = sum(delivered(x["B1"], v) for v in finals) / 3.0 + x["scatter"][0] - x["excess"]
        net = mean - (delivered(x["B1"], blank) + x["scatter"][1] - x["excess"])
        return x["titrant"] * net / (equivalents * x["P10"]) * x["F250"] / x["P10"]

    same(found.estimate, inputs, formula)
    assert found.estimate.sensitivities[f"operator/K/{indicator}/end point"] == pytest.approx(0.0, abs=1e-9)
    assert found.species.name == species
    assert [flag.code for flag in found.flags if flag.code != "carbonate-counted"] == []
    assert found.facts["end point"].startswith(indicator)
    assert found.facts["titrant"] == with_


@pytest.mark.parametrize(("species", "with_", "indicator", "equivalents"), ASSAYS)
def test_every_assay_of_weighed_portions(species: str, with_: str, indicator: str, equivalents: int) -> None:
    listed = [(1.2510, 24.60), (1.3015, 25.70), (1.2204, 24.10)]
    found = assay_acid_base(titrant(with_), species, portions=portions_of(listed), end_point=at(indicator))
    inputs = bench()

    def each(x: Given) -> list[Value]:
        return [
            x["titrant"] * (delivered(x["B1"], v) - x["excess"]) / 1000 / equivalents / (m - x["gross"] + x["tare"])
            for m, v in listed
        ]

    values = [inputs.value(lambda x, k=k: each(x)[k]) for k in range(3)]
    assert stdev(values) / fmean(values) > math.hypot(0.05 / math.sqrt(12.0) / 24.1, 1e-4 * math.sqrt(2.0) / 1.22)
    inputs.portions("portions", values, listed)
    same(found.estimate, inputs, lambda x: sum(each(x)) / 3.0 + x["portions"])
    assert found.estimate.unit == "mol/g"
    assert found.per_mass


def test_weighed_into_the_flask_of_the_first_dilution() -> None:
    """The strength is per mass; the one weighing has its repeatability."""
    weighing = balance().by_difference("152.4040 g", "146.2100 g")
    found = assay_acid_base(
        titrant(BASE),
        "hydrochloric acid",
        aliquot=p10(),
        titres=titres(20.25),
        dilutions=[Dilution(weighing, f250())],
        end_point=at("phenolphthalein"),
        method_s="0.04 mL",
        method_dof=9.0,
    )
    inputs = bench().mean("titre", 0.04, 1, 9.0)
    inputs.add("weighed gross", 0.0, 0.0001).add("weighed tare", 0.0, 0.0001)

    def formula(x: Given) -> Value:
        mass = 6.1940 - x["gross"] + x["tare"] - x["weighed gross"] + x["weighed tare"]
        net = delivered(x["B1"], 20.25) + x["titre"] - x["excess"]
        return x["titrant"] * net / x["P10"] * x["F250"] / 1000 / mass

    same(found.estimate, inputs, formula)
    assert found.in_basis("% w/w HCl").value == pytest.approx(100 * inputs.value(formula) * (1.0080 + 35.45), rel=1e-12)


def test_one_flask_assayed_twice_was_weighed_once() -> None:
    """Two records of one dilution share its weighing as well as its flask; another weighing is another."""

    def of(gross: str, record: str) -> Estimate:
        return assay_acid_base(
            titrant(BASE),
            "hydrochloric acid",
            aliquot=p10(),
            titres=titres(20.25),
            dilutions=[Dilution(Balance("W2", readability="10 mg", repeatability="10 mg", linearity="0 g")
                                .by_difference(gross, "146.21 g"), f250())],
            end_point=at("phenolphthalein"),
            method_s="0.0001 mL",
            record=record,
        ).estimate  # fmt: skip

    ratio = combine(lambda a, b: a / b, of("152.40 g", "first"), of("152.40 g", "second"))
    assert ratio.u == pytest.approx(math.sqrt(2.0) * math.hypot(0.0001, 0.05 / math.sqrt(12.0)) / 20.20, rel=1e-3)
    other = combine(lambda a, b: a / b, of("152.40 g", "first"), of("152.45 g", "second"))
    assert other.u == pytest.approx(math.hypot(ratio.u, 2.0 * 0.010 / 6.2), rel=1e-2)


def test_warm_liquids_on_both_sides_of_the_titration() -> None:
    """Titrant and sample are equally warm: what is left is the titre of standardisation, and the aliquot's glass."""
    day = Temperature("24 °C", half_width="2 K", day="2026-11-17")
    base = hydroxide(temperature=day)
    found = assay_acid_base(
        base, "hydrochloric acid", aliquot=p25(), titres=titres(*ACID), end_point=at("phenolphthalein"), temperature=day
    ).estimate
    inputs = bench().within("K above 20", 4.0, 2.0)
    for name, material in (("glass", "borosilicate glass 3.3"), ("beyond", "dilute solutions")):
        (row,) = (row for row in table("thermal_expansion").rows if row.index["material"] == material)
        inputs.within(name, row.value, float(row.half_width or 0.0))

    def corrected(x: Given, volume: Value) -> Value:
        return at_20(volume, x["glass"], x["beyond"], x["K above 20"])

    def each(x: Given) -> list[Value]:
        per_gram = 1000 * x["purity"] / phthalate_mass(x)
        return [
            per_gram * (m - x["gross"] + x["tare"]) / (corrected(x, delivered(x["B1"], v)) - x["excess"])
            for m, v in PHTHALATE
        ]

    values = [inputs.value(lambda x, k=k: each(x)[k]) for k in range(3)]
    inputs.portions("portions", values, PHTHALATE)
    inputs.replicates("titres", ACID)

    def formula(x: Given) -> Value:
        # The scatter is that of the readings, and is corrected with their mean.
        mean = corrected(x, sum(delivered(x["B1"], v) for v in ACID) / 3.0 + x["titres"])
        return (sum(each(x)) / 3.0 + x["portions"]) * (mean - x["excess"]) / corrected(x, x["P25"])

    same(base.estimate, inputs, lambda x: sum(each(x)) / 3.0 + x["portions"])
    same(found, inputs, formula)


def test_a_strength_per_mass_needs_a_density_where_the_sample_was_pipetted() -> None:
    with pytest.raises(BasisError, match="density"):
        acid_against_hydroxide().in_basis("% w/w HCl")
    density = measured_density("1.0020 g/mL", half_width="0.0010 g/mL", temperature="20 °C", name="acid")
    found = acid_against_hydroxide(density=density)
    assert found.in_basis("% w/w HCl").value == pytest.approx(
        100 * found.estimate.value * (1.0080 + 35.45) / 1002.0, rel=1e-12
    )


# ------------------------------------------------------------------------------------------------------------- flags
def flag_of(found: Strength, code: str) -> str:
    (flag,) = (flag for flag in found.flags if flag.code == code)
    return flag.message


def assayed(species: str, indicator: str, *finals: float, **options: object) -> Strength:
    with_ = HCL if species in {"sodium hydroxide", "potassium hydroxide", "ammonia"} else BASE
    whole = {"aliquot": p25(), "titres": titres(*finals), "blank": titres(0.05), "sampling": SAMPLED, **options}
    chosen = whole.pop("titrant", titrant(with_))
    return assay_acid_base(chosen, species, end_point=at(indicator), **whole)


@pytest.mark.parametrize(
    ("species", "indicator", "better"),
    [
        ("acetic acid", "methyl orange", "phenolphthalein or thymolphthalein"),
        ("acetic acid", "methyl red", "phenolphthalein or thymolphthalein"),
        ("acetic acid", "bromothymol blue", "phenolphthalein or thymolphthalein"),
        ("ammonia", "phenolphthalein", "methyl orange or bromocresol green or methyl red"),
        ("ammonia", "thymolphthalein", "methyl orange or bromocresol green or methyl red"),
        ("hydrochloric acid", "starch", "methyl orange"),
    ],
)
def test_an_indicator_that_changes_elsewhere_blocks(species: str, indicator: str, better: str) -> None:
    found = assayed(species, indicator, 24.30, 24.50)
    (flag,) = (flag for flag in found.flags if flag.code == "indicator-unsuitable")
    assert flag.blocking
    assert flag.message.startswith(f"{indicator} changes its colour away from the equivalence point of {species}")
    assert better in flag.message
    cylinder = Cylinder("C250", capacity="250 mL", subdivision="2 mL")
    formula = found.species.entity
    with pytest.raises(BlockedResultError, match="indicator-unsuitable"):
        dose(found, deliver=f"0.010 mol {formula}", dispenser=cylinder, into="water")
    accepted = found.accepting("indicator-unsuitable", because="a demonstration of what goes wrong")
    assert dose(accepted, deliver=f"0.010 mol {formula}", dispenser=cylinder, into="water").nominal is not None
    with pytest.raises(BlockedResultError, match="indicator-unsuitable"):
        Titrant.from_strength(found)


@pytest.mark.parametrize(
    ("indicator", "says"),
    [("phenolphthalein", "half of any carbonate"), ("methyl orange", "all of any carbonate")],
)
def test_what_an_indicator_means_in_a_caustic_is_told(indicator: str, says: str) -> None:
    for species in ("sodium hydroxide", "potassium hydroxide"):
        message = flag_of(assayed(species, indicator, 24.30, 24.50), "carbonate-counted")
        assert message.startswith(f"{indicator} finds the hydroxide and {says}")
    assert "carbonate-counted" not in {flag.code for flag in assayed("ammonia", "methyl orange", 24.3, 24.5).flags}


def test_sampling_and_blank_not_stated_are_flagged() -> None:
    found = assayed("hydrochloric acid", "phenolphthalein", 24.30, 24.50, blank=None, sampling=None)
    assert "portion tested" in flag_of(found, "portion-only")
    assert "no blank" in flag_of(found, "no-blank")
    assert not any(flag.blocking for flag in found.flags)


def test_a_blank_above_the_titre_blocks_and_is_not_clipped() -> None:
    found = assayed("ammonia", "methyl red", 10.00, 10.05, blank=titres(12.00))
    assert found.estimate.value == pytest.approx(0.1 * (10.025 - 12.00) / 25.0, rel=1e-12)
    assert [(flag.code, flag.blocking) for flag in found.flags] == [("blank-above-titre", True)]


@pytest.mark.parametrize(
    ("species", "indicator", "ceiling", "molar"),
    [
        ("hydrochloric acid", "phenolphthalein", "480 g/L HCl", 480.0 / 36.458),
        ("acetic acid", "phenolphthalein", "1070 g/L CH3COOH", 1070.0 / 60.052),
        ("ammonia", "methyl red", "320 g/L NH3", 320.0 / 17.031),
        ("sodium hydroxide", "methyl orange", "800 g/L NaOH", 800.0 / 39.997),
    ],
)
def test_more_than_is_sold_blocks(species: str, indicator: str, ceiling: str, molar: float) -> None:
    """Net titres of 25 mL of 0.1 mol/L for 25 mL are 0.1 mol/L; the dilutions are chosen around the ceiling."""
    options = {"dilutions": [Dilution(p10(), f250())] * 2}  # 625 times
    inside = 0.99 * molar / 0.1 / 625.0 * 25.0
    for factor, codes in ((1.0, set()), (1.02 / 0.99, {"implausible-strength"})):
        final = factor * inside + 0.05
        found = assayed(species, indicator, final, final, **options)
        assert {flag.code for flag in found.flags if flag.blocking} == codes
        if codes:
            assert f"above {ceiling}" in flag_of(found, "implausible-strength")


def test_more_than_the_pure_substance_by_mass_blocks() -> None:
    """6.194 g to 250 mL, of which 10 mL take 20.2 mL of 0.1 mol/L, are 29.7 % w/w; a dilution counted twice, 743 %."""
    weighed = Dilution(balance().by_difference("152.4040 g", "146.2100 g"), f250())
    once, twice = (
        assayed("hydrochloric acid", "phenolphthalein", 20.25, 20.30, aliquot=p10(), dilutions=dilutions)
        for dilutions in ([weighed], [weighed, Dilution(p10(), f250())])
    )
    assert once.flags == ()
    (flag,) = twice.flags
    assert (flag.code, flag.blocking) == ("implausible-strength", True)
    assert "above 40 % w/w HCl" in flag.message


def test_pellets_weighed_whole_are_no_more_than_pure() -> None:
    """1.000 g of sodium hydroxide is 25.0 mmol: 25.0 mL of 1 mol/L acid. Found within U of 100 %, nothing is said."""
    listed = portions_of([(1.0000, 25.00), (1.0100, 25.30), (0.9900, 24.70)])
    found = assay_acid_base(
        titrant(HCL, 1.0), "sodium hydroxide", portions=listed, end_point=at("methyl orange", excess="0.00 mL")
    )
    assert found.in_basis("% w/w NaOH").value == pytest.approx(100.0, abs=0.5)
    assert not any(flag.blocking for flag in found.flags)


def test_a_strength_above_its_label_is_told() -> None:
    found = assayed("hydrochloric acid", "phenolphthalein", 25.05, 25.05, label="0.09 mol/L HCl")
    assert "111 % of the label's 0.09 mol/L HCl" in flag_of(found, "above-label")
    assert "Hydrochloric acid does not gain strength" in flag_of(found, "above-label")


# ---------------------------------------------------------------------------------------------------------- refusals
def mass_titres() -> list[object]:
    return [balance().titre("82.4150 g", "57.4660 g"), balance().titre("57.4660 g", "32.5110 g")]


def blocked() -> Titrant:
    return standardise_by_portions(
        standard("potassium hydrogen phthalate"), portions=portions_of(PHTHALATE), blank=titres(40.0)
    )


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: assayed("hydrocloric acid", "phenolphthalein", 24.3, 24.4),
            DataError,
            ["unknown acid or base", "'hydrocloric acid'", "'hydrochloric acid'"],
        ),
        (lambda: assayed("hypochlorite", "phenolphthalein", 24.3, 24.4), DataError, ["unknown", "'hypochlorite'"]),
        (
            lambda: assayed("hydrochloric acid", "phenolphtalein", 24.3, 24.4),
            DataError,
            ["table of indicators", "'phenolphtalein'", "'phenolphthalein'"],
        ),
        (
            lambda: assayed("ammonia", "methyl red", 24.3, 24.4, titrant=titrant(BASE)),
            DomainError,
            ["ammonia is titrated with hydrochloric acid", "'sodium hydroxide'", "check the species"],
        ),
        (
            lambda: assayed("acetic acid", "phenolphthalein", 24.3, 24.4, titrant=titrant(HCL)),
            DomainError,
            ["acetic acid is titrated with sodium hydroxide", "'hydrochloric acid'"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, titrant=titrant("thiosulfate")),
            DomainError,
            ["titrated with sodium hydroxide", "'thiosulfate'"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, titrant=blocked()),
            BlockedResultError,
            ["the titrant", "blank-above-titre"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3),
            DomainError,
            ["single titre", "method_s"],
        ),
        (lambda: assayed("hydrochloric acid", "phenolphthalein"), DomainError, ["no replicate"]),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, portions=portions_of(PHTHALATE)),
            DomainError,
            ["pipetted aliquots or in weighed portions", "portions=["],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, aliquot=None),
            DomainError,
            ["pipetted aliquots or in weighed portions", "aliquot with titres"],
        ),
        (
            lambda: assayed(
                "hydrochloric acid", "phenolphthalein", 24.3, aliquot=None, portions=portions_of(PHTHALATE)
            ),
            DomainError,
            ["weighed portions stand alone", "dilutions=[Dilution(weighing, flask)]"],
        ),
        (
            lambda: assayed(
                "hydrochloric acid",
                "phenolphthalein",
                24.3,
                24.4,
                dilutions=[Dilution(p10(), f250()), Dilution(balance().by_difference("11 g", "10 g"), f250())],
            ),
            DomainError,
            ["only the sample itself is weighed", "weighed dilution first"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", titres=mass_titres()),
            DomainError,
            ["per litre", "24.949 g"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", titres=[*titres(24.3), mass_titres()[0]]),
            DataError,
            ["by volume and titres by mass", "24.3 mL", "24.949 g"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", titres=["24.35 mL"]),
            DataError,
            ["24.35 mL", "burette.titre("],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, label="32 %"),
            BasisError,
            ["'32 %'", "% w/w HCl"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, label="0.1 N"),
            BasisError,
            ["0.1 N"],
        ),
        (
            lambda: assayed("acetic acid", "phenolphthalein", 24.3, 24.4, label="5 % w/w HCl"),
            BasisError,
            ["5 % w/w HCl", "CH3COOH"],
        ),
        (
            lambda: assayed("hydrochloric acid", "phenolphthalein", 24.3, 24.4, method_s="0.04 g"),
            UnitError,
            ["method_s", "0.04 g"],
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


def test_an_end_point_must_be_named() -> None:
    with pytest.raises(TypeError, match="end_point"):
        assay_acid_base(titrant(BASE), "hydrochloric acid", aliquot=p25(), titres=titres(24.3, 24.4))


# --------------------------------------------------------------------------------------------------------- procedure
def test_the_procedure_puts_the_sample_into_water_and_never_the_other_way() -> None:
    steps = acid_base_procedure()
    assert [step.split(".")[0] for step in steps] == [str(k) for k in range(1, len(steps) + 1)]
    (place,) = (k for k, step in enumerate(steps) if "never water to them" in step)
    (aliquot,) = (k for k, step in enumerate(steps) if "Pipette the aliquot" in step)
    assert place < aliquot
    for words in ["fume hood", "indicator that is named", "boil, cool and finish", "blank"]:
        assert any(words in step for step in steps)
