"""The dose: what is said, what is refused, and numbers against formulas written out by hand."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from assay import (
    AssayError,
    BasisError,
    BlockedResultError,
    Burette,
    Cylinder,
    DataError,
    Dilution,
    DomainError,
    Dose,
    Equivalents,
    Estimate,
    Flag,
    Flask,
    Influence,
    Pipette,
    Strength,
    Titrant,
    UnitError,
    assay_hypochlorite,
    combine,
    dose,
)
from assay.dosing.dispenser import Dispenser
from assay.kernels.dilution import amount_from_aliquot
from assay.metrology.evaluation import evaluate
from assay.substances.species import HYPOCHLORITE

CYLINDER = Cylinder("C250", capacity="250 mL", subdivision="2 mL")
FINE = Cylinder("fine", capacity="1 L", subdivision="0.001 mL", tolerance="0 mL")


def strength(value: float = 2.0, u: float = 0.02, dof: float = math.inf, id_: str = "drum", **facts: str) -> Strength:
    influence = Influence(id=id_, label=id_, value=value, u=u, dof=dof)
    return Strength(
        species=HYPOCHLORITE,
        estimate=Estimate.from_influence(influence, name="amount_concentration"),
        facts=facts,
    )


def dosed(of: Strength | list[Strength] | None = None, **options: object) -> Dose:
    whole = {"deliver": "0.25 mol OCl-", "dispenser": CYLINDER, "into": "water", **options}
    return dose(strength() if of is None else of, **whole)


def codes(found: Dose) -> list[str]:
    return [flag.code for flag in found.flags]


# ----------------------------------------------------------------------------------------------------------- volumes
@pytest.mark.parametrize("dof", [math.inf, 10.0, 5.0, 2.0])
@pytest.mark.parametrize("relative", [0.002, 0.01, 0.03, 0.1])
@pytest.mark.parametrize("assurance", [0.90, 0.95, 0.99])
def test_volumes_of_a_dispenser_without_error_against_the_quantile_of_t(
    dof: float, relative: float, assurance: float
) -> None:
    """Exactly, P(c V ≥ n) = P(t ≥ (n/V - c)/u). It is kept, and exceeded by at most 7 standard errors of 2e5 draws.

    Three of the seven are the library's own margin, four are for the luck of its draws.
    """
    found = dosed(strength(u=2.0 * relative, dof=dof), dispenser=FINE, assurance=assurance)
    margin = 7.0 * math.sqrt(assurance * (1.0 - assurance) / 200_000)
    t = stats.t(dof) if math.isfinite(dof) else stats.norm()
    enough = t.sf((0.25 / found.at_least.volume - 2.0) / (2.0 * relative))
    assert assurance <= enough <= assurance + margin + 1e-5
    not_too_much = t.cdf((0.25 / found.at_most.volume - 2.0) / (2.0 * relative))
    assert assurance <= not_too_much <= assurance + margin + 1e-5
    assert found.at_least.below == pytest.approx(1.0 - enough, abs=margin)
    assert found.at_most.above == pytest.approx(1.0 - not_too_much, abs=margin)


def test_nominal_is_the_nearest_graduation() -> None:
    assert dosed(strength(2.0)).nominal.volume == pytest.approx(0.126)  # 125 mL lies between 124 and 126
    assert dosed(strength(2.02)).nominal.volume == pytest.approx(0.124)  # 123.76 mL
    assert dosed(dispenser=FINE).nominal.volume == pytest.approx(0.125, abs=1e-9)


def test_what_is_delivered_is_strength_times_volume_with_every_error() -> None:
    """At 126 mL: u²(V) = 2²/3 + 1²/3 mL² and 1 % of strength."""
    delivered = dosed().nominal.delivered
    assert delivered.value == pytest.approx(2.0 * 0.126, rel=1e-12)
    assert delivered.relative_u == pytest.approx(math.hypot(0.01, math.sqrt(4.0 / 3.0 + 1.0 / 3.0) / 126.0), rel=1e-10)


@pytest.mark.parametrize("grams", [17.0, 17.3, 17.7, 18.1])
def test_volumes_lie_on_graduations_on_the_safe_side_of_the_nominal(grams: float) -> None:
    found = dosed(deliver=f"{grams} g available chlorine")
    for volume in found.volumes:
        steps = volume.volume / CYLINDER.step
        assert steps == pytest.approx(round(steps), abs=1e-9)
    exact = grams / 70.90 / 2.0
    assert found.at_most.volume < exact < found.at_least.volume


@pytest.mark.parametrize("moles", [0.55, 0.9, 1.3, 2.05, 4.4])
def test_each_of_several_fillings_lies_on_a_graduation_and_holds_no_more_than_the_cylinder(moles: float) -> None:
    found = dosed(deliver=f"{moles} mol OCl-")
    for volume in found.volumes:
        steps = volume.volume / volume.fills / CYLINDER.step
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert volume.volume / volume.fills <= CYLINDER.largest * (1.0 + 1e-9)
        assert f"in {volume.fills} fillings of" in volume.instruction(CYLINDER.label)


def test_a_pipette_dispenses_whole_fillings_rounded_to_the_safe_side() -> None:
    """125 mL needed: 13 fillings of 10 mL are enough, 12 are not too many."""
    found = dosed(dispenser=Pipette("P10", capacity="10 mL", accuracy_class="A"))
    assert (found.at_least.volume, found.at_least.fills) == (pytest.approx(0.130), 13)
    assert (found.at_most.volume, found.at_most.fills) == (pytest.approx(0.120), 12)
    assert "13 fillings of 10 mL" in found.at_least.instruction("pipette P10")


# ------------------------------------------------------------------------------------------------------- correlation
def assay_with(burette: Burette, titrant: Titrant) -> Strength:
    return assay_hypochlorite(
        titrant,
        aliquot=Pipette("P10", capacity="10 mL", accuracy_class="A"),
        titres=[burette.titre("25.00 mL")],
        dilutions=[Dilution(Pipette("P10", capacity="10 mL", accuracy_class="A"), Flask("F250", capacity="250 mL"))],
        method_s="0.02 mL",
        record="drum",
    )


@pytest.mark.parametrize("same", [True, False])
def test_a_burette_that_titrated_and_dispenses_is_one_burette(*, same: bool) -> None:
    """The amount goes as (25 + e) (V + e'), e = G(25) and e' = G(V) of one scale or of two; G(0) is nothing."""
    titrant = Titrant(
        name="thiosulfate",
        estimate=Estimate.exactly(0.1, name="titrant_concentration", label="thiosulfate"),
    )
    titrated = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    other = Burette("B2", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    found = dosed(assay_with(titrated, titrant), deliver="0.15 mol OCl-", dispenser=titrated if same else other)
    volume = found.nominal.volume * 1000.0
    assert volume == pytest.approx(48.0)  # 0.1 × 25/(2 × 10) × 25 = 3.125 mol/L, 0.15/3.125 = 48 mL
    lines = [line for line in found.nominal.delivered.budget().lines if line.ids[0].endswith(" mL")]
    assert len(lines) == (1 if same else 2)
    places, slopes = (
        np.array([25.0, 47.5, 50.0]),
        np.array([1 / 25, 0.8 / volume, 0.2 / volume]),
    )
    if not same:
        slopes = np.array([1 / 25, 0.0, 0.0])
    scores = np.exp(-(np.subtract.outer(places, places) ** 2) / (2.0 * 5.0**2))
    covariance = 0.05**2 / 3.0 * (6.0 / math.pi) * np.arcsin(scores / 2.0)
    titrated_line = next(line for line in lines if "B1" in line.label)
    relative = titrated_line.contribution / found.nominal.delivered.value
    assert relative == pytest.approx(math.sqrt(slopes @ covariance @ slopes), rel=1e-9)


def test_several_assays_are_averaged_with_their_correlation() -> None:
    """Each is titrant times reading: the titrant's 1 % is shared, 0.4 % and 0.3 % of reading are not."""
    titrant = Estimate.from_influence(
        Influence(id="titrant", label="t", value=0.1, u=0.001), name="standard_concentration"
    )

    def assayed(name: str, value: float, u: float) -> Strength:
        reading = Estimate.from_influence(Influence(id=name, label=name, value=value, u=u), name="aliquot_volume")
        estimate = evaluate(
            amount_from_aliquot,
            name="amount_concentration",
            label=name,
            standard_concentration=titrant,
            aliquot_volume=reading,
        )
        return Strength(species=HYPOCHLORITE, estimate=estimate)

    found = dosed([assayed("a", 20.0, 0.08), assayed("b", 20.1, 0.06)])
    assert found.strength.value == pytest.approx(2.005, rel=1e-12)
    independent = math.hypot(0.1 * 0.08 / 2.0, 0.1 * 0.06 / 2.0)
    assert found.strength.u == pytest.approx(math.hypot(0.01 * 2.005, independent), rel=1e-12)
    assert found.strength.label == "mean of a, b"


# ------------------------------------------------------------------------------------------------- what must be said
def test_not_stated_into_what_prints_the_caution_first() -> None:
    text = str(dosed(into=None))
    assert text.startswith("CAUTION: Never dispense hypochlorite into acid, ammonia, ammonium salts, amines or urea")
    assert "CAUTION" not in str(dosed(into="water"))
    assert any("licensed" in line for line in dosed(into="water").cautions())


@pytest.mark.parametrize(("value", "u", "dof"), [(0.01, 0.01, 2.0), (0.02, 0.02, math.inf), (-0.01, 0.01, 2.0)])
def test_without_a_positive_lower_bound_there_is_no_at_least_dose_and_it_is_said(
    value: float, u: float, dof: float
) -> None:
    found = dosed(strength(value, u, dof))
    assert found.at_least is None
    assert "no-at-least-dose" in codes(found)
    assert "lower bound of the strength is not above zero" in str(found)
    assert "at least" not in [volume.kind for volume in found.volumes]


def test_a_lower_bound_just_above_zero_gives_one() -> None:
    """At 95 % a normal bound is above zero up to u = c/1.645; here u = c/2."""
    found = dosed(strength(1.0, 0.5), dispenser=FINE)
    enough = stats.norm(1.0, 0.5).sf(0.25 / found.at_least.volume)
    assert 0.95 <= enough <= 0.95 + 7.0 * math.sqrt(0.95 * 0.05 / 200_000)
    assert codes(found) == []


def test_an_assurance_beyond_the_trials_does_not_blame_the_strength() -> None:
    """The order statistic does not exist: say so, or find it, but u of 1 % never reaches zero."""
    try:
        found = dosed(assurance=0.99999)
    except DomainError as error:
        assert "0.99999" in str(error)  # noqa: PT017  (either answer is right, a wrong reason is not)
    else:
        assert "lower bound of the strength is not above zero" not in str(found)


def test_a_dose_below_the_dispensers_step_is_said() -> None:
    found = dosed(deliver="1 mmol OCl-")  # 0.5 mL on a cylinder divided in 2 mL
    assert found.nominal is None
    assert found.at_most is None
    assert codes(found) == ["no-at-most-dose", "dispenser-too-coarse"]


def test_trusting_the_label() -> None:
    """The label says 12.5 % w/v, 1.763 mol/L; the drum holds 1.2: the label's volume delivers 68 % of what is asked."""
    stated = 125.0 / 70.90
    by_argument = dosed(strength(1.2, 0.012), label="12.5 % w/v available chlorine")
    by_fact = dosed(strength(1.2, 0.012, label="12.5 % w/v available chlorine"))
    for found in (by_argument, by_fact):
        assert found.by_label.value == pytest.approx(1.2 * 0.25 / stated, rel=1e-12)
        assert found.by_label.relative_u == pytest.approx(0.01, rel=1e-9)
        assert "Trusting the label would have delivered" in str(found)
        assert "68 % of what is asked" in str(found)
    assert dosed().by_label is None
    assert "label" not in str(dosed())


def test_a_limit_bounds_the_at_most_dose() -> None:
    found = dosed(dispenser=FINE, limit="0.27 mol OCl-")
    norm = stats.norm(2.0, 0.02)
    assert norm.cdf(0.27 / found.at_most.volume) == pytest.approx(0.95, abs=0.0035)  # 7 standard errors of 2e5 draws
    assert norm.sf(0.25 / found.at_least.volume) == pytest.approx(0.95, abs=0.0035)
    assert found.at_least.volume < found.at_most.volume
    assert found.at_least.above == pytest.approx(norm.sf(0.27 / found.at_least.volume), abs=0.002)
    assert codes(found) == []


def test_no_volume_meets_both_is_said() -> None:
    found = dosed(limit="0.255 mol OCl-")
    assert "no-volume-meets-both" in codes(found)
    assert found.at_least.volume > found.at_most.volume


def test_equivalents_of_another_reagent() -> None:
    """1.2 equivalents of 12.5 g of glucose, 180.156 g/mol, of 2 mol/L: 41.63 mL."""
    found = dosed(deliver=Equivalents(1.2, of="12.5 g", formula="C6H12O6"), dispenser=FINE)
    assert found.nominal.volume == pytest.approx(1.2 * 12.5 / 180.156 / 2.0, rel=1e-4)
    assert "1.2 equivalents of 12.5 g C6H12O6" in str(found)


def test_an_uncertain_requirement_widens_the_dose() -> None:
    """With 1 % in c and 2 % in n, c V - n is a normal difference."""
    need = Estimate.from_influence(Influence(id="need", label="need", value=0.25, u=0.005), name="required_amount")
    volume = dosed(deliver=need, dispenser=FINE).at_least.volume
    enough = stats.norm().cdf((2.0 * volume - 0.25) / math.hypot(0.02 * volume, 0.005))
    assert 0.95 <= enough <= 0.95 + 7.0 * math.sqrt(0.95 * 0.05 / 200_000)


def test_the_same_question_has_the_same_answer() -> None:
    assert str(dosed()) == str(dosed())


def test_available_is_enough() -> None:
    assert dosed(available="0.5 L").nominal is not None


# ---------------------------------------------------------------------------------------------------------- refusals
def test_discordant_assays_are_blocked_and_both_are_told() -> None:
    with pytest.raises(BlockedResultError, match="discordant-assays") as caught:
        dosed([strength(2.0, id_="a"), strength(2.2, id_="b")])
    assert "a 2" in str(caught.value)
    assert "b 2.2 mol/L" in str(caught.value)


@pytest.mark.parametrize(("apart", "refused"), [(0.0277, False), (0.0278, True)])
def test_discordant_means_by_more_than_u_of_the_difference(apart: float, *, refused: bool) -> None:
    """Two assays with u = 0.01: U of the difference is 1.960 × 0.01414 = 0.02772 mol/L."""
    pair = [strength(2.0, 0.01, id_="a"), strength(2.0 + apart, 0.01, id_="b")]
    if refused:
        with pytest.raises(BlockedResultError, match="discordant-assays"):
            dosed(pair)
    else:
        assert dosed(pair).strength.value == pytest.approx(2.0 + apart / 2.0, rel=1e-12)


def test_the_ends_of_many_assays_may_be_further_apart_than_two_would() -> None:
    """Chi-squared is 2 × 1.5² = 4.5, below 9.49 for 4 degrees of freedom; two alone may not be 0.030 apart."""
    many = [strength(2.0 + off, 0.01, id_=f"a{k}") for k, off in enumerate((-0.015, 0.0, 0.0, 0.0, 0.015))]
    assert dosed(many).strength.value == pytest.approx(2.0, rel=1e-12)
    with pytest.raises(BlockedResultError, match=r"Birge ratio 2\.1.*Outlying: a0, a4"):
        dosed([many[0], many[4]])


def test_assays_count_alike_however_well_each_seems_known() -> None:
    found = dosed([strength(2.0, 0.001, id_="a"), strength(2.1, 0.1, id_="b")])
    assert found.strength.value == pytest.approx(2.05, rel=1e-12)


def test_an_assay_given_twice_is_refused() -> None:
    once = strength(2.0, id_="a")
    with pytest.raises(DataError, match="would count twice"):
        dosed([once, once])


def test_what_assays_share_does_not_excuse_a_difference() -> None:
    """A common titrant of 1 % cancels in the difference: 1 % apart with 0.1 % of reading each is discordant."""
    shared = Estimate.from_influence(Influence(id="t", label="t", value=1.0, u=0.01), name="value")
    pair = []
    for name, value in (("a", 2.0), ("b", 2.02)):
        own = Estimate.from_influence(Influence(id=name, label=name, value=value, u=0.002), name="value")
        pair.append(Strength(species=HYPOCHLORITE, estimate=combine(lambda x, y: x * y, shared, own, unit="mol/L")))
    with pytest.raises(BlockedResultError, match="discordant-assays"):
        dosed(pair)


def test_a_blocked_requirement_is_refused_like_a_blocked_strength() -> None:
    need = Estimate.exactly(0.25, name="required_amount", label="need")
    with pytest.raises(BlockedResultError, match="doubtful"):
        dosed(deliver=need.flagged(Flag(code="doubtful", message="made up", blocking=True)))


@pytest.mark.parametrize(
    ("options", "error", "says"),
    [
        ({"available": "100 mL"}, DomainError, ["100 mL", "126 mL", "Ask for less"]),
        ({"available": "127 mL"}, DomainError, ["127 mL", "130 mL", "at least"]),
        ({"available": "100"}, UnitError, ["available", "'100'", "mL"]),
        ({"assurance": 95}, DomainError, ["95", "Write 0.95"]),
        ({"assurance": 0.3}, DomainError, ["0.3", "0.5 to 1"]),
        ({"assurance": 1.0}, DomainError, ["1.0", "less than 1"]),
        ({"assurance": math.nan}, DomainError, ["nan"]),
        ({"limit": "0.2 mol OCl-"}, DomainError, ["limit", "0.2 mol OCl-", "below"]),
        ({"limit": "0.3"}, BasisError, ["limit", "'0.3'", "mol OCl-"]),
        ({"deliver": "12.5 %"}, BasisError, ["deliver", "12.5 %"]),
        ({"deliver": "0.25"}, BasisError, ["deliver", "0.25", "'0.25 mol OCl-'"]),
        ({"deliver": Equivalents(1, of="12 g")}, UnitError, ["12 g", "formula="]),
        ({"label": "12.5 %"}, BasisError, ["label", "12.5 %", "125 g/L", "119.1 g/L", "145 g/L", "138.1 g/L"]),
        ({"label": "12.5"}, BasisError, ["label", "12.5", "w/v"]),
        ({"of": []}, DataError, ["no strength"]),
        ({"of": strength().estimate}, DataError, ["strength"]),
        ({"of": [strength().estimate]}, DataError, ["strength"]),
        ({"dispenser": "cylinder"}, DataError, ["dispenser", "'cylinder'"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    options: dict[str, object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        dosed(**options)
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)


@pytest.mark.parametrize("show", [repr, str, Dose._repr_html_, Dose._repr_latex_])
def test_every_form_shows_the_three_volumes(show: Callable[[Dose], str]) -> None:
    for kind, volume in [("nominal", "126 mL"), ("at least", "130 mL"), ("at most", "122 mL")]:
        assert kind in show(dosed())
        assert volume in show(dosed())


def test_every_dispenser_will_do() -> None:
    dispensers: list[Dispenser] = [
        CYLINDER,
        Pipette("P25", capacity="25 mL"),
        Burette("B1", capacity="50 mL", subdivision="0.1 mL"),
    ]
    for dispenser in dispensers:
        found = dosed(dispenser=dispenser)
        assert found.at_most.volume < 0.125 < found.at_least.volume
