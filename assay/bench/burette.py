"""Burettes: readings, and an error that is a function of the delivered volume."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import ClassVar

from assay.bench.certificates import OF_SCALE, Corrected, check_calibration
from assay.bench.certified_scale import scale_of
from assay.bench.marks import marks
from assay.bench.scale import Limit, Scale, own_limit
from assay.bench.setting import SetVolume, set_to, setting_error
from assay.bench.temperature import material_of
from assay.bench.ware import check_shape, class_row, class_source, limits_class, read_above_zero
from assay.errors import DataError, DomainError, Problems
from assay.kernels.replicates import sum_from_values
from assay.kernels.volume import delivered_volume_from_readings
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.units import Written, read

_ML = 1000.0


@dataclass(frozen=True)
class Burette:
    """A burette: the same name is the same influence wherever it is used.

    The deviation G of the scale is a random function of the reading. G is rectangular within the limit of error ±a and
    nothing at zero, from where it grows in proportion up to the first knot, a twentieth of the capacity. So the error
    of a volume from zero is zero for a volume of zero and rectangular with u = a/√3 at the knots from there on, up to
    3 % less between them. It is shared by titres that end in the same part of the scale, and less correlated the
    further apart they end, over a tenth of the capacity. It does not cancel when a blank or an initial reading is
    subtracted.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity, subdivision : str or quantity
        Nominal capacity and the value of one scale division, such as ``"50 mL"`` and ``"0.1 mL"``.
    accuracy_class : str
        ``"A"`` or ``"B"``; unmarked glass counts as B (common practice).
    standard : str, optional
        Edition of the standard; ``"ISO 385:2005"`` if none is named.
    read_to : str or quantity, optional
        The step to which it is read; half a division if not stated (common practice).
    tolerance : str or quantity, optional
        Your own limit of error instead of the class limit; beside a calibration, of what the scale does between its
        points.
    shape : str
        Distribution of the error of a large volume: ``"rectangular"``, u = a/√3, as above; or ``"triangular"``,
        u = a/√6, where something speaks for small errors, such as a record of calibrations: then G is rectangular
        within ±a/2 everywhere, and the error of a volume is the difference of two such deviations, within ±a.
    material : str
        What it is made of, for the effect of temperature: ``"borosilicate"``, ``"soda-lime"``, ``"polypropylene"`` or
        ``"polymethylpentene"``.
    calibration : CorrectionTable or calibration by weighing, optional
        What is known of this very burette at points of its scale. Between them the limit of its class holds the rest.

    Raises
    ------
    DataError
        If the standard has no such burette.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [iso-385-2005] The limit of error holds at any point of the scale and for the difference between any two (from
    memory). [jcgm-100-2008] 4.3.7: where limits are all that is known, rectangular. [eurachem-cg4] Example A2 argues
    for a triangle, for which the user then answers: where the glass is rectangular, intervals are then too short.

    Examples
    --------
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="B")
    >>> burette.titre("0.00 mL", "24.35 mL").volume()
    <Estimate 'titre of 24.35 mL on burette B1': 0.024350 L, u = 0.000056 L, dof = ∞>

    """

    name: str | None = None
    capacity: Written = field(kw_only=True)
    subdivision: Written = field(kw_only=True)
    accuracy_class: str = field(default="B", kw_only=True)
    standard: str | None = field(default=None, kw_only=True)
    read_to: Written | None = field(default=None, kw_only=True)
    tolerance: Written | None = field(default=None, kw_only=True)
    shape: str = field(default="rectangular", kw_only=True)
    material: str = field(default="borosilicate", kw_only=True)
    calibration: Corrected | None = field(default=None, kw_only=True)
    #: What it is called in the tables, in ids and by people; ware with another scale overrides it.
    _item: ClassVar[str] = "burette"

    def __post_init__(self) -> None:
        """Read every argument and look the tolerance up, so that a mistake shows at once."""
        problems = Problems()
        problems.attempt(material_of, self.material)
        if self.accuracy_class:  # piston ware and syringes have none
            problems.attempt(limits_class, self.accuracy_class, self._item)
        problems.attempt(check_shape, self.shape)
        problems.attempt(check_calibration, self.calibration, self.tolerance, OF_SCALE, material=self.material)
        read_above_zero(problems, self, "capacity", "subdivision", "read_to", "tolerance")
        problems.raise_any()
        if self.step > self.division:
            raise DomainError(
                f"a {self._item} is not read more coarsely than its division",
                argument="read_to",
                given=str(self.read_to),
                expected=f"{self.division * _ML:g} mL or less",
                remedy="Are read_to and subdivision exchanged?",
            )
        self.scale  # noqa: B018  (evaluated now: an unknown class or capacity is refused here)

    @cached_property
    def id(self) -> str:
        """The path under which its influences are known."""
        if self.name is None:
            return fresh_id(self._item)
        return f"{self._item}/{path_part(self.name, argument='name')}"

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"{self._item} {'without a name' if self.name is None else self.name}"

    @cached_property
    def end(self) -> float:
        """Nominal capacity, L."""
        return read(self.capacity, "volume", argument="capacity")

    @cached_property
    def division(self) -> float:
        """Value of one scale division, L."""
        return read(self.subdivision, "volume", argument="subdivision")

    @cached_property
    def step(self) -> float:
        """The step to which it is read and set, L."""
        return self.division / 2.0 if self.read_to is None else read(self.read_to, "volume", argument="read_to")

    @cached_property
    def scale(self) -> Scale:
        """Deviation along the scale: by its certificate, or within the limit of error and correlated."""
        return scale_of(self.id, self.label, self.calibration, largest=self.end, limit=self._limit(), shape=self.shape)

    def _limit(self) -> Limit:
        """Return the limit of error at a volume, L, and where it is from."""
        if self.tolerance is not None:
            return own_limit(self.tolerance)
        return self._known_limit()

    def _known_limit(self) -> Limit:
        row = class_row(
            self._item,
            capacity=self.end,
            accuracy_class=self.accuracy_class,
            standard=self.standard,
            subdivision=self.division,
        )
        limit = float(row.half_width or 0.0) / _ML
        return lambda _: limit, class_source(row)

    def scale_error(self, reading: float) -> Estimate:
        """Return the deviation of the scale at a reading, L."""
        return self.scale.error(reading)

    @cached_property
    def largest(self) -> float:
        """Largest reading, L: the capacity, or the last point of its certificate."""
        return min(self.end, self.scale.last)

    def delivered(self, initial: float, final: float) -> Estimate:
        """Return the volume really delivered between two readings, all in L."""
        return evaluate(
            delivered_volume_from_readings,
            name="delivered_volume",
            label=f"titre of {(final - initial) * _ML:.6g} mL on {self.label}",
            final_reading=final,
            initial_reading=initial,
            final_scale_error=self.scale_error(final),
            initial_scale_error=self.scale_error(initial),
        )

    def titre(
        self,
        initial: Written,
        final: Written | None = None,
        *,
        refilled: Sequence[tuple[Written, Written]] = (),
        rough: bool = False,
        void: str = "",
    ) -> Titre:
        """Return a titre from its readings.

        Parameters
        ----------
        initial, final : str or quantity
            Readings before the titration and at the end point. A single reading is the final one, from a burette set
            to zero.
        refilled : sequence of (initial, final)
            Further pairs of readings, where the burette had to be refilled before the end point.
        rough : bool
            Whether this is a trial run, kept apart from the titres that count.
        void : str
            The reason why it does not count, such as ``"overshot"``.

        Raises
        ------
        DomainError
            If a final reading is below the initial one, or a reading lies beyond the scale.

        Examples
        --------
        >>> b = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
        >>> b.titre("1.20 mL", "25.55 mL").nominal
        0.02435

        """
        pairs = [("0 mL", initial)] if final is None else [(initial, final)]
        problems = Problems()
        segments = [problems.attempt(self._segment, a, b) for a, b in [*pairs, *_pairs_of(refilled)]]
        problems.raise_any()
        return Titre(burette=self, segments=tuple(segments), **marks(rough=rough, void=void))

    def _segment(self, initial: Written, final: Written) -> tuple[float, float]:
        problems = Problems()
        start = problems.attempt(read, initial, "volume", argument="initial reading")
        end = problems.attempt(read, final, "volume", argument="final reading")
        problems.raise_any()
        for argument, written, reading in (("initial", initial, start), ("final", final, end)):
            if reading < 0.0:
                raise DomainError(
                    f"a {self._item} has no scale below zero.",
                    argument=f"{argument} reading",
                    given=str(written),
                    remedy="Check the sign and the reading.",
                )
            if reading > self.end * (1.0 + 1e-9):
                raise DomainError(
                    f"it lies beyond the {self.end * _ML:g} mL of {self.label}.",
                    argument=f"{argument} reading",
                    given=str(written),
                    remedy="If the burette was refilled before the end point, let this pair end where the refill began "
                    "and note the further pairs as refilled.",
                )
            if reading > self.largest * (1.0 + 1e-9):
                raise DomainError(
                    f"the table of corrections of {self.label} ends at {self.largest * _ML:g} mL.",
                    argument=f"{argument} reading",
                    given=str(written),
                    remedy="Have it calibrated up to its capacity, or leave the certificate out: the limit of its "
                    "class then holds.",
                )
        if end < start:
            raise DomainError(
                f"it lies below the initial reading, {initial}.",
                argument="final reading",
                given=str(final),
                remedy="Are the two exchanged? If the burette was refilled, note the further pairs as refilled.",
            )
        return start, end

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less set volume of one filling from zero, L."""
        return evaluate(
            delivered_volume_from_readings,
            name="volume_error",
            label=f"error of {self.label} at {filling * _ML:.4g} mL",
            final_reading=0.0,
            initial_reading=0.0,
            final_scale_error=self.scale_error(filling),
            initial_scale_error=self.scale_error(0.0),
        )

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the error of stopping at a reading in a number of fillings, L."""
        return setting_error(self.id, self.label, half_step=self.step / 2.0, fills=fills, record=record)

    def measure(self, volume: Written) -> SetVolume:
        """Return what is delivered from zero to a reading, such as ``"25.00 mL"``, as an aliquot."""
        return set_to(self, volume)


def _pairs_of(refilled: object) -> list[tuple[Written, Written]]:
    """Return the pairs of readings of a burette that was refilled."""
    listed = list(refilled) if isinstance(refilled, Iterable) and not isinstance(refilled, str) else [refilled]
    found = []
    for pair in listed:
        if not isinstance(pair, (tuple, list)) or len(pair) != 2:  # noqa: PLR2004  (before and after)
            raise DataError(
                "what was refilled is noted as pairs of readings",
                argument="refilled",
                given=str(pair),
                remedy="Write refilled=[('0.00 mL', '3.20 mL')].",
            )
        found.append((pair[0], pair[1]))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Titre:
    """Readings of one titration; made by `Burette.titre`.

    Parameters
    ----------
    burette : Burette
        The burette.
    segments : tuple of (initial, final) [L]
        Pairs of readings; more than one if it was refilled.
    rough : bool
        Whether it was a trial run.
    void : str
        The reason why it does not count; empty if it does.

    References
    ----------
    common practice: readings before and after, refilled where it is noted, and no titre dropped unseen.

    Examples
    --------
    >>> import assay
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> burette.titre("0.00 mL", "24.35 mL").shown
    '24.35 mL'

    """

    burette: Burette
    segments: tuple[tuple[float, float], ...]
    rough: bool = False
    void: str = ""

    @property
    def kept(self) -> bool:
        """Whether it counts."""
        return not self.rough and not self.void

    @property
    def nominal(self) -> float:
        """Volume by the scale, L."""
        # Decimal steps of a microlitre: the difference of two readings is the decimal that a person would write.
        return round(sum(final - initial for initial, final in self.segments), 9)

    @property
    def unit(self) -> str:
        """Unit of `nominal`."""
        return "L"

    @property
    def shown(self) -> str:
        """The titre as it is told in messages."""
        return f"{self.nominal * _ML:.6g} mL"

    @property
    def material(self) -> str:
        """What its burette is made of."""
        return self.burette.material

    @property
    def start(self) -> float:
        """The first initial reading, L."""
        return self.segments[0][0]

    def volume(self) -> Estimate:
        """Return the volume really delivered, L, before any doubt about the reading itself."""
        parts = [self.burette.delivered(initial, final) for initial, final in self.segments]
        if len(parts) == 1:
            return parts[0]
        return evaluate(
            sum_from_values,
            *parts,
            name="delivered_volume",
            label=f"titre of {self.nominal * _ML:.6g} mL on {self.burette.label}, refilled",
        )

    def measure(self, record: str, *, of: str = "titre") -> Estimate:
        """Return the volume really delivered, L; neither argument is needed, for the burette is known by its name."""
        del record, of
        return self.volume()

    def readings(self) -> str:
        """Return the readings as text that is the same for the same readings."""
        return ";".join(f"{initial!r}>{final!r}" for initial, final in self.segments)
