"""How many digits a chain of numbers needs, so that each printed step gives its printed result. No result class."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from assay.display.numbers import places_of
from assay.display.symbols import shortest, to_places

_SHORT = 10  # significant digits up to which a number is shown as it is
_FEWEST = 5  # significant digits of a number without an uncertainty
_ROUNDING = 1e-14  # what another order of operations may change, relative to the largest term
_TIE = 0.01  # nearer than this to half a unit of its last place, a number is not rounded there


class Number:
    """A number and how it is printed, the same wherever it stands.

    Parameters
    ----------
    value : float
        The number.
    u : float
        Its standard uncertainty; zero for an exact number.
    computed : bool
        Whether it is the result of a step, which is rounded by the rule of the house; others are shown as they were
        given where that is short.

    """

    __slots__ = ("places", "printed", "value")

    def __init__(self, value: float, u: float = 0.0, *, computed: bool = False) -> None:
        self.value = float(value)
        self.places = _places(self.value, u)
        self.printed = shortest(self.value)
        if computed or sum(map(str.isdigit, self.printed.partition("e")[0].replace(".", "").lstrip("-0"))) > _SHORT:
            self._print()

    def _print(self) -> None:
        while _is_tie(self.value, self.places):
            self.places += 1
        self.printed = to_places(self.value, self.places)
        if self.exact:
            self.printed = shortest(self.value)

    @property
    def exact(self) -> bool:
        """Whether the printed number is the number itself."""
        return float(self.printed) == self.value

    @property
    def error(self) -> float:
        """How far the printed number may be off: half a unit of its last place; zero if it is exact."""
        return 0.0 if self.exact else 0.5 * 10.0**-self.places

    def lengthen(self) -> None:
        """Print one digit more."""
        self.places += 1
        self._print()

    def agrees(self, value: float, doubt: float) -> bool:
        """Return whether another number is printed as this one, even if it is off by a doubt."""
        printed = to_places(self.value, self.places)
        return value == self.value or all(
            math.isfinite(near) and to_places(near, self.places) == printed for near in (value - doubt, value + doubt)
        )


def _places(value: float, u: float) -> int:
    places = places_of(u)
    if places is None:
        places = places_of(abs(value), _FEWEST)
    return 0 if places is None else places


def _is_tie(value: float, places: int) -> bool:
    scaled = Decimal(repr(value)).scaleb(places) % 1
    return scaled != 0 and abs(abs(scaled) - Decimal("0.5")) < Decimal(str(_TIE))


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """A step of a chain.

    Parameters
    ----------
    function : callable
        Returns the result from the numbers, in their order.
    numbers : sequence of Number
        What it is computed from.
    slopes : sequence of float
        How much the result changes with each.
    result : Number
        What comes out.

    """

    function: Callable[[Sequence[float]], float]
    numbers: Sequence[Number]
    slopes: Sequence[float]
    result: Number

    def settle(self) -> bool:
        """Lengthen the numbers until they give the printed result; return whether one was lengthened."""
        lengthened = False
        while not self._gives():
            doubtful = [k for k, number in enumerate(self.numbers) if not number.exact]
            if not doubtful:
                return lengthened
            worst = max(doubtful, key=lambda k: abs(self.slopes[k]) * self.numbers[k].error)
            self.numbers[worst].lengthen()
            lengthened = True
        return lengthened

    def _gives(self) -> bool:
        try:
            value = self.function([float(number.printed) for number in self.numbers])
        except (ZeroDivisionError, OverflowError):
            return False
        if isinstance(value, complex):
            return False
        size = sum(abs(slope * number.value) for slope, number in zip(self.slopes, self.numbers, strict=True))
        return self.result.agrees(float(value), _ROUNDING * max(size, abs(value)))


def settle(steps: Sequence[Computed]) -> None:
    """Choose the digits of all numbers of a chain; its steps are given in order of evaluation.

    Later steps come first, because they say how many digits they need of what stands before them. A number that several
    steps use may be lengthened after one of them was settled, so all are looked at again until none is changed.
    """
    changed = True
    while changed:
        changed = False
        for step in reversed(steps):
            changed |= step.settle()
