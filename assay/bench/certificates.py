"""What a certificate says of a piece of ware, in place of the limit of its class."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

from assay.errors import DataError, DomainError, Problems
from assay.kernels.replicates import sum_from_values
from assay.metrology.coverage import check_level, coverage_factor
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.units import Written, read

_ML = 1000.0
_YEAR = 365.25


class Corrected(Protocol):
    """What is known of the scale of one burette: its table of corrections, or a calibration by weighing."""

    @property
    def places(self) -> tuple[float, ...]:
        """Points of the scale between which it is interpolated, L, from zero on."""

    def joint(self, id_: str, label: str) -> Joint:
        """Return the deviations at these points as one joint, for the burette with this id and label."""


class Calibrated(Protocol):
    """What is known of one piece of ware itself: its own certificate, or a calibration by weighing."""

    def error(self, id_: str, label: str, nominal: float) -> Estimate:
        """Return true volume less nominal volume, L, of the ware with this id and label."""


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
        By how much the volume may have changed in a year, as a half-width; it needs ``used``.
    used : str, optional
        The date on which the ware is used, for the drift since ``date``.

    Raises
    ------
    DataError
        If neither or both of k and level are given, a date is missing or unreadable, or drift has no date of use.
    DomainError
        If U or k is not above zero, or the ware was used before the certificate was written.

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
    _volume: float = field(init=False, repr=False, compare=False)
    _u: float = field(init=False, repr=False, compare=False)
    _drift: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read everything, so that a mistake shows at once."""
        problems = Problems()
        volume = problems.attempt(read, self.volume, "volume", argument="volume")
        expanded = problems.attempt(read, self.expanded, "volume", argument="expanded")
        problems.attempt(date_of, self.date, argument="date")
        problems.raise_any()
        object.__setattr__(self, "_volume", volume)
        object.__setattr__(self, "_u", u_of(expanded, self.expanded, self.k, self.level, self.dof))
        object.__setattr__(self, "_drift", drift_since(self.drift, self.date, self.used))

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
        return drifted(found, self._drift, id_=id_, label=label, date=self.date, used=self.used)


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionTable:
    """The certificate of a burette: corrections at points of its scale, interpolated between them.

    The correction at zero is nothing, as a delivered volume is counted from there; it need not be in the table.

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

    Raises
    ------
    DataError
        If readings and corrections do not agree in number, fewer than two are given, readings do not increase or one
        stands twice, a date is missing, or neither or both of k and level are given.
    DomainError
        If a correction is a tenth of its reading or more, or U is not above zero.

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
    _points: tuple[tuple[float, float], ...] = field(init=False, repr=False, compare=False)
    _u: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read everything, so that a mistake shows at once."""
        problems = Problems()
        places = [problems.attempt(read, written, "volume", argument="readings") for written in self.readings]
        found = [problems.attempt(read, written, "volume", argument="corrections") for written in self.corrections]
        expanded = problems.attempt(read, self.expanded, "volume", argument="expanded")
        problems.attempt(date_of, self.date, argument="date")
        problems.raise_any()
        self._check(places, found)
        object.__setattr__(self, "_points", tuple((r, c) for r, c in zip(places, found, strict=True) if r > 0.0))
        object.__setattr__(self, "_u", u_of(expanded, self.expanded, self.k, self.level, self.dof))

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
        if not 0.0 <= self.correlation < 1.0:
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

    def joint(self, id_: str, label: str) -> Joint:
        """Return the deviations at these points as one joint, for the burette with this id and label."""
        variance = self._u**2
        size = len(self._points)
        covariance = [
            [variance * (1.0 if i == j else self.correlation) if i and j else 0.0 for j in range(size + 1)]
            for i in range(size + 1)
        ]
        return Joint(
            id=f"{id_}/certificate/{self.date}",
            label=f"certificate of {label}",
            member_ids=tuple(f"{id_}/certificate/{self.date}/{place * _ML:.6g} mL" for place in self.places),
            values=(0.0, *(correction for _, correction in self._points)),
            covariance=tuple(map(tuple, covariance)),
            dof=self.dof,
            source=f"certificate {self.number} of {self.date}".replace("  ", " "),
        )


def check_calibration(calibration: object, tolerance: Written | None, method: str) -> None:
    """Refuse a certificate of another kind of ware, or a limit of error beside one.

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
    if tolerance is not None:
        raise DataError(
            "a certificate stands in place of a limit of error: give one of the two",
            argument="tolerance",
            given=str(tolerance),
            remedy="Leave the tolerance out.",
        )


def u_of(expanded: float, given: Written, k: float | None, level: float | None, dof: float) -> float:
    """Return the standard uncertainty behind an expanded one that a certificate states.

    Raises
    ------
    DataError
        If neither or both of k and level are given.
    DomainError
        If U or k is not above zero.

    """
    if (k is None) == (level is None):
        raise DataError(
            "a certificate states U with its k, or with its level of confidence: one of the two",
            argument="k",
            given=k,
            remedy="Write k=2, or level=0.95, as the certificate has it; without either, U cannot be used.",
        )
    if not expanded > 0.0:
        raise DomainError("an expanded uncertainty is above zero", argument="expanded", given=str(given))
    factor = k if k is not None else coverage_factor(check_level(level or 0.0), dof)
    if not factor > 0.0:
        raise DomainError("a coverage factor is above zero", argument="k", given=k, remedy="It is often 2.")
    return expanded / factor


def date_of(written: str, *, argument: str) -> dt.date:
    """Return a date written as year-month-day, or raise `DataError`."""
    try:
        return dt.date.fromisoformat(written)
    except (TypeError, ValueError):
        raise DataError(
            "this is not a date",
            argument=argument,
            given=str(written),
            remedy="Write year-month-day, such as '2026-03-02'.",
        ) from None


def drift_since(drift: Written | None, date: str, used: str | None) -> float:
    """Return the half-width of the drift from a certificate's date to the day of use, L; zero if none is stated."""
    if drift is None:
        return 0.0
    if used is None:
        raise DataError(
            "a drift grows with the time since the certificate",
            argument="used",
            given="nothing",
            remedy="Say on which date the ware is used, used='2026-11-16', or leave the drift out.",
        )
    yearly = read(drift, "volume", argument="drift")
    days = (date_of(used, argument="used") - date_of(date, argument="date")).days
    if yearly < 0.0 or days < 0:
        raise DomainError(
            "a drift is not negative" if days >= 0 else "the ware was used before its certificate was written",
            argument="drift" if days >= 0 else "used",
            given=str(drift) if days >= 0 else used,
            remedy="Check the sign." if days >= 0 else "Are the two dates exchanged?",
        )
    return yearly * days / _YEAR


def drifted(found: Estimate, half_width: float, *, id_: str, label: str, date: str, used: str | None) -> Estimate:
    """Return an error of a volume with what may have changed since it was found."""
    if half_width == 0.0:
        return found
    influence = Influence.within(
        f"{id_}/drift/{date} to {used}",
        label=f"drift of {label} since its certificate",
        half_width=half_width,
        source=f"stated, from {date} to {used}",
    )
    since = Estimate.from_influence(influence, name="volume_error")
    return evaluate(sum_from_values, found, since, name="volume_error", label=found.label)
