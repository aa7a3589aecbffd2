"""Coverage factors."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from scipy import special

from assay.errors import DomainError
from assay.metrology.plain import plain
from assay.metrology.shapes import Array

_Dof = TypeVar("_Dof", float, Array)
#: Degrees of freedom beyond which stdtrit loses its way, and t is normal to all digits.
_NORMAL = 1e10


def check_level(level: float, *, argument: str = "level") -> float:
    """Return a level of confidence, or raise `DomainError` if it is not between 0 and 1."""
    number = plain(level, argument=argument)
    if not (number > 0.0 and 0.5 + 0.5 * number < 1.0):
        hint = f"Write {number / 100:g}." if 1.0 < number < 100.0 else "Write for example 0.95."  # noqa: PLR2004
        raise DomainError(
            "a level is a probability", argument=argument, given=level, expected="more than 0, less than 1", remedy=hint
        )
    return number


def check_factor(k: float) -> float:
    """Return a coverage factor, or raise `DomainError` if it is not finite and above zero."""
    number = plain(k, argument="k")
    if not (math.isfinite(number) and number > 0.0):
        raise DomainError(
            "a coverage factor is finite and above zero", argument="k", given=k, remedy="Write for example k=2."
        )
    return number


def coverage_factor(level: float, dof: _Dof) -> _Dof:
    """Return the two-sided coverage factor for a level of confidence and degrees of freedom, or an array of them.

    References
    ----------
    [jcgm-100-2008] G.3.2 and Table G.2. Degrees of freedom are not truncated to a whole number (G.4.1, note 1 allows
    both).

    Examples
    --------
    >>> round(coverage_factor(0.95, 2), 2)
    4.3

    """
    return one_sided_factor(0.5 + check_level(level) / 2.0, dof)


def one_sided_factor(level: float, dof: _Dof) -> _Dof:
    """Return the quantile of t at a probability; of the normal for infinite degrees of freedom."""
    if isinstance(dof, np.ndarray):
        factors: Array = np.where(dof > _NORMAL, special.ndtri(level), special.stdtrit(np.minimum(dof, _NORMAL), level))
        return factors
    return float(special.ndtri(level) if dof > _NORMAL else special.stdtrit(dof, level))
