"""Printed readings as exact numbers: a printed decimal is no float, and certified digits show the difference."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any


def readings(written: Any) -> list[Fraction]:  # noqa: ANN401  (what TOML holds)
    """Return readings that are written as a list, as text with spaces between them, or by a rule.

    A rule is a table: ``first``, and then the ``pair`` so many ``times``.

    Examples
    --------
    >>> readings("0.1 0.3") == readings(["0.1", "0.3"]) == [Fraction(1, 10), Fraction(3, 10)]
    True
    >>> [float(x) for x in readings({"first": "1.2", "pair": ["1.1", "1.3"], "times": 2})]
    [1.2, 1.1, 1.3, 1.1, 1.3]

    """
    if isinstance(written, dict):
        return [Fraction(x) for x in (written["first"], *written["pair"] * written["times"])]
    return [Fraction(x) for x in (written.split() if isinstance(written, str) else written)]


def covariance_of_means(sets: Sequence[Sequence[Fraction]]) -> tuple[tuple[float, ...], ...]:
    """Return the covariance of the means of quantities that were read together, n times each.

    References
    ----------
    [jcgm-100-2008] 5.2.3, equation 17.

    Examples
    --------
    >>> covariance_of_means([[Fraction(1), Fraction(3)], [Fraction(5), Fraction(1)]])
    ((1.0, -2.0), (-2.0, 4.0))

    """
    n = len(sets[0])
    means = [sum(values) / n for values in sets]
    deviations = [[value - mean for value in values] for values, mean in zip(sets, means, strict=True)]
    return tuple(
        tuple(float(sum(a * b for a, b in zip(one, other, strict=True)) / (n * (n - 1))) for other in deviations)
        for one in deviations
    )
