"""Text, JSON, HTML and LaTeX of one result agree to the digit; the keys of the JSON are added to, never replaced.

What is shown is worked out here from the numbers of the JSON, rounded as a person would: U to two significant digits,
the value to match (JCGM 100:2008, 7.2.6).
"""

from __future__ import annotations

import html as markup
import json
import math
import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from assay import Dose, Strength, report_json, report_text, run_demo
from assay.data import text_resource
from assay.sheet.run import SheetResult, run_text

LEVEL = 0.95


def _drum_by_mass() -> SheetResult:
    """Return the drum with a density assumed from its label, a limit, and a class."""
    text = text_resource("demo_drum.toml")
    for old, new in (
        ("[assay.sampling]", "[assay.density]\nassumed = true\n\n[assay.sampling]"),
        ('into = "water"', 'into = "water"\nlimit = "0.110 mol OCl-"\nportions = 24\nspare = 2\nbinding = "all"'),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    return run_text(text, name="by mass.toml")


def _vinegar() -> SheetResult:
    """Return the acid as acetic acid, dosed into a vessel that is not named."""
    text = text_resource("demo_acid.toml")
    for old, new in (
        ('species = "hydrochloric acid"\nlabel = "31 % w/w HCl"\n', 'species = "acetic acid"\n'),
        ('"0.100 mol HCl"', '"5.00 g CH3COOH"'),
        ('into = "water"\n', ""),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    return run_text(text, name="vinegar.toml")


SHEETS = {
    "drum": lambda: run_demo("drum"),
    "drum by mass, for a class": _drum_by_mass,
    "acid": lambda: run_demo("acid"),
    "vinegar": _vinegar,
    "caustic": lambda: run_demo("caustic"),
}


@pytest.fixture(scope="module", params=SHEETS)
def result(request: pytest.FixtureRequest) -> SheetResult:
    return SHEETS[request.param]()


@pytest.fixture(scope="module")
def document(result: SheetResult) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(report_json(result))
    return found


# ------------------------------------------------------------------------------------------ rounding, written once more
def two_digits(number: float) -> str:
    """Return a number to two significant digits, as the trade writes it: no exponent where zeros are few.

    What lies half-way in decimals goes to the even digit, as probabilities counted in trials often do.
    """
    if number == 0.0:
        return "0"
    shown = Decimal(f"{Decimal(repr(number)):.1e}")
    places = 1 - shown.adjusted()
    return f"{shown:f}" if -4 < places < 7 else f"{number:.1e}"


def plus_minus(found: dict[str, Any]) -> str:
    """Return ``(value ± U) unit`` of one result of the JSON."""
    expanded = found["coverage_factor"] * found["standard_uncertainty"]
    step = Decimal(1).scaleb(Decimal(f"{expanded:.1e}").adjusted() - 1)
    value, wide = (Decimal(repr(number)).quantize(step) for number in (found["value"], expanded))
    return f"({value:f} ± {wide:f}) {found['unit']}"


def dof_shown(dof: float | None) -> str:
    if dof is None or dof > 1e6:
        return "∞"
    return "> 1000" if dof > 1000.0 else f"{dof:.3g}"


def percent(p: float) -> str:
    return "< 0.0005 %" if p < 1.0 / 200_000 else f"{two_digits(100 * p)} %"


# -------------------------------------------------------------------------------------------- rows, read from each form
def rows_of_text(shown: str) -> list[list[str]]:
    """Return the cells of every line: they stand two blanks or more apart."""
    return [re.split(r" {2,}", line.strip()) for line in shown.splitlines()]


def rows_of_html(shown: str) -> list[list[str]]:
    lines = re.findall(r"<tr>(.*?)</tr>", shown)
    return [[markup.unescape(cell) for cell in re.findall(r"<t[dh]>(.*?)</t[dh]>", line)] for line in lines]


LATEX = {r"$\pm$": "±", r"$\infty$": "∞", "$^2$": "²", "$^-$": "⁻", r"\%": "%", r"\_": "_", r"\&": "&", r"\#": "#"}


def rows_of_latex(shown: str) -> list[list[str]]:
    plain = shown
    for written, meant in LATEX.items():
        plain = plain.replace(written, meant)
    body = plain[plain.index("\\begin{tabular}") :].splitlines()
    return [line.removesuffix(r" \\").split(" & ") for line in body if line.endswith(r"\\")]


def strength_rows(document: dict[str, Any], sample: str) -> list[list[str]]:
    """Return what every form must show of a strength: basis, value ± U, u, k, dof."""
    return [
        [
            found["basis"],
            plus_minus(found),
            two_digits(found["standard_uncertainty"]),
            f"{found['coverage_factor']:.2f}",
            dof_shown(found["coverage_degrees_of_freedom"]),
        ]
        for found in document["results"]
        if found["name"] == f"strength/{sample}"
    ]


def dose_rows(dose: dict[str, Any]) -> list[list[str]]:
    """Return what every form must show of a dose: kind, what to dispense, what it delivers, and the probabilities."""
    found = []
    for volume in dose["volumes"]:
        shown = f"{1000 * volume['volume']:.6g} mL"
        if volume["fillings"] > 1:
            shown += f" in {volume['fillings']} fillings of {1000 * volume['volume'] / volume['fillings']:.6g} mL"
        told = ["probability_below", "probability_above"]
        if dose["portions"] + dose["spare"] > 1:
            told += ["probability_any_below", "probability_any_above"]
        found.append(
            [
                volume["kind"],
                f"{shown} with {dose['dispenser']}",
                plus_minus(volume["delivered"]),
                f"{100 * volume['delivered']['value'] / dose['required']['value']:.1f} %",
                *(percent(volume[key]) for key in told),
            ]
        )
    return found


class TestFormsAgree:
    def test_every_strength_in_every_form(self, result: SheetResult, document: dict[str, Any]) -> None:
        report = rows_of_text(report_text(result))
        for sample, strength in result.strengths.items():
            expected = strength_rows(document, sample)
            assert len(expected) == len(strength.bases())
            assert rows_of_html(strength._repr_html_())[1:] == expected
            assert rows_of_latex(strength._repr_latex_())[1:] == expected
            assert rows_of_text(str(strength))[-len(expected) :] == expected
            assert [line for line in report if line in expected] == expected

    def test_every_dose_in_every_form(self, result: SheetResult, document: dict[str, Any]) -> None:
        report = rows_of_text(report_text(result))
        for dose, told in zip(result.doses, document["doses"], strict=True):
            expected = dose_rows(told)
            assert len(expected) == len(dose.volumes)
            assert rows_of_html(dose._repr_html_())[1:] == expected
            assert rows_of_latex(dose._repr_latex_())[1:] == expected
            for page in (rows_of_text(str(dose)), report):
                assert [line for line in page if line in expected] == expected

    def test_headings_of_a_table_are_the_same_in_every_form(self, result: SheetResult) -> None:
        things: list[Strength | Dose] = [*result.strengths.values(), *result.doses]
        for thing in things:
            head = list(thing.rows().head)
            assert rows_of_html(thing._repr_html_())[0] == head
            assert rows_of_latex(thing._repr_latex_())[0] == head
            # An empty heading leaves no cell in the text.
            assert [cell for cell in head if cell] in rows_of_text(str(thing))

    def test_budgets(self, result: SheetResult, document: dict[str, Any]) -> None:
        """The report's five largest contributions are those of every other form, and of the JSON in the same share."""
        report = report_text(result)
        for sample, strength in result.strengths.items():
            start = report.index(f"Budget of {strength.label}\n")
            _, head, *shown, rest = rows_of_text(report[start : report.index("\n\n", start)])
            budget = strength.budget()
            assert rest[0] == f"{len(budget.lines) - 5} smaller ones together"
            assert len(shown) == min(5, len(budget.lines))
            assert rows_of_html(budget._repr_html_())[:6] == [head, *shown]
            assert rows_of_latex(budget._repr_latex_())[:6] == [head, *shown]
            told = next(
                found
                for found in document["results"]
                if found["name"] == f"strength/{sample}" and ("w/w" in found["basis"]) == strength.per_mass
            )
            by_label = {line["label"]: line["standard_uncertainty"] / told["value"] for line in told["contributions"]}
            for label, u, share, *_ in shown:
                relative = by_label[label]
                assert u == two_digits(relative * strength.estimate.value)
                assert share == f"{100 * (relative / strength.estimate.relative_u) ** 2:.1f} %"

    def test_titrants_and_caustics(self, result: SheetResult, document: dict[str, Any]) -> None:
        report = " ".join(report_text(result).split())
        shown = [found for found in document["results"] if found["name"].startswith(("titrant/", "caustic/"))]
        assert len(shown) == len(result.titrants) + 2 * len(result.caustics)
        for found in shown:
            assert plus_minus(found) in report

    def test_the_label_and_what_is_in_hand(self, result: SheetResult, document: dict[str, Any]) -> None:
        for dose, told in zip(result.doses, document["doses"], strict=True):
            for page in (str(dose), markup.unescape(dose._repr_html_()), dose._repr_latex_().replace(r"$\pm$", "±")):
                if told["by_label"] is not None:
                    assert plus_minus(told["by_label"]) in page
                count = told["portions"] + told["spare"]
                if count > 1:
                    for volume in told["volumes"]:
                        total = count * volume["volume"]
                        shown = f"{1000 * total:.6g} mL" if total < 2.0 else f"{total:.6g} L"
                        assert f"{volume['kind']} {shown}" in page

    def test_every_flag_and_caution_in_every_form(self, result: SheetResult, document: dict[str, Any]) -> None:
        report = " ".join(report_text(result).split())
        for sample, strength in result.strengths.items():
            of_sample = [found for found in document["results"] if found["name"] == f"strength/{sample}"]
            flags: list[dict[str, Any]] = []
            for found in of_sample:  # that of a density stands with the bases that it was used for
                flags += [flag for flag in found["flags"] if flag not in flags]
            assert [flag["code"] for flag in flags] == [flag.code for flag in strength.flags]
            measured = {found["basis"] for found in of_sample if len(found["flags"]) < len(flags)}
            assert measured <= {b.key for b in strength.species.bases if b.per_mass == strength.per_mass}
            for flag in flags:
                line = f"! {flag['code']}: {flag['message']}"
                assert " ".join(line.split()) in report or flag["code"] == "portion-only"
                assert line in str(strength)
                assert line in markup.unescape(strength._repr_html_())
                assert flag["code"] in strength._repr_latex_()
        for dose, told in zip(result.doses, document["doses"], strict=True):
            assert told["cautions"] == list(dose.cautions())
            for caution in told["cautions"]:
                assert caution in report


def test_numbers_of_the_json_are_those_of_the_results_to_the_last_bit(
    result: SheetResult, document: dict[str, Any]
) -> None:
    estimates = [
        *(titrant.estimate for titrant in result.titrants.values()),
        *(estimate for strength in result.strengths.values() for estimate in strength.bases().values()),
        *(e for caustic in result.caustics.values() for e in (caustic.hydroxide, caustic.carbonate)),
    ]
    assert len(document["results"]) == len(estimates)
    for found, estimate in zip(document["results"], estimates, strict=True):
        assert (found["value"], found["standard_uncertainty"]) == (estimate.value, estimate.u)
        for key, dof in (("", estimate.dof), ("coverage_", estimate.coverage_dof)):
            assert found[f"{key}degrees_of_freedom"] == (None if math.isinf(dof) else dof)
        assert found["ids"] == sorted(estimate.influences)
    for dose, told in zip(result.doses, document["doses"], strict=True):
        assert (told["portions"], told["spare"], told["binding"]) == (dose.portions, dose.spare, dose.binding)
        for volume, shown in zip(dose.volumes, told["volumes"], strict=True):
            assert (shown["volume"], shown["fillings"]) == (volume.volume, volume.fills)
            assert (shown["probability_below"], shown["probability_above"]) == (volume.below, volume.above)
            assert (shown["probability_any_below"], shown["probability_any_above"]) == (
                volume.any_below,
                volume.any_above,
            )


# ---------------------------------------------------------------------------------------------------- the JSON contract
TEXT, NUMBER, TRUTH, LIST, TABLE, NOTHING = "text", "number", "truth", "list", "table", "nothing"
#: What one result has, in the contract of the first chemistry: key and kinds of value.
RESULT = {
    "name": {TEXT}, "label": {TEXT}, "value": {NUMBER}, "standard_uncertainty": {NUMBER}, "unit": {TEXT},
    "degrees_of_freedom": {NUMBER, NOTHING}, "interval": {TABLE}, "interval.low": {NUMBER}, "interval.high": {NUMBER},
    "interval.level": {NUMBER}, "coverage_factor": {NUMBER}, "ids": {LIST}, "contributions": {LIST}, "flags": {LIST},
}  # fmt: skip
CONTRIBUTION = {"label": {TEXT}, "standard_uncertainty": {NUMBER}, "ids": {LIST}}
FLAG = {"code": {TEXT}, "message": {TEXT}, "blocking": {TRUTH}, "accepted": {TEXT}}
HEAD = {
    "schema": {NUMBER}, "assay_version": {TEXT}, "title": {TEXT}, "date": {TEXT}, "results": {LIST}, "doses": {LIST},
}  # fmt: skip
TITRANT = {
    "traceability": {TABLE}, "traceability.standard": {TEXT}, "traceability.lot": {TEXT},
    "traceability.purity": {TEXT}, "traceability.atomic weights": {TEXT},
}  # fmt: skip
STRENGTH = {"basis": {TEXT}, "facts": {TABLE}}
DOSE = {
    "name": {TEXT}, "reagent": {TEXT}, "deliver": {TEXT}, "required": {TABLE}, "limit": {TABLE, NOTHING},
    "strength": {TABLE}, "into": {TEXT, NOTHING}, "dispenser": {TEXT}, "assurance": {NUMBER}, "volumes": {LIST},
    "by_label": {TABLE, NOTHING}, "cautions": {LIST}, "flags": {LIST},
}  # fmt: skip
VOLUME = {
    "kind": {TEXT}, "volume": {NUMBER}, "volume_unit": {TEXT}, "fillings": {NUMBER}, "delivered": {TABLE},
    "probability_below": {NUMBER}, "probability_above": {NUMBER},
}  # fmt: skip


def kind_of(value: object) -> str:
    kinds = {bool: TRUTH, int: NUMBER, float: NUMBER, str: TEXT, list: LIST, dict: TABLE, type(None): NOTHING}
    return kinds[type(value)]


def lacking(found: dict[str, Any], contract: dict[str, set[str]]) -> list[str]:
    """Return the keys of a contract that are not there, or hold another kind of value."""
    wrong = []
    for path, kinds in contract.items():
        value: Any = found
        for key in path.split("."):
            value = value.get(key, ...) if isinstance(value, dict) else ...
        if value is ... or kind_of(value) not in kinds:
            wrong.append(path)
    return wrong


def every_result(document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield from document["results"]
    for dose in document["doses"]:
        yield from (dose[key] for key in ("required", "strength", "limit", "by_label") if dose[key] is not None)
        yield from (volume["delivered"] for volume in dose["volumes"])


class TestContract:
    def test_the_schema_is_that_of_the_first_chemistry(self, document: dict[str, Any]) -> None:
        assert document["schema"] == 1
        assert lacking(document, HEAD) == []

    def test_every_result_has_all_that_it_had(self, document: dict[str, Any]) -> None:
        for found in every_result(document):
            assert lacking(found, RESULT) == []
            assert [lacking(line, CONTRIBUTION) for line in found["contributions"] if lacking(line, CONTRIBUTION)] == []
            assert [lacking(flag, FLAG) for flag in found["flags"] if lacking(flag, FLAG)] == []

    def test_the_first_result_is_a_titrant_and_strengths_follow(
        self, result: SheetResult, document: dict[str, Any]
    ) -> None:
        titrants, rest = document["results"][: len(result.titrants)], document["results"][len(result.titrants) :]
        assert [found["name"] for found in titrants] == [f"titrant/{name}" for name in result.titrants]
        assert [lacking(found, TITRANT) for found in titrants if lacking(found, TITRANT)] == []
        strengths = [found for found in rest if found["name"].startswith("strength/")]
        assert rest[: len(strengths)] == strengths  # what is new comes after
        assert [lacking(found, STRENGTH) for found in strengths if lacking(found, STRENGTH)] == []

    def test_every_dose_has_all_that_it_had(self, document: dict[str, Any]) -> None:
        assert document["doses"]
        for dose in document["doses"]:
            assert lacking(dose, DOSE) == []
            assert dose["volumes"]
            assert [lacking(volume, VOLUME) for volume in dose["volumes"] if lacking(volume, VOLUME)] == []
            assert {volume["volume_unit"] for volume in dose["volumes"]} == {"L"}

    def test_the_squares_of_the_contributions_make_the_uncertainty(self, document: dict[str, Any]) -> None:
        for found in every_result(document):
            parts = [line["standard_uncertainty"] for line in found["contributions"]]
            assert math.hypot(*parts) == pytest.approx(found["standard_uncertainty"], rel=1e-9, abs=1e-18)
            assert {id_ for line in found["contributions"] for id_ in line["ids"]} == set(found["ids"])

    def test_it_is_strict_json(self, result: SheetResult) -> None:
        def refuse(constant: str) -> float:
            raise AssertionError(constant)

        json.loads(report_json(result), parse_constant=refuse)


def test_the_bases_of_the_first_chemistry_keep_their_names_and_their_order() -> None:
    """By mass they follow; a program that took the first five still takes the same."""
    first = [
        "mol/L OCl-",
        "g/L available chlorine",
        "% w/v available chlorine",
        "g/L NaOCl",
        "% w/v NaOCl",
    ]
    plain = json.loads(report_json(run_demo("drum")))["results"][1:]
    assert [found["basis"] for found in plain] == first
    by_mass = [found["basis"] for found in json.loads(report_json(_drum_by_mass()))["results"][1:]]
    assert by_mass == [*first, "% w/w available chlorine", "% w/w NaOCl", "mg/kg available chlorine"]
