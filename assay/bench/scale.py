"""The scale of ware that is read or set: its deviation as a random function of the reading, within a limit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from assay.flags import Flag
from assay.kernels.value import Value
from assay.kernels.volume import scale_error_from_knots
from assay.metrology.batch import evaluate_batch
from assay.metrology.batch_terms import RowMember
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.shapes import Array
from assay.units import Written, read

_ML = 1000.0

#: Distance along the scale over which the deviation loses its correlation, over the capacity, and the spacing of the
#: knots between which it is interpolated. A model assumption, on the short side: a longer one would let unequal titres
#: cancel more and give small titres less than the class limit allows.
CORRELATION_LENGTH = 0.1
KNOT_SPACING = 0.05

#: The limit of error at a volume, L, of a volume, L, and where it is from.
Limit = tuple[Callable[[float], float], str]


class Scale(Protocol):
    """Deviation of a scale along its readings."""

    @property
    def last(self) -> float:
        """The reading up to which it is known, L."""

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about it."""

    def error(self, reading: float) -> Estimate:
        """Return the deviation at a reading, L."""

    def error_of_rows(self, readings: Array, path: str) -> EstimateBatch:
        """Return the deviations at many readings, L, known under a path."""


@dataclass(frozen=True, kw_only=True)
class KnottedScale:
    """A scale whose deviation is one joint at its knots, and linear between them.

    Parameters
    ----------
    label : str
        What a person calls the ware.
    joint : Joint
        The deviations at the knots.
    places : tuple of float [L]
        The knots, from zero on.

    """

    label: str
    joint: Joint
    places: tuple[float, ...]

    @classmethod
    def within(cls, id_: str, label: str, *, largest: float, limit: Limit, shape: str = "rectangular") -> KnottedScale:
        """Return a scale of which the limit of error is known: see `Burette`."""
        places, covariance = knots_within(largest, limit, shape)
        joint = Joint(
            id=f"{id_}/calibration",
            label=f"calibration of {label}",
            member_ids=tuple(f"{id_}/calibration/{place * _ML:.6g} mL" for place in places),
            values=(0.0,) * len(places),
            covariance=as_rows(covariance),
            shape="rectangular",
            source=limit[1],
        )
        return cls(label=label, joint=joint, places=places)

    @property
    def last(self) -> float:
        """The reading up to which it is known, L."""
        return self.places[-1]

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about it: none."""
        return ()

    @cached_property
    def _knots(self) -> tuple[Estimate, ...]:
        members: tuple[Influence, ...] = self.joint.members()
        return tuple(Estimate.from_influence(member, name="lower_knot_error") for member in members)

    def error(self, reading: float) -> Estimate:
        """Return the deviation at a reading, L."""
        return interpolated(self._knots, self.places, reading, self.label)

    def error_of_rows(self, readings: Array, path: str) -> EstimateBatch:
        """Return the deviations at many readings, L, known under a path."""
        lower, weight = between(self.places, readings)
        places = np.clip(lower, 0, None).astype(np.int64)  # a reading below zero has a code, and needs no knot
        return evaluate_batch(
            scale_error_from_knots,
            name="final_scale_error",
            label=f"deviation of {self.label}",
            lower_knot_error=RowMember(id=f"{self.joint.id}/{path}/lower", joint=self.joint, places=places),
            upper_knot_error=RowMember(id=f"{self.joint.id}/{path}/upper", joint=self.joint, places=places + 1),
            upper_knot_weight=weight,
        )


def knots_within(largest: float, limit: Limit, shape: str) -> tuple[tuple[float, ...], Array]:
    """Return the knots of a scale within a limit of error, L, and the covariance of its deviations there, L²."""
    most, _ = limit
    count = round(1.0 / KNOT_SPACING) + 1
    places = tuple(float(place) for place in np.linspace(0.0, largest, count))
    from_zero = shape == "rectangular"  # the error itself, and not a deviation of which it is the difference
    shares = [most(place) * (1.0 if from_zero else 0.5) for place in places]
    covariance = np.array([
        [
            0.0 if from_zero and not i * j else shares[i] * shares[j] / 3.0 * _correlation((i - j) * KNOT_SPACING)
            for j in range(count)
        ]
        for i in range(count)
    ])  # fmt: skip
    return places, covariance


def as_rows(covariance: Array) -> tuple[tuple[float, ...], ...]:
    """Return a matrix as a joint keeps it."""
    return tuple(tuple(map(float, row)) for row in covariance)


def interpolated(knots: Sequence[Estimate], places: Sequence[float], reading: float, label: str) -> Estimate:
    """Return a deviation between those at knots, L."""
    place, weight = between(places, reading)
    lower = int(place)
    if weight < 1e-9:  # noqa: PLR2004  (on a knot, to rounding)
        return knots[lower]
    return evaluate(
        scale_error_from_knots,
        name="final_scale_error",
        label=f"deviation of {label} at {reading * _ML:.6g} mL",
        lower_knot_error=knots[lower],
        upper_knot_error=knots[lower + 1],
        upper_knot_weight=float(weight),
    )


def between(places: Sequence[float], readings: Value) -> tuple[Value, Value]:
    """Return the number of the place below a reading [L], and how far above it the reading lies, 0 to 1."""
    knots = np.array(places)
    # A reading that is a knot but for its last bits is that knot.
    lower = np.clip(np.searchsorted(knots, readings + 1e-9 * knots[-1], side="right") - 1, 0, knots.size - 2)
    return lower, np.clip((readings - knots[lower]) / (knots[lower + 1] - knots[lower]), 0.0, 1.0)


def shares_of_knots(places: Sequence[float], readings: Array) -> Array:
    """Return by how much the deviation at each place counts at each reading, of shape (readings, places)."""
    lower, weight = (np.asarray(part) for part in between(places, readings))
    shares = np.zeros((readings.size, len(places)))
    rows = np.arange(readings.size)
    shares[rows, lower] = 1.0 - weight
    shares[rows, lower + 1] += weight
    return shares


def own_limit(tolerance: Written) -> Limit:
    """Return a limit of error that the user states, the same at every volume."""
    own = read(tolerance, "volume", argument="tolerance")
    return lambda _: own, f"own limit of error, ±{own * _ML:g} mL"


def _correlation(distance: float) -> float:
    """Return the correlation of two rectangular deviations with normal scores of Gaussian correlation along the scale.

    The relation between the two correlations is that of `Joint`.
    """
    scores = math.exp(-0.5 * (distance / CORRELATION_LENGTH) ** 2)
    return 6.0 / math.pi * math.asin(scores / 2.0)
