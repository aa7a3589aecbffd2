"""What a certificate says of a piece of ware, in place of the limit of its class."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from assay.bench.certified import Drift, Repeatability, date_of, drift_since, u_of
from assay.errors import DataError, DomainError, Problems
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.plain import plain
from assay.units import Written, read

_ML = 1000.0
#: By which method what is known of a mark, and of a scale, is told apart.
OF_MARK, OF_SCALE = "error", "deviations"


class Corrected(Protocol):
    """What is known of the scale of one burette: its table of corrections, or a calibration by weighing."""

    @property
    def places(self) -> tuple[float, ...]:
        """Points of the scale between which it is interpolated, L, from zero on."""

    @property
    def date(self) -> str:
        """The day on which they were found."""

    def deviations(self, id_: str, label: str) -> tuple[Estimate, ...]:
        """Return the deviations at these points but zero, L, of the burette with this id and label."""

    @property
    def ageing(self) -> Drift | None:
        """What it may have changed since, at the last of these points."""

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about it."""


class Calibrated(Protocol):
    """What is known of one piece of ware itself: its own certificate, or a calibration by weighing."""

    def error(self, id_: str, label: str, nominal: float) -> Estimate:
        """Return true volume less nominal volume, L, of the ware with this id and label."""

    @property
    def of_one(self) -> Repeatability | None:
        """What single deliveries or fillings differ by, where it is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """A certificate of a one-mark pipette or a flask: its volume at 20 °C with an expanded uncertainty.

    Parameters
    ----------
    volume : str or quantity
        The volume found, such as ``"9.987 mL"``.
    expanded : str or quantity
        Its expanded uncertainty U, such as ``"0.006 mL"``.
    k : float, optional
        The coverage factor of U, as the certificate states it.
    level : float, optional
        Instead of k, the level of confidence of U: k is then that of a normal distribution, or of t with ``dof``.
    dof : float
        Degrees of freedom of U, where the certificate states them.
    date : str
        Its date, such as ``"2026-03-02"``: the id of what it says carries it, so a recalibration is another influence.
    number : str
        What the certificate is called, for the source column of the budget.
    drift : str or quantity, optional
        By how much the volume may have changed in a year, as a half-width; it needs ``used``. It is one influence for
        all days of use.
    used : str, optional
        The date on which the ware is used, for the drift since ``date``.
    repeatability : str or quantity, optional
        Standard deviation of one delivery or filling, where the certificate states it: the limit of a class has it in
        it, the volume of a certificate is a mean. It counts in a dilution, a flask that is made up, and a dose, and is
        flagged there if it is not stated; titrated aliquots show it by their titres.

    Raises
    ------
    DataError
        If neither or both of k and level are given, a date is missing or unreadable, or drift has no date of use.
    DomainError
        If the volume, U or k is not above zero, the repeatability is negative, U is a tenth of the volume or more, the
        degrees of freedom are below 1, or the ware was used before the certificate was written.

    References
    ----------
    [jcgm-100-2008] 4.3.3 (U over k) and 4.3.4 (U at a level of confidence).

    Examples
    --------
    >>> from assay import Pipette
    >>> known = Certificate(volume="9.987 mL", expanded="0.006 mL", k=2, date="2026-03-02", number="K 118")
    >>> Pipette("P10", capacity="10 mL", calibration=known).volume()
    <Estimate 'volume of pipette P10 (10 mL)': 0.0099870 L, u = 0.0000030 L, dof = ∞>

    """

    volume: Written
    expanded: Written
    k: float | None = None
    level: float | None = None
    dof: float = math.inf
    date: str
    number: str = ""
    drift: Written | None = None
    used: str | None = None
    repeatability: Written | None = None
    _volume: float = field(init=False, repr=False, compare=False)
    _u: float = field(init=False, repr=False, compare=False)
    _drift: Drift | None = field(init=False, repr=False, compare=False)
    _s: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read everything, so that a mistake shows at once."""
        problems = Problems()
        volume = problems.attempt(read, self.volume, "volume", argument="volume")
        expanded = problems.attempt(read, self.expanded, "volume", argument="expanded")
        problems.attempt(date_of, self.date, argument="date")
        stated = "0 mL" if self.repeatability is None else self.repeatability
        s = problems.attempt(read, stated, "volume", argument="repeatability")
        problems.raise_any()
        if s < 0.0:
            raise DomainError(
                "a standard deviation is not negative",
                argument="repeatability",
                given=str(self.repeatability),
                remedy="Drop the sign.",
            )
        if not volume > 0.0:
            raise DomainError("a volume is above zero", argument="volume", given=str(self.volume))
        object.__setattr__(self, "_volume", volume)
        object.__setattr__(self, "_u", u_of(expanded, self.expanded, volume, self.k, self.level, self.dof))
        object.__setattr__(self, "_drift", drift_since(self.drift, self.date, self.used))
        object.__setattr__(self, "_s", s)

    @property
    def of_one(self) -> Repeatability | None:
        """What single deliveries or fillings differ by, where it is stated."""
        if self.repeatability is None:
            return None
        return Repeatability(s=self._s, dof=math.inf, source=f"certificate {self.number} of {self.date}, repeatability")

    def error(self, id_: str, label: str, nominal: float) -> Estimate:
        """Return true volume less nominal volume, L, of the ware with this id and label."""
        if not abs(self._volume - nominal) < 0.1 * nominal:
            raise DomainError(
                f"this is far from the {nominal * _ML:g} mL of {label}",
                argument="volume",
                given=str(self.volume),
                remedy="Does the certificate belong to this piece of ware?",
            )
        found = Estimate.from_influence(
            Influence(
                id=f"{id_}/certificate/{self.date}",
                label=f"certificate of {label}",
                # Written decimals: their difference has no more digits than they have.
                value=round(self._volume - nominal, 12),
                u=self._u,
                dof=self.dof,
                source=f"certificate {self.number} of {self.date}".replace("  ", " "),
            ),
            name="volume_error",
        )
        return found if self._drift is None else self._drift.on(found, id_, label)


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionTable:
    """The certificate of a burette: corrections at points of its scale, interpolated between them.

    The correction at zero is nothing, as a delivered volume is counted from there; it need not be in the table. What
    the scale does between its points is known only by its limit of error, of its class or its ``tolerance``, and
    counts: it is nothing at a point, and large where points are further apart than a tenth of the capacity.

    Parameters
    ----------
    readings : sequence of str or quantity
        Points of the scale in increasing order, such as ``["10 mL", "20 mL", "30 mL"]``; the last must be the capacity
        for the whole scale to be usable.
    corrections : sequence of str or quantity
        True delivered volume from zero less reading, at each point.
    expanded : str or quantity
        Expanded uncertainty U of each correction.
    k : float, optional
        The coverage factor of U, as the certificate states it.
    level : float, optional
        Instead of k, the level of confidence of U.
    dof : float
        Degrees of freedom of U, where the certificate states them.
    correlation : float
        Correlation of any two corrections, 0 to below 1: they share balance, water and weights. One half if not stated
        (a choice of this library); a laboratory that states its budget lets you do better.
    date : str
        Its date: the id of what it says carries it.
    number : str
        What the certificate is called, for the source column of the budget.
    drift : str or quantity, optional
        By how much the correction at the last reading may have changed in a year, as a half-width, and at the others in
        proportion; it needs ``used``. It is one influence for all days of use.
    used : str, optional
        The date on which the burette is used, for the drift since ``date``.

    Raises
    ------
    DataError
        If readings and corrections do not agree in number, fewer than two are given, readings do not increase or one
        stands twice, a date is missing, neither or both of k and level are given, or drift has no date of use.
    DomainError
        If a correction is more than a tenth of its reading, U or k is not above zero, U is a tenth of the largest
        reading or more, the correlation is out of range, or the burette was used before the certificate was written.

    References
    ----------
    common practice: corrections are interpolated linearly between the calibrated points. [jcgm-100-2008] 4.3.3 (U over
    k) and F.1.2 (correlation by what is shared).

    Examples
    --------
    >>> from assay import Burette
    >>> table = CorrectionTable(
    ...     readings=["10 mL", "25 mL", "50 mL"],
    ...     corrections=["0.012 mL", "0.020 mL", "-0.010 mL"],
    ...     expanded="0.010 mL",
    ...     k=2,
    ...     date="2026-03-02",
    ... )
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", calibration=table)
    >>> round(burette.titre("25.00 mL").volume().value * 1000, 3)
    25.02

    """

    readings: Sequence[Written]
    corrections: Sequence[Written]
    expanded: Written
    k: float | None = None
    level: float | None = None
    dof: float = math.inf
    correlation: float = 0.5
    date: str
    number: str = ""
    drift: Written | None = None
    used: str | None = None
    _points: tuple[tuple[float, float], ...] = field(init=False, repr=False, compare=False)
    _u: float = field(init=False, repr=False, compare=False)
    _drift: Drift | None = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read everything, so that a mistake shows at once."""
        for argument in ("readings", "corrections"):
            given: object = getattr(self, argument)
            if isinstance(given, str) or not isinstance(given, Iterable):
                raise DataError(
                    "this is a list, one for each point of the scale",
                    argument=argument,
                    given=str(given),
                    remedy=f"Write {argument}=['10 mL', '25 mL', '50 mL']."
                    if argument == "readings"
                    else f"Write {argument}=['0.012 mL', '0.020 mL', '-0.010 mL'].",
                )
        problems = Problems()
        places = [problems.attempt(read, written, "volume", argument="readings") for written in self.readings]
        found = [problems.attempt(read, written, "volume", argument="corrections") for written in self.corrections]
        expanded = problems.attempt(read, self.expanded, "volume", argument="expanded")
        problems.attempt(date_of, self.date, argument="date")
        problems.raise_any()
        self._check(places, found)
        object.__setattr__(self, "readings", tuple(self.readings))
        object.__setattr__(self, "corrections", tuple(self.corrections))
        object.__setattr__(self, "_points", tuple((r, c) for r, c in zip(places, found, strict=True) if r > 0.0))
        object.__setattr__(self, "_u", u_of(expanded, self.expanded, places[-1], self.k, self.level, self.dof))
        object.__setattr__(self, "_drift", drift_since(self.drift, self.date, self.used))

    def _check(self, places: Sequence[float], found: Sequence[float]) -> None:
        if len(places) != len(found):
            raise DataError(
                f"{len(places)} readings have {len(found)} corrections",
                argument="corrections",
                given=", ".join(map(str, self.corrections)),
                remedy="Give one correction for each reading, in the same order.",
            )
        if len([place for place in places if place > 0.0]) < 2:  # noqa: PLR2004  (one point says nothing of a scale)
            raise DataError(
                "a table of corrections has two points above zero or more",
                argument="readings",
                given=", ".join(map(str, self.readings)),
                remedy="For a burette that was checked at one volume, state tolerance='… mL' instead.",
            )
        if any(later <= earlier for earlier, later in itertools.pairwise(places)) or places[0] < 0.0:
            raise DataError(
                "the readings of a table of corrections increase from zero, each once",
                argument="readings",
                given=", ".join(map(str, self.readings)),
                remedy="Sort them together with their corrections.",
            )
        for place, correction, written in zip(places, found, self.corrections, strict=True):
            if abs(correction) > 0.1 * place:
                raise DomainError(
                    f"the correction at {place * _ML:g} mL is more than a tenth of it"
                    if place
                    else "the correction at zero is nothing: a delivered volume is counted from there",
                    argument="corrections",
                    given=str(written),
                    remedy="A correction is delivered volume less reading, such as '0.012 mL'.",
                )
        if not 0.0 <= plain(self.correlation, argument="correlation") < 1.0:
            raise DomainError(
                "the correlation of two corrections is 0 or more and below 1",
                argument="correlation",
                given=self.correlation,
                remedy="Leave it out if the certificate does not say.",
            )

    @property
    def places(self) -> tuple[float, ...]:
        """Points of the scale between which it is interpolated, L, from zero on."""
        return (0.0, *(place for place, _ in self._points))

    @property
    def ageing(self) -> Drift | None:
        """What it may have changed since its date, at its last reading."""
        return self._drift

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about it: none."""
        return ()

    def deviations(self, id_: str, label: str) -> tuple[Estimate, ...]:
        """Return the deviations at these points but zero, L, of the burette with this id and label."""
        variance = self._u**2
        size = range(len(self._points))
        joint = Joint(
            id=f"{id_}/certificate/{self.date}",
            label=f"certificate of {label}",
            member_ids=tuple(f"{id_}/certificate/{self.date}/{place * _ML:.6g} mL" for place, _ in self._points),
            values=tuple(correction for _, correction in self._points),
            covariance=tuple(tuple(variance * (1.0 if i == j else self.correlation) for j in size) for i in size),
            dof=self.dof,
            source=f"certificate {self.number} of {self.date}".replace("  ", " "),
        )
        return tuple(Estimate.from_influence(member, name="lower_knot_error") for member in joint.members())


def check_calibration(calibration: object, tolerance: Written | None, method: str, *, material: str) -> None:
    """Refuse a certificate of another kind of ware, one of another material, or a limit beside one of a mark.

    Raises
    ------
    DataError
        If it is so.

    """
    if calibration is None:
        return
    if not hasattr(calibration, method):
        raise DataError(
            "this is not the certificate of such a piece of ware",
            argument="calibration",
            given=type(calibration).__name__,
            remedy="A burette takes a CorrectionTable or what calibrate_burette() gives; a pipette or a flask a "
            "Certificate or what calibrate() gives.",
        )
    stated = getattr(calibration, "material", material)
    if stated != material:
        raise DataError(
            "it was calibrated as ware of another material, which expands otherwise",
            argument="material",
            given=material,
            expected=str(stated),
            remedy="State the same material for the ware and for its calibration.",
        )
    if tolerance is not None and method == OF_MARK:
        raise DataError(
            "a certificate stands in place of a limit of error: give one of the two",
            argument="tolerance",
            given=str(tolerance),
            remedy="Leave the tolerance out.",
        )
