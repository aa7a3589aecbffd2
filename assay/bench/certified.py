"""What certificates have in common: an expanded uncertainty with its factor, a date, and drift since then."""

from __future__ import annotations

import datetime as dt
import math

from assay.errors import DataError, DomainError
from assay.kernels.volume import drifted_error_from_volume_error
from assay.metrology.coverage import check_level, coverage_factor
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.plain import plain
from assay.units import Written, read

_ML = 1000.0
_YEAR = 365.25
#: An expanded uncertainty of this share of the volume or more is a wrong unit: a choice of this library.
_TOO_WIDE = 0.1


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


def drift_since(drift: Written | None, date: str, used: str | None) -> tuple[float, float]:
    """Return the half-width of the drift of a year, L, and the years from a certificate to the day of use.

    Both are zero if no drift is stated.
    """
    on = None if used is None else date_of(used, argument="used")
    if drift is None:
        return 0.0, 0.0
    if on is None:
        raise DataError(
            "a drift grows with the time since the certificate",
            argument="used",
            given="nothing",
            remedy="Say on which date the ware is used, used='2026-11-16', or leave the drift out.",
        )
    yearly = read(drift, "volume", argument="drift")
    days = (on - date_of(date, argument="date")).days
    if yearly < 0.0 or days < 0:
        raise DomainError(
            "a drift is not negative" if days >= 0 else "the ware was used before its certificate was written",
            argument="drift" if days >= 0 else "used",
            given=str(drift) if days >= 0 else used,
            remedy="Check the sign." if days >= 0 else "Are the two dates exchanged?",
        )
    return yearly, days / _YEAR


def drifted(found: Estimate, drift: tuple[float, float], *, id_: str, label: str, date: str) -> Estimate:
    """Return an error of a volume with what may have changed since it was found; see `drift_since`.

    The drift of a year is one influence, whenever the ware is used: what it changed until spring, it still has changed
    in autumn.
    """
    yearly, years = drift
    if yearly * years == 0.0:
        return found
    influence = Influence.within(
        f"{id_}/drift since {date}",
        label=f"drift of {label} since its certificate",
        half_width=yearly,
        source=f"stated for each year since {date}",
    )
    return evaluate(
        drifted_error_from_volume_error,
        name="volume_error",
        label=found.label,
        volume_error=found,
        yearly_drift=Estimate.from_influence(influence, name="yearly_drift"),
        elapsed_years=years,
    )
