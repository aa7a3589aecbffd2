"""Recovery of a control: found over known, against one, with what both share taken out."""

from __future__ import annotations

import math

import pytest

from assay import DataError, DomainError, Estimate, Influence, combine, recovery_of


def of(id_: str, value: float, u: float, dof: float = math.inf) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, dof=dof), name="mass_concentration")


def test_a_recovery_by_hand() -> None:
    found = recovery_of(of("found", 98.0, 0.5), of("known", 100.0, 0.2))
    u = 0.98 * math.hypot(0.5 / 98.0, 0.2 / 100.0)
    assert found.recovery.value == pytest.approx(0.98)
    assert found.recovery.u == pytest.approx(u)
    assert found.e_n == pytest.approx(-0.02 / (1.959964 * u), rel=1e-6)
    assert [flag.code for flag in found.flags] == ["recovery-not-one"]
    assert "known" in found.flags[0].message
    assert "E_n = -1.90" in found.flags[0].message


def test_within_its_uncertainty_nothing_is_flagged() -> None:
    found = recovery_of(of("found", 99.5, 0.5), of("known", 100.0, 0.2))
    assert abs(found.e_n) < 1.0
    assert found.flags == ()
    assert found.rows().body[0][-1] == "one, within its U"


def test_what_both_share_cancels() -> None:
    """Control and result rest on one atomic weight or one pipette: alone, the recovery would look compatible."""
    shared = of("pipette", 1.0, 0.02)
    found = combine(lambda x, f: x * f, of("titration", 98.0, 0.2), shared, label="found", unit="g/L")
    known = combine(lambda x, f: x * f, of("mass", 100.0, 0.1), shared, label="known", unit="g/L")
    assert abs(found.value - known.value) < 1.96 * math.hypot(found.u, known.u)
    recovery = recovery_of(found, known)
    assert recovery.recovery.u == pytest.approx(0.98 * math.hypot(0.2 / 98.0, 0.1 / 100.0))
    assert [flag.code for flag in recovery.flags] == ["recovery-not-one"]


def test_few_replicates_widen_the_verdict() -> None:
    sure, few = (recovery_of(of("found", 98.9, 0.5, dof), of("known", 100.0, 0.0)) for dof in (math.inf, 2))
    assert abs(sure.e_n) > 1.0 > abs(few.e_n)


def test_the_level_is_that_of_the_verdict() -> None:
    found = recovery_of(of("found", 98.9, 0.5), of("known", 100.0, 0.0), level=0.99)
    assert found.level == 0.99
    assert found.e_n == pytest.approx((0.989 - 1.0) / (2.575829 * 0.005), rel=1e-6)


def test_what_is_shown() -> None:
    found = recovery_of(of("found", 98.0, 0.5), of("known", 100.0, 0.2))
    assert str(found).startswith("! recovery-not-one: of the control known the assay found (0.980 ± 0.011) at 95 %")
    assert "<table" in found._repr_html_()
    assert "tabular" in found._repr_latex_()


def test_what_cannot_be_compared_is_refused() -> None:
    known = of("known", 100.0, 0.2)
    with pytest.raises(DataError, match="not assayed"):
        recovery_of(known, known)
    with pytest.raises(DataError, match="different units"):
        recovery_of(combine(lambda x: x, known, unit="mol/L"), known)
    with pytest.raises(DataError, match="not an estimate"):
        recovery_of(99.0, known)  # type: ignore[arg-type]
    with pytest.raises(DomainError, match=r"none = 0\.0.*above zero"):
        recovery_of(known, of("none", 0.0, 0.1))
    with pytest.raises(DomainError, match="level"):
        recovery_of(of("found", 98.0, 0.5), known, level=1.0)
