"""Steps of a row about results as a whole: outliers, analysis of variance, control charts, duplicate samples."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, cast

from scipy import optimize, special

from assay.checks.operands import Operands
from assay.checks.readings import readings
from assay.metrology.control import control_chart
from assay.metrology.control_limits import range_constants
from assay.metrology.dixon import dixon_critical, dixon_probability
from assay.metrology.duplicates import SamplingPrecision, sampling_precision
from assay.metrology.estimate import Estimate
from assay.metrology.grubbs import grubbs, grubbs_critical
from assay.metrology.outliers import dixon
from assay.metrology.variance import VarianceAnalysis, analysis_of_variance


def _critical_r10(n: int, level: float) -> float:
    """Return the critical r10 of any number of values: books take it beyond the seven for which the library does."""
    alpha = (1.0 - level) / 2.0
    return float(optimize.brentq(lambda ratio: dixon_probability(ratio, n, "r10") - alpha, 0.0, 1.0, xtol=1e-12))


_CRITICAL: Mapping[str, Callable[[int, float], float]] = {
    "dixon": dixon_critical,
    "dixon, r10": _critical_r10,
    "grubbs": grubbs_critical,
    "grubbs, one end": lambda n, level: grubbs_critical(n, 2.0 * level - 1.0),
}
_TESTS = {"dixon": dixon, "grubbs": grubbs}
_DUPLICATES: Mapping[str, Callable[[SamplingPrecision], float]] = {
    "mean": lambda found: found.mean,
    "targets": lambda found: found.variance.components[0].s,
    "samples": lambda found: found.sampling_s,
    "analyses": lambda found: found.analysis_s,
}
_ANSWERS: Mapping[str, Callable[[VarianceAnalysis], float]] = {
    "mean": lambda found: found.mean,
    "F": lambda found: found.f_ratio,
    "within": lambda found: found.components[-1].s,
    "between": lambda found: found.components[0].s,
}


def critical(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the critical value of the test ``critical``, for ``n`` values and a ``risk`` of a false alarm."""
    n, risk = int(operands.given(step["n"])), float(operands.given(step["risk"]))
    return _exactly(_CRITICAL[step["critical"]](n, 1.0 - risk), "critical value")


def outlier(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the statistic of the test that ``outlier`` names, of the readings ``of``."""
    values = [float(value) for value in readings(operands.given(step["of"]))]
    return _exactly(_TESTS[step["outlier"]](values).statistic, "statistic")


def variance(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return what ``variance`` names of the analysis of variance of ``groups``, a list of texts with readings."""
    exact = [readings(text) for text in operands.given(step["groups"])]
    found = analysis_of_variance(cast("Sequence[Sequence[float]]", exact))  # a printed decimal is no float
    return _exactly(_ANSWERS[step["variance"]](found), step["variance"])


def quantile_of_f(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the quantile ``quantile_of_f`` of F for two ``dof``."""
    above, below = (float(operands.given(dof)) for dof in step["dof"])
    return _exactly(float(special.fdtri(above, below, float(operands.given(step["quantile_of_f"])))), "F")


def chart_constant(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the constant ``chart_constant`` of ranges, d2 or d3, for subgroups of ``n``."""
    constants = dict(zip(("d2", "d3"), range_constants(int(operands.given(step["n"]))), strict=True))
    return _exactly(constants[operands.given(step["chart_constant"])], "constant of ranges")


def chart(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return what ``chart`` names of the control chart of the readings ``of``: its centre, or that of the ranges."""
    values = [float(value) for value in readings(operands.given(step["of"]))]
    found = control_chart(values, unit="1", rules="limits")
    spread = found if found.spread is None else found.spread
    centres = {"centre": found.limits.centre, "mean moving range": spread.limits.centre}
    return _exactly(centres[step["chart"]], step["chart"])


def duplicate_samples(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return what ``duplicates`` names, from ``targets``: texts with two analyses of one sample, then of another."""
    texts = [[float(value) for value in readings(text)] for text in operands.given(step["targets"])]
    found = sampling_precision([[four[:2], four[2:]] for four in texts])
    return _exactly(_DUPLICATES[step["duplicates"]](found), step["duplicates"])


def _exactly(value: float, label: str) -> Estimate:
    return Estimate.exactly(value, name="value", label=label)
