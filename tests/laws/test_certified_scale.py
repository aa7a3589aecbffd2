"""A scale that is known at points, by brute force: what is stated between them against what drawn scales do there.

Scales are drawn by numpy alone, by the model that the library states of a burette of its class: margins rectangular
within the limit, normal scores of Gaussian correlation over a tenth of the capacity, nothing at zero, linear between
knots a twentieth of the capacity apart. Each is measured at the points of its certificate with the U that it states,
and read by the interpolated corrections.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from assay import Burette, CorrectionTable, TitreBatch
from assay.metrology.sampling import sampled

RUNS = 40_000
CAPACITY, LIMIT, U = 50.0, 0.10, 0.010  # mL: class B, and U of the certificate with k = 2
KNOTS = np.linspace(0.0, CAPACITY, 21)
READINGS = (5.0, 12.5, 18.7, 25.0, 31.25, 35.0, 37.5, 44.0, 50.0)
POINTS = {
    "two": (25.0, 50.0),
    "of unlike distance": (10.0, 25.0, 50.0),
    "five": (10.0, 20.0, 30.0, 40.0, 50.0),
    "ten": tuple(np.linspace(5.0, 50.0, 10)),
    "beside the knots": (7.3, 21.9, 33.3, 48.8, 50.0),
}


@pytest.fixture(scope="module")
def scales() -> np.ndarray:
    """Deviations at the knots, mL, of shape (runs, knots)."""
    rng = np.random.default_rng(20261125)
    apart = np.subtract.outer(KNOTS, KNOTS) / (0.1 * CAPACITY)
    root = np.linalg.cholesky(np.exp(-0.5 * apart**2) + 1e-9 * np.eye(KNOTS.size))
    drawn = LIMIT * (2.0 * special.ndtr(rng.standard_normal((RUNS, KNOTS.size)) @ root.T) - 1.0)
    drawn[:, 0] = 0.0
    return drawn


def at(scales: np.ndarray, reading: float) -> np.ndarray:
    return scales @ np.maximum(1.0 - np.abs(KNOTS - reading) / (CAPACITY / 20.0), 0.0)


def burette(points: tuple[float, ...], corrections: np.ndarray | None = None, **further: object) -> Burette:
    found = np.zeros(len(points)) if corrections is None else corrections
    table = CorrectionTable(
        readings=[f"{point:.9g} mL" for point in points],
        corrections=[f"{correction:.9f} mL" for correction in found],
        expanded=f"{U} mL",
        k=2,
        correlation=0.0,
        date="2026-03-02",
    )
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", calibration=table, **further)


@pytest.mark.parametrize("points", POINTS.values(), ids=POINTS)
def test_u_is_the_error_of_what_is_read_by_the_corrections(scales: np.ndarray, points: tuple[float, ...]) -> None:
    rng = np.random.default_rng(7)
    measured = np.stack([at(scales, point) for point in points], axis=1)
    measured += rng.normal(0.0, U / 2.0, measured.shape)
    known = np.column_stack([np.zeros(RUNS), measured])
    one = burette(points)
    for reading in READINGS:
        if reading > points[-1]:
            continue
        by_corrections = np.array([np.interp(reading, (0.0, *points), row) for row in known])
        error = math.sqrt(np.mean((at(scales, reading) - by_corrections) ** 2))
        stated = 1000.0 * one.titre(f"{reading} mL").volume().u
        # Four standard errors of a root mean square of so many.
        assert stated == pytest.approx(error, rel=4.0 / math.sqrt(2.0 * RUNS))


def test_a_difference_of_two_readings_shares_what_lies_between(scales: np.ndarray) -> None:
    points = POINTS["two"]
    rng = np.random.default_rng(8)
    known = np.column_stack([np.zeros(RUNS), *(at(scales, p) + rng.normal(0.0, U / 2.0, RUNS) for p in points)])
    for start, end in ((10.0, 12.5), (12.5, 37.5), (30.0, 45.0)):
        by_corrections = [np.array([np.interp(r, (0.0, *points), row) for row in known]) for r in (start, end)]
        missed = [at(scales, reading) - found for reading, found in zip((start, end), by_corrections, strict=True)]
        error = math.sqrt(np.mean((missed[1] - missed[0]) ** 2))
        stated = 1000.0 * burette(points).titre(f"{start} mL", f"{end} mL").volume().u
        assert stated == pytest.approx(error, rel=4.0 / math.sqrt(2.0 * RUNS))


def test_at_its_points_it_is_the_certificate_alone() -> None:
    for point in POINTS["five"]:
        assert 1000.0 * burette(POINTS["five"]).titre(f"{point} mL").volume().u == pytest.approx(U / 2.0, rel=1e-9)


def test_a_closer_limit_says_more_of_what_lies_between() -> None:
    """Beside a certificate, the class or a limit of one's own holds what is between its points."""
    u = {
        name: burette(POINTS["two"], **stated).titre("12.5 mL").volume().u
        for name, stated in {"B": {}, "A": {"accuracy_class": "A"}, "own": {"tolerance": "0.02 mL"}}.items()
    }
    assert u["B"] > u["A"] > u["own"]


def test_linear_and_sampled_agree() -> None:
    volumes = [burette(POINTS["beside the knots"]).titre(f"{reading} mL").volume() for reading in (12.5, 30.0, 44.0)]
    drawn, _ = sampled(volumes, trials=200_000)
    for volume, found in zip(volumes, drawn, strict=True):
        assert float(np.std(found)) == pytest.approx(volume.u, rel=0.01)
        assert float(np.mean(found)) == pytest.approx(volume.value, abs=4.0 * volume.u / math.sqrt(200_000))


@pytest.mark.parametrize("points", POINTS.values(), ids=POINTS)
def test_rows_are_single_titres(points: tuple[float, ...]) -> None:
    corrections = np.linspace(0.01, -0.02, len(points))
    one = burette(points, corrections)
    finals, starts = np.array([[12.5], [30.0], [44.0]]), np.array([[0.3], [1.7], [12.5]])
    (rows,) = TitreBatch(burette=one, final=finals, initial=starts, unit="mL").delivered()
    singles = [
        one.titre(f"{start} mL", f"{final} mL").volume()
        for start, final in zip(starts[:, 0], finals[:, 0], strict=True)
    ]
    for k, single in enumerate(singles):
        assert rows.value[k] == pytest.approx(single.value, rel=1e-14)
        assert rows.u[k] == pytest.approx(single.u, rel=1e-9)
