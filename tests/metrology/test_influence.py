"""Influences and joints: what is accepted as a fact, and when two ids are the same thing."""

from __future__ import annotations

import dataclasses
import math
import pickle
from typing import Any

import pytest

from assay.errors import DataError, DomainError
from assay.metrology.identity import fresh_id, path_part, same_facts
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

FACTS: dict[str, Any] = {"id": "lot/x/purity", "label": "purity", "value": 0.9995, "u": 0.0003}


@pytest.mark.parametrize(
    ("wrong", "problem"),
    [
        ({"value": math.nan}, "finite value"),
        ({"value": math.inf}, "finite value"),
        ({"u": math.nan}, "finite and not negative"),
        ({"u": math.inf}, "finite and not negative"),
        ({"u": -1e-9}, "finite and not negative"),
        ({"dof": 0.5}, "1 or more"),
        ({"dof": math.nan}, "1 or more"),
        ({"dof": -math.inf}, "1 or more"),
    ],
)
def test_impossible_numbers_are_refused_by_id(wrong: dict[str, float], problem: str) -> None:
    with pytest.raises(DomainError, match=problem) as caught:
        Influence(**{**FACTS, **wrong})
    assert "lot/x/purity" in caught.value.argument


def test_unknown_shape_is_refused_with_the_nearest() -> None:
    with pytest.raises(DataError, match="'rectangular'"):
        Influence(**FACTS, shape="rectanglar")


@pytest.mark.parametrize(("shape", "divisor"), [("rectangular", math.sqrt(3.0)), ("triangular", math.sqrt(6.0))])
def test_a_half_width_becomes_u(shape: str, divisor: float) -> None:
    # JCGM 100:2008, 4.3.7 and 4.3.9.
    within = Influence.within("tolerance", label="t", half_width=0.06, shape=shape)
    assert within.u == pytest.approx(0.06 / divisor, rel=1e-15)
    assert (within.shape, within.dof, within.kind) == (shape, math.inf, "B")


@pytest.mark.parametrize("half_width", [-0.1, math.nan, math.inf])
def test_impossible_half_widths_are_refused(half_width: float) -> None:
    with pytest.raises(DomainError, match="half-width"):
        Influence.within("tolerance", label="t", half_width=half_width)


def test_a_normal_shape_has_no_half_width() -> None:
    with pytest.raises(DataError, match="State u"):
        Influence.within("tolerance", label="t", half_width=0.1, shape="normal")


def test_facts_are_value_u_shape_and_dof_but_no_words() -> None:
    known = Influence(**FACTS)
    same_facts(known, Influence(**{**FACTS, "label": "another word", "source": "elsewhere"}))
    for wrong in ({"value": 0.9996}, {"u": 0.0004}, {"shape": "rectangular"}, {"dof": 9.0}):
        with pytest.raises(DataError) as caught:
            same_facts(known, Influence(**{**FACTS, **wrong}))
        message = str(caught.value)
        assert "lot/x/purity" in message
        assert "value 0.9995, u 0.0003, normal, inf degrees of freedom" in message
        assert caught.value.remedy


def test_nothing_can_be_changed_and_all_can_be_pickled() -> None:
    influence = Influence(**FACTS)
    with pytest.raises(dataclasses.FrozenInstanceError):
        influence.u = 0.0  # type: ignore[misc]
    assert pickle.loads(pickle.dumps(influence)) == influence  # noqa: S301  (made on this line)


def test_fresh_ids_never_repeat() -> None:
    made = {fresh_id("burette") for _ in range(1000)}
    assert len(made) == 1000
    assert all(id_.startswith("burette/unnamed-") for id_ in made)


@pytest.mark.parametrize("text", ["", "  ", "a/b", "a\nb"])
def test_a_name_that_cannot_be_part_of_a_path_is_refused(text: str) -> None:
    with pytest.raises(DataError, match="without a slash"):
        path_part(text, argument="name")


def test_a_name_loses_its_margins_only() -> None:
    assert path_part("  B 1, old ", argument="name") == "B 1, old"


# --------------------------------------------------------------------------------------------------------------- joint
LINE: dict[str, Any] = {
    "id": "line",
    "label": "line",
    "member_ids": ("line/slope", "line/intercept"),
    "values": (2.0, 1.0),
    "covariance": ((0.04, -0.03), (-0.03, 0.09)),
    "dof": 4.0,
}


def test_members_carry_the_facts_of_the_joint() -> None:
    slope, intercept = Joint(**LINE).members()
    assert (slope.id, slope.value, slope.u, slope.dof) == ("line/slope", 2.0, pytest.approx(0.2), 4.0)
    assert (intercept.label, intercept.u) == ("line, intercept", pytest.approx(0.3))
    assert Joint(**LINE).members(labels=("b", "a"))[0].label == "b"


@pytest.mark.parametrize(
    "wrong",
    [
        {"values": (1.0,)},
        {"covariance": ((0.04, 0.0),)},
        {"covariance": ((0.04,), (0.0, 0.09))},
        {"shape": "triangular"},
        {"values": (math.nan, 1.0)},
        {"covariance": ((math.nan, 0.0), (0.0, 0.09))},
        {"covariance": ((-0.04, 0.0), (0.0, 0.09))},
        {"covariance": ((0.04, 0.01), (0.02, 0.09))},  # not symmetric
        {"covariance": ((0.04, 0.07), (0.07, 0.09))},  # a correlation above 1
        {"dof": 0.0},
        {"dof": math.nan},
        {"member_ids": ("line/slope", "line/slope")},
    ],
)
def test_impossible_joints_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(DomainError, match="line"):
        Joint(**{**LINE, **wrong})


def test_a_covariance_that_is_singular_is_possible() -> None:
    joint = Joint(**{**LINE, "covariance": ((0.04, 0.06), (0.06, 0.09))})  # correlation exactly 1
    assert [member.u for member in joint.members()] == pytest.approx([0.2, 0.3])


def test_members_of_two_joints_are_not_the_same() -> None:
    with pytest.raises(DataError, match="line/slope"):
        same_facts(Joint(**LINE).members()[0], Joint(**{**LINE, "covariance": ((0.04, 0.0), (0.0, 0.09))}).members()[0])
