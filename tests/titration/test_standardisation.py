"""Standardisation of thiosulfate against potassium iodate, against formulas written out by hand."""

from __future__ import annotations

import math
from collections.abc import Callable
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
    Flask,
    Pipette,
    PrimaryStandard,
    StandardSolution,
    Titrant,
    Titre,
    UnitError,
    assay_hypochlorite,
    combine,
    standardise_by_aliquots,
    standardise_by_portions,
)

# KIO3 by hand, g/mol: K 39.0983(1), I 126.90447(3), O 15.999(1); fully correlated oxygens, rectangular half-widths.
M = 39.0983 + 126.90447 + 3 * 15.999
U_M = math.sqrt((0.0001**2 + 0.00003**2 + (3 * 0.001) ** 2) / 3.0)
PURITY, U_PURITY = 0.9995, 0.0005 / math.sqrt(3.0)
FLASK, U_FLASK = 250.0, 0.15 / math.sqrt(3.0)  # ISO 1042, class A
ALIQUOT, U_ALIQUOT = 25.0, 0.03 / math.sqrt(3.0)  # ISO 648, class A
LINEARITY, REPEATABILITY = 0.00015 / math.sqrt(3.0), 0.0001  # g
GROSS, TARE = 11.4470, 10.5555
MASS = GROSS - TARE

KNOTS = np.linspace(0.0, 50.0, 21)
CORRELATION = (6.0 / math.pi) * np.arcsin(np.exp(-((np.subtract.outer(KNOTS, KNOTS) / 5.0) ** 2) / 2.0) / 2.0)
COVARIANCE = 0.05**2 / 3.0 * CORRELATION  # class A, ±0.05 mL, mL²; nothing at zero
COVARIANCE[0, :] = COVARIANCE[:, 0] = 0.0


def at(reading: float) -> np.ndarray:
    """Return the share of each knot in the deviation at a reading, mL."""
    return np.maximum(1.0 - np.abs(KNOTS - reading) / 2.5, 0.0)


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")


def standard(lot: str | None = "A17") -> PrimaryStandard:
    return PrimaryStandard("potassium iodate", lot=lot, purity="99.95 % w/w", half_width="0.05 % w/w")


def solution() -> StandardSolution:
    weighing = balance().by_difference(f"{GROSS} g", f"{TARE} g")
    return StandardSolution(
        standard=standard(), weighing=weighing, flask=Flask("F250", capacity="250 mL", accuracy_class="A")
    )


def by_aliquots(*finals: float, **options: object) -> Titrant:
    pipette = Pipette("P25", capacity="25 mL", accuracy_class="A")
    return standardise_by_aliquots(solution(), aliquot=pipette, titres=titres(*finals), **options)


def concentration(net: float) -> float:
    """Return mol/L for a net titre in mL: six thiosulfate for one iodate."""
    return 6.0 * MASS * PURITY / M * (ALIQUOT / FLASK) / (net / 1000.0)


def relative_variance_of_the_aliquot() -> float:
    mass = 2.0 * (LINEARITY**2 + REPEATABILITY**2) / MASS**2
    return mass + (U_PURITY / PURITY) ** 2 + (U_M / M) ** 2 + (U_FLASK / FLASK) ** 2 + (U_ALIQUOT / ALIQUOT) ** 2


# --------------------------------------------------------------------------------------------------------- aliquots
def test_aliquots_against_plain_arithmetic() -> None:
    found = by_aliquots(24.30, 24.45, 24.36, blank=titres(0.05))
    assert found.estimate.value == pytest.approx(concentration(24.37 - 0.05), rel=1e-12)
    assert found.estimate.unit == "mol/L"
    assert found.name == "thiosulfate"
    assert found.flags == ()


