"""Covariance and correlation of results: what follows from the influences that they share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from assay.metrology.identity import shared_influences
from assay.metrology.influence import Influence
from assay.metrology.shapes import Array

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate


def covariance_matrix(*results: Estimate) -> Array:
    """Return the covariance of results, of shape (n, n), from the influences and the joints that they share.

    Parameters
    ----------
    *results : Estimate
        The results; an id that two of them use is one influence.

    Returns
    -------
    array, shape (n, n)
        Variances on the diagonal, in the squares of the units; covariances beside it.

    Raises
    ------
    DataError
        If one influence id stands for two sets of facts.

    References
    ----------
    [jcgm-100-2008] F.1.2.3, equation F.2.

    Examples
    --------
    >>> from assay.metrology.estimate import Estimate
    >>> from assay.metrology.evaluation import combine
    >>> from assay.metrology.influence import Influence
    >>> a = Estimate.from_influence(Influence(id="a", label="a", value=2.0, u=0.1), name="value")
    >>> b = Estimate.from_influence(Influence(id="b", label="b", value=3.0, u=0.1), name="value")
    >>> covariance_matrix(combine(lambda x, y: x + y, a, b), a).round(4).tolist()
    [[0.02, 0.01], [0.01, 0.01]]

    """
    influences = list(shared_influences(result.influences for result in results).values())
    total = np.zeros((len(results), len(results)))
    for members in independent_groups(influences):
        slopes = np.array([[result.sensitivities.get(i.id, 0.0) for i in members] for result in results])
        total += slopes @ covariance_of_members(members) @ slopes.T
    return total


def covariance(a: Estimate, b: Estimate) -> float:
    """Return the covariance of two results, in the product of their units; see `covariance_matrix`."""
    return float(covariance_matrix(a, b)[0, 1])


def correlation(a: Estimate, b: Estimate) -> float:
    """Return the correlation of two results.

    Parameters
    ----------
    a, b : Estimate
        The results; an id that both use is one influence.

    Returns
    -------
    float
        From -1 to 1; NaN where one of them has no uncertainty.

    Raises
    ------
    DataError
        If one influence id stands for two sets of facts.

    References
    ----------
    [jcgm-100-2008] 5.2.2, equation 14.

    Examples
    --------
    >>> from assay import Estimate, Influence, combine
    >>> a = Estimate.from_influence(Influence(id="a", label="a", value=2.0, u=0.1), name="value")
    >>> b = Estimate.from_influence(Influence(id="b", label="b", value=3.0, u=0.1), name="value")
    >>> round(correlation(combine(lambda x, y: x + y, a, b), a), 4)
    0.7071

    """
    matrix = covariance_matrix(a, b)
    scale = math.sqrt(float(matrix[0, 0]) * float(matrix[1, 1]))
    # Rounding may leave a hair beyond ±1, which no correlation is.
    return max(-1.0, min(1.0, float(matrix[0, 1]) / scale)) if scale > 0.0 else math.nan


def independent_groups(influences: Sequence[Influence]) -> list[list[Influence]]:
    """Return the influences in groups that are independent of each other: one by one, and joint by joint."""
    joints: dict[str, list[Influence]] = {}
    for influence in influences:
        if influence.joint is not None:
            joints.setdefault(influence.joint.id, []).append(influence)
    return list(chain(([i] for i in influences if i.joint is None), joints.values()))


def covariance_of_members(members: Sequence[Influence]) -> Array:
    """Return the covariance of the members of such a group."""
    joint = members[0].joint
    if joint is None:
        return np.array([[members[0].u ** 2]])
    places = [joint.member_ids.index(member.id) for member in members]
    return np.array(joint.covariance)[np.ix_(places, places)]
