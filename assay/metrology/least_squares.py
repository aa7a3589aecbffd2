"""Generalised least squares of several results of one quantity: weights, chi-squared, distances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import special

from assay.errors import DataError
from assay.metrology.covariance import covariance_matrix, covariance_of_members, independent_groups
from assay.metrology.identity import shared_influences
from assay.metrology.shapes import Array

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: Smallest eigenvalue of a correlation matrix that is told from zero.
_SINGULAR = 1e-10
#: Share of the u of a result below which that of its deviation is rounding: the result alone makes the mean.
_ALONE = 1e-7
#: Degrees of freedom beyond which u is as good as known.
_KNOWN = 1e10


class ChiSquared(NamedTuple):
    """A chi-squared that was observed, with its critical value and its probability.

    Critical value and probability are those of chi-squared if every u is known; of few degrees of freedom, those of the
    F distribution that takes its place.
    """

    observed: float
    critical: float
    probability: float
    dof: int
    dof_of_u: float


class Fit(NamedTuple):
    """The mean by generalised least squares, in the order of the results."""

    weights: Array
    u: float
    chi_squared: ChiSquared
    distances: Array  # of each result from the mean, in units of the u of that distance


def fitted(results: Sequence[Estimate], level: float) -> Fit:
    """Return the mean of results by generalised least squares, with their full covariance.

    Raises
    ------
    DataError
        If the covariance is singular.

    """
    covariance = covariance_matrix(*results)
    u = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(u, u)
    _check_regular(correlation, results)
    inverse = np.linalg.inv(correlation) / np.outer(u, u)
    inverse = 0.5 * (inverse + inverse.T)
    summed = inverse.sum(axis=0)
    weights = summed / summed.sum()
    # Without the mean: what is left is the same wherever zero lies.
    residual = inverse - np.outer(summed, summed) / summed.sum()
    values = np.array([result.value for result in results]) - results[0].value
    observed = max(float(values @ residual @ values), 0.0)
    variance = 1.0 / float(summed.sum())
    of_deviations = np.maximum(np.diag(covariance) - variance, (_ALONE * u) ** 2)
    distances = np.abs(values - weights @ values) / np.sqrt(of_deviations)
    return Fit(weights, math.sqrt(variance), _chi_squared(observed, residual, results, level), distances)


def _check_regular(correlation: Array, results: Sequence[Estimate]) -> None:
    smallest, vectors = np.linalg.eigh(correlation)
    if smallest[0] > _SINGULAR:
        return
    largest = float(np.abs(vectors[:, 0]).max())
    named = [name for name, part in zip(names_of(results), vectors[:, 0], strict=True) if abs(part) > 0.1 * largest]
    raise DataError(
        "some of the results follow from each other, so that their covariance is singular: they share all that is "
        "uncertain",
        argument="results",
        given=", ".join(named),
        remedy="Leave out what was computed from the others, or from the same readings.",
    )


def _chi_squared(observed: float, residual: Array, results: Sequence[Estimate], level: float) -> ChiSquared:
    """Return chi-squared with its critical value, wider as the degrees of freedom of the uncertainties are fewer.

    References
    ----------
    [johansen-1980] from memory; for independent results it is the test of [welch-1951], also from memory.

    """
    dof = len(results) - 1
    doubt = 0.0
    for members in independent_groups(list(shared_influences(r.influences for r in results).values())):
        joint = members[0].joint
        known_to = members[0].dof if joint is None else joint.dof
        if math.isinf(known_to):
            continue
        slopes = np.array([[result.sensitivities.get(i.id, 0.0) for i in members] for result in results])
        part = residual @ slopes @ covariance_of_members(members) @ slopes.T
        doubt += 0.5 * float(np.trace(part @ part) + np.trace(part) ** 2) / known_to
    dof_of_u = dof * (dof + 2.0) / (3.0 * doubt) if doubt > 0.0 else math.inf
    if dof_of_u > _KNOWN:  # what is uncertain of few degrees of freedom cancels, but for rounding
        dof_of_u = math.inf
        critical, probability = special.chdtri(dof, 1.0 - level), special.chdtrc(dof, observed)
    else:
        scale = dof + 2.0 * doubt - 6.0 * doubt / (dof + 2.0)
        critical = scale * special.fdtri(dof, dof_of_u, level)
        probability = special.fdtrc(dof, dof_of_u, observed / scale)
    return ChiSquared(observed, float(critical), float(probability), dof, dof_of_u)


def names_of(results: Sequence[Estimate]) -> list[str]:
    """Return the labels of results; one that several have is numbered."""
    labels = [result.label for result in results]
    return [
        f"{label} ({labels[:k].count(label) + 1})" if labels.count(label) > 1 else label
        for k, label in enumerate(labels)
    ]
