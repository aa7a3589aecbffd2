"""Titrant measured by mass: every assay, weighed and pipetted, and what a balance shares with itself."""

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
    Dilution,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Influence,
    MassTitre,
    Pipette,
    PrimaryStandard,
    StandardSolution,
    Strength,
    Temperature,
    Titrant,
    Titre,
    UnitError,
    assay_acid_base,
    assay_hypochlorite,
    combine,
    standardise_by_aliquots,
    standardise_by_comparison,
    standardise_by_portions,
)
from tests.titration.by_hand import WEIGHED, Inputs, Value, at_20, delivered

Given = Mapping[str, Value]

LINEARITY = 0.00015  # g, half-width
# What each species takes, with an indicator that suits it: moles of titrant for one mole.
SPECIES = {
    "hypochlorite": ("thiosulfate", None, 2),
    "hydrochloric acid": ("sodium hydroxide", "phenolphthalein", 1),
    "sulfuric acid": ("sodium hydroxide", "methyl red", 2),
    "nitric acid": ("sodium hydroxide", "bromothymol blue", 1),
    "acetic acid": ("sodium hydroxide", "phenolphthalein", 1),
    "sodium hydroxide": ("hydrochloric acid", "methyl orange", 1),
    "potassium hydroxide": ("hydrochloric acid", "methyl orange", 1),
    "ammonia": ("hydrochloric acid", "methyl red", 1),
}


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")


def mass_titres(*masses: float) -> list[MassTitre]:
    """Return titres by the loss of a bottle of titrant."""
    return [balance().titre("90.0000 g", f"{90 - mass:.4f} g") for mass in masses]


def volume_titres(*finals: float) -> list[Titre]:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    return [burette.titre(f"{final:.2f} mL") for final in finals]


def p25() -> Pipette:
    return Pipette("P25", capacity="25 mL", accuracy_class="A")


def p10() -> Pipette:
    return Pipette("P10", capacity="10 mL", accuracy_class="A")


def f250() -> Flask:
    return Flask("F250", capacity="250 mL", accuracy_class="A")


def titrant(name: str, unit: str = "g") -> Titrant:
    """Return a titrant of 0.1 mol/L, or of 1e-4 mol/g."""
    value, quantity = (0.1, "titrant_concentration") if unit == "L" else (1e-4, "titrant_content")
    influence = Influence(id=f"bottle/{name}/{unit}", label=name, value=value, u=0.001 * value)
    return Titrant(name=name, estimate=Estimate.from_influence(influence, name=quantity))


def assayed(species: str, unit: str = "g", **options: object) -> Strength:
    with_, indicator, _ = SPECIES[species]
    if indicator is None:
        return assay_hypochlorite(titrant(with_, unit), **options)
    whole = {"end_point": EndPoint(indicator, operator="K", excess="0.05 mL"), **options}
    return assay_acid_base(titrant(with_, unit), species, **whole)


def bench() -> Inputs:
    found = Inputs()
    for what in ("standard", "sample", "titre", "blank"):
        found.within(f"{what} gross", 0.0, LINEARITY).within(f"{what} tare", 0.0, LINEARITY)
    return (
        found.add("titrant", 1e-4, 1e-7)
        .within("P25", 25.0, 0.03)
        .within("P10", 10.0, 0.02)
        .within("F250", 250.0, 0.15)
        .burette("B1")
        .add("excess", 0.05, 0.03)
    )


def weighed(x: Given, mass: float, what: str = "titre") -> Value:
    """Return a mass less the linearity errors of its loads, which are those of what is weighed in the same way."""
    return mass - x[f"{what} gross"] + x[f"{what} tare"]


def same(found: Estimate, inputs: Inputs, formula: Callable[[Given], Value]) -> None:
    assert found.value == pytest.approx(inputs.value(formula), rel=1e-11)
    assert found.u == pytest.approx(inputs.u(formula), rel=1e-7)
    assert found.dof == pytest.approx(inputs.dof(formula), rel=1e-6)


MASSES = (24.5003, 24.5101, 24.4950)  # g of titrant, in titres of like samples
FINALS = (24.50, 24.65, 24.55)  # mL
PORTIONS = (2.5010, 2.4992, 2.5025)  # g


