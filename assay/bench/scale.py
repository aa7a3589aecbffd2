"""The scale of ware that is read or set: its deviation as a random function of the reading."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from assay.bench.certificates import Corrected
from assay.bench.certified import Drift
from assay.flags import Flag
from assay.kernels.value import Value
from assay.kernels.volume import scale_error_from_knots
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.units import Written, read

_ML = 1000.0

#: Distance along the scale over which the deviation loses its correlation, over the capacity, and the spacing of the
#: knots between which it is interpolated. A model assumption, on the short side: a longer one would let unequal titres
#: cancel more and give small titres less than the class limit allows.
CORRELATION_LENGTH = 0.1
KNOT_SPACING = 0.05

#: The limit of error at a volume, L, of a volume, L, and where it is from.
Limit = tuple[Callable[[float], float], str]


@dataclass(frozen=True, kw_only=True)
class Scale:
    """Deviation of a scale at the points where it is known, and between them.

    Parameters
    ----------
    label : str
        What a person calls the ware.
    joint : Joint
        The deviations at the points.
    places : tuple of float [L]
        The points, from zero on.
    id : str
        The path under which the ware is known.
    ageing : Drift, optional
        What it may have changed since the deviations were found.
    flags : tuple of Flag
        Doubts about them.

    """

    label: str
    joint: Joint
    places: tuple[float, ...]
    id: str = ""
    ageing: Drift | None = None
    flags: tuple[Flag, ...] = ()

    @classmethod
    def within(cls, id_: str, label: str, *, largest: float, limit: Limit, shape: str = "rectangular") -> Scale:
        """Return a scale of which the limit of error is known: see `Burette`."""
        most, source = limit
        count = round(1.0 / KNOT_SPACING) + 1
        spacing = largest / (count - 1)
        places = tuple(float(place) for place in np.linspace(0.0, largest, count))
        from_zero = shape == "rectangular"  # the error itself, and not a deviation of which it is the difference
        shares = [most(place) * (1.0 if from_zero else 0.5) for place in places]
        joint = Joint(
            id=f"{id_}/calibration",
            label=f"calibration of {label}",
            member_ids=tuple(f"{id_}/calibration/{k * spacing * _ML:.6g} mL" for k in range(count)),
            values=(0.0,) * count,
            covariance=tuple(
                tuple(
                    0.0
                    if from_zero and not i * j
                    else shares[i] * shares[j] / 3.0 * _correlation((i - j) * KNOT_SPACING)
                    for j in range(count)
                )
                for i in range(count)
            ),
            shape="rectangular",
            source=source,
        )
        return cls(label=label, joint=joint, places=places)

    @classmethod
    def certified(cls, id_: str, label: str, calibration: Corrected) -> Scale:
        """Return a scale by its certificate."""
        return cls(
            label=label,
            joint=calibration.joint(id_, label),
            places=calibration.places,
            id=id_,
            ageing=calibration.ageing,
            flags=calibration.flags,
        )

    @cached_property
    def _knots(self) -> tuple[Estimate, ...]:
        members: tuple[Influence, ...] = self.joint.members()
        return tuple(Estimate.from_influence(member, name="lower_knot_error") for member in members)

    @cached_property
    def _points(self) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return np.array(self.places)

    def error(self, reading: float) -> Estimate:
        """Return the deviation at a reading, L."""
        found = self._interpolated(reading).flagged(*self.flags)
        return found if self.ageing is None else self.ageing.on(found, self.id, self.label, share=self.share(reading))

    def share(self, readings: Value) -> Value:
        """Return how far along the scale a reading [L] lies, 0 to 1."""
        return readings / self.places[-1]

    def _interpolated(self, reading: float) -> Estimate:
        place, weight = self.between(reading)
        lower = int(place)
        if weight < 1e-9:  # noqa: PLR2004  (on a knot, to rounding)
            return self._knots[lower]
        return evaluate(
            scale_error_from_knots,
            name="final_scale_error",
            label=f"deviation of {self.label} at {reading * _ML:.6g} mL",
            lower_knot_error=self._knots[lower],
            upper_knot_error=self._knots[lower + 1],
            upper_knot_weight=float(weight),
        )

    def between(self, readings: Value) -> tuple[Value, Value]:
        """Return the number of the point below a reading [L], and how far above it the reading lies, 0 to 1."""
        knots = self._points
        # A reading that is a knot but for its last bits is that knot.
        lower = np.clip(np.searchsorted(knots, readings + 1e-9 * knots[-1], side="right") - 1, 0, knots.size - 2)
        return lower, np.clip((readings - knots[lower]) / (knots[lower + 1] - knots[lower]), 0.0, 1.0)


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
