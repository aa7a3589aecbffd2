"""Coverage of the stated interval: how often it holds the truth of simulated laboratories.

The interval is the library's own, by its batches: titres, scatter, rounding, glass, both equations and the factor. A
few runs of each cell go through the single steps as well and must give the same.

The interval that is judged is that of a user who states nothing but what the glass is: the default's, whatever shape
the errors of the glass were drawn in. Below the bound it fails in every cell (``!``). Above it, it fails where the
glass is as the default states it; where it is better than that, the interval is too wide because it was stated to be
wide, and the cell is marked (``^``) and counted. Beside it stands what the same glass gives stated as it was drawn.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

import laboratories as lab
import numpy as np
from practice import Found, by_common_practice, concordant
from stated import DEFAULT, LEVEL, Laboratory, check_single

from assay.metrology.batch_replicates import scatter_of_batch
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.replicates import pooled_scatter
from assay.metrology.shapes import Array, Generator
from assay.titration.titres import Conditions, rounding_of_readings

LOW, HIGH = 0.94, 0.98
SIGMAS, STEPS, NUMBERS = (0.005, 0.02, 0.06, 0.15), (0.01, 0.05, 0.10), (2, 3, 4, 5, 6)
RUNS, SMALL_RUNS = 20_000, 1_500
#: Laboratories that pool an s of their own, each for a lot of the runs.
LOTS = 60
DONE = Path(__file__).parent / "results" / "coverage.partial.jsonl"
_ML = 1e-3
#: What is varied beside the grid.
_KIND = lab.Cell(
    accuracy_class="A", shape="triangular", sigma=0.02, step=0.05, zeroed=True, n=3, blank=False
)  # fmt: skip


def outcome(cell: lab.Cell, runs: int) -> dict[str, Found]:
    """Return what the library's interval gave in so many laboratories of a cell, and what others did."""
    generator = np.random.default_rng([20261125, zlib.crc32(cell.told().encode())])
    drawn = lab.draw(generator, cell, runs)
    laboratory = Laboratory.of(cell, DEFAULT)
    strengths = laboratory.strengths(drawn)
    truth = laboratory.truth(drawn)
    error, half = _error_and_half(strengths, truth)
    oracle = float(np.quantile(error, LEVEL))
    check_single(laboratory, drawn, strengths, (0, runs - 1))
    return {
        "default": Found.of(error, half),
        "oracle": Found(held=LEVEL, width=oracle),
        "as drawn": _stated(cell, cell.shape, drawn),
        "JCGM 101": _sampled(generator, cell, laboratory, drawn, strengths, error),
        "known s": _with_known(generator, cell, laboratory, drawn, truth),
        "pooled s": _with_pooled(generator, cell, laboratory, drawn, truth),
        "common practice": by_common_practice(drawn, error),
    }


def _stated(cell: lab.Cell, shape: str, drawn: lab.Drawn) -> Found:
    """Return what the interval gives where the glass is stated in a shape."""
    laboratory = Laboratory.of(cell, shape)
    return Found.of(*_error_and_half(laboratory.strengths(drawn), laboratory.truth(drawn)))


def _sampled(  # noqa: PLR0917  (what one cell is made of)
    generator: Generator,
    cell: lab.Cell,
    laboratory: Laboratory,
    drawn: lab.Drawn,
    strengths: EstimateBatch,
    error: Array,
    runs: int = 500,
) -> Found:
    """Return what the interval of JCGM 101 gives: each scatter drawn as a scaled t (6.4.9), the rest as normal."""
    rounding = rounding_of_readings(cell.step * _ML, common=cell.zeroed)
    parts = []
    for readings, blank in ((drawn.standard, drawn.standard_blank), (drawn.sample, drawn.sample_blank)):
        titres = laboratory.titres(readings)
        scatter = scatter_of_batch(titres.nominal(), titres.replicates, rounding=rounding)
        net = (readings.titres.mean(axis=1) - (0.0 if blank is None else blank.titres[:, 0])) * _ML
        each = np.asarray(scatter.repeatability) / net
        parts.append([each[:runs] / math.sqrt(cell.n), each[:runs] * (blank is not None)])
    relative = strengths.u[:runs] / strengths.value[:runs]
    known = np.sqrt(np.maximum(relative**2 - sum(part**2 for pair in parts for part in pair), 0.0))
    trials = known[:, None] * generator.standard_normal((1, 2_000))
    for mean, single in parts:
        # One s stands behind a mean and its single blank: both deviations are over the same chi.
        chi = np.sqrt(generator.chisquare(cell.n - 1, (1, 2_000)) / (cell.n - 1))
        trials += np.hypot(mean, single)[:, None] * generator.standard_normal((1, 2_000)) / chi
    half = np.quantile(np.abs(trials), LEVEL, axis=1)
    return Found.of(error[:runs], half)