# ------------------------------------------------------------- sample weighed or pipetted, titrant by volume or by mass
@pytest.mark.parametrize("species", SPECIES)
@pytest.mark.parametrize("unit", ["L", "g"])
@pytest.mark.parametrize("sample", ["pipetted", "pipetted from a dilution", "weighed into a flask", "weighed"])
def test_every_assay_in_every_way(species: str, unit: str, sample: str) -> None:
    """Value, u and degrees of freedom against formulas by hand, for 8 species in 8 ways."""
    listed = FINALS if unit == "L" else MASSES
    titres = volume_titres(*listed) if unit == "L" else mass_titres(*listed)
    weighing = balance().by_difference("25.0000 g", "20.0000 g")
    options: dict[str, object] = {
        "pipetted": {"aliquot": p25(), "titres": titres},
        "pipetted from a dilution": {"aliquot": p10(), "titres": titres, "dilutions": [Dilution(p10(), f250())]},
        "weighed into a flask": {"aliquot": p25(), "titres": titres, "dilutions": [Dilution(weighing, f250())]},
        "weighed": {
            "portions": [
                (balance().by_difference(f"{10 + mass:.4f} g", "10.0000 g"), titre)
                for mass, titre in zip(PORTIONS, titres, strict=True)
            ]
        },
    }[sample]
    equivalents = SPECIES[species][2]
    judged = SPECIES[species][1] is not None
    inputs = bench().add("weighed gross", 0.0, 0.0001).add("weighed tare", 0.0, 0.0001)

    def consumed(x: Given, titre: float) -> Value:
        """Return moles of titrant: mol/L over 1000 and mol/g are the same number here."""
        net = delivered(x["B1"], titre) if unit == "L" else weighed(x, titre)
        return x["titrant"] * (net - (x["excess"] if judged else 0.0)) / equivalents

    def of_portions(x: Given) -> list[Value]:
        return [consumed(x, t) / weighed(x, m, "sample") for t, m in zip(listed, PORTIONS, strict=True)]

    def formula(x: Given) -> Value:
        if sample == "weighed":
            return sum(of_portions(x)) / 3.0 + x["scatter"]
        mean = sum(consumed(x, t) for t in listed) / 3.0 + x["titrant"] * x["scatter"] / equivalents
        if sample == "pipetted":
            return 1000 * mean / x["P25"]
        if sample == "pipetted from a dilution":
            return 1000 * mean / x["P10"] * x["F250"] / x["P10"]
        mass = weighed(x, 5.0, "sample") - x["weighed gross"] + x["weighed tare"]
        return mean / x["P25"] * x["F250"] / mass

    inputs.add("scatter", 0.0, 0.0)
    scattered = [inputs.value(lambda x, k=k: of_portions(x)[k]) for k in range(3)] if sample == "weighed" else listed
    if sample == "weighed":
        inputs.portions("scatter", scattered, list(zip(PORTIONS, listed, strict=True)), by_mass=unit == "g")
    elif unit == "g":
        inputs.replicates("scatter", listed, shared=0.0, own=WEIGHED)
    else:
        inputs.replicates("scatter", listed)
    found = assayed(species, unit, **options)
    same(found.estimate, inputs, formula)
    assert found.estimate.unit == ("mol/g" if sample.startswith("weighed") else "mol/L")


# ------------------------------------------------------------------------------------------------- standardisation too
def test_hydroxide_by_mass_against_weighed_phthalate() -> None:
    """Portion and titre are weighed on one balance, at loads of their own: its linearity is in both."""
    listed = [(0.5105, 25.0012), (0.5226, 25.6305), (0.4951, 24.2214)]
    found = standardise_by_portions(
        PrimaryStandard("C8H5KO4", lot="L1", purity="99.95 % w/w", half_width="0.05 % w/w"),
        portions=[
            (balance().by_difference(f"{14 + mass:.4f} g", "14.0000 g"), mass_titres(titre)[0])
            for mass, titre in listed
        ],
        end_point=EndPoint("phenolphthalein", operator="K", excess="0.05 mL"),
    )
    assert (found.unit, found.estimate.name, found.estimate.unit) == ("g", "titrant_content", "mol/g")
    inputs = bench().atomic_weights("C", "H", "K", "O").within("purity", 0.9995, 0.0005)

    def each(x: Given) -> list[Value]:
        per_gram = x["purity"] / (8 * x["C"] + 5 * x["H"] + x["K"] + 4 * x["O"])
        return [per_gram * weighed(x, m, "standard") / (weighed(x, t) - x["excess"]) for m, t in listed]

    values = [inputs.value(lambda x, k=k: each(x)[k]) for k in range(3)]
    hidden = 0.0001 * math.sqrt(2.0) * math.hypot(1 / 24.2, 1 / 0.495)
    assert stdev(values) / fmean(values) > hidden
    inputs.portions("scatter", values, listed, by_mass=True)
    same(found.estimate, inputs, lambda x: sum(each(x)) / 3.0 + x["scatter"])


