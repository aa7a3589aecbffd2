"""What cannot be recorded, and what to write instead."""

from __future__ import annotations

import dis
import inspect
import math
from collections.abc import Callable, Iterator
from types import CodeType
from typing import Any, NamedTuple, cast

import numpy as np

from assay.errors import DomainError
from assay.metrology.rules import RULES

_DECIDE = (
    "Decide before, on the values (`if a.value > b.value: …`), and combine with the formula of the branch that holds: "
    "a formula with two branches has no slope where they meet."
)
_ROUNDING = "Leave the rounding out: a rounded number has no slope. Results are rounded when they are shown."
_TEXT = "Leave text out of the function: results are rounded and written when they are shown."
_NO_MATH = "Use the functions of numpy, such as numpy.log for math.log, and leave float(), int() and complex() out."

# What each function of numpy that cannot be recorded is to be replaced by.
_INSTEAD = {
    **dict.fromkeys(
        (
            "where", "maximum", "minimum", "fmax", "fmin", "clip", "piecewise", "select", "choose", "heaviside", "sign",
            "copysign", "max", "min", "amax", "amin", "sort", "argsort", "argmax", "argmin", "median", "percentile",
            "quantile", "isclose", "allclose", "isnan", "isfinite", "greater", "greater_equal", "less", "less_equal",
            "equal", "not_equal", "logical_and", "logical_or", "logical_not",
        ),
        _DECIDE,
    ),
    **dict.fromkeys(("floor", "ceil", "rint", "round", "around", "trunc", "fix"), _ROUNDING),
    **dict.fromkeys(("remainder", "mod", "fmod", "floor_divide", "divmod", "modf"), _ROUNDING),
    **dict.fromkeys(
        ("sum", "mean", "average", "prod", "std", "var", "cumsum", "cumprod"),
        "Give it a list of the results, as in numpy.mean([x, y]); a single result is one number, not an array.",
    ),
    **dict.fromkeys(("dot", "vdot", "inner", "outer", "matmul", "vecdot", "multiply.outer"), "Write x * y."),
    "interp": (
        "Interpolate between the two neighbouring points with arithmetic: y0 + (x - x0) * (y1 - y0) / (x1 - x0)."
    ),
    "polyval": "Write the polynomial out: a + x * (b + x * c).",
    "nan_to_num": "Leave it out: a result is never NaN.",
}  # fmt: skip

# Functions of math whose name is another in numpy, or which need another form.
_MATH = {
    "acos": "numpy.arccos", "acosh": "numpy.arccosh", "asin": "numpy.arcsin", "asinh": "numpy.arcsinh",
    "atan": "numpy.arctan", "atan2": "numpy.arctan2", "atanh": "numpy.arctanh", "pow": "x ** y",
    "fsum": "x + y, or numpy.sum([x, y])", "prod": "x * y, or numpy.prod([x, y])", "dist": "numpy.sqrt of the squares",
    "sumprod": "x * y added up",
}  # fmt: skip
_MATH_BRANCHES = frozenset({"isclose", "isnan", "isfinite", "isinf", "copysign"})
_MATH_ROUNDING = frozenset({"floor", "ceil", "trunc", "fmod", "modf", "remainder"})

# Words in which Python and numpy say what they cannot do with a recorded value: what it was, and what to do.
_SAID = (
    ("item assignment", "writing into a value (x[…] = …)", "Make a new value instead: x = x + 1."),
    ("item deletion", "writing into a value (del x[…])", "Make a new value instead."),
    ("not subscriptable", "an index", "Each argument is one number, not an array: leave the index out."),
    ("not iterable", "a loop over a value", "Each argument is one number, not an array: write x + y for sum(x)."),
    ("has no len()", "a length", "Each argument is one number, not an array: leave len() out."),
    ("for //", "whole division (//)", _ROUNDING),
    ("for %", "a remainder (%)", _ROUNDING),
    ("for divmod", "divmod()", _ROUNDING),
    ("__pow__", "pow() with a modulus", _ROUNDING),
    (
        "has no attribute",
        "a method of an array (such as x.sum())",
        "Each argument is one number, not an array: leave the method out, or write numpy.sum([x, y]).",
    ),
    (
        "dtype('O')",
        "a function of numpy that works on plain numbers alone",
        "Write out what it computes: for numpy.interp, y0 + (x - x0) * (y1 - y0) / (x1 - x0).",
    ),
    ("for @", "a matrix product (@)", "Write x * y, or numpy.dot of two lists."),
    ("__round__", "round()", _ROUNDING),
    ("__floor__", "math.floor()", _ROUNDING),
    ("__ceil__", "math.ceil()", _ROUNDING),
    ("__trunc__", "math.trunc()", _ROUNDING),
    ("__format__", "a format", _TEXT),
    ("could not convert string", "text", _TEXT),
    ("Estimate", "another result in the middle", "Give it to combine as an argument of the function."),
)


