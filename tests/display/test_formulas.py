"""Formulas: as they are written, they mean what they are."""

from __future__ import annotations

import operator
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from assay.display.formulas import ATOM, SUM, Constant, Node, Operand, Piece, latex, operation, text

A, B, C = (Operand(letter) for letter in "abc")
VALUES = {"a": 0.7, "b": 1.9, "c": -0.4}


def name(node: Operand | Constant) -> Piece:
    if isinstance(node, Constant):
        return Piece(f"{node.value:g}", SUM if node.value < 0.0 else ATOM)
    return Piece(str(node.key))


def number(node: Operand | Constant) -> Piece:
    value = node.value if isinstance(node, Constant) else VALUES[str(node.key)]
    return Piece(repr(value), SUM if value < 0.0 else ATOM)


def op(operation_name: str, *operands: Node | float) -> Node:
    return operation(operation_name, [x if not isinstance(x, (int, float)) else Constant(x) for x in operands])


WRITTEN: list[tuple[Node, str, str]] = [
    (op("subtract", A, op("subtract", B, C)), "a - b + c", "a - b + c"),
    (op("subtract", 0.0, op("add", A, 0.0)), "-a", "-a"),
    (op("negative", op("add", A, B)), "-a - b", "-a - b"),
    (op("multiply", op("add", A, B), C), "(a + b) * c", r"\left(a + b\right) \, c"),
    (op("multiply", A, op("negative", B)), "a * (-b)", r"a \, \left(-b\right)"),
    (op("divide", A, op("multiply", B, C)), "a / (b * c)", r"\frac{a}{b \, c}"),
    (op("divide", op("divide", A, B), C), "a / (b * c)", r"\frac{a}{b \, c}"),
    (op("divide", A, op("divide", B, C)), "a * c / b", r"\frac{a \, c}{b}"),
    (op("divide", A, op("add", B, C)), "a / (b + c)", r"\frac{a}{b + c}"),
    (op("reciprocal", A), "1 / a", r"\frac{1}{a}"),
    (op("multiply", 1.0, op("multiply", A, 2.0)), "a * 2", r"a \times 2"),
    (op("add", A, op("multiply", 3, B)), "a + 3 * b", r"a + 3 \, b"),
    (op("power", A, -1), "1 / a", r"\frac{1}{a}"),
    (op("multiply", A, op("power", B, -2.0)), "a / b**2", r"\frac{a}{{b}^{2}}"),
    (op("power", A, 1.0), "a", "a"),
    (op("power", op("negative", A), 2.0), "(-a)**2", r"{\left(-a\right)}^{2}"),
    (op("power", op("power", A, B), C), "(a**b)**c", r"{\left({a}^{b}\right)}^{c}"),
    (op("power", A, op("power", B, C)), "a**(b**c)", r"{a}^{{b}^{c}}"),
    (op("power", 2.0, op("negative", A)), "2**(-a)", "{2}^{-a}"),
    (op("negative", op("square", A)), "-a**2", "-{a}^{2}"),
    (op("add", op("add", A, A), op("add", B, A)), "3 * a + b", r"3 \, a + b"),
    (op("subtract", op("add", A, B), A), "a + b - a", "a + b - a"),
    (op("multiply", op("multiply", A, B), A), "a**2 * b", r"{a}^{2} \, b"),
    (op("divide", A, A), "a / a", r"\frac{a}{a}"),
    (op("log", op("divide", A, B)), "log(a / b)", r"\ln\left(\frac{a}{b}\right)"),
    (op("sqrt", op("add", A, 1.0)), "sqrt(a + 1)", r"\sqrt{a + 1}"),
    (op("absolute", A), "absolute(a)", r"\left|a\right|"),
    (op("table_of_x", A), "table_of_x(a)", r"\mathrm{table\_of\_x}\left(a\right)"),
    (op("arctan2", A, B), "arctan2(a, b)", r"\mathrm{arctan2}\left(a,\, b\right)"),
    (op("add", A, Constant(-2.0)), "a + (-2)", r"a + \left(-2\right)"),
]


@pytest.mark.parametrize(("node", "plain", "typeset"), WRITTEN)
def test_brackets_stand_where_they_are_needed_and_only_there(node: Node, plain: str, typeset: str) -> None:
    assert text(node, name).written == plain
    assert latex(node, name).written == typeset


def test_numbers_that_meet_have_a_cross_between_them() -> None:
    assert latex(op("multiply", A, B), number, times=r"\times").written == r"0.7 \times 1.9"


def exact(node: Operand | Constant) -> Piece:
    """Write a number as the fraction that it is, so that the order of additions does not matter."""
    value = Fraction(node.value if isinstance(node, Constant) else VALUES[str(node.key)])
    return Piece(f"F({value.numerator}, {value.denominator})")


@st.composite
def trees(draw: st.DrawFn, depth: int = 4) -> tuple[Node, Fraction]:
    """Return a formula with its value, computed beside it, operation by operation."""
    if depth == 0 or draw(st.integers(0, 4)) == 0:
        if draw(st.booleans()):
            key = draw(st.sampled_from(sorted(VALUES)))
            return Operand(key), Fraction(VALUES[key])
        constant = draw(st.sampled_from([0.0, 1.0, 2.0, -3.0, 0.5]))
        return Constant(constant), Fraction(constant)
    chosen = draw(st.sampled_from(sorted(EXACT)))
    function, operands = EXACT[chosen]
    drawn = [draw(trees(depth - 1)) for _ in range(operands)]
    if chosen == "power":
        whole = draw(st.sampled_from([-2, -1, 2, 3]))
        drawn[1] = (Constant(whole), Fraction(whole))
    try:
        value = function(*(v for _, v in drawn))
    except ZeroDivisionError:
        reject()
    return operation(chosen, [node for node, _ in drawn]), value


EXACT: dict[str, tuple[Callable[..., Fraction], int]] = {
    "add": (operator.add, 2),
    "subtract": (operator.sub, 2),
    "multiply": (operator.mul, 2),
    "divide": (operator.truediv, 2),
    "negative": (operator.neg, 1),
    "reciprocal": (lambda a: 1 / a, 1),
    "square": (lambda a: a * a, 1),
    "power": (lambda a, n: a ** int(n), 2),
}


@given(tree=trees())
def test_what_is_written_evaluates_to_what_it_is(tree: tuple[Node, Fraction]) -> None:
    node, value = tree
    written = text(node, exact).written
    assert eval(written, {"__builtins__": {}, "F": Fraction}) == value  # noqa: S307  (written a line above)
