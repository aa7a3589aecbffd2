"""One-mark pipettes, volumetric flasks and measuring cylinders."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace
from math import inf

from assay.bench.certificates import OF_MARK, Calibrated, check_calibration
from assay.bench.certified import far_from_class
from assay.bench.setting import SetVolume, delivery_scatter, once, set_to, setting_error
from assay.bench.temperature import material_of
from assay.bench.ware import check_shape, class_row, class_source, limits_class
from assay.errors import DataError, DomainError, Problems
from assay.flags import Flag
from assay.kernels.volume import volume_from_nominal
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.units import Written, read

_ML = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Marked:
    """What is known of the volume at a mark: an influence, and what the thing is called."""

    id: str
    label: str
    capacity: float
    tolerance: float
    source: str
    shape: str
    calibration: Calibrated | None = None
    flags: tuple[Flag, ...] = ()

    def error(self) -> Estimate:
        """Return true volume less nominal volume as an estimate."""
        if self.calibration is not None:
            return self.calibration.error(self.id, self.label, self.capacity).flagged(*self.flags)
        return Estimate.from_influence(
            Influence.within(
                f"{self.id}/calibration",
                label=f"calibration of {self.label}",
                half_width=self.tolerance,
                shape=self.shape,
                source=self.source,
            ),
            name="volume_error",
        )

    def new_in_each(self, record: str, *, fills: int = 1) -> Estimate | None:
        """Return what is new in each delivery or filling, L, together; ``None`` where it belongs to the limit."""
        if self.calibration is None:
            return None
        of_one = self.calibration.of_one
        if of_one is None:
            told = f"Of {self.label} its certificate says the mean: what one filling differs by is not counted."
            unstated = Estimate.exactly(0.0, name="setting_error", label=f"repeatability of {self.label}, not stated")
            return unstated.flagged(Flag(code="repeatability-unstated", message=told))
        return delivery_scatter(
            self.id, self.label, s=of_one.s, dof=of_one.dof, source=of_one.source, fills=fills, record=record
        )

    def volume(self) -> Estimate:
        """Return the volume at the mark as an estimate."""
        return evaluate(
            volume_from_nominal,
            name="volume",
            label=f"volume of {self.label}",
            nominal_volume=self.capacity,
            volume_error=self.error(),
        )


def _marked(item: str, kind: str, ware: Pipette | Flask | Cylinder) -> _Marked:
    """Return what is known of the mark of a piece of ware, from what is written on the glass."""
    problems = Problems()
    problems.attempt(material_of, ware.material)
    problems.attempt(limits_class, ware.accuracy_class, item)
    volume = problems.attempt(read, ware.capacity, "volume", argument="capacity")
    own = None if ware.tolerance is None else problems.attempt(read, ware.tolerance, "volume", argument="tolerance")
    shape = problems.attempt(check_shape, ware.shape)
    division = 0.0
    if isinstance(ware, Cylinder):
        division = problems.attempt(read, ware.subdivision, "volume", argument="subdivision")
    if not isinstance(ware, Cylinder):
        problems.attempt(check_calibration, ware.calibration, ware.tolerance, OF_MARK, material=ware.material)
    problems.raise_any()
    if volume <= 0.0:
        raise DomainError("a capacity is above zero", argument="capacity", given=str(ware.capacity))
    if isinstance(ware, Cylinder) and not 0.0 < division <= volume:
        raise DomainError(
            "a division is above zero and within the capacity", argument="subdivision", given=str(ware.subdivision)
        )
    id_ = fresh_id(kind) if ware.name is None else f"{kind}/{path_part(ware.name, argument='name')}"
    label = f"{kind} {'without a name' if ware.name is None else ware.name} ({volume * _ML:g} mL)"
    if not isinstance(ware, Cylinder) and ware.calibration is not None:
        mark = _Marked(
            id=id_,
            label=label,
            capacity=volume,
            tolerance=0.0,
            source="certificate",
            shape="normal",
            calibration=ware.calibration,
        )
        found = mark.error()  # a certificate of another volume is refused here
        return replace(mark, flags=far_from_class(label, found.value, _limit_of_class(item, ware, volume)))
    if own is not None:
        if not 0.0 <= own < volume:
            raise DomainError(
                "a tolerance is not negative and less than the capacity",
                argument="tolerance",
                given=str(ware.tolerance),
            )
        source = f"own tolerance, ±{own * _ML:g} mL"
        return _Marked(id=id_, label=label, capacity=volume, tolerance=own, source=source, shape=shape)
    row = class_row(
        item,
        capacity=volume,
        accuracy_class=ware.accuracy_class,
        standard=ware.standard,
        subdivision=division or None,
    )
    tolerance = float(row.half_width or 0.0) / _ML
    source = class_source(row)
    return _Marked(id=id_, label=label, capacity=volume, tolerance=tolerance, source=source, shape=shape)


def _limit_of_class(item: str, ware: Pipette | Flask, capacity: float) -> float:
    """Return the limit of error of the class of calibrated ware, L; none where its size is in no table."""
    with suppress(DataError):
        row = class_row(item, capacity=capacity, accuracy_class=ware.accuracy_class, standard=ware.standard)
        return float(row.half_width or 0.0) / _ML
    return inf


@dataclass(frozen=True, slots=True)
class Pipette:
    """A one-mark pipette: the same name is the same influence wherever it is used.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity : str or quantity
        Nominal capacity, such as ``"10 mL"``.
    accuracy_class : str
        ``"A"`` or ``"B"``; unmarked glass counts as B (common practice).
    standard : str, optional
        Edition of the standard; ``"ISO 648:2008"`` if none is named.
    tolerance : str or quantity, optional
        Your own half-width instead of the class tolerance.
    shape : str
        Distribution of the error within the tolerance: ``"rectangular"``, or ``"triangular"`` where something speaks
        for small errors, such as a record of calibrations.
    material : str
        What it is made of, for the effect of temperature; see `Burette`.
    calibration : Certificate or calibration by weighing, optional
        What is known of this very pipette, in place of the limit of its class.

    Raises
    ------
    DataError
        If the standard has no such pipette.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [jcgm-100-2008] 4.3.7: where limits are all that is known, rectangular, u = a/√3. [eurachem-cg4] Example A3 argues
    for a triangle, u = a/√6, for which the user then answers.

    Examples
    --------
    >>> Pipette("P10", capacity="10 mL", accuracy_class="B").volume()
    <Estimate 'volume of pipette P10 (10 mL)': 0.010000 L, u = 0.000023 L, dof = ∞>

    """

    name: str | None = None
    capacity: Written = field(kw_only=True)
    accuracy_class: str = field(default="B", kw_only=True)
    standard: str | None = field(default=None, kw_only=True)
    tolerance: Written | None = field(default=None, kw_only=True)
    shape: str = field(default="rectangular", kw_only=True)
    material: str = field(default="borosilicate", kw_only=True)
    calibration: Calibrated | None = field(default=None, kw_only=True)
    _mark: _Marked = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look the tolerance up."""
        object.__setattr__(self, "_mark", _marked("one-mark pipette", "pipette", self))

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self._mark.label

    def volume(self) -> Estimate:
        """Return the delivered volume, L."""
        return self._mark.volume()

    def new_in_each(self, record: str) -> Estimate | None:
        """Return what is new in a single delivery, L: it belongs to the class tolerance, but not to a certificate."""
        return self._mark.new_in_each(record)

    @property
    def step(self) -> float:
        """Smallest step in which it dispenses, L: whole fillings."""
        return self._mark.capacity

    @property
    def largest(self) -> float:
        """Largest volume of one filling, L."""
        return self._mark.capacity

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less nominal volume of one filling, L."""
        del filling  # a one-mark pipette has one volume
        return self._mark.error()

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the error of setting the meniscus, L: it belongs to the class tolerance, but not to a certificate."""
        exactly = Estimate.exactly(0.0, name="setting_error", label=f"setting of {self.label}")
        return self._mark.new_in_each(record, fills=fills) or exactly


