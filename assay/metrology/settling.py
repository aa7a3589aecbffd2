"""When a run has enough trials: its numerical results no longer move by what the digits of u would show."""

from __future__ import annotations

import math

import numpy as np

from assay.display.numbers import places_of
from assay.errors import DomainError
from assay.metrology.distribution import Sorted, symmetric_interval
from assay.metrology.sampling import CHUNK, check_whole
from assay.metrology.shapes import Array

#: JCGM 101:2008, 7.9.4 is content with 2 batches, whose spread says little. A choice of this library.
FEWEST_BATCHES = 10
MOST_DIGITS = 6


def check_digits(digits: int) -> int:
    """Return a number of significant digits, or raise `DomainError` if it is not 1 to 6."""
    check_whole(digits, argument="digits", least=1, remedy=f"1 to {MOST_DIGITS}; 1 or 2 are what is usually stated.")
    if digits > MOST_DIGITS:
        raise DomainError(
            "no run settles to so many digits of u",
            argument="digits",
            given=digits,
            expected=f"1 to {MOST_DIGITS}",
            remedy="1 or 2 digits of u are what is usually stated.",
        )
    return digits


def tolerance_of(u: float, digits: int) -> float:
    """Return the numerical tolerance of a standard uncertainty: half a unit of its last significant digit.

    References
    ----------
    [jcgm-101-2008] 7.9.2.

    Examples
    --------
    >>> tolerance_of(0.0754, 2), tolerance_of(8.35, 1)
    (0.0005, 0.5)

    """
    places = places_of(u, digits)
    return 0.0 if places is None else float(f"5e{-places - 1}")


def batch_size(level: float) -> int:
    """Return the trials of a batch: whole chunks, and no fewer than JCGM 101:2008, 7.9.4 b asks for."""
    wanted = max(math.ceil(100.0 / (1.0 - level) - 1e-6), 10_000)
    return math.ceil(wanted / CHUNK) * CHUNK


class Batches:
    """Results of one batch after another, whose spread tells whether a run has settled (JCGM 101:2008, 7.9.4).

    Parameters
    ----------
    level : float
        Level of confidence of the interval.

    """

    def __init__(self, level: float) -> None:
        self._level = level
        self._size = batch_size(level)
        self._waiting: list[Array] = []
        self._rows: list[tuple[float, ...]] = []

    def add(self, values: Array) -> bool:
        """Add a chunk of trials; return whether a batch was completed."""
        self._waiting.append(values)
        if sum(held.size for held in self._waiting) < self._size:
            return False
        batch = np.concatenate(self._waiting)
        self._waiting = []
        low, high, *_ = symmetric_interval(Sorted(batch.copy(), self._level), self._level)
        self._rows.append((float(batch.mean()), float(batch.std(ddof=1)), low, high))
        return True

    @property
    def enough(self) -> bool:
        """Whether there are enough of them to speak of a spread."""
        return len(self._rows) >= FEWEST_BATCHES

    @property
    def averages(self) -> Array:
        """Averages of mean, u, lower and upper end, shape (4,)."""
        averages: Array = np.array(self._rows).mean(axis=0)
        return averages

    @property
    def errors(self) -> Array:
        """Standard deviations of these averages, shape (4,)."""
        errors: Array = np.array(self._rows).std(axis=0, ddof=1) / math.sqrt(len(self._rows))
        return errors

    def settled(self, tolerance: float) -> bool:
        """Return whether twice the standard deviation of each average is within a tolerance."""
        return self.enough and bool((2.0 * self.errors <= tolerance).all())
