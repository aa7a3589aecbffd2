"""Instruments that many sheets share, and what is known of one piece of ware itself."""

from __future__ import annotations

import json
import statistics
from importlib import resources
from pathlib import Path

import pytest

import assay
from assay import SheetError, run_sheet

SHEET = resources.files("assay.data").joinpath("demo_drum.toml").read_text(encoding="utf-8")
HEAD = "\n# Every piece of glass"
TAIL = "\n# Thiosulfate, about"
INSTRUMENTS = SHEET[SHEET.index(HEAD) : SHEET.index(TAIL)]
WITHOUT = SHEET.replace(INSTRUMENTS, "")
PIPETTE = '[instruments.P10]\nkind = "pipette"\ncapacity = "10 mL"\nclass = "B"\n'
CERTIFICATE = (
    'certificate = { volume = "9.987 mL", expanded = "0.006 mL", k = 2, date = "2026-03-02", number = "K 118" }\n'
)
WEIGHED = """
[instruments.P10.calibration]
balance = "W1"
date = "2026-11-10"
water = "21.0 °C"
water_half_width = "0.5 K"
air = { temperature = "21.0 °C", pressure = "1008 hPa", humidity = "45 %" }
weighings = [
    ["29.9312 g", "20.0000 g"], ["29.9330 g", "20.0000 g"], ["29.9289 g", "20.0000 g"], ["29.9301 g", "20.0000 g"],
    ["29.9322 g", "20.0000 g"], ["29.9308 g", "20.0000 g"], ["29.9315 g", "20.0000 g"], ["29.9299 g", "20.0000 g"],
    ["29.9327 g", "20.0000 g"], ["29.9304 g", "20.0000 g"],
]
"""
TABLE = """
[instruments.B1.corrections]
readings = ["10 mL", "25 mL", "50 mL"]
corrections = ["0.012 mL", "0.020 mL", "-0.010 mL"]
expanded = "0.010 mL"
k = 2
date = "2026-03-02"
"""


