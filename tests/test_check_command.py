"""``python -m assay check``: what it prints of every published value, and with which exit status."""

from __future__ import annotations

import math
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from dataclasses import asdict, replace
from decimal import Decimal
from pathlib import Path

import pytest

import assay.data
from assay.__main__ import main
from assay.checks.rows import Check, read_checks, read_left_out
from assay.checks.sampled import SAMPLED
from assay.data import references, text_resource

FILES = sorted((Path(assay.data.__file__).parent / "published").glob("*.toml"))
ROWS = [asdict(check) for check in read_checks()]
WRONG = [row for row in ROWS if row["disagrees"]]
CHECKS = {check.id: check for check in read_checks()}
WITH_ROWS = [path for path in FILES if any(row["kind"] == path.stem for row in ROWS)]


def run(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    command = (sys.executable, "-X", "utf8", "-W", "error", "-m", "assay", *arguments)
    return subprocess.run(command, capture_output=True, encoding="utf-8", check=False, cwd=folder, timeout=120)


def joined(text: str) -> str:
    """Return text with the line breaks of the page taken out."""
    return " ".join(text.split())


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> subprocess.CompletedProcess[str]:
    return run("check", folder=tmp_path_factory.mktemp("far away"))


@pytest.fixture
def page(done: subprocess.CompletedProcess[str]) -> str:
    return done.stdout


# ------------------------------------------------------------------------------------------------------- what it prints
def test_all_is_as_recorded(done: subprocess.CompletedProcess[str]) -> None:
    assert (done.returncode, done.stderr) == (0, "")
    said = f"{len(ROWS)} values: {len(ROWS) - len(WRONG)} agree, {len(WRONG)} disagree for the recorded reason."
    assert done.stdout.splitlines()[-1] == said


def test_lines_can_be_read_in_110_columns(page: str) -> None:
    assert [line for line in page.splitlines() if len(line) > 110 or line != line.rstrip()] == []


def test_no_row_of_a_file_is_lost() -> None:
    contents = [tomllib.loads(path.read_text(encoding="utf-8")) for path in FILES]
    tables = [table for content in contents for kind in ("t_table", "grid") for table in content.get(kind, ())]
    cells = [len(row) for table in tables for row in table["rows"].values()]
    assert len(ROWS) == sum(len(content.get("check", ())) for content in contents) + sum(cells)
    assert len(read_left_out()) == sum(len(content.get("left_out", ())) for content in contents)


@pytest.mark.parametrize("path", WITH_ROWS, ids=lambda path: path.stem)
def test_every_row_tells_source_quantity_printed_and_agreement(page: str, path: Path) -> None:
    rows = [row for row in ROWS if row["kind"] == path.stem]
    agreeing = sum(not row["disagrees"] for row in rows)
    head = f"{path.stem.replace('_', ' ').capitalize()}: {len(rows)} values, {agreeing} agree"
    [section] = [part for part in page.split("\n\n") if part.startswith(head)]
    told = re.split(r"\n(?=(?:agrees|disagrees|WRONG) )", section)[1:]
    assert len(told) == len(rows)
    for row, text in zip(rows, told, strict=True):
        word, printed, ours, *_ = text.split()
        assert word == ("disagrees" if row["disagrees"] else "agrees")
        assert printed == row["printed"]
        target = Decimal(row["recomputed"] or printed)
        [run_error] = re.findall(r"standard error of both runs (\S+)", joined(text)) or ["0"]
        assert bool(Decimal(run_error)) == (row["answer"] in SAMPLED)
        allowed = Decimal("0.51").scaleb(target.as_tuple().exponent) + Decimal("3.2") * Decimal(run_error)
        allowed += 8 * Decimal(math.ulp(float(ours)))
        assert abs(Decimal(ours) - target) <= allowed
        assert joined(row["quantity"]) in joined(text)
        assert f"[{row['source']}] {row['locator']}" in joined(text)
        assert ("(from memory)" in joined(text)) == (row["provenance"] == "memory")


def test_what_is_not_worked_out_is_told_with_its_reason(page: str) -> None:
    section = joined(page.partition("\nNot worked out: ")[2].partition("\nDisagreements: ")[0])
    assert section.startswith(f"{len(read_left_out())} ")
    for row in read_left_out():
        entry = section.partition(f" {row.id}: ")[2]
        assert entry.startswith(f"{row.quantity}, printed {row.printed}")
        assert row.why in entry


@pytest.mark.parametrize("row", WRONG, ids=lambda row: row["id"])
def test_every_disagreement_has_its_reason_at_the_end(page: str, row: dict[str, str]) -> None:
    end = joined(page.partition("\nDisagreements: ")[2])
    assert end.startswith(f"{len(WRONG)} ")
    entry = end.partition(f" {row['id']}: ")[2]
    assert entry.startswith(f"{joined(row['quantity'])}, printed {row['printed']}")
    assert joined(row["disagrees"]) in entry


def test_the_guide_stands_beside_the_house_rule(page: str) -> None:
    section = page.partition("The guide's assumptions and the house rule\n")[2].partition("\nDisagreements")[0]
    examples = re.split(r"\n  (?=A\d: )", section)[1:]
    assert [example.split("\n")[0].partition(":")[0] for example in examples] == ["A1", "A2", "A3", "A3", "A3"]
    assert all("    ours, with its assumptions, agree\n" in example for example in examples)
    assert all("\n    guide " in example and "\n    house " in example for example in examples)
    # The guide prints 0.9 from rounded components; who printed the unrounded one is named.
    assert joined(
        "printed 1002.7 mg/L, u = 0.9 mg/L, from components that were rounded midway [eurachem-cg4]; unrounded, "
        "u = 0.835199 mg/L [mslnz-cg4-examples]"
    ) in joined(examples[0])
    assert "guide 0.10132 mol/L, u = 0.00031 mol/L" in examples[-1]
    assert "house 0.10132 mol/L, u = 0.00013 mol/L" in examples[-1]


def test_at_least_forty_values_are_of_acids_bases_dichromate_and_temperature() -> None:
    kinds = {"acids_and_bases", "carbonate", "ammonia_and_acetic_acid", "strong_solutions", "temperature", "dichromate"}
    assert kinds <= {path.stem for path in FILES}
    assert sum(check.kind in kinds for check in CHECKS.values()) >= 40
    assert {check.source for check in CHECKS.values()} <= set(references())


# ---------------------------------------------------------------------------------------------------------- exit status


FLAWS: dict[str, Callable[[], Check]] = {
    "an agreeing print of which a digit changed": lambda: replace(CHECKS["talbot-8"], printed="0.4856"),
    "a disagreement without a reason": lambda: replace(CHECKS["talbot-3-soda"], disagrees="", recomputed=""),
    "a disagreement of another size": lambda: replace(CHECKS["talbot-3-soda"], recomputed="53.2"),
    "a reason where nothing disagrees": lambda: replace(CHECKS["talbot-8"], disagrees="Slip.", recomputed="0.4855"),
    "another input": lambda: replace(CHECKS["talbot-8"], inputs={"mass": "1.217 g", "titre": "47.26 mL"}),
}


@pytest.mark.parametrize("flaw", FLAWS)
def test_what_is_not_as_recorded_is_named_and_ends_with_status_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], flaw: str
) -> None:
    check = FLAWS[flaw]()
    monkeypatch.setattr("assay.checks.evaluate.read_checks", lambda: (CHECKS["talbot-9"], check))
    assert main(["check"]) == 1
    said = capsys.readouterr().out
    assert said.count("\nWRONG ") == 1
    assert f"1 not as recorded: {check.id}." in said


