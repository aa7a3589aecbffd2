"""A scale that is known at points: corrections that are interpolated, and what it may do between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assay.bench.certificates import Corrected
from assay.bench.certified import far_from_class
from assay.bench.scale import KnottedScale, Limit, Scale, as_rows, interpolated, knots_within, shares_of_knots
from assay.errors import DomainError
from assay.flags import Flag
from assay.kernels.replicates import sum_from_values
from assay.kernels.volume import drifted_error_from_volume_error, scale_error_from_point
from assay.metrology.batch import evaluate_batch
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.metrology.joint import Joint
from assay.metrology.shapes import Array

_ML = 1000.0
#: Places of a scale that are nearer to each other than this share of it are one.
_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class CertifiedScale:
    """Deviation of a scale whose corrections are known at points.

    Between them they are interpolated. What the scale does there besides is known only by its limit of error: it is
    what a scale within that limit, alike as one that is not certified, differs by from a line between its own
    deviations at these points. It is nothing at the points, and far from any of them as large as the limit lets it be:
    a certificate with few points says little of what lies between.

    Parameters
    ----------
    id : str
        The path under which the ware is known.
    label : str
        What a person calls it.
    known : certificate or calibration
        What is known of its points.
    points : tuple of Estimate [L]
        The deviations there, of which the first is nothing, at zero.
    beyond : KnottedScale
        What the scale does besides.
    flags : tuple of Flag
        Doubts about it.

    References
    ----------
    common practice: corrections are interpolated linearly. The law of the deviations between them is that of `Burette`,
    a model of this library.

    """

    id: str
    label: str
    known: Corrected
    points: tuple[Estimate, ...]
    beyond: KnottedScale
    flags: tuple[Flag, ...] = ()

    @classmethod
    def of(cls, id_: str, label: str, known: Corrected, *, largest: float, limit: Limit, shape: str) -> CertifiedScale:
        """Return the scale of ware with this id and label, of its largest reading, L, and its limit of error.

        Raises
        ------
        DomainError
            If a point lies beyond the scale.

        """
        if known.places[-1] > largest * (1.0 + _SAME):
            raise DomainError(
                f"the scale of {label} ends before the last of its points",
                argument="calibration",
                given=f"{known.places[-1] * _ML:g} mL",
                expected=f"points up to {largest * _ML:g} mL",
                remedy="Does the certificate belong to this piece of ware?",
            )
        zero = Estimate.exactly(0.0, name="lower_knot_error", label=f"deviation of {label} at zero")
        deviations = known.deviations(id_, label)
        far = [
            flag
            for place, deviation in zip(known.places[1:], deviations, strict=True)
            for flag in far_from_class(label, deviation.value, limit[0](place), at=f" at {place * _ML:g} mL")
        ]
        return cls(
            id=id_,
            label=label,
            known=known,
            points=(zero, *deviations),
            flags=(*known.flags, *far),
            beyond=_beyond(id_, label, known, largest=largest, limit=limit, shape=shape),
        )

    @property
    def last(self) -> float:
        """The reading up to which it is known, L."""
        return self.known.places[-1]

    def error(self, reading: float) -> Estimate:
        """Return the deviation at a reading, L."""
        found = interpolated(self.points, self.known.places, reading, self.label)
        beyond = self.beyond.error(reading)
        if beyond.u > 0.0:
            found = evaluate(sum_from_values, found, beyond, name="final_scale_error", label=found.label)
        found = found.flagged(*self.flags)
        if self.known.ageing is None:
            return found
        return self.known.ageing.on(found, self.id, self.label, share=reading / self.last)

    def error_of_rows(self, readings: Array, path: str) -> EstimateBatch:
        """Return the deviations at many readings, L, known under a path."""
        found = self.beyond.error_of_rows(readings, path)
        shares = shares_of_knots(self.known.places, readings)
        for k, point in enumerate(self.points[1:], 1):
            found = evaluate_batch(
                scale_error_from_point,
                name="final_scale_error",
                label=f"deviation of {self.label}",
                flags=self.flags,
                scale_error=found,
                point_deviation=point,
                point_share=shares[:, k],
            )
        ageing = self.known.ageing
        if ageing is None:
            return found
        return evaluate_batch(
            drifted_error_from_volume_error,
            name="final_scale_error",
            label=found.label,
            volume_error=found,
            yearly_drift=ageing.of(self.id, self.label),
            elapsed_years=ageing.years,
            share_of_scale=readings / self.last,
        )


def _beyond(id_: str, label: str, known: Corrected, *, largest: float, limit: Limit, shape: str) -> KnottedScale:
    """Return what a scale within a limit differs by from a line between its own deviations at points."""
    knots, covariance = knots_within(largest, limit, shape)
    points = np.array(known.places)
    inside = [knot for knot in knots if knot <= points[-1] and np.min(np.abs(points - knot)) > _SAME * largest]
    places = np.array(sorted([*points, *inside]))
    # The deviations at all places and at the points follow from those at the knots; so does their difference.
    apart = shares_of_knots(knots, places) - shares_of_knots(known.places, places) @ shares_of_knots(knots, points)
    left = apart @ covariance @ apart.T
    nothing = np.isin(places, points)
    left[nothing, :] = left[:, nothing] = 0.0  # but for rounding
    joint = Joint(
        id=f"{id_}/between the points of {known.date}",
        label=f"{label} between its calibrated points",
        member_ids=tuple(f"{id_}/between the points of {known.date}/{place * _ML:.6g} mL" for place in places),
        values=(0.0,) * places.size,
        covariance=as_rows((left + left.T) / 2.0),
        source=f"{limit[1]}, less what the points say",
    )
    return KnottedScale(label=f"{label} between its points", joint=joint, places=tuple(map(float, places)))


def scale_of(id_: str, label: str, known: Corrected | None, *, largest: float, limit: Limit, shape: str) -> Scale:
    """Return the scale of ware by what is known of its points, if anything is, and by its limit of error."""
    if known is None:
        return KnottedScale.within(id_, label, largest=largest, limit=limit, shape=shape)
    return CertifiedScale.of(id_, label, known, largest=largest, limit=limit, shape=shape)
