"""The end point: which indicator, and whose eye, as an influence that is shared."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import fmean

import numpy as np
import pytest

from assay import (
    AssayError,
    Burette,
    DataError,
    DomainError,
    EndPoint,
    Estimate,
    Influence,
    Pipette,
    Titrant,
    Titre,
    UnitError,
    assay_acid_base,
    combine,
    standardise_by_comparison,
)
from assay.data import table
from assay.substances.species import SPECIES

U = 0.03  # mL


def titre(value: float = 25.0, unit: str = "L", id_: str = "t") -> Estimate:
    """Return a titre in mL or g that is known without doubt."""
    scale, name = (1000.0, "titre") if unit == "L" else (1.0, "mass")
    influence = Influence(id=id_, label="titre", value=value / scale, u=0.0)
    return Estimate.from_influence(influence, name=name)


# ------------------------------------------------------------------------------------------------------------- value
@pytest.mark.parametrize(("excess", "net"), [("0.00 mL", 25.0), ("0.05 mL", 24.95), ("-0.02 mL", 25.02)])
def test_the_excess_is_taken_from_a_titre(excess: str, net: float) -> None:
    found = EndPoint("phenolphthalein", operator="K", excess=excess).corrected(titre(), "L")
    assert found.value == pytest.approx(net / 1000.0, rel=1e-12)
    assert found.u == pytest.approx(U / 1000.0, rel=1e-12)
    assert math.isinf(found.dof)
    assert (found.name, found.unit) == ("titre", "L")


def test_by_mass_a_millilitre_of_dilute_titrant_is_a_gram() -> None:
    found = EndPoint("methyl orange", operator="K", excess="0.05 mL", u="0.02 mL").corrected(titre(25.0, "g"), "g")
    assert (found.value, found.u) == pytest.approx((24.95, 0.02), rel=1e-12)
    assert (found.name, found.unit) == ("mass", "g")


def test_u_may_be_stated() -> None:
    assert EndPoint("methyl red", u="0.01 mL").corrected(titre(), "L").u == pytest.approx(1e-5, rel=1e-12)


# ------------------------------------------------------------------------------------------------------- what is shared
def difference(first: EndPoint, second: EndPoint) -> float:
    """Return u of the difference of two titres, mL."""
    return 1000.0 * combine(lambda a, b: a - b, first.corrected(titre(), "L"), second.corrected(titre(), "L")).u


def test_the_same_operator_and_indicator_are_one_influence() -> None:
    assert difference(EndPoint("methyl red", operator="K"), EndPoint("methyl red", operator="K")) == 0.0


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (("methyl red", "K"), ("methyl red", "L")),  # two people
        (("methyl red", "K"), ("methyl orange", "K")),  # two colours
        (("methyl red", None), ("methyl red", None)),  # nobody is named
        (("methyl red", "K"), ("methyl red", None)),
    ],
)
def test_all_others_are_not(first: tuple[str, str | None], second: tuple[str, str | None]) -> None:
    ends = [EndPoint(indicator, operator=operator) for indicator, operator in (first, second)]
    assert difference(*ends) == pytest.approx(math.sqrt(2.0) * U, rel=1e-12)


def test_an_end_point_that_nobody_is_named_for_is_one_influence_while_it_is_used() -> None:
    one = EndPoint("methyl red")
    assert difference(one, one) == 0.0


def test_by_volume_and_by_mass_it_is_the_same_eye() -> None:
    first = EndPoint("methyl red", operator="K").corrected(titre(), "L")
    second = EndPoint("methyl red", operator="K").corrected(titre(20.0, "g", "m"), "g")
    assert combine(lambda a, b: 1000.0 * a - b, first, second).u == pytest.approx(0.0, abs=1e-15)


def test_one_operator_has_one_excess_and_one_u() -> None:
    first, second = (EndPoint("methyl red", operator="K", u=u).corrected(titre(), "L") for u in ("0.03 mL", "0.05 mL"))
    with pytest.raises(DataError) as caught:
        combine(lambda a, b: a - b, first, second)
    assert "operator/K/methyl red/end point" in str(caught.value)


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", tolerance="0.000001 mL")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def hydroxide() -> Titrant:
    influence = Influence(id="bottle", label="hydroxide", value=0.1, u=0.0)
    return Titrant(name="sodium hydroxide", estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def acid(final: float, operator: str, blank: float | None = None) -> Estimate:
    """Return an assay in which the judgement is all that is uncertain, but for a trifle."""
    return assay_acid_base(
        hydroxide(),
        "hydrochloric acid",
        aliquot=Pipette("P25", capacity="25 mL", tolerance="0 mL"),
        titres=titres(final),
        blank=None if blank is None else titres(blank, blank),
        end_point=EndPoint("phenolphthalein", operator=operator, excess="0.05 mL"),
        method_s="0.000001 mL",
    ).estimate


@pytest.mark.parametrize(("first", "second"), [(25.0, 25.0), (25.0, 20.0), (10.0, 40.0)])
def test_a_simulated_operator_gives_the_same_u(first: float, second: float) -> None:
    """Very many operators, each with a bias of their own, as one pair of eyes or as two; the rounding is added."""
    generator = np.random.default_rng(11)
    trials = 100_000
    one, other = 0.05 + U * generator.standard_normal((2, trials))
    rounding = (0.05 / math.sqrt(12.0)) * generator.standard_normal((2, trials))
    for operators, biases in ((("K", "K"), (one, one)), (("K", "L"), (one, other))):
        ratio = combine(lambda a, b: a / b, *(acid(v, who) for v, who in zip((first, second), operators, strict=True)))
        drawn = (first + rounding[0] - biases[0]) / (second + rounding[1] - biases[1])
        # A standard deviation errs by 1/√(2 N) of itself, five times that; what is not linear is less than that here.
        assert ratio.u == pytest.approx(drawn.std(ddof=1), rel=5.0 / math.sqrt(2.0 * trials))


def test_like_titres_of_one_operator_cancel_the_judgement_in_their_ratio() -> None:
    ratio = combine(lambda a, b: a / b, acid(25.0, "K"), acid(25.0, "K"))
    assert ratio.sensitivities["operator/K/phenolphthalein/end point"] == pytest.approx(0.0, abs=1e-12)


def test_a_blank_to_the_same_colour_takes_the_judgement_out() -> None:
    found = acid(25.0, "K", blank=0.10)
    assert found.value == pytest.approx(0.1 * (25.00 - 0.10) / 25.0, rel=1e-12)  # the excess as well
    assert found.sensitivities["operator/K/phenolphthalein/end point"] == pytest.approx(0.0, abs=1e-12)


def test_a_comparison_is_corrected_on_both_sides() -> None:
    finals, knowns = (24.00, 24.20), (25.00, 25.20)
    found = standardise_by_comparison(
        hydroxide(),
        known_titres=titres(*knowns),
        titres=titres(*finals),
        end_point=EndPoint("phenolphthalein", operator="K", excess="0.05 mL"),
    ).estimate
    known, net = fmean(knowns) - 0.05, fmean(finals) - 0.05
    assert found.value == pytest.approx(0.1 * known / net, rel=1e-12)
    slope = found.sensitivities["operator/K/phenolphthalein/end point"] / 1000.0
    assert slope == pytest.approx(0.1 * (known - net) / net**2, rel=1e-9)


# ------------------------------------------------------------------------------------------------------------- words
def test_every_indicator_of_the_table_is_known_with_its_colours() -> None:
    for row in table("indicators").rows:
        found = EndPoint(row.index["indicator"])
        assert found.colours == f"{row.index['first_colour']} to {row.index['second_colour']}"


def test_what_the_traceability_line_says() -> None:
    assert EndPoint("methyl orange", operator="K").sentence() == "methyl orange (red to orange-yellow), judged by K"
    assert "not named" in EndPoint("methyl orange").sentence()


def test_the_budget_names_indicator_and_operator() -> None:
    labels = [line.label for line in acid(25.0, "first bench").budget().lines]
    assert "colour judgement, phenolphthalein, first bench" in labels


def test_indicators_that_fit_change_where_the_equivalence_point_is() -> None:
    """A weak acid ends above pH 8 and a weak base below pH 6; the fitting indicators end there by the table."""
    ends = {
        row.index["indicator"]: row.value
        for row in table("indicators").rows
        if row.index["quantity"] == "titration exponent"
    }
    for name, ph in ends.items():
        fits = {
            species: not EndPoint(name).flags_for(SPECIES[species]) for species in SPECIES if species != "hypochlorite"
        }
        assert fits["acetic acid"] == (ph > 8.0)
        assert fits["ammonia"] == (ph < 6.0)
        strong = {fits[species] for species in fits if species not in {"acetic acid", "ammonia"}}
        assert strong == {ph < 9.5}


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: EndPoint("phenolphtalein"), DataError, ["indicators", "'phenolphtalein'", "'phenolphthalein'"]),
        (lambda: EndPoint("litmus"), DataError, ["'litmus'", "methyl"]),
        (lambda: EndPoint(""), DataError, ["indicators", "phenolphthalein"]),
        (lambda: EndPoint("methyl red", operator=" "), DataError, ["operator", "without a slash"]),
        (lambda: EndPoint("methyl red", operator="K/L"), DataError, ["operator", "K/L"]),
        (lambda: EndPoint("methyl red", excess="0.05"), UnitError, ["excess", "0.05"]),
        (lambda: EndPoint("methyl red", excess="0.05 g"), UnitError, ["excess", "0.05 g"]),
        (lambda: EndPoint("methyl red", excess="0,05 mL"), UnitError, ["0.05 mL"]),
        (lambda: EndPoint("methyl red", u="0.03"), UnitError, ["u", "0.03"]),
        (lambda: EndPoint("methyl red", u="-0.03 mL"), DomainError, ["u", "not negative", "-0.03"]),
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
