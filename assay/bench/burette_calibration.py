"""Calibrate your own burette: from weighings of water at points of its scale to corrections with a budget."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from assay.bench.air import Air
from assay.bench.calibration import calibrate
from assay.bench.certified import Drift, check_same_ware, drift_since
from assay.bench.temperature import Temperature
from assay.bench.weighing import Weighing
from assay.display.numbers import plus_minus
from assay.display.rows import Rows, html, latex, text
from assay.errors import DataError, DomainError
from assay.flags import Flag, merged
from assay.kernels.volume import volume_error_from_volume
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.units import Written, read

_ML = 1000.0
#: Readings nearer to each other than this share of them are one.
_SAME = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class BuretteCalibration:
    """What weighings of water say of the scale of a burette; made by `calibrate_burette`.

    Parameters
    ----------
    readings : tuple of float [L]
        The points of the scale, above zero and increasing.
    volumes : tuple of Estimate [L]
        What was delivered from zero to each of them, at 20 °C.
    date : str
        When it was done; the ids of what it says carry it.
    material : str
        What the burette was said to be made of: it holds for one of that material.
    flags : tuple of Flag
        ``few-weighings`` if a point has fewer than ten.
    ageing : Drift, optional
        What it may have changed since, at the last point.
    ware : str
        Name of the burette.

    References
    ----------
    [iso-4787-2010] gravimetric testing, from memory; common practice: interpolation between the points.

    Examples
    --------
    The example of `calibrate_burette` shows one.

    >>> from assay import Air, Balance, Temperature
    >>> balance = Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")
    >>> weighed = {
    ...     "25 mL": [balance.by_difference("74.90 g", "50.00 g"), balance.by_difference("74.91 g", "50.00 g")],
    ...     "50 mL": [balance.by_difference("99.86 g", "50.00 g"), balance.by_difference("99.85 g", "50.00 g")],
    ... }
    >>> water = Temperature("21.0 °C", half_width="0.5 K", day="2026-11-10")
    >>> [round(1000 * x, 3) for x in calibrate_burette("B1", weighed, water=water, air=Air(), date="2026-11-10").places]
    [0.0, 25.0, 50.0]

    """

    readings: tuple[float, ...]
    volumes: tuple[Estimate, ...]
    date: str
    material: str = "borosilicate"
    flags: tuple[Flag, ...] = ()
    ageing: Drift | None = None
    ware: str

    @property
    def places(self) -> tuple[float, ...]:
        """Points of the scale between which it is interpolated, L, from zero on."""
        return (0.0, *self.readings)

    def found(self) -> tuple[Estimate, ...]:
        """Return what was found: the volume at 20 °C delivered to each reading, L."""
        return self.volumes

    def rows(self, level: float = 0.95) -> Rows:
        """Return the correction at each reading with its U as rows of text."""
        title = f"burette, calibrated on {self.date}: delivered volume less reading at 20 °C, U at {100 * level:g} %"
        body = tuple(
            (f"{r * _ML:g} mL", plus_minus((v.value - r) * _ML, v.expanded(level) * _ML, "mL"))
            for r, v in zip(self.readings, self.volumes, strict=True)
        )
        return Rows(title=title, head=("reading", "correction"), body=body)

    def __str__(self) -> str:
        return "\n".join([*(f"! {flag}" for flag in self.flags), text(self.rows())])

    def __repr__(self) -> str:
        told = ", ".join(f"{reading * _ML:g} mL" for reading in self.readings)
        return f"<BuretteCalibration of {self.date} at {told}>"

    def _repr_html_(self) -> str:
        return html(self.rows())

    def _repr_latex_(self) -> str:
        return latex(self.rows())

    def deviations(self, id_: str, label: str) -> tuple[Estimate, ...]:
        """Return the deviations at these points but zero, L, of the burette with this id and label.

        They share the balance, the water and the air among them, and with all else that was weighed so.
        """
        check_same_ware(self.ware, id_, label)
        return tuple(
            evaluate(
                volume_error_from_volume,
                name="volume_error",
                label=f"{label} at {reading * _ML:.6g} mL, calibrated on {self.date}",
                volume=volume,
                nominal_volume=reading,
            )
            for reading, volume in zip(self.readings, self.volumes, strict=True)
        )


def calibrate_burette(
    name: str,
    weighings: Mapping[str, Sequence[Weighing]],
    *,
    water: Temperature,
    air: Air,
    date: str,
    material: str = "borosilicate",
    evaporation: Written | None = None,
    drift: Written | None = None,
    used: str | None = None,
) -> BuretteCalibration:
    """Return the corrections of a burette from what it delivered of water from zero to points of its scale.

    Parameters
    ----------
    name : str
        What the laboratory calls it.
    weighings : mapping of str to sequence of Weighing
        For each reading to which it was run out from zero, such as ``"25 mL"``, two weighings or more; two readings or
        more. Beyond the largest it cannot be used.
    water, air, date, material, evaporation
        As for `calibrate`.
    drift, used
        As for `CorrectionTable`.

    Returns
    -------
    BuretteCalibration
        What `Burette` takes as its ``calibration``.

    Raises
    ------
    DataError, DomainError
        As for `calibrate`; or if there are fewer than two readings, or a delivery is a tenth off its reading.
    UnitError
        If a reading has no unit.

    References
    ----------
    [iso-4787-2010] gravimetric testing, from memory.

    Examples
    --------
    >>> from assay import Air, Balance, Burette, Temperature
    >>> balance = Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")
    >>> weighed = {
    ...     "25 mL": [balance.by_difference("74.940 g", "50.000 g"), balance.by_difference("74.950 g", "50.000 g")],
    ...     "50 mL": [balance.by_difference("99.860 g", "50.000 g"), balance.by_difference("99.850 g", "50.000 g")],
    ... }
    >>> water = Temperature("21.0 °C", half_width="0.5 K", day="2026-11-10")
    >>> found = calibrate_burette("B1", weighed, water=water, air=Air(day="2026-11-10"), date="2026-11-10")
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", calibration=found)
    >>> round(burette.titre("25.00 mL").volume().value * 1000, 3)
    25.021

    """
    points = _points(weighings)
    found = [
        calibrate(
            f"burette {name} to {1000.0 * reading:g} mL", weighings[written], water=water, air=air, date=date,
            material=material, evaporation=evaporation,
        )
        for reading, written in points
    ]  # fmt: skip
    for (reading, written), one in zip(points, found, strict=True):
        if abs(one.volume.value - reading) > 0.1 * reading:
            raise DomainError(
                f"what was delivered is a tenth off, or more: {one.volume.value * _ML:.4g} mL",
                argument="weighings",
                given=written,
                remedy="Are the readings exchanged, or was it not run out from zero?",
            )
    return BuretteCalibration(
        readings=tuple(reading for reading, _ in points),
        volumes=tuple(one.volume for one in found),
        date=date,
        material=material,
        flags=merged(one.flags for one in found),
        ageing=drift_since(drift, date, used),
        ware=name,
    )


def _points(weighings: Mapping[str, Sequence[Weighing]]) -> list[tuple[float, str]]:
    """Return the readings to which it was run out, L, as numbers and as written."""
    given: object = weighings
    if not isinstance(given, Mapping):
        raise DataError(
            "the weighings of a burette stand by the reading to which it was run out",
            argument="weighings",
            given=type(given).__name__,
            remedy="Write {'25 mL': [balance.by_difference(…), …], '50 mL': […]}.",
        )
    points = sorted((read(written, "volume", argument="reading"), written) for written in weighings)
    if len(points) < 2 or points[0][0] <= 0.0:  # noqa: PLR2004  (one point says nothing of a scale)
        raise DataError(
            "a burette is calibrated at two readings above zero or more",
            argument="weighings",
            given=", ".join(map(str, weighings)),
            remedy="Run it out from zero to several points, the last of them its capacity.",
        )
    for (lower, one), (upper, other) in pairwise(points):
        if upper - lower < _SAME * upper:
            raise DataError(
                "one reading stands twice",
                argument="weighings",
                given=f"{one}, {other}",
                remedy="Put all weighings at one reading together.",
            )
    return points
