"""A titrant between and beyond its standardisations."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import (
    AssayError,
    BlockedResultError,
    DataError,
    DomainError,
    Estimate,
    Flag,
    Influence,
    Titrant,
    combine,
    titrant_at,
)

FIRST, LAST = dt.date(2026, 11, 2), dt.date(2026, 11, 16)
DAY = dt.timedelta(days=1)


def found(
    value: float, u: float = 0.0001, *, on: dt.date, name: str = "thiosulfate", flags: tuple[Flag, ...] = ()
) -> Titrant:
    influence = Influence(id=f"{name}/{on}/{value}/{u}", label=f"{name} of {on}", value=value, u=u)
    estimate = Estimate.from_influence(influence, name="titrant_concentration").flagged(*flags)
    return Titrant(name=name, estimate=estimate, facts={"standard": "potassium iodate", "lot": f"{on}"})


def two(first: float = 0.1000, last: float = 0.0986, u: float = 0.0001) -> dict[dt.date, Titrant]:
    return {LAST: found(last, u, on=LAST), FIRST: found(first, u, on=FIRST)}


def codes(titrant: Titrant) -> list[str]:
    return [flag.code for flag in titrant.flags]


def test_halfway_it_is_halfway() -> None:
    titrant = titrant_at(two(), FIRST + 7 * DAY)
    assert titrant.estimate.value == pytest.approx(0.0993)
    # Both findings with a half each, and the change of 0.0014 by no more than its half to either side, rectangular.
    assert titrant.estimate.u == pytest.approx(math.hypot(0.5 * 0.0001, 0.5 * 0.0001, 0.0007 / math.sqrt(3)))
    assert titrant.label == "thiosulfate on 2026-11-09"
    assert codes(titrant) == ["titrant-drift"]
    assert "-1.4 %" in titrant.flags[0].message


@pytest.mark.parametrize(("day", "value"), [(FIRST, 0.1000), (LAST, 0.0986)])
def test_on_the_day_it_is_what_was_found(day: dt.date, value: float) -> None:
    titrant = titrant_at(two(), day)
    assert titrant.estimate.value == pytest.approx(value, rel=1e-15)
    assert titrant.estimate.u == pytest.approx(0.0001)


def test_without_a_change_beyond_the_uncertainty_no_drift_is_claimed() -> None:
    assert codes(titrant_at(two(last=0.0999), FIRST + DAY)) == []


@pytest.mark.parametrize("days", [1, 7, 28])
def test_beyond_the_last_it_is_carried_on_and_grows(days: int) -> None:
    titrant = titrant_at(two(), LAST + days * DAY)
    share = 1 + days / 14
    assert titrant.estimate.value == pytest.approx(0.1000 - 0.0014 * share)
    spread = math.hypot(0.0001 * share, 0.0001 * (share - 1))
    assert titrant.estimate.u == pytest.approx(math.hypot(spread, 0.0014 * (share - 1) / math.sqrt(3)))
    assert codes(titrant) == ["titrant-drift", "titrant-extrapolated"]
    assert f"{days} day{'' if days == 1 else 's'} after its last standardisation" in titrant.flags[-1].message


def test_before_the_first_it_is_flagged_too() -> None:
    titrant = titrant_at(two(), FIRST - DAY)
    assert titrant.estimate.value == pytest.approx(0.1001)
    assert "1 day before its first standardisation" in titrant.flags[-1].message


def test_the_nearest_two_of_several_are_taken() -> None:
    days = {**two(), LAST + 10 * DAY: found(0.0976, on=LAST + 10 * DAY)}
    assert titrant_at(days, LAST + 5 * DAY).estimate.value == pytest.approx(0.0981)
    assert titrant_at(days, FIRST + 7 * DAY).estimate.value == pytest.approx(0.0993)
    assert titrant_at(days, LAST + 20 * DAY).estimate.value == pytest.approx(0.0966)


@given(st.floats(0.08, 0.12), st.floats(0.08, 0.12), st.integers(0, 20), st.integers(0, 20))
def test_u_never_falls_with_the_days_beyond(first: float, last: float, one: int, other: int) -> None:
    near, far = sorted((one, other))
    days = two(first, last)
    assert titrant_at(days, LAST + near * DAY).estimate.u <= titrant_at(days, LAST + far * DAY).estimate.u * (1 + 1e-12)


def test_what_both_standardisations_share_stays_shared() -> None:
    """The purity of one lot acts on both alike: interpolating does not average it away."""
    purity = Estimate.from_influence(Influence(id="lot/purity", label="purity", value=1.0, u=0.002), name="purity")
    titrants = {
        day: Titrant(name="thiosulfate", estimate=combine(lambda c, p: c * p, 0.1, purity, label="t", unit="mol/L"))
        for day in (FIRST, LAST)
    }
    titrant = titrant_at(titrants, FIRST + 7 * DAY)
    assert titrant.estimate.u == pytest.approx(0.1 * 0.002)


def test_two_days_share_the_findings_and_not_the_departure() -> None:
    monday, friday = (titrant_at(two(), FIRST + k * DAY) for k in (6, 8))
    again = titrant_at(two(), FIRST + 6 * DAY)
    shared = set(monday.estimate.influences) & set(friday.estimate.influences)
    assert len(shared) == 2
    assert set(again.estimate.influences) == set(monday.estimate.influences)


def test_facts_and_traceability_name_both_days() -> None:
    titrant = titrant_at(two(), FIRST + 2 * DAY)
    assert titrant.facts["lot"] == "2026-11-02"  # of the nearest
    sentence = titrant.traceability()[-1]
    assert "interpolated between the standardisations of 2026-11-02 and 2026-11-16 to 2026-11-04" in sentence
    assert "carried on from" in titrant_at(two(), LAST + DAY).traceability()[-1]


def _blocked() -> dict[dt.date, Titrant]:
    flag = Flag(code="blank-above-titre", message="the blank is 30 mL.", blocking=True)
    return {**two(), LAST: found(0.0986, on=LAST, flags=(flag,))}


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: titrant_at({FIRST: found(0.1, on=FIRST)}, LAST), DataError, ["two or more", "once more"]),
        (lambda: titrant_at({}, LAST), DataError, ["two or more"]),
        (
            lambda: titrant_at({FIRST: found(0.1, on=FIRST), LAST: found(0.1, on=LAST, name="NaOH")}, LAST),
            DataError,
            ["one titrant", "NaOH", "thiosulfate"],
        ),
        (lambda: titrant_at(two(), dt.datetime(2026, 11, 3, 9, 0)), DataError, ["date", "without a time"]),  # noqa: DTZ001
        (lambda: titrant_at(two(), "2026-11-03"), DataError, ["date", "datetime.date"]),  # type: ignore[arg-type]
        (lambda: titrant_at(two(), LAST + 2000 * DAY), DomainError, ["nothing of the titrant", "Standardise it again"]),
        (lambda: titrant_at(_blocked(), LAST), BlockedResultError, ["2026-11-16", "blank-above-titre"]),
        (lambda: titrant_at(two(), LAST, level=0.0), DomainError, ["level"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)