class Refusal(NamedTuple):
    """Why a function cannot be recorded."""

    what: str
    remedy: str

    def error(self, function: Callable[..., object] | None = None) -> DomainError:
        """Return the error; it names the functions of math that the function's own text names."""
        return DomainError(
            f"the function uses {self.what}, which cannot be differentiated through",
            argument="function",
            remedy=" ".join(_math_remedies(function)) or self.remedy if self.remedy is _NO_MATH else self.remedy,
        )


PLAIN_NUMBER = Refusal("a plain number (the math module, float() or int())", _NO_MATH)
BRANCH = Refusal("a branch on a value (if, and, or, min(), max(), sorted(), a comparison)", _DECIDE)
REMEMBERED = Refusal(
    "a value that it remembers from an earlier call",
    "Compute everything anew from the arguments, without a cache and without changing anything outside.",
)


def of_numpy(name: str, *, method: str = "__call__", options: tuple[str, ...] = ()) -> Refusal:
    """Return the refusal of a function of numpy, of a method of it, or of an option."""
    if method != "__call__":
        return Refusal(f"numpy.{name}.{method}", "Write it out with + and *, or give numpy.sum a list of the results.")
    if "out" in options:
        return Refusal(f"numpy.{name} with out=", f"Make a new value instead of writing into one: y = numpy.{name}(…).")
    if options:
        return Refusal(f"numpy.{name} with {options[0]}=", f"Write numpy.{name} without it.")
    whose = f"numpy.{name}" if hasattr(np, name.partition(".")[0]) else name  # scipy's functions come this way too
    return Refusal(whose, _INSTEAD.get(name) or _arithmetic())


def of_error(error: Exception, recorded: str) -> Refusal | None:
    """Return the refusal that an error of Python or numpy stands for; ``None`` if it is the user's own.

    Parameters
    ----------
    error : Exception
        What was raised.
    recorded : str
        Name of the class of recorded values, by which such an error is known.

    """
    said = str(error)
    if not any(name in said for name in (recorded, "'Estimate'", "dtype('O')")):
        return None
    for words, what, remedy in _SAID:
        if words in said:
            return Refusal(what, remedy)
    return Refusal("an operation other than arithmetic", _arithmetic())


def _arithmetic() -> str:
    return f"Use + - * / ** and these functions of numpy: {', '.join(sorted(RULES))}."


def _math_remedies(function: Callable[..., object] | None) -> Iterator[str]:
    """Yield what to write for each function of math that a function's code calls."""
    for name in sorted(set(_math_functions(function))):
        if name in _MATH_BRANCHES:
            yield f"In place of math.{name}: {_DECIDE}"
        elif name in _MATH_ROUNDING:
            yield f"In place of math.{name}: {_ROUNDING}"
        elif name in _MATH or name in RULES:
            yield f"Write {_MATH.get(name) or f'numpy.{name}'} in place of math.{name}."


def _math_functions(function: Callable[..., object] | None) -> Iterator[str]:
    """Yield the names of the functions of math that stand in a function's code, as ``math.log`` or ``log``."""
    if getattr(function, "__module__", None) == "math":
        yield str(getattr(function, "__name__", ""))
    code = getattr(function, "__code__", None)
    if not isinstance(code, CodeType):
        return
    space = {**getattr(function, "__globals__", {}), **inspect.getclosurevars(cast("Any", function)).nonlocals}
    owner: object = None
    for instruction in _instructions(code):
        named = space.get(instruction.argval) if isinstance(instruction.argval, str) else None
        if owner is math:
            yield str(instruction.argval)
        elif named is not None and getattr(named, "__module__", None) == "math":
            yield str(getattr(named, "__name__", ""))
        owner = named if instruction.opname in {"LOAD_GLOBAL", "LOAD_NAME", "LOAD_DEREF"} else None


def _instructions(code: CodeType) -> Iterator[dis.Instruction]:
    yield from dis.get_instructions(code)
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _instructions(constant)
