"""Functions that users give to `combine`: right by central differences and when sampled, or refused with a remedy."""

from __future__ import annotations

import functools
import math
import operator
from collections.abc import Callable
from math import atan2 as angle
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import DomainError
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.sampling import sampled

A, B = 1.5, 2.5


def measured(name: str, value: float, u: float = 0.05) -> Estimate:
    return Estimate.from_influence(Influence(id=name, label=name, value=value, u=u), name="value")


def central_difference(function: Callable[..., Any], point: list[float], place: int) -> float:
    def difference(step: float) -> float:
        ahead, behind = list(point), list(point)
        ahead[place] += step
        behind[place] -= step
        return float(function(*ahead) - function(*behind)) / (2.0 * step)

    return (4.0 * difference(5e-7) - difference(1e-6)) / 3.0


def in_place(x: Value, y: Value) -> Value:
    x += y
    x *= x
    x -= 1.0
    x /= y
    x **= 2
    return x


def counting() -> Callable[..., Value]:
    calls: list[Value] = []

    def function(x: Value, y: Value) -> Value:
        calls.append(x)
        return x * y + len([1 for _ in calls[:1]])

    return function


def loop(x: Value, y: Value) -> Value:
    total = 0
    for power in range(5):
        total = total + x**power / math.factorial(power)
    return total * y


def swapped_by_name(x: Value, y: Value, *, sign: int = -1) -> Value:
    return x**sign - y ** (2 * sign)


RIGHT: dict[str, Callable[..., Any]] = {
    "in-place arithmetic": in_place,
    "a closure that keeps its arguments": counting(),
    "a loop with whole powers": loop,
    "whole negative powers": swapped_by_name,
    "whole constants": lambda x, y: 3 * x - 7 + 2 * y,
    "division by a near-zero": lambda x, y: 1.0 / (x + y - 3.999),
    "a difference that nearly vanishes": lambda x, y: (x - y + 1.0001) * 1e9,
    "sum of a list": lambda x, y: np.sum([x, y, x]),
    "sum along an axis": lambda x, y: np.sum([x, y], axis=0),
    "mean of a list": lambda x, y: np.mean([x, y, 1.0]),
    "weighted average": lambda x, y: np.average([x, y], weights=[1.0, 3.0]),
    "product of a list": lambda x, y: np.prod([x, y, y]),
    "standard deviation of a list": lambda x, y: np.std([x, y, 7.0], ddof=1),
    "variance of a list": lambda x, y: np.var([x, y, 7.0]),
    "dot of two lists": lambda x, y: np.dot([x, 2.0], [y, x]),
    "matrix product": lambda x, y: np.array([[x, 1.0], [0.0, y]]) @ np.array([y, x]) @ np.array([1.0, 2.0]),
    "norm of a list": lambda x, y: np.linalg.norm([x, y]),
    "root of each in a list": lambda x, y: np.sqrt([x, y]).sum(),
    "list times a result": lambda x, y: (np.array([x, y]) * x / (y * np.array([1.0, x]))).sum(),
    "an array of one number": lambda x, y: np.asarray(x) * y,
    "sum()": lambda x, y: sum([x, y, x * y]),
    "math.prod": lambda x, y: math.prod([x, y, x]),
    "functools.reduce": lambda x, y: functools.reduce(operator.mul, [x, y, x]),
    "complicated constant": lambda x, y: x * float(np.interp(0.3, [0.0, 1.0], [2.0, 4.0])) + y,
    "a constant": lambda _x, _y: 7.0,
    "an argument": lambda _x, y: y,
    "a partial function": functools.partial(swapped_by_name, sign=-2),
    "a function of numpy": np.hypot,
    "an operator": operator.truediv,
}


@pytest.mark.parametrize("name", RIGHT)
def test_right_by_central_differences_and_draw_by_draw(name: str) -> None:
    function = RIGHT[name]
    a, b = measured("a", A, 1e-5), measured("b", B, 1e-5)
    result = combine(function, a, b)
    assert result.value == pytest.approx(float(function(A, B)), rel=1e-14)
    for place, id_ in enumerate("ab"):
        expected = central_difference(function, [A, B], place)
        assert result.sensitivities.get(id_, 0.0) == pytest.approx(expected, rel=1e-6, abs=1e-7)
    (drawn_a, drawn_b, drawn), _ = sampled([a, b, result], trials=200)
    one_by_one = [float(function(x, y)) for x, y in zip(drawn_a.tolist(), drawn_b.tolist(), strict=True)]
    np.testing.assert_allclose(drawn, one_by_one, rtol=1e-9, atol=1e-9)


