"""``python -m assay``: what it prints, where, and with which exit status."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from assay.__main__ import main
from assay.data import text_resource

Run = Callable[..., subprocess.CompletedProcess[str]]


def _run(*arguments: str, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    command: Sequence[str] = (sys.executable, "-X", "utf8", "-W", "error", "-m", "assay", *arguments)
    return subprocess.run(command, capture_output=True, encoding="utf-8", check=False, cwd=folder, timeout=60)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the demo sheet, one with a mistake, and one that is empty."""
    made = tmp_path_factory.mktemp("sheets")
    demo = text_resource("demo_drum.toml")
    (made / "drum.toml").write_text(demo, encoding="utf-8")
    (made / "comma.toml").write_text(demo.replace("31.15 mL", "31,15 mL"), encoding="utf-8")
    (made / "empty.toml").write_text("", encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def as_text(folder: Path) -> subprocess.CompletedProcess[str]:
    return _run(folder=folder)


@pytest.fixture(scope="module")
def as_json(folder: Path) -> subprocess.CompletedProcess[str]:
    return _run("drum.toml", "--json", folder=folder)


def test_without_a_file_the_demo_sheet_is_reported(as_text: subprocess.CompletedProcess[str]) -> None:
    assert (as_text.returncode, as_text.stderr) == (0, "")
    assert as_text.stdout.startswith("Prep room: drum of hypochlorite for the dye-fading practical, 2026-11-16\n")
    assert "Dose of hypochlorite to deliver 0.100 mol OCl-" in as_text.stdout


def test_json_on_request(as_json: subprocess.CompletedProcess[str]) -> None:
    assert (as_json.returncode, as_json.stderr) == (0, "")
    assert json.loads(as_json.stdout)["schema"] == 1


def test_two_processes_find_the_same_ids_and_numbers(as_json: subprocess.CompletedProcess[str], folder: Path) -> None:
    assert _run("--json", folder=folder).stdout == as_json.stdout


def test_text_and_json_tell_the_same_volumes(
    as_text: subprocess.CompletedProcess[str], as_json: subprocess.CompletedProcess[str]
) -> None:
    found = {volume["kind"]: 1000 * volume["volume"] for volume in json.loads(as_json.stdout)["doses"][0]["volumes"]}
    shown = re.findall(r"^  (nominal|at least|at most) +([\d.]+) mL with", as_text.stdout, re.MULTILINE)
    assert {kind: float(volume) for kind, volume in shown} == pytest.approx(found)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("comma.toml",), ("comma.toml, line 75", "[assay]", "key titres", "'31,15 mL'", "Write '31.15 mL'")),
        (("comma.toml", "--json"), ("comma.toml, line 75",)),
        (("drums.toml",), ("drums.toml", "no such file", "'drum.toml'")),
        (("empty.toml",), ("empty.toml, line 1", "schema = 1")),
        ((".",), ("cannot be opened",)),
    ],
)
def test_a_mistake_is_told_on_stderr_with_status_2(
    folder: Path, arguments: tuple[str, ...], says: tuple[str, ...]
) -> None:
    done = _run(*arguments, folder=folder)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("assay: ")
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1
    assert [part for part in says if part not in done.stderr] == [], done.stderr


def test_help(folder: Path) -> None:
    done = _run("--help", folder=folder)
    assert (done.returncode, done.stderr) == (0, "")
    for part in ("python -m assay", "--json", "schema = 1", "demo sheet", "Exit status"):
        assert part in " ".join(done.stdout.split())


@pytest.mark.parametrize("arguments", [["--yaml"], ["one.toml", "two.toml"]])
def test_unknown_arguments_are_refused_with_status_2(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(arguments)
    assert caught.value.code == 2
    assert capsys.readouterr().out == ""


def test_main_returns_its_status(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(folder / "comma.toml")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith(f"assay: {folder / 'comma.toml'}, line 75")


def test_a_mistake_of_the_library_is_not_taken_for_one_of_the_sheet(
    monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    def broken(_: object) -> str:
        raise ZeroDivisionError

    monkeypatch.setattr("assay.report.page.report_text", broken)
    with pytest.raises(ZeroDivisionError):
        main([str(folder / "drum.toml")])
