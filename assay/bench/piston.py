"""Piston pipettes and piston burettes: a systematic error that stays, and a random one that is new in each delivery."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from math import inf
from typing import ClassVar, cast

from assay.bench.burette import Burette
from assay.bench.certificates import OF_MARK, OF_SCALE, Calibrated, Corrected, check_calibration
from assay.bench.certified import far_from_class
from assay.bench.certified_scale import scale_of
from assay.bench.scale import Limit, Scale, own_limit
from assay.bench.setting import SetVolume, delivery_scatter, set_to
from assay.bench.temperature import material_of
from assay.bench.ware import check_shape, piston_limits, read_above_zero
from assay.errors import DataError, DomainError, Problems
from assay.kernels.replicates import sum_from_values
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.units import Written, read

_ML = 1000.0
#: The smallest volume to which a piston pipette is set, over its capacity (common practice).
SMALLEST = 0.1


@dataclass(frozen=True)
class PistonPipette:
    """A piston pipette of one channel, fixed or adjustable.

    Its systematic error is the same whenever it is set to the same volume, rectangular within a limit that holds at
    every volume, and less alike the further apart two volumes lie, as with a `Burette`. Its random error is new in each
    delivery: it is counted in a dilution and in a dose, and not in titrated aliquots, whose titres show it.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity : str or quantity
        Nominal capacity, such as ``"1000 µL"``.
    subdivision : str or quantity, optional
        The step to which an adjustable one is set, such as ``"5 µL"``; leave it out for one of fixed volume.
    standard : str, optional
        Edition of the standard, ``"ISO 8655-2:2002"`` if none is named.
    tolerance : str or quantity, optional
        Your own limit of the systematic error instead of that of the standard.
    repeatability : str or quantity, optional
        Your own standard deviation of one delivery instead of the random error of the standard.
    shape : str
        Distribution of the systematic error: ``"rectangular"``, or ``"triangular"`` where something speaks for small
        errors; see `Burette`.
    material : str
        What its tip is made of, for the effect of temperature; see `Burette`.
    calibration : Certificate, CorrectionTable or calibration by weighing, optional
        What is known of this very pipette, in place of the limit of the standard: at its capacity, or by a table of
        corrections along its scale.

    Raises
    ------
    DataError
        If the standard has no such pipette, or a limit of error is given beside a certificate.
    DomainError
        If a volume is not above zero, or the subdivision is above the capacity.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [iso-8655-2-2002] systematic and random error, mostly from memory; that the limit of the capacity holds at every
    volume that can be set was read in a guide to pipetting. [eichordnung-1988] Anlage 12, no. 11.1: one limit for both.

    Examples
    --------
    >>> pipette = PistonPipette("E1000", capacity="1000 µL", subdivision="5 µL")
    >>> half = pipette.measure("500 µL")
    >>> round(1e6 * half.volume().u, 2), round(1e6 * half.new_in_each("dilution").u, 2)
    (4.62, 3.0)

    """

    name: str | None = None
    capacity: Written = field(kw_only=True)
    subdivision: Written | None = field(default=None, kw_only=True)
    standard: str | None = field(default=None, kw_only=True)
    tolerance: Written | None = field(default=None, kw_only=True)
    repeatability: Written | None = field(default=None, kw_only=True)
    shape: str = field(default="rectangular", kw_only=True)
    material: str = field(default="polypropylene", kw_only=True)
    calibration: Calibrated | Corrected | None = field(default=None, kw_only=True)

    def __post_init__(self) -> None:
        """Read every argument and look the errors up, so that a mistake shows at once."""
        problems = Problems()
        problems.attempt(material_of, self.material)
        problems.attempt(check_shape, self.shape)
        kind = OF_MARK if self._corrected is None else OF_SCALE
        problems.attempt(check_calibration, self.calibration, self.tolerance, kind, material=self.material)
        read_above_zero(problems, self, "capacity", "subdivision", "tolerance", "repeatability")
        problems.raise_any()
        if self.step > self.end:
            raise DomainError(
                "a step is not above the capacity",
                argument="subdivision",
                given=str(self.subdivision),
                expected=f"{self.end * _ML:g} mL or less",
            )
        self.volume_error(self.largest)  # evaluated now: an unknown capacity is refused here
        self.setting_error(1)  # the same

    @cached_property
    def id(self) -> str:
        """The path under which its influences are known."""
        if self.name is None:
            return fresh_id("piston pipette")
        return f"piston pipette/{path_part(self.name, argument='name')}"

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"piston pipette {'without a name' if self.name is None else self.name}"

    @cached_property
    def end(self) -> float:
        """Nominal capacity, L."""
        return read(self.capacity, "volume", argument="capacity")

    @cached_property
    def largest(self) -> float:
        """Largest volume of one filling, L: the capacity, or the last point of its certificate."""
        return min(self.end, self._scale.last) if self._corrected is not None else self.end

    @cached_property
    def step(self) -> float:
        """The step to which it is set, L: its capacity, if that is fixed or alone was calibrated."""
        return (
            self.end
            if self.subdivision is None or self._at_capacity
            else read(self.subdivision, "volume", argument="subdivision")
        )

    @property
    def _at_capacity(self) -> bool:
        """Whether it was calibrated at its capacity alone."""
        return self.calibration is not None and self._corrected is None

    @property
    def _corrected(self) -> Corrected | None:
        """What is known of its scale, if its certificate is not for the capacity alone."""
        return cast("Corrected", self.calibration) if hasattr(self.calibration, OF_SCALE) else None

    @cached_property
    def _scale(self) -> Scale:
        return scale_of(self.id, self.label, self._corrected, largest=self.end, limit=self._limit(), shape=self.shape)

    def _limit(self) -> Limit:
        if self.tolerance is not None:
            return own_limit(self.tolerance)
        return _systematic("piston pipette", self.end, self.standard)

    @cached_property
    def _random(self) -> tuple[float, str]:
        return _random_error("piston pipette", self.end, self.standard, self.repeatability)

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less set volume of one delivery, L."""
        if self.calibration is None or self._corrected is not None:
            return self._scale.error(filling)
        found = cast("Calibrated", self.calibration).error(self.id, self.label, self.end)
        limit = inf
        with suppress(DataError):  # of a size that no standard has, no limit is known
            limit = self._limit()[0](self.end)
        return found.flagged(*far_from_class(self.label, found.value, limit))

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the random error of a number of deliveries together, L: each is new."""
        of_one = None if self._corrected is not None else getattr(self.calibration, "of_one", None)
        if of_one is None or self.repeatability is not None:
            s, source = self._random
            return delivery_scatter(self.id, self.label, s=s, source=source, fills=fills, record=record)
        return delivery_scatter(
            self.id, self.label, s=of_one.s, dof=of_one.dof, source=of_one.source, fills=fills, record=record
        )

    def measure(self, volume: Written) -> SetVolume:
        """Return what it delivers when it is set to a volume, such as ``"500 µL"``, as an aliquot."""
        found = set_to(self, volume, least=self.end * (1.0 if self.subdivision is None else SMALLEST))
        if self._at_capacity and abs(found.nominal - self.end) > 1e-9 * self.end:
            raise DomainError(
                f"{self.label} was calibrated at its capacity alone",
                argument="volume",
                given=str(volume),
                expected=f"{self.end * _ML:g} mL",
                remedy="Set it to that, give a CorrectionTable with several points, or leave the certificate out.",
            )
        return found


@dataclass(frozen=True)
class PistonBurette(Burette):
    """A piston burette: read as a `Burette` is, with the systematic error of the standard for its limit.

    Its random error is in the scatter of the titres; it is counted in a dose, and in a dilution that it measures.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity, subdivision : str or quantity
        Nominal capacity and the step of its display, such as ``"50 mL"`` and ``"0.01 mL"``.
    accuracy_class : str
        Empty: piston ware has no classes.
    standard : str, optional
        Edition of the standard, ``"ISO 8655-3:2002"`` if none is named.
    read_to : str or quantity, optional
        The step to which it is read; that of the display if not stated.
    tolerance : str or quantity, optional
        Your own limit of the systematic error instead of that of the standard.
    shape : str
        ``"rectangular"``, or ``"triangular"`` where something speaks for small errors; see `Burette`.
    material : str
        What its cylinder is made of, for the effect of temperature; see `Burette`.
    calibration : CorrectionTable or calibration by weighing, optional
        What is known of this very burette, in place of the limit of the standard.
    repeatability : str or quantity, optional
        Your own standard deviation of one delivery instead of the random error of the standard.

    Raises
    ------
    DataError
        If the standard has no such burette, or a limit of error is given beside a certificate.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [iso-8655-3-2002] systematic and random error, from memory. [eichordnung-1988] Anlage 12, no. 11.1: one limit.

    Examples
    --------
    >>> burette = PistonBurette("T20", capacity="20 mL", subdivision="0.01 mL")
    >>> burette.titre("12.00 mL").volume()
    <Estimate 'titre of 12 mL on piston burette T20': 0.012000 L, u = 0.000023 L, dof = ∞>

    """

    accuracy_class: str = field(init=False, default="", repr=False)
    repeatability: Written | None = field(default=None, kw_only=True)
    _item: ClassVar[str] = "piston burette"

    def __post_init__(self) -> None:
        """Read the repeatability besides."""
        problems = Problems()
        read_above_zero(problems, self, "repeatability")
        problems.raise_any()
        super().__post_init__()

    @cached_property
    def step(self) -> float:
        """The step to which it is read and set, L: that of its display."""
        return self.division if self.read_to is None else read(self.read_to, "volume", argument="read_to")

    def _known_limit(self) -> Limit:
        return _systematic(self._item, self.end, self.standard)

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the error of stopping at a step and the random error of a number of fillings, L."""
        s, source = _random_error(self._item, self.end, self.standard, self.repeatability)
        random = delivery_scatter(self.id, self.label, s=s, source=source, fills=fills, record=record)
        setting = super().setting_error(fills, record)
        return evaluate(
            sum_from_values, setting, random, name="setting_error", label=f"setting and delivery of {self.label}"
        )


def _systematic(item: str, capacity: float, standard: str | None) -> Limit:
    limits = piston_limits(item, capacity=capacity, standard=standard)
    return lambda _: limits.systematic, limits.source


def _random_error(item: str, capacity: float, standard: str | None, own: Written | None) -> tuple[float, str]:
    """Return the standard deviation of one delivery, L, and where it is from."""
    if own is not None:
        s = read(own, "volume", argument="repeatability")
        return s, f"own repeatability, s = {s * _ML:g} mL"
    try:
        limits = piston_limits(item, capacity=capacity, standard=standard)
    except DataError:
        raise DataError(
            "the standard deviation of one delivery is not known for this size",
            argument="repeatability",
            given="nothing",
            remedy="State repeatability='… mL' from its certificate, beside the tolerance.",
        ) from None
    return limits.random, limits.random_source
