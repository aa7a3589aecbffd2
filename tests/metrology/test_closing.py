"""Budgets seen from further away: closed lines, groups, and squares that still add up."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import DataError, DomainError
from assay.metrology.budget import Budget
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.sheet.run import run_demo


def number(id_: str, value: float = 2.0, u: float = 0.1, **facts: Any) -> Estimate:  # noqa: ANN401
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, **facts), name="value")


def contributions(budget: Budget) -> dict[str, float]:
    return {line.label: line.contribution for line in budget.lines}


def product(a: Any, b: Any) -> Any:  # noqa: ANN401
    return a * b


def test_a_closed_line_is_without_what_others_share_with_it() -> None:
    # left = a s, right = b s, total = left right, at 2 with u 0.1 each: left has u 0.2 from a and 0.2 from s.
    a, b, shared = number("a"), number("b"), number("s")
    left, right = combine(product, a, shared, label="left"), combine(product, b, shared, label="right")
    total = combine(product, left, right, label="total")
    # total = a b s²: by a 8·0.1, by b 8·0.1, by s 2·8·0.1.
    found = contributions(total.budget(depth=1))
    assert found == pytest.approx({"s": 1.6, "left": 0.8, "right": 0.8})
    lines = {line.label: line for line in total.budget(depth=1).lines}
    assert (lines["left"].value, lines["left"].sensitivity) == pytest.approx((4.0, 4.0))
    assert lines["left"].u == pytest.approx(0.2)
    assert contributions(total.budget(closed=["left"])) == pytest.approx({"s": 1.6, "left": 0.8, "b": 0.8})
    assert contributions(total.budget(closed="left")) == contributions(total.budget(closed=["left"]))


def test_what_also_enters_directly_is_not_hidden_in_a_closed_line() -> None:
    a = number("a")
    doubled = combine(lambda x: 2.0 * x, a, label="doubled")
    total = combine(lambda x, y: x + y, doubled, a, label="total")
    assert contributions(total.budget(depth=1)) == pytest.approx({"a": 0.3})
    assert contributions(total.budget(closed=["doubled"])) == pytest.approx({"a": 0.3})


def test_a_joint_with_members_in_two_lines_stands_alone() -> None:
    joint = Joint(
        id="fit", label="fit", member_ids=("fit/a", "fit/b"), values=(1.0, 2.0),
        covariance=((0.04, -0.01), (-0.01, 0.01)), dof=3.0,
    )  # fmt: skip
    a, b = (Estimate.from_influence(member, name="value") for member in joint.members())
    left = combine(lambda x, y: x + y, a, number("own"), label="left")
    total = combine(lambda x, y: x + y, left, b, label="total")
    found = contributions(total.budget(depth=1))
    assert found == pytest.approx({"fit": math.sqrt(0.03), "left": 0.1})


def test_degrees_of_freedom_of_a_closed_line_are_those_of_what_it_owns() -> None:
    left = combine(product, number("a", dof=3.0), number("b", dof=6.0), label="left")
    total = combine(product, left, number("c"), label="total")
    line = next(line for line in total.budget(depth=1).lines if line.label == "left")
    # By hand: two equal contributions: (1 + 1)² / (1/3 + 1/6) = 8.
    assert line.dof == pytest.approx(8.0)


@given(depth=st.integers(1, 12), demo=st.sampled_from(["drum", "acid", "caustic"]))
def test_squares_add_up_at_every_depth(depth: int, demo: str) -> None:
    result = RESULTS[demo]
    budget = result.budget(depth=depth)
    assert math.hypot(*(line.contribution for line in budget.lines)) == pytest.approx(result.u, rel=1e-12)
    assert math.fsum(line.share for line in budget.lines) == pytest.approx(1.0, rel=1e-12)
    ids = [id_ for line in budget.lines for id_ in line.ids]
    assert sorted(ids) == sorted(result.influences)
    if depth == 12:
        assert {line.ids for line in budget.lines} == {line.ids for line in result.budget().lines}


RESULTS = {demo: next(iter(run_demo(demo).strengths.values())).estimate for demo in ("drum", "acid", "caustic")}


@pytest.mark.parametrize("by", ["instrument", "sort", "kind", "day"])
def test_groups_add_up_and_lose_nothing(by: str) -> None:
    result = RESULTS["drum"]
    budget = result.budget().grouped(by)
    assert math.hypot(*(line.contribution for line in budget.lines)) == pytest.approx(result.u, rel=1e-12)
    assert sorted(id_ for line in budget.lines for id_ in line.ids) == sorted(result.influences)


def test_groups_have_the_names_of_the_bench() -> None:
    budget = RESULTS["drum"].budget()
    assert {"burette B1", "pipette P10", "balance W1"} <= set(contributions(budget.grouped("instrument")))
    assert {"burette", "pipette", "balance"} <= set(contributions(budget.grouped("sort")))
    assert set(contributions(budget.grouped("kind"))) == {"type A", "type B"}
    assert set(contributions(budget.grouped("day"))) == {"2026-11-16", "no day"}


def test_a_closed_line_of_several_instruments_is_put_under_none_of_them() -> None:
    made = combine(product, number("balance/W1/load"), number("flask/F1/volume", kind="A"), label="made up")
    titre = combine(product, number("burette/B1/a"), number("burette/B1/b"), label="titre")
    record = number("record/2026-11-16 x/scatter", kind="A")
    budget = combine(lambda a, b, c: a + b + c, made, titre, record, label="all").budget(closed=["made up", "titre"])
    # Each product has u 0.2 twice.
    both = 0.2 * math.sqrt(2.0)
    apart = {"made up": both, "burette B1": both, "record 2026-11-16 x": 0.1}
    assert contributions(budget.grouped("instrument")) == pytest.approx(apart)
    assert set(contributions(budget.grouped("sort"))) == {"made up", "burette", "record"}
    assert contributions(budget.grouped("kind")) == pytest.approx({"made up": both, "type B": both, "type A": 0.1})
    assert contributions(budget.grouped("day")) == pytest.approx({"no day": 0.4, "2026-11-16": 0.1})


def test_the_group_of_type_a_has_its_degrees_of_freedom() -> None:
    budget = RESULTS["drum"].budget()
    a = [line for line in budget.lines if line.kind == "A"]
    u4 = math.fsum(line.contribution**2 for line in a) ** 2
    by_hand = u4 / math.fsum(line.contribution**4 / line.dof for line in a)
    found = next(line for line in budget.grouped("kind").lines if line.label == "type A")
    assert found.dof == pytest.approx(by_hand, rel=1e-12)


def test_a_contribution_that_cancels_is_shown_as_nothing() -> None:
    # The pipette of the standard and of the sample is the same: it cancels, up to rounding.
    rows = RESULTS["drum"].budget().rows().body
    assert next(row[1] for row in rows if "pipette P25" in row[0]) == "0"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"depth": 0}, "1 or more"),
        ({"depth": 1.5}, "whole number"),
        ({"depth": 1, "closed": ["titrant_concentration"]}, "closed="),
    ],
)
def test_impossible_depths_are_refused(options: dict[str, Any], words: str) -> None:
    with pytest.raises(DomainError, match=words):
        RESULTS["drum"].budget(**options)


def test_unknown_names_are_refused_with_the_nearest() -> None:
    with pytest.raises(DataError, match="titrant_concentration"):
        RESULTS["drum"].budget(closed=["titrant_concentraton"])
    with pytest.raises(DataError, match="instrument"):
        RESULTS["drum"].budget().grouped("instruments")
    with pytest.raises(DataError, match="read from a file"):
        number("a").budget(closed=["titrant_concentration"])


def test_an_input_is_its_own_budget_at_any_depth() -> None:
    assert contributions(number("a").budget(depth=3)) == pytest.approx({"a": 0.1})


def test_expanded_uncertainty_by_k() -> None:
    result = RESULTS["drum"]
    assert result.expanded(k=2.0) == 2.0 * result.u
    with pytest.raises(DomainError, match="k=2"):
        result.expanded(k=-1.0)
