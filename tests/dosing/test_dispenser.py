"""Dispensers: fillings, rounding to a graduation, and what a set volume really delivers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import Burette, Certificate, Cylinder, Dose, Estimate, Influence, Pipette, PistonPipette, Strength, dose
from assay.dosing.dispenser import Dispenser, Setting, rounded
from assay.errors import BlockedResultError
from assay.substances.species import HYPOCHLORITE

CYLINDER = Cylinder("C250", capacity="250 mL", subdivision="2 mL")  # class B: ±2 mL, set within ±1 mL
PIPETTE = Pipette("P10", capacity="10 mL")  # class B: ±0.04 mL
BURETTE = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")  # ±0.05 mL, set within ±0.025 mL

volumes = st.floats(1e-6, 5.0)
steps = st.sampled_from([1e-5, 5e-5, 1e-4, 1e-3, 2e-3, 0.01, 0.1])
# A volume that lies on a graduation but for the last bits of its float counts as lying on it.
SLACK = 1e-9


def strength(value: float = 2.0, u: float = 0.02) -> Estimate:
    return Estimate.from_influence(Influence(id="drum", label="drum", value=value, u=u), name="amount_concentration")


# ---------------------------------------------------------------------------------------------------------- rounding
@given(volumes, steps)
def test_up_is_never_below_and_less_than_a_graduation_above(volume: float, step: float) -> None:
    up = rounded(volume, step, up=True)
    assert volume - SLACK * step <= up + 1e-12
    assert up - volume < step * (1.0 + SLACK) + 1e-12


@given(volumes, steps)
def test_down_is_never_above_and_less_than_a_graduation_below(volume: float, step: float) -> None:
    down = rounded(volume, step, up=False)
    assert down - 1e-12 <= volume + SLACK * step
    assert volume - down < step * (1.0 + SLACK) + 1e-12


@given(volumes, steps)
def test_nearest_is_within_half_a_graduation(volume: float, step: float) -> None:
    assert abs(rounded(volume, step, up=None) - volume) <= step * (0.5 + 1e-9) + 1e-12


@given(st.integers(1, 5000), steps, st.sampled_from([True, False, None]))
def test_a_graduation_stays_where_it_is(count: int, step: float, up: bool | None) -> None:  # noqa: FBT001
    assert rounded(count * step, step, up=up) == pytest.approx(count * step, abs=1e-12)
    assert rounded(0.1 * 3 / 0.1 * step, step, up=up) == pytest.approx(3 * step, abs=1e-12)  # 0.1 × 3 is not 0.3


# ---------------------------------------------------------------------------------------------------------- fillings
@pytest.mark.parametrize(
    ("dispenser", "volume", "fills"),
    [
        (CYLINDER, 0.100, 1),
        (CYLINDER, 0.250, 1),
        (CYLINDER, 0.252, 2),
        (CYLINDER, 0.500, 2),
        (CYLINDER, 2.100, 9),
        (PIPETTE, 0.010, 1),
        (PIPETTE, 0.120, 12),
        (BURETTE, 0.050, 1),
        (BURETTE, 0.05005, 2),
        (CYLINDER, 0.0, 1),
    ],
)
def test_as_few_fillings_as_hold_the_volume(dispenser: Dispenser, volume: float, fills: int) -> None:
    assert Setting.of(dispenser, volume).fills == fills


# --------------------------------------------------------------------------------------------------------- delivered
def test_one_filling_by_hand() -> None:
    """The amount is c (V + e + s), u²(V) = 2²/3 + 1²/3 mL²."""
    found = Setting.of(CYLINDER, 0.126).delivered(0.126, strength())
    assert found.value == pytest.approx(0.252, rel=1e-14)
    u_volume = math.sqrt(2.0**2 / 3.0 + 1.0**2 / 3.0) / 126.0
    assert found.relative_u == pytest.approx(math.hypot(0.01, u_volume), rel=1e-12)


def test_the_scale_counts_in_every_filling_and_the_setting_is_new_each_time() -> None:
    """Three fillings: the error of the cylinder three times, 3² 2²/3; three settings, 3 × 1²/3 mL²."""
    found = Setting.of(CYLINDER, 0.600).delivered(0.600, strength())
    u_volume = math.sqrt(9.0 * 2.0**2 / 3.0 + 3.0 * 1.0**2 / 3.0) / 600.0
    assert found.relative_u == pytest.approx(math.hypot(0.01, u_volume), rel=1e-12)


def test_twelve_pipettes_by_hand() -> None:
    found = Setting.of(PIPETTE, 0.120).delivered(0.120, strength())
    assert found.relative_u == pytest.approx(math.hypot(0.01, 0.04 / math.sqrt(3.0) / 10.0), rel=1e-12)


def test_a_burette_by_hand() -> None:
    """The scale at 25 mL, a knot: 0.05²/3; set within half a step: 0.025²/3."""
    found = Setting.of(BURETTE, 0.025).delivered(0.025, strength(u=0.0))
    assert found.relative_u == pytest.approx(math.sqrt(0.05**2 / 3.0 + 0.025**2 / 3.0) / 25.0, rel=1e-9)


def test_the_volume_needed_delivers_the_amount() -> None:
    amount = Estimate.exactly(0.25, name="required_amount", label="0.25 mol")
    setting = Setting.of(CYLINDER, 0.125)
    needed = setting.needed(amount, strength())
    assert needed.value == pytest.approx(0.125, rel=1e-14)
    assert setting.delivered(needed.value, strength()).value == pytest.approx(0.25, rel=1e-14)


FAR = Certificate(volume="9.5 mL", expanded="0.006 mL", k=2, date="2026-03-02")
SILENT = Certificate(volume="9.99 mL", expanded="0.006 mL", k=2, date="2026-03-02")


def given_with(dispenser: Dispenser, **options: object) -> Dose:
    estimate = Estimate.from_influence(
        Influence(id="drum", label="drum", value=1.5, u=0.01), name="amount_concentration"
    )
    strength = Strength(species=HYPOCHLORITE, estimate=estimate)
    return dose(strength, deliver="0.060 mol OCl-", into="water", dispenser=dispenser, **options)


def test_doubts_about_the_dispenser_reach_the_dose_and_block_it() -> None:
    found = given_with(Pipette("P10", capacity="10 mL", calibration=SILENT))
    assert "repeatability-unstated" in {flag.code for flag in found.flags}
    far = Pipette("P10", capacity="10 mL", calibration=FAR)
    with pytest.raises(BlockedResultError, match="far-from-class"):
        given_with(far)
    accepted = given_with(far, accept={"far-from-class": "its tip was cut and it was calibrated so"})
    assert "its tip was cut" in next(flag.accepted for flag in accepted.flags if flag.code == "far-from-class")


def test_a_piston_pipette_known_at_its_capacity_dispenses_whole_fillings() -> None:
    known = Certificate(volume="998 µL", expanded="1 µL", k=2, date="2026-03-02", repeatability="0.5 µL")
    found = given_with(PistonPipette("E1000", capacity="1000 µL", subdivision="5 µL", calibration=known))
    assert found.nominal is not None
    assert found.nominal.volume == pytest.approx(found.nominal.fills * 1e-3, rel=1e-12)
    assert found.nominal.fills == 40
    with pytest.raises(BlockedResultError, match="far-from-class"):
        given_with(
            PistonPipette(
                "E1000",
                capacity="1000 µL",
                calibration=Certificate(volume="930 µL", expanded="1 µL", k=2, date="2026-03-02"),
            )
        )
    # Of a size that no standard has, its certificate says what single deliveries differ by.
    odd = Certificate(volume="313.2 µL", expanded="1 µL", k=2, date="2026-03-02", repeatability="0.5 µL")
    assert PistonPipette("X", capacity="313 µL", calibration=odd).setting_error(1).u == pytest.approx(0.5e-6)
