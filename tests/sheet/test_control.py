"""Sampling, drift, recovery and control charts on a sheet."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable

import pytest

from assay import SheetError, report_json, report_text
from assay.sheet.run import SheetResult, run_text

Edit = Callable[..., str]

END = 'available = "18 L"'
RECOVERY = """
[[recovery]]
of = "drum 7"
known = "111.0 g/L available chlorine"
half_width = "0.5 g/L available chlorine"
"""
CHART = """
[[control]]
name = "drum standard"
of = "drum 7"
basis = "g/L available chlorine"
results = [110.2, 110.9, 110.5, 111.1, 110.7]
"""
DELAY = 'delay = "15 min"'
SAMPLED = """delay = "3 h"
name = "drum 7, Monday"
samples = 2
places = "top and bottom"
mixing = "rolled for 5 min"
temperature = "18 °C"
between_samples = 0.004
between_dof = 8
loss = 0.002
loss_in = "1 h"
"""
DUPLICATES = "duplicates = [[[101.2, 100.8], [99.6, 99.9]], [[97.0, 97.3], [98.0, 98.2]]]"


def run(text: str) -> SheetResult:
    return run_text(text, name="bench.toml")


def _later(table: str, times: int) -> str:
    """Return a standardisation whose titrant has grown weaker so many times: 0.40 mL more are consumed."""
    return table.replace("25.00", f"{25.00 + 0.40 * times:.2f}").replace("24.95", f"{24.95 + 0.40 * times:.2f}")


def standardised_on(demo: str, *days: str) -> str:
    """Return the demo with its standardisation on each of these days, weaker on each."""
    head, _, rest = demo.partition("[standardisation]")
    own, _, tail = rest.partition("# The drum:")
    tables = [f"[[standardisation]]\non = {day}{_later(own, k)}" for k, day in enumerate(days)]
    return f"{head}{''.join(tables)}# The drum:{tail}"


# ------------------------------------------------------------------------------------------------------------- sampling
def test_sampling_comes_into_the_budget(demo: str, edited: Edit) -> None:
    bare, told = run(demo).strengths["drum 7"], run(edited((DELAY, SAMPLED))).strengths["drum 7"]
    assert told.estimate.value == pytest.approx(bare.estimate.value / (1 - 0.003))
    influence = told.estimate.influences["sampling/drum 7, Monday/samples"]
    assert influence.u == pytest.approx(0.004 / 2**0.5)
    assert influence.dof == 8
    assert told.estimate.influences["sampling/drum 7, Monday/loss"].quantile(1.0) == pytest.approx(0.006)
    assert "kept at 18 °C" in told.facts["sampling"]


def test_duplicates_are_analysed(edited: Edit) -> None:
    told = run(edited((DELAY, f"{DELAY}\n{DUPLICATES}"))).strengths["drum 7"]
    samples = told.estimate.influences["sampling/record 2026-11-16 drum 7/samples"]
    # Means of samples 101, 99.75; 97.15, 98.1, mean 99. Mean squares (1.25² + 0.95²)/2 and (0.08 + 3·…)/4 by hand:
    between, within = (1.25**2 + 0.95**2) / 2, (0.4**2 + 0.3**2 + 0.3**2 + 0.2**2) / 2 / 4
    assert samples.u == pytest.approx(((between - within) / 2) ** 0.5 / 99.0)
    assert "few-targets" in [flag.code for flag in told.flags]


def test_a_delay_that_is_missing_is_flagged(edited: Edit) -> None:
    assert "delay-not-stated" in [flag.code for flag in run(edited((f"{DELAY}\n", ""))).flags]


# ---------------------------------------------------------------------------------------------------------------- drift
def test_a_titrant_is_taken_between_its_days(demo: str) -> None:
    result = run(standardised_on(demo, "2026-11-09", "2026-11-23"))
    found = result.titrant
    first = run(standardised_on(demo, "2026-11-09")).titrant
    net = (24.95 + 25.00 + 24.95) / 3 - 0.05  # mL, on the first day, and 0.40 mL more on the other
    assert found.label == "thiosulfate on 2026-11-16"
    assert found.estimate.value == pytest.approx(first.estimate.value * (1 + net / (net + 0.40)) / 2, rel=1e-12)
    assert [flag.code for flag in found.flags] == ["titres-set-aside", "titres-set-aside", "titrant-drift"]
    assert "interpolated between the standardisations of 2026-11-09 and 2026-11-23" in " ".join(
        report_text(result).split()
    )


def test_a_titrant_beyond_its_days_is_flagged(demo: str) -> None:
    result = run(standardised_on(demo, "2026-11-02", "2026-11-09"))
    assert "titrant-extrapolated" in [flag.code for flag in result.flags]


def test_an_earlier_day_alone_is_taken_as_found(demo: str) -> None:
    found = run(standardised_on(demo, "2026-11-02")).titrant
    assert "2026-11-02 thiosulfate" in found.label
    assert found.estimate.value == run(demo).titrant.estimate.value


# ------------------------------------------------------------------------------------------------- recovery and control
def test_recovery_and_chart_are_told_everywhere(edited: Edit) -> None:
    result = run(edited((END, END + RECOVERY + CHART)))
    strength = result.strengths["drum 7"].in_basis("g/L available chlorine")
    assert result.recoveries["drum 7"].recovery.value == pytest.approx(strength.value / 111.0)
    chart = result.controls["drum standard"]
    assert chart.values == (110.2, 110.9, 110.5, 111.1, 110.7, strength.value)
    assert chart.baseline == 5  # today's result is judged by the earlier ones
    assert "interim-limits" in [flag.code for flag in result.flags]
    report = report_text(result)
    assert "recovery of 2026-11-16 drum 7, g/L available chlorine" in report
    assert "! interim-limits: the limits of drum standard rest on 5 values" in report
    assert "drum standard: 6 values, centre 110.68 g/L" in report
    document = json.loads(report_json(result))
    assert document["recoveries"][0]["name"] == "recovery/drum 7"
    assert document["recoveries"][0]["e_n"] == result.recoveries["drum 7"].e_n
    assert document["controls"][0]["values"][-1] == strength.value
    assert document["controls"][0]["interim"] is True
    assert document["controls"][0]["spread"]["quantity"] == "moving range"
    assert "recovery" in str(result)


def test_a_chart_without_a_sample_has_a_unit_and_stated_limits(edited: Edit) -> None:
    chart = """
