"""What rows make of observations, each against a number that was worked out by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from assay.checks.evaluate import answer, outcome, result_of
from assay.checks.readings import covariance_of_means, readings
from assay.checks.rows import Check, read_checks

PLAIN = replace(next(check for check in read_checks() if check.id == "gum-h-2-R"), unit="1", steps=[], inputs={})


def row(steps: Sequence[dict[str, Any]], inputs: Mapping[str, Any], **facts: Any) -> Check:  # noqa: ANN401  (fields of a row)
    return replace(PLAIN, steps=list(steps), inputs=dict(inputs), **facts)


# ----------------------------------------------------------------------------------------------------------- readings
def test_readings_are_the_printed_decimals() -> None:
    assert sum(readings("0.1 0.2")) == Fraction(3, 10)
    assert readings(["1e-3"]) == [Fraction(1, 1000)]


def test_a_rule_repeats_its_pair() -> None:
    assert readings({"first": "2", "pair": ["1", "3"], "times": 2}) == [2, 1, 3, 1, 3]


def test_covariance_of_means_by_hand() -> None:
    # Deviations -1, 0, 1 and 1, -2, 1: sums of products 2, 0 and 6, over n(n - 1) = 6.
    sets = [[Fraction(x) for x in (1, 2, 3)], [Fraction(x) for x in (5, 2, 5)]]
    assert covariance_of_means(sets) == ((2 / 6, 0.0), (0.0, 1.0))


# -------------------------------------------------------------------------------------------------------------- steps
def test_the_mean_of_observations_has_s_over_root_n() -> None:
    check = row([{"observed": "@x"}], {"x": "1 2 3 6"})
    # s² = (4 + 1 + 0 + 9)/3
    assert answer(check) == 3.0
    assert answer(replace(check, answer="u")) == pytest.approx(math.sqrt(14.0 / 3.0 / 4.0), rel=1e-15)
    assert answer(replace(check, answer="s")) == pytest.approx(math.sqrt(14.0 / 3.0), rel=1e-15)
    assert answer(replace(check, answer="dof")) == 3.0


def test_scatter_and_pooled_scatter() -> None:
    assert answer(row([{"scatter": "@x"}], {"x": "1 2 3 6"})) == pytest.approx(math.sqrt(14.0 / 3.0), rel=1e-15)
    assert answer(row([{"pooled": "@s"}], {"s": "3 4"})) == pytest.approx(math.sqrt(12.5), rel=1e-15)


def test_quantities_read_together_keep_their_covariance_and_freedom() -> None:
    inputs = {"both": {"a": "1 2 3", "b": "3 2 1"}}
    steps = [{"together": "@both"}, {"model": "a + b"}]
    assert answer(row(steps, inputs)) == 4.0
    assert answer(row(steps, inputs, answer="u")) == pytest.approx(0.0, abs=1e-12)
    assert answer(row(steps[:1], inputs, answer="correlation", of=["a", "b"])) == pytest.approx(-1.0, rel=1e-12)
    assert answer(row([*steps[:1], {"model": "a"}], inputs, answer="dof")) == 2.0


def test_a_model_of_each_set_is_worked_out_before_the_mean() -> None:
    inputs = {"both": {"a": "1 3", "b": "1 3"}}
    # The mean of 1 and 9, not the product of the means.
    assert answer(row([{"together": "@both", "each": {"ab": "a * b"}}], inputs)) == 5.0


@pytest.mark.parametrize("stated", [{"r": [["0.5"]]}, {"covariance": [["0.01"]]}])
def test_a_stated_correlation_enters_u(stated: dict[str, Any]) -> None:
    inputs = {"a": {"value": "1", "u": "0.1"}, "b": {"value": "2", "u": "0.2"}}
    check = row([{"correlated": ["@a", "@b"], **stated}, {"model": "a + b"}], inputs, answer="u")
    assert answer(check) == pytest.approx(math.sqrt(0.01 + 0.04 + 2.0 * 0.01), rel=1e-12)
    assert answer(replace(check, steps=check.steps[1:])) == pytest.approx(math.sqrt(0.05), rel=1e-12)


LINE = {"x": "21 22 23", "y": "1 2 2"}


def test_a_line_and_what_is_read_about_it() -> None:
    # Through (1, 1), (2, 2), (3, 2): slope 1/2, intercept 2/3, residuals -1/6, 1/3, -1/6, so s² = 1/6.
    steps = [{"line": "@x", "ordinates": "@y", "origin": "20"}]
    assert answer(row(steps, LINE)) == 0.5
    assert answer(row([*steps, {"model": "intercept"}], LINE)) == pytest.approx(2.0 / 3.0, rel=1e-15)
    assert answer(row([*steps, {"model": "residual_s"}], LINE)) == pytest.approx(math.sqrt(1.0 / 6.0), rel=1e-15)
    assert answer(row(steps, LINE, answer="u")) == pytest.approx(math.sqrt(1.0 / 12.0), rel=1e-15)
    about = [*steps, {"name": "y0", "about_line": "@y0"}]
    read = result_of(row(about, {**LINE, "y0": "1 1.5"}))
    assert (read.value, read.dof) == (1.25, 1.0)
    assert read.u == pytest.approx(math.sqrt(1.0 / 12.0), rel=1e-15)


def test_a_mirrored_line_goes_through_zero() -> None:
    steps = [{"line": "@x", "ordinates": "@y", "origin": "20", "mirrored": True}]
    # Σxy/Σx² = 11/14; residuals about it 3/14, 6/14, -5/14, and two degrees of freedom.
    s = math.sqrt((9.0 + 36.0 + 25.0) / 14.0**2 / 2.0)
    assert answer(row(steps, LINE)) == pytest.approx(11.0 / 14.0, rel=1e-15)
    assert answer(row([*steps, {"model": "intercept"}], LINE)) == 0.0
    assert answer(row([*steps, {"model": "residual_s"}], LINE)) == pytest.approx(s, rel=1e-15)
    assert answer(row([*steps, {"model": "slope * 2 ** 0.5"}], LINE, answer="u")) == pytest.approx(
        s / math.sqrt(14.0), rel=1e-14
    )


# ------------------------------------------------------------------------------------------------------------- inputs
@pytest.mark.parametrize(
    ("given", "u", "dof"),
    [
        ({"value": "1", "s": "0.6", "n": 9}, 0.2, 8.0),
        ({"value": "1", "half_width": "0.3", "dof": 5}, 0.3 / math.sqrt(3.0), 5.0),
        ({"value": "1", "half_width": "0.3", "shape": "arcsine"}, 0.3 / math.sqrt(2.0), math.inf),
        ({"value": "1", "u": "0.1", "shape": "t", "parameters": [3]}, 0.1, math.inf),
    ],
)
def test_an_input_is_what_is_said_of_it(given: dict[str, Any], u: float, dof: float) -> None:
    found = result_of(row([{"model": "x"}], {"x": given}))
    assert found.u == pytest.approx(u, rel=1e-12)
    assert found.dof == dof


# ------------------------------------------------------------------------------------------------------------ answers
X = {"x": {"value": "10", "u": "2"}}


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"answer": "U", "k": 3.0}, 6.0),
        ({"answer": "U", "level": 0.6826894921}, 2.0),
        ({"answer": "low", "k": 2.0}, 6.0),
        ({"answer": "high", "k": 2.0}, 14.0),
        ({"answer": "variance", "unit": "1²"}, 4.0),
        ({"answer": "coverage factor", "level": 0.99}, 2.5758293035),
    ],
)
def test_answers_by_hand(facts: dict[str, Any], expected: float) -> None:
    assert answer(row([{"model": "x"}], X, **facts)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("of", "expected"),
    [
        ("sampled value", 10.0),
        ("sampled u", 2.0),
        ("sampled low", 10.0 - 3.919928),
        ("sampled high", 10.0 + 3.919928),
        ("sampled U", 3.919928),
        ("shortest low", 10.0 - 3.919928),
        ("shortest high", 10.0 + 3.919928),
    ],
)
def test_sampled_answers_of_a_normal(of: str, expected: float) -> None:
    found = outcome(row([{"model": "x"}], X, answer=of))
    assert 0.0 < found.run_error < 0.02 * 2.0  # two per cent of u: else nothing would be compared
    assert found.ours == pytest.approx(expected, abs=3.0 * found.run_error)


# ------------------------------------------------------------------------------------------------------------- tables
def test_a_cell_of_a_table_is_a_row() -> None:
    checks = {check.id: check for check in read_checks() if check.kind == "student_t"}
    assert len(checks) == 9 * 5 + 15 * 6
    two_sided, one_sided = checks["gum-g-2-10-0.95"], checks["handbook-t-10-0.025"]
    assert (two_sided.printed, one_sided.printed) == ("2.23", "2.228")
    assert two_sided.level == pytest.approx(one_sided.level, rel=1e-12)
    wrong = [check.id for check in checks.values() if check.disagrees]
    assert wrong == [f"handbook-t-{dof}-0.001" for dof in (1, 7, 8, 9, 10)]
