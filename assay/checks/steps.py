"""The steps that lead from the printed inputs of a row to its answer.

A step of a row is a table whose first key says what it does:

``kernel``       a kernel by name, with its parameters; ``as`` names what it returns where the kernel serves several;
``formula``      the molar mass of a formula;
``flask``        the volume of a flask with a tolerance;
``combine``      a sum, a difference, a product or a ratio, as a user would write with `assay.combine`;
``model``        a measurement model as text, see `assay.checks.models`;
``replicates``   the mean of replicate readings;
``observed``, ``scatter``, ``pooled``, ``together``, ``correlated``, ``line``, ``about_line``
                 what begins with observations, see `assay.checks.observations`;
``critical``, ``outlier``, ``variance``, ``quantile_of_f``, ``chart``, ``chart_constant``, ``duplicates``
                 outliers, analysis of variance, control charts, duplicate samples, see `assay.checks.quality`;
``standardise``, ``assay``, ``acid_base``, ``end_points``
                 the library's own titrations, see `assay.checks.titrations`.
"""

from __future__ import annotations

import importlib
import inspect
import math
import pkgutil
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any, TypeAlias

import assay.kernels
from assay.bench.vessels import Flask
from assay.checks import observations, quality, titrations
from assay.checks.models import model
from assay.checks.operands import Operands
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine, evaluate
from assay.metrology.replicates import mean_of, scatter_of
from assay.substances.molar_mass import molar_mass

Step: TypeAlias = Callable[[Operands, dict[str, Any]], Estimate]

#: Glossary name of what a kernel returns, where it is not the kernel's own first word.
_RETURNS = {
    "analyte_concentration": "amount_concentration",
    "carbonate": "amount_concentration",
    "control_limit": "value",
    "concentration": "amount_concentration",
    "dispensed_volume": "volume",
    "equivalents_in_aliquot": "amount",
    "hydroxide": "amount_concentration",
    "mean": "value",
    "percent": "mass_per_volume_percent",
    "set_volume": "volume",
    "titre_at_equivalence": "titre",
    "volume_at_20": "volume",
}

_OPERATIONS: Mapping[str, Callable[..., Any]] = {
    "sum": lambda *x: sum(x[1:], x[0]),
    "difference": lambda a, b: a - b,
    "product": lambda *x: math.prod(x[1:], start=x[0]),
    "ratio": lambda a, b: a / b,
}


@cache
def kernels() -> Mapping[str, Callable[..., Any]]:
    """Return every kernel by its name."""
    modules = [
        importlib.import_module(found.name) for found in pkgutil.iter_modules(assay.kernels.__path__, "assay.kernels.")
    ]
    return {
        name: function
        for module in modules
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and "_from_" in name
    }


def _kernel(operands: Operands, step: dict[str, Any]) -> Estimate:
    kernel = kernels()[step["kernel"]]
    output = step["kernel"].split("_from_")[0]
    variable = next((p for p in inspect.signature(kernel).parameters.values() if p.kind is p.VAR_POSITIONAL), None)
    positional = [operands.operand(w, variable.name) for w in step.get("positional", [])] if variable else []
    named: dict[str, Any] = {
        key: tuple(written) if key == "counts" else operands.operand(written, key)
        for key, written in step.items()
        if key not in {"name", "kernel", "positional", "as"}
    }
    name = step.get("as", _RETURNS.get(output, output))
    return evaluate(kernel, *positional, name=name, label=step.get("name", output), **named)


def _formula(operands: Operands, step: dict[str, Any]) -> Estimate:
    return molar_mass(step["formula"], edition=operands.edition)


def _flask(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the volume of a flask, with ``tolerance`` and the ``shape`` that the source takes for it."""
    tolerance = operands.given(step["tolerance"])
    return Flask(capacity=operands.given(step["flask"]), tolerance=tolerance, shape=step["shape"]).volume()


def _combine(operands: Operands, step: dict[str, Any]) -> Estimate:
    found = [operands.operand(written, "value") for written in step["of"]]
    return combine(_OPERATIONS[step["combine"]], *found, label=step.get("name", ""), unit=step.get("unit", "1"))


def _model(operands: Operands, step: dict[str, Any]) -> Estimate:
    names, function = model(step["model"])
    found = [operands.operand(f"@{name}", "value") for name in names]
    return combine(function, *found, label=step.get("name", "model"), unit=step.get("unit", "1"))


def _replicates(operands: Operands, step: dict[str, Any]) -> Estimate:
    values = [float(written) for written in operands.given(step["replicates"])]
    estimates = [Estimate.exactly(value, name="value", label="reading") for value in values]
    return mean_of(estimates, scatter_of(values), record=operands.path, name="replicate_mean", label="mean")


STEPS: Mapping[str, Step] = {
    "kernel": _kernel,
    "formula": _formula,
    "flask": _flask,
    "combine": _combine,
    "model": _model,
    "replicates": _replicates,
    "observed": observations.observed,
    "scatter": observations.scattered,
    "pooled": observations.scattered,
    "together": observations.read_together,
    "correlated": observations.correlated,
    "line": observations.line,
    "critical": quality.critical,
    "outlier": quality.outlier,
    "variance": quality.variance,
    "quantile_of_f": quality.quantile_of_f,
    "chart": quality.chart,
    "chart_constant": quality.chart_constant,
    "duplicates": quality.duplicate_samples,
    "about_line": observations.read_about_line,
    "standardise": titrations.standardised,
    "assay": titrations.assayed_hypochlorite,
    "acid_base": titrations.assayed_acid_or_base,
    "end_points": titrations.between_end_points,
}
