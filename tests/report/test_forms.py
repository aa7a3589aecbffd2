"""Titrant, caustic and the whole result of a sheet are shown as the other results are."""

from __future__ import annotations

import html
from typing import Any

import pytest

from assay import Titrant
from assay.data import text_resource
from assay.display.numbers import plus_minus
from assay.sheet.run import SheetResult, run_demo, run_text
from assay.titration.acid_base import Caustic


@pytest.fixture(scope="module")
def sheet() -> SheetResult:
    return run_demo("caustic")


def found(kind: str, sheet: SheetResult) -> Any:  # noqa: ANN401  (one of three)
    return {"titrant": sheet.titrant, "caustic": sheet.caustics["old caustic"], "sheet": sheet}[kind]


def numbers(result: Titrant | Caustic | SheetResult) -> list[str]:
    """Return value ± U of what it holds, one sheet's strengths included."""
    if isinstance(result, Titrant):
        estimates = [result.estimate]
    elif isinstance(result, Caustic):
        estimates = [result.hydroxide, result.carbonate]
    else:
        estimates = [result.titrant.estimate, *(strength.estimate for strength in result.strengths.values())]
    return [plus_minus(e.value, e.expanded(), e.unit) for e in estimates]


@pytest.mark.parametrize("kind", ["titrant", "caustic", "sheet"])
def test_one_line_with_flags_and_no_raw_fields(kind: str, sheet: SheetResult) -> None:
    shown = repr(found(kind, sheet))
    assert shown.startswith("<")
    assert shown.endswith(">")
    assert "\n" not in shown
    assert len(shown) < 200
    assert "Estimate(" not in shown
    assert ("[carbonate-counted]" in shown) is (kind != "titrant")


@pytest.mark.parametrize("kind", ["titrant", "caustic", "sheet"])
def test_text_html_and_latex_have_the_same_numbers_and_doubts(kind: str, sheet: SheetResult) -> None:
    result = found(kind, sheet)
    as_text, as_html, as_latex = str(result), html.unescape(result._repr_html_()), result._repr_latex_()
    assert as_html.count("<table>") == 1
    assert as_latex.count(r"\begin{tabular}") == 1
    for number in numbers(result):
        assert number in as_text
        assert number in as_html
        assert number.replace("±", r"$\pm$") in as_latex
    for flag in result.flags:
        assert f"! {flag}" in as_text
        assert f"! {flag}" in as_html
        assert flag.code in as_latex


def test_a_titrant_shows_its_chain_in_every_form(sheet: SheetResult) -> None:
    for shown in (str(sheet.titrant), html.unescape(sheet.titrant._repr_html_()), sheet.titrant._repr_latex_()):
        assert "against sodium carbonate, lot 7730" in shown


def test_a_dose_into_something_unsaid_begins_with_the_caution_in_every_form() -> None:
    text = text_resource("demo_drum.toml").replace('into = "water"\n', "")
    result = run_text(text, name="demo.toml")
    assert str(result).startswith("CAUTION: ")
    assert result._repr_html_().startswith("<p>CAUTION: ")
    assert result._repr_latex_().startswith("CAUTION: ")