def test_u_of_a_single_titre_with_a_known_scatter() -> None:
    """One titre of 25.00 mL, s = 0.04 mL with 10 degrees of freedom, no blank: a sum of six squares."""
    found = by_aliquots(25.00, method_s="0.04 mL", method_dof=10.0).estimate
    scale = 0.05**2 / 3.0  # at a knot, from zero
    relative = math.sqrt(relative_variance_of_the_aliquot() + (scale + 0.04**2) / 25.0**2)
    assert found.relative_u == pytest.approx(relative, rel=1e-10)
    # The rounding that the s holds, 0.05 mL/√12, is known; only the rest has ten degrees of freedom.
    estimated = (0.04**2 - 0.05**2 / 12.0) / 25.0**2
    assert found.dof == pytest.approx(10.0 * relative**4 / estimated**2, rel=1e-9)


def test_u_of_three_titres_with_a_single_blank() -> None:
    finals, blank = (24.30, 24.45, 24.36), 0.05
    found = by_aliquots(*finals, blank=titres(blank)[0]).estimate
    net, s = fmean(finals) - blank, stdev(finals)
    share = sum(at(final) for final in finals) / 3.0 - at(blank)
    scale = float(share @ COVARIANCE @ share)
    variance = relative_variance_of_the_aliquot() + (scale + s**2 / 3.0 + s**2) / net**2
    assert found.relative_u == pytest.approx(math.sqrt(variance), rel=1e-10)
    of_one = s**2 - 0.05**2 / 12.0  # without its rounding, which is known
    loss = ((of_one / 3.0 + of_one) / net**2) ** 2 / 2.0  # one s stands behind the mean and the blank
    assert found.dof == pytest.approx(variance**2 / loss, rel=1e-9)


def test_budget_adds_up_and_names_every_cause() -> None:
    found = by_aliquots(24.30, 24.45, 24.36, blank=titres(0.05)).estimate
    budget = found.budget()
    assert sum(line.contribution**2 for line in budget.lines) == pytest.approx(found.u**2, rel=1e-12)
    ids = {line.ids[0].split("/")[0] for line in budget.lines}
    assert {"burette", "pipette", "flask", "lot", "balance", "atomic-weight"} <= ids


def test_what_the_traceability_line_needs() -> None:
    assert by_aliquots(24.30, 24.40).facts == {
        "standard": "potassium iodate",
        "lot": "A17",
        "purity": "99.95 % w/w ± 0.05 % w/w (half-width)",
        "atomic weights": "ciaaw-2024",
    }


def test_two_titrants_of_one_standard_solution_differ_by_their_titrations_alone() -> None:
    """Mass, purity, flask and aliquot are the same physical things, the portion was weighed once."""
    options = {"method_s": "0.04 mL"}
    ratio = combine(
        lambda a, b: a / b,
        by_aliquots(25.00, record="Monday", **options).estimate,
        by_aliquots(25.00, record="Tuesday", **options).estimate,
    )
    assert ratio.value == pytest.approx(1.0, rel=1e-12)
    assert ratio.u == pytest.approx(math.sqrt(2.0) * 0.04 / 25.0, rel=1e-9)


def test_the_same_record_read_twice_is_the_same_titrant() -> None:
    first, again = (by_aliquots(24.30, 24.40, record="Monday").estimate for _ in range(2))
    assert combine(lambda a, b: a - b, first, again).u == pytest.approx(0.0, abs=1e-15)


# --------------------------------------------------------------------------------------------------------- portions
PORTIONS = [(0.1302, 36.10), (0.1251, 34.80), (0.1340, 37.05)]  # g and mL


def by_portions(portions: list[tuple[float, float]] = PORTIONS, **options: object) -> Titrant:
    pairs = [
        (balance().by_difference(f"{10.0 + mass:.4f} g", "10.0000 g"), titres(final)[0]) for mass, final in portions
    ]
    return standardise_by_portions(standard(), portions=pairs, **options)


