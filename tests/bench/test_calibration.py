"""Calibrating one's own ware by weighing water, against the equations worked out here once more."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from assay import (
    Air,
    AssayError,
    Balance,
    Burette,
    BuretteCalibration,
    Calibration,
    Flask,
    Pipette,
    Temperature,
    Weighing,
    calibrate,
    calibrate_burette,
    combine,
)

GRAMS = ("9.9612", "9.9630", "9.9589", "9.9601", "9.9622", "9.9608", "9.9615", "9.9599", "9.9627", "9.9604")
TARE = "20.0000 g"
DAY = "2026-11-10"


def balance(**further: object) -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg", **further)


def found(grams: tuple[str, ...] = GRAMS, **further: object) -> Calibration:
    on = balance()
    asked: dict[str, Any] = {
        "water": Temperature("23.0 °C", half_width="0.5 K", day=DAY),
        "air": Air("23.0 °C", pressure="1008 hPa", humidity="45 %", day=DAY),
        "date": DAY,
    }
    return calibrate(
        "pipette P10", [on.by_difference(f"{20 + float(g):.4f} g", TARE) for g in grams], **(asked | further)
    )


KITCHEN = Balance("kitchen", readability="0.01 g", repeatability="0.01 g", linearity="0.02 g")


def weighed(weighings: object) -> Calibration:
    asked: dict[str, Any] = {"weighings": weighings, "air": Air(day=DAY), "date": DAY}
    return calibrate("P", water=Temperature("23.0 °C", half_width="0.5 K", day=DAY), **asked)


def tanaka(t: float) -> float:
    return 999.97495 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def test_volume_by_the_equations_of_the_standards() -> None:
    """The air by the ideal gas with water vapour of 45 % of 28.1 hPa: good to 1e-3, which is 1e-6 in the volume."""
    mass = statistics.fmean(map(float, GRAMS))
    air = (100_800 - 0.378 * 0.45 * 2810) * 28.96546e-3 / (8.314472 * 296.15)
    v = mass / (tanaka(23.0) - air) * (1 - air / 8000) * (1 - 9.9e-6 * 3.0)
    assert found().volume.value == pytest.approx(v, rel=3e-6)


def test_u_by_hand() -> None:
    """Scatter, linearity twice, temperature through water and glass; the air, weights and water at hand are small."""
    mass = statistics.fmean(map(float, GRAMS))
    scatter = statistics.stdev(map(float, GRAMS)) / math.sqrt(10) / mass
    linearity = 0.2e-3 / math.sqrt(3) * math.sqrt(2) / mass
    expansion = (tanaka(22.99) - tanaka(23.01)) / 0.02 / tanaka(23.0)
    temperature = (expansion - 9.9e-6) * 0.5 / math.sqrt(3)
    air = 1.18 * math.hypot(1 / 296.15, 2 / 1008, 0.378 * 0.1 * 28.1 / 1008) / math.sqrt(3) / 1000 * (1 - 1 / 8)
    water = 0.02 / math.sqrt(3) / 1000
    glass = 1e-7 * 3 / math.sqrt(3)
    weights = 1.18 / 8000 * 200 / 8000 / math.sqrt(3)
    by_hand = math.hypot(scatter, linearity, temperature, air, water, glass, weights)
    volume = found().volume
    assert volume.u / volume.value == pytest.approx(by_hand, rel=2e-3)


def test_the_pipette_takes_it_in_place_of_its_class() -> None:
    calibration = found()
    known = Pipette("P10", capacity="10 mL", accuracy_class="B", calibration=calibration)
    assert known.volume().value == pytest.approx(calibration.volume.value, rel=1e-15)
    assert known.volume().u == pytest.approx(calibration.volume.u, rel=1e-12)
    assert known.volume().dof == pytest.approx(calibration.volume.dof)
    assert not any("class" in influence.source for influence in known.volume().influences.values())


def test_two_pieces_on_one_balance_are_correlated() -> None:
    on, water = balance(), Temperature("23.0 °C", half_width="0.5 K", day=DAY)
    air = Air(day=DAY)
    first, second = (
        calibrate(
            name, [on.by_difference(f"{20 + float(g):.4f} g", TARE) for g in GRAMS], water=water, air=air, date=DAY
        )
        for name in ("pipette P10", "pipette P11")
    )
    apart = math.hypot(first.volume.u, second.volume.u)
    assert combine(lambda a, b: a - b, first.volume, second.volume).u < apart


def test_evaporation_is_added_with_half_of_its_most() -> None:
    plain, lost = found().volume, found(evaporation="4 mg").volume
    per_gram = plain.value / statistics.fmean(map(float, GRAMS))
    assert lost.value - plain.value == pytest.approx(0.002 * per_gram, rel=1e-6)
    assert lost.u**2 - plain.u**2 == pytest.approx((0.002 / math.sqrt(3) * per_gram) ** 2, rel=1e-3)


def test_polypropylene_expands_more_than_glass() -> None:
    glass, plastic = found().volume, found(material="polypropylene").volume
    assert plastic.value / glass.value - 1 == pytest.approx(-(4.5e-4 - 9.9e-6) * 3.0, rel=1e-3)


def test_few_weighings_are_flagged() -> None:
    assert [flag.code for flag in found(GRAMS[:5]).flags] == ["few-weighings"]
    assert not found().flags
    told = str(found(GRAMS[:5]))
    assert "5 weighings" in told
    assert "density of" in told


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: found(GRAMS[:1]), ["two weighings", "Weigh 10"]),
        (lambda: found(date="yesterday"), ["yesterday", "2026-03-02"]),
        (lambda: found(material="glass"), ["glass", "borosilicate"]),
        (lambda: found(evaporation="-1 mg"), ["-1 mg", "not negative"]),
        (lambda: calibrate("P", ["9.96 g"], water=None, air=None, date=DAY), ["weighing", "by_difference"]),  # type: ignore[arg-type,list-item]
        (lambda: Pipette("P10", capacity="25 mL", calibration=found()), ["far from the 25 mL", "belong"]),
        (lambda: Flask("P10", capacity="10 mL", calibration=found()), ["of pipette P10, not of flask P10", "its own"]),
        (lambda: Pipette("P11", capacity="10 mL", calibration=found()), ["of pipette P10, not of pipette P11", "name"]),
        (lambda: found(water="21 °C"), ["water", "a Temperature", "half_width"]),
        (lambda: found(air="1.2 g/L"), ["air", "an Air", "nothing was measured"]),
        (lambda: found(evaporation="4 g"), ["4 g", "less than", "mg"]),
        (lambda: found(date="20261110"), ["20261110", "2026-03-02"]),
        (lambda: Pipette("P10", capacity="10 mL", material="polypropylene", calibration=found()), ["same material"]),
        (lambda: weighed(balance().by_difference("30 g", "20 g")), ["two weighings"]),
        (lambda: weighed([balance().by_difference("30 g", "20 g", density="998 g/L")] * 2), ["twice", "density"]),
        (
            lambda: weighed([on.by_difference("30 g", "20 g") for on in (balance(), KITCHEN)]),
            ["one balance", "W1", "kitchen"],
        ),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(make: Callable[[], object], says: list[str]) -> None:
    with pytest.raises(AssayError) as refused:
        make()
    for word in says:
        assert word in str(refused.value)


def test_what_it_drifted_since_is_one_influence() -> None:
    """Half a year of 0.004 mL a year, rectangular, beside what the weighings give."""
    since = {
        used: Pipette("P10", capacity="10 mL", calibration=found(drift="0.004 mL", used=used)).volume()
        for used in ("2027-05-12", "2027-11-11")
    }
    half = since["2027-05-12"]
    grown = 0.004e-3 * 183 / 365.25 / math.sqrt(3.0)
    assert half.u**2 - found().volume.u ** 2 == pytest.approx(grown**2, rel=1e-9)
    between = combine(lambda a, b: b - a, half, since["2027-11-11"])
    assert between.u == pytest.approx(0.004e-3 * 183 / 365.25 / math.sqrt(3.0), rel=1e-9)


def test_weighings_that_all_agree_still_repeat_as_the_balance_does() -> None:
    """Ten alike on a scale of 0.01 g: no scatter is seen, and each of two readings repeats to 0.01 g all the same."""
    volume = weighed([KITCHEN.by_difference("29.96 g", "20.00 g")] * 10).volume
    resolution = next(i.u for i in volume.influences.values() if i.id.endswith("/resolution"))
    assert resolution == pytest.approx(0.01 * math.sqrt(2.0) / math.sqrt(10.0))


def burette_found() -> BuretteCalibration:
    on = balance()
    weighed = {
        reading: [on.by_difference(f"{50 + gram:.4f} g", "50.0000 g") for gram in grams]
        for reading, grams in (("50 mL", (49.86, 49.85)), ("25 mL", (24.94, 24.95)))
    }
    water = Temperature("21.0 °C", half_width="0.5 K", day=DAY)
    return calibrate_burette("B1", weighed, water=water, air=Air(day=DAY), date=DAY)


def test_a_burette_is_calibrated_point_by_point_with_what_the_points_share() -> None:
    """The correction is volume less reading; the difference of two points has the u of their volumes' difference."""
    found = burette_found()
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", calibration=found)
    z = (1 - 1.2 / 8000) / (tanaka(21.0) - 1.2) * (1 - 9.9e-6)
    assert burette.titre("25 mL").volume().value == pytest.approx(24.945 * z, rel=1e-9)
    assert burette.titre("25 mL").volume().u == pytest.approx(found.volumes[0].u, rel=1e-9)
    between = combine(lambda a, b: a - b, found.volumes[1], found.volumes[0])
    assert burette.titre("25 mL", "50 mL").volume().u == pytest.approx(between.u, rel=1e-9)
    assert burette.titre("37.5 mL").volume().value == pytest.approx((24.945 + 49.855) / 2 * z, rel=1e-9)
    assert [flag.code for flag in found.flags] == ["few-weighings", "few-weighings"]


