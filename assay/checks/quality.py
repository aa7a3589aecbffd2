"""Steps of a row about replicates as a whole: tests for outliers, and analysis of variance."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from scipy import special

from assay.checks.operands import Operands
from assay.checks.readings import readings
from assay.metrology.dixon import dixon_critical
from assay.metrology.estimate import Estimate
from assay.metrology.outliers import dixon, grubbs, grubbs_critical
from assay.metrology.variance import VarianceAnalysis, analysis_of_variance

_CRITICAL: Mapping[str, Callable[[int, float], float]] = {
    "dixon": dixon_critical,
    "grubbs": grubbs_critical,
    "grubbs, one end": lambda n, level: grubbs_critical(n, 2.0 * level - 1.0),
}
_TESTS = {"dixon": dixon, "grubbs": grubbs}
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
    groups = [[float(value) for value in readings(text)] for text in operands.given(step["groups"])]
    return _exactly(_ANSWERS[step["variance"]](analysis_of_variance(groups)), step["variance"])


def quantile_of_f(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the quantile ``quantile_of_f`` of F for two ``dof``."""
    above, below = (float(operands.given(dof)) for dof in step["dof"])
    return _exactly(float(special.fdtri(above, below, float(operands.given(step["quantile_of_f"])))), "F")


def _exactly(value: float, label: str) -> Estimate:
    return Estimate.exactly(value, name="value", label=label)