def test_portions_against_plain_arithmetic() -> None:
    """Each portion gives a concentration; the result is their mean, its scatter theirs."""
    found = by_portions(blank=titres(0.05))
    each = [6.0 * mass * PURITY / M / ((final - 0.05) / 1000.0) for mass, final in PORTIONS]
    assert found.estimate.value == pytest.approx(fmean(each), rel=1e-12)
    ids = [id_ for id_ in found.estimate.influences if id_.endswith("/scatter")]
    mean, blank = sorted((found.estimate.influences[id_] for id_ in ids), key=lambda one: "blank" in one.id)
    # Its variance without those of rounding a titre, 0.05 mL/√12, and of weighing a portion, 0.1 mg √2.
    per_titre = max(c / final for c, (_, final) in zip(each, PORTIONS, strict=True)) * 0.05 / math.sqrt(12.0)
    per_mass = max(c / mass for c, (mass, _) in zip(each, PORTIONS, strict=True)) * 1e-4 * math.sqrt(2.0)
    of_one = stdev(each) ** 2 - per_titre**2 - per_mass**2
    assert mean.u == pytest.approx(math.sqrt(of_one / 3.0), rel=1e-9)
    assert mean.joint is not None
    assert mean.joint is blank.joint
    assert mean.joint.dof == 2.0
    line = next(line for line in found.budget().lines if mean.id in line.ids)
    assert set(line.ids) == set(ids)


def test_u_of_portions_without_a_blank() -> None:
    """Purity, molar mass, linearity and scale are the same for all portions; only the scatter averages."""
    found = by_portions().estimate
    each = [6.0 * mass * PURITY / M / (final / 1000.0) for mass, final in PORTIONS]
    per_gram = fmean(c / mass for c, (mass, _) in zip(each, PORTIONS, strict=True))
    share = sum(c / final * (at(final) - at(0.0)) for c, (_, final) in zip(each, PORTIONS, strict=True)) / 3.0
    variance = (
        fmean(each) ** 2 * ((U_PURITY / PURITY) ** 2 + (U_M / M) ** 2)
        + 2.0 * (per_gram * LINEARITY) ** 2
        + float(share @ COVARIANCE @ share)
        + stdev(each) ** 2 / 3.0
    )
    # The scatter here shows more than rounding (0.05 mL/√12) and weighing (0.1 mg √2) of one portion could hide.
    assert stdev(each) / fmean(each) > max(0.05 / math.sqrt(12.0) / 34.8, 1e-4 * math.sqrt(2.0) / 0.1251)
    assert found.u == pytest.approx(math.sqrt(variance), rel=1e-9)


def test_portions_that_agree_still_count_rounding_and_weighing() -> None:
    found = by_portions([(0.1300, 36.10), (0.1300, 36.10)]).estimate
    hidden = math.sqrt((0.05 / math.sqrt(12.0) / 36.10) ** 2 + 2.0 * (1e-4 / 0.13) ** 2 / 2.0)
    line = next(line for line in found.budget().lines if line.ids[0].endswith("/resolution"))
    assert line.contribution / found.value == pytest.approx(hidden, rel=1e-9)


def test_a_single_portion_with_a_known_scatter() -> None:
    found = by_portions([(0.1300, 36.10)], method_s="0.06 mL", method_dof=6.0)
    lines = {line.ids[0].rsplit("/", 1)[-1]: line for line in found.budget().lines}
    both = math.hypot(lines["scatter"].contribution, lines["resolution"].contribution)
    assert both / found.estimate.value == pytest.approx(0.06 / 36.10, rel=1e-9)
    assert lines["scatter"].dof == 6.0


def test_aliquots_and_portions_agree_on_the_same_amount() -> None:
    """0.1 of 0.8915 g in an aliquot, and 0.08915 g weighed alone, with the same titre."""
    aliquots = by_aliquots(25.00, method_s="0.04 mL").estimate.value
    pair = (balance().by_difference("10.08915 g", "10.0 g"), titres(25.00)[0])
    portions = standardise_by_portions(standard(), portions=[pair], method_s="0.04 mL").estimate.value
    assert portions == pytest.approx(aliquots, rel=1e-12)


