"""Plans fixed beforehand: what each look decides and states, what is refused, and advice about a strength."""

from __future__ import annotations

import math

import pytest
from scipy import stats

import assay
from assay.errors import BasisError, DataError, DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.looks import share_missing
from assay.metrology.replicates import MethodScatter, mean_of, scatter_of
from assay.titration.deciding import titres_to_decide
from assay.titration.stopping import StoppingPlan

TITRES = [10.1, 9.9, 10.3, 10.2, 10.0, 9.8, 10.4, 10.1]
LIMIT = 9.8


def result(titres: list[float], *, method: MethodScatter | None = None) -> Estimate:
    exact = [Estimate.exactly(titre, name="value", label="titre") for titre in titres]
    return mean_of(exact, scatter_of(titres, method=method), record="r", name="replicate_mean", label="mean")


def test_each_look_decides_at_its_part_and_the_end_states_the_whole() -> None:
    plan = StoppingPlan(looks=(3, 5, 8), lower=LIMIT)
    assert (plan.next_look, plan.stopped, plan.decision) == (3, False, "undecided")
    first = plan.look(result(TITRES[:3]))
    # 10.1 with s = 0.2 of three: 0.3 above the limit, and t at 1.67 % and 2 degrees of freedom is 5.33.
    assert 0.2 / math.sqrt(3.0) * stats.t.isf(0.05 / 3.0, 2) > 0.3
    assert (first.decision, first.next_look, plan.looked) == ("undecided", 5, ())
    second = first.look(result(TITRES[:5]))
    # 10.1 with s = 0.158 of five: t at 1.67 % and 4 degrees of freedom.
    s = math.sqrt(0.1 / 4.0)
    assert s / math.sqrt(5.0) * stats.t.isf(0.05 / 3.0, 4) < 0.3
    assert (second.decision, second.stopped, second.next_look) == ("fit", True, 0)
    half = s / math.sqrt(5.0) * stats.t.isf(0.025 / 3.0, 4)
    assert second.interval == pytest.approx((10.1 - half, 10.1 + half, 0.95), rel=1e-9)
    assert second.looked[1].interval.level == pytest.approx(1.0 - 0.05 / 3.0)
    assert "not needed" in str(second)


def test_the_last_look_stops_whatever_it_says() -> None:
    plan = StoppingPlan(looks=(3, 4), lower=10.05).look(result(TITRES[:3])).look(result(TITRES[:4]))
    assert (plan.stopped, plan.decision) == (True, "undecided")
    with pytest.raises(DataError, match="has stopped"):
        plan.look(result(TITRES[:5]))


def test_a_plan_that_has_begun_is_not_changed() -> None:
    plan = StoppingPlan(looks=(3, 5), lower=LIMIT)
    assert plan.changed(looks=(4, 6), risk=0.01).looks == (4, 6)
    with pytest.raises(DataError, match="has begun"):
        plan.look(result(TITRES[:3])).changed(looks=(3, 8))
    with pytest.raises(DataError, match="no such part") as caught:
        plan.changed(look=(3, 8))
    assert "looks" in str(caught.value)


def test_other_numbers_of_titres_and_early_statements_are_refused() -> None:
    plan = StoppingPlan(looks=(3, 5), lower=LIMIT)
    with pytest.raises(DataError, match="so many titres"):
        plan.look(result(TITRES[:4]))
    with pytest.raises(DataError, match="nothing is stated yet"):
        _ = plan.look(result(TITRES[:3])).interval


def test_a_titre_left_out_after_it_was_looked_at_is_flagged() -> None:
    plan = StoppingPlan(looks=(3, 5), lower=LIMIT).look(result(TITRES[:3]))
    assert plan.flags == ()
    assert plan.look(result(TITRES[:5])).flags == ()
    chosen = plan.look(result(TITRES[1:6]))
    assert [flag.code for flag in chosen.flags] == ["earlier-titres-missing"]
    # The same reading twice counts twice.
    twice = StoppingPlan(looks=(3, 4), lower=10.0).look(result([10.0, 10.0, 10.1]))
    assert twice.look(result([10.0, 10.1, 10.2, 10.3])).flags


def test_an_exact_split_is_for_an_s_of_the_titres() -> None:
    plan = StoppingPlan(looks=(3, 5), lower=LIMIT, split="exact for t")
    assert 0.025 < plan.risk_at_each < 0.05
    assert share_missing((3, 5), 1.0 - plan.level_at_each) == pytest.approx(0.05, abs=1e-4)
    known = plan.look(result(TITRES[:3], method=MethodScatter(s=0.2)))
    assert [flag.code for flag in known.flags] == ["split-not-for-this-scatter"]


@pytest.mark.parametrize(
    ("wrong", "error", "told"),
    [
        ({"looks": (3, 3)}, DomainError, "each larger"),
        ({"looks": (1, 3)}, DomainError, "each larger"),
        ({"looks": ()}, DomainError, "each larger"),
        ({"looks": (3, 5.5)}, DomainError, "each larger"),
        ({"looks": (3, 60)}, DomainError, "each larger"),
        ({"lower": None}, DataError, "against which limits"),
        ({"risk": 0.6}, DomainError, "risk"),
        ({"level": 95.0}, DomainError, "level"),
        ({"split": "pocock"}, DataError, "no such split"),
    ],
)
def test_refusals(wrong: dict[str, object], error: type[Exception], told: str) -> None:
    with pytest.raises(error, match=told):
        StoppingPlan(**{"looks": (3, 5), "lower": LIMIT, **wrong})


def test_a_strength_is_looked_at_and_advised_on_by_the_titres_of_its_sample() -> None:
    drum = assay.run_demo("drum").strengths["drum 7"]
    plan = StoppingPlan(looks=(3, 5), lower="10 % w/v available chlorine").look(drum)
    assert plan.decision == "fit"
    assert len(plan.looked[0].titres) == 3
    found = titres_to_decide(drum, lower="110.6 g/L available chlorine")
    assert "drum 7" in found.of
    assert found.conformity.decision == "undecided"
    assert 0.0 < found.floor < drum.in_basis("g/L available chlorine").u
    other = titres_to_decide(drum, lower="110.6 g/L available chlorine", of="record/2026-11-16 thiosulfate")
    assert "thiosulfate" in other.of
    with pytest.raises(BasisError):
        titres_to_decide(drum, lower="110.6 g/L")
