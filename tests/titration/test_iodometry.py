"""Hypochlorite by iodometry, against plain arithmetic and formulas written out by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import fmean, stdev

import pytest

from assay import (
    AssayError,
    BasisError,
    BlockedResultError,
    Burette,
    Cylinder,
    DataError,
    Dilution,
    DomainError,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Sampling,
    Strength,
    Titrant,
    Titre,
    UnitError,
    assay_hypochlorite,
    combine,
    dose,
)

TITRANT, U_TITRANT = 0.1, 0.0001
P10, U_P10 = 10.0, 0.02 / math.sqrt(3.0)  # ISO 648, class A
F250, U_F250 = 250.0, 0.15 / math.sqrt(3.0)  # ISO 1042, class A
F100, U_F100 = 100.0, 0.1 / math.sqrt(3.0)
SAMPLED = Sampling(method="drum rolled, drawn through the tap", delay="20 min")
pipette = Pipette("P10", capacity="10 mL", accuracy_class="A")
flask = Flask("F250", capacity="250 mL", accuracy_class="A")


def thiosulfate(value: float = TITRANT, name: str = "thiosulfate") -> Titrant:
    influence = Influence(id="bottle/thiosulfate", label="thiosulfate", value=value, u=U_TITRANT)
    return Titrant(name=name, estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def titres(*finals: float, tolerance: str = "0.05 mL") -> list[Titre]:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", tolerance=tolerance)
    return [burette.titre(f"{final:.2f} mL") for final in finals]


def assayed(*finals: float, titrant: Titrant | None = None, **options: object) -> Strength:
    whole = {"dilutions": [Dilution(pipette, flask)], "blank": titres(0.05), "sampling": SAMPLED, **options}
    return assay_hypochlorite(titrant or thiosulfate(), aliquot=pipette, titres=titres(*finals), **whole)


def strength(net: float, factor: float = 25.0) -> float:
    """Return mol/L OCl- for a net titre in mL: one hypochlorite takes two thiosulfate."""
    return TITRANT * net / (2.0 * P10) * factor


# ------------------------------------------------------------------------------------------------------------ value
def test_value_against_plain_arithmetic() -> None:
    found = assayed(24.30, 24.45, 24.36)
    assert found.estimate.value == pytest.approx(strength(24.37 - 0.05), rel=1e-12)
    assert found.estimate.unit == "mol/L"
    assert found.flags == ()


def test_any_chain_of_dilutions() -> None:
    second = Dilution(pipette, Flask("F100", capacity="100 mL", accuracy_class="A"))
    found = assayed(24.30, 24.50, dilutions=[Dilution(pipette, flask), second])
    assert found.estimate.value == pytest.approx(strength(24.40 - 0.05, 250.0), rel=1e-12)
    undiluted = assayed(24.30, 24.50, dilutions=[])
    assert undiluted.estimate.value == pytest.approx(strength(24.40 - 0.05, 1.0), rel=1e-12)


def test_u_with_one_pipette_for_dilution_and_aliquot() -> None:
    """With c = C V/(2 p) (F/p) the pipette's relative error counts twice, the flask's once."""
    found = assayed(25.00, blank=None, method_s="0.04 mL", method_dof=8.0).estimate
    scale = 0.05**2 / 3.0
    relative = math.sqrt(
        (U_TITRANT / TITRANT) ** 2 + (2.0 * U_P10 / P10) ** 2 + (U_F250 / F250) ** 2 + (scale + 0.04**2) / 25.0**2
    )
    assert found.relative_u == pytest.approx(relative, rel=1e-5)  # r(25 mL) = 4e-6 is left out of the scale
    estimated = (0.04**2 - 0.05**2 / 12.0) / 25.0**2  # without the rounding that the s holds
    assert found.dof == pytest.approx(8.0 * relative**4 / estimated**2, rel=1e-4)


def test_u_of_a_chain_with_one_pipette_thrice() -> None:
    second = Dilution(pipette, Flask("F100", capacity="100 mL", accuracy_class="A"))
    found = assayed(25.00, dilutions=[Dilution(pipette, flask), second], blank=None, method_s="0.04 mL").estimate
    relative = math.sqrt(
        (U_TITRANT / TITRANT) ** 2
        + (3.0 * U_P10 / P10) ** 2
        + (U_F250 / F250) ** 2
        + (U_F100 / F100) ** 2
        + (0.05**2 / 3.0 + 0.04**2) / 25.0**2
    )
    assert found.relative_u == pytest.approx(relative, rel=1e-5)


def test_scatter_of_titres_and_of_a_single_blank() -> None:
    """With a burette without error, s/√n of the titres and s of the one blank are all that the titration adds."""
    finals = (24.30, 24.45, 24.36)
    found = assay_hypochlorite(
        thiosulfate(),
        aliquot=pipette,
        titres=titres(*finals, tolerance="0.000001 mL"),
        dilutions=[Dilution(pipette, flask)],
        blank=titres(0.05, tolerance="0.000001 mL")[0],
    ).estimate
    s, net = stdev(finals), fmean(finals) - 0.05
    known = (U_TITRANT / TITRANT) ** 2 + (2.0 * U_P10 / P10) ** 2 + (U_F250 / F250) ** 2
    scatter = (s**2 / 3.0 + s**2) / net**2
    assert found.relative_u == pytest.approx(math.sqrt(known + scatter), rel=1e-7)
    # One s with two degrees of freedom stands behind the mean and the blank: one term, without its known rounding.
    estimated = (s**2 - 0.05**2 / 12.0) * (1.0 / 3.0 + 1.0) / net**2
    assert found.dof == pytest.approx((known + scatter) ** 2 / (estimated**2 / 2.0), rel=1e-6)


def test_two_assays_of_one_titrant_share_it() -> None:
    first, second = (assayed(25.00, blank=None, method_s="0.04 mL", record=name).estimate for name in ("a", "b"))
    ratio = combine(lambda a, b: a / b, first, second)
    assert ratio.u == pytest.approx(math.sqrt(2.0) * 0.04 / 25.0, rel=1e-9)


# ------------------------------------------------------------------------------------------------------------ facts
def test_facts_that_the_report_needs() -> None:
    found = assayed(24.30, 24.50, label="12.5 % w/v available chlorine", record="drum 7")
    assert found.label == "drum 7"
    assert found.facts["label"] == "12.5 % w/v available chlorine"
    assert found.facts["titrant"] == "thiosulfate"
    assert found.facts["sampling"] == SAMPLED.sentence()
    assert "total oxidant" in found.species.measured


# ------------------------------------------------------------------------------------------------------------ flags
def flag_of(found: Strength, code: str) -> str:
    (flag,) = (flag for flag in found.flags if flag.code == code)
    return flag.message


def test_sampling_not_stated_is_flagged_as_of_the_portion() -> None:
    assert "portion tested" in flag_of(assayed(24.30, 24.50, sampling=None), "portion-only")
    assert "[portion-only]" in repr(assayed(24.30, 24.50, sampling=None))


def test_no_blank_is_flagged() -> None:
    assert "no blank" in flag_of(assayed(24.30, 24.50, blank=None), "no-blank")


def test_a_rough_titre_is_told_with_the_result_with_it() -> None:
    rough = titres(24.30)[0].burette.titre("26.00 mL", rough=True)
    found = assay_hypochlorite(
        thiosulfate(),
        aliquot=pipette,
        titres=[*titres(24.30, 24.50), rough],
        dilutions=[Dilution(pipette, flask)],
        blank=titres(0.05),
    )
    assert found.estimate.value == pytest.approx(strength(24.35), rel=1e-12)
    message = flag_of(found, "titres-set-aside")
    assert "26 mL (rough)" in message
    assert f"{strength(fmean([24.30, 24.50, 26.00]) - 0.05):.5g} mol/L" in message


@pytest.mark.parametrize(("final", "flagged"), [(40.0, False), (49.95, False), (50.0, True)])
def test_more_than_five_milliequivalents_in_an_aliquot_is_flagged(final: float, *, flagged: bool) -> None:
    """With 0.1002 mol/L: 49.85 mL net are 4.995 meq, 49.95 mL are 5.005."""
    found = assayed(final, final, titrant=thiosulfate(0.1002), blank=titres(0.05, 0.05), dilutions=[])
    net = final - 0.05
    assert [flag.code for flag in found.flags] == (["aliquot-too-strong"] if flagged else [])
    assert flagged == (0.1002 * net > 5.0)
    if flagged:
        assert f"{0.1002 * net:.3g} milliequivalents" in flag_of(found, "aliquot-too-strong")


def test_a_strength_above_the_label_by_more_than_u_is_flagged() -> None:
    """Found: 0.1 × 24.35/20 × 25 = 3.04 mol/L, 216 g/L as Cl2; the label says 125 g/L."""
    message = flag_of(assayed(24.30, 24.50, label="125 g/L available chlorine"), "above-label")
    assert f"{100 * strength(24.35) * 2 * 35.45 / 125:.0f} %" in message
    assert "125 g/L available chlorine" in message


@pytest.mark.parametrize("shift", [-1.0, 0.0, 0.9, 1.1])
def test_above_the_label_means_by_more_than_u(shift: float) -> None:
    found = assayed(24.30, 24.50).estimate
    label = found.value - shift * found.expanded(0.95)
    again = assayed(24.30, 24.50, label=f"{label:.12f} mol/L OCl-")
    assert ("above-label" in {flag.code for flag in again.flags}) == (shift > 1.0)


def test_an_implausible_strength_blocks_until_accepted_by_name() -> None:
    """3.526 mol/L OCl- are 250 g/L as Cl2; ten times more than was there is found if a dilution is counted twice."""
    found = assayed(24.30, 24.50, dilutions=[Dilution(pipette, flask)] * 2)
    assert found.estimate.value == pytest.approx(strength(24.35, 625.0), rel=1e-12)
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("implausible-strength", True)
    assert "250 g/L" in flag.message
    assert "counted twice" in flag.message
    cylinder = Cylinder("C250", capacity="250 mL", subdivision="2 mL")
    with pytest.raises(BlockedResultError, match="implausible-strength"):
        dose(found, deliver="10 mol OCl-", dispenser=cylinder, into="water")
    accepted = found.accepting("implausible-strength", because="a concentrate, seen by the head of the laboratory")
    assert dose(accepted, deliver="10 mol OCl-", dispenser=cylinder, into="water").nominal is not None


@pytest.mark.parametrize(("net", "blocked"), [(28.15, False), (28.25, True)])
def test_implausible_begins_at_250_grams_a_litre(net: float, *, blocked: bool) -> None:
    """250/(2 × 35.45) = 3.5261 mol/L; 0.1 × 28.15/20 × 25 = 3.519, 0.1 × 28.25/20 × 25 = 3.531."""
    found = assayed(net, net, blank=titres(0.0, 0.0))
    assert [flag.code for flag in found.flags] == (["implausible-strength"] if blocked else [])


# --------------------------------------------------------------------------------------------- a blank above the titre
def test_a_blank_above_the_titre_gives_the_result_and_its_interval_and_blocks() -> None:
    found = assayed(10.00, 10.05, blank=titres(12.00))
    assert found.estimate.value == pytest.approx(strength(10.025 - 12.00), rel=1e-12)  # negative, not clipped
    low, high, level = found.estimate.interval(0.95)
    assert low < found.estimate.value < high < 0.0
    assert level == 0.95
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("blank-above-titre", True)
    assert "12 mL" in flag.message
    assert "10.025 mL" in flag.message


def test_a_blank_equal_to_the_titre_is_zero_with_an_interval() -> None:
    found = assayed(10.00, 10.00, blank=titres(10.00, 10.00))
    assert found.estimate.value == pytest.approx(0.0, abs=1e-15)
    assert found.estimate.u > 0.0
    assert [flag.code for flag in found.flags] == ["blank-above-titre"]


def test_later_steps_refuse_it_until_accepted_by_name_and_the_acceptance_is_recorded() -> None:
    cylinder = Cylinder("C250", capacity="250 mL", subdivision="2 mL")
    found = assayed(10.00, 10.20, blank=titres(12.00))
    with pytest.raises(BlockedResultError) as caught:
        dose(found, deliver="0.1 mol OCl-", dispenser=cylinder, into="water")
    assert "accepting('blank-above-titre', because=" in caught.value.remedy
    with pytest.raises(DataError, match="blank-above-titer") as caught_name:
        found.accepting("blank-above-titer", because="typed wrongly")
    assert "blank-above-titre" in caught_name.value.remedy
    with pytest.raises(DataError, match="reason"):
        found.accepting("blank-above-titre", because=" ")
    accepted = found.accepting("blank-above-titre", because="shown to the class")
    delivered = dose(accepted, deliver="0.1 mol OCl-", dispenser=cylinder, into="water")
    assert delivered.volumes == ()  # no volume of it delivers anything
    assert "Accepted: shown to the class." in str(delivered)


# --------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: assayed(24.30), DomainError, ["single titre", "method_s"]),
        (assayed, DomainError, ["no replicate"]),
        (lambda: assayed(24.3, 24.4, titrant=thiosulfate(name="silver nitrate")), DomainError, ["silver nitrate"]),
        (lambda: assayed(24.3, 24.4, label="12.5 %"), BasisError, ["'12.5 %'", "'12.5 % w/v available chlorine'"]),
        (lambda: assayed(24.3, 24.4, label="12.5"), BasisError, ["'12.5'", "'12.5 g/L available chlorine'"]),
        (
            lambda: assayed(24.3, 24.4, label="12,5 % w/v NaOCl"),
            UnitError,
            ["'12,5 % w/v NaOCl'", "'12.5 % w/v NaOCl'"],
        ),
        (lambda: assayed(24.3, 24.4, label="12.5 mol"), BasisError, ["12.5 mol"]),
        (lambda: assayed(24.3, 24.4, label="0 g/L NaOCl"), DomainError, ["0 g/L NaOCl", "above zero"]),
        (lambda: assayed(24.3, 24.4, blank="0.05 mL"), DataError, ["0.05 mL", "burette.titre("]),
        (
            lambda: assay_hypochlorite(thiosulfate(), aliquot=pipette, titres=["24.35 mL", "24.30 mL"]),
            DataError,
            ["24.35 mL", "burette.titre("],
        ),
        (
            lambda: Dilution(Pipette("P", capacity="50 mL"), Flask("F", capacity="25 mL")),
            DomainError,
            ["50 mL", "25 mL", "exchanged"],
        ),
        (
            lambda: Dilution(Pipette("P", capacity="50 mL"), Flask("F", capacity="50 mL")),
            DomainError,
            ["cannot concentrate"],
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
