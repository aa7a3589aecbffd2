"""What common practice states in a simulated laboratory, for the coverage study."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass

import laboratories as lab
import numpy as np

from assay.metrology.shapes import Array

#: The normal factor, whatever the number of titres.
NORMAL = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What one way to state 95 % gave in a cell: share of runs that held the truth, and mean half-width."""

    held: float
    width: float

    @classmethod
    def of(cls, error: Array, half: Array) -> Found:
        """Return it from relative errors and half-widths."""
        return cls(held=float(np.mean(error <= half)), width=float(np.mean(half)))


def by_common_practice(drawn: lab.Drawn, error: Array) -> Found:
    """Return what mean ± 1.96 s/√n of the titres of the sample gives, all else taken as true."""
    titres = drawn.sample.titres
    blank = 0.0 if drawn.sample_blank is None else drawn.sample_blank.titres[:, 0]
    half = NORMAL * titres.std(axis=1, ddof=1) / math.sqrt(titres.shape[1]) / (titres.mean(axis=1) - blank)
    return Found.of(error, half)


def concordant(cell: lab.Cell, runs: int, *, most: int = 8, within: float = 0.10) -> tuple[Found, float]:
    """Return what averaging the first three titres that agree gives as mean ± 1.96 s/√3, and how many were titrated.

    Titrating goes on until some three agree within 0.10 mL, for sample and for standard; after eight, the nearest three
    are taken.
    """
    generator = np.random.default_rng([20261126, zlib.crc32(cell.told().encode())])
    drawn = lab.draw(generator, cell, runs, n=most)
    means, half, count = [], np.zeros(runs), np.zeros(runs)
    for readings, blank in ((drawn.standard, drawn.standard_blank), (drawn.sample, drawn.sample_blank)):
        chosen, counted = _chosen(readings.titres, within)
        empty = 0.0 if blank is None else blank.titres[:, 0]
        means.append(chosen.mean(axis=1) - empty)
        half = NORMAL * chosen.std(axis=1, ddof=1) / math.sqrt(3.0) / means[-1]
        count = counted
    value = 3.0 * means[1] / means[0] / lab.TAKEN * lab.FLASK
    error = np.abs(value / drawn.true_ratio - 1.0)
    return Found.of(error, half), float(count.mean())


def _chosen(titres: Array, within: float) -> tuple[Array, Array]:
    """Return the three titres that are averaged, and how many it took to find them."""
    runs, most = titres.shape
    chosen, counted = np.zeros((runs, 3)), np.zeros(runs)
    for n in range(3, most + 1):
        ordered = np.sort(titres[:, :n], axis=1)
        ranges = ordered[:, 2:] - ordered[:, :-2]
        best = ranges.argmin(axis=1)
        agree = (ranges.min(axis=1) <= within + 1e-9) | (n == most)
        new = agree & (counted == 0)
        rows = np.flatnonzero(new)
        for k in range(3):
            chosen[rows, k] = ordered[rows, best[rows] + k]
        counted[rows] = n
    return chosen, counted