# ------------------------------------------------------------------------------------------------------- the balance
def test_buoyancy_of_a_standard() -> None:
    """Phthalate of 1.636 g/mL in air of 1.2 g/L: 0.058 % (reference tables of buoyancy corrections)."""
    plain = balance().by_difference("21.0210 g", "20.0000 g").mass("m")
    corrected = balance().by_difference("21.0210 g", "20.0000 g", density="1.636 g/mL").mass("m")
    assert corrected.value / plain.value - 1 == pytest.approx((1 - 1.2 / 8000) / (1 - 1.2 / 1636) - 1, rel=1e-9)


def test_eccentricity_counts_for_both_loads_and_drift_in_proportion() -> None:
    plain = balance().by_difference("120 g", "20 g").mass("m")
    further = balance(eccentricity="0.3 mg", drift="2 mg", drift_load="200 g").by_difference("120 g", "20 g").mass("m")
    added = 2 * (0.3e-3 / math.sqrt(3)) ** 2 + (100 * 2e-3 / 200 / math.sqrt(3)) ** 2
    assert further.u**2 - plain.u**2 == pytest.approx(added, rel=1e-9)
    assert further.value == plain.value


def test_two_readings_share_the_degrees_of_freedom_of_their_repeatability() -> None:
    """Both are by one s from ten readings: their difference has nine degrees of freedom, not eighteen."""
    alone = {"readability": "0.01 mg", "linearity": "0 mg"}
    mass = Balance("W3", repeatability="0.1 mg", repeatability_dof=9, **alone).by_difference("21 g", "20 g").mass("m")
    assert mass.u == pytest.approx(0.1e-3 * math.sqrt(2.0), rel=1e-12)
    assert mass.dof == pytest.approx(9.0)
    known = Balance("W3", repeatability="0.1 mg", **alone).by_difference("21 g", "20 g").mass("m")
    assert known.u == pytest.approx(mass.u, rel=1e-12)
    assert math.isinf(known.dof)


