"""Whether further replicates could decide, held against single decisions and futures drawn one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assay.errors import DataError, DomainError
from assay.metrology.conformity import Rule
from assay.metrology.deciding import DecisionOutlook, floor_of, outlook_of
from assay.metrology.decision_factor import risk_dof, risk_dof_of
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.futures import Futures, decisions, futures_after, u_and_dof_of
from assay.metrology.influence import Influence
from assay.metrology.probability import Limits
from assay.metrology.replicate_set import replicate_set
from assay.metrology.replicates import MethodScatter, Rounding, mean_of, scatter_of

TITRES = [10.1, 9.9, 10.3]


def result(
    titres: list[float],
    glass: float = 0.1,
    *,
    method: MethodScatter | None = None,
    rounding: Rounding | None = None,
    record: str = "sample",
) -> Estimate:
    exact = [Estimate.exactly(titre, name="value", label="titre") for titre in titres]
    scatter = scatter_of(titres, method=method, rounding=rounding)
    mean = mean_of(exact, scatter, record=record, name="replicate_mean", label=record)
    shared = Influence(id="glass", label="glass", value=0.0, u=glass)
    return combine(lambda x, y: x + y, mean, Estimate.from_influence(shared, name="value"), label="result")


# ------------------------------------------------------------------------------------------------ what stands behind it


def test_the_replicates_behind_a_result() -> None:
    found = replicate_set(result(TITRES, rounding=Rounding(shared=0.03)))
    assert (found.path, found.n, found.values, found.dof, found.own) == ("sample", 3, tuple(TITRES), 2.0, True)
    assert found.s == pytest.approx(0.2, rel=1e-12)
    assert found.scatter == pytest.approx(math.sqrt((0.04 - 0.0009) / 3.0), rel=1e-12)
    assert found.resolution == pytest.approx(math.sqrt(0.0009 / 3.0), rel=1e-12)
    assert found.rest == ((0.1, math.inf),)


def test_a_known_s_is_told_from_their_own_even_with_n_less_one_degrees_of_freedom() -> None:
    assert not replicate_set(result(TITRES, method=MethodScatter(s=0.3, dof=2.0))).own


def test_which_replicates_are_meant() -> None:
    both = combine(lambda a, b: a / b, result(TITRES), result([5.0, 5.1], record="titrant"), label="ratio")
    with pytest.raises(DataError, match="several sets") as caught:
        replicate_set(both)
    assert "titrant" in str(caught.value)
    assert replicate_set(both, of="titr").n == 2
    assert replicate_set(both, but={"titrant/scatter"}).n == 3
    with pytest.raises(DataError, match="no one set"):
        replicate_set(both, of="drum")
    entered = Estimate.from_influence(Influence(id="x", label="x", value=1.0, u=0.1), name="value")
    with pytest.raises(DataError, match="no replicates"):
        replicate_set(entered)
    with pytest.raises(DataError, match="no more than their rounding"):
        replicate_set(result([5.0, 5.0], rounding=Rounding(shared=0.03)))


# ------------------------------------------------------------------------------------------------------- many decisions

RULES = st.one_of(
    st.floats(0.001, 0.45).map(lambda risk: {"risk": risk}),
    st.floats(0.0, 2.0).map(lambda factor: {"guard_factor": factor, "level": 0.9}),
    st.floats(0.0, 0.5).map(lambda width: {"guard_band": width}),
)


def rule_from(given_rule: dict[str, float]) -> Rule:
    if "risk" in given_rule:
        return Rule(given_rule["risk"], math.nan, "")
    if "guard_factor" in given_rule:
        return Rule(math.nan, 0.0, "", given_rule["guard_factor"], 0.9)
    return Rule(math.nan, given_rule["guard_band"], "")


@given(
    titres=st.lists(st.floats(9.0, 11.0), min_size=2, max_size=6, unique=True),
    glass=st.floats(0.01, 1.0),
    rule=RULES,
    limits=st.tuples(st.floats(8.0, 10.0), st.floats(0.2, 3.0)),
    sides=st.sampled_from(["lower", "upper", "both"]),
)
def test_many_decisions_are_the_single_ones(
    *, titres: list[float], glass: float, rule: dict[str, float], limits: tuple[float, float], sides: str
) -> None:
    one = result(titres, glass)
    low, width = limits
    stated = {"lower": low, "upper": low + width}
    stated = stated if sides == "both" else {sides: stated[sides]}
    found = one.conformity(**stated, **rule)
    replicates = replicate_set(one)
    plain = rule_from(rule)
    u, dof = u_and_dof_of(np.array([replicates.scatter**2]), replicates.dof, replicates.rest, risk=plain.risk)
    assert u[0] == pytest.approx(one.u, rel=1e-12)
    limit = Limits(stated.get("lower", -math.inf), stated.get("upper", math.inf))
    edges = [edge for edge in (*found.acceptance, *found.rejection) if math.isfinite(edge)]
    if all(abs(one.value - edge) > 1e-6 for edge in edges):
        assert decisions(Futures(np.array([one.value]), u, dof), limit, plain)[0] == found.decision


# ----------------------------------------------------------------------------------------------------- the kept risk


@given(share=st.floats(0.001, 0.999), few=st.floats(1.0, 20.0), risk=st.floats(0.001, 0.4))
def test_the_width_of_a_decision_is_the_root_of_the_squares_of_widths(*, share: float, few: float, risk: float) -> None:
    dof = float(risk_dof_of([(share, few), (1.0 - share, math.inf)], risk, math.inf))
    width = math.sqrt(share * stats.t.isf(risk, few) ** 2 + (1.0 - share) * stats.norm.isf(risk) ** 2)
    assert stats.t.isf(risk, dof) == pytest.approx(width, rel=1e-6)


def test_a_decision_is_never_looser_than_the_interval() -> None:
    for glass in (0.01, 0.1, 1.0):
        one = result(TITRES[:2], glass)
        assert risk_dof(one, 0.05) <= one.coverage_dof
    alone = result(TITRES, 1e-9)
    assert risk_dof(alone, 0.05) == pytest.approx(2.0, rel=1e-9)
    known = result(TITRES, method=MethodScatter(s=0.1))
    assert math.isinf(risk_dof(known, 0.05))


def test_what_lies_on_a_limit_is_accepted_no_more_often_than_stated() -> None:
    # Pairs of titres beside glass of a tenth of their scatter, where no t of one number of degrees of freedom will do.
    generator = np.random.default_rng(7)
    draws, risk, glass = 200_000, 0.01, 0.1
    titres = glass * generator.standard_normal((draws, 1)) + generator.standard_normal((draws, 2))
    variance = titres.var(axis=1, ddof=1) / 2.0
    width = np.sqrt(stats.t.isf(risk, 1) ** 2 * variance + stats.norm.isf(risk) ** 2 * glass**2)
    by_hand = float(np.mean(titres.mean(axis=1) > width))
    u, dof = u_and_dof_of(variance, 1.0, ((glass, math.inf),), risk=risk)
    limit, rule = Limits(0.0, math.inf), Rule(risk, math.nan, "")
    accepted = float(np.mean(decisions(Futures(titres.mean(axis=1), u, dof), limit, rule) == "fit"))
    assert accepted == pytest.approx(by_hand, abs=2.0 / draws)
    assert accepted <= risk + 3.0 * math.sqrt(risk * (1.0 - risk) / draws)


# --------------------------------------------------------------------------------------------------------- the futures


@pytest.mark.parametrize("further", [1, 3, 10])
@pytest.mark.parametrize("known", [False, True])
def test_futures_are_those_drawn_one_by_one(further: int, known: bool) -> None:  # noqa: FBT001  (two kinds of s)
    method = MethodScatter(s=0.2, dof=5.0) if known else None
    one = result(TITRES, 0.05, method=method)
    found = futures_after(replicate_set(one), one.value, float(further), count=4096)
    generator = np.random.default_rng(11)
    draws = 200_000
    dof = 5.0 if known else 2.0
    sigma = np.sqrt(0.04 * dof / generator.chisquare(dof, draws))
    truth = np.mean(TITRES) + sigma / math.sqrt(3.0) * generator.standard_normal(draws)
    fresh = truth[:, None] + sigma[:, None] * generator.standard_normal((draws, further))
    together = np.column_stack([np.tile(TITRES, (draws, 1)), fresh])
    s = np.full(draws, 0.2) if known else together.std(axis=1, ddof=1)
    u = np.hypot(s / math.sqrt(3 + further), 0.05)
    for share in (0.1, 0.25, 0.5, 0.75, 0.9):
        # The share of futures below a quantile of the drawn ones; both are counts.
        for ours, drawn in ((found.value, together.mean(axis=1)), (found.u, u)):
            if np.ptp(drawn) > 0.0:
                assert np.mean(ours <= np.quantile(drawn, share)) == pytest.approx(share, abs=0.006)
    assert np.ptp(found.u) == 0.0 if known else np.ptp(found.u) > 0.0


def test_of_ever_so_many_replicates_the_floor_is_left() -> None:
    one = result(TITRES, 0.05)
    found = futures_after(replicate_set(one), one.value, math.inf, count=256)
    assert found.u == pytest.approx(0.05, rel=1e-12)
    assert floor_of(replicate_set(one)) == (0.05, math.inf)


def test_rounding_that_shows_is_averaged() -> None:
    one = result(TITRES, 0.05, rounding=Rounding(shared=0.03), method=MethodScatter(s=0.2))
    found = futures_after(replicate_set(one), one.value, 6.0, count=16)
    again = result(TITRES * 3, 0.05, rounding=Rounding(shared=0.03), method=MethodScatter(s=0.2))
    assert found.u == pytest.approx(again.u, rel=1e-12)


# ---------------------------------------------------------------------------------------------------------- the advice


def advice(lower: float, *, glass: float = 0.02, probability: float = 0.95) -> DecisionOutlook:
    method = MethodScatter(s=0.2)
    return outlook_of(result(TITRES, glass, method=method), lower=lower, probability=probability, futures=4096)


def by_formula(distance: float, further: int, glass: float = 0.02) -> float:
    """Return the chance of a decision with a known s: all is normal, and the mean is to move out of the guard band."""
    guard = 1.6448536269514722 * math.hypot(0.2 / math.sqrt(3.0 + further), glass)
    moves = 0.2 * math.sqrt(1.0 / 3.0 - 1.0 / (3.0 + further))
    return float(stats.norm.sf((guard - distance) / moves) + stats.norm.cdf((-guard - distance) / moves))


def test_the_number_is_the_least_that_has_the_chance() -> None:
    for distance in (0.13, 0.15, 0.17, 0.18):
        found = advice(10.1 - distance, probability=0.8)
        least = next((m for m in range(1, 200) if by_formula(distance, m) >= 0.8), None)
        assert least is not None
        assert found.verdict == "can decide"
        assert found.further == pytest.approx(least, abs=1)
        for further, chance in found.chances:
            assert chance == pytest.approx(by_formula(distance, further), abs=0.003)
        assert [flag.code for flag in found.flags] == ["second-look"]


def test_decided_may_not_and_cannot() -> None:
    assert advice(9.0).further == 0.0
    assert advice(9.0).conformity.decision == "fit"
    may_not = advice(10.1)
    assert (may_not.verdict, may_not.further) == ("may not decide", math.inf)
    assert max(by_formula(0.0, m) for m in range(1, 500)) <= may_not.most_chance + 0.01 < 0.95
    cannot = advice(10.1, glass=3.0)
    assert (cannot.verdict, cannot.further, cannot.floor) == ("cannot decide", math.inf, 3.0)
    assert cannot.flags == ()
    assert "no number of further replicates can decide" in str(cannot)


def test_zones_are_what_the_floor_alone_leaves_undecided() -> None:
    found = advice(10.0, glass=0.5)
    ((low, high),) = found.zones
    assert (low, high) == pytest.approx((10.0 - 1.6448536 * 0.5, 10.0 + 1.6448536 * 0.5), rel=1e-6)


@settings(max_examples=25)
@given(lower=st.floats(9.6, 10.4), shift=st.floats(-5.0, 5.0), scale=st.floats(0.1, 10.0))
def test_the_advice_knows_no_origin_and_no_unit(*, lower: float, shift: float, scale: float) -> None:
    a = outlook_of(result(TITRES), lower=lower, futures=256)
    moved = [scale * (titre + shift) for titre in TITRES]
    b = outlook_of(result(moved, scale * 0.1), lower=scale * (lower + shift), futures=256)
    assert a.most_chance == pytest.approx(b.most_chance, abs=0.01)


def test_refusals() -> None:
    with pytest.raises(DomainError, match="chance of a decision"):
        advice(10.0, probability=1.0)
    with pytest.raises(DataError, match="no specification limit"):
        outlook_of(result(TITRES))


def test_where_all_is_scatter_there_is_no_floor() -> None:
    found = outlook_of(result(TITRES, 0.0), lower=9.9)
    assert (found.floor, found.most_chance) == (0.0, 1.0)
    assert found.zones == (Limits(9.9, 9.9),)
