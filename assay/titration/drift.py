"""A titrant between its standardisations, and beyond them."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from assay.display.numbers import plus_minus, significant
from assay.errors import DataError, DomainError
from assay.flags import Flag, merged, refuse_blocked
from assay.kernels.drift import titrant_from_standardisations
from assay.metrology.comparison import compare
from assay.metrology.coverage import check_level
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.titration.titrant import Titrant

DRIFT = "titrant-drift"
EXTRAPOLATED = "titrant-extrapolated"

_Dated = tuple[dt.date, Titrant]


def titrant_at(standardisations: Mapping[dt.date, Titrant], date: dt.date, *, level: float = 0.95) -> Titrant:
    """Return a titrant on a day, from its standardisations on two days or more.

    Between two standardisations it lies on the line through them, and may be off the line by what it would be if all
    of the change had come at once, on either side of that day and within both findings. Beyond the first or the last
    the line of the nearest two is carried on: its uncertainty grows with the time, the change that is added may be
    missing or be there twice, and the result is flagged.

    Parameters
    ----------
    standardisations : mapping of datetime.date to Titrant
        The standardisations of one titrant by their day, two or more. What they share, a burette or a lot of standard,
        stays shared.
    date : datetime.date
        The day on which it is used.
    level : float
        Level of confidence at which a change is told apart from the uncertainty of both findings.

    Returns
    -------
    Titrant
        The titrant on that day, with a flag if it drifted, and one if that day lies beyond the standardisations.

    Raises
    ------
    DataError
        If there are fewer than two, or they are not of one titrant in one unit, or something is not a date.
    DomainError
        If nothing would be left of the titrant on that day.
    BlockedResultError
        If one carries a blocking flag that was not accepted.

    References
    ----------
    common practice: a titrant is standardised before and after, and taken as changing evenly between.

    Examples
    --------
    >>> import datetime as dt
    >>> import assay
    >>> def found(day, titre):
    ...     burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    ...     balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    ...     certificate = {"lot": "2219", "purity": "99.95 % w/w", "half_width": "0.05 % w/w"}
    ...     iodate = assay.PrimaryStandard("potassium iodate", **certificate)
    ...     weighed = balance.by_difference("21.4312 g", "20.5402 g")
    ...     flask, pipette = assay.Flask("F1", capacity="250 mL"), assay.Pipette("P25", capacity="25 mL")
    ...     solution = assay.StandardSolution(standard=iodate, weighing=weighed, flask=flask)
    ...     titres = [burette.titre(titre) for _ in range(3)]
    ...     return assay.standardise_by_aliquots(solution, aliquot=pipette, titres=titres, record=f"{day} thiosulfate")
    >>> days = {dt.date(2026, 11, d): found(d, titre) for d, titre in ((2, "24.90 mL"), (16, "25.30 mL"))}
    >>> titrant_at(days, dt.date(2026, 11, 9)).flags[-1].code
    'titrant-drift'

    """
    check_level(level)
    found = _checked(standardisations, date)
    (first_day, first), (last_day, last) = _neighbours(found, date)
    share = (date - first_day).days / (last_day - first_day).days
    label = f"{last.name} on {date.isoformat()}"
    nearest = first if share <= 0.5 else last  # noqa: PLR2004  (the middle)
    estimate = evaluate(
        titrant_from_standardisations,
        name=nearest.estimate.name,
        label=label,
        unit=nearest.estimate.unit,
        earlier_titrant=first.estimate,
        later_titrant=last.estimate,
        elapsed_share=share,
        drift_departure=_departure((first_day, first), (last_day, last), date, share),
    )
    if estimate.value <= 0.0:
        raise DomainError(
            f"carried on to {date.isoformat()}, the drift would leave nothing of the titrant",
            argument="date",
            given=date.isoformat(),
            remedy="Standardise it again.",
        )
    flags = [*_drift_flag(found, level), *_beyond_flag(found, date, estimate, level)]
    facts = {**nearest.facts, "drift": _sentence(first_day, last_day, date, share)}
    return replace(nearest, estimate=replace(estimate, flags=merged([estimate.flags, tuple(flags)])), facts=facts)


def _checked(standardisations: Mapping[dt.date, Titrant], date: dt.date) -> list[_Dated]:
    for day in (*standardisations, date):
        if isinstance(day, dt.datetime) or not isinstance(day, dt.date):
            raise DataError(
                "this is not a day",
                argument="date" if day is date else "standardisations",
                given=str(day),
                expected="a datetime.date, without a time",
                remedy="Write datetime.date(2026, 11, 16).",
            )
    found = sorted(standardisations.items(), key=lambda item: item[0])
    if len(found) < 2:  # noqa: PLR2004  (a line takes two)
        raise DataError(
            "a drift takes two standardisations",
            argument="standardisations",
            given=len(found),
            expected="two or more, on different days",
            remedy="Use the titrant as it was found, or standardise it once more.",
        )
    kinds = {(titrant.name, titrant.estimate.unit) for _, titrant in found}
    if len(kinds) > 1:
        raise DataError(
            "these are not standardisations of one titrant",
            argument="standardisations",
            given=" and ".join(sorted(f"{name}, {unit}" for name, unit in kinds)),
        )
    for day, titrant in found:
        refuse_blocked(titrant.flags, what=f"the titrant of {day.isoformat()}")
    return found


def _neighbours(found: list[_Dated], date: dt.date) -> tuple[_Dated, _Dated]:
    """Return the two standardisations about a day; the nearest two if it lies beyond all."""
    return next((pair for pair in pairwise(found) if date <= pair[1][0]), (found[-2], found[-1]))


def _departure(first: _Dated, last: _Dated, date: dt.date, share: float) -> Estimate | float:
    """Return how far the titrant may be off the line; exactly nothing on the days of standardisation."""
    change = abs(last[1].estimate.value - first[1].estimate.value)
    # Between: as far as a change in one step allows on both sides. Beyond: as much as is added by carrying on.
    half_width = change * (min(share, 1.0 - share) if 0.0 <= share <= 1.0 else max(share - 1.0, -share))
    if half_width == 0.0:
        return 0.0
    told = "|".join(f"{day.isoformat()} {t.label} {t.estimate.value!r}" for day, t in (first, last))
    digest = hashlib.sha256(told.encode()).hexdigest()[:10]
    influence = Influence.within(
        f"drift/{first[1].name}/{digest}/{date.isoformat()}",
        label=f"drift of {first[1].name} off a straight line",
        half_width=half_width,
        source=f"standardised on {first[0].isoformat()} and {last[0].isoformat()}; common practice",
    )
    return Estimate.from_influence(influence, name="drift_departure")


def _drift_flag(found: list[_Dated], level: float) -> list[Flag]:
    """Return a flag for each change that is larger than its uncertainty."""
    flags = []
    for (one, before), (other, after) in pairwise(found):
        if before.estimate.value == after.estimate.value:
            continue
        comparison = compare(after.estimate, before.estimate, level=level)
        if not comparison.compatible:
            change = comparison.difference
            shown = plus_minus(change.value, change.expanded(level), change.unit)
            percent = 100.0 * change.value / before.estimate.value
            message = (
                f"{after.name} changed by {shown} ({significant(percent)} %) from {one.isoformat()} to "
                f"{other.isoformat()}: it is taken as changing evenly. Look for the cause: light, air, evaporation."
            )
            flags.append(Flag(code=DRIFT, message=message))
    return flags


def _beyond_flag(found: list[_Dated], date: dt.date, estimate: Estimate, level: float) -> list[Flag]:
    after, before = (date - found[-1][0]).days, (found[0][0] - date).days
    if after <= 0 and before <= 0:
        return []
    days = max(after, before)
    where = f"{days} day{'' if days == 1 else 's'} {'after its last' if after > 0 else 'before its first'}"
    shown = plus_minus(estimate.value, estimate.expanded(level), estimate.unit)
    message = (
        f"{date.isoformat()} is {where} standardisation: "
        f"the drift is carried on to {shown} at {100 * level:g} %. Standardise again, and the day lies between two."
    )
    return [Flag(code=EXTRAPOLATED, message=message)]


def _sentence(first: dt.date, last: dt.date, date: dt.date, share: float) -> str:
    how = "interpolated between" if 0.0 <= share <= 1.0 else "carried on from"
    return f"{how} the standardisations of {first.isoformat()} and {last.isoformat()} to {date.isoformat()}"
