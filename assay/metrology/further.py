"""What another replicate would gain: the interval that is to be expected, beside the one that is stated."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assay.display.numbers import significant
from assay.errors import DomainError
from assay.metrology.budget import combined_dof
from assay.metrology.coverage import coverage_dof_of, coverage_factor
from assay.metrology.estimate import Estimate
from assay.metrology.replicate_set import replicate_set


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedWidth:
    """The half-width of an interval as it stands, and as further replicates would leave it.

    Parameters
    ----------
    label, unit : str
        Of what, and the unit of both widths.
    further : int
        How many further replicates.
    now, then : float
        Half-widths U, with the replicates that there are and with the further ones.
    level : float
        Level of confidence of both.
    of : str
        Path of the replicates that would be more.
    basis : str
        What is assumed.

    References
    ----------
    [jcgm-100-2008] G.3.2 and 4.2.3: the factor of t and s/√n, both with more replicates.

    Examples
    --------
    >>> from assay.metrology.influence import Influence
    >>> scatter = Influence(id="r/scatter", label="scatter", value=0.0, u=0.1, dof=2.0, kind="A")
    >>> found = expected_width(Estimate.from_influence(scatter, name="value"))
    >>> round(found.now, 3), round(found.then, 3)  # t of 2 and 3 degrees of freedom, and √(3/4)
    (0.43, 0.276)

    """

    label: str
    unit: str
    further: int
    now: float
    then: float
    level: float
    of: str
    basis: str

    @property
    def relative_width(self) -> float:
        """The width to be expected over that which is stated."""
        return self.then / self.now if self.now else 1.0

    def __str__(self) -> str:
        times = "one further titre" if self.further == 1 else f"{self.further} further titres"
        unit = "" if self.unit == "1" else f" {self.unit}"
        return (
            f"{self.label}: U = {significant(self.now)}{unit} at {100 * self.level:g} %; with {times} "
            f"{significant(self.then)}{unit} is to be expected, {100 * self.relative_width:.0f} % of it. {self.basis}"
        )


def expected_width(
    estimate: Estimate, *, further: int = 1, of: str | None = None, level: float = 0.95
) -> ExpectedWidth:
    """Return the half-width of the interval that further replicates would leave, beside the one that is stated.

    It is an expectation: s is taken to stay as it is, and the further titres count with those that are there. Where s
    came out small by chance, the width will rather grow. Nothing is gained on what does not scatter: glass, standard,
    and the rounding of titres that agree.

    Parameters
    ----------
    estimate : Estimate
        A result from replicates.
    further : int
        How many more, 1 or more.
    of : str, optional
        Which replicates, by the path of their record as the ids of the influences show it, or its beginning; needed
        where several sets stand in the result, as those of titrant and sample do.
    level : float
        Level of confidence.

    Returns
    -------
    ExpectedWidth
        Both half-widths, their ratio, and what is assumed.

    Raises
    ------
    DataError
        If no set of replicates scatters in this result by more than its rounding, or several do and none is named.
    DomainError
        If ``further`` is not a whole number of 1 or more.

    References
    ----------
    [jcgm-100-2008] 4.2.3 (s/√n), with the factor of `Estimate.coverage_factor`.

    Examples
    --------
    >>> from assay.metrology.influence import Influence
    >>> scatter = Influence(id="r/scatter", label="scatter", value=0.0, u=0.1, dof=1.0, kind="A")
    >>> mean = Estimate.from_influence(scatter, name="value")
    >>> round(expected_width(mean).relative_width, 3)  # √(2/3) × 4.303/12.706
    0.276

    """
    if further < 1 or further != int(further):
        raise DomainError("further replicates are counted", argument="further", given=further, expected="1 or more")
    found = replicate_set(estimate, of=of)
    n, more = found.n, found.n + further
    # What stands beside the mean in one term, a single blank of the same s, is not repeated.
    scatter = math.hypot(found.scatter * math.sqrt(n / more), found.with_it)
    terms = [(scatter, found.dof + further if found.own else found.dof), (found.resolution, math.inf), *found.rest]
    u, dof = combined_dof(terms)
    known = f"with {n - 1 + further} degrees of freedom instead of {n - 1}" if found.own else "as it is known"
    return ExpectedWidth(
        label=estimate.label,
        unit=estimate.unit,
        further=further,
        now=estimate.expanded(level),
        then=u * coverage_factor(level, coverage_dof_of(terms, dof)),
        level=level,
        of=found.path,
        basis=f"Basis: s of the {n} titres stays as it is, {known}; all else stays.",
    )
