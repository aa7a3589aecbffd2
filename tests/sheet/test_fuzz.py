"""Random damage to the demo sheet: it runs, or says what is wrong with it; nothing else."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

import pytest

import assay.dosing.dose as dosing
from assay.dosing import solver, volumes
from assay.errors import SheetError
from assay.report.document import report_json
from assay.report.page import report_text
from assay.sheet.run import run_text

CHARACTERS = "0123456789.,-+eE\"'[]{}=#\\ \t/%_aLgmµ\u2212é\x00"


def _line_deleted(draw: random.Random, lines: list[str]) -> None:
    del lines[draw.randrange(len(lines))]


def _line_doubled(draw: random.Random, lines: list[str]) -> None:
    k = draw.randrange(len(lines))
    lines.insert(draw.randrange(len(lines)), lines[k])


def _lines_exchanged(draw: random.Random, lines: list[str]) -> None:
    i, j = draw.randrange(len(lines)), draw.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]


def _line_cut(draw: random.Random, lines: list[str]) -> None:
    k = draw.randrange(len(lines))
    lines[k] = lines[k][: draw.randrange(len(lines[k]) + 1)]


def _character_changed(draw: random.Random, lines: list[str]) -> None:
    k = draw.choice([k for k, line in enumerate(lines) if line and not line.startswith("#")])
    at = draw.randrange(len(lines[k]))
    lines[k] = lines[k][:at] + draw.choice(["", draw.choice(CHARACTERS)]) + lines[k][at + 1 :]


def _character_added(draw: random.Random, lines: list[str]) -> None:
    k = draw.choice([k for k, line in enumerate(lines) if line and not line.startswith("#")])
    at = draw.randrange(len(lines[k]) + 1)
    lines[k] = lines[k][:at] + draw.choice(CHARACTERS) + lines[k][at:]


def _digit_changed(draw: random.Random, lines: list[str]) -> None:
    k = draw.choice([k for k, line in enumerate(lines) if any(c.isdigit() for c in line)])
    at = draw.choice([i for i, c in enumerate(lines[k]) if c.isdigit()])
    lines[k] = lines[k][:at] + draw.choice(["0", "9", "00", "-1", "1e9"]) + lines[k][at + 1 :]


#: How a sheet is damaged, and how often.
DAMAGE: dict[Callable[[random.Random, list[str]], None], int] = {
    _line_deleted: 50,
    _line_doubled: 30,
    _lines_exchanged: 20,
    _line_cut: 20,
    _character_changed: 40,
    _character_added: 30,
    _digit_changed: 30,
}


def _damaged(demo: str, seed: int) -> list[str]:
    draw = random.Random(seed)  # noqa: S311  (not for security)
    sheets = []
    for damage, times in DAMAGE.items():
        for _ in range(times):
            lines = demo.splitlines()
            damage(draw, lines)
            sheets.append("\n".join(lines) + "\n")
    return sheets


@pytest.mark.parametrize("seed", [7_311, 7_312, 7_313])
def test_a_damaged_sheet_runs_or_is_refused_with_its_line(
    demo: str, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    for module in (dosing, solver, volumes):
        monkeypatch.setattr(module, "TRIALS", 2_000)  # the numbers of a dose are tested elsewhere
    ran = refused = 0
    for text in _damaged(demo, seed):
        try:
            result = run_text(text, name="damaged.toml")
        except SheetError as error:
            refused += 1
            message = str(error)
            numbers = [int(number) for number in re.findall(r"damaged\.toml, line (\d+)", message)]
            assert numbers, (message, text)
            assert all(1 <= number <= text.count("\n") + 1 for number in numbers), (message, text)
        else:
            ran += 1
            assert report_text(result).startswith(result.title)
            assert report_json(result).startswith("{")
    assert ran + refused == sum(DAMAGE.values())
    # Damage to comments, blank lines and digits can go unnoticed; most of the rest must not.
    assert ran > 0
    assert refused > 100
