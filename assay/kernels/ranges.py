"""The range in which a kernel may be used, as data beside the kernel."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar

_F = TypeVar("_F", bound=Callable[..., object])

#: Lower and upper limit; a limit of minus or plus infinity is no limit. Both limits belong to the range.
Range = tuple[float, float]

POSITIVE: Range = (5e-324, math.inf)  # the smallest float above zero: zero itself is outside
NOT_NEGATIVE: Range = (0.0, math.inf)

_RANGES: dict[str, dict[str, Range]] = {}


def valid(**limits: Range) -> Callable[[_F], _F]:
    """Return a decorator that keeps ranges beside a kernel; parameters not named may take any finite value."""

    def keep(kernel: _F) -> _F:
        _RANGES[_key(kernel)] = limits
        return kernel

    return keep


def ranges_of(kernel: Callable[..., object]) -> dict[str, Range]:
    """Return the ranges stated for a kernel, by parameter name."""
    return _RANGES.get(_key(kernel), {})


def _key(kernel: Callable[..., object]) -> str:
    return f"{getattr(kernel, '__module__', '')}.{getattr(kernel, '__qualname__', '')}"
