"""The README's commands are in the form that CI runs, and its Python is in the form that doctest reads."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

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