[[control]]
name = "blank"
unit = "mL"
results = [0.05, 0.04, 0.12]
target = 0.05
standard_deviation = 0.02
dof = 30
rules = "nelson"
"""
    found = run(edited((END, END + chart))).controls["blank"]
    assert found.limits.centre == 0.05
    assert [signal.rule for signal in found.signals] == ["beyond-limits"]


BAD = {
    "a loss as a text": ((DELAY, SAMPLED), ("loss = 0.002", 'loss = "0.2 %"'), ["key loss", "pure number"]),
    "a loss in per cent": ((DELAY, SAMPLED), ("loss = 0.002", "loss = 20"), ["key loss", "0.5 % is 0.005"]),
    "a scatter in per cent": ((DELAY, SAMPLED), ("0.004", "4"), ["key between_samples", "0.004"]),
    "a rate without a delay": ((DELAY, SAMPLED), ('delay = "3 h"\n', ""), ["key loss_in", "delay"]),
    "half a sample": ((DELAY, SAMPLED), ("samples = 2", "samples = 2.5"), ["key samples", "whole number"]),
    "an unknown key": ((DELAY, SAMPLED), ("mixing", "mixed"), ["key mixed", "'mixing'"]),
    "duplicates and a scatter": (
        (DELAY, SAMPLED),
        ("loss =", f"{DUPLICATES}\nloss ="),
        ["key between_samples", "duplicate"],
    ),
    "dof of nothing": ((DELAY, SAMPLED), ("between_samples = 0.004\n", ""), ["key between_dof", "between_samples"]),
    "duplicates of one level": (
        (DELAY, f"{DELAY}\n{DUPLICATES}"),
        ("[[[101.2, 100.8], [99.6, 99.9]],", "[[101.2, 100.8],"),
        ["key duplicates", "two samples of each"],
    ),
    "duplicates as texts": ((DELAY, f"{DELAY}\n{DUPLICATES}"), ("101.2", '"101.2 g/L"'), ["key duplicates", "targets"]),
    "one target": (
        (DELAY, f"{DELAY}\n{DUPLICATES}"),
        (", [[97.0, 97.3], [98.0, 98.2]]", ""),
        ["key duplicates", "two of each"],
    ),
    "a day in quotes": (
        ("[standardisation]", "[standardisation]\non = 2026-11-02"),
        ("on = 2026-11-02", 'on = "2 Nov"'),
        ["key on", "2026-11-16, without quotes"],
    ),
    "a recovery of nothing": (
        (END, END + RECOVERY),
        ('of = "drum 7"\nknown', 'of = "drum 8"\nknown'),
        ["[[recovery]]", "key of", "'drum 7'"],
    ),
    "a known strength without a basis": (
        (END, END + RECOVERY),
        ("111.0 g/L available chlorine", "111.0 g/L"),
        ["key known", "available chlorine"],
    ),
    "a half-width in another basis": (
        (END, END + RECOVERY),
        ("0.5 g/L available chlorine", "0.5 g/L NaOCl"),
        ["key half_width", "g/L available chlorine"],
    ),
    "a half-width in mL": ((END, END + RECOVERY), ("0.5 g/L available chlorine", "0.5 mL"), ["key half_width"]),
    "no half-width": (
        (END, END + RECOVERY),
        ('half_width = "0.5 g/L available chlorine"', ""),
        ["[[recovery]]", "'half_width' is missing"],
    ),
    "a recovery twice": ((END, END + RECOVERY), (RECOVERY, RECOVERY + RECOVERY), ["[[recovery]]", "key of", "above"]),
    "a chart without a name": (
        (END, END + CHART),
        ('name = "drum standard"\n', ""),
        ["[[control]]", "'name' is missing"],
    ),
    "two charts of one name": (
        (END, END + CHART),
        (CHART, CHART + CHART),
        ["[[control]]", "key name", "Name them apart"],
    ),
    "results as texts": ((END, END + CHART), ("110.9", '"110.9 g/L"'), ["key results", "pure numbers"]),
    "a chart of another sample": (
        (END, END + CHART),
        ('of = "drum 7"\nbasis', 'of = "drum 8"\nbasis'),
        ["key of", "'drum 7'"],
    ),
    "a basis that is none": (
        (END, END + CHART),
        ('"g/L available chlorine"\nresults', '"%"\nresults'),
        ["key basis", "'%'"],
    ),
    "no basis": ((END, END + CHART), ('basis = "g/L available chlorine"\nresults', "results"), ["'basis' is missing"]),
    "a basis and a unit": ((END, END + CHART), ("results =", 'unit = "g/L"\nresults ='), ["key unit", "Leave it out"]),
    "a basis without a sample": ((END, END + CHART), ('of = "drum 7"\nbasis', "basis"), ["key basis", "unit"]),
    "no unit": ((END, END + CHART), ('of = "drum 7"\nbasis = "g/L available chlorine"\n', ""), ["'unit' is missing"]),
    "no result": (
        (END, END + CHART),
        (
            'of = "drum 7"\nbasis = "g/L available chlorine"\nresults = [110.2, 110.9, 110.5, 111.1, 110.7]',
            'unit = "g/L"',
        ),
        ["[[control]]", "one or more"],
    ),
    "rules that are none": (
        (END, END + CHART),
        ("results =", 'rules = "nelsen"\nresults ='),
        ["key rules", "'nelson'"],
    ),
    "a baseline beyond": ((END, END + CHART), ("results =", "baseline = 9\nresults ="), ["key baseline", "1 to 6"]),
    "no scatter": (
        (END, END + CHART),
        ("results =", "standard_deviation = 0.0\nresults ="),
        ["key standard_deviation"],
    ),
    "an unknown key of a chart": (
        (END, END + CHART),
        ("results =", "sigma = 1\nresults ="),
        ["key sigma", "unknown key"],
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_mistake_is_told_at_its_key(edited: Edit, name: str) -> None:
    *edits, says = BAD[name]
    text = edited(*edits)
    with pytest.raises(SheetError) as caught:
        run(text)
    message = str(caught.value)
    assert message.startswith("bench.toml, line ")
    assert [part for part in says if part not in message] == [], message
    assert str(pickle.loads(pickle.dumps(caught.value))) == message  # noqa: S301  (what was pickled here)


def test_two_standardisations_on_one_day_are_refused(demo: str) -> None:
    with pytest.raises(SheetError, match=r"key on.*standardised above as well.*give each its day"):
        run(standardised_on(demo, "2026-11-02", "2026-11-02"))
