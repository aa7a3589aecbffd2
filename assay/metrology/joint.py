"""Several uncertain inputs that were obtained together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assay.errors import DomainError
from assay.metrology.influence import Influence


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Several influences with one covariance and one number of degrees of freedom.

    They are drawn together, with normal scores correlated so that the covariance of the drawn values is the one stated
    (exactly for normal and rectangular margins), and make one term of the Welch-Satterthwaite formula.

    Parameters
    ----------
    id : str
        A path, as for `Influence`.
    label : str
        What a person calls it.
    member_ids : tuple of str
        Ids of the members.
    values : tuple of float
        Their values.
    covariance : tuple of tuple of float
        Their covariance, symmetric, shape (n, n).
    shape : str
        The margin of every member: ``"normal"`` or ``"rectangular"``.
    dof : float
        Degrees of freedom of the whole.
    kind, source : str
        As for `Influence`.

    Raises
    ------
    DomainError
        If the sizes do not agree, or the numbers are no covariance: not finite, not symmetric, a correlation beyond 1.

    References
    ----------
    [jcgm-101-2008] 6.4.8 (multivariate normal). For rectangular margins the correlation r of the values needs 2 sin(pi
    r / 6) between the normal scores (Pearson 1907; from memory).

    Examples
    --------
    >>> fit = Joint(
    ...     id="fit/1",
    ...     label="a line",
    ...     member_ids=("slope", "start"),
    ...     values=(2.0, 1.0),
    ...     covariance=((0.04, -0.01), (-0.01, 0.01)),
    ...     dof=5.0,
    ... )
    >>> [member.u for member in fit.members(["slope", "start"])]
    [0.2, 0.1]

    """

    id: str
    label: str
    member_ids: tuple[str, ...]
    values: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    shape: str = "normal"
    dof: float = math.inf
    kind: str = "B"
    source: str = ""

    def __post_init__(self) -> None:
        """Check the sizes and the margin."""
        n = len(self.member_ids)
        if len(self.values) != n or len(self.covariance) != n or any(len(row) != n for row in self.covariance):
            raise DomainError(f"{n} members need {n} values and an {n} by {n} covariance", argument=self.id)
        if self.shape not in {"normal", "rectangular"}:
            raise DomainError(
                "a joint has normal or rectangular margins", argument=f"shape of {self.id}", given=self.shape
            )
        if len(set(self.member_ids)) != n:
            raise DomainError("a member stands twice in one joint", argument=self.id, given=self.member_ids)
        if not self.dof >= 1.0:
            raise DomainError("degrees of freedom are 1 or more", argument=f"dof of {self.id}", given=self.dof)
        self._check_covariance()

    def _check_covariance(self) -> None:
        covariance = np.array(self.covariance, dtype=float)
        remedy = "Check the matrix: variances on the diagonal, the same covariance on both sides of it."
        if not (np.isfinite(covariance).all() and np.isfinite(self.values).all()):
            raise DomainError("a joint needs finite values and a finite covariance", argument=self.id, remedy=remedy)
        tolerance = 1e-9 * float(np.abs(covariance).max(initial=0.0))  # what the rounding of a fit may leave
        if np.abs(covariance - covariance.T).max(initial=0.0) > tolerance:
            raise DomainError("the covariance is not symmetric", argument=self.id, remedy=remedy)
        if np.linalg.eigvalsh(covariance).min(initial=0.0) < -tolerance:
            raise DomainError(
                "no values can have this covariance: a combination of them would have a negative variance",
                argument=self.id,
                remedy=remedy,
            )

    @property
    def facts(self) -> tuple[object, ...]:
        """What must agree wherever the id is used."""
        return (self.id, self.member_ids, self.values, self.covariance, self.shape, self.dof)

    def members(self, labels: Sequence[str] | None = None) -> tuple[Influence, ...]:
        """Return the members as influences, with these labels or labels made from the joint's."""
        names = labels or [f"{self.label}, {id_.rsplit('/', 1)[-1]}" for id_ in self.member_ids]
        return tuple(
            Influence(
                id=member_id,
                label=name,
                value=value,
                u=math.sqrt(self.covariance[k][k]),
                shape=self.shape,
                dof=self.dof,
                kind=self.kind,
                source=self.source,
                joint=self,
            )
            for k, (member_id, name, value) in enumerate(zip(self.member_ids, names, self.values, strict=True))
        )
