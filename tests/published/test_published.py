"""Published values as printed: ours agrees to half a unit of the last digit, or the row says why the print is wrong."""

from __future__ import annotations

from collections import Counter

import pytest

from assay.checks.evaluate import answer
from assay.checks.rows import Check, agrees, half_unit, read_checks
from assay.checks.steps import kernels
from assay.data import PROVENANCES, references

CHECKS = read_checks()
WRONG = [check for check in CHECKS if check.disagrees]
ROUNDED = [check for check in CHECKS if check.carried]


def named(check: Check) -> str:
    return check.id


@pytest.mark.parametrize("check", [check for check in CHECKS if not check.disagrees], ids=named)
def test_ours_is_what_is_printed(check: Check) -> None:
    ours = answer(check)
    assert agrees(ours, check.printed), f"{check.quantity}: ours {ours:.9g}, printed {check.printed} {check.unit}"


@pytest.mark.parametrize("check", WRONG, ids=named)
def test_where_the_print_is_wrong_ours_is_the_recomputed_value(check: Check) -> None:
    ours = answer(check)
    assert not agrees(ours, check.printed), f"ours {ours:.9g} agrees with {check.printed}: nothing disagrees"
    assert agrees(ours, check.recomputed), f"{check.quantity}: ours {ours:.9g}, recomputed {check.recomputed}"


# ----------------------------------------------------------------------------------------------------------------- rows
def test_ids_are_unique() -> None:
    assert [id_ for id_, count in Counter(check.id for check in CHECKS).items() if count > 1] == []


@pytest.mark.parametrize("check", CHECKS, ids=named)
def test_the_row_names_its_source(check: Check) -> None:
    assert check.source in references()
    assert check.locator
    assert check.provenance in PROVENANCES
    if references()[check.source].seen == "memory":
        # Its inputs may have been read elsewhere; the entry then says so.
        assert check.provenance == "memory" or "read" in references()[check.source].how


@pytest.mark.parametrize("check", WRONG, ids=named)
def test_a_recomputed_value_has_no_fewer_digits_than_the_print(check: Check) -> None:
    assert half_unit(check.recomputed) <= half_unit(check.printed)


def test_only_a_row_that_disagrees_is_recomputed() -> None:
    assert [check.id for check in CHECKS if bool(check.disagrees) != bool(check.recomputed)] == []


def test_every_kernel_that_a_row_names_exists() -> None:
    assert {step["kernel"] for check in CHECKS for step in check.steps if "kernel" in step} <= set(kernels())


def test_every_input_is_used() -> None:
    unused = [
        f"{check.id}: {name}"
        for check in CHECKS
        for name in check.inputs
        if not any(f"'@{name}'" in str(step) for step in check.steps)
    ]
    assert unused == []


def test_uncertainties_are_checked_as_well_as_values() -> None:
    answers = Counter(check.answer for check in CHECKS)
    assert set(answers) == {"value", "u", "relative u", "relative U", "contribution", "dof", "coverage factor"}


# ------------------------------------------------------------------------------------------------------------ tolerance
@pytest.mark.parametrize(
    ("printed", "just_inside", "just_outside"),
    [
        ("3.722", 3.7224999, 3.7225001),
        ("40.00", 39.9950001, 39.9949999),
        ("35450", 35450.4999, 35450.5001),
        ("7.47292e-05", 7.4729249e-05, 7.4729251e-05),
    ],
)
def test_the_tolerance_is_half_a_unit_of_the_last_printed_digit(
    printed: str, just_inside: float, just_outside: float
) -> None:
    assert agrees(just_inside, printed)
    assert not agrees(just_outside, printed)