def test_thiosulfate_by_mass_against_aliquots_of_iodate() -> None:
    solution = StandardSolution(
        standard=PrimaryStandard("KIO3", lot="A17", purity="99.95 % w/w", half_width="0.05 % w/w"),
        weighing=balance().by_difference("11.4470 g", "10.5555 g"),
        flask=f250(),
    )
    found = standardise_by_aliquots(solution, aliquot=p25(), titres=mass_titres(*MASSES), blank=mass_titres(0.05)[0])
    molar = 39.0983 + 126.90447 + 3 * 15.999
    expected = 6.0 * 0.8915 * 0.9995 / molar * 0.1 / (fmean(MASSES) - 0.05)
    assert found.estimate.value == pytest.approx(expected, rel=1e-12)
    assert found.estimate.unit == "mol/g"
    assert found.flags == ()


def test_thiosulfate_by_mass_by_comparison() -> None:
    found = standardise_by_comparison(
        titrant("thiosulfate"), known_titres=mass_titres(*MASSES), titres=mass_titres(25.0, 25.1)
    ).estimate
    assert found.value == pytest.approx(1e-4 * fmean(MASSES) / 25.05, rel=1e-12)
    assert found.unit == "mol/g"
    inputs = bench().replicates("known", MASSES, shared=0.0, own=WEIGHED)
    inputs.replicates("scatter", (25.0, 25.1), shared=0.0, own=WEIGHED)

    def formula(x: Given) -> Value:
        return x["titrant"] * (weighed(x, fmean(MASSES)) + x["known"]) / (weighed(x, 25.05) + x["scatter"])

    same(found, inputs, formula)


# ------------------------------------------------------------------------------------------------------- what a mass is
def test_a_titre_by_mass_has_the_linearity_of_two_loads() -> None:
    (titre,) = mass_titres(24.5)
    found = titre.measure("r")
    assert found.value == pytest.approx(24.5, rel=1e-12)
    assert found.u == pytest.approx(LINEARITY * math.sqrt(2.0 / 3.0), rel=1e-12)
    assert (titre.nominal, titre.unit, titre.shown) == (24.5, "g", "24.5 g")


@pytest.mark.parametrize("record", [None, "drum", "blank"])
def test_linearity_is_shared_by_what_is_weighed_alike_and_by_nothing_else(record: str | None) -> None:
    """A sample, a titre and its blank are other loads: equal masses do not cancel it, nor does subtracting a blank.

    What is a blank is known from where it was given, whatever the record is called.
    """
    portion = (balance().by_difference("34.5000 g", "10.0000 g"), mass_titres(24.5)[0])
    found = assayed(
        "hypochlorite", portions=[portion], blank=mass_titres(0.5, 0.5), method_s="0.01 g", record=record
    ).estimate
    expected = {"sample": -1.0 / 24.5, "titre": 1.0 / 24.0, "blank": -1.0 / 24.0}
    for what, slope in expected.items():
        for load, sign in (("gross", -1.0), ("tare", 1.0)):
            at = found.sensitivities[f"balance/W1/linearity/{what} {load}"] / found.value
            assert at == pytest.approx(sign * slope, rel=1e-9)


def test_titres_that_agree_still_have_the_repeatability_of_the_balance() -> None:
    found = assayed("hypochlorite", aliquot=p25(), titres=mass_titres(24.5, 24.5, 24.5)).estimate
    (line,) = (line for line in found.budget().lines if line.ids[0].endswith("/resolution"))
    assert line.contribution / found.value == pytest.approx(0.0001 * math.sqrt(2.0 / 3.0) / 24.5, rel=1e-9)


def test_a_single_titre_with_a_known_scatter_in_grams() -> None:
    found = assayed("acetic acid", aliquot=p25(), titres=mass_titres(24.5), method_s="5 mg", method_dof=12.0).estimate
    inputs = bench().mean("titre", 0.005, 1, 12.0, shared=0.0, own=WEIGHED)

    def formula(x: Given) -> Value:
        return 1000 * x["titrant"] * (weighed(x, 24.5) + x["titre"] - x["excess"]) / x["P25"]

    same(found, inputs, formula)


