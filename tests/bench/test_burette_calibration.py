"""A burette calibrated by weighing: what is shown of it, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from assay import Air, AssayError, Balance, Burette, BuretteCalibration, Pipette, Temperature, calibrate_burette

BALANCE = Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")
AT_25, AT_50 = (
    [BALANCE.by_difference(f"{gross} g", "50.000 g") for gross in grosses]
    for grosses in (("74.940", "74.950"), ("99.860", "99.850"))
)


def found(weighings: object = None, **further: object) -> BuretteCalibration:
    asked: dict[str, Any] = {
        "water": Temperature("21.0 °C", half_width="0.5 K", day="2026-11-10"),
        "air": Air(day="2026-11-10"),
        "date": "2026-11-10",
    }
    asked["weighings"] = weighings or {"50 mL": AT_50, "25 mL": AT_25}
    return calibrate_burette("B1", **(asked | further))


def burette(**further: object) -> Burette:
    stated: dict[str, Any] = {"calibration": found()} | further
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", **stated)


def test_it_is_shown_as_corrections_by_reading_with_its_doubts() -> None:
    told = str(found())
    for word in ("25 mL", "50 mL", "correction", "2 weighings"):
        assert word in told
    assert "25 mL, 50 mL" in repr(found())
    assert "<table>" in found()._repr_html_()
    assert "tabular" in found()._repr_latex_()


def test_a_titre_beyond_its_last_point_is_refused() -> None:
    short = burette(calibration=found({"10 mL": [BALANCE.by_difference("59.98 g", "50 g")] * 2, "25 mL": AT_25}))
    assert short.titre("20 mL").nominal == 0.020
    with pytest.raises(AssayError, match="ends at 25 mL"):
        short.titre("30 mL")


def test_its_doubts_reach_what_is_titrated_with_it() -> None:
    assert "few-weighings" in {flag.code for flag in burette().titre("37.5 mL").volume().flags}
    assert "few-weighings" in {flag.code for flag in burette().measure("25 mL").volume().flags}


def test_what_it_drifted_since_grows_along_the_scale() -> None:
    """Half a year of 0.020 mL a year at 50 mL, rectangular, beside what the weighings give: half of it at 25 mL."""
    drifted = burette(calibration=found(drift="0.020 mL", used="2027-05-12")).titre("25 mL").volume()
    grown = 0.5 * 0.020e-3 * 183 / 365.25 / math.sqrt(3.0)
    assert drifted.u**2 - burette().titre("25 mL").volume().u ** 2 == pytest.approx(grown**2, rel=1e-9)


def test_it_is_that_of_one_burette() -> None:
    with pytest.raises(AssayError, match="calibration of B1, not of burette B2"):
        Burette("B2", capacity="50 mL", subdivision="0.1 mL", calibration=found())


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: found({"25 mL": AT_25}), ["two readings", "capacity"]),
        (lambda: found({"0 mL": AT_25, "50 mL": AT_50}), ["above zero"]),
        (lambda: found({"25 mL": AT_25, "25.0 mL": AT_25, "50 mL": AT_50}), ["25.0 mL", "twice", "together"]),
        (lambda: found([AT_25, AT_50]), ["by the reading", "25 mL"]),
        (lambda: found({"25 mL": AT_50, "50 mL": AT_25}), ["tenth off", "exchanged"]),
        (lambda: found({"25": AT_25, "50 mL": AT_50}), ["25", "unit"]),
        (lambda: found({"25 mL": AT_25[:1], "50 mL": AT_50}), ["two weighings"]),
        (lambda: found(date="last week"), ["last week"]),
        (lambda: burette(material="polypropylene"), ["polypropylene", "same material"]),
        (
            lambda: Burette("B1", capacity="25 mL", subdivision="0.05 mL", calibration=found()),
            ["ends before", "50 mL", "up to 25 mL", "belong"],
        ),
        (lambda: Pipette("P50", capacity="50 mL", calibration=found()), ["calibrate()"]),  # type: ignore[arg-type]
    ],
)
def test_refused_with_what_was_given_and_the_remedy(make: Callable[[], object], says: list[str]) -> None:
    with pytest.raises(AssayError) as refused:
        make()
    for word in says:
        assert word in str(refused.value)
