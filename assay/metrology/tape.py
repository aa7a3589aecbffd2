"""Values that record each operation, so that one backward sweep gives every sensitivity.

The arithmetic operators and the numpy functions in `RULES` are recorded; anything that would lose the record (``math``
functions, branches on a value, other numpy functions) is refused with what to write instead.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, NoReturn

import numpy as np

from assay.kernels.value import Value
from assay.metrology.refusals import BRANCH, PLAIN_NUMBER, REMEMBERED, Refusal, of_error, of_numpy
from assay.metrology.rules import RULES


class Tape(list["Recorded"]):
    """Recorded values in order of evaluation, and the first thing that was refused, if anything was."""

    refusal: Refusal | None = None


class Refused(Exception):  # noqa: N818  (it never leaves this room: `record` tells it as a DomainError)
    """A value was asked for something that would lose the record."""


class Recorded:
    """A plain value, with the record of how it was obtained.

    Parameters
    ----------
    value : float or array
        The plain value.
    tape : Tape
        The tape it is recorded on, in order of evaluation.
    inputs : sequence of Recorded
        The recorded operands.
    partials : sequence of float or array
        Derivative of the value with respect to each of them.
    operation : str
        Name of the operation.
    operands : tuple
        All operands, plain constants among them, in order.
    function : callable or None
        What computes the value from them.

    """

    __slots__ = ("function", "index", "inputs", "operands", "operation", "partials", "tape", "value")

    def __init__(  # noqa: PLR0917  (the facts of one operation; it is made a million times)
        self,
        value: Value,
        tape: Tape,
        inputs: Sequence[Recorded] = (),
        partials: Sequence[Value] = (),
        operation: str = "input",
        operands: tuple[Value, ...] = (),
        function: Callable[..., Value] | None = None,
    ) -> None:
        self.value = value
        self.tape = tape
        self.inputs = inputs
        self.partials = partials
        self.operation = operation
        self.operands = operands
        self.function = function
        self.index = len(tape)
        tape.append(self)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} {self.value!r}>"

    def __add__(self, other: Value) -> Value:
        return _apply("add", operator.add, self, other)

    def __radd__(self, other: Value) -> Value:
        return _apply("add", operator.add, other, self)

    def __sub__(self, other: Value) -> Value:
        return _apply("subtract", operator.sub, self, other)

    def __rsub__(self, other: Value) -> Value:
        return _apply("subtract", operator.sub, other, self)

    def __mul__(self, other: Value) -> Value:
        return _apply("multiply", operator.mul, self, other)

    def __rmul__(self, other: Value) -> Value:
        return _apply("multiply", operator.mul, other, self)

    def __truediv__(self, other: Value) -> Value:
        return _apply("divide", operator.truediv, self, other)

    def __rtruediv__(self, other: Value) -> Value:
        return _apply("divide", operator.truediv, other, self)

    def __pow__(self, other: Value) -> Value:
        return _power(self, other)

    def __rpow__(self, other: Value) -> Value:
        return _power(other, self)

    def __neg__(self) -> Value:
        return _apply("negative", operator.neg, self)

    def __pos__(self) -> Recorded:
        return self

    def __abs__(self) -> Value:
        return _apply("absolute", abs, self)

    def conjugate(self) -> Recorded:
        """Return the value itself: it is real. numpy asks for it in the variance of a list."""
        return self

    @property
    def real(self) -> Recorded:
        """The value itself."""
        return self

    def __array_ufunc__(self, ufunc: np.ufunc, method: str, *inputs: Value, **kwargs: Value) -> Value:
        name = ufunc.__name__
        if method == "__call__" and not kwargs:
            if name in {"power", "float_power"}:
                return _power(*inputs)
            if name in RULES:
                return _apply(name, ufunc, *inputs)
        return self._refuse(of_numpy(name, method=method, options=tuple(kwargs)))

    def __array_function__(self, func: Any, types: Any, args: Any, kwargs: Any) -> NoReturn:  # noqa: ANN401  (numpy's protocol)
        del types, args, kwargs
        self._refuse(of_numpy(getattr(func, "__name__", str(func))))

    def __float__(self) -> float:
        self._refuse(PLAIN_NUMBER)

    __int__ = __index__ = __complex__ = __float__

    def __bool__(self) -> bool:  # noqa: PLE0304  (it always raises)
        self._refuse(BRANCH)

    def _compared(self, other: object) -> bool:
        del other
        self._refuse(BRANCH)

    __lt__ = __le__ = __gt__ = __ge__ = __eq__ = __ne__ = _compared
    __hash__ = object.__hash__

    def _refuse(self, refusal: Refusal) -> NoReturn:
        # Kept on the tape as well: a function of the user's may catch the error and go on.
        self.tape.refusal = self.tape.refusal or refusal
        raise Refused(refusal.what)


def _as_method(name: str) -> Callable[[Recorded], Value]:
    """Return an operation as the method by which numpy applies it to each element of a list of recorded values."""

    def method(self: Recorded, *others: Value) -> Value:
        return _apply(name, getattr(np, name), self, *others)

    return method


for _name in RULES:
    setattr(Recorded, _name, _as_method(_name))


def _apply(name: str, function: Callable[..., Value], *operands: Value) -> Value:
    plain = [operand.value if isinstance(operand, Recorded) else operand for operand in operands]
    value = function(*plain)
    if value.__class__ is not float and _is_of_lists(value):  # the first test alone is quick
        return _each(function, operands)
    slopes = RULES[name](value, *plain)
    inputs = []
    partials = []
    for operand, slope in zip(operands, slopes, strict=True):
        if isinstance(operand, Recorded):
            inputs.append(operand)
            partials.append(slope)
    tape = inputs[0].tape
    if inputs[-1].tape is not tape:
        _refuse_remembered(inputs)
    return Recorded(value, tape, inputs, partials, name, operands, function)


def _power(base: Value, exponent: Value) -> Value:
    x = base.value if isinstance(base, Recorded) else base
    p = exponent.value if isinstance(exponent, Recorded) else exponent
    value = x**p
    if _is_of_lists(value):
        return _each(operator.pow, (base, exponent))
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
    tape = inputs[0].tape
    if inputs[-1].tape is not tape:
        _refuse_remembered(inputs)
    return Recorded(value, tape, inputs, partials, "power", (base, exponent), operator.pow)


def _is_of_lists(value: Value) -> bool:
    """Return whether a value that should be plain holds recorded ones: then an operand was a list of them."""
    return isinstance(value, Recorded) or (isinstance(value, np.ndarray) and value.dtype.kind == "O")


def _each(function: Callable[..., Value], operands: Sequence[Value]) -> Value:
    """Return an operation on each element of a list: numpy keeps a list of recorded values as an array of objects."""
    listed = []
    for operand in operands:
        boxed = operand
        if isinstance(operand, Recorded):
            boxed = np.empty((), dtype=object)
            boxed[()] = operand
        listed.append(boxed)
    return np.frompyfunc(function, len(operands), 1)(*listed)


def _refuse_remembered(inputs: Sequence[Recorded]) -> NoReturn:
    for recorded in inputs:
        recorded.tape.refusal = REMEMBERED
    raise Refused(REMEMBERED.what)


class Record(NamedTuple):
    """What a function did.

    Parameters
    ----------
    result : Recorded or other
        What it returned; something else than a recorded value if it does not depend on its arguments.
    leaves : dict
        The recorded arguments, by position or name.

    """

    result: Value
    leaves: dict[int | str, Recorded]


def record(function: Callable[..., Value], positional: Sequence[Value], named: Mapping[str, Value]) -> Record:
    """Return what a function did to its arguments.

    Parameters
    ----------
    function : callable
        A kernel, or any function of arithmetic and numpy operations.
    positional, named
        Its arguments. Floats (not ints) and float arrays are recorded; anything else is passed on as it is.

    Raises
    ------
    DomainError
        If the function does something that cannot be recorded.

    """
    tape = Tape()
    leaves: dict[int | str, Recorded] = {}
    arguments = [_leaf(k, value, tape, leaves) for k, value in enumerate(positional)]
    keywords = {name: _leaf(name, value, tape, leaves) for name, value in named.items()}
    try:
        result = function(*arguments, **keywords)
    except (TypeError, AttributeError, ValueError, Refused) as error:
        # Python and numpy name the class of the value when they cannot do what is asked of it.
        refusal = tape.refusal or of_error(error, Recorded.__name__)
        if refusal is None:
            raise
        raise refusal.error(function) from None
    if isinstance(result, np.ndarray) and result.dtype.kind == "O" and result.ndim == 0:
        result = result.item()
    if isinstance(result, Recorded) and result.tape is not tape:
        tape.refusal = REMEMBERED
    if tape.refusal is not None:
        raise tape.refusal.error(function)
    return Record(result, leaves)


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
    result, leaves = record(function, positional, named)
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
        if any(other.tape is not inputs[0].tape for other in inputs):
            _refuse_remembered(inputs)
        return Recorded(value, inputs[0].tape, inputs, partials, name, operands, operation)

    operation.__name__ = operation.__qualname__ = name
    return operation


def _leaf(key: int | str, value: Value, tape: Tape, leaves: dict[int | str, Recorded]) -> Value:
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
            plain = adjoint.__class__ is float and partial.__class__ is float  # nearly always, and then quick
            part = adjoint * partial if plain else times(adjoint, partial)
            known = adjoints[source.index]
            adjoints[source.index] = part if known.__class__ is float and known == 0.0 else known + part
    return adjoints


def times(a: Value, b: Value) -> Value:
    """Return a product; with a factor of one, which many slopes are, without passing over an array."""
    if a.__class__ is float and a == 1.0:
        return b
    return a if b.__class__ is float and b == 1.0 else a * b


def needed_for(result: Recorded) -> list[Recorded]:
    """Return the operations on which a recorded value depends, in order of evaluation."""
    wanted = {result.index}
    needed = []
    for node in reversed(result.tape[: result.index + 1]):
        if node.index in wanted and node.operands:
            needed.append(node)
            wanted.update(operand.index for operand in node.inputs)
    return needed[::-1]
