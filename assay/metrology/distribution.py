"""What is kept of the trials of a run: their moments, and their order as far as it is needed.

A run of a few million trials is kept, and its quantiles are order statistics. A longer one is counted on a fine grid,
so that memory stays the same whatever its length; counts are whole numbers, and their sums are exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from assay.metrology.shapes import Array

#: Trials that are kept, and from which the grid of a longer run is laid.
KEPT = 2**21
#: Cells of the grid. It spans three times the interval that the kept trials gave, so that a cell is about 1e-5 of it.
CELLS = 2**18
# Values that are held before they are counted: counting costs the same for one value as for this many.
_HELD = 2**18


class Ends(NamedTuple):
    """Ends of an interval, and the standard numerical error of each; infinite where the trials do not tell it."""

    low: float
    high: float
    low_error: float
    high_error: float


@dataclass(slots=True)
class Moments:
    """Sums of powers of the trials, about their first one and in units of a power of two so that nothing overflows.

    Added chunk by chunk in their order, they are the same bit for bit however the chunks were made.
    """

    count: int = 0
    _origin: float = 0.0
    _unit: float = 1.0
    _sums: list[float] = field(default_factory=lambda: [0.0] * 4)

    def add(self, values: Array) -> None:
        """Add a chunk of trials."""
        if not self.count:
            self._origin = float(values[0])
            widest = float(np.abs(values - self._origin).max())
            self._unit = math.ldexp(1.0, min(max(math.frexp(widest)[1], -1000), 1000))
        scaled = values - self._origin
        scaled /= self._unit
        squared = scaled * scaled
        self._sums[0] += float(scaled.sum())
        self._sums[1] += float(squared.sum())
        scaled *= squared
        self._sums[2] += float(scaled.sum())
        squared *= squared
        self._sums[3] += float(squared.sum())
        self.count += values.size

    @property
    def mean(self) -> float:
        """Mean of the trials (JCGM 101:2008, 7.6)."""
        return self._origin + self._unit * self._sums[0] / self.count

    @property
    def u(self) -> float:
        """Standard deviation of the trials (JCGM 101:2008, 7.6)."""
        return self._unit * math.sqrt(self._second() * self.count / (self.count - 1.0))

    @property
    def mean_error(self) -> float:
        """Standard numerical error of the mean."""
        return self.u / math.sqrt(self.count)

    @property
    def u_error(self) -> float:
        """Standard numerical error of u, from the fourth moment of the trials."""
        second = self._second()
        if second <= 0.0:
            return 0.0
        first, *powers = (total / self.count for total in self._sums)
        fourth = powers[2] - 4.0 * first * powers[1] + 6.0 * first**2 * powers[0] - 3.0 * first**4
        return self._unit * math.sqrt(max(fourth - second**2, 0.0) / (4.0 * second * self.count))

    def _second(self) -> float:
        first, second, *_ = (total / self.count for total in self._sums)
        return max(second - first**2, 0.0)


class Sorted:
    """Trials of which the lowest and the highest are in order, as many as the two intervals need."""

    cell = 0.0

    def __init__(self, values: Array, level: float) -> None:
        inside, _, spread = ranks_of(values.size, level)
        tail = values.size - inside + 2 * spread + 1  # at most this far reach the ends and their errors
        if 2 * tail < values.size:
            values.partition([tail, values.size - tail - 1])
            values[:tail].sort()
            values[-tail:].sort()
        else:
            values.sort()
        self._values = values
        self.count = values.size

    def at(self, rank: int) -> float:
        """Return the trial of a rank, 1 for the lowest."""
        return float(self._values[rank - 1])

    def windows(self, inside: int) -> tuple[Array, Array, Array]:
        """Return ranks, lower and upper ends of all intervals from one trial to that which is so many ranks higher."""
        last = self.count - inside
        return np.arange(1.0, last + 1.0), self._values[:last], self._values[inside:]


class Grid:
    """Trials counted in cells of one width, and beyond them.

    Parameters
    ----------
    kept : array, shape (n,)
        The trials so far, which are counted as the first.
    level : float
        Level of confidence; the grid spans its interval and as much again on both sides, where there are trials.

    """

    def __init__(self, kept: Array, level: float) -> None:
        lowest, highest = float(kept.min()), float(kept.max())
        low, high, *_ = symmetric_interval(Sorted(kept, level), level)
        width = (high - low) or (highest - lowest)
        low, high = max(low - width, lowest - 0.1 * width), min(high + width, highest + 0.1 * width)
        self._low = low
        self._extremes = [lowest, highest]
        self.cell = max((high - low) / CELLS, math.ulp(max(abs(low), abs(high))))
        self._counts = np.zeros(CELLS + 2, dtype=np.int64)  # the first and the last lie beyond the grid
        self._held: list[Array] = []
        self.count = 0
        for start in range(0, kept.size, _HELD):
            self.add(kept[start : start + _HELD])

    def add(self, values: Array) -> None:
        """Add trials."""
        self._held.append(values)
        self.count += values.size
        if sum(held.size for held in self._held) >= _HELD:
            self._settle()

    def _settle(self) -> None:
        for values in self._held:
            self._extremes = [
                min(self._extremes[0], float(values.min())),
                max(self._extremes[1], float(values.max())),
            ]
        places = np.concatenate([*self._held, np.empty(0)])
        self._held = []
        places -= self._low
        places /= self.cell
        np.clip(places, -1.0, CELLS, out=places)
        self._counts += np.bincount(np.floor(places, out=places).astype(np.int64) + 1, minlength=CELLS + 2)

    def at(self, rank: int) -> float:
        """Return the place of a rank, 1 for the lowest trial, by even spacing within its cell."""
        return float(self._at(np.array([float(rank)]))[0])

    def _at(self, ranks: Array) -> Array:
        upto = self._upto()
        cells = np.searchsorted(upto, ranks)
        counts = np.maximum(self._counts[cells], 1)
        within = (ranks - (upto[cells] - self._counts[cells]) - 0.5) / counts
        places = self._low + self.cell * (cells - 1.0 + within)
        places = np.where(cells == 0, self._extremes[0], places)
        return np.where(cells == CELLS + 1, self._extremes[1], places)

    def windows(self, inside: int) -> tuple[Array, Array, Array]:
        """Return ranks, lower and upper ends of the intervals from the lowest trial, or a cell, that hold so many."""
        first = self._upto()[:-1] + 1.0  # rank of the lowest trial at or above the edge of each cell
        ranks: Array = np.append(1.0, first[first <= self.count - inside])
        edges = self._low + self.cell * np.arange(ranks.size - 1.0)
        return ranks, np.append(self._extremes[0], edges), self._at(ranks + inside)

    def _upto(self) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        if self._held:
            self._settle()
        return np.cumsum(self._counts)


def ranks_of(count: int, level: float) -> tuple[int, int, int]:
    """Return the ranks that make an interval of so many trials.

    Returns
    -------
    inside : int
        Ranks from one end to the other.
    first : int
        Rank of the lower end of the probabilistically symmetric interval.
    spread : int
        Ranks by which each of its ends errs, one standard deviation of the binomial number of trials beyond it.

    References
    ----------
    [jcgm-101-2008] 7.7.1 and 7.7.2.

    Examples
    --------
    >>> ranks_of(100, 0.95)
    (95, 3, 2)

    """
    inside = min(math.floor(level * count + 0.5), count - 1)
    beyond = 0.5 * (1.0 - level)
    return inside, (count - inside + 1) // 2, math.ceil(math.sqrt(count * beyond * (1.0 - beyond)))


def symmetric_interval(order: Sorted | Grid, level: float) -> Ends:
    """Return the probabilistically symmetric interval; the errors need no distribution, only the ranks.

    References
    ----------
    [jcgm-101-2008] 7.7.2.

    """
    inside, first, spread = ranks_of(order.count, level)
    errors = [_error_of(order, rank) + order.cell if spread < first else math.inf for rank in (first, first + inside)]
    return Ends(order.at(first), order.at(first + inside), *errors)


def shortest_interval(order: Sorted | Grid, level: float) -> Ends:
    """Return the shortest interval; its errors reach to all intervals that the trials cannot tell from it.

    Two intervals are not told apart where their lengths differ by no more than the noise of the spacings between them:
    a spacing of k ranks errs by its 1/√k.

    References
    ----------
    [jcgm-101-2008] 5.3.4 and 7.7.3.

    """
    inside, _, spread = ranks_of(order.count, level)
    ranks, lows, highs = order.windows(inside)
    lengths = highs - lows
    best = int(np.argmin(lengths))
    apart = np.maximum(np.abs(ranks - ranks[best]), 1.0)
    noise = np.hypot(lows - lows[best], highs - highs[best]) / np.sqrt(apart)
    alike = lengths - lengths[best] <= noise
    ends = float(lows[best]), float(highs[best])
    if spread >= order.count - inside:
        return Ends(*ends, math.inf, math.inf)
    errors = [
        math.hypot(float(np.abs(side[alike] - side[best]).max()), _error_of(order, int(ranks[best]) + more))
        for side, more in ((lows, 0), (highs, inside))
    ]
    return Ends(*ends, *(error + order.cell for error in errors))


def _error_of(order: Sorted | Grid, rank: int) -> float:
    """Return half the distance between the ranks one binomial standard deviation below and above."""
    spread = max(math.ceil(math.sqrt(rank * (1.0 - rank / order.count))), 1)
    below, above = max(rank - spread, 1), min(rank + spread, order.count)
    return (order.at(above) - order.at(below)) * spread / (above - below)


class Trials:
    """The trials of a run, kept or counted.

    Parameters
    ----------
    level : float
        Level of confidence of the intervals; a grid is laid for it.
    expected : int
        Trials that may come.

    """

    def __init__(self, level: float, *, expected: int) -> None:
        self._level = level
        self._kept: Array = np.empty(min(expected, KEPT))
        self._filled = 0
        self._grid: Grid | None = None

    def add(self, values: Array) -> None:
        """Add a chunk of trials."""
        taken = values[: self._kept.size - self._filled]
        self._kept[self._filled : self._filled + taken.size] = taken
        self._filled += taken.size
        if taken.size < values.size:
            if self._grid is None:
                self._grid = Grid(self._kept, self._level)
                self._kept, self._filled = np.empty(0), 0
            self._grid.add(values[taken.size :])

    def order(self) -> Sorted | Grid:
        """Return the trials so far by rank."""
        return self._grid or Sorted(self._kept[: self._filled], self._level)
