"""One door for each border package; the rooms table is the house. import-linter checks the order of the rooms."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "assay"
DOORS = {
    "pint": ("assay/units/registry.py",),
    "uncertainties": ("assay/metrology/",),
    "matplotlib": ("assay/plot/",),
}
SOURCES = sorted(path.relative_to(ROOT).as_posix() for path in PACKAGE.rglob("*.py"))


def imported_by(tree: ast.AST) -> Iterator[str]:
    """Yield the dotted name of every absolute import, wherever in the file it stands, types included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def run_time_part(tree: ast.Module) -> ast.Module:
    """Return the module without its `if TYPE_CHECKING:` blocks, which no program ever runs."""
    kept = [
        node
        for node in tree.body
        if not (isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING")
    ]
    return ast.Module(body=kept, type_ignores=[])


@pytest.mark.parametrize("source", SOURCES)
def test_border_packages_are_imported_only_in_their_doors(source: str) -> None:
    tree = run_time_part(ast.parse((ROOT / source).read_text(encoding="utf-8")))
    strangers = {
        package
        for package in (name.partition(".")[0] for name in imported_by(tree))
        if package in DOORS and not source.startswith(DOORS[package])
    }
    assert not strangers, f"{source} imports {strangers}; ask {[DOORS[package] for package in sorted(strangers)]}"


@pytest.mark.parametrize("source", [source for source in SOURCES if source.startswith("assay/kernels/")])
def test_kernels_know_no_statistics(source: str) -> None:
    names = set(imported_by(ast.parse((ROOT / source).read_text(encoding="utf-8"))))
    assert not [name for name in names if name.startswith("scipy.stats")]


@pytest.mark.parametrize("source", SOURCES)
def test_imports_are_absolute(source: str) -> None:
    """A relative import hides from a reader which room it reaches into."""
    tree = ast.parse((ROOT / source).read_text(encoding="utf-8"))
    relative = [node.lineno for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.level]
    assert not relative, f"{source} has relative imports in lines {relative}"


def test_rooms_table_is_the_house() -> None:
    table = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Rooms")[2].partition("\n## ")[0]
    told = set()
    for row in re.findall(r"^\|([^|]+)\|", table, flags=re.MULTILINE):
        told |= {name.removesuffix("/").removesuffix(".py") for name in re.findall(r"`([^`]+)`", row)}
    built = {path.stem for path in PACKAGE.glob("*.py")} | {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert told == built - {"__init__"}
