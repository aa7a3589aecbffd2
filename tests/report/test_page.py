"""The report as it is read at the bench."""

from __future__ import annotations

import re

import pytest

from assay.report.page import WIDTH, report_text
from assay.sheet.run import SheetResult


@pytest.fixture(scope="module")
def report(demo_result: SheetResult) -> str:
    return report_text(demo_result)


@pytest.fixture(scope="module")
def silent(silent_result: SheetResult) -> str:
    return report_text(silent_result)


def _joined(report: str) -> str:
    """Return a report with its lines joined, so that a sentence is found wherever it was broken."""
    return " ".join(report.split())


def _section(report: str, title: str) -> str:
    """Return the lines under a title, up to the next empty line."""
    return report[report.index(f"{title}\n") :].split("\n\n", 1)[0]


class TestFirstLines:
    def test_title_and_date_come_first(self, report: str) -> None:
        assert report.splitlines()[0] == "Prep room: drum of hypochlorite for the dye-fading practical, 2026-11-16"

    def test_sampling_that_is_stated_follows(self, report: str) -> None:
        assert " ".join(report.splitlines()[1:3]) == (
            "Sampling: drum rolled, 100 mL drawn through the tap after 50 mL to waste; titrated after 15 min. "
            "What samples differ by and what was lost until then are not in the budget."
        )

    def test_sampling_that_is_not_stated_leaves_the_uncertainty_to_the_portion(self, silent: str) -> None:
        first = _joined("\n".join(silent.splitlines()[1:3]))
        assert first.startswith("!")
        assert "sampling and delay are not stated for 2026-11-16 drum 7" in first.lower()
        assert "the uncertainty is that of the portion tested, not of the drum" in first

    def test_the_doubt_about_sampling_is_told_once(self, silent: str, report: str) -> None:
        assert _joined(silent).count("uncertainty is that of the portion") == 1
        assert "portion tested" not in report


class TestStrength:
    @pytest.mark.parametrize(
        ("basis", "line"),
        [
            ("mol/L OCl-", r"\(1\.561 ± 0\.013\) mol/L"),
            ("g/L available chlorine", r"\(110\.66 ± 0\.94\) g/L"),
            ("% w/v available chlorine", r"\(11\.066 ± 0\.094\) g/\(100 mL\)"),
            ("g/L NaOCl", r"\(116\.18 ± 0\.99\) g/L"),
            ("% w/v NaOCl", r"\(11\.618 ± 0\.099\) g/\(100 mL\)"),
        ],
    )
    def test_every_basis_has_value_uncertainty_coverage_factor_and_degrees_of_freedom(
        self, report: str, demo_result: SheetResult, basis: str, line: str
    ) -> None:
        estimate = demo_result.strengths["drum 7"].bases()[basis]
        found = re.search(rf"^  {re.escape(basis)} +{line} +(\S+) +(\S+) +(\S+)$", report, re.MULTILINE)
        assert found is not None
        exact = (estimate.u, estimate.coverage_factor(0.95), estimate.coverage_dof)
        for printed, value in zip(found.groups(), exact, strict=True):
            half_unit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
            assert float(printed) == pytest.approx(value, rel=0.0, abs=half_unit * (1 + 1e-9))

    def test_columns_and_level_are_named(self, report: str, silent: str) -> None:
        assert re.search(r"^2026-11-16 drum 7: strength, U at 95 %$", report, re.MULTILINE)
        assert re.search(r"^  as +value ± U +u +k +dof$", report, re.MULTILINE)
        assert re.search(r"^2026-11-16 drum 7: strength, U at 99 %$", silent, re.MULTILINE)
        assert "(U at 99 %)" in silent
        assert "95 %" not in _section(silent, "2026-11-16 drum 7: strength, U at 99 %")

    def test_what_was_measured_and_what_the_label_says(self, report: str, silent: str) -> None:
        assert "Measured: total oxidant that acts on iodide" in _joined(report)
        assert "The label says 15 % w/v available chlorine." in report
        assert "label says" not in silent

    def test_flags_stand_above_the_strength(self, report: str, silent: str) -> None:
        above = _joined(report[: report.index("strength, U at")])
        assert "! titres-set-aside: not counted for thiosulfate" in above
        assert "25.8 mL (rough)" in above
        assert "! no-blank: no blank was titrated for 2026-11-16 drum 7" in _joined(
            silent[: silent.index("strength, U")]
        )

    def test_infinite_degrees_of_freedom_are_shown_as_such(self, exact_result: SheetResult) -> None:
        assert re.search(r"^  mol/L OCl- .* 1\.96 +∞$", report_text(exact_result), re.MULTILINE)


