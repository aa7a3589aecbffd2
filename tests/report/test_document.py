"""The report as JSON."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from assay.report.document import report_json
from assay.report.page import report_text
from assay.sheet.run import SheetResult

#: Every key of the document by its place, those of the results within a dose aside. Keys may come, none may go.
KEYS = Path(__file__).with_name("document_keys.txt").read_text(encoding="utf-8").splitlines()


@pytest.fixture(scope="module")
def document(demo_result: SheetResult) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(report_json(demo_result))
    return found


def _paths(value: Any, path: str = "") -> Iterator[str]:  # noqa: ANN401  (any JSON)
    if isinstance(value, dict):
        for key, item in value.items():
            at = f"{path}.{key}" if path else key
            yield at
            yield from _paths(item, at)
    elif isinstance(value, list):
        for item in value:
            yield from _paths(item, f"{path}[]")


def _results(document: dict[str, Any]) -> list[dict[str, Any]]:
    doses = document["doses"]
    delivered = [volume["delivered"] for dose in doses for volume in dose["volumes"]]
    by_label = [dose["by_label"] for dose in doses if dose["by_label"] is not None]
    return [*document["results"], *delivered, *by_label]


def test_keys_are_those_of_the_contract(document: dict[str, Any]) -> None:
    # A key that is new is entered in the file; one that is missing breaks the programs of others. What is told of a
    # sample differs from sheet to sheet.
    found = {
        re.sub(r"^(doses\[\]\.(?:volumes\[\]\.delivered|by_label|required|limit|strength))\..*", r"\1", path)
        for path in _paths(document)
    }
    assert sorted(path for path in found if ".facts." not in path) == KEYS


def test_a_result_within_a_dose_has_the_keys_of_a_result(document: dict[str, Any]) -> None:
    own = set(document["results"][1]) - {"basis", "facts"}
    assert {frozenset(result) for result in _results(document)[6:]} == {frozenset(own)}


def test_head(document: dict[str, Any]) -> None:
    assert document["schema"] == 1
    assert document["title"] == "Prep room: drum of hypochlorite for the dye-fading practical"
    assert document["date"] == "2026-11-16"


def test_each_result_has_what_a_program_needs(document: dict[str, Any]) -> None:
    results = _results(document)
    assert len(results) == 1 + 5 + 3 + 1
    for result in results:
        assert result["name"]
        assert result["unit"]
        assert isinstance(result["value"], float)
        assert result["standard_uncertainty"] > 0.0
        assert result["degrees_of_freedom"] is None or result["degrees_of_freedom"] >= 1.0
        assert result["interval"]["level"] == 0.95
        assert result["interval"]["low"] < result["value"] < result["interval"]["high"]
        assert result["ids"]
        assert len(set(result["ids"])) == len(result["ids"])
        assert isinstance(result["flags"], list)


def test_names_and_bases(document: dict[str, Any]) -> None:
    titrant, *strengths = document["results"]
    assert titrant["name"] == "titrant/thiosulfate"
    assert {strength["name"] for strength in strengths} == {"strength/drum 7"}
    assert [strength["basis"] for strength in strengths] == [
        "mol/L OCl-",
        "g/L available chlorine",
        "% w/v available chlorine",
        "g/L NaOCl",
        "% w/v NaOCl",
    ]


def test_the_interval_is_value_and_coverage_factor_times_uncertainty(document: dict[str, Any]) -> None:
    for result in _results(document):
        half = result["coverage_factor"] * result["standard_uncertainty"]
        assert result["interval"]["high"] == pytest.approx(result["value"] + half, rel=1e-12)
        assert result["interval"]["low"] == pytest.approx(result["value"] - half, rel=1e-12)


def test_the_squares_of_the_contributions_make_the_uncertainty(document: dict[str, Any]) -> None:
    for result in _results(document):
        parts = [line["standard_uncertainty"] for line in result["contributions"]]
        assert math.hypot(*parts) == pytest.approx(result["standard_uncertainty"], rel=1e-9)
        assert {id_ for line in result["contributions"] for id_ in line["ids"]} == set(result["ids"])


def test_numbers_are_those_of_the_results_to_the_last_bit(document: dict[str, Any], demo_result: SheetResult) -> None:
    assert document["results"][0]["value"] == demo_result.titrant.estimate.value
    for found, (basis, estimate) in zip(
        document["results"][1:], demo_result.strengths["drum 7"].bases().items(), strict=True
    ):
        assert found["basis"] == basis
        assert (found["value"], found["standard_uncertainty"]) == (estimate.value, estimate.u)
        assert found["degrees_of_freedom"] == estimate.dof


def test_flags_are_told_with_their_state(document: dict[str, Any]) -> None:
    (flag,) = document["results"][0]["flags"]
    assert flag["code"] == "titres-set-aside"
    assert "25.8 mL (rough)" in flag["message"]
    assert flag["blocking"] is False
    assert flag["accepted"] == ""


def test_dose(document: dict[str, Any]) -> None:
    (dose,) = document["doses"]
    assert (dose["deliver"], dose["into"], dose["assurance"]) == ("0.100 mol OCl-", "water", 0.95)
    assert {volume["kind"]: volume["volume"] for volume in dose["volumes"]} == {
        "nominal": 0.064,
        "at least": 0.066,
        "at most": 0.062,
    }
    assert {volume["volume_unit"] for volume in dose["volumes"]} == {"L"}
    at_least = next(volume for volume in dose["volumes"] if volume["kind"] == "at least")
    assert at_least["probability_below"] <= 0.05
    assert dose["cautions"][0].startswith("Never dispense hypochlorite into acid")


def test_infinite_degrees_of_freedom_are_null(exact_result: SheetResult) -> None:
    document = json.loads(report_json(exact_result))
    assert [result["degrees_of_freedom"] for result in document["results"]] == [None] * 6
    # The normal quantile, to its printed digits.
    assert {f"{result['coverage_factor']:.3f}" for result in document["results"]} == {"1.960"}


def test_what_is_not_stated_is_null_and_flagged(silent_result: SheetResult) -> None:
    document = json.loads(report_json(silent_result))
    (dose,) = document["doses"]
    assert dose["into"] is None
    assert dose["by_label"] is None
    for result in document["results"][1:]:
        assert {"portion-only", "no-blank"} <= {flag["code"] for flag in result["flags"]}
        assert result["interval"]["level"] == 0.99


def test_it_is_strict_json(demo_result: SheetResult) -> None:
    def refuse(constant: str) -> float:
        raise AssertionError(constant)

    json.loads(report_json(demo_result), parse_constant=refuse)


class TestTextAgrees:
    """The text shows the numbers of the document, rounded by the rule of JCGM 100:2008, 7.2.6, and nothing else."""

    @staticmethod
    def _shown(value: float, expanded: float) -> str:
        """Return ``value ± U``, U to two significant digits, as a person would round the document's numbers."""
        exponent = Decimal(f"{expanded:.1e}").adjusted() - 1
        step = Decimal(1).scaleb(exponent)
        return f"({Decimal(repr(value)).quantize(step)} ± {Decimal(repr(expanded)).quantize(step)})"

    def test_every_strength_and_the_titrant(self, document: dict[str, Any], demo_result: SheetResult) -> None:
        report = " ".join(report_text(demo_result).split())
        for result in document["results"]:
            shown = self._shown(result["value"], result["coverage_factor"] * result["standard_uncertainty"])
            assert f"{shown} {result['unit']}" in report

    def test_every_volume(self, document: dict[str, Any], demo_result: SheetResult) -> None:
        report = report_text(demo_result)
        for volume in document["doses"][0]["volumes"]:
            delivered = volume["delivered"]
            shown = self._shown(delivered["value"], delivered["coverage_factor"] * delivered["standard_uncertainty"])
            line = next(line for line in report.splitlines() if line.startswith(f"  {volume['kind']} "))
            assert f" {1000 * volume['volume']:g} mL with" in line
            assert f"{shown} mol" in line
            for probability in ("probability_below", "probability_above"):
                two_digits = Decimal(f"{100 * volume[probability]:.1e}")
                assert f"  {two_digits:f} %" in line

    def test_every_flag(self, document: dict[str, Any], demo_result: SheetResult) -> None:
        report = " ".join(report_text(demo_result).split())
        for result in document["results"]:
            for flag in result["flags"]:
                assert f"! {flag['code']}: {flag['message']}" in report
