"""The recorded operations of a kernel, written down, are the kernel."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import assay.kernels
from assay.display.formulas import Constant, Node, Operand, Piece, text
from assay.kernels.value import Value
from assay.metrology.chain import chain_of
from assay.metrology.formula import formula_of
from assay.metrology.rules import RULES

KERNELS = sorted(
    {
        kernel
        for module in pkgutil.walk_packages(assay.kernels.__path__, "assay.kernels.")
        for _, kernel in inspect.getmembers(importlib.import_module(module.name), inspect.isfunction)
        if "_from_" in kernel.__name__
    },
    key=lambda kernel: kernel.__name__,
)


def named(node: Operand | Constant) -> Piece:
    """Write an operand as a look-up in a table of values, so that any key will do."""
    return Piece(f"v[{node.key!r}]") if isinstance(node, Operand) else Piece(f"({node.value!r})")


def worth(node: Node, values: dict[Any, float]) -> float:
    written = text(node, named).written
    return float(eval(written, {"__builtins__": {}, "v": values, **vars(np)}))  # noqa: S307  (written a line above)


def checked(function: Callable[..., Value], positional: list[Value], by_name: dict[str, Value]) -> None:
    formula = formula_of(function, positional, by_name)
    values: dict[Any, float] = {**dict(enumerate(positional)), **by_name}
    for part, node in formula.parts:
        values[part.key] = worth(node, values)
    expected = float(function(*positional, **by_name))
    assert worth(formula.outcome, values) == pytest.approx(expected, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.__name__)
@given(data=st.data())
def test_every_kernel_is_written_as_it_computes(kernel: Callable[..., Value], data: st.DataObject) -> None:
    positional: list[Value] = []
    by_name: dict[str, Value] = {}
    for name, parameter in inspect.signature(kernel).parameters.items():
        if parameter.kind is parameter.VAR_POSITIONAL:
            positional = [data.draw(st.floats(0.5, 9.0)) for _ in range(data.draw(st.integers(1, 5)))]
        elif parameter.annotation == "tuple[int, ...]":
            by_name[name] = tuple(data.draw(st.integers(1, 9)) for _ in positional)
        elif parameter.annotation == "Value":
            # A difference in a denominator is kept from vanishing: each value is of an order of magnitude of its own.
            by_name[name] = data.draw(st.floats(1.0, 1.9)) * 2.0 ** len(by_name)
        else:
            pytest.fail(f"teach this test how to draw {parameter}")
    checked(kernel, positional, by_name)


@pytest.mark.parametrize("name", sorted({*RULES, "power"}))
@given(data=st.data())
def test_every_operation_is_written_as_numpy_calls_it(name: str, data: st.DataObject) -> None:
    function = getattr(np, name)
    low = 1.1 if name == "arccosh" else 0.1
    operands = [data.draw(st.floats(low, low + 0.8)) for _ in range(function.nin)]
    checked(lambda *values: 2.0 * function(*values) - 1.0, list(operands), {})


@given(x=st.floats(0.5, 2.0), y=st.floats(0.5, 2.0))
def test_a_chain_done_again_is_the_function(x: float, y: float) -> None:
    def function(a: Value, b: Value) -> Value:
        unused = a / b - np.log(b)
        del unused
        total = np.mean([a, b, a * b])
        return total**2 / np.sqrt(total + a) - b**-total

    chain = chain_of(function, [1.0, 1.5])
    assert chain(x, y) == pytest.approx(function(x, y), rel=1e-14, abs=1e-14)
    many = chain(np.array([x, 1.0]), np.array([y, 1.5]))
    np.testing.assert_allclose(many, [float(function(x, y)), float(function(1.0, 1.5))], rtol=1e-14, atol=1e-14)
    checked(chain, [x, y], {})
    # Kept are a·b, two additions and the division of the mean, its square, the sum, root and division, the minus, the
    # power and the subtraction; what is not used is not done again.
    assert len(chain.links) == 11


def test_a_chain_lets_go_of_what_it_no_longer_needs() -> None:
    """An array of draws is large: a long chain may not keep one for each operation."""
    chain = chain_of(lambda x: sum((x * float(k) for k in range(1, 50)), 0.0), [1.0])
    left = [place for link in chain.links for place in link.done]
    assert len(left) == len(set(left)) == len(chain.links)  # the argument and every step but the last
