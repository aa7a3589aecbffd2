"""The tape: every rule is the derivative it claims to be, and nothing leaves the record unnoticed."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.kernels.value import Value
from assay.metrology.rules import RULES
from assay.metrology.tape import Recorded, gradient, primitive, record

# Where a function has a value and a derivative; any other is tried from -3 to 3.
ANYWHERE = (-3.0, 3.0)
DOMAINS = {
    "log": (0.05, 10.0),
    "log10": (0.05, 10.0),
    "log2": (0.05, 10.0),
    "sqrt": (0.05, 10.0),
    "cbrt": (0.05, 10.0),
    "log1p": (-0.9, 10.0),
    "reciprocal": (0.1, 10.0),
    "arcsin": (-0.9, 0.9),
    "arccos": (-0.9, 0.9),
    "tan": (-1.2, 1.2),
    "divide": (0.1, 10.0),
    "hypot": (0.1, 10.0),
    "arctan2": (0.1, 10.0),
    "power": (0.1, 3.0),
    "absolute": (0.01, 3.0),
    "fabs": (0.01, 3.0),
    "arccosh": (1.1, 10.0),
    "arctanh": (-0.9, 0.9),
}


def central_difference(function: Callable[..., Any], point: list[float], place: int) -> float:
    """Return the derivative by two central differences, extrapolated to a step of zero (error of fourth order)."""
    step = 1e-3

    def difference(h: float) -> float:
        ahead, behind = list(point), list(point)
        ahead[place] += h
        behind[place] -= h
        return float(function(*ahead) - function(*behind)) / (2.0 * h)

    return (4.0 * difference(step / 2.0) - difference(step)) / 3.0


@pytest.mark.parametrize("name", sorted({*RULES, "power", "float_power"}))
@given(data=st.data())
def test_each_rule_is_the_derivative(name: str, data: st.DataObject) -> None:
    function = getattr(np, name)
    low, high = DOMAINS.get(name.removeprefix("float_"), ANYWHERE)
    point = [data.draw(st.floats(low, high)) for _ in range(function.nin)]
    if name in {"absolute", "fabs"} and data.draw(st.booleans()):
        point = [-point[0]]
    value, partials = gradient(function, point, {})
    assert value == pytest.approx(function(*point), rel=1e-15)  # numpy and Python round a power each in its own way
    for place in range(function.nin):
        expected = central_difference(function, point, place)
        # The extrapolated difference errs by about f⁗·h⁴/120: 1e-4 where log or 1/x is steepest, far less elsewhere.
        assert partials[place] == pytest.approx(expected, rel=2e-4, abs=1e-7)


@pytest.mark.parametrize(
    "function",
    [operator.add, operator.sub, operator.mul, operator.truediv, operator.pow],
)
@given(x=st.floats(0.2, 3.0), y=st.floats(0.2, 3.0))
def test_operators_with_the_record_on_either_side(function: Callable[..., Any], x: float, y: float) -> None:
    both = gradient(function, [x, y], {})[1]
    left = gradient(lambda a: function(a, y), [x], {})[1]
    right = gradient(lambda b: function(x, b), [y], {})[1]
    assert (left[0], right[0]) == pytest.approx((both[0], both[1]), rel=1e-15)
    assert both[0] == pytest.approx(central_difference(function, [x, y], 0), rel=1e-7, abs=1e-8)
    assert both[1] == pytest.approx(central_difference(function, [x, y], 1), rel=1e-7, abs=1e-8)


@pytest.mark.parametrize(
    ("base", "exponent", "slope"),
    [(-2.0, 3, 12.0), (-2.0, 2.0, -4.0), (0.0, 2, 0.0), (0.0, 1, 1.0), (0.0, 0, 0.0), (2.0, 0, 0.0), (-2.0, -1, -0.25)],
)
def test_whole_powers_of_any_base(base: float, exponent: float, slope: float) -> None:
    value, partials = gradient(lambda x: x**exponent, [base], {})
    assert (value, partials[0]) == (base**exponent, slope)


def test_a_value_used_many_times_adds_its_slopes() -> None:
    # f = x·y + sin(x)·x, by hand: f_x = y + cos(x)·x + sin(x), f_y = x.
    x, y = 0.7, 2.5
    value, partials = gradient(lambda a, b: a * b + np.sin(a) * a, [x, y], {})
    assert value == x * y + math.sin(x) * x
    assert partials == pytest.approx({0: y + math.cos(x) * x + math.sin(x), 1: x}, rel=1e-15)


def test_a_long_chain_needs_no_recursion() -> None:
    def doubled_many_times(x: Value) -> Value:
        for _ in range(10_000):
            x = x + 1.0
        return x

    assert gradient(doubled_many_times, [1.0], {}) == (10_001.0, {0: 1.0})


def test_arrays_give_the_slope_of_each_element() -> None:
    x = np.array([0.5, 1.0, 2.0])
    value, partials = gradient(lambda a, k: np.log(a) * k, [x], {"k": 3.0})
    np.testing.assert_allclose(value, 3.0 * np.log(x))
    np.testing.assert_allclose(partials[0], 3.0 / x)
    np.testing.assert_allclose(partials["k"], np.log(x))


def test_an_argument_that_is_not_used_has_slope_zero() -> None:
    assert gradient(lambda x, _: x * 1.0, [2.0, 3.0], {})[1] == {0: 1.0, 1: 0.0}
    assert gradient(lambda *_: 7.0, [2.0, 3.0], {}) == (7.0, {0: 0.0, 1: 0.0})


def test_whole_numbers_and_tuples_pass_through() -> None:
    seen: list[object] = []

    def function(x: Value, count: int, *, counts: tuple[int, ...]) -> Value:
        seen.extend([count, counts])
        return x * count * sum(counts)

    assert gradient(function, [2.0, 3], {"counts": (1, 2)}) == (18.0, {0: 9.0})
    assert seen == [3, (1, 2)]


def in_place(x: Value) -> Value:
    x += 1.0
    x *= x
    return x


def test_in_place_arithmetic_is_recorded() -> None:
    assert gradient(in_place, [2.0], {}) == (9.0, {0: 6.0})  # (x + 1)², slope 2 (x + 1)


def test_every_rule_is_a_function_of_numpy_with_as_many_slopes_as_operands() -> None:
    for name, slopes in RULES.items():
        function = getattr(np, name)
        assert isinstance(function, np.ufunc)
        assert function.nout == 1
        with np.errstate(all="ignore"):  # some have no slope there
            assert len(slopes(1.5, *[0.5] * function.nin)) == function.nin


@pytest.mark.parametrize("name", sorted({*RULES, "power"}))
def test_a_list_is_recorded_element_by_element(name: str) -> None:
    """A list of recorded values is an array of objects to numpy, which asks each of them for the operation."""
    function = getattr(np, name)
    low, high = DOMAINS.get(name, ANYWHERE)
    points = [low + share * (high - low) for share in (0.3, 0.45, 0.6, 0.75)][: 2 * function.nin]

    def of_lists(*values: Value) -> Value:
        return (
            sum(function(*(np.array(values[k::2]) for k in range(2))))
            if function.nin == 2
            else sum(function(np.array(values)))
        )

    value, partials = gradient(of_lists, points, {})
    assert value == pytest.approx(float(of_lists(*points)), rel=1e-14)
    for place in range(len(points)):
        expected = central_difference(of_lists, points, place)
        assert partials[place] == pytest.approx(expected, rel=2e-4, abs=1e-7)


@given(x=st.floats(0.2, 3.0), y=st.floats(0.2, 3.0))
def test_a_primitive_is_one_operation_with_the_slopes_it_declares(x: float, y: float) -> None:
    found = primitive(lambda a, b: a * np.log(b), lambda a, b: (np.log(b), a / b), name="product_with_log")
    assert found(x, y) == x * np.log(y)
    both = gradient(lambda a, b: 2.0 * found(a, b), [x, y], {})[1]
    assert both == pytest.approx({0: 2.0 * math.log(y), 1: 2.0 * x / y}, rel=1e-14, abs=1e-14)
    assert gradient(lambda b: found(x, b), [y], {})[1] == pytest.approx({0: x / y}, rel=1e-15)


def test_the_record_keeps_every_operand_in_its_place() -> None:
    result, leaves = record(lambda a, b: 3.0 - a / b, [2.0, 5.0], {})
    three, ratio = result.operands
    assert (result.operation, three, ratio.operation) == ("subtract", 3.0, "divide")
    assert ratio.operands[0] is leaves[0]
    assert ratio.operands[1] is leaves[1]
    assert leaves[0].operands == ()


def test_a_recorded_value_can_be_looked_at() -> None:
    """Someone who puts a print into a function sees a number, not an error."""
    seen: list[str] = []
    gradient(lambda x: (seen.append(f"{x}"), 2.0 * x)[1], [1.5], {})
    assert seen == [f"<{Recorded.__name__} 1.5>"]