def _error_and_half(strengths: EstimateBatch, truth: Array) -> tuple[Array, Array]:
    return np.abs(strengths.value / truth - 1.0), strengths.expanded(LEVEL) / strengths.value


def _with_known(generator: Generator, cell: lab.Cell, laboratory: Laboratory, drawn: lab.Drawn, truth: Array) -> Found:
    """Return what is stated with an s that is known, as a long record of such titres shows it."""
    record = lab.draw(generator, cell, 4_000, n=3).sample.titres
    s = pooled_scatter(record.tolist()).s
    strengths = laboratory.strengths(drawn, Conditions(method_s=f"{s:.9f} mL"))
    return Found.of(*_error_and_half(strengths, truth))


def _with_pooled(generator: Generator, cell: lab.Cell, laboratory: Laboratory, drawn: lab.Drawn, truth: Array) -> Found:
    """Return what is stated with an s pooled from eight earlier occasions of three titres, new for each lot of runs."""
    found = []
    for rows in np.array_split(np.arange(truth.size), LOTS):
        earlier = lab.draw(generator, cell, 8, n=3).sample.titres
        if np.ptp(earlier, axis=1).max() < cell.step / 2.0:
            continue  # all agree, on every occasion: there is no s to pool
        pooled = pooled_scatter(earlier.tolist())
        conditions = Conditions(method_s=f"{pooled.s:.9f} mL", method_dof=pooled.dof)
        found.append(_error_and_half(laboratory.strengths(drawn.of(rows), conditions), truth[rows]))
    if not found:
        return Found(held=math.nan, width=math.nan)
    errors, halves = zip(*found, strict=True)
    return Found.of(np.concatenate(errors), np.concatenate(halves))


def cells(*, full: bool) -> list[lab.Cell]:
    """Return the cells: all of them, or a few of each kind."""
    kinds = [
        lab.Cell(*facts)
        for facts in itertools.product(
            "AB", ("triangular", "rectangular"), SIGMAS, STEPS, (True, False), NUMBERS, (False, True)
        )
    ]
    return kinds if full else kinds[::37]


def _sources() -> str:
    """Return a digest of everything that could change an outcome, so that an old one is not taken for a new one."""
    here = Path(__file__).resolve()
    names = ("coverage.py", "laboratories.py", "stated.py")
    found = hashlib.sha256()
    for path in sorted([*(here.parents[2] / "assay").rglob("*.py"), *(here.with_name(name) for name in names)]):
        found.update(path.read_bytes())
    return found.hexdigest()[:16]


def _kept(key: str) -> dict[str, dict[str, Found]]:
    """Return the outcomes of an interrupted run of the same sources."""
    if not DONE.exists():
        return {}
    lines = [json.loads(line) for line in DONE.read_text(encoding="utf-8").splitlines()]
    return {
        line["cell"]: {name: Found(**numbers) for name, numbers in line["found"].items()}
        for line in lines
        if line["key"] == key
    }


def outcomes(*, full: bool) -> Iterator[tuple[lab.Cell, dict[str, Found]]]:
    """Yield the outcome of each cell; at full size they are kept, and an interrupted run goes on where it was."""
    runs = RUNS if full else SMALL_RUNS
    key = f"{_sources()} {runs}"
    kept = _kept(key) if full else {}
    for cell in cells(full=full):
        found = kept.get(cell.told())
        if found is None:
            found = outcome(cell, runs)
            if full:
                DONE.parent.mkdir(exist_ok=True)
                told = {name: asdict(numbers) for name, numbers in found.items()}
                with DONE.open("a", encoding="utf-8") as file:
                    file.write(json.dumps({"key": key, "cell": cell.told(), "found": told}) + "\n")
        yield cell, found


