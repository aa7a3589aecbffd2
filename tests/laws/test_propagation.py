"""Laws that hold for every measured number, whatever it was made of."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.saved import Entry, decoded, encoded

VALUES = st.floats(0.5, 5.0)
RELATIVE = st.floats(0.001, 0.05)
DOFS = st.one_of(st.integers(1, 60).map(float), st.just(math.inf))
COUNTER = itertools.count()


@st.composite
def inputs(draw: st.DrawFn, *, least: int = 1, most: int = 5) -> list[Estimate]:
    """Return independent inputs, and at times two that were obtained together."""
    made = []
    for k in range(draw(st.integers(least, most))):
        value = draw(VALUES)
        influence = Influence(id=f"i{k}", label=f"i{k}", value=value, u=value * draw(RELATIVE), dof=draw(DOFS))
        made.append(Estimate.from_influence(influence, name="value"))
    if draw(st.booleans()):
        a, b, r = draw(RELATIVE), draw(RELATIVE), draw(st.floats(-1.0, 1.0))
        joint = Joint(
            id=f"joint {next(COUNTER)}",
            label="joint",
            member_ids=("j0", "j1"),
            values=(draw(VALUES), draw(VALUES)),
            covariance=((a * a, r * a * b), (r * a * b, b * b)),
            dof=draw(DOFS),
        )
        made.extend(Estimate.from_influence(member, name="value") for member in joint.members())
    return made


def covariance_of(results: Sequence[Estimate]) -> np.ndarray:
    """Return the covariance of inputs from their facts alone."""
    found = np.diag([result.u**2 for result in results])
    for i, j in itertools.combinations(range(len(results)), 2):
        first, second = (next(iter(results[k].influences.values())) for k in (i, j))
        if first.joint is not None and first.joint is second.joint:
            found[i, j] = found[j, i] = first.joint.covariance[0][1]
    return found


@given(inputs(), st.data())
def test_a_sum_of_multiples_is_the_quadratic_form(made: list[Estimate], data: st.DataObject) -> None:
    slopes = np.array([data.draw(st.floats(-3.0, 3.0)) for _ in made])
    total = combine(lambda *x: sum(c * v for c, v in zip(slopes.tolist(), x, strict=True)), *made)
    expected = slopes @ covariance_of(made) @ slopes
    assert total.u**2 == pytest.approx(expected, rel=1e-9, abs=1e-16)


@given(inputs())
def test_a_product_adds_relative_uncertainties(made: list[Estimate]) -> None:
    product = combine(lambda *x: math.prod(x), *made)
    values = np.array([result.value for result in made])
    relative = covariance_of(made) / np.outer(values, values)
    assert product.relative_u**2 == pytest.approx(float(relative.sum()), rel=1e-9, abs=1e-16)


@given(inputs())
def test_squares_of_the_budget_add_to_u_squared(made: list[Estimate]) -> None:
    result = combine(lambda *x: sum(x) / x[0] + math.prod(x), *made)
    lines = result.budget().lines
    assert math.fsum(line.contribution**2 for line in lines) == pytest.approx(result.u**2, rel=1e-12)
    assert [line.contribution for line in lines] == sorted((line.contribution for line in lines), reverse=True)
    assert {id_ for line in lines for id_ in line.ids} == set(result.influences)


@given(inputs())
def test_degrees_of_freedom_lie_between_the_least_and_the_sum(made: list[Estimate]) -> None:
    result = combine(lambda *x: math.prod(x), *made)
    dofs = [line.dof for line in result.budget().lines if line.contribution > 0.0]
    # JCGM 100:2008, G.4.1: the effective degrees of freedom are never more than the sum; nor fewer than the least.
    assert min(dofs) * (1.0 - 1e-9) <= result.dof <= sum(dofs) * (1.0 + 1e-9)


@given(inputs(least=2), st.randoms(use_true_random=False))
def test_order_does_not_matter(made: list[Estimate], random: object) -> None:
    shuffled = list(made)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    one, other = (combine(lambda *x: math.prod(x), *order) for order in (made, shuffled))
    assert (other.value, other.u, other.dof) == pytest.approx((one.value, one.u, one.dof), rel=1e-12)


@given(inputs(), st.floats(0.01, 100.0))
def test_a_change_of_unit_changes_nothing_but_the_scale(made: list[Estimate], factor: float) -> None:
    product = combine(lambda *x: math.prod(x), *made)
    scaled = combine(lambda x: factor * x, product)
    assert scaled.u == pytest.approx(factor * product.u, rel=1e-12)
    assert scaled.dof == pytest.approx(product.dof, rel=1e-9)


@given(inputs(least=2))
def test_there_and_back_is_where_it_began(made: list[Estimate]) -> None:
    first, second = made[0], made[1]
    back = combine(lambda p, y: p / y, combine(lambda x, y: x * y, first, second), second)
    assert (back.value, back.u) == pytest.approx((first.value, first.u), rel=1e-9)
    logged = combine(np.exp, combine(np.log, first))
    assert (logged.value, logged.u) == pytest.approx((first.value, first.u), rel=1e-9)


@given(inputs(least=2))
def test_ufloats_agree_with_the_budget(made: list[Estimate]) -> None:
    # Ids last as long as the process, so what is drawn here gets ids of its own.
    run = next(COUNTER)
    own = [
        Estimate.from_influence(Influence(id=f"law {run}/{k}", label="x", value=result.value, u=result.u), name="value")
        for k, result in enumerate(made)
    ]
    by_library = combine(lambda *x: math.prod(x) + x[0] * x[0], *own)
    by_hand = math.prod((x.ufloat for x in own), start=1.0) + own[0].ufloat * own[0].ufloat
    assert by_hand.nominal_value == pytest.approx(by_library.value, rel=1e-12)
    assert by_hand.std_dev == pytest.approx(by_library.u, rel=1e-9)


@given(inputs())
def test_saved_and_reloaded_it_is_the_same_number(made: list[Estimate]) -> None:
    result = combine(lambda *x: math.prod(x), *made)
    entry = Entry(kind="estimate", facts={}, estimate=result)
    copy = decoded(encoded({"r": entry}, tables={}), where="r").entries["r"].estimate
    assert (copy.value, copy.u, copy.dof) == (result.value, result.u, result.dof)
    assert combine(lambda x, y: x - y, result, copy).u == 0.0


@settings(max_examples=15)
@given(inputs())
def test_plug_in_draws_agree_with_the_linear_result_of_a_straight_formula(made: list[Estimate]) -> None:
    total = combine(lambda *x: sum((k + 1.0) * v for k, v in enumerate(x)), *made)
    trials = 20_000
    run = total.monte_carlo(trials=trials, seed=11)
    # A sample standard deviation of normal values errs by 1/√(2 N) of itself; five times that.
    assert run.u == pytest.approx(total.u, rel=5.0 / math.sqrt(2.0 * trials), abs=1e-12)
    assert run.value == pytest.approx(total.value, abs=5.0 * total.u / math.sqrt(trials) + 1e-12)