def saved(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        path = folder / f"{name.replace('__', '/')}.toml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder / "sheet.toml"


def with_cupboard(names: str = '"cupboard.toml"') -> str:
    return WITHOUT.replace("date = 2026-11-16\n", f"date = 2026-11-16\ncupboard = {names}\n")


def strength(path: Path) -> assay.Estimate:
    return run_sheet(path).strengths["drum 7"].estimate


# ------------------------------------------------------------------------------------------------------ the cupboard
def test_a_sheet_with_a_cupboard_is_the_sheet_with_its_instruments(tmp_path: Path) -> None:
    whole = strength(saved(tmp_path, sheet=SHEET))
    shared = strength(saved(tmp_path, sheet=with_cupboard(), cupboard="schema = 1\n" + INSTRUMENTS))
    assert (shared.value, shared.u, shared.dof) == (whole.value, whole.u, whole.dof)
    assert shared.influences.keys() == whole.influences.keys()


def test_a_cupboard_may_lie_below_and_include_others(tmp_path: Path) -> None:
    glass = INSTRUMENTS.replace(INSTRUMENTS[INSTRUMENTS.index("[instruments.W1]") :], "")
    balance = INSTRUMENTS[INSTRUMENTS.index("[instruments.W1]") :]
    path = saved(
        tmp_path,
        sheet=with_cupboard('["shelves/glass.toml"]'),
        shelves__glass='schema = 1\ncupboard = "balances.toml"\n' + glass,
        shelves__balances="schema = 1\n" + balance,
    )
    assert strength(path).value > 0.0


def test_the_same_instrument_in_two_places_is_one(tmp_path: Path) -> None:
    path = saved(tmp_path, sheet=with_cupboard() + "\n" + PIPETTE, cupboard="schema = 1\n" + INSTRUMENTS)
    assert strength(path).value > 0.0


@pytest.mark.parametrize(
    ("names", "files", "says"),
    [
        ('"../cupboard.toml"', {}, ["../cupboard.toml", "does not leave the folder", "Copy"]),
        ('"/etc/cupboard.toml"', {}, ["does not leave the folder"]),
        ('"cupbord.toml"', {"cupboard": "schema = 1\n"}, ["cupbord.toml", "no such file", "cupboard.toml"]),
        ("3", {}, ["name of a file", "cupboard.toml"]),
        ('""', {}, ["no name of a file", "cupboard.toml"]),
        ('"a\\u0000.toml"', {}, ["no name of a file"]),
        ('"cupboard.toml"', {"cupboard": INSTRUMENTS}, ["cupboard.toml", "schema = 1"]),
        ('"cupboard.toml"', {"cupboard": "schema = 1\ntitle = 'x'\n"}, ["cupboard.toml", "line 2", "unknown key"]),
        (
            '"cupboard.toml"',
            {"cupboard": 'schema = 1\ncupboard = "other.toml"\n', "other": 'schema = 1\ncupboard = "cupboard.toml"\n'},
            ["include each other", "cupboard.toml → other.toml → cupboard.toml"],
        ),
        ('"sheet.toml"', {}, ["include each other", "sheet.toml → sheet.toml"]),
        (
            '"cupboard.toml"',
            {"cupboard": "schema = 1\n" + INSTRUMENTS + "\n[instruments.P11]\nkind = 'pipet'\ncapacity = '10 mL'\n"},
            ["cupboard.toml", "[instruments.P11]", "pipet"],
        ),
    ],
)
def test_a_bad_cupboard_is_refused(tmp_path: Path, names: str, files: dict[str, str], says: list[str]) -> None:
    with pytest.raises(SheetError) as refused:
        run_sheet(saved(tmp_path, sheet=with_cupboard(names), **files))
    for word in says:
        assert word in str(refused.value)


def test_one_name_with_two_facts_is_refused_naming_both(tmp_path: Path) -> None:
    other = PIPETTE.replace('"B"', '"A"')
    path = saved(tmp_path, sheet=with_cupboard() + "\n" + other, cupboard="schema = 1\n" + INSTRUMENTS)
    with pytest.raises(SheetError) as refused:
        run_sheet(path)
    for word in ("cupboard.toml", "sheet.toml", "P10", "another class", "line"):
        assert word in str(refused.value)


# --------------------------------------------------------------------------------------------- what is known of a piece
def test_a_certificate_on_the_sheet_is_that_of_the_library(tmp_path: Path) -> None:
    sheet = SHEET.replace(PIPETTE, PIPETTE.replace('class = "B"\n', CERTIFICATE))
    found = strength(saved(tmp_path, sheet=sheet))
    known = [influence for influence in found.influences.values() if influence.id.startswith("pipette/P10/")]
    assert [(round(one.value, 9), one.source) for one in known] == [(-1.3e-05, "certificate K 118 of 2026-03-02")]


def test_a_date_may_stand_in_quotes_or_without_them(tmp_path: Path) -> None:
    bare = WEIGHED.replace('date = "2026-11-10"', "date = 2026-11-10")
    assert bare != WEIGHED
    found = [strength(saved(tmp_path, sheet=SHEET + weighed)) for weighed in (WEIGHED, bare)]
    assert dict(found[0].sensitivities) == dict(found[1].sensitivities)


def test_weighings_on_the_sheet_lower_u_as_predicted(tmp_path: Path) -> None:
    """u² falls by what the class limit gave, and rises by what the calibration gives, and by the s of one delivery."""
    before = strength(saved(tmp_path, sheet=SHEET))
    after = strength(saved(tmp_path, sheet=SHEET + WEIGHED))
    limit = next(i for id_, i in before.influences.items() if id_ == "pipette/P10/calibration")
    grams = (29.9312, 29.9330, 29.9289, 29.9301, 29.9322, 29.9308, 29.9315, 29.9299, 29.9327, 29.9304)
    balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    pipette = assay.calibrate(
        "pipette P10",
        [balance.by_difference(f"{gross} g", "20.0000 g") for gross in grams],
        water=assay.Temperature("21.0 °C", half_width="0.5 K", day="calibration 2026-11-10"),
        air=assay.Air("21.0 °C", pressure="1008 hPa", humidity="45 %", day="calibration 2026-11-10"),
        date="2026-11-10",
    ).volume
    once = statistics.stdev(grams) / (statistics.fmean(grams) - 20.0)
    # The balance weighed the iodate as well, in another way: its linearity at other loads is another influence.
    predicted = before.relative_u**2 - (limit.u / 0.010) ** 2 + pipette.relative_u**2 + once**2
    assert after.relative_u**2 == pytest.approx(predicted, rel=1e-4)
    assert after.relative_u < before.relative_u


def test_two_pieces_may_be_weighed_on_one_day_at_other_temperatures(tmp_path: Path) -> None:
    """What was read alike is one influence, and what was not is another, though the day is the same."""
    other = WEIGHED.replace("P10", "P25").replace('"29.', '"44.')
    for second, air in ((other, 3), (other.replace("21.0 °C", "21.4 °C"), 6)):
        found = strength(saved(tmp_path, sheet=SHEET + WEIGHED + second)).influences
        assert sum(id_.startswith("air/calibration 2026-11-10") for id_ in found) == air
        assert sum(id_.startswith("temperature/calibration 2026-11-10") for id_ in found) == air / 3


def test_corrections_of_a_burette_replace_its_class(tmp_path: Path) -> None:
    found = strength(saved(tmp_path, sheet=SHEET + TABLE))
    sources = {influence.source for influence in found.influences.values() if influence.id.startswith("burette/B1/")}
    assert sources == {"certificate of 2026-03-02", "ISO 385:2005 class B, ±0.1 mL, less what the points say"}


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("k = 2, ", "", ["k", "level"]),
        ("k = 2", "k = '2'", ["pure number"]),
        ('date = "2026-03-02", ', "", ["date", "missing", "2026-03-02"]),
        ("9.987 mL", "9.987", ["9.987", "unit"]),
        ("certificate", "certificat", ["certificat", "certificate"]),
    ],
)
def test_a_bad_certificate_is_refused(tmp_path: Path, old: str, new: str, says: list[str]) -> None:
    sheet = SHEET.replace(PIPETTE, PIPETTE.replace('class = "B"\n', CERTIFICATE.replace(old, new)))
    with pytest.raises(SheetError) as refused:
        run_sheet(saved(tmp_path, sheet=sheet))
    for word in says:
        assert word in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('balance = "W1"', 'balance = "W9"', ["W9", "balance"]),
        ('["29.9312 g", "20.0000 g"], ', '["29.9312 g"], ', ["item 1", "pair of readings"]),
        ("1008 hPa", "1008", ["1008", "hPa"]),
        ("21.0 °C", "35.0 °C", ["35.0 °C", "10 °C to 30 °C"]),
        (', pressure = "1008 hPa"', "", ["pressure"]),
        ('water = "21.0 °C"\n', "", ["water", "missing"]),
    ],
)
def test_bad_weighings_are_refused(tmp_path: Path, old: str, new: str, says: list[str]) -> None:
    with pytest.raises(SheetError) as refused:
        run_sheet(saved(tmp_path, sheet=SHEET + WEIGHED.replace(old, new)))
    for word in says:
        assert word in str(refused.value)


