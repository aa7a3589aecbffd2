"""Long simulations: ``python tests/studies/run.py [NAME…] [--full]``.

Without ``--full`` each runs small with a fixed seed, for the checks of every change; with it, at the size whose
outcome is written, with its date, to ``tests/studies/results/``. The exit status is 1 if a study finds a cell outside
its bound.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import assurance
import bench
import coverage
import deciding

RESULTS = Path(__file__).parent / "results"


class Study(NamedTuple):
    """A study: what it asks, and what yields its rows; a row that fails begins with ``!``."""

    question: str
    rows: Callable[[bool], Iterator[str]]


STUDIES = {
    "assurance": Study("Does a dose keep its promise, by brute force from the stated distributions?", assurance.rows),
    "bench": Study("Is the stated u the error of simulated laboratories with kits of three qualities?", bench.rows),
    "coverage": Study("Does a stated 95 % hold the truth in 94 to 98 % of simulated laboratories?", coverage.rows),
    "deciding": Study("Do decisions, advice on further titres and stopping plans keep what they say?", deciding.rows),
}


def run(name: str, *, full: bool) -> int:
    """Run one study, print its rows, and return how many failed."""
    study = STUDIES[name]
    start = time.perf_counter()
    lines = [f"{name}: {study.question} {'full' if full else 'small'}, {dt.datetime.now(dt.UTC):%Y-%m-%d}"]
    print(lines[0])
    for row in study.rows(full):
        lines.append(row)
        print(row, flush=True)
    failed = sum(line.startswith("!") for line in lines)
    lines.append(f"{len(lines) - 1} rows, {failed} outside their bound, {time.perf_counter() - start:.0f} s")
    print(lines[-1])
    if full:
        RESULTS.mkdir(exist_ok=True)
        (RESULTS / f"{name}.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return failed


def main() -> int:
    """Run the named studies, or all; return the exit status."""
    parser = argparse.ArgumentParser(description="Long simulations.")
    parser.add_argument("names", nargs="*", help=f"which of {', '.join(STUDIES)}; all if none is named")
    parser.add_argument("--full", action="store_true", help="at full size, written to the results folder")
    options = parser.parse_args()
    unknown = set(options.names) - set(STUDIES)
    if unknown:
        parser.error(f"unknown: {', '.join(sorted(unknown))}; known: {', '.join(STUDIES)}")
    return 1 if sum(run(name, full=options.full) for name in options.names or STUDIES) else 0


if __name__ == "__main__":
    sys.exit(main())
