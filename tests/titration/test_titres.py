"""Replicate titres: what counts, what was set aside, how their rounding adds up, and the blank."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from assay import AssayError, Burette, DataError, DomainError, Titre
from assay.titration.blanks import blank_flag, blank_of
from assay.titration.titres import (
    Conditions,
    aside_flag,
    record_path,
    rounding_of,
    titre_set,
)

PLAIN = Conditions()
STEP_U = 0.05e-3 / math.sqrt(12.0)  # read to 0.05 mL: half a division


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*readings: str) -> list[Titre]:
    return [
        burette().titre(*reading.split(" to ")) for reading in (f"{r} mL".replace(" to", " mL to") for r in readings)
    ]


# ----------------------------------------------------------------------------------------------------------- records
def test_the_same_record_is_the_same_path_and_a_corrected_reading_another() -> None:
    first = record_path("drum 7", ["0>1", "0>2"])
    assert record_path("drum 7", iter(["0>1", "0>2"])) == first
    assert record_path(" drum 7 ", ["0>1", "0>2"]) == first
    assert first.startswith("record/drum 7/")
    assert record_path("drum 7", ["0>1", "0>3"]) != first
    assert record_path("drum 8", ["0>1", "0>2"]) != first


def test_without_a_name_every_record_is_new() -> None:
    assert record_path(None, ["0>1"]) != record_path(None, ["0>1"])


def test_a_record_with_a_slash_is_refused() -> None:
    with pytest.raises(DataError, match="drum/7"):
        record_path("drum/7", [])


# ---------------------------------------------------------------------------------------------------------- rounding
@pytest.mark.parametrize(
    ("readings", "shared", "own"),
    [
        (["24.35", "24.40"], 1.0, 0.0),
        (["0.00 to 24.35", "0.02 to 24.40"], 1.0, 0.0),
        (["0.10 to 24.35", "0.10 to 24.40"], 1.0, 0.0),
        (["0.10 to 24.35", "24.35 to 48.70"], 0.0, math.sqrt(2.0)),
        (["0.10 to 24.35", "0.60 to 24.70", "0.00 to 24.3"], 0.0, math.sqrt(2.0)),
    ],
)
def test_rounding_is_shared_from_a_common_start_and_each_ones_own_from_random_ones(
    readings: list[str], shared: float, own: float
) -> None:
    rounding = rounding_of(titres(*readings))
    assert rounding.shared == pytest.approx(shared * STEP_U, rel=1e-12)
    assert rounding.own == pytest.approx(own * STEP_U, rel=1e-12)


def test_a_single_titre_rounds_one_reading_from_zero_and_both_from_elsewhere() -> None:
    assert rounding_of(titres("24.35")).shared == pytest.approx(STEP_U, rel=1e-12)
    elsewhere = rounding_of(titres("1.30 to 1.45"))
    assert (elsewhere.shared, elsewhere.own) == (0.0, pytest.approx(math.sqrt(2.0) * STEP_U, rel=1e-12))


def test_each_refill_rounds_a_further_pair_of_readings() -> None:
    refilled = burette().titre("0 mL", "50 mL", refilled=[("0 mL", "10 mL")])
    assert rounding_of([refilled]).own == pytest.approx(STEP_U * math.sqrt(2.0), rel=1e-12)


# ------------------------------------------------------------------------------------------------------------ titres
def test_mean_and_scatter_against_plain_arithmetic() -> None:
    """24.30, 24.45, 24.36: mean 24.37, s² = (0.07² + 0.08² + 0.01²)/2 = 0.0057."""
    found = titre_set(titres("24.30", "24.45", "24.36"), path="r", label="t", conditions=PLAIN)
    assert 1000.0 * found.mean.value == pytest.approx(24.37, rel=1e-12)
    assert 1e6 * found.scatter.s**2 == pytest.approx(0.0057, rel=1e-9)
    lines = {line.ids[0].rsplit("/", 1)[-1]: line for line in found.mean.budget().lines if len(line.ids) == 1}
    # Of s², 0.05²/12 is rounding, which is known.
    assert 1e6 * lines["scatter"].contribution ** 2 == pytest.approx((0.0057 - 0.05**2 / 12.0) / 3.0, rel=1e-9)
    assert 1e6 * lines["resolution"].contribution ** 2 == pytest.approx(0.05**2 / 12.0 / 3.0, rel=1e-9)
    assert lines["scatter"].dof == 2.0
    assert lines["scatter"].kind == "A"


def test_three_identical_titres_still_have_an_uncertainty() -> None:
    found = titre_set(titres("24.35", "24.35", "24.35"), path="r", label="t", conditions=PLAIN)
    assert found.scatter.u_scatter == 0.0
    assert found.scatter.u_resolution == pytest.approx(STEP_U, rel=1e-12)  # common start: not divided by √3
    random_starts = titre_set(
        titres("0.1 to 20.1", "1.0 to 21.0", "2.0 to 22.0"), path="r", label="t", conditions=PLAIN
    )
    assert random_starts.scatter.u_resolution == pytest.approx(STEP_U * math.sqrt(2.0 / 3.0), rel=1e-9)


def test_a_single_titre_takes_the_known_scatter_of_the_method() -> None:
    found = titre_set(titres("24.35"), path="r", label="t", conditions=Conditions(method_s="0.03 mL", method_dof=8.0))
    assert math.hypot(found.scatter.u_scatter, found.scatter.u_resolution) == pytest.approx(0.03e-3, rel=1e-12)
    assert found.scatter.u_resolution == pytest.approx(STEP_U, rel=1e-12)
    assert found.scatter.dof == 8.0
    assert Conditions(method_dof=8.0).scatter("L") is None


def test_what_is_set_aside_does_not_count_and_is_told() -> None:
    b = burette()
    all_of_them = [*titres("24.30", "24.40"), b.titre("25.00 mL", rough=True), b.titre("24.95 mL", void="overshot")]
    found = titre_set(all_of_them, path="r", label="t", conditions=PLAIN)
    assert 1000.0 * found.mean.value == pytest.approx(24.35, rel=1e-12)
    assert found.aside == tuple(all_of_them[2:])
    (flag,) = aside_flag(found.aside, 0.1234567, "drum 7", "mol/L")
    assert flag.code == "titres-set-aside"
    assert "25 mL (rough)" in flag.message
    assert "24.95 mL (overshot)" in flag.message
    assert "0.12346 mol/L" in flag.message
    assert "drum 7" in flag.message
    assert not flag.blocking
    assert aside_flag((), 1.0, "drum 7", "mol/L") == ()


# ------------------------------------------------------------------------------------------------------------- blank
def test_no_blank_is_zero_and_flagged() -> None:
    blank, (flag,) = blank_of(None, path="r", label="drum", s=0.03e-3, dof=2.0, conditions=PLAIN)
    assert (blank.value, blank.u, flag.code) == (0.0, 0.0, "no-blank")
    assert "drum" in flag.message


def test_a_single_blank_takes_the_scatter_of_its_titres() -> None:
    blank, flags = blank_of(titres("0.05")[0], path="r", label="drum", s=0.03e-3, dof=2.0, conditions=PLAIN)
    assert flags == ()
    assert blank.value == pytest.approx(0.05e-3, rel=1e-12)
    scatter = next(line for line in blank.budget().lines if line.ids == ("r/blank/scatter",))
    assert scatter.contribution == pytest.approx(0.03e-3, rel=1e-12)
    assert scatter.dof == 2.0


def test_a_single_blank_of_identical_titres_takes_their_rounding() -> None:
    blank, _ = blank_of(titres("0.05")[0], path="r", label="drum", s=0.0, dof=2.0, conditions=PLAIN)
    scatter = next(line for line in blank.budget().lines if line.ids == ("r/blank/scatter",))
    assert scatter.contribution == 0.0
    rounded = next(line for line in blank.budget().lines if line.ids == ("r/blank/resolution",))
    assert rounded.contribution == pytest.approx(STEP_U, rel=1e-12)


def test_several_blanks_have_their_own_scatter() -> None:
    """0.00, 0.10, 0.20: s = 0.1, less a rounding of 0.05/√12, over √3."""
    blank, _ = blank_of(titres("0.00", "0.10", "0.20"), path="r", label="drum", s=1.0, dof=99.0, conditions=PLAIN)
    scatter = next(line for line in blank.budget().lines if line.ids == ("r/blank/scatter",))
    assert 1000.0 * blank.value == pytest.approx(0.1, rel=1e-9)
    assert 1000.0 * scatter.contribution == pytest.approx(math.sqrt((0.01 - 0.05**2 / 12.0) / 3.0), rel=1e-9)
    assert scatter.dof == 2.0


@pytest.mark.parametrize(("blank", "blocked"), [(0.0, False), (9.99, False), (10.0, True), (12.0, True)])
def test_a_blank_that_is_not_below_the_titre_blocks(blank: float, *, blocked: bool) -> None:
    flags = blank_flag(0.010, blank / 1000.0, "drum", "L")
    assert [(flag.code, flag.blocking) for flag in flags] == ([("blank-above-titre", True)] if blocked else [])
    if blocked:
        assert f"{blank:g} mL" in flags[0].message
        assert "10 mL" in flags[0].message


# --------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: titre_set([], path="r", label="t", conditions=PLAIN),
            DomainError,
            ["no replicate", "one titre or more"],
        ),
        (
            lambda: titre_set(titres("24.35"), path="r", label="t", conditions=PLAIN),
            DomainError,
            ["single", "method_s"],
        ),
        (
            lambda: titre_set(
                [burette().titre("25 mL", rough=True)], path="r", label="t", conditions=Conditions(method_s="0.01 mL")
            ),
            DomainError,
            ["no replicate", "kept"],
        ),
        (
            lambda: titre_set(["24.35 mL"], path="r", label="t", conditions=PLAIN),
            DataError,
            ["24.35 mL", "burette.titre("],
        ),
        (
            lambda: blank_of([], path="r", label="t", s=0.0, dof=2.0, conditions=PLAIN),
            DomainError,
            ["no replicate"],
        ),
        (
            lambda: blank_of("0.05 mL", path="r", label="t", s=1e-5, dof=2.0, conditions=PLAIN),
            DataError,
            ["0.05 mL", "burette.titre("],
        ),
        (lambda: Conditions(method_s="0 mL", method_dof=2.0).scatter("L"), DomainError, ["method_s", "above zero"]),
        (
            lambda: Conditions(method_s="0.03 mL", method_dof=0.5).scatter("L"),
            DomainError,
            ["method_dof", "0.5", "1 or more"],
        ),
        (lambda: Conditions(method_s="0.03", method_dof=2.0).scatter("L"), AssayError, ["method_s", "no unit"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)
