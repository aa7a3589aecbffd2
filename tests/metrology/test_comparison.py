"""Comparison of two results: what they share cancels, is shown, and is never compared with itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.comparison import Comparison, compare
from assay.metrology.covariance import covariance
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.substances.species import HYPOCHLORITE
from assay.substances.strength import Strength


def number(id_: str, value: float, u: float, dof: float = math.inf) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, dof=dof), name="value")


def observed(id_: str, values: list[float]) -> Estimate:
    return Estimate.from_influence(Influence.observed(id_, values, label=id_), name="value")


def two_titres(titrant_u: float) -> Comparison:
    """Return today's and yesterday's result of titres that are known to 0.01 with one titrant of 2.0."""
    titrant = number("titrant", 2.0, titrant_u)
    results = [
        combine(lambda c, v: c * v, titrant, number(label, value, 0.01), label=label, unit="g/L")
        for label, value in (("today", 5.0), ("yesterday", 5.1))
    ]
    return compare(*results)


def test_a_shared_titrant_cancels_as_far_as_it_acts_alike() -> None:
    found = two_titres(titrant_u=0.1)
    # c (V - W) with c = 2.0 ± 0.1 and V - W = -0.1 ± 0.01 √2.
    u = math.hypot(0.1 * 0.1, 2.0 * 0.01 * math.sqrt(2.0))
    assert found.difference.value == pytest.approx(-0.2, rel=1e-12)
    assert found.difference.u == pytest.approx(u, rel=1e-12)
    assert found.zeta == pytest.approx(-0.2 / u)
    assert found.e_n == pytest.approx(-0.2 / (1.959964 * u), rel=1e-6)
    assert not found.compatible
    assert found.probability == pytest.approx(2.0 * stats.norm.sf(0.2 / u))
    assert found.probability_first_above == pytest.approx(stats.norm.sf(0.2 / u))
    # Taken as independent they would agree: the wrong answer.
    assert 0.2 / math.hypot(found.first.u, found.second.u) < 1.0


def test_what_is_shared_is_shown() -> None:
    found = two_titres(titrant_u=0.1)
    (line,) = found.shared
    assert line.label == "titrant"
    assert (line.first, line.second, line.left) == pytest.approx((0.5, 0.51, 0.01))
    assert line.covariance == pytest.approx(0.5 * 0.51)
    shown = str(found)
    for told in ("today against yesterday: not compatible", "titrant", "0.50", "0.51", "0.010", "zeta = -6.67"):
        assert told in shown
    assert repr(found).startswith("<Comparison 'today against yesterday': not compatible, difference (-0.200 ± 0.059)")
    assert "titrant" in found._repr_html_()
    assert "titrant" in found._repr_latex_()
    assert "They share nothing" in str(compare(number("a", 1.0, 0.1), number("b", 1.1, 0.1)))


@given(
    means=st.tuples(st.floats(-5.0, 5.0), st.floats(-5.0, 5.0)),
    sizes=st.tuples(st.integers(2, 8), st.integers(2, 8)),
    seed=st.integers(0, 1000),
)
def test_means_of_replicates_are_compared_as_by_welch(
    means: tuple[float, float], sizes: tuple[int, int], seed: int
) -> None:
    generator = np.random.default_rng(seed)
    a, b = (list(mean + generator.standard_normal(n)) for mean, n in zip(means, sizes, strict=True))
    expected = stats.ttest_ind(a, b, equal_var=False)
    found = compare(observed("a", a), observed("b", b))
    assert found.zeta == pytest.approx(expected.statistic, rel=1e-9)
    assert found.difference.dof == pytest.approx(expected.df, rel=1e-9)
    assert found.probability == pytest.approx(expected.pvalue, rel=1e-8)
    assert found.compatible == (expected.pvalue >= 0.05)


@given(
    slopes=st.lists(st.tuples(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0)), min_size=1, max_size=5),
    own=st.floats(0.1, 2.0),
    correlation=st.floats(-0.9, 0.9),
)
def test_covariances_of_what_is_shared_add_to_that_of_the_results(
    slopes: list[tuple[float, float]], own: float, correlation: float
) -> None:
    joint = Joint(
        id="line",
        label="a fitted line",
        member_ids=("line/a", "line/b"),
        values=(1.0, 2.0),
        covariance=((0.04, correlation * 0.06), (correlation * 0.06, 0.09)),
    )
    members = [Estimate.from_influence(member, name="value") for member in joint.members()]
    inputs = [number(f"x{k}", 1.0, 0.3) for k in range(len(slopes))]
    a, b = (
        combine(
            lambda own, p, q, *xs, side=side: own + p - 2.0 * side * q + sum(s[side] * x for s, x in zip(slopes, xs)),  # noqa: B905
            number(f"own{side}", 10.0 * side, own),
            *members,
            *inputs,
        )
        for side in (0, 1)
    )
    found = compare(a, b)
    assert sum(line.covariance for line in found.shared) == pytest.approx(covariance(a, b), abs=1e-12)
    for line in found.shared:
        apart = line.first**2 + line.second**2 - 2.0 * line.covariance
        assert line.left == pytest.approx(math.sqrt(max(apart, 0.0)), abs=1e-7)
    assert -1.0 <= found.correlation <= 1.0


def test_flags_of_both_are_kept() -> None:
    doubtful = number("a", 1.0, 0.1).flagged(Flag(code="doubtful", message="It is."))
    found = compare(number("b", 1.0, 0.1), doubtful)
    assert [flag.code for flag in found.flags] == ["doubtful"]
    assert "[doubtful]" in repr(found)
    assert "! doubtful: It is." in str(found)


def test_a_difference_of_which_everything_cancels_is_exact() -> None:
    x = number("x", 0.1, 0.03)
    third = combine(lambda v: v / 3.0, x)
    shifted = combine(lambda v: (v + 3.0) / 3.0, x, label="shifted")
    found = compare(shifted, third)
    assert found.difference.u == 0.0
    assert (found.zeta, found.e_n, found.probability, found.probability_first_above) == (math.inf, math.inf, 0.0, 1.0)
    assert not found.compatible
    assert [flag.code for flag in found.flags] == ["no-uncertainty"]
    assert "without uncertainty" in repr(found)


def test_one_result_is_not_compared_with_itself() -> None:
    x = number("x", 0.1, 0.03)
    again = combine(lambda v: (v * 3.0) / 3.0, x)
    for other in (x, number("x", 0.1, 0.03), again):
        with pytest.raises(DataError, match="one and the same"):
            compare(x, other)


def test_what_cannot_be_compared_is_refused() -> None:
    x = number("x", 1.0, 0.1)
    grams = combine(lambda v: v, number("y", 1.0, 0.1), unit="g/L")
    with pytest.raises(DataError, match="in one basis") as refused:
        compare(x, grams)
    assert "1 and g/L" in str(refused.value)
    with pytest.raises(DataError, match="float is not an estimate"):
        compare(x, 1.0)  # type: ignore[arg-type]
    influence = Influence(id="s", label="drum", value=1.5, u=0.01)
    strength = Strength(species=HYPOCHLORITE, estimate=Estimate.from_influence(influence, name="amount_concentration"))
    with pytest.raises(DataError, match="in_basis"):
        compare(strength, strength)  # type: ignore[arg-type]
    with pytest.raises(DomainError, match=r"Write 0.95"):
        compare(x, number("z", 1.0, 0.1), level=95)
