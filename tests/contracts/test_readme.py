"""The README's commands are in the form that CI runs, and its Python is in the form that doctest reads."""

from __future__ import annotations

import ast
import doctest
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import assay
from assay.data import text_resource
from assay.sheet.calibrations import OF_KIND
from assay.sheet.instruments import _KINDS as KINDS_OF_INSTRUMENTS

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"


def command_under(heading: str) -> str:
    command = [sys.executable, str(ROOT / ".ci" / "commands.py"), "block", str(README), heading]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout.removesuffix("\n")


@pytest.mark.parametrize("heading", ["Run it", "Test it"])
def test_command_is_one_line_that_brings_its_own_environment(heading: str) -> None:
    command = command_under(heading)
    assert "\n" not in command
    first, *rest = command.split(" && ")
    assert first == "python3 -m venv .venv"
    assert any("pip install" in part for part in rest)
    assert all(part.startswith(".venv/bin/") for part in rest)


def test_test_command_installs_the_test_extra_and_runs_pytest() -> None:
    command = command_under("Test it")
    assert ".[test]" in command
    assert "pytest" in command.split(" && ")[-1]


def test_run_command_ends_with_the_demo() -> None:
    assert command_under("Run it").endswith("-m assay")


def passed_to_only(tree: ast.Module) -> list[ast.expr]:
    """Return what a module of the sheet passes to ``only``, and what one function hands another as ``extra`` for it."""
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    passed = [arg for call in calls if getattr(call.func, "attr", "") == "only" for arg in call.args]
    return passed + [keyword.value for call in calls for keyword in call.keywords if keyword.arg == "extra"]


def texts_in(expressions: list[ast.expr], assigned: dict[str, ast.expr]) -> set[str]:
    """Return the texts that stand in expressions, or in what their names were assigned."""
    nodes = [node for expression in expressions for node in ast.walk(expression)]
    named = {node.id for node in nodes if isinstance(node, ast.Name)} & assigned.keys()
    texts = {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    rest = {name: value for name, value in assigned.items() if name not in named}
    return texts | (texts_in([assigned[name] for name in named], rest) if named else set())


def keys_of_the_sheet() -> set[str]:
    """Return the keys that the reader of sheets accepts."""
    found = {key for _, *keys in KINDS_OF_INSTRUMENTS.values() for group in keys for key in group}
    found |= {key for keys in OF_KIND.values() for key in keys}
    for path in (ROOT / "assay" / "sheet").glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assigned = {
            target.id: node.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        found |= texts_in(passed_to_only(tree), assigned)
    return found


def test_every_key_of_a_sheet_is_told_and_no_other() -> None:
    table = README.read_text(encoding="utf-8").partition("| where | keys |")[2].partition("\n\n")[0]
    told = {key for line in table.splitlines()[2:] for key in re.findall(r"`(\w+)`", line.split(" | ")[1])}
    accepted = keys_of_the_sheet()
    assert {"schema", "capacity", "compared_with", "portion", "refilled", "filled", "binding"} <= accepted
    assert told == accepted


def test_python_blocks_are_doctested() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"]["ini_options"]
    assert "README.md" in settings["testpaths"]
    assert "--doctest-glob=README.md" in settings["addopts"]

    text = README.read_text(encoding="utf-8")
    blocks = re.findall(r"^```python\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)
    assert blocks
    for block in blocks:
        statements = [line for line in block.splitlines() if line.strip()]
        assert statements[0].startswith(">>> "), "a Python block begins with a prompt, else doctest passes over it"
        assert block.endswith("\n\n"), "an empty line before the closing fence, else doctest takes the fence for output"
    examples = doctest.DocTestParser().get_examples("\n".join(blocks))
    assert any(example.want for example in examples), "at least one printed result is compared"


def test_python_block_imports_only_public_names() -> None:
    text = README.read_text(encoding="utf-8")
    sources = [example.source for example in doctest.DocTestParser().get_examples(text)]
    reached = re.findall(r"^(?:from|import) (assay[\w.]*)", "".join(sources), flags=re.MULTILINE)
    assert set(reached) == {"assay"}


def test_the_cupboard_of_the_page_is_one(tmp_path: Path) -> None:
    (block,) = re.findall(r"^```toml\n(.*?)^```$", README.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    (tmp_path / "cupboard.toml").write_text(block, encoding="utf-8")
    demo = text_resource("demo_drum.toml")
    own = re.sub(r"^\[instruments\.(B1|P10)\]\n(?:[^\[\n].*\n|\n)*", "", demo, flags=re.MULTILINE)
    sharing = own.replace("date = 2026-11-16\n", 'date = 2026-11-16\ncupboard = "cupboard.toml"\n', 1)
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(sharing, encoding="utf-8")
    found = assay.run_sheet(sheet).strengths["drum 7"].estimate
    sources = {influence.source for influence in found.influences.values()}
    assert "certificate K 118 of 2026-03-02" in sources
    assert "certificate of 2026-03-02" in sources
