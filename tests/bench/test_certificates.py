"""Certificates in place of class limits: values, correlation along the scale, drift, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from assay import (
    AssayError,
    Burette,
    Certificate,
    CorrectionTable,
    DataError,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Titrant,
    TitreBatch,
    assay_hypochlorite,
    assay_hypochlorite_batch,
    combine,
)

PIPETTE: dict[str, Any] = {"volume": "9.987 mL", "expanded": "0.006 mL", "k": 2, "date": "2026-03-02"}
TABLE: dict[str, Any] = {
    "readings": ["10 mL", "25 mL", "50 mL"],
    "corrections": ["0.012 mL", "0.020 mL", "-0.010 mL"],
    "expanded": "0.010 mL",
    "k": 2,
    "date": "2026-03-02",
}
ML = 1000.0


def pipette(**certificate: object) -> Pipette:
    return Pipette("P10", capacity="10 mL", calibration=Certificate(**(PIPETTE | certificate)))


def burette(**table: object) -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", calibration=CorrectionTable(**(TABLE | table)))


def test_a_certificate_gives_value_and_u() -> None:
    volume = pipette().volume()
    assert volume.value * ML == pytest.approx(9.987, abs=1e-12)
    assert volume.u * ML == pytest.approx(0.003)
    assert math.isinf(volume.dof)


def test_a_level_gives_k_by_t() -> None:
    """T for 95 % and 9 degrees of freedom is 2.262 (JCGM 100:2008, table G.2)."""
    volume = pipette(k=None, level=0.95, dof=9.0).volume()
    assert volume.u * ML == pytest.approx(0.006 / 2.262, rel=2e-4)
    assert volume.dof == pytest.approx(9.0)


def test_it_is_one_influence_by_name_and_a_recalibration_is_another() -> None:
    first, again, later = pipette().volume(), pipette().volume(), pipette(date="2026-09-01").volume()
    assert combine(lambda a, b: a - b, first, again).u == 0.0
    assert combine(lambda a, b: a - b, first, later).u * ML == pytest.approx(0.003 * math.sqrt(2.0))


def test_drift_grows_with_the_time_since_the_certificate() -> None:
    """Half a year (183 days) of 0.004 mL a year, rectangular, beside 0.003 mL."""
    volume = pipette(drift="0.004 mL", used="2026-09-01").volume()
    assert volume.u * ML == pytest.approx(math.hypot(0.003, 0.004 * 183 / 365.25 / math.sqrt(3.0)))


def test_one_drift_acts_on_all_days_of_use() -> None:
    """After half a year and after a year it is the same drift, once half of it: the difference is the other half."""
    half, whole = (pipette(drift="0.004 mL", used=used).volume() for used in ("2026-09-01", "2027-03-02"))
    share = (365 - 183) / 365.25
    assert combine(lambda a, b: b - a, half, whole).u * ML == pytest.approx(0.004 * share / math.sqrt(3.0))


def test_the_drift_of_a_table_grows_along_the_scale() -> None:
    """Half a year of 0.020 mL a year at 50 mL, rectangular: half of it at 25 mL, beside the 0.005 mL of the table."""
    one = burette(drift="0.020 mL", used="2026-09-01")
    grown = 0.020 * 183 / 365.25 / math.sqrt(3.0)
    for reading, share in (("50 mL", 1.0), ("25 mL", 0.5)):
        assert one.titre(reading).volume().u * ML == pytest.approx(math.hypot(0.005, grown * share))
    assert one.titre("25 mL").volume().value == burette().titre("25 mL").volume().value


def test_one_drift_of_a_table_acts_on_all_days_of_use() -> None:
    half, whole = (
        burette(drift="0.020 mL", used=used).titre("50 mL").volume() for used in ("2026-09-01", "2027-03-02")
    )
    share = (365 - 183) / 365.25
    assert combine(lambda a, b: b - a, half, whole).u * ML == pytest.approx(0.020 * share / math.sqrt(3.0))


def test_a_flask_takes_one_as_well() -> None:
    flask = Flask("F250", capacity="250 mL", calibration=Certificate(**(PIPETTE | {"volume": "249.91 mL"})))
    assert flask.volume().value * ML == pytest.approx(249.91)


def test_corrections_are_interpolated_and_counted_from_zero() -> None:
    one = burette()
    assert one.titre("25 mL").volume().value * ML == pytest.approx(25.020)
    assert one.titre("17.50 mL").volume().value * ML == pytest.approx(17.516)  # half-way between 0.012 and 0.020
    assert one.titre("5.00 mL").volume().value * ML == pytest.approx(5.006)
    assert one.titre("10 mL", "25 mL").volume().value * ML == pytest.approx(15.008)


@pytest.mark.parametrize("correlation", [0.0, 0.5, 0.9])
def test_u_between_two_points_is_by_their_correlation(correlation: float) -> None:
    volume = burette(correlation=correlation).titre("10 mL", "25 mL").volume()
    assert volume.u * ML == pytest.approx(0.005 * math.sqrt(2.0 - 2.0 * correlation))


def test_u_from_zero_is_that_of_the_point() -> None:
    assert burette().titre("25 mL").volume().u * ML == pytest.approx(0.005)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: pipette(k=None), ["k=2", "level"]),
        (lambda: pipette(level=0.95), ["one of the two"]),
        (lambda: pipette(k=0), ["above zero", "often 2"]),
        (lambda: pipette(expanded="0 mL"), ["expanded", "above zero"]),
        (lambda: pipette(date="2 March"), ["2 March", "2026-03-02"]),
        (lambda: pipette(volume="99.87 mL"), ["99.87 mL", "belong to this piece"]),
        (lambda: pipette(drift="0.004 mL"), ["used", "time since"]),
        (lambda: pipette(drift="0.004 mL", used="2026-01-01"), ["before", "exchanged"]),
        (lambda: pipette(drift="-0.004 mL", used="2026-09-01"), ["-0.004 mL", "not negative"]),
        (lambda: pipette(used="2026-01-01"), ["2026-01-01", "2026-03-02 or later"]),
        (lambda: burette(used="2026-01-01"), ["2026-01-01", "2026-03-02 or later"]),
        (lambda: burette(readings=None), ["readings", "a list", "25 mL"]),
        (lambda: burette(corrections="0.01 mL"), ["corrections", "a list", "0.012 mL"]),
        (lambda: Pipette("P10", capacity="10 mL", material=None), ["material", "borosilicate"]),
        (lambda: Pipette("P10", capacity="10 mL", standard=648), ["standard", "ISO 648"]),
        (lambda: Burette("B", capacity="50 mL", subdivision="0.1 mL").titre("20 mL", rough="no"), ["rough", "True"]),
        (lambda: Burette("B", capacity="50 mL", subdivision="0.1 mL").titre("20 mL", void=None), ["void", "overshot"]),
        (
            lambda: Burette("B", capacity="50 mL", subdivision="0.1 mL").titre("0 mL", "20 mL", refilled="3 mL"),
            ["refilled", "3 mL", "pairs"],
        ),
        (lambda: burette(drift="0.020 mL"), ["used", "time since"]),
        (
            lambda: Pipette("P10", capacity="10 mL", accuracy_class="AA", calibration=Certificate(**PIPETTE)),
            ["'AA'", "'A', 'B'", "AS"],
        ),
        (lambda: burette(drift="0.020 mL", used="2026-01-01"), ["before", "exchanged"]),
        (lambda: burette(readings=["10 mL"], corrections=["0.01 mL"]), ["two points", "tolerance"]),
        (lambda: burette(readings=["25 mL", "10 mL", "50 mL"]), ["increase", "Sort"]),
        (lambda: burette(readings=["10 mL", "10 mL", "50 mL"]), ["each once"]),
        (lambda: burette(corrections=["0.012 mL"]), ["3 readings", "1 corrections"]),
        (lambda: burette(corrections=["10.012 mL", "25.020 mL", "49.990 mL"]), ["10.012 mL", "less reading"]),
        (lambda: burette(correlation=1.0), ["below 1"]),
        (lambda: burette(correlation="0.5"), ["correlation", "plain number"]),
        (lambda: burette(expanded="10 mL"), ["10 mL", "less than 5 mL", "µL"]),
        (lambda: burette(dof=0.5), ["dof", "1 or more"]),
        (lambda: pipette(k="2"), ["k", "plain number"]),
        (lambda: pipette(k=math.inf), ["k", "finite"]),
        (lambda: pipette(dof=-3), ["dof", "1 or more"]),
        (lambda: pipette(dof=math.nan), ["dof", "1 or more"]),
        (lambda: pipette(expanded="6 mL"), ["6 mL", "less than 0.9987 mL", "µL"]),
        (lambda: pipette(volume="-9.987 mL"), ["-9.987 mL", "above zero"]),
        (lambda: pipette(used="soon"), ["used", "soon", "2026-03-02"]),
        (lambda: pipette(date="20260302"), ["20260302", "2026-03-02"]),
        (lambda: burette(readings=["10 mL", "25 mL", "40 mL"]).titre("45 mL"), ["ends at 40 mL", "calibrated"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(make: Callable[[], object], says: list[str]) -> None:
    with pytest.raises(AssayError) as refused:
        make()
    for word in says:
        assert word in str(refused.value)


def test_a_certificate_of_other_ware_and_a_limit_beside_it_are_refused() -> None:
    with pytest.raises(DataError, match="CorrectionTable"):
        Burette("B1", capacity="50 mL", subdivision="0.1 mL", calibration=Certificate(**PIPETTE))  # type: ignore[arg-type]
    with pytest.raises(DataError, match="one of the two"):
        Pipette("P10", capacity="10 mL", tolerance="0.02 mL", calibration=Certificate(**PIPETTE))
    with pytest.raises(DataError):
        Pipette("P10", capacity="10 mL", calibration=CorrectionTable(**TABLE))  # type: ignore[arg-type]


@pytest.mark.parametrize("further", [{}, {"drift": "0.020 mL", "used": "2026-09-01"}])
def test_a_batch_interpolates_as_single_titres_do(further: dict[str, str]) -> None:
    one, known = (
        burette(**further),
        Estimate.from_influence(
            Influence(id="bottle/T1", label="thiosulfate", value=0.1, u=0.0001), name="titrant_concentration"
        ),
    )
    titrant = Titrant(name="thiosulfate", estimate=known)
    finals = [[17.5, 17.6], [25.0, 25.1], [45.0, 51.0]]
    batch = assay_hypochlorite_batch(
        titrant,
        aliquot=Pipette("P10", capacity="10 mL"),
        titres=TitreBatch(burette=one, final=finals, unit="mL"),
        names=["a", "b", "c"],
        record="rows",
    )
    for k in (0, 1):
        titres = [one.titre(f"{final} mL") for final in finals[k]]
        single = assay_hypochlorite(titrant, aliquot=Pipette("P10", capacity="10 mL"), titres=titres).estimate
        assert batch.value[k] == pytest.approx(single.value, rel=1e-12)
        assert batch.u[k] == pytest.approx(single.u, rel=1e-12)
    assert batch.mask.tolist() == [False, False, True]