BURETTE = """
[instruments.B1.calibration]
balance = "W1"
date = "2026-11-10"
water = "21.0 °C"
water_half_width = "0.5 K"

[instruments.B1.calibration.weighings]
"25 mL" = [["74.9400 g", "50.0000 g"], ["74.9500 g", "50.0000 g"]]
"50 mL" = [["99.8600 g", "50.0000 g"], ["99.8500 g", "50.0000 g"]]
"""


def test_a_burette_weighed_at_points_of_its_scale_replaces_its_class(tmp_path: Path) -> None:
    found = strength(saved(tmp_path, sheet=SHEET + BURETTE))
    sources = {influence.source for influence in found.influences.values() if influence.id.startswith("burette/B1/")}
    assert sources == {"ISO 385:2005 class B, ±0.1 mL, less what the points say"}
    weighed = {id_.split("/")[1] for id_ in found.influences if id_.startswith("calibration/")}
    assert weighed <= {"burette B1 to 25 mL", "burette B1 to 50 mL"}
    assert weighed


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"25 mL" = ', '"25" = ', ["25", "unit"]),
        ('"25 mL" = ', '"50.1 mL" = ', ["tenth off", "exchanged"]),
        ('"50 mL" = [["99.8600 g", "50.0000 g"], ["99.8500 g", "50.0000 g"]]\n', "", ["two readings", "capacity"]),
        ('["99.8600 g", "50.0000 g"]', '"99.8600 g"', ["item 1", "pair of readings"]),
        ("calibration.weighings", "calibration.weighing", ["weighing", "unknown key", "weighings"]),
    ],
)
def test_bad_points_of_a_burette_are_refused(tmp_path: Path, old: str, new: str, says: list[str]) -> None:
    with pytest.raises(SheetError) as refused:
        run_sheet(saved(tmp_path, sheet=SHEET + BURETTE.replace(old, new)))
    for word in says:
        assert word in str(refused.value)