def test_a_fully_gravimetric_assay_knows_no_temperature() -> None:
    listed = [
        (balance().by_difference(f"{10 + m:.4f} g", "10.0000 g"), t)
        for m, t in zip(PORTIONS, mass_titres(*MASSES), strict=True)
    ]
    warm = Temperature("28 °C", half_width="2 K", day="a warm day")
    cold, hot = (assayed("ammonia", portions=listed, temperature=t, record="r").estimate for t in (None, warm))
    assert (hot.value, hot.u, hot.dof) == (cold.value, cold.u, cold.dof)
    assert not any("temperature" in id_ for id_ in hot.influences)


def test_a_pipetted_sample_is_warm_whatever_measures_the_titrant() -> None:
    warm = Temperature("28 °C", half_width="0 K", day="a warm day")
    cold, hot = (
        assayed("ammonia", aliquot=p25(), titres=mass_titres(*MASSES), temperature=t, record="r").estimate.value
        for t in (None, warm)
    )
    assert hot / cold == pytest.approx(1.0 / at_20(1.0, 9.9e-6, 2.0e-5, 8.0), rel=1e-9)


def test_two_assays_of_one_titrant_and_balance_share_them() -> None:
    first, second = (
        assayed("acetic acid", aliquot=p25(), titres=mass_titres(24.5), method_s="5 mg", record=name).estimate
        for name in ("a", "b")
    )
    ratio = combine(lambda a, b: a / b, first, second)
    assert ratio.u == pytest.approx(math.sqrt(2.0) * 0.005 / (24.5 - 0.05), rel=1e-9)


def test_a_rough_titre_by_mass_is_told() -> None:
    rough = balance().titre("90 g", "63 g", rough=True)
    found = assayed("ammonia", aliquot=p25(), titres=[*mass_titres(*MASSES), rough])
    (flag,) = (flag for flag in found.flags if flag.code == "titres-set-aside")
    assert "27 g (rough)" in flag.message
    with_it = 0.1 * (fmean([*MASSES, 27.0]) - 0.05) / 25.0
    assert f"{with_it:.5g} mol/L" in flag.message


def test_a_blank_above_the_titre_blocks_in_grams() -> None:
    found = assayed("ammonia", aliquot=p25(), titres=mass_titres(10.0, 10.01), blank=mass_titres(12.0, 12.0))
    (flag,) = (flag for flag in found.flags if flag.code == "blank-above-titre")
    assert flag.blocking
    assert "11.95 g" in flag.message


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: assayed("ammonia", "g", aliquot=p25(), titres=volume_titres(24.5, 24.6)),
            DomainError,
            ["per gram", "measured by mass", "24.5 mL", "standardise it in this way"],
        ),
        (
            lambda: assayed("ammonia", "L", aliquot=p25(), titres=mass_titres(24.5, 24.6)),
            DomainError,
            ["per litre", "measured by volume", "24.5 g"],
        ),
        (
            lambda: assayed(
                "hypochlorite", "L", portions=[(balance().by_difference("12 g", "10 g"), mass_titres(24.5)[0])]
            ),
            DomainError,
            ["per litre", "24.5 g"],
        ),
        (
            lambda: assayed("ammonia", aliquot=p25(), titres=[*mass_titres(24.5), *volume_titres(24.5)]),
            DataError,
            ["by volume and titres by mass", "24.5 g, 24.5 mL"],
        ),
        (
            lambda: assayed("ammonia", aliquot=p25(), titres=mass_titres(24.5, 24.6), blank=volume_titres(0.05)),
            DataError,
            ["blank", "0.05 mL", "24.5 g"],
        ),
        (
            lambda: standardise_by_comparison(
                titrant("thiosulfate"), known_titres=volume_titres(24.5, 24.6), titres=mass_titres(24.5, 24.6)
            ),
            DomainError,
            ["per gram", "24.5 mL"],
        ),
        (
            lambda: standardise_by_comparison(
                titrant("thiosulfate"), known_titres=mass_titres(24.5, 24.6), titres=volume_titres(24.5, 24.6)
            ),
            DomainError,
            ["per gram", "24.5 mL"],
        ),
        (
            lambda: assayed("ammonia", aliquot=p25(), titres=mass_titres(24.5), method_s="0.04 mL"),
            UnitError,
            ["method_s", "0.04 mL"],
        ),
        (lambda: balance().titre("57.466 g", "82.415 g"), DomainError, ["82.415 g", "exchanged"]),
        (lambda: balance().titre("82.415 mL", "57.466 g"), UnitError, ["82.415 mL"]),
        (lambda: balance().titre("82.415", "57.466 g"), UnitError, ["82.415"]),
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
