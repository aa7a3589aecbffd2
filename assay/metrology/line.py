"""A straight line through observations: a calibration line, whose intercept and slope are uncertain together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from assay.errors import DomainError
from assay.metrology.joint import Joint
from assay.metrology.plain import plain_values

_FEWEST_POINTS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line fitted by least squares to points of equal scatter.

    Parameters
    ----------
    joint : Joint
        Intercept and slope with their covariance and n - 2 degrees of freedom.
    residual_s : float
        Standard deviation of the points about the line.

    References
    ----------
    [jcgm-100-2008] H.3.2.

    Examples
    --------
    >>> line = fitted_line("cal", [0.0, 1.0, 2.0, 3.0], [0.1, 1.0, 2.1, 3.0], label="calibration")
    >>> round(line.intercept, 4), round(line.residual_s, 4)
    (0.08, 0.0632)

    """

    joint: Joint
    residual_s: float

    @property
    def intercept(self) -> float:
        """Intercept, in the unit of the ordinates."""
        return self.joint.values[0]

    @property
    def slope(self) -> float:
        """Slope, in the unit of the ordinates over that of the abscissae."""
        return self.joint.values[1]


def fitted_line(
    id: str,  # noqa: A002  (the field's name)
    x: Sequence[float],
    y: Sequence[float],
    *,
    label: str,
    source: str = "",
) -> Line:
    """Return the straight line through observed points, by ordinary least squares.

    The sums are exact, so that nothing is lost where the abscissae are far from zero or close together. It is not for
    points of unequal scatter, nor for abscissae whose own uncertainty matters.

    Parameters
    ----------
    id : str
        As for `Joint`; the members are ``<id>/intercept`` and ``<id>/slope``.
    x, y : sequence of float, shape (n,)
        Abscissae, taken as exact, and ordinates, three or more.
    label, source : str
        As for `Joint`.

    Returns
    -------
    Line
        The line, its `Joint` and the scatter about it.

    Raises
    ------
    DomainError
        If the numbers of abscissae and ordinates differ, there are fewer than three points, a number is not finite, or
        all abscissae are the same.

    References
    ----------
    [jcgm-100-2008] H.3.2, equations H.13a to H.13f.

    Examples
    --------
    >>> line = fitted_line("cal", [0.0, 1.0, 2.0, 3.0], [0.1, 1.0, 2.1, 3.0], label="calibration")
    >>> round(line.slope, 4), line.joint.dof
    (0.98, 2.0)

    What is read off it later, with all that is known of both:

    >>> from assay import Estimate, Influence, combine
    >>> intercept, slope = (Estimate.from_influence(member, name="value") for member in line.joint.members())
    >>> signal = Estimate.from_influence(Influence(id="signal", label="signal", value=1.57, u=0.05), name="value")
    >>> found = combine(lambda y, a, b: (y - a) / b, signal, intercept, slope, label="read off", unit="mg/L")
    >>> round(found.value, 2), round(found.u, 2)
    (1.52, 0.06)

    """
    xs, ys = _exact(x, f"x of {id}"), _exact(y, f"y of {id}")
    _check_points(id, x, y)
    n = len(x)
    mean_x, mean_y = sum(xs) / n, sum(ys) / n
    spread = sum((a - mean_x) ** 2 for a in xs)
    if not spread:
        raise DomainError(
            "all abscissae are the same, and a line needs different ones", argument=f"x of {id}", given=x[0]
        )
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(xs, ys, strict=True)) / spread
    intercept = mean_y - slope * mean_x
    residual = sum((b - intercept - slope * a) ** 2 for a, b in zip(xs, ys, strict=True)) / (n - 2)
    of_intercept, of_both, of_slope = (
        float(residual * (Fraction(1, n) + mean_x**2 / spread)),
        float(-residual * mean_x / spread),
        float(residual / spread),
    )
    joint = Joint(
        id=id,
        label=label,
        member_ids=(f"{id}/intercept", f"{id}/slope"),
        values=(float(intercept), float(slope)),
        covariance=((of_intercept, of_both), (of_both, of_slope)),
        dof=float(n - 2),
        kind="A",
        source=source or f"straight line through {n} points (JCGM 100:2008, H.3)",
    )
    return Line(joint=joint, residual_s=math.sqrt(residual))


def _exact(values: Sequence[float | Fraction], argument: str) -> list[Fraction]:
    floats = plain_values(values, argument=argument)
    # Fractions stay what they are; numbers of numpy have whole parts that overflow.
    return [v if isinstance(v, Fraction) else Fraction(f) for v, f in zip(values, floats, strict=True)]


def _check_points(id_: str, x: Sequence[float], y: Sequence[float]) -> None:
    if len(x) != len(y):
        raise DomainError(
            "each abscissa needs one ordinate", argument=f"y of {id_}", given=f"{len(x)} abscissae, {len(y)} ordinates"
        )
    if len(x) < _FEWEST_POINTS:
        raise DomainError(
            "two points lie on a line whatever their scatter",
            argument=f"x of {id_}",
            given=f"{len(x)} points",
            expected="three points or more",
        )
