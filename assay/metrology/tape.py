"""Values that record each operation, so that one backward sweep gives every sensitivity.

The arithmetic operators and the numpy functions in `_RULES` are recorded; anything that would lose the record (``math``
functions, branches on a value, other numpy functions) is refused with what to write instead.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Sequence
from typing import Any, NoReturn

import numpy as np

from assay.errors import DomainError
from assay.kernels.value import Value

_LN10 = float(np.log(10.0))
_LN2 = float(np.log(2.0))

# Partial derivatives of each operation, from its result and its operands.
_RULES: dict[str, Callable[..., tuple[Value, ...]]] = {
    "add": lambda _y, _a, _b: (1.0, 1.0),
    "subtract": lambda _y, _a, _b: (1.0, -1.0),
    "multiply": lambda _y, a, b: (b, a),
    "divide": lambda y, _a, b: (1.0 / b, -y / b),
    "negative": lambda _y, _a: (-1.0,),
    "positive": lambda _y, _a: (1.0,),
    "absolute": lambda _y, a: (np.where(a == 0.0, np.nan, np.sign(a)),),  # at zero there is no slope
    "exp": lambda y, _a: (y,),
    "expm1": lambda y, _a: (y + 1.0,),
    "exp2": lambda y, _a: (y * _LN2,),
    "log": lambda _y, a: (1.0 / a,),
    "log1p": lambda _y, a: (1.0 / (1.0 + a),),
    "log10": lambda _y, a: (1.0 / (a * _LN10),),
    "log2": lambda _y, a: (1.0 / (a * _LN2),),
    "sqrt": lambda y, _a: (0.5 / y,),
    "square": lambda _y, a: (2.0 * a,),
    "cbrt": lambda y, _a: (1.0 / (3.0 * y * y),),
    "reciprocal": lambda y, _a: (-y * y,),
    "sin": lambda _y, a: (np.cos(a),),
    "cos": lambda _y, a: (-np.sin(a),),
    "tan": lambda y, _a: (1.0 + y * y,),
    "arcsin": lambda _y, a: (1.0 / np.sqrt(1.0 - a * a),),
    "arccos": lambda _y, a: (-1.0 / np.sqrt(1.0 - a * a),),
    "arctan": lambda _y, a: (1.0 / (1.0 + a * a),),
    "arctan2": lambda _y, a, b: (b / (a * a + b * b), -a / (a * a + b * b)),
    "sinh": lambda _y, a: (np.cosh(a),),
    "cosh": lambda _y, a: (np.sinh(a),),
    "tanh": lambda y, _a: (1.0 - y * y,),
    "hypot": lambda y, a, b: (a / y, b / y),
}


class Recorded:
    """A plain value, with the record of how it was obtained.

    Parameters
    ----------
    value : float or array
        The plain value.
    tape : list of Recorded
        The tape it is recorded on, in order of evaluation.
    inputs : sequence of Recorded
        The recorded operands.
    partials : sequence of float or array
        Derivative of the value with respect to each of them.
    operation : str
        Name of the operation.

    """

    __slots__ = ("index", "inputs", "operation", "partials", "tape", "value")

    def __init__(
        self,
        value: Value,
        tape: list[Recorded],
        inputs: Sequence[Recorded] = (),
        partials: Sequence[Value] = (),
        operation: str = "input",
    ) -> None:
        self.value = value
        self.tape = tape
        self.inputs = inputs
        self.partials = partials
        self.operation = operation
        self.index = len(tape)
        tape.append(self)

    def __add__(self, other: Value) -> Recorded:
        return _apply("add", operator.add, self, other)

    def __radd__(self, other: Value) -> Recorded:
        return _apply("add", operator.add, other, self)

    def __sub__(self, other: Value) -> Recorded:
        return _apply("subtract", operator.sub, self, other)

    def __rsub__(self, other: Value) -> Recorded:
        return _apply("subtract", operator.sub, other, self)

    def __mul__(self, other: Value) -> Recorded:
        return _apply("multiply", operator.mul, self, other)

    def __rmul__(self, other: Value) -> Recorded:
        return _apply("multiply", operator.mul, other, self)

    def __truediv__(self, other: Value) -> Recorded:
        return _apply("divide", operator.truediv, self, other)

    def __rtruediv__(self, other: Value) -> Recorded:
        return _apply("divide", operator.truediv, other, self)

    def __pow__(self, other: Value) -> Recorded:
        return _power(self, other)

    def __rpow__(self, other: Value) -> Recorded:
        return _power(other, self)

    def __neg__(self) -> Recorded:
        return _apply("negative", operator.neg, self)

    def __pos__(self) -> Recorded:
        return self

    def __abs__(self) -> Recorded:
        return _apply("absolute", abs, self)

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Value, **kwargs: Value) -> Recorded:
        name = ufunc.__name__
        if method == "__call__" and not kwargs:
            if name in {"power", "float_power"}:
                return _power(*inputs)
            if name in _RULES:
                return _apply(name, ufunc, *inputs)
        return _refuse(f"numpy.{name}" + ("" if method == "__call__" else f".{method}"))

    def __array_function__(self, func: Any, types: Any, args: Any, kwargs: Any) -> NoReturn:  # noqa: ANN401  (numpy's protocol)
        del types, args, kwargs
        _refuse(f"numpy.{getattr(func, '__name__', func)}")

    def __float__(self) -> float:
        _refuse("a plain number (the math module, float(), round() or formatting)")

    __int__ = __index__ = __complex__ = __float__

    def __bool__(self) -> bool:  # noqa: PLE0304  (it always raises)
        _refuse("a branch on a value (if, and, or, min(), max(), a comparison)")

    def _compared(self, other: object) -> bool:
        del other
        _refuse("a branch on a value (if, and, or, min(), max(), a comparison)")

    __lt__ = __le__ = __gt__ = __ge__ = __eq__ = __ne__ = _compared
    __hash__ = object.__hash__


def _refuse(what: str) -> NoReturn:
    names = ", ".join(sorted({*_RULES, "power"}))
    raise DomainError(
        f"the function uses {what}, which cannot be differentiated through",
        argument="function",
        remedy=f"Use arithmetic operators and these functions of numpy: {names}.",
    )


def _apply(name: str, function: Callable[..., Value], *operands: Value) -> Recorded:
    plain = [operand.value if isinstance(operand, Recorded) else operand for operand in operands]
    value = function(*plain)
    slopes = _RULES[name](value, *plain)
    inputs = []
    partials = []
    for operand, slope in zip(operands, slopes, strict=True):
        if isinstance(operand, Recorded):
            inputs.append(operand)
            partials.append(slope)
    return Recorded(value, inputs[0].tape, inputs, partials, name)


def _power(base: Value, exponent: Value) -> Recorded:
    x = base.value if isinstance(base, Recorded) else base
    p = exponent.value if isinstance(exponent, Recorded) else exponent
    value = x**p
    inputs = []
    partials = []
    if isinstance(base, Recorded):
        inputs.append(base)
        # A power of zero is one everywhere, also at zero, where x ** -1 has no value.
        partials.append(0.0 if isinstance(p, (int, float)) and p == 0 else p * x ** (p - 1))
    if isinstance(exponent, Recorded):
        # log is taken only here: a negative base with a plain whole exponent is fine.
        inputs.append(exponent)
        partials.append(value * np.log(x))
    return Recorded(value, inputs[0].tape, inputs, partials, "power")


def gradient(
    function: Callable[..., Value], positional: Sequence[Value], named: dict[str, Value]
) -> tuple[Value, dict[int | str, Value]]:
    """Return the value of a function and its partial derivatives.

    Parameters
    ----------
    function : callable
        A kernel, or any function of arithmetic and numpy operations.
    positional, named
        Its arguments. Floats (not ints) and float arrays are differentiated for; anything else is passed on as it is.

    Returns
    -------
    value : float or array
        The value.
    partials : dict
        The derivative for each differentiated argument, by position or name.

    Raises
    ------
    DomainError
        If the function does something that cannot be recorded.

    """
    tape: list[Recorded] = []
    leaves: dict[int | str, Recorded] = {}
    arguments = [_leaf(k, value, tape, leaves) for k, value in enumerate(positional)]
    keywords = {name: _leaf(name, value, tape, leaves) for name, value in named.items()}
    try:
        result = function(*arguments, **keywords)
    except (TypeError, AttributeError) as error:
        # Python and numpy name the class of the value when they cannot do what is asked of it.
        if Recorded.__name__ in str(error):
            _refuse("an operation other than arithmetic (//, %, round(), a format, an index, a numpy method of a list)")
        raise
    if not isinstance(result, Recorded):
        return result, dict.fromkeys(leaves, 0.0)
    adjoints = _swept(result)
    return result.value, {key: adjoints[leaf.index] for key, leaf in leaves.items()}


def primitive(
    function: Callable[..., Value], slopes: Callable[..., tuple[Value, ...]], *, name: str
) -> Callable[..., Value]:
    """Return a function that is recorded as one operation with declared derivatives: a look-up, a root, a fit.

    Parameters
    ----------
    function : callable
        Its value, on plain floats and arrays.
    slopes : callable
        Its partial derivatives, one for each argument, from the same arguments.
    name : str
        What it is called in a record.

    """

    def operation(*operands: Value) -> Value:
        plain = [operand.value if isinstance(operand, Recorded) else operand for operand in operands]
        value = function(*plain)
        inputs = [operand for operand in operands if isinstance(operand, Recorded)]
        if not inputs:
            return value
        partials = [
            slope for operand, slope in zip(operands, slopes(*plain), strict=True) if isinstance(operand, Recorded)
        ]
        return Recorded(value, inputs[0].tape, inputs, partials, name)

    operation.__name__ = operation.__qualname__ = name
    return operation


def _leaf(key: int | str, value: Value, tape: list[Recorded], leaves: dict[int | str, Recorded]) -> Value:
    if isinstance(value, float) or (isinstance(value, np.ndarray) and value.dtype.kind == "f"):
        leaves[key] = Recorded(value, tape)
        return leaves[key]
    return value


def _swept(result: Recorded) -> list[Value]:
    """Return the derivative of the result with respect to everything on its tape."""
    adjoints: list[Value] = [0.0] * len(result.tape)
    adjoints[result.index] = 1.0
    for node in reversed(result.tape[: result.index + 1]):
        adjoint = adjoints[node.index]
        for source, partial in zip(node.inputs, node.partials, strict=True):
            adjoints[source.index] = adjoints[source.index] + adjoint * partial
    return adjoints
