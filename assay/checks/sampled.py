"""Answers of a row that come from sampling, with the standard error of their difference from the print."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping

from assay.checks.rows import Check
from assay.metrology.estimate import Estimate
from assay.metrology.monte_carlo import MonteCarlo

#: What of a run a source prints, and its standard error.
SAMPLED: Mapping[str, Callable[[MonteCarlo], tuple[float, float]]] = {
    "sampled value": lambda run: (run.value, run.value_error),
    "sampled u": lambda run: (run.u, run.u_error),
    "sampled low": lambda run: (run.interval.low, run.interval_error[0]),
    "sampled high": lambda run: (run.interval.high, run.interval_error[1]),
    "sampled U": lambda run: (0.5 * (run.interval.high - run.interval.low), 0.5 * math.hypot(*run.interval_error)),
    "shortest low": lambda run: (run.shortest.low, run.shortest_error[0]),
    "shortest high": lambda run: (run.shortest.high, run.shortest_error[1]),
}

#: Runs by what they sample: several rows print the answers of one.
_RUNS: dict[str, MonteCarlo] = {}


def sampled(check: Check, result: Estimate) -> tuple[float, float]:
    """Return the sampled answer of a row, and the standard error of its difference from the print.

    A source that sampled, too, had an error of its own: that of this run, scaled to the number of its trials.

    Raises
    ------
    ValueError
        If the answer has no standard error, so that nothing could be compared.

    """
    key = json.dumps([check.steps, check.inputs, check.level, check.draws, check.edition])
    if key not in _RUNS:
        _RUNS[key] = result.monte_carlo(level=check.level, few_replicates=check.draws)
    run = _RUNS[key]
    number, error = SAMPLED[check.answer](run)
    if not (math.isfinite(number) and math.isfinite(error)):
        raise ValueError(f"{check.id}: {check.answer} has no standard error")
    return number, error * math.sqrt(1.0 + (run.trials / check.trials if check.trials else 0.0))
