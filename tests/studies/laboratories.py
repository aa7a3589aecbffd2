"""Simulated laboratories for the coverage study: what is true, and what is read.

Everything here is drawn by numpy alone. Volumes are in mL. A laboratory owns one burette, one pipette for aliquots, one
for the dilution and two flasks; it standardises thiosulfate with the burette and the pipette, and assays a drum with
the same.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy import special

from assay.metrology.shapes import Array, Generator

CAPACITY = 50.0
TAKEN, FLASK = 10.0, 250.0
# Class limits, mL, written out here: ISO 385 (50 mL), ISO 648 (10 mL), ISO 1042 (250 mL).
LIMITS = {
    "A": {"burette": 0.05, "taken": 0.02, "flask": 0.15},
    "B": {"burette": 0.10, "taken": 0.04, "flask": 0.30},
}
WAVES = 8


class Cell(NamedTuple):
    """A kind of laboratory."""

    accuracy_class: str
    shape: str  # of glass errors: triangular or rectangular
    sigma: float  # repeatability of one titre, mL
    step: float  # to which readings are made, mL
    zeroed: bool  # set to zero each time, or starts at random
    n: int  # titres of the standard, and of the sample
    blank: bool  # one for each, or none

    def told(self) -> str:
        """Return it in words."""
        return (
            f"class {self.accuracy_class} {self.shape:11} scatter {self.sigma:5.3f} step {self.step:4.2f} "
            f"{'zeroed' if self.zeroed else 'random'} n {self.n} {'blank   ' if self.blank else 'no blank'}"
        )


class Readings(NamedTuple):
    """Final and initial readings, mL, of shape (runs, n); initial ones are None from a burette set to zero."""

    final: Array
    initial: Array | None

    @property
    def titres(self) -> Array:
        """Titres by the scale."""
        return self.final if self.initial is None else self.final - self.initial

    def of(self, rows: Array) -> Readings:
        """Return those of some runs."""
        return Readings(self.final[rows], None if self.initial is None else self.initial[rows])


class Drawn(NamedTuple):
    """What was read in each run, and the strength of the drum over what error-free glass and titres would give."""

    standard: Readings
    sample: Readings
    standard_blank: Readings | None
    sample_blank: Readings | None
    # True sample concentration over the true concentration of the standard solution as weighed into an exact flask.
    true_ratio: Array

    def of(self, rows: Array) -> Drawn:
        """Return what was drawn for some runs."""
        blanks = (None if blank is None else blank.of(rows) for blank in (self.standard_blank, self.sample_blank))
        return Drawn(self.standard.of(rows), self.sample.of(rows), *blanks, self.true_ratio[rows])


class _Scale:
    """The error of a burette: for each run a smooth function of the reading, of random shape, zero at zero."""

    def __init__(self, generator: Generator, cell: Cell, runs: int) -> None:
        self.limit = LIMITS[cell.accuracy_class]["burette"]
        self.rectangular = cell.shape == "rectangular"
        # A tenth of the capacity is what the library assumes; here it is that, to a factor of two.
        self.length = 0.1 * CAPACITY * 2.0 ** generator.uniform(-1.0, 1.0, (runs, 1))
        self.rates = generator.standard_normal((WAVES, runs, 1)) / self.length
        self.parts = generator.standard_normal((2, WAVES, runs, 1)) / np.sqrt(WAVES)
        self.at_zero = self._wave(np.zeros((runs, 1)))

    def _wave(self, reading: Array) -> Array:
        total = np.zeros(reading.shape)
        for rate, a, b in zip(self.rates, *self.parts, strict=True):
            total += a * np.cos(rate * reading) + b * np.sin(rate * reading)
        even: Array = 2.0 * special.ndtr(total) - 1.0  # rectangular between -1 and 1 at any reading
        return even

    def error(self, reading: Array) -> Array:
        """Return true volume less volume by the scale from zero to a reading."""
        if self.rectangular:
            # Nothing at zero, and rectangular within the limit from a place on that is half a length above it: the
            # library assumes the same, at a twentieth of the capacity.
            return self.limit * self._wave(reading) * np.clip(2.0 * reading / self.length, 0.0, 1.0)
        # Triangular within the limit: the difference of two deviations, each rectangular within half of it.
        return 0.5 * self.limit * (self._wave(reading) - self.at_zero)


def _constant(generator: Generator, cell: Cell, piece: str, runs: int) -> Array:
    limit = LIMITS[cell.accuracy_class][piece]
    if cell.shape == "rectangular":
        return generator.uniform(-limit, limit, runs)
    return generator.triangular(-limit, 0.0, limit, runs)


def _read(generator: Generator, cell: Cell, scale: _Scale, volume: Array, n: int) -> Readings:
    """Return readings of n titrations that each need a volume really delivered."""
    shape = (volume.size, n)
    start = np.zeros(shape) if cell.zeroed else generator.uniform(0.0, 5.0, shape)
    needed = volume[:, None] + cell.sigma * generator.standard_normal(shape)
    end = start + needed
    end -= scale.error(end) - scale.error(start)
    final = np.maximum(np.round(end / cell.step) * cell.step, 0.0)
    if cell.zeroed:
        return Readings(final, None)
    return Readings(np.maximum(final, np.round(start / cell.step) * cell.step), np.round(start / cell.step) * cell.step)


def draw(generator: Generator, cell: Cell, runs: int, *, n: int | None = None) -> Drawn:
    """Return readings and truth of many laboratories of one kind."""
    n = cell.n if n is None else n
    scale = _Scale(generator, cell, runs)
    taken = TAKEN + _constant(generator, cell, "taken", runs)
    of_standard = FLASK + _constant(generator, cell, "flask", runs)
    of_sample = FLASK + _constant(generator, cell, "flask", runs)
    standard, sample = generator.uniform(20.0, 28.0, (2, runs))
    empty = generator.uniform(0.15, 0.35, (2, runs)) if cell.blank else np.zeros((2, runs))
    # The same pipette takes both aliquots: its error cancels in the truth, and must cancel in the result.
    # An aliquot of standard needs `standard`, one of the sample `sample`: 6 n_standard = C V and 2 n_sample = C V.
    of_aliquots = 3.0 * sample / standard  # concentration of the diluted sample over that of the standard solution
    true_ratio = of_aliquots * (FLASK / of_standard) * (of_sample / taken)
    return Drawn(
        _read(generator, cell, scale, standard + empty[0], n),
        _read(generator, cell, scale, sample + empty[1], n),
        _read(generator, cell, scale, empty[0], 1) if cell.blank else None,
        _read(generator, cell, scale, empty[1], 1) if cell.blank else None,
        true_ratio,
    )