@dataclass(frozen=True, slots=True)
class Flask:
    """A volumetric flask: the same name is the same influence wherever it is used.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity : str or quantity
        Nominal capacity, such as ``"250 mL"``.
    accuracy_class : str
        ``"A"`` or ``"B"``.
    standard : str, optional
        Edition of the standard; ``"ISO 1042:1998"`` if none is named.
    tolerance : str or quantity, optional
        Your own half-width instead of the class tolerance.
    shape : str
        Distribution of the error within the tolerance: ``"rectangular"``, or ``"triangular"`` where something speaks
        for small errors, such as a record of calibrations.
    material : str
        What it is made of, for the effect of temperature; see `Burette`.
    calibration : Certificate or calibration by weighing, optional
        What is known of this very flask, in place of the limit of its class.

    Raises
    ------
    DataError
        If the standard has no such flask.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [jcgm-100-2008] 4.3.7: where limits are all that is known, rectangular, u = a/√3. [eurachem-cg4] Example A1 argues
    for a triangle, u = a/√6, for which the user then answers.

    Examples
    --------
    >>> Flask("F250", capacity="250 mL", accuracy_class="A").volume()
    <Estimate 'volume of flask F250 (250 mL)': 0.250000 L, u = 0.000087 L, dof = ∞>

    """

    name: str | None = None
    capacity: Written = field(kw_only=True)
    accuracy_class: str = field(default="B", kw_only=True)
    standard: str | None = field(default=None, kw_only=True)
    tolerance: Written | None = field(default=None, kw_only=True)
    shape: str = field(default="rectangular", kw_only=True)
    material: str = field(default="borosilicate", kw_only=True)
    calibration: Calibrated | None = field(default=None, kw_only=True)
    _mark: _Marked = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look the tolerance up."""
        object.__setattr__(self, "_mark", _marked("volumetric flask", "flask", self))

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self._mark.label

    def volume(self) -> Estimate:
        """Return the contained volume, L, but for what is new in each filling."""
        return self._mark.volume()

    def new_in_filling(self, record: str) -> Estimate | None:
        """Return what is new in a single filling, L: it belongs to the class tolerance, but not to a certificate."""
        return self._mark.new_in_each(record)

    def filled_once(self, record: str) -> Estimate:
        """Return the volume of a single filling, L, known under the path of a record."""
        return once(self.volume(), self.new_in_filling(record))


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A graduated measuring cylinder, for dispensing.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it.
    capacity, subdivision : str or quantity
        Nominal capacity and the value of one scale division, such as ``"250 mL"`` and ``"2 mL"``.
    accuracy_class : str
        ``"A"`` or ``"B"``.
    standard : str, optional
        Edition of the standard; ``"ISO 4788:2005"`` if none is named.
    tolerance : str or quantity, optional
        Your own half-width instead of the class tolerance.
    shape : str
        Distribution of the error within the tolerance: ``"rectangular"``, or ``"triangular"`` where something speaks
        for small errors.
    material : str
        What it is made of, for the effect of temperature; see `Burette`.

    Raises
    ------
    DataError
        If the standard has no such cylinder.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [iso-4788-2005] limits of error; [jcgm-100-2008] 4.3.7: where limits are all that is known, rectangular. The
    meniscus is set to a graduation within half a division (common practice).

    Examples
    --------
    >>> Cylinder("C250", capacity="250 mL", subdivision="2 mL").step
    0.002

    """

    name: str | None = None
    capacity: Written = field(kw_only=True)
    subdivision: Written = field(kw_only=True)
    accuracy_class: str = field(default="B", kw_only=True)
    standard: str | None = field(default=None, kw_only=True)
    tolerance: Written | None = field(default=None, kw_only=True)
    shape: str = field(default="rectangular", kw_only=True)
    material: str = field(default="borosilicate", kw_only=True)
    _mark: _Marked = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look the tolerance up."""
        object.__setattr__(self, "_mark", _marked("measuring cylinder", "cylinder", self))

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self._mark.label

    @property
    def step(self) -> float:
        """Smallest step to which it is set, L: one division."""
        return read(self.subdivision, "volume", argument="subdivision")

    @property
    def largest(self) -> float:
        """Largest volume of one filling, L."""
        return self._mark.capacity

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less set volume of one filling, L: the class limit holds at every graduation."""
        del filling
        return self._mark.error()

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the error of setting the meniscus in a number of fillings, L."""
        return setting_error(self._mark.id, self.label, half_step=self.step / 2.0, fills=fills, record=record)

    def measure(self, volume: Written) -> SetVolume:
        """Return what it delivers when it is filled to a graduation, such as ``"50 mL"``, as an aliquot."""
        return set_to(self, volume)