def test_replicates_show_where_loads_stood() -> None:
    """It is new each time a load is put down: titres by mass and fillings scatter by it, one weighing counts it."""
    off = balance(eccentricity="3 mg")
    single = off.by_difference("21 g", "20 g").mass("m")
    assert single.u > 3e-3 / math.sqrt(3.0)
    assert off.titre("80 g", "60 g").measure("m").u == balance().titre("80 g", "60 g").measure("m").u
    fillings = [off.by_difference(f"{20 + float(gram):.4f} g", TARE) for gram in GRAMS]
    asked: dict[str, Any] = {"air": Air(day=DAY), "date": DAY}
    water = Temperature("23.0 °C", half_width="0.5 K", day=DAY)
    assert calibrate("pipette P10", fillings, water=water, **asked).volume.u == pytest.approx(
        calibrate("pipette P10", [replace(one, balance=balance()) for one in fillings], water=water, **asked).volume.u
    )


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: balance(repeatability_dof=0), ["repeatability_dof", "n - 1"]),
        (lambda: balance(repeatability_dof="9"), ["repeatability_dof", "plain number"]),
        (
            lambda: balance().by_difference("21 g", "20 g", density="1 g/mL", air="20 °C"),  # type: ignore[arg-type]
            ["air", "20 °C", "an Air"],
        ),
        (lambda: balance().titre("80 g", "60 g", rough="no"), ["rough", "True"]),
        (lambda: balance(eccentricity="-1 mg"), ["eccentricity", "negative"]),
        (lambda: balance(drift="1 mg", drift_load="0 g"), ["drift_load", "above zero"]),
        (lambda: balance().by_difference("21 g", "20 g", air=Air()), ["density", "1.636 g/mL"]),
        (lambda: balance().by_difference("21 g", "20 g", density="1.636 g/L"), ["1.636 g/L", "unit"]),
        (lambda: Weighing(balance=balance(), gross=21.0, tare=20.0, density=1636.0), ["density and the air"]),
        (lambda: Weighing(balance=balance(), gross=21.0, tare=20.0, air=Air()), ["density and the air"]),
    ],
)
def test_a_balance_refuses(make: Callable[[], object], says: list[str]) -> None:
    with pytest.raises(AssayError) as refused:
        make()
    for word in says:
        assert word in str(refused.value)
