"""What certificates have in common: an expanded uncertainty with its factor, a date, and drift since then."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.kernels.volume import drifted_error_from_volume_error
from assay.metrology.coverage import check_level, coverage_factor
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import is_fresh
from assay.metrology.influence import Influence
from assay.metrology.plain import plain
from assay.units import Written, read

_ML = 1000.0
_YEAR = 365.25
_FAR = 3.0
#: An expanded uncertainty of this share of the volume or more is a wrong unit: a choice of this library.
_TOO_WIDE = 0.1
#: Ware whose scale is calibrated is told by its name alone.
_BY_NAME = ("burette", "graduated pipette", "piston burette", "syringe")


def u_of(  # noqa: PLR0917  (what a certificate says of U)
    expanded: float, given: Written, volume: float, k: float | None, level: float | None, dof: float
) -> float:
    """Return the standard uncertainty behind an expanded one that a certificate states of a volume, all in L.

    Raises
    ------
    DataError
        If neither or both of k and level are given.
    DomainError
        If U or k is not above zero, U is a tenth of the volume or more, or the degrees of freedom are below 1.

    """
    if (k is None) == (level is None):
        raise DataError(
            "a certificate states U with its k, or with its level of confidence: one of the two",
            argument="k",
            given=k,
            remedy="Write k=2, or level=0.95, as the certificate has it; without either, U cannot be used.",
        )
    if not 0.0 < expanded < _TOO_WIDE * volume:
        raise DomainError(
            "an expanded uncertainty is above zero, and less than a tenth of the volume",
            argument="expanded",
            given=str(given),
            expected=f"less than {_TOO_WIDE * volume * _ML:g} mL",
            remedy="Check the unit: is it in µL?",
        )
    if not plain(dof, argument="dof") >= 1.0:
        raise DomainError(
            "degrees of freedom are 1 or more",
            argument="dof",
            given=dof,
            remedy="Leave them out if the certificate does not state them.",
        )
    factor = plain(k, argument="k") if k is not None else coverage_factor(check_level(level or 0.0), dof)
    if not 0.0 < factor < math.inf:
        raise DomainError("a coverage factor is above zero, and finite", argument="k", given=k, remedy="It is often 2.")
    return expanded / factor


def date_of(written: str, *, argument: str) -> dt.date:
    """Return a date written as year-month-day, or raise `DataError`.

    It is written in one way, for the ids of what was found on that day carry it as it is written.
    """
    try:
        found = dt.date.fromisoformat(written)
    except (TypeError, ValueError):
        found = None
    if found is None or found.isoformat() != written:
        raise DataError(
            "this is not a date",
            argument=argument,
            given=str(written),
            remedy="Write year-month-day, such as '2026-03-02'.",
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """What single deliveries or fillings of a piece of ware differ by.

    Parameters
    ----------
    s : float [L]
        Standard deviation of one.
    dof : float
        Its degrees of freedom.
    source : str
        Where it is from, for the budget.

    """

    s: float
    dof: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """What a piece of ware may have changed since something was found of it.

    The drift of a year is one influence, whenever the ware is used: what it changed until spring, it still has changed
    in autumn.

    Parameters
    ----------
    yearly : float [L]
        Half-width of the change in a year: of the volume at a mark, or at the end of a scale.
    years : float
        Time between the day of finding and the day of use.
    since : str
        The day of finding.

    """

    yearly: float
    years: float
    since: str

    def of(self, id_: str, label: str) -> Estimate:
        """Return the drift of a year, L, of the ware with this id and label."""
        influence = Influence.within(
            f"{id_}/drift since {self.since}",
            label=f"drift of {label} since {self.since}",
            half_width=self.yearly,
            source=f"stated for each year since {self.since}",
        )
        return Estimate.from_influence(influence, name="yearly_drift")

    def on(self, found: Estimate, id_: str, label: str, *, share: float = 1.0) -> Estimate:
        """Return an error that was found, L, with the drift since; at a share of the scale it is that share of it."""
        return evaluate(
            drifted_error_from_volume_error,
            name=found.name,
            label=found.label,
            volume_error=found,
            yearly_drift=self.of(id_, label),
            elapsed_years=self.years,
            share_of_scale=share,
        )


def drift_since(drift: Written | None, date: str, used: str | None) -> Drift | None:
    """Return the drift from the day when something was found to the day of use; ``None`` if no drift is stated.

    Raises
    ------
    DataError
        If a drift is stated without the day of use, or that is no date.
    DomainError
        If the drift is negative, or the ware was used before.

    """
    on = None if used is None else date_of(used, argument="used")
    days = 0 if on is None else (on - date_of(date, argument="date")).days
    if days < 0:
        raise DomainError(
            "the ware was used before this was found of it",
            argument="used",
            given=used,
            expected=f"{date} or later",
            remedy="Are the two dates exchanged?",
        )
    if drift is None:
        return None
    if on is None:
        raise DataError(
            "a drift grows with the time since the certificate",
            argument="used",
            given="nothing",
            remedy="Say on which date the ware is used, used='2026-11-16', or leave the drift out.",
        )
    yearly = read(drift, "volume", argument="drift")
    if yearly < 0.0:
        raise DomainError("a drift is not negative", argument="drift", given=str(drift), remedy="Check the sign.")
    return Drift(yearly=yearly, years=days / _YEAR, since=date) if yearly * days else None


def far_from_class(label: str, found: float, limit: float, *, at: str = "") -> tuple[Flag, ...]:
    """Return a blocking flag if what was found of a piece, L off what is marked, is far beyond the limit of its class.

    Far is three times the limit: a choice of this library.
    """
    if abs(found) <= _FAR * limit * (1.0 + 1e-9):
        return ()
    message = (
        f"{label} is off by {found * _ML:.3g} mL{at}, {abs(found) / limit:.0f} times the limit of its class: "
        "is there a slip in the weighings or the certificate, or is it broken?"
    )
    return (Flag(code="far-from-class", message=message, blocking=True),)


def check_same_ware(calibrated: str, id_: str, label: str) -> None:
    """Refuse the calibration of one named piece of ware for another.

    Raises
    ------
    DataError
        If what was calibrated does not bear the name in the id of the ware.

    """
    kind, _, name = id_.rpartition("/")
    expected = name if kind in _BY_NAME else f"{kind} {name}"
    # Of ware without a name nothing tells whether it is the same.
    if not is_fresh(id_) and calibrated != expected:
        raise DataError(
            f"this is the calibration of {calibrated}, not of {label}",
            argument="calibration",
            given=calibrated,
            expected=expected,
            remedy="Give each piece its own calibration, under the kind and name by which it is used: "
            "calibrate('pipette P10', …), calibrate_burette('B1', …).",
        )
