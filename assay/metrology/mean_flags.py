"""Doubts about the weighted mean of several results."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from assay.display.numbers import significant
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.least_squares import Fit, names_of

#: Flag of a mean of results that scatter more than their uncertainties allow.
DISCORDANT = "discordant"
#: By what factor u of a mean must be too small before it is flagged. A choice of this library.
_CHANCE = 1.1


def discordant(fit: Fit, outlying: Sequence[str]) -> Flag:
    """Return the blocking flag of a mean of results that scatter more than their uncertainties allow."""
    observed, critical, _, dof, _ = fit.chi_squared
    return Flag(
        code=DISCORDANT,
        message=(
            f"The results scatter {significant(math.sqrt(observed / dof))} times as much as their uncertainties allow "
            f"(Birge ratio; chi-squared {significant(observed, 3)}, critical {significant(critical, 3)}). Outlying: "
            f"{', '.join(outlying)}. Find out why before they are averaged."
        ),
        blocking=True,
    )


def chance_weights(
    weights: Sequence[float], deviations: Sequence[Estimate], u: float, names: Sequence[str]
) -> list[Flag]:
    """Return a flag if the weights rest on few degrees of freedom, and u of the mean is too small by that.

    What all results share alike is free of the weights. It has cancelled in the deviations, from which the rest of u²
    follows: of independent results the weighted mean of u² of a deviation is n - 1 times that of the mean.

    References
    ----------
    [meier-1953] variance of the mean, to the first order in 1/dof, from memory; there the results are independent.

    """
    terms = [4.0 * w * (1.0 - w) / deviation.dof for w, deviation in zip(weights, deviations, strict=True)]
    own = sum(w * deviation.u**2 for w, deviation in zip(weights, deviations, strict=True)) / (len(weights) - 1)
    times = math.sqrt(1.0 + max(sum(terms) * own, 0.0) / u**2)
    if times < _CHANCE:
        return []
    fewest = names[int(np.argmax(terms))]
    message = (
        f"The weights rest on few replicates (fewest: {fewest}), and so on chance: u of the mean should "
        f"be at least {significant(times)} times as large. Measure more often, or state a known s."
    )
    return [Flag(code="chance-weights", message=message)]


def negative_weight(results: Sequence[Estimate], weights: Sequence[float]) -> Flag:
    """Return the flag of a mean that may lie outside of all its results."""
    named = ", ".join(name for name, weight in zip(names_of(results), weights, strict=True) if weight < 0.0)
    return Flag(
        code="negative-weight",
        message=(
            f"By what the results share, some enter the mean with a negative weight ({named}), and it may lie outside "
            "of all. Are the shared uncertainties as large as stated?"
        ),
    )
