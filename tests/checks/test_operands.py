"""How the text of a row becomes numbers, influences and results."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assay.checks.evaluate import answer, result_of
from assay.checks.operands import Operands, number
from assay.checks.rows import Check, read_checks
from assay.checks.steps import STEPS
from assay.errors import UnitError
from assay.metrology.estimate import Estimate

CHECKS = {check.id: check for check in read_checks()}
TALBOT_8 = CHECKS["talbot-8"]


@pytest.mark.parametrize(
    ("written", "parameter", "plain"),
    [
        ("24.35 mL", "titre", 0.02435),
        ("1.12 g/mL", "density", 1120.0),
        ("9.9e-6 1/K", "ware_expansion", 9.9e-6),
        ("-4 K", "temperature_difference", -4.0),
        ("6", "equivalents", 6.0),
        ("381.42 g/mol", "molar_mass", 381.42),
        ("92.44 % w/w", "value", 0.9244),
        ("0.5", "value", 0.5),
    ],
)
def test_a_printed_quantity_is_read_in_the_unit_of_the_library(written: str, parameter: str, plain: float) -> None:
    assert number(written, parameter) == pytest.approx(plain, rel=1e-14)


@pytest.mark.parametrize(
    ("written", "parameter"), [("381.42 g", "molar_mass"), ("381.42", "molar_mass"), ("6 mol", "equivalents")]
)
def test_another_unit_is_refused(written: str, parameter: str) -> None:
    with pytest.raises(ValueError, match="is not in"):
        number(written, parameter)


def test_a_volume_is_no_mass() -> None:
    with pytest.raises(UnitError):
        number("24.35 mL", "mass")


def test_one_input_is_one_influence_and_two_are_independent() -> None:
    given = {"value": "10 mL", "u": "0.01 mL"}
    step = {"combine": "difference", "of": ["@first", "@second"], "unit": "L"}
    apart = replace(TALBOT_8, inputs={"first": given, "second": given}, steps=[step], answer="u", unit="mL")
    shared = replace(apart, steps=[{**step, "of": ["@first", "@first"]}])
    assert answer(apart) == pytest.approx(0.01 * 2.0**0.5, rel=1e-12)
    assert answer(shared) == 0.0


def test_a_result_is_used_by_its_name_and_a_nameless_one_by_nobody() -> None:
    operands = Operands(TALBOT_8)
    found = Estimate.exactly(2.0, name="value", label="found")
    operands.keep("found", found)
    operands.keep("", found)
    assert operands.operand("@found", "value") is found
    with pytest.raises(KeyError):
        operands.operand("@", "value")


def test_a_row_without_steps_has_no_answer() -> None:
    with pytest.raises(ValueError, match="talbot-8 has no steps"):
        result_of(replace(TALBOT_8, steps=[]))


def test_every_kind_of_step_is_used_by_a_row() -> None:
    used = {next(key for key in step if key in STEPS) for check in CHECKS.values() for step in check.steps}
    assert used == set(STEPS)


@pytest.mark.parametrize("check", CHECKS.values(), ids=lambda check: check.id)
def test_a_step_says_one_thing(check: Check) -> None:
    assert [step for step in check.steps if sum(key in STEPS for key in step) != 1] == []