class TestBudget:
    def test_five_largest_contributions_in_order(self, report: str, demo_result: SheetResult) -> None:
        title, head, *body = _section(report, "Budget of 2026-11-16 drum 7").splitlines()
        assert title == "Budget of 2026-11-16 drum 7"
        assert [heading in head for heading in ("contribution of", "u / (mol/L)", "share of u²", "dof", "known from")]
        estimate = demo_result.strengths["drum 7"].estimate
        largest = sorted(demo_result.strengths["drum 7"].budget().lines, key=lambda line: -abs(line.contribution))[:5]
        *body, rest = body
        assert [re.split(r"  +", line.strip())[0] for line in body] == [line.label for line in largest]
        together = estimate.u**2 - sum(line.contribution**2 for line in largest)
        assert re.split(r"  +", rest.strip())[0] == "14 smaller ones together"
        assert f"{100 * together / estimate.u**2:.1f} %" in rest
        shares = [float(re.search(r"([\d.]+) %", line).group(1)) for line in body]  # type: ignore[union-attr]
        assert shares == [pytest.approx(100 * line.contribution**2 / estimate.u**2, abs=0.05) for line in largest]

    def test_each_contribution_says_where_it_is_known_from(self, report: str) -> None:
        body = _section(report, "Budget of 2026-11-16 drum 7")
        assert "ISO 648:2008 class B, ±0.04 mL" in body
        assert "ISO 385:2005 class B, ±0.1 mL" in body
        assert "n = 3, s =" in body


class TestDose:
    def test_each_volume_with_what_it_delivers_and_the_probability_of_missing(self, report: str) -> None:
        body = _section(report, "Dose of hypochlorite to deliver 0.100 mol OCl-, assurance 95 %")
        assert "P(too little)" in body
        for kind, volume in (("nominal", "64 mL"), ("at least", "66 mL"), ("at most", "62 mL")):
            line = (
                rf"^  {kind} +{volume} with cylinder C100 \(100 mL\) +\(0\.\d+ ± 0\.\d+\) mol +[\d.]+ % .* % +[\d.]+ %$"
            )
            assert re.search(line, body, re.MULTILINE), kind

    def test_into_and_label(self, report: str) -> None:
        assert "\n  into: water\n" in report
        assert "Trusting the label would have delivered (0.07377 ± 0.00063) mol, 74 % of what is asked." in _joined(
            report
        )

    def test_cautions_of_dispensing_follow(self, report: str) -> None:
        cautions = _joined(_section(report, "  Before dispensing"))
        for part in ("Never dispense hypochlorite into acid", "urea", "into the water, slowly", "Label what was made"):
            assert part in cautions

    def test_a_vessel_that_is_not_stated_brings_the_caution_before_the_dose(self, silent: str, report: str) -> None:
        before = _joined(silent[: silent.index("Dose of hypochlorite")])
        assert "CAUTION: Never dispense hypochlorite into acid, ammonia" in before
        assert "\n  into: not stated\n" in silent
        assert "CAUTION" not in report


class TestTraceability:
    def test_standard_lot_purity_and_atomic_weights(self, report: str) -> None:
        line = _joined(report[report.index("Traceability:") :].split("\n\n", 1)[0])
        for part in (
            "thiosulfate", "(0.10021 ± 0.00067) mol/L", "k = 2.14", "degrees of freedom", "potassium iodate",
            "lot 2219", "99.95 % w/w ± 0.05 % w/w", "ciaaw-20", "20 °C", "buoyancy is not in the budget",
        ):  # fmt: skip
            assert part in line

    def test_a_lot_that_is_not_stated_is_said_to_be_so(self, exact_result: SheetResult) -> None:
        assert "lot not stated" in _joined(report_text(exact_result))


class TestProcedure:
    @pytest.fixture(scope="class")
    @classmethod
    def procedure(cls, report: str) -> str:
        return _joined(_section(report, "The titration, in its safe order"))

    def test_iodide_then_sample_then_acid(self, procedure: str) -> None:
        iodide, sample, acid = (
            procedure.index(part) for part in ("Dissolve 2 g", "Pipette the aliquot", "acetic acid")
        )
        assert iodide < sample < acid

    def test_dilution_comes_before_and_titration_after(self, procedure: str) -> None:
        dilute, iodide, stopper = (procedure.index(part) for part in ("Dilute the sample", "Dissolve 2 g", "Stopper"))
        assert dilute < iodide < stopper < procedure.index("Titrate at once")

    @pytest.mark.parametrize(
        "part", ["fume hood", "5 milliequivalents", "never hydrochloric acid", "Stopper", "at once", "blank"]
    )
    def test_what_makes_it_safe_is_said(self, procedure: str, part: str) -> None:
        assert part in procedure


def test_cautions_of_handling_and_waste(report: str) -> None:
    cautions = _joined(_section(report, "Cautions"))
    for part in ("goggles, gloves", "every acid", "ammonia", "vents", "thiosulfate waste near neutral"):
        assert part in cautions


def test_local_rules_come_before_the_text(report: str) -> None:
    assert "judgement of those licensed for the work come before this text" in _joined(report)


def test_sentences_fit_the_page(report: str, silent: str) -> None:
    for line in (*report.splitlines(), *silent.splitlines()):
        table = re.search(r"\S {2,}\S", line.strip()) is not None
        assert len(line) <= WIDTH or table
        assert line == line.rstrip()


def test_it_ends_with_one_line_end(report: str) -> None:
    assert report.endswith("\n")
    assert not report.endswith("\n\n\n")


def test_every_sample_and_every_dose_is_reported(demo_result: SheetResult) -> None:
    strength = demo_result.strengths["drum 7"]
    both = SheetResult(
        title="Two",
        date=demo_result.date,
        titrants=demo_result.titrants,
        strengths={"a": strength, "b": strength},
        doses=demo_result.doses * 2,
        level=0.95,
    )
    report = report_text(both)
    assert report.count("strength, U at 95 %") == 2
    assert report.count("Dose of hypochlorite to deliver") == 2
    assert report.count("The titration, in its safe order") == 1
