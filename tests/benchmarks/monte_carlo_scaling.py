"""Monte Carlo of the demo sheet's whole chain at growing numbers of trials: time for each trial, and memory.

``python tests/benchmarks/monte_carlo_scaling.py [TRIALS…]`` prints, for each number of trials, the time for each and
the largest memory of the process and its growth, every run in a new process. `run.py` compares the time for each of ten
million trials, which are counted, with that of a million, which are kept.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time

import monte_carlo

COUNTED, KEPT = 10_000_000, 1_000_000
SIZES = (1_000_000, 10_000_000, 100_000_000)


def seconds_each(trials: int) -> float:
    """Return the seconds that each trial took."""
    start = time.perf_counter()
    monte_carlo.ours(trials)
    return (time.perf_counter() - start) / trials


def counted() -> float:
    """Return the seconds of each trial of a run that is counted on a grid."""
    return seconds_each(COUNTED)


def kept() -> float:
    """Return the seconds of each trial of a run that is kept."""
    return seconds_each(KEPT)


def _largest_memory() -> float:
    """Return the largest memory of this process so far, MB."""
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return used / (1e6 if sys.platform == "darwin" else 1e3)  # bytes there, kilobytes elsewhere


def _one(trials: int) -> None:
    monte_carlo.ours(100)  # the demo sheet is read, and numpy and scipy are loaded
    before = _largest_memory()
    each = seconds_each(trials)
    after = _largest_memory()
    print(f"{trials:>12}  {1e9 * each:>12.0f}  {after:>12.0f}  {after - before:>12.0f}")


def main() -> None:
    """Print a line for each number of trials."""
    parser = argparse.ArgumentParser(description="Time for each trial, and memory, at growing numbers of trials.")
    parser.add_argument("trials", nargs="*", type=int, default=SIZES)
    parser.add_argument("--here", action="store_true", help="in this process, without a heading")
    given = parser.parse_args()
    if given.here:
        for trials in given.trials:
            _one(trials)
        return
    print(f"{'trials':>12}  {'each, ns':>12}  {'memory, MB':>12}  {'growth, MB':>12}", flush=True)
    for trials in given.trials:
        subprocess.run([sys.executable, __file__, "--here", str(trials)], check=True)


if __name__ == "__main__":
    main()