# ------------------------------------------------------------------------------------------------------------- flags
def test_set_aside_titres_are_flagged_with_the_value_with_them() -> None:
    kept, aside = titres(24.30, 24.40), burette().titre("25.55 mL", void="overshot")
    pipette = Pipette("P25", capacity="25 mL", accuracy_class="A")
    found = standardise_by_aliquots(solution(), aliquot=pipette, titres=[*kept, aside], blank=titres(0.05))
    assert found.estimate.value == pytest.approx(concentration(24.30), rel=1e-12)
    (flag,) = found.flags
    assert flag.code == "titres-set-aside"
    assert "25.55 mL (overshot)" in flag.message
    assert f"{concentration(fmean([24.30, 24.40, 25.55]) - 0.05):.5g} mol/L" in flag.message


def test_set_aside_portions_are_flagged_with_the_value_with_them() -> None:
    rough = (balance().by_difference("10.1400 g", "10.0000 g"), burette().titre("39.50 mL", rough=True))
    kept = [
        (balance().by_difference(f"{10.0 + mass:.4f} g", "10.0000 g"), titres(final)[0]) for mass, final in PORTIONS
    ]
    found = standardise_by_portions(standard(), portions=[*kept, rough])
    each = [6.0 * mass * PURITY / M / (final / 1000.0) for mass, final in [*PORTIONS, (0.1400, 39.50)]]
    assert found.estimate.value == pytest.approx(fmean(each[:3]), rel=1e-12)
    flag = next(flag for flag in found.flags if flag.code == "titres-set-aside")
    assert f"{fmean(each):.5g} mol/L" in flag.message


@pytest.mark.parametrize("standardised", [by_aliquots, lambda *_, **options: by_portions(**options)])
def test_no_blank_is_flagged_and_does_not_block(standardised: Callable[..., Titrant]) -> None:
    found = standardised(24.30, 24.40)
    assert [(flag.code, flag.blocking) for flag in found.flags] == [("no-blank", False)]
    assert repr(found).startswith("<Titrant 'thiosulfate': [no-blank]")


def test_a_blank_above_the_titre_blocks_and_is_not_clipped() -> None:
    found = by_aliquots(10.00, 10.05, blank=titres(12.00))
    assert found.estimate.value == pytest.approx(concentration(10.025 - 12.00), rel=1e-12)
    assert found.estimate.interval(0.95).high < 0.0
    assert [(flag.code, flag.blocking) for flag in found.flags] == [("blank-above-titre", True)]
    pipette = Pipette("P10", capacity="10 mL")
    with pytest.raises(BlockedResultError, match="blank-above-titre") as caught:
        assay_hypochlorite(found, aliquot=pipette, titres=titres(20.0, 20.2))
    assert "accepting('blank-above-titre'" in caught.value.remedy
    accepted = found.accepting("blank-above-titre", because="shown in class")
    assert accepted.flags[0].accepted == "shown in class"
    assert accepted.facts == found.facts


def test_portions_with_a_blank_above_the_titre_block_as_well() -> None:
    found = by_portions(blank=titres(45.00))
    each = [6.0 * mass * PURITY / M / ((final - 45.0) / 1000.0) for mass, final in PORTIONS]
    assert found.estimate.value == pytest.approx(fmean(each), rel=1e-12)
    assert [(flag.code, flag.blocking) for flag in found.flags] == [("blank-above-titre", True)]


# --------------------------------------------------------------------------------------------------------- standards
def test_one_lot_is_one_influence_and_a_lot_not_stated_is_not_known_again() -> None:
    def amount(lot: str | None) -> object:
        return standard(lot).amount(balance().by_difference("11 g", "10 g"), "r")

    assert combine(lambda a, b: a / b, amount("A17"), amount("A17")).u == pytest.approx(0.0, abs=1e-15)
    for lots in [("A17", "A18"), (None, None)]:
        ratio = combine(lambda a, b: a / b, *(amount(lot) for lot in lots))
        assert ratio.u == pytest.approx(math.sqrt(2.0) * U_PURITY / PURITY, rel=1e-9)


