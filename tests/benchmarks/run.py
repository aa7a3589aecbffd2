"""Benchmarks: our time against a hand-written equivalent in the same run, as a ratio.

``python tests/benchmarks/run.py [NAME…]`` prints, for each, the work, both medians of seven interleaved runs, the
ratio and the limit it is meant to keep. Nothing is asserted: a busy machine is not a defect.
"""

from __future__ import annotations

import argparse
import platform
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version

import batch
import chain
import imports
import monte_carlo
import monte_carlo_scaling
import persistence

RUNS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Benchmark:
    """One comparison.

    Parameters
    ----------
    work : str
        What both do.
    ours, peer : callable
        Each does the work once and returns the seconds it took, or ``None`` to be timed from outside.
    limit : float
        The ratio that is meant to be kept.
    repeat : int
        How often the work is done in one timing.
    unit : str
        Unit of what is measured.

    """

    work: str
    ours: Callable[[], object]
    peer: Callable[[], object]
    limit: float
    repeat: int = 1
    unit: str = "s"


BENCHMARKS = {
    "monte-carlo": Benchmark(
        work="the demo sheet's whole chain, 10⁶ trials: value, u, interval, against a blocked numpy script",
        ours=monte_carlo.ours,
        peer=monte_carlo.peer,
        limit=1.3,
    ),
    "monte-carlo-scaling": Benchmark(
        work="the same chain, each of 10⁷ trials, counted, against each of 10⁶, kept (both ours)",
        ours=monte_carlo_scaling.counted,
        peer=monte_carlo_scaling.kept,
        limit=1.2,
    ),
    "chain": Benchmark(
        work="one chain of 11 influences from ready quantities: value, u, budget, dof, against pint of ufloats",
        ours=chain.ours,
        peer=chain.peer,
        limit=1.0,
        repeat=200,
    ),
    "batch": Benchmark(
        work="10⁵ assays of 11 influences, all new in each: value, u, dof, against partial derivatives by hand",
        ours=batch.chain_ours,
        peer=batch.chain_peer,
        limit=3.0,
        repeat=5,
    ),
    "batch-shared": Benchmark(
        work="the same of which 9 influences are shared by all rows, against partial derivatives by hand",
        ours=batch.shared_ours,
        peer=batch.shared_peer,
        limit=3.0,
        repeat=5,
    ),
    "batch-assay": Benchmark(
        work="10⁵ triplicates from readings with their burette: value, u, dof, codes, against a script by hand",
        ours=batch.assay_ours,
        peer=batch.assay_peer,
        limit=3.0,
    ),
    "batch-memory": Benchmark(
        work="most memory at one time, for each of 2 · 10⁵ assays, against that for each of 10⁵ (both ours)",
        ours=batch.memory_of_many,
        peer=batch.memory_of_few,
        limit=1.05,
        unit="B",
    ),
    "persistence-save": Benchmark(
        work="save 10⁴ assays that share a titrant, against plain JSON of their numbers and of what they share",
        ours=persistence.save_ours,
        peer=persistence.save_peer,
        limit=2.0,
    ),
    "persistence-load": Benchmark(
        work="load and check the same file, and make one result, against json.loads of the plain numbers",
        ours=persistence.load_ours,
        peer=persistence.load_peer,
        limit=2.0,
    ),
    "persistence-size": Benchmark(
        work="size of the same file, against that of the plain numbers",
        ours=persistence.size_ours,
        peer=persistence.size_peer,
        limit=2.0,
        unit="B",
    ),
    "import": Benchmark(
        work="import assay, against import numpy, pint, uncertainties (each in a new process)",
        ours=imports.ours,
        peer=imports.peer,
        limit=0.15,
    ),
}


def seconds(function: Callable[[], object], repeat: int) -> float:
    """Return the seconds of one run; a function that times itself returns them."""
    start = time.perf_counter()
    for _ in range(repeat):
        own = function()
    took = (time.perf_counter() - start) / repeat
    return own if isinstance(own, float) else took


def measured(benchmark: Benchmark) -> tuple[float, float]:
    """Return the medians of our and the peer's interleaved runs."""
    pairs = [
        (seconds(benchmark.ours, benchmark.repeat), seconds(benchmark.peer, benchmark.repeat)) for _ in range(RUNS)
    ]
    return statistics.median(ours for ours, _ in pairs), statistics.median(peer for _, peer in pairs)


def main() -> None:
    """Run the named benchmarks, or all."""
    parser = argparse.ArgumentParser(description="Our time over that of a hand-written equivalent.")
    parser.add_argument("names", nargs="*", choices=[*BENCHMARKS, []], help="which; all if none is named")
    names = parser.parse_args().names or list(BENCHMARKS)
    packages = ", ".join(f"{name} {version(name)}" for name in ("assay", "numpy", "scipy", "pint", "uncertainties"))
    print(f"CPython {platform.python_version()}, {packages}; medians of {RUNS}, interleaved")
    for name in names:
        benchmark = BENCHMARKS[name]
        ours, peer = measured(benchmark)
        unit, kept = benchmark.unit, "kept" if ours / peer <= benchmark.limit else "MISSED"
        print(f"{name}: {benchmark.work}")
        both = f"ours {ours:.3g} {unit}, peer {peer:.3g} {unit}"
        print(f"    {both}, ratio {ours / peer:.3g}, limit {benchmark.limit:g}: {kept}")


if __name__ == "__main__":
    main()
