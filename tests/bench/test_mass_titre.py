"""Gravimetric titres: what a bottle lost, and titrations in which no burette is read."""

from __future__ import annotations

import math
from collections.abc import Callable
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
    Weighing,
    assay_acid_base,
    assay_hypochlorite,
    combine,
    standardise_by_aliquots,
    standardise_by_comparison,
    standardise_by_portions,
)
from tests.titration.by_hand import at_20

CONTENT, U_CONTENT = 1.0e-4, 1.0e-7  # mol/g, invented
balance = Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")
fine = Balance("W2", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
pipette = Pipette("P10", capacity="10 mL", accuracy_class="A")
burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
U_LINEARITY = math.sqrt(2.0) * 0.002 / math.sqrt(3.0)  # g, the tolerance at both loads


def by_mass(*grams: float) -> list[MassTitre]:
    """Return titres of a bottle that is set on the balance before and after each."""
    return [balance.titre("90.000 g", f"{90.0 - one:.3f} g") for one in grams]


def by_volume(*millilitres: float) -> list[Titre]:
    return [burette.titre(f"{one:.2f} mL") for one in millilitres]


def known(value: float = CONTENT, u: float = U_CONTENT, *, per: str = "content", of: str = "thiosulfate") -> Titrant:
    influence = Influence(id=f"bottle/{of}/{per}", label=of, value=value, u=u)
    return Titrant(name=of, estimate=Estimate.from_influence(influence, name=f"titrant_{per}"))


def portions(*pairs: tuple[float, float]) -> list[tuple[Weighing, MassTitre]]:
    return [
        (fine.by_difference(f"{20.0 + taken:.4f} g", "20.0000 g"), by_mass(titrated)[0]) for taken, titrated in pairs
    ]


# ----------------------------------------------------------------------------------------------------------- one titre
def test_a_titre_is_what_the_bottle_lost() -> None:
    titre = balance.titre("82.415 g", "57.466 g")
    assert (titre.nominal, titre.unit, titre.shown) == (24.949, "g", "24.949 g")
    assert titre.kept
    assert titre.readings() == "82.415-57.466"
    assert titre.weighing == balance.by_difference("82.415 g", "57.466 g")


def test_u_of_a_titre_is_the_linearity_at_both_loads() -> None:
    """Repeatability is left to the replicates, which show it."""
    titre = balance.titre("82.415 g", "57.466 g")
    assert titre.measure("r").value == pytest.approx(24.949, rel=1e-12)
    assert titre.measure("r").u == pytest.approx(U_LINEARITY, rel=1e-12)


def test_all_titres_of_one_balance_share_its_linearity() -> None:
    one, other = (titre.measure(f"r/{k}") for k, titre in enumerate(by_mass(24.949, 24.952)))
    assert combine(lambda a, b: a + b, one, other).u == pytest.approx(2.0 * U_LINEARITY, rel=1e-12)
    assert combine(lambda a, b: a - b, one, other).u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(("grams", "written"), [("82415 mg", "57466 mg"), ("0.082415 kg", "57.466 g")])
def test_a_mass_may_be_written_in_other_units(grams: str, written: str) -> None:
    assert balance.titre(grams, written).nominal == pytest.approx(24.949, rel=1e-12)


def test_rough_and_void_titres_are_told_apart() -> None:
    assert not balance.titre("90 g", "65 g", rough=True).kept
    spilled = balance.titre("90 g", "65 g", void=" drop on the pan ")
    assert (spilled.kept, spilled.void) == (False, "drop on the pan")
    assert balance.titre("90 g", "65 g", void="  ").kept


# ------------------------------------------------------------------------------------------------------------- assays
def test_the_strength_of_a_pipetted_sample_by_hand() -> None:
    """By hand w (m − m₀)/(2 V), with w in mol/g: no volume but that of the aliquot."""
    masses, empty = (24.949, 24.946, 24.955), 0.052
    found = assay_hypochlorite(known(), aliquot=pipette, titres=by_mass(*masses), blank=by_mass(empty, empty))
    net = fmean(masses) - empty
    assert found.estimate.value == pytest.approx(CONTENT * net / (2.0 * 0.010), rel=1e-12)
    assert found.estimate.unit == "mol/L"
    assert not found.per_mass
    # Scatter of the titres; repeatability of two blanks that agree, 1 mg at each load; the titrant; the pipette; the
    # linearity of titres and of blanks, which are other loads, so that subtracting the one does not cancel the other.
    of_titres = stdev(masses) / math.sqrt(3.0)
    of_blank = 0.001 * math.sqrt(2.0) / math.sqrt(2.0)
    of_masses = [of_titres / net, of_blank / net, U_LINEARITY / net, U_LINEARITY / net]
    terms = [*of_masses, U_CONTENT / CONTENT, 0.02 / math.sqrt(3.0) / 10.0]
    assert found.estimate.relative_u == pytest.approx(math.hypot(*terms), rel=1e-9)


def test_the_strength_of_weighed_portions_by_hand() -> None:
    """Weighed and titrated by mass: mol/g from masses alone, the mean of the portions' results."""
    taken = ((2.0000, 24.900), (2.0510, 25.540), (1.9480, 24.245))
    found = assay_hypochlorite(known(), portions=portions(*taken), blank=by_mass(0.052, 0.050))
    by_hand = fmean(CONTENT * (titrated - 0.051) / (2.0 * mass) for mass, titrated in taken)
    assert found.per_mass
    assert found.estimate.value == pytest.approx(by_hand, rel=1e-12)
    assert found.estimate.unit == "mol/g"
    assert found.in_basis("% w/w available chlorine").value == pytest.approx(100.0 * by_hand * 70.90, rel=1e-12)


def test_a_weighed_dilution_by_hand() -> None:
    """20 g made up to 250 mL: mol/g is c F/m."""
    flask = Flask("F250", capacity="250 mL", accuracy_class="A")
    weighing = fine.by_difference("40.0000 g", "20.0000 g")
    found = assay_hypochlorite(
        known(), aliquot=pipette, titres=by_mass(24.949, 24.951), dilutions=[Dilution(weighing, flask)]
    )
    assert found.per_mass
    assert found.estimate.value == pytest.approx(CONTENT * 24.950 / (2.0 * 0.010) * 0.250 / 20.0, rel=1e-12)


def test_by_mass_and_by_volume_give_one_strength() -> None:
    """Per gram is per litre over the titrant's density, and the mass of a titre is its volume times the density."""
    density = 1020.0  # g/L, invented so that each mass is a whole number of milligrams
    by_litre = assay_hypochlorite(
        known(0.1, 1e-4, per="concentration"), aliquot=pipette, titres=by_volume(24.30, 24.40), blank=by_volume(0.05)
    )
    masses = (density * v / 1000.0 for v in (24.30, 24.40))
    by_gram = assay_hypochlorite(
        known(0.1 / density, 1e-4 / density),
        aliquot=pipette,
        titres=by_mass(*masses),
        blank=by_mass(density * 0.05 / 1000.0),
    )
    assert by_gram.estimate.value == pytest.approx(by_litre.estimate.value, rel=1e-12)


def test_temperature_does_not_touch_what_is_weighed() -> None:
    """Weighed portions and mass titres know no temperature; a pipetted aliquot still does."""
    warm = Temperature("28 °C", half_width="2 K", day="d")
    taken = portions((2.0000, 24.900), (2.0510, 25.540))

    def of_portions(temperature: Temperature | None) -> Strength:
        return assay_hypochlorite(known(), portions=taken, temperature=temperature, record="drum 7")

    marked, at_28 = of_portions(None).estimate, of_portions(warm).estimate
    assert (at_28.value, at_28.u) == (marked.value, marked.u)
    pipetted = [
        assay_hypochlorite(known(), aliquot=pipette, titres=by_mass(24.95, 24.94), temperature=t).estimate.value
        for t in (None, warm)
    ]
    assert pipetted[1] / pipetted[0] == pytest.approx(1.0 / at_20(1.0, 9.9e-6, 2.0e-5, 8.0), rel=1e-12)


def test_an_end_point_seen_late_weighs_a_gram_per_millilitre() -> None:
    eye = EndPoint("phenolphthalein", operator="K", excess="0.05 mL", u="0.03 mL")
    titrant = known(of="sodium hydroxide")
    found = assay_acid_base(
        titrant, "hydrochloric acid", end_point=eye, aliquot=pipette, titres=by_mass(24.949, 24.951)
    )
    assert found.estimate.value == pytest.approx(CONTENT * (24.950 - 0.050) / 0.010, rel=1e-12)
    line = next(one for one in found.budget().lines if one.label.startswith("colour judgement"))
    assert line.contribution == pytest.approx(CONTENT * 0.030 / 0.010, rel=1e-9)


def test_what_was_set_aside_is_told_in_grams() -> None:
    titres = [*by_mass(24.949, 24.951), balance.titre("90.000 g", "64.000 g", rough=True)]
    found = assay_hypochlorite(known(), aliquot=pipette, titres=titres)
    flag = next(flag for flag in found.flags if flag.code == "titres-set-aside")
    assert "26 g (rough)" in flag.message
    with_all = CONTENT * (24.949 + 24.951 + 26.0) / 3.0 / (2.0 * 0.010)
    assert f"it would be {with_all:.5g} mol/L" in flag.message


def test_a_single_titre_by_mass_takes_the_scatter_of_the_method_in_grams() -> None:
    found = assay_hypochlorite(known(), aliquot=pipette, titres=by_mass(24.949), method_s="0.02 g", method_dof=9)
    terms = [0.02 / 24.949, U_LINEARITY / 24.949, U_CONTENT / CONTENT, 0.02 / math.sqrt(3.0) / 10.0]
    assert found.estimate.relative_u == pytest.approx(math.hypot(*terms), rel=1e-9)


# ------------------------------------------------------------------------------------------------------ standardising
IODATE = PrimaryStandard("potassium iodate", lot="A17", purity="99.95 % w/w", half_width="0.05 % w/w")
M_KIO3 = 39.0983 + 126.90447 + 3 * 15.999


def test_portions_of_a_standard_give_mol_per_gram() -> None:
    """Six thiosulfate to one iodate: w = 6 m P/M over the mass delivered."""
    taken = ((0.0890, 24.949), (0.0895, 25.088))
    titrant = standardise_by_portions(IODATE, portions=portions(*taken))
    by_hand = fmean(6.0 * mass * 0.9995 / M_KIO3 / titrated for mass, titrated in taken)
    assert titrant.estimate.value == pytest.approx(by_hand, rel=1e-12)
    assert (titrant.unit, titrant.estimate.unit) == ("g", "mol/g")


def test_aliquots_of_a_standard_solution_give_mol_per_gram() -> None:
    weighing = fine.by_difference("20.8918 g", "20.0000 g")
    flask = Flask("F250", capacity="250 mL", accuracy_class="A")
    solution = StandardSolution(standard=IODATE, weighing=weighing, flask=flask)
    titrant = standardise_by_aliquots(solution, aliquot=pipette, titres=by_mass(9.982, 9.980), blank=by_mass(0.050))
    by_hand = 6.0 * 0.8918 * 0.9995 / M_KIO3 * 10.0 / 250.0 / (9.981 - 0.050)
    assert titrant.estimate.value == pytest.approx(by_hand, rel=1e-12)
    assert titrant.unit == "g"


def test_comparison_by_mass_is_inverse_to_the_masses() -> None:
    titrant = standardise_by_comparison(known(), known_titres=by_mass(24.949, 24.951), titres=by_mass(20.010, 20.014))
    assert titrant.estimate.value == pytest.approx(CONTENT * 24.950 / 20.012, rel=1e-12)
    assert titrant.unit == "g"


def test_a_titrant_and_an_assay_by_mass_share_the_balance() -> None:
    """Standardised and assayed with like masses: the linearity of the titres cancels, to 0.2 % of itself here."""
    taken = ((0.0890, 24.949), (0.0890, 24.951))
    titrant = standardise_by_portions(IODATE, portions=portions(*taken), record="thiosulfate")
    found = assay_hypochlorite(titrant, aliquot=pipette, titres=by_mass(24.999, 25.001), record="drum 7")
    of_linearity = [
        line.contribution for line in found.budget().lines if line.label.startswith("linearity of balance W1")
    ]
    standard = fmean(1.0 / m**2 for m in (24.949, 24.951)) / fmean(1.0 / m for m in (24.949, 24.951))
    left = found.estimate.value * 0.002 / math.sqrt(3.0) * (standard - 1.0 / 25.0)
    assert of_linearity == pytest.approx([left, left], rel=1e-9)


# ----------------------------------------------------------------------------------------------------------- refusals
def assayed(titrant: Titrant, titres: list[MassTitre | Titre], **options: object) -> Strength:
    return assay_hypochlorite(titrant, aliquot=pipette, titres=titres, **options)  # type: ignore[arg-type]


LITRE = known(0.1, 1e-4, per="concentration")


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: balance.titre("57.466 g", "82.415 g"),
            DomainError,
            ["before = '57.466 g'", "not above the one after, 82.415 g", "exchanged"],
        ),
        (lambda: balance.titre("57.466 g", "57.466 g"), DomainError, ["before = '57.466 g'", "not above"]),
        (lambda: balance.titre("82.415", "57.466 g"), UnitError, ["before = '82.415'", "no unit", "'0.1234 g'"]),
        (lambda: balance.titre("82.415 g", "57.466"), UnitError, ["after = '57.466'", "no unit"]),
        (lambda: balance.titre("82,415 g", "57.466 g"), UnitError, ["before = '82,415 g'", "'82.415 g'"]),
        (lambda: balance.titre("82.415 mL", "57.466 g"), UnitError, ["before = '82.415 mL'", "not a unit of mass"]),
        (lambda: balance.titre("82.415 Mg", "57.466 g"), UnitError, ["82.415 Mg", "Did you mean mg"]),
        (lambda: balance.titre("nan g", "57.466 g"), UnitError, ["before = 'nan g'", "NaN"]),
        (lambda: balance.titre("24.949 g", ""), UnitError, ["after = ''", "nothing is written"]),
        (
            lambda: assayed(LITRE, [*by_mass(24.949, 24.951)]),
            DomainError,
            ["24.949 g", "standardised per litre, and is measured by volume", "standardise it in this way"],
        ),
        (
            lambda: assayed(known(), [*by_volume(24.35, 24.30)]),
            DomainError,
            ["24.35 mL", "standardised per gram, and is measured by mass"],
        ),
        (
            lambda: assayed(known(), [*by_mass(24.949, 24.951), *by_volume(24.35)]),
            DataError,
            ["24.949 g, 24.951 g, 24.35 mL", "do not average", "of one kind"],
        ),
        (
            lambda: assayed(known(), [*by_mass(24.949, 24.951)], blank=by_volume(0.05)),
            DataError,
            ["blank = '0.05 mL'", "titres are by mass, the blank is by volume", "24.949 g"],
        ),
        (
            lambda: assayed(LITRE, [*by_volume(24.35, 24.30)], blank=by_mass(0.05)[0]),
            DataError,
            ["blank = '0.05 g'", "titres are by volume, the blank is by mass", "Titrate the blank as"],
        ),
        (
            lambda: assayed(known(), [*by_mass(24.949)]),
            DomainError,
            ["a single titre", "method_s", "two titres or more"],
        ),
        (
            lambda: assayed(known(), [*by_mass(24.949)], method_s="0.02 mL"),
            UnitError,
            ["method_s = '0.02 mL'", "not a unit of mass"],
        ),
        (
            lambda: assayed(known(), ["24.949 g", "24.951 g"]),  # type: ignore[list-item]
            DataError,
            ["titres = '24.949 g'", "not a titre", "balance.titre("],
        ),
        (
            lambda: standardise_by_portions(
                IODATE, portions=portions((0.089, 24.9), (0.09, 25.2)), blank=by_volume(0.05)
            ),
            DataError,
            ["blank = '0.05 mL'", "titres are by mass"],
        ),
        (
            lambda: standardise_by_comparison(
                known(), known_titres=by_mass(24.9, 24.8), titres=by_mass(20.0, 20.1), blank=by_volume(0.05)
            ),
            DataError,
            ["blank = '0.05 mL'", "titres are by mass"],
        ),
        (
            lambda: standardise_by_comparison(known(), known_titres=by_mass(24.9, 24.8), titres=by_volume(20.0, 20.1)),
            DomainError,
            ["20 mL", "standardised per gram"],
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


def test_both_readings_are_told_at_once() -> None:
    with pytest.raises(UnitError) as caught:
        balance.titre("82.415", "57.466 mL")
    assert [problem.argument for problem in caught.value.problems] == ["before", "after"]
