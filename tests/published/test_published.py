"""Published values as printed: ours agrees to half a unit of the last digit, or the row says why the print is wrong."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from assay.checks.evaluate import outcome
from assay.checks.models import model
from assay.checks.rows import Check, LeftOut, agrees, half_unit, read_checks, read_left_out
from assay.checks.sampled import SAMPLED
from assay.checks.steps import kernels
from assay.data import PROVENANCES, references

CHECKS = read_checks()
LEFT_OUT = read_left_out()
WRONG = [check for check in CHECKS if check.disagrees]
ROUNDED = [check for check in CHECKS if check.carried]


def named(check: Check | LeftOut) -> str:
    return check.id


@pytest.mark.parametrize("check", [check for check in CHECKS if not check.disagrees], ids=named)
def test_ours_is_what_is_printed(check: Check) -> None:
    found = outcome(check)
    assert found.agrees, (
        f"{check.quantity}: ours {found.ours:.9g}, printed {check.printed} {check.unit}, error {found.run_error:.2g}"
    )


@pytest.mark.parametrize("check", WRONG, ids=named)
def test_where_the_print_is_wrong_ours_is_the_recomputed_value(check: Check) -> None:
    found = outcome(check)
    assert not found.agrees, f"ours {found.ours:.9g} agrees with {check.printed}: nothing disagrees"
    assert found.as_recorded, f"{check.quantity}: ours {found.ours:.9g}, recomputed {check.recomputed}"


# ----------------------------------------------------------------------------------------------------------------- rows
def test_ids_are_unique() -> None:
    assert [id_ for id_, count in Counter(row.id for row in (*CHECKS, *LEFT_OUT)).items() if count > 1] == []


@pytest.mark.parametrize("check", [*CHECKS, *LEFT_OUT], ids=named)
def test_the_row_names_its_source(check: Check | LeftOut) -> None:
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


def inputs_used(step: dict[str, Any]) -> set[str]:
    """Return the names that a step writes with an @, and those of its models."""
    marked = set(re.findall(r"'@([^']+)'", str(step)))
    texts = [step["model"]] if "model" in step else list(step.get("each", {}).values())
    return marked | {name for text in texts for name in model(text)[0]}


def test_every_input_is_used() -> None:
    unused = [
        f"{check.id}: {name}"
        for check in CHECKS
        for name in check.inputs
        if not any(name in inputs_used(step) for step in check.steps)
    ]
    assert unused == []


def test_what_is_left_out_says_why() -> None:
    assert [row.id for row in LEFT_OUT if not (row.why.endswith(".") and row.quantity and row.printed)] == []


def test_uncertainties_are_checked_as_well_as_values() -> None:
    answers = Counter(check.answer for check in CHECKS)
    spread = {"u", "U", "s", "variance", "low", "high", "relative u", "relative U", "contribution"}
    assert set(answers) == {"value", "dof", "coverage factor", "correlation", *spread, *SAMPLED}


@pytest.mark.parametrize("answer", ["u", "dof", "correlation", "sampled u", "shortest high"])
def test_the_annexes_are_checked_for_more_than_values(answer: str) -> None:
    guides = {"jcgm-100-2008", "jcgm-101-2008"}
    assert [check.id for check in CHECKS if check.answer == answer and check.source in guides] != []


def test_only_what_was_sampled_may_be_off_by_its_error() -> None:
    sampled_ids = {check.id for check in CHECKS if check.answer in SAMPLED}
    assert {check.id for check in CHECKS if check.trials} <= sampled_ids
    errors = {check.id: outcome(check).run_error for check in CHECKS if check.answer in SAMPLED}
    assert [id_ for id_, error in errors.items() if not 0.0 < error < math.inf] == []
    assert [check.id for check in CHECKS if check.answer not in SAMPLED and outcome(check).run_error] == []


def test_a_published_run_adds_its_own_error() -> None:
    [of_both] = [check for check in CHECKS if check.id == "s1-9-3-u-sampled"]
    of_ours = outcome(replace(of_both, trials=0)).run_error
    # Ours has a million trials and the published run 720 000 of the same distribution.
    assert outcome(of_both).run_error == pytest.approx(of_ours * math.sqrt(1.0 + 1.0 / 0.72), rel=1e-12)


def test_a_sampled_answer_without_an_error_is_refused() -> None:
    [check] = [check for check in CHECKS if check.id == "nist-1900-e13-sampled"]
    with pytest.raises(ValueError, match="has no standard error"):
        outcome(replace(check, answer="sampled u"))


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


def test_an_exact_print_allows_for_nothing_but_the_last_place_of_a_float() -> None:
    assert agrees(0.1 + 0.2, "0.3", exact=True)
    assert not agrees(0.3 + 1e-15, "0.3", exact=True)
    assert not agrees(0.3 - 1e-15, "0.3", exact=True)


def test_three_standard_errors_are_added() -> None:
    assert agrees(1.0 + 0.05 + 0.2999, "1.0", run_error=0.1)
    assert not agrees(1.0 + 0.05 + 0.3001, "1.0", run_error=0.1)
