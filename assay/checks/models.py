"""A measurement model as its source writes it: text becomes a function of its inputs, which `combine` then takes."""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from assay.kernels.value import Value

_OPERATORS: Mapping[type[ast.AST], Callable[..., Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
    ast.USub: operator.neg,
}
_FUNCTIONS: Mapping[str, Callable[..., Any]] = {"cos": np.cos, "sin": np.sin, "exp": np.exp, "sqrt": np.sqrt}


def model(text: str) -> tuple[tuple[str, ...], Callable[..., Value]]:
    """Return the names of the inputs of a model, and the model as a function of them in that order.

    Arithmetic, powers, ``cos``, ``sin``, ``exp`` and ``sqrt``.

    Raises
    ------
    ValueError
        If there is anything else in it.

    Examples
    --------
    >>> names, function = model("V / I * cos(phi)")
    >>> names, float(function(10.0, 2.0, 0.0))
    (('V', 'I', 'phi'), 5.0)

    """
    tree = ast.parse(text.strip(), mode="eval").body
    called = {node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    found = sorted(
        (node.lineno, node.col_offset, node.id)
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and node.id not in called
    )
    names = tuple(dict.fromkeys(name for _, _, name in found))

    def function(*values: Value) -> Value:
        return _value(tree, dict(zip(names, values, strict=True)))

    return names, function


def _value(node: ast.AST, known: Mapping[str, Value]) -> Value:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.Name(id=name):
            return known[name]
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _OPERATORS:
            return _OPERATORS[type(op)](_value(left, known), _value(right, known))
        case ast.UnaryOp(op=op, operand=operand) if type(op) in _OPERATORS:
            return _OPERATORS[type(op)](_value(operand, known))
        case ast.Call(func=ast.Name(id=name), args=[argument], keywords=[]) if name in _FUNCTIONS:
            return _FUNCTIONS[name](_value(argument, known))
        case _:
            raise ValueError(f"{ast.unparse(node)!r} is no arithmetic of a model")