def test_the_same_rows_without_a_flaw_end_with_status_0(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = tuple(CHECKS[id_] for id_ in ("talbot-9", "talbot-8", "talbot-3-soda"))
    monkeypatch.setattr("assay.checks.evaluate.read_checks", lambda: rows)
    assert main(["check"]) == 0
    said = capsys.readouterr().out
    assert "WRONG" not in said
    assert said.endswith("3 values: 2 agree, 1 disagree for the recorded reason.\n")


# ----------------------------------------------------------------------------------------------------------------- word
def test_a_sheet_called_check_is_run_as_a_file(tmp_path: Path) -> None:
    (tmp_path / "check").write_text(text_resource("demo_drum.toml"), encoding="utf-8")
    as_file, as_word = run("./check", folder=tmp_path), run("check", folder=tmp_path)
    assert (as_file.returncode, as_word.returncode) == (0, 0)
    assert as_file.stdout.startswith("Prep room: drum of hypochlorite")
    assert as_word.stdout.startswith("Published values")


@pytest.mark.parametrize("arguments", [["check", "--json"], ["check", "--demo", "acid"]])
def test_check_takes_no_further_option(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(arguments)
    assert caught.value.code == 2
    assert "check takes no further option" in capsys.readouterr().err


def test_help_tells_of_the_word_and_its_status(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    said = joined(capsys.readouterr().out)
    assert "The word check" in said
    assert "./check" in said
    assert "disagrees as recorded, else 1" in said
