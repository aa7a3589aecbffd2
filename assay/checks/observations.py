"""Steps of a row that begin with observations: means, quantities read together, a straight line, correlations."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any, cast

from assay.checks.models import model
from assay.checks.operands import Operands
from assay.checks.readings import covariance_of_means, readings
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.line import fitted_line
from assay.metrology.replicates import scatter_of


def observed(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the mean of observations: ``observed`` is where they are."""
    name = step["observed"][1:]
    values = _plain(readings(operands.given(step["observed"])))
    return Estimate.from_influence(Influence.observed(f"{operands.path}/{name}", values, label=name), name="value")


def scattered(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the standard deviation of one observation: ``scatter``; of several sets of one size: ``pooled``."""
    if "pooled" in step:
        each = readings(operands.given(step["pooled"]))
        return _exactly(math.sqrt(statistics.fmean(s * s for s in each)), "pooled s")
    return _exactly(scatter_of(_plain(readings(operands.given(step["scatter"])))).s, "s")


def read_together(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Keep the means of quantities that were read together, with their covariance; return the last.

    ``together`` is a table with the readings of each by name. With ``each``, a table of models, they are worked out for
    each set of readings first, and their means are kept.
    """
    sets = {name: readings(written) for name, written in operands.given(step["together"]).items()}
    if "each" in step:
        sets = {name: _of_each_set(text, sets) for name, text in step["each"].items()}
    n = len(next(iter(sets.values())))
    joint = Joint(
        id=f"{operands.path}/together",
        label="read together",
        member_ids=tuple(f"{operands.path}/together/{name}" for name in sets),
        values=tuple(float(sum(values) / n) for values in sets.values()),
        covariance=covariance_of_means(list(sets.values())),
        dof=n - 1.0,
        kind="A",
    )
    return _kept(operands, dict(zip(sets, joint.members(), strict=True)))


def correlated(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Keep inputs with stated correlations ``r``, or covariances ``covariance``; return the last.

    ``correlated`` names the inputs; of the matrix, what stands to the right of the diagonal is written, row by row.
    """
    inputs = [operands.influence(name) for name in step["correlated"]]
    matrix = [[0.0] * len(inputs) for _ in inputs]
    for i, one in enumerate(inputs):
        matrix[i][i] = one.u**2
        for j, other in enumerate(inputs[i + 1 :], start=i + 1):
            stated = step["covariance"][i][j - i - 1] if "covariance" in step else step["r"][i][j - i - 1]
            scale = 1.0 if "covariance" in step else one.u * other.u
            matrix[i][j] = matrix[j][i] = float(stated) * scale
    joint = Joint(
        id=f"{operands.path}/correlated",
        label="correlated",
        member_ids=tuple(influence.id for influence in inputs),
        values=tuple(influence.value for influence in inputs),
        covariance=tuple(map(tuple, matrix)),
    )
    names = [name[1:] for name in step["correlated"]]
    return _kept(operands, dict(zip(names, joint.members(names), strict=True)))


def line(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Keep ``intercept``, ``slope`` and ``residual_s`` of a straight line; return the slope.

    ``line`` are the abscissae, from ``origin`` on if it is given, and ``ordinates`` the ordinates. With ``mirrored``,
    each point has its image on the other side of zero, so that the line goes through zero: slope and ``residual_s`` are
    those of a line that is forced through it, and the variance of the slope is half of its own.
    """
    x = [value - Fraction(step.get("origin", 0)) for value in readings(operands.given(step["line"]))]
    y = readings(operands.given(step["ordinates"]))
    if step.get("mirrored"):
        x, y = [*x, *(-value for value in x)], [*y, *(-value for value in y)]
    fitted = fitted_line(f"{operands.path}/line", _plain(x), _plain(y), label="line")
    operands.keep("residual_s", _exactly(fitted.residual_s, "scatter about the line"))
    return _kept(operands, dict(zip(("intercept", "slope"), fitted.joint.members(), strict=True)))


def read_about_line(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return the mean of the readings ``about_line``, with the scatter of the points about the line before."""
    name = step["about_line"][1:]
    values = readings(operands.given(step["about_line"]))
    s = operands.estimate("@residual_s", "value").value
    mean = Influence(
        id=f"{operands.path}/{name}",
        label=name,
        value=float(sum(values) / len(values)),
        u=s / math.sqrt(len(values)),
        dof=operands.estimate("@slope", "value").dof,
    )
    return Estimate.from_influence(mean, name="value")


def _kept(operands: Operands, members: Mapping[str, Influence]) -> Estimate:
    found = [(name, Estimate.from_influence(influence, name="value")) for name, influence in members.items()]
    for name, estimate in found:
        operands.keep(name, estimate)
    return found[-1][1]


def _of_each_set(text: str, sets: Mapping[str, Sequence[Fraction]]) -> list[Fraction]:
    names, function = model(text)
    chosen = [[float(value) for value in sets[name]] for name in names]
    return [Fraction(float(function(*values))) for values in zip(*chosen, strict=True)]


def _exactly(value: float, label: str) -> Estimate:
    return Estimate.exactly(value, name="value", label=label)


def _plain(values: Sequence[Fraction]) -> Sequence[float]:
    """Return exact numbers where floats are asked for: the library's sums are exact, and so nothing is lost."""
    return cast("Sequence[float]", values)
