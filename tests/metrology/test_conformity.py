"""Conformity: published examples, the risk that is promised, the three decisions, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from assay.errors import AssayError, BlockedResultError, DataError, DomainError, UnitError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence

#: Level at which k is 2 for a normal distribution.
TWO_U = math.erf(math.sqrt(2.0))


def number(value: float, u: float, dof: float = math.inf, *, unit: str = "1") -> Estimate:
    influence = Influence(id="x", label="x", value=value, u=u, dof=dof)
    return combine(lambda x: x, Estimate.from_influence(influence, name="value"), label="x", unit=unit)


# --------------------------------------------------------------------------------------------------- published examples


@pytest.mark.parametrize(
    ("value", "u", "lower", "upper", "printed"),
    [
        (-5.47, 0.05, None, "-5.40 V", "0.92"),  # breakdown voltage of a diode
        (507.0, 8.0, "490 kPa", None, "0.98"),  # burst pressure of a container
        (13.6, 1.8, "12.5 mm2/s", "16.3 mm2/s", "0.66"),  # viscosity of an engine oil
    ],
)
def test_conformance_probabilities_of_jcgm_106(
    value: float, u: float, lower: str | None, upper: str | None, printed: str
) -> None:
    """The examples of JCGM 106:2012, clause 7, from memory."""
    unit = (lower or upper or "").partition(" ")[2]
    found = number(value, u, unit=unit).conformity(lower=lower, upper=upper)
    assert found.conformance_probability == pytest.approx(float(printed), abs=0.005)
    assert found.consumer_risk + found.conformance_probability == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("conformance", "z"), [(0.80, "0.84"), (0.90, "1.28"), (0.95, "1.64"), (0.99, "2.33"), (0.999, "3.09")]
)
def test_guard_bands_of_one_sided_limits_of_jcgm_106(conformance: float, z: str) -> None:
    """JCGM 106:2012, Table 1, from memory: the distance of a value from its limit in units of u."""
    found = number(0.0, 1.0).conformity(upper=10.0, risk=1.0 - conformance)
    assert found.guard_band == pytest.approx(float(z), abs=0.005)


@pytest.mark.parametrize(("factor", "most"), [(0.83, 0.05), (1.0, 0.025), (1.5, 0.0016), (3.0, 1e-6)])
def test_risks_of_the_guard_bands_in_use(factor: float, most: float) -> None:
    """[ilac-g8-2019] as listed by others: the specific risk of false acceptance with a guard band of so many U = 2u."""
    on_the_limit = number(0.0, 0.5).conformity(upper=10.0, guard_factor=factor, level=TWO_U).acceptance.upper
    found = number(on_the_limit, 0.5).conformity(upper=10.0, guard_factor=factor, level=TWO_U)
    assert found.decision == "fit"
    assert found.guard_band == pytest.approx(factor)
    assert 0.0 < found.consumer_risk < most


# ----------------------------------------------------------------------------------------------------------------- laws

DOFS = st.one_of(st.just(math.inf), st.floats(1.0, 200.0))
CASES = {
    "value": st.floats(-20.0, 20.0),
    "u": st.floats(0.01, 10.0),
    "dof": DOFS,
    "low": st.floats(-10.0, 9.0),
    "width": st.floats(0.1, 15.0),
    "risk": st.floats(0.001, 0.5),
    "sides": st.sampled_from(["lower", "upper", "both"]),
}


def sides_of(low: float, width: float, sides: str) -> dict[str, float]:
    limits = {"lower": low, "upper": low + width}
    return limits if sides == "both" else {sides: limits[sides]}


@given(**CASES)
def test_neither_decision_is_wrong_with_more_than_the_stated_risk(
    *, value: float, u: float, dof: float, low: float, width: float, risk: float, sides: str
) -> None:
    limits = sides_of(low, width, sides)
    found = number(value, u, dof).conformity(**limits, risk=risk)
    shape = stats.norm(value, u) if math.isinf(dof) else stats.t(dof, value, u)
    outside = shape.cdf(limits.get("lower", -math.inf)) + shape.sf(limits.get("upper", math.inf))
    assert found.consumer_risk == pytest.approx(outside, rel=1e-8, abs=1e-14)
    if found.decision == "fit":
        assert outside <= risk * (1.0 + 1e-6)
    elif found.decision == "unfit":
        assert 1.0 - outside <= risk * (1.0 + 1e-6)
        assert value < limits.get("lower", -math.inf) or value > limits.get("upper", math.inf)
    else:  # neither could be said
        inside = limits.get("lower", -math.inf) <= value <= limits.get("upper", math.inf)
        assert outside > risk * (1.0 - 1e-6)
        assert inside or 1.0 - outside > risk * (1.0 - 1e-6)


@given(**CASES)
def test_at_an_acceptance_limit_the_risk_is_the_stated_one(
    *, value: float, u: float, dof: float, low: float, width: float, risk: float, sides: str
) -> None:
    limits = sides_of(low, width, sides)
    acceptance = number(value, u, dof).conformity(**limits, risk=risk).acceptance
    assume(not math.isnan(acceptance.lower))
    for limit in acceptance:
        if math.isfinite(limit):
            assert number(limit, u, dof).conformity(**limits).consumer_risk == pytest.approx(risk, rel=1e-6)


@given(**CASES)
def test_the_mirror_image_is_decided_alike(
    *, value: float, u: float, dof: float, low: float, width: float, risk: float, sides: str
) -> None:
    limits = sides_of(low, width, sides)
    names = {"lower": "upper", "upper": "lower"}
    found = number(value, u, dof).conformity(**limits, risk=risk)
    mirrored = number(-value, u, dof).conformity(**{names[n]: -limit for n, limit in limits.items()}, risk=risk)
    assert (mirrored.above, mirrored.below) == (found.below, found.above)
    assert mirrored.guard_band == pytest.approx(found.guard_band, rel=1e-6, abs=1e-9, nan_ok=True)


@given(value=st.floats(-5.0, 5.0), u=st.floats(0.1, 3.0), dof=DOFS, low=st.floats(-3.0, 3.0), width=st.floats(0.1, 5.0))
def test_below_between_and_above_are_all_there_is(value: float, u: float, dof: float, low: float, width: float) -> None:
    x = number(value, u, dof)
    parts = x.probability_below(low), x.probability_between(low, low + width), x.probability_above(low + width)
    assert sum(parts) == pytest.approx(1.0, abs=1e-12)


def test_far_tails_keep_their_digits() -> None:
    x = number(0.0, 1.0)
    assert x.probability_above(10.0) == pytest.approx(stats.norm.sf(10.0), rel=1e-10, abs=0.0)
    assert x.probability_between(10.0, 11.0) == pytest.approx(
        stats.norm.sf(10.0) - stats.norm.sf(11.0), rel=1e-10, abs=0.0
    )


# ------------------------------------------------------------------------------------- brute force: measured many times


@pytest.mark.parametrize("replicates", [None, 3, 10])
@pytest.mark.parametrize("risk", [0.05, 0.2])
@pytest.mark.parametrize("limits", [{"upper": 5.0}, {"lower": -5.0, "upper": 5.0}])
def test_what_lies_on_its_limit_is_not_accepted_more_often_than_stated(
    replicates: int | None, risk: float, limits: dict[str, float]
) -> None:
    """The worst that still fails: measured again and again, it is accepted, and rejected, with the stated risk."""
    generator, runs, decided = np.random.default_rng(106), 4000, {"fit": 0, "unfit": 0, "undecided": 0}
    for _ in range(runs):
        if replicates is None:
            measured = number(5.0 + 0.5 * generator.standard_normal(), 0.5)
        else:
            values = 5.0 + generator.standard_normal(replicates)
            measured = Estimate.from_influence(Influence.observed("x", list(values), label="x"), name="value")
        decided[measured.conformity(**limits, risk=risk).decision] += 1
    error = math.sqrt(risk * (1.0 - risk) / runs)
    assert decided["fit"] / runs <= risk + 3.0 * error
    assert decided["unfit"] / runs <= risk + 3.0 * error
    if "lower" not in limits:  # one limit: the risk is used up
        assert decided["fit"] / runs >= risk - 3.0 * error
        assert decided["unfit"] / runs >= risk - 3.0 * error


# -------------------------------------------------------------------------------------------------- the three decisions


@pytest.mark.parametrize(
    ("value", "decision"), [(7.9, "unfit"), (8.1, "undecided"), (10.0, "undecided"), (11.9, "undecided"), (12.1, "fit")]
)
def test_a_stated_guard_band_lies_on_both_sides_of_a_limit(value: float, decision: str) -> None:
    found = number(value, 1.0, unit="g/L").conformity(lower="10 g/L", guard_band="2000 mg/L")
    assert (found.decision, found.guard_band) == (decision, 2.0)
    assert (found.acceptance.lower, found.rejection.lower) == (12.0, 8.0)
    assert (found.acceptance.upper, found.rejection.upper) == (math.inf, math.inf)


def test_simple_acceptance_always_decides_and_says_its_risk() -> None:
    on_it, beyond = (number(value, 1.0).conformity(lower=10.0, guard_factor=0.0) for value in (10.0, 9.999))
    assert (on_it.decision, on_it.consumer_risk, on_it.rule) == ("fit", 0.5, "simple acceptance")
    assert beyond.decision == "unfit"


def test_a_guard_band_of_one_expanded_uncertainty_is_by_t() -> None:
    found = number(0.0, 1.0, dof=2.0).conformity(upper=10.0, guard_factor=1.0)
    assert found.guard_band == pytest.approx(4.30, abs=0.005)  # JCGM 100:2008, Table G.2
    assert "1 U, with U at 95 %" in found.rule


def test_limits_too_near_accept_nothing_and_say_what_u_they_need() -> None:
    found = number(0.0, 1.0).conformity(lower=-1.0, upper=1.0)
    assert found.decision == "undecided"
    assert math.isnan(found.acceptance.lower)
    assert math.isnan(found.guard_band)
    (flag,) = found.flags
    assert (flag.code, flag.blocking) == ("no-acceptance-interval", False)
    assert "u at most 0.51, and it is 1.0" in flag.message  # 1/1.96
    assert number(0.0, 0.5102).conformity(lower=-1.0, upper=1.0).decision == "fit"
    assert number(0.0, 0.5103).conformity(lower=-1.0, upper=1.0).decision == "undecided"
    by_width = number(0.0, 0.1).conformity(lower=-1.0, upper=1.0, guard_band=1.5)
    assert by_width.decision == "undecided"
    assert "guard band of at most 1.0, and it is 1.5" in by_width.flags[0].message


def test_within_its_limits_nothing_is_unfit_however_badly_it_was_measured() -> None:
    found = number(0.0, 100.0).conformity(lower=-1.0, upper=1.0)
    assert found.conformance_probability < 0.05
    assert found.decision == "undecided"
    assert number(1.1, 100.0).conformity(lower=-1.0, upper=1.0).decision == "unfit"


def test_without_uncertainty_the_value_decides_and_a_limit_conforms() -> None:
    on_it, beyond = (number(value, 0.0).conformity(lower=1.0, upper=2.0) for value in (2.0, 2.5))
    assert (on_it.decision, on_it.consumer_risk, on_it.conformance_probability) == ("fit", 0.0, 1.0)
    assert (beyond.decision, beyond.consumer_risk, beyond.conformance_probability) == ("unfit", 1.0, 0.0)
    assert [flag.code for flag in on_it.flags] == ["no-uncertainty"]
    assert number(1.0, 0.0).probability_above(1.0) == 0.0


def test_a_blocked_result_decides_nothing_until_it_is_accepted() -> None:
    blocked = number(2.0, 0.1).flagged(Flag(code="doubtful", message="It is.", blocking=True))
    with pytest.raises(BlockedResultError, match="doubtful"):
        blocked.conformity(upper=3.0)
    found = blocked.accepting("doubtful", because="looked at again").conformity(upper=3.0)
    assert found.decision == "fit"
    assert [flag.code for flag in found.flags] == ["doubtful"]


# ------------------------------------------------------------------------------------------------------------- refusals


@pytest.mark.parametrize(
    ("asked", "error", "told"),
    [
        ({}, DataError, "no specification limit"),
        ({"lower": "2 g/L", "upper": "1 g/L"}, DomainError, "Are they exchanged"),
        ({"lower": "1 g/L", "upper": "1 g/L"}, DomainError, "no interval"),
        ({"lower": 1.0}, UnitError, "a bare number cannot be compared with a result in g/L"),
        ({"lower": "1"}, UnitError, "Write for example '5 g/L'"),
        ({"lower": "1 mol"}, UnitError, "'mol'"),
        ({"lower": "5 %"}, UnitError, "'%'"),
        ({"lower": pint.UnitRegistry().Quantity(1.0, "mol")}, UnitError, "not a unit of quantity in g/L"),
        ({"upper": "1 g/L", "risk": 0.0}, DomainError, "more than 0"),
        ({"upper": "1 g/L", "risk": 5}, DomainError, "Write 0.05"),
        ({"upper": "1 g/L", "risk": math.nan}, DomainError, "probability"),
        ({"upper": "1 g/L", "risk": 0.05, "guard_factor": 1.0}, DataError, "risk and guard_factor"),
        ({"upper": "1 g/L", "guard_factor": -1.0}, DomainError, "not negative"),
        ({"upper": "1 g/L", "guard_band": "-1 g/L"}, DomainError, "not negative"),
        ({"upper": "1 g/L", "guard_band": 1.0}, UnitError, "guard_band"),
        ({"upper": "1 g/L", "guard_factor": 1.0, "level": 95}, DomainError, "Write 0.95"),
        ({"upper": "1 g/L", "risk": "5 %"}, DomainError, "not a plain number"),
        ({"upper": "1 g/L", "guard_factor": "1 U"}, DomainError, "not a plain number"),
    ],
)
def test_what_cannot_be_decided_is_refused(asked: dict[str, object], error: type[AssayError], told: str) -> None:
    with pytest.raises(error) as refused:
        number(1.0, 0.1, unit="g/L").conformity(**asked)
    assert told in str(refused.value)


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(UnitError) as refused:
        number(1.0, 0.1, unit="g/L").conformity(lower="1", upper="2 mol", risk=7.0)
    assert all(told in str(refused.value) for told in ("lower", "upper", "risk"))


def test_a_measured_limit_is_for_compare() -> None:
    with pytest.raises(DataError, match=r"compare\(a, b\)"):
        number(1.0, 0.1).probability_below(number(2.0, 0.1))


# ---------------------------------------------------------------------------------------------------------- Monte Carlo


def test_sampled_probability_of_a_square_is_that_of_chi_squared() -> None:
    squared = combine(lambda x: x * x, number(0.0, 1.0))
    found = squared.sampled_probability(upper=2.0, trials=200_000)
    exact = stats.chi2.cdf(2.0, 1)
    assert abs(found.probability - exact) <= 3.0 * found.error
    assert found.error == pytest.approx(math.sqrt(exact * (1.0 - exact) / 200_000), rel=0.01)
    assert squared.probability_below(2.0) == 1.0  # the linear result has no slope there, and so no uncertainty


def test_sampled_probability_draws_what_few_replicates_cost() -> None:
    x = number(0.0, 1.0, dof=2.0)
    scaled_t = x.sampled_probability(-1.0, 2.0, trials=200_000)
    plug_in = x.sampled_probability(-1.0, 2.0, trials=200_000, few_replicates="plug-in")
    assert abs(scaled_t.probability - (stats.t.cdf(2.0, 2) - stats.t.cdf(-1.0, 2))) <= 3.0 * scaled_t.error
    assert abs(plug_in.probability - (stats.norm.cdf(2.0) - stats.norm.cdf(-1.0))) <= 3.0 * plug_in.error


def test_a_sampled_probability_of_none_still_has_an_error() -> None:
    found = number(0.0, 1.0).sampled_probability(lower=50.0, trials=1000)
    assert (found.probability, found.error, found.trials) == (0.0, 0.001, 1000)


def test_threads_change_no_sampled_probability() -> None:
    x = number(0.0, 1.0)
    assert x.sampled_probability(upper=0.3, threads=2) == x.sampled_probability(upper=0.3)


# --------------------------------------------------------------------------------------------------------- presentation


def test_it_is_shown_with_decision_rule_and_limits() -> None:
    found = number(11.0, 1.0, unit="g/L").conformity(lower="10 g/L")
    assert repr(found) == (
        "<Conformity 'x': undecided (11.0 g/L, u = 1.0 g/L, dof = ∞; conforms with probability 0.841)>"
    )
    shown = str(found)
    for told in ("acceptance", "11.64", "8.36", "none", "risk of a wrong decision at most 5 %", "guard band 1.6 g/L"):
        assert told in shown
    assert "<table>" in found._repr_html_()
    assert r"\begin{tabular}" in found._repr_latex_()


def test_a_probability_of_nearly_one_is_not_shown_as_one() -> None:
    assert "probability 1 - 0.000032" in repr(number(14.0, 1.0).conformity(lower=10.0))
    assert "probability 1)" in repr(number(14.0, 0.0).conformity(lower=10.0))
