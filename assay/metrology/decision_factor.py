"""How far from a limit a result must lie for the risk of a decision to be at most the stated one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from assay.kernels.value import Value
from assay.metrology.budget import terms_of
from assay.metrology.coverage import one_sided_factor

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate

#: Below this factor a risk is all but one half, and no degrees of freedom can be told from it.
_NO_FACTOR = 1e-3


def risk_dof(estimate: Estimate, risk: float) -> float:
    """Return the degrees of freedom of the t by which a decision about a result keeps its risk; see `risk_dof_of`."""
    if estimate.u == 0.0:
        return estimate.coverage_dof
    terms = terms_of(estimate.sensitivities, estimate.influences)
    parts = [(contribution**2, dof) for contribution, dof, _ in terms]
    return float(risk_dof_of(parts, risk, estimate.coverage_dof))


def risk_dof_of(parts: Sequence[tuple[Value, float]], risk: float, dof: Value) -> Value:
    """Return the degrees of freedom of the t by which a decision keeps its risk; ``dof`` or fewer.

    Where few replicates stand beside what is known, no t of one number of degrees of freedom fits at every risk: the
    one by which intervals are stated at 95 % accepts on a limit 2.5 % instead of 1 %, for a pair of titres beside glass
    a tenth of their scatter. A decision is therefore made with the square root of the sum of squares of half-widths,
    each with the t of its own degrees of freedom, in place of k times u. With normal errors its risk is at most the
    stated one, however many parts there are and whatever their sizes: the chance that a normal deviation lies within a
    width is a concave function of the square of that width, and that square is here a mean, weighted by the true
    shares, of squares of which each alone gives just the stated chance. It errs to the safe side most where equal parts
    each have few degrees of freedom.

    Parameters
    ----------
    parts : sequence of (float or array, float)
        Independent parts of u², each with its own degrees of freedom.
    risk : float
        The risk, above 0, at most 0.5.
    dof : float or array
        Degrees of freedom by which the intervals are stated.

    References
    ----------
    [banerjee-1960] for two parts and intervals, from memory; the reason is given above, and holds for any number of
    parts and, by symmetry, for one side.

    Examples
    --------
    >>> round(float(risk_dof_of([(0.5, 2.0), (0.5, float("inf"))], 0.05, 8.0)), 2)  # half of u² from three titres
    2.95

    """
    if all(math.isinf(own) for _, own in parts):
        return dof
    total: Value = np.asarray(sum(part for part, _ in parts))
    widened: Value = sum(part * one_sided_factor(1.0 - risk, own) ** 2 for part, own in parts)
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.sqrt(widened / total)
        known = one_sided_factor(1.0 - risk, math.inf)
        usable = (factor > _NO_FACTOR) & (factor > known * (1.0 + 1e-9))
        found = special.stdtridf(1.0 - risk, np.where(usable, factor, known + 1.0))
    fewer: Value = np.where(usable & np.isfinite(found) & (found > 0.0), np.minimum(found, dof), dof)
    return fewer