def test_a_standard_is_known_by_name_or_formula() -> None:
    by_formula = PrimaryStandard("KIO3", lot="A17", purity="0.9995 g/g", half_width="0.0005 g/g")
    assert by_formula.formula == standard().formula == "KIO3"
    assert by_formula.equivalents == 6.0
    assert by_formula.titrant == "thiosulfate"


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: PrimaryStandard("potasium iodate", purity="1 g/g", half_width="0 g/g"),
            DataError,
            ["potasium", "'potassium iodate'"],
        ),
        (
            lambda: PrimaryStandard("salt", purity="1 g/g", half_width="0 g/g"),
            DataError,
            ["'salt'", "'potassium iodate'"],
        ),
        (lambda: PrimaryStandard("KIO3", purity="0.9995", half_width="0 g/g"), UnitError, ["'0.9995'", "% w/w"]),
        (lambda: PrimaryStandard("KIO3", purity=0.9995, half_width="0 g/g"), UnitError, ["0.9995", "% w/w"]),
        (lambda: PrimaryStandard("KIO3", purity="99.95 %", half_width="0 g/g"), UnitError, ["99.95 %", "% w/w"]),
        (
            lambda: PrimaryStandard("KIO3", purity="99,95 % w/w", half_width="0 g/g"),
            UnitError,
            ["99.95 % w/w", "comma"],
        ),
        (
            lambda: PrimaryStandard("KIO3", purity="100.05 % w/w", half_width="0 g/g"),
            DomainError,
            ["100.05 % w/w", "100 %"],
        ),
        (lambda: PrimaryStandard("KIO3", purity="0 % w/w", half_width="0 g/g"), DomainError, ["0 % w/w", "above 0"]),
        (
            lambda: PrimaryStandard("KIO3", purity="1 g/g", half_width="-0.1 % w/w"),
            DomainError,
            ["half_width", "negative"],
        ),
        (lambda: PrimaryStandard("KIO3", purity="1 g/mL", half_width="0 g/g"), UnitError, ["1 g/mL", "mass fraction"]),
        (lambda: by_aliquots(24.35), DomainError, ["single titre", "method_s"]),
        (by_aliquots, DomainError, ["no replicate", "one titre or more"]),
        (lambda: by_portions(PORTIONS[:1]), DomainError, ["single titre", "method_s"]),
        (lambda: by_portions([]), DomainError, ["no replicate"]),
        (lambda: by_portions([], method_s="0.03 mL"), DomainError, ["no replicate"]),
        (lambda: by_aliquots(24.35, method_s="0 mL"), DomainError, ["method_s", "above zero"]),
        (lambda: by_aliquots(24.35, method_s="0.03 g"), UnitError, ["method_s", "0.03 g"]),
        (lambda: by_aliquots(24.3, 24.4, blank="0.05 mL"), DataError, ["0.05 mL", "burette.titre("]),
        (lambda: by_aliquots(24.3, 24.3, blank=[]), DomainError, ["no replicate"]),
        (lambda: by_aliquots(0.0, 0.0), DomainError, ["titre", "zero"]),
        (lambda: by_aliquots(10.0, 10.0, blank=titres(10.0)), DomainError, ["blank", "titre"]),
        (lambda: by_portions([(0.13, 0.0), (0.13, 36.1)]), DomainError, ["titre", "zero"]),
        (lambda: by_portions([(0.13, 36.1), (0.13, 36.1)], blank=titres(36.1)), DomainError, ["blank", "titre"]),
        (
            lambda: standardise_by_aliquots(solution(), aliquot=Pipette("P", capacity="25 mL"), titres=["24.35 mL"]),
            DataError,
            ["24.35 mL", "burette.titre("],
        ),
        (
            lambda: standardise_by_portions(standard(), portions=[(balance().by_difference("2 g", "1 g"), "24.35 mL")]),
            DataError,
            ["24.35 mL", "burette.titre("],
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
