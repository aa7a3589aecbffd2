"""The operations that can be recorded, with their partial derivatives."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from assay.kernels.value import Value

_LN10 = float(np.log(10.0))
_LN2 = float(np.log(2.0))
_DEGREE = float(np.pi / 180.0)

#: Partial derivatives of each operation by the name of numpy's function, from its result and its operands. A power has
#: a rule of its own, because its base may be negative where its exponent is a plain whole number.
RULES: dict[str, Callable[..., tuple[Value, ...]]] = {
    "add": lambda _y, _a, _b: (1.0, 1.0),
    "subtract": lambda _y, _a, _b: (1.0, -1.0),
    "multiply": lambda _y, a, b: (b, a),
    "divide": lambda y, _a, b: ((slope := 1.0 / b), -y * slope),  # one division for both: arrays may be long
    "negative": lambda _y, _a: (-1.0,),
    "positive": lambda _y, _a: (1.0,),
    "absolute": lambda _y, a: (np.where(a == 0.0, np.nan, np.sign(a)),),  # at zero there is no slope
    "fabs": lambda _y, a: (np.where(a == 0.0, np.nan, np.sign(a)),),
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
    "arcsinh": lambda _y, a: (1.0 / np.sqrt(1.0 + a * a),),
    "arccosh": lambda _y, a: (1.0 / np.sqrt(a * a - 1.0),),
    "arctanh": lambda _y, a: (1.0 / (1.0 - a * a),),
    "hypot": lambda y, a, b: (a / y, b / y),
    "deg2rad": lambda _y, _a: (_DEGREE,),
    "radians": lambda _y, _a: (_DEGREE,),
    "rad2deg": lambda _y, _a: (1.0 / _DEGREE,),
    "degrees": lambda _y, _a: (1.0 / _DEGREE,),
}
