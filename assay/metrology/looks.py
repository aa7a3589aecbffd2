"""Several looks at one series of replicates: how often intervals that each hold alone all hold together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

import numpy as np
from scipy import optimize, special

from assay.metrology.shapes import Array

#: Cells between the limits, and beyond each of them.
_CELLS, _BEYOND = 240, 30


def share_missing(looks: Sequence[int], miss: float, *, sides: int = 2) -> float:
    """Return how often t-intervals of one growing series of normal values do not all hold the mean.

    Each is stated from the first so many values alone, and would by itself miss with the probability ``miss``. It is
    the chance of an error for one who stops at the worst moment. The mean of n normal values over their root mean
    square is a Markov chain, whose steps are known: the n values are a direction that is uniform on a sphere, and one
    value more turns it by an angle that does not depend on the way before. The chain is integrated on an even grid of
    the probability of t, to about 3e-4.

    Parameters
    ----------
    looks : sequence of int
        Numbers of values at which an interval is stated, rising, the first 2 or more.
    miss : float
        Probability, above 0 and below 1, of missing at one look.
    sides : int
        2 for intervals, 1 for limits on one side.

    References
    ----------
    [pocock-1977] for constant levels at several looks, from memory; [armitage-1969] for how often unplanned looks err,
    from memory. The chain for t is worked out here.

    Examples
    --------
    >>> round(share_missing([3], 0.05), 3), round(share_missing([3, 4, 5, 6, 7, 8, 9, 10], 0.05), 2)
    (0.05, 0.17)

    """
    below = 0.5 * miss if sides == 2 else miss  # noqa: PLR2004  (both sides)
    edges = np.concatenate([
        np.linspace(0.0, below, _BEYOND, endpoint=False), np.linspace(below, 1.0 - below, _CELLS, endpoint=False),
        np.linspace(1.0 - below, 1.0, _BEYOND + 1),
    ])  # fmt: skip
    middles = 0.5 * (edges[1:] + edges[:-1])
    held = middles < 1.0 - below
    if sides == 2:  # noqa: PLR2004  (both sides)
        held &= middles > below
    chance: Array = np.where(held, np.diff(edges), 0.0)
    for first, last in pairwise(looks):
        for n in range(first, last):
            chance = chance @ _turned(n, edges, middles)
        chance = np.where(held, chance, 0.0)
    return float(1.0 - chance.sum())


def _turned(n: int, edges: Array, middles: Array) -> Array:
    """Return the chance of each cell after n + 1 values, from the middle of each cell after n."""
    start = math.sqrt(n) * _cosine(n, middles)[:, None]
    end = math.sqrt(n + 1.0) * _cosine(n + 1, edges)[None, :]
    # start cos(phi) + sin(phi) = reach sin(phi + lead), where phi is the angle of the new value to the old ones.
    reach, lead = np.sqrt(1.0 + start * start), np.arctan(start)
    a = np.arcsin(np.clip(end / reach, -1.0, 1.0))
    below = _angle(n, a - lead) - _angle(n, -math.pi - a - lead) + 1.0 - _angle(n, math.pi - a - lead)
    cells: Array = np.diff(below, axis=1)
    return cells


def _cosine(n: int, probability: Array) -> Array:
    """Return quantiles of the cosine between a uniform direction in n dimensions and a fixed one."""
    found: Array = 2.0 * special.betaincinv(0.5 * (n - 1), 0.5 * (n - 1), probability) - 1.0
    return found


def _angle(n: int, phi: Array) -> Array:
    """Return the distribution function of the angle of a direction in n + 1 dimensions to n of them."""
    sine = np.sin(np.clip(phi, -0.5 * math.pi, 0.5 * math.pi))
    found: Array = special.betainc(0.5 * n, 0.5 * n, 0.5 * (1.0 + sine))
    return found


@lru_cache(maxsize=64)
def miss_at_each(looks: tuple[int, ...], miss: float, *, sides: int = 2) -> float:
    """Return what each look may miss, so that all together miss with the stated probability: the same for each.

    References
    ----------
    [pocock-1977] for the design, from memory; computed for t by `share_missing`.

    Examples
    --------
    >>> 0.05 / 3 < miss_at_each((3, 5, 8), 0.05) < 0.05
    True

    """
    if len(looks) == 1:
        return miss
    # Together they miss at least as often as one, and at the most as often as all of them one by one.
    return float(
        optimize.brentq(
            lambda each: share_missing(looks, each, sides=sides) - miss, miss / len(looks), miss, xtol=1e-4 * miss
        )
    )
