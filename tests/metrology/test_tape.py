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

from assay.errors import DomainError
from assay.kernels.value import Value
from assay.metrology.tape import _RULES, gradient

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


@pytest.mark.parametrize("name", sorted({*_RULES, "power", "float_power"}))
@given(data=st.data())
def test_each_rule_is_the_derivative(name: str, data: st.DataObject) -> None:
    function = getattr(np, name)
    low, high = DOMAINS.get(name.removeprefix("float_"), ANYWHERE)
    point = [data.draw(st.floats(low, high)) for _ in range(function.nin)]
    if name == "absolute" and data.draw(st.booleans()):
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


@pytest.mark.parametrize("function", [np.sum, np.mean, np.prod])
def test_reductions_over_a_list_are_recorded(function: Callable[..., Any]) -> None:
    by_hand = {np.sum: (1.0, 1.0), np.mean: (0.5, 0.5), np.prod: (3.0, 2.0)}[function]
    assert gradient(lambda x, y: function([x, y]), [2.0, 3.0], {})[1] == dict(enumerate(by_hand))


HOSTILE: dict[str, Callable[..., Any]] = {
    "math function": lambda x, y: math.sqrt(x) + y,
    "math.fsum": lambda x, y: math.fsum([x, y]),
    "math.floor": lambda x, y: math.floor(x) + y,
    "math.trunc": lambda x, y: math.trunc(x) + y,
    "float()": lambda x, y: float(x) * y,
    "int()": lambda x, y: int(x) * y,
    "complex()": lambda x, y: complex(x).real * y,
    "numpy.float64": lambda x, y: np.float64(x) * y,
    "round()": lambda x, y: round(x, 2) * y,
    "format": lambda x, y: float(f"{x:.3f}") * y,
    "if": lambda x, y: 2.0 * x if x else y,
    "and": lambda x, y: x and y,
    "comparison": lambda x, y: x * (x > 1.0) + y,
    "equality": lambda x, y: x if x == 2.0 else y,
    "inequality": lambda x, y: x if y != 2.0 else y,
    "min": min,
    "max": max,
    "sorted": lambda *values: sorted(values)[1],
    "in": lambda x, y: y if x in (1.0, 2.0) else x,
    "np.where": lambda x, y: np.where(x > y, x, y),
    "np.where with a plain condition": lambda x, y: np.where([True], x, y),
    "np.maximum": np.maximum,
    "np.clip": lambda x, y: np.clip(x, 0.0, y),
    "np.max of a list": lambda x, y: np.max([x, y]),
    "np.heaviside": np.heaviside,
    "np.floor": lambda x, y: np.floor(x) * y,
    "np.rint": lambda x, y: np.rint(x) * y,
    "np.sign": lambda x, y: np.sign(x) * y,
    "np.std of a list": lambda x, y: np.std([x, y]),
    "np.sqrt of a list": lambda x, y: np.sqrt([x, y]).sum(),
    "out=": lambda x, y: np.add(x, y, out=x),
    "where=": lambda x, y: np.add(x, y, where=True),
    "ufunc.outer": np.add.outer,
    "np.dot": np.dot,
    "np.interp": lambda x, y: np.interp(x, [0.0, 5.0], [0.0, 1.0]) * y,
    "np.asarray of floats": lambda x, y: np.asarray(x, dtype=float) * y,
    "whole division": operator.floordiv,
    "remainder": operator.mod,
    "divmod": lambda x, y: divmod(x, y)[1],
    "pow with a modulus": lambda x, y: pow(x, 2, y),
    "index": lambda x, y: x[0] * y,
    "iteration": lambda x, y: sum(x) * y,
    "len": lambda x, y: len(x) * y,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_would_lose_the_record_is_refused_with_numpy_as_the_remedy(name: str) -> None:
    with pytest.raises(DomainError, match="cannot be differentiated through") as caught:
        gradient(HOSTILE[name], [1.5, 2.5], {})
    assert "numpy" in caught.value.remedy
    assert "sqrt" in caught.value.remedy