def _row(cell: lab.Cell, found: dict[str, Found], runs: int) -> str:
    oracle = found["oracle"].width
    told = "; ".join(
        f"{name} {100 * numbers.held:5.2f} % x{numbers.width / oracle:5.2f}"
        for name, numbers in found.items()
        if name != "oracle"
    )
    return f"{_mark(cell, found['default'].held, runs)} {cell.told()}: {told}"


def _mark(cell: lab.Cell, held: float, runs: int) -> str:
    """Return a blank for a cell within the bound, to three standard errors of the simulation."""
    if held < LOW - 3.0 * math.sqrt(LOW * (1.0 - LOW) / runs):
        return "!"
    if held <= HIGH + 3.0 * math.sqrt(HIGH * (1.0 - HIGH) / runs):
        return " "
    return "!" if cell.shape == DEFAULT else "^"


def rows(full: bool) -> Iterator[str]:  # noqa: FBT001  (the one switch of every study)
    """Yield one row for each cell, then what stands beside the grid and a summary."""
    runs = RUNS if full else SMALL_RUNS
    yield "  held the truth at a stated 95 %, and mean width over that of an oracle who knows every distribution"
    found = []
    for cell, numbers in outcomes(full=full):
        found.append((cell, numbers))
        yield _row(cell, numbers, runs)
    if full:
        DONE.unlink(missing_ok=True)
    yield from _beside(found, runs)


def _beside(found: Sequence[tuple[lab.Cell, dict[str, Found]]], runs: int) -> Iterator[str]:
    for name in ("default", "as drawn", "JCGM 101", "known s", "pooled s", "common practice"):
        yield f"  {name:15}, all cells        : {_range(found, name)}"
        for shape in ("triangular", "rectangular") if name != "common practice" else ():
            yield f"  {name:15}, drawn {shape:11}: {_range([(c, one) for c, one in found if c.shape == shape], name)}"
    for mark, told in (("!", "outside where it must not be"), ("^", "above, for the glass is better than stated")):
        marked = [cell for cell, one in found if _mark(cell, one["default"].held, runs) == mark]
        yield f"  default, {told}: {len(marked)} of {len(found)} cells"
    for n in NUMBERS:
        of_n = [one for cell, one in found if cell.n == n and cell.sigma >= 0.06]
        if of_n:
            known, pooled = (
                float(np.nanmean([one[name].width / one["default"].width for one in of_n]))
                for name in ("known s", "pooled s")
            )
            gain = f"width x {known:.2f} with a known s, x {pooled:.2f} with a pooled one"
            yield f"  n {n}, scatter of 0.06 mL and more: {gain}"
    for cell in [_KIND._replace(accuracy_class="B", sigma=sigma, blank=True) for sigma in SIGMAS]:
        averaged, titrated = concordant(cell, runs)
        yield f"  three titres within 0.10 mL, {cell.told()}: {100 * averaged.held:.2f} %, {titrated:.1f} titrated"
    # Why the default is what it is: glass that is worse than it is stated.
    ends = []
    for cell in [_KIND._replace(accuracy_class=of, shape="rectangular", sigma=s) for of in "AB" for s in SIGMAS]:
        generator = np.random.default_rng([20261125, zlib.crc32(cell.told().encode())])
        ends.append(_stated(cell, "triangular", lab.draw(generator, cell, runs)).held)
    yield (
        f"  glass drawn rectangular and stated triangular, step 0.05, zeroed, n 3: {100 * min(ends):.2f} to "
        f"{100 * max(ends):.2f} %"
    )


def _range(found: Sequence[tuple[lab.Cell, dict[str, Found]]], name: str) -> str:
    """Return the least and the most that a way to state 95 % held, and its widths; where no s could be pooled, none."""
    numbers = [(one[name].held, one[name].width / one["oracle"].width) for _, one in found]
    numbers = [pair for pair in numbers if not math.isnan(pair[0])]
    held, widths = zip(*numbers, strict=True)
    return (
        f"held {100 * min(held):5.2f} to {100 * max(held):6.2f} %, mean width {min(widths):.2f} to {max(widths):.2f} x "
        "the oracle's"
    )