# ----------------------------------------------------------------------------------------------- what a sheet gives out
ALONE = """schema = 1
title = "Prep room: a pipette and a burette by weighing"
date = 2026-11-16

[instruments.W1]
kind = "balance"
readability = "0.1 mg"
repeatability = "0.1 mg"
linearity = "0.2 mg"

[instruments.P10]
kind = "pipette"
capacity = "10 mL"

[instruments.B1]
kind = "burette"
capacity = "50 mL"
subdivision = "0.1 mL"
"""


def test_a_sheet_may_calibrate_alone_and_gives_out_volumes_and_budgets(tmp_path: Path) -> None:
    result = run_sheet(saved(tmp_path, sheet=ALONE + WEIGHED + BURETTE))
    assert list(result.calibrations) == ["P10", "B1"]
    pipette = result.calibrations["P10"]
    told = assay.report_text(result)
    for line in str(pipette).splitlines():
        assert line in told
    assert "linearity of balance W1" in told
    assert "25 mL" in told
    assert "is rinsed with much water before it is calibrated" in " ".join(told.split())
    document = json.loads(assay.report_json(result))
    assert [one["name"].split("/")[1] for one in document["calibrations"]] == ["P10", "B1", "B1"]
    assert document["calibrations"][0]["value"] == pipette.found()[0].value
    assert document["calibrations"][0]["date"] == "2026-11-10"
    assert "few-weighings" in {flag.code for flag in result.flags}


def test_what_was_calibrated_in_a_cupboard_is_told_there(tmp_path: Path) -> None:
    path = saved(tmp_path, sheet=with_cupboard(), cupboard="schema = 1\n" + INSTRUMENTS + WEIGHED)
    result = run_sheet(path)
    assert not result.calibrations
    assert any(id_.startswith("calibration/pipette P10") for id_ in result.strengths["drum 7"].estimate.influences)


def test_a_slip_in_a_weighing_blocks_what_the_piece_is_used_for(tmp_path: Path) -> None:
    slip = WEIGHED.replace('"29.9312 g"', '"25.9312 g"')
    result = run_sheet(saved(tmp_path, sheet=ALONE + slip))
    assert {flag.code for flag in result.calibrations["P10"].flags} == {"outlying-weighing"}
    with pytest.raises(assay.AssayError, match="far-from-class"):
        run_sheet(saved(tmp_path, sheet=SHEET + slip))


def test_a_certificate_far_from_the_class_blocks_as_well(tmp_path: Path) -> None:
    swapped = CERTIFICATE.replace("9.987 mL", "9.587 mL")
    with pytest.raises(assay.AssayError, match="far-from-class"):
        run_sheet(saved(tmp_path, sheet=SHEET.replace(PIPETTE, PIPETTE.replace('class = "B"\n', swapped))))
    with pytest.raises(assay.AssayError, match="far-from-class"):
        run_sheet(saved(tmp_path, sheet=SHEET + TABLE.replace('"0.020 mL"', '"2.0 mL"')))