@given(x=st.floats(-3.0, 3.0), power=st.integers(-4, 6))
def test_whole_powers_of_a_value_of_either_sign(x: float, power: int) -> None:
    if abs(x) < 0.05:
        x += 0.1
    result = combine(lambda v: v**power, measured("x", x, 1e-6))
    assert result.value == pytest.approx(x**power, rel=1e-15)
    assert result.sensitivities["x"] == pytest.approx(power * x ** (power - 1), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("exponent", [2, 2.0, Estimate.exactly(2.0, name="value", label="two")])
def test_a_negative_base_may_have_a_whole_exponent_in_any_form(exponent: Estimate | float) -> None:
    result = combine(lambda x, p: x**p, measured("x", -3.0), exponent)
    assert (result.value, result.sensitivities["x"]) == (9.0, -6.0)


def test_whole_numbers_are_given_as_floats() -> None:
    """One that divides by a whole number, or raises to it, gets no integer arithmetic of numpy."""
    assert combine(lambda x, n: x / n + n**-1, measured("x", 1.0), 4).value == 0.5


def test_a_sampled_argument_is_not_changed_for_others() -> None:
    a, b = measured("a", A), measured("b", B)
    before = combine(lambda x, y: x - y, a, b)
    (alone,), _ = sampled([before], trials=200)
    (_, beside), _ = sampled([combine(in_place, a, b), before], trials=200)
    np.testing.assert_array_equal(alone, beside)


def write_item(x: Value, y: Value) -> Value:
    x[...] = x + y
    return x


def add_out(x: Value, y: Value) -> Value:
    np.add(x, y, out=x)
    return x


def first_answer() -> Callable[..., Value]:
    cache: dict[str, Value] = {}

    def function(x: Value, y: Value) -> Value:
        if "first" not in cache:
            cache["first"] = x * y
        return cache["first"] + x

    function(A, B)  # as it was tried out before
    cache.clear()
    combine(function, measured("p", 3.0), measured("q", 4.0))
    return function


def swallowing(x: Value, y: Value) -> Value:
    try:
        return math.log(x) + y
    except Exception:  # noqa: BLE001  (that is what makes it hostile)
        return 0.0 * y


OTHER = measured("other", 3.0)
BRANCH = "Decide before, on the values"
ROUNDING = "Leave the rounding out"

# What is refused, with words of the remedy that must be told.
HOSTILE: dict[str, tuple[Callable[..., Any], str]] = {
    "math.log": (lambda x, y: math.log(x) + y, "numpy.log in place of math.log"),
    "math.atan2 by another name": (lambda x, y: 2.0 * angle(x, y), "numpy.arctan2 in place of math.atan2"),
    "math.hypot itself": (math.hypot, "numpy.hypot in place of math.hypot"),
    "two of math beside numpy": (
        lambda x, y: math.asin(x / 9.0) * np.exp(math.sqrt(y)),
        "Write numpy.arcsin in place of math.asin. Write numpy.sqrt in place of math.sqrt.",
    ),
    "math.fsum": (lambda x, y: math.fsum([x, y]), "numpy.sum([x, y]) in place of math.fsum"),
    "math.floor": (lambda x, y: math.floor(x) + y, ROUNDING),
    "math.trunc": (lambda x, y: math.trunc(x) + y, ROUNDING),
    "math.isclose": (lambda x, y: x if math.isclose(x, y) else y, BRANCH),
    "an error of math caught": (swallowing, "numpy.log in place of math.log"),
    "float()": (lambda x, y: float(x) * y, "leave float(), int() and complex() out"),
    "int()": (lambda x, y: int(x) * y, "leave float(), int() and complex() out"),
    "complex()": (lambda x, y: complex(x).real * y, "leave float(), int() and complex() out"),
    "numpy.float64": (lambda x, y: np.float64(x) * y, "leave float(), int() and complex() out"),
    "an array of floats": (lambda x, y: np.array([x, y], dtype=float).sum(), "leave float(), int() and complex() out"),
    "round()": (lambda x, y: round(x, 2) * y, ROUNDING),
    "a format": (lambda x, y: float(f"{x:.3f}") * y, "Leave text out"),
    "text": (lambda x, y: float(str(x)) * y, "Leave text out"),
    "if": (lambda x, y: 2.0 * x if x > y else y, BRANCH),
    "if without comparison": (lambda x, y: 2.0 * x if x else y, BRANCH),
    "and": (lambda x, y: x and y, BRANCH),
    "chained comparison": (lambda x, y: x if 0 < x < 1 else y, BRANCH),
    "times a comparison": (lambda x, y: x * (x > 1.0) + y, BRANCH),
    "equality": (lambda x, y: x if x == 1.5 else y, BRANCH),
    "inequality": (lambda x, y: x if y != 2.0 else y, BRANCH),
    "in": (lambda x, y: y if x in (1.0, 2.0) else x, BRANCH),
    "min": (min, BRANCH),
    "max": (lambda x, y: max([x, y, 2.0]), BRANCH),
    "sorted": (lambda *values: sorted(values)[1], BRANCH),
    "numpy.where": (lambda x, y: np.where(x > y, x, y), BRANCH),
    "numpy.where with a plain condition": (lambda x, y: np.where([True], x, y), BRANCH),
    "numpy.maximum": (np.maximum, BRANCH),
    "numpy.clip": (lambda x, y: np.clip(x, 0.0, y), BRANCH),
    "numpy.clip of a list": (lambda x, y: np.clip([x, y], 0.0, 2.0).sum(), BRANCH),
    "numpy.max of a list": (lambda x, y: np.max([x, y]), BRANCH),
    "numpy.median of a list": (lambda x, y: np.median([x, y]), BRANCH),
    "numpy.heaviside": (np.heaviside, BRANCH),
    "numpy.sign": (lambda x, y: np.sign(x) * y, BRANCH),
    "numpy.floor": (lambda x, y: np.floor(x) * y, ROUNDING),
    "numpy.rint": (lambda x, y: np.rint(x) * y, ROUNDING),
    "whole division": (operator.floordiv, ROUNDING),
    "remainder": (operator.mod, ROUNDING),
    "divmod": (lambda x, y: divmod(x, y)[1], ROUNDING),
    "pow with a modulus": (lambda x, y: pow(x, 2, y), ROUNDING),
    "written into": (write_item, "Make a new value instead"),
    "out=": (add_out, "Make a new value instead of writing into one: y = numpy.add(…)"),
    "where=": (lambda x, y: np.add(x, y, where=True), "Write numpy.add without it"),
    "ufunc.outer": (np.add.outer, "give numpy.sum a list"),
    "ufunc.reduce": (lambda x, y: np.add.reduce(x) * y, "give numpy.sum a list"),
    "sum of one": (lambda x, y: np.sum(x) * y, "Give it a list of the results"),
    "mean of one": (lambda x, y: np.mean(x) * y, "Give it a list of the results"),
    "numpy.dot of two results": (np.dot, "Write x * y"),
    "numpy.interp at a result": (lambda x, y: np.interp(x, [0.0, 5.0], [0.0, 1.0]) * y, "y0 + (x - x0)"),
    "numpy.interp between results": (lambda x, y: np.interp(0.5, [0.0, 1.0], [x, y]), "y0 + (x - x0)"),
    "numpy.linalg.solve": (lambda x, y: np.linalg.solve([[x, 1.0], [1.0, y]], [1.0, 2.0])[0], "Write out what"),
    "a function without a rule": (lambda x, y: np.sinc(x) * y, "these functions of numpy: absolute, add, "),
    "index": (lambda x, y: x[0] * y, "leave the index out"),
    "iteration": (lambda x, y: sum(x) * y, "x + y for sum(x)"),
    "len": (lambda x, y: len(x) * y, "leave len() out"),
    "method": (lambda x, y: x.sum() * y, "leave the method out"),
    "a cached value": (first_answer(), "without a cache"),
    "another result in the middle": (lambda x, y: x * OTHER * y, "as an argument"),
    "nothing": (lambda _x, _y: None, "Return one number"),
    "a tuple": (lambda x, y: (x, y), "combine once for each"),
    "a list": (lambda x, _y: [x], "combine once for each"),
    "an array of numbers": (lambda x, y: x * np.array([1.0, 2.0]) * y, "combine once for each"),
    "a comparison of constants": (lambda _x, _y: "1.5", "Return one number"),
    "division by zero": (lambda x, y: x / (y - 2.5), "Check the readings"),
    "root of a negative number": (lambda x, y: (x - y) ** 0.5, "Check the readings"),
    "logarithm of a negative number": (lambda x, y: np.log(x - y), "Check the readings"),
    "a kink": (lambda x, y: np.abs(x - 1.5) * y, "without the kink"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_refused_with_what_to_write_instead(name: str) -> None:
    function, remedy = HOSTILE[name]
    with pytest.raises(DomainError) as caught:
        combine(function, measured("a", A), measured("b", B))
    assert remedy in caught.value.remedy
    assert "Recorded" not in str(caught.value)


def test_an_error_of_the_users_own_is_left_as_it_is() -> None:
    def function(x: Value) -> Value:
        raise ValueError(f"not ready: {x!r}"[:9])

    with pytest.raises(ValueError, match="not ready") as caught:
        combine(function, measured("a", A))
    assert not isinstance(caught.value, DomainError)


def test_a_function_is_called_once() -> None:
    """What it did then is the formula: a dial that it turns moves neither the slope nor a draw."""
    dial = [1.0]

    def function(x: Value) -> Value:
        dial[0] *= 2.0
        return x * dial[0]

    a = measured("a", A)
    result = combine(function, a)
    assert dial == [2.0]
    assert (result.value, result.sensitivities["a"]) == (2.0 * A, 2.0)
    (drawn_a, drawn), _ = sampled([a, result], trials=200)
    np.testing.assert_array_equal(drawn, 2.0 * drawn_a)
