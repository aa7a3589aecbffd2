"""Validation of the linear result: a bend fails it, few replicates do not, and it says to how many digits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assay.errors import DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.saved import Entry, decoded, encoded
from assay.metrology.validation import Validation
from assay.sheet.run import run_sheet


def number(id_: str, value: float, u: float, **facts: object) -> Estimate:
    influence = Influence(id=id_, label=id_.upper(), value=value, u=u, **facts)
    return Estimate.from_influence(influence, name="value")


def codes(validation: Validation) -> list[str]:
    return [flag.code for flag in validation.flags]


@pytest.mark.parametrize("dof", [1.0, 2.0, 5.0, math.inf])
@pytest.mark.parametrize("u", [0.1, 0.3, 0.95])
def test_few_replicates_do_not_fail_it(dof: float, u: float) -> None:
    triplicate = number("titre", 25.0, u, dof=dof)
    found = combine(lambda x, y: x + y, triplicate, number("blank", 0.1, u / 20.0)).validate()
    assert (found.validated, found.flags) == (True, ())
    # The linear side is that of plug-in draws: 1.96 u, not the t of two replicates.
    assert found.linear.high - found.linear.low == pytest.approx(2.0 * 1.959964 * math.hypot(u, u / 20.0), rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(
    us=st.lists(st.floats(0.01, 10.0), min_size=1, max_size=4),
    slopes=st.lists(st.floats(-3.0, 3.0).filter(lambda x: abs(x) > 0.1), min_size=4, max_size=4),
    dof=st.sampled_from([1.0, 2.0, 9.0]),
    seed=st.integers(0, 100),
)
def test_a_straight_formula_of_normal_inputs_is_validated(
    us: list[float], slopes: list[float], dof: float, seed: int
) -> None:
    inputs = [number(f"x{k}", 1.0, u, dof=dof) for k, u in enumerate(us)]
    total = combine(lambda *x: sum(a * v for a, v in zip(slopes, x, strict=False)), *inputs)
    assert total.validate(digits=1, seed=seed).validated


@pytest.mark.parametrize(
    "planted",
    [
        combine(lambda x: x * x, number("x", 0.0, 1.0)),
        combine(lambda x: 1.0 / x, number("x", 1.0, 0.3)),
        combine(np.exp, number("x", 0.0, 0.3)),
        combine(lambda x: x**3, number("x", 1.0, 0.2)),
    ],
    ids=["square at zero", "one over a normal", "exponential", "cube"],
)
def test_a_planted_bend_fails_it(planted: Estimate) -> None:
    found = planted.validate()
    assert not found.validated
    assert "linear-not-validated" in codes(found)
    (flag,) = (flag for flag in found.flags if flag.code == "linear-not-validated")
    assert "2 significant digits" in flag.message
    assert "State the sampled 95 % interval" in flag.message
    assert not flag.blocking


def test_differences_of_a_square_are_those_of_its_closed_form() -> None:
    # x² of a normal x with mean 1 and u 0.2 is 0.04 times a non-central chi-squared with noncentrality 25.
    found = combine(lambda x: x * x, number("x", 1.0, 0.2)).validate()
    exact = [0.04 * stats.ncx2.ppf(p, 1, 25.0) for p in (0.025, 0.975)]
    linear = [1.0 - 1.959964 * 0.4, 1.0 + 1.959964 * 0.4]
    errors = found.monte_carlo.interval_error
    for difference, a, b, error in zip(found.differences, exact, linear, errors, strict=True):
        assert difference == pytest.approx(abs(a - b), abs=4.0 * error + 1e-6)
    assert (found.digits, found.tolerance) == (2, 0.005)  # half a unit of the second digit of 0.40


def test_digits_decide() -> None:
    # x² at 1 with u 0.06: u is 0.12, and the ends are off by k² u(x)² = 0.0138: within 0.05, beyond 0.005.
    square = combine(lambda x: x * x, number("x", 1.0, 0.06))
    assert square.validate(digits=1).validated
    found = square.validate(digits=2)
    assert not found.validated
    assert found.differences[1] == pytest.approx(1.959964**2 * 0.0036, abs=0.001)
    assert "to 2 significant digits" in repr(found)
    assert "to 1 significant digit of u" in str(square.validate(digits=1))


def test_one_input_that_is_not_normal_and_rules_the_result_fails_it() -> None:
    flat = Estimate.from_influence(Influence.within("x", label="x", value=1.0, half_width=0.1), name="value")
    found = flat.validate()  # ends 0.95 × 0.1 = 0.095 sampled and 1.96 × 0.0577 = 0.113 linear from the value
    assert found.differences == pytest.approx((0.0182, 0.0182), abs=0.0005)
    assert codes(found) == ["linear-not-validated"]


def test_too_few_trials_leave_it_undecided() -> None:
    # Ends off by 0.00497 (k² u(x)², u(x) 0.036) where 0.005 is allowed: no reasonable number of trials decides that.
    close = combine(lambda x: x * x, number("x", 2.0, 0.03597))
    found = close.validate(trials=200_000)
    assert codes(found) == ["validation-undecided"]
    assert not found.validated
    assert "more trials" in found.flags[0].message


def test_an_exact_number_is_validated() -> None:
    found = Estimate.exactly(6.0, name="equivalents", label="z").validate()
    assert (found.validated, found.differences, found.tolerance) == (True, (0.0, 0.0), 0.0)


def test_a_reloaded_result_is_sampled_through_its_linear_form_and_says_so() -> None:
    square = combine(lambda x: x * x, number("x", 1.0, 0.2), label="square")
    entry = Entry(kind="estimate", facts={}, estimate=square)
    copy = decoded(encoded({"r": entry}, tables={}), where="r").entries["r"].estimate
    found = copy.validate()
    assert codes(found) == ["formula-unknown"]
    assert "square" in found.flags[0].message
    # What is computed from it afterwards is sampled through its own formula, and its bend shows.
    assert "linear-not-validated" in codes(combine(lambda x: x**3, copy).validate())


def test_same_for_any_number_of_threads() -> None:
    product = combine(lambda x, y: x * y, number("x", 1.0, 0.1), number("y", 1.0, 0.1))
    assert product.validate() == product.validate(threads=3)


def test_demo_strength_is_validated_to_one_digit() -> None:
    found = run_sheet().strengths["drum 7"].estimate.validate(digits=1, threads=2)
    assert (found.validated, found.flags) == (True, ())
    assert found.monte_carlo.few_replicates == "plug-in"


@pytest.mark.parametrize(
    ("options", "argument"), [({"digits": 0}, "digits"), ({"digits": 9}, "digits"), ({"level": 95}, "level")]
)
def test_impossible_options_are_refused(options: dict[str, int], argument: str) -> None:
    with pytest.raises(DomainError) as caught:
        number("x", 1.0, 0.1).validate(**options)
    assert caught.value.argument == argument


def test_too_few_trials_to_settle_at_all_are_refused() -> None:
    with pytest.raises(DomainError) as caught:
        number("x", 1.0, 0.1).validate(trials=1_000)
    assert caught.value.argument == "trials"
