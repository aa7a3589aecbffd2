"""One uncertain input, and several that were obtained together."""

from __future__ import annotations

import math
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assay.errors import DataError, DomainError
from assay.metrology.shapes import shape_named, u_from_half_width


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """One uncertain input of a measurement.

    The same physical cause is the same influence: two results that used one burette share its influences, and so are
    correlated, because the ids are equal.

    Parameters
    ----------
    id : str
        A path made from what the thing is, such as ``lot/potassium iodate/A17/purity``.
    label : str
        What a person calls it.
    value : float
        Best value, in the unit of its quantity.
    u : float
        Standard uncertainty, same unit, not negative.
    shape : str
        ``"normal"``, ``"rectangular"`` or ``"triangular"``.
    dof : float
        Degrees of freedom of ``u``; infinite if ``u`` is taken as known.
    kind : str
        ``"A"`` if evaluated from repeated observations, else ``"B"``.
    source : str
        Where the value and its uncertainty come from.
    joint : Joint or None
        The joint that this influence is a member of.

    Raises
    ------
    DomainError
        If a number is not finite, ``u`` is negative or ``dof`` is below 1.

    References
    ----------
    [jcgm-100-2008] 4.2 and 4.3: types A and B, shapes and their standard uncertainties.

    Examples
    --------
    >>> Influence(id="lot/KHP/0415/purity", label="purity", value=0.9995, u=0.0003).dof
    inf

    """

    id: str
    label: str
    value: float
    u: float
    shape: str = "normal"
    dof: float = math.inf
    kind: str = "B"
    source: str = ""
    joint: Joint | None = None

    def __post_init__(self) -> None:
        """Check the facts, and make the numbers plain floats, of which derivatives are taken."""
        for name in ("value", "u", "dof"):
            object.__setattr__(self, name, float(getattr(self, name)))
        shape_named(self.shape)
        if not math.isfinite(self.value):
            raise DomainError("an influence needs a finite value", argument=self.id, given=self.value)
        if not (math.isfinite(self.u) and self.u >= 0.0):
            raise DomainError(
                "a standard uncertainty is finite and not negative", argument=f"u of {self.id}", given=self.u
            )
        if not self.dof >= 1.0:
            raise DomainError("degrees of freedom are 1 or more", argument=f"dof of {self.id}", given=self.dof)

    @property
    def facts(self) -> tuple[object, ...]:
        """What must agree wherever the id is used: value, u, shape, dof and the joint."""
        joint = self.joint.facts if self.joint is not None else None
        return (self.value, self.u, self.shape, self.dof, joint)

    @classmethod
    def within(
        cls,
        id: str,  # noqa: A002  (the field's name)
        *,
        label: str,
        value: float = 0.0,
        half_width: float,
        shape: str = "rectangular",
        source: str = "",
    ) -> Influence:
        """Return an influence known to lie within a half-width of its value: a tolerance, a range, a rounding step.

        Examples
        --------
        >>> round(Influence.within("a", label="a", half_width=0.05).u, 4)
        0.0289

        """
        if not (math.isfinite(half_width) and half_width >= 0.0):
            raise DomainError(
                "a half-width is finite and not negative", argument=f"half_width of {id}", given=half_width
            )
        return cls(id=id, label=label, value=value, u=u_from_half_width(half_width, shape), shape=shape, source=source)


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


def fresh_id(kind: str) -> str:
    """Return an id that nothing else has: for a thing without a name, which cannot be recognised again."""
    return f"{kind}/unnamed-{uuid.uuid4().hex[:12]}"


def path_part(text: str, *, argument: str) -> str:
    """Return a name as one part of an id, without surrounding space.

    Raises
    ------
    DataError
        If it is empty or contains a slash or a line break.

    """
    part = text.strip()
    if not part or "/" in part or "\n" in part:
        raise DataError(
            "a name is one or more characters without a slash or a line break",
            argument=argument,
            given=text,
            remedy="Write a plain name such as 'B1'.",
        )
    return part


def same_facts(known: Influence, other: Influence) -> None:
    """Raise `DataError` if one id stands for two different sets of facts.

    Raises
    ------
    DataError
        Naming the id and both sets of facts.

    """
    if known is other or known.facts == other.facts:
        return
    described = [
        f"value {i.value:.9g}, u {i.u:.6g}, {i.shape}, {i.dof:g} degrees of freedom ({i.label or 'no label'})"
        for i in (known, other)
    ]
    raise DataError(
        f"two different influences have this id: {described[0]}; and {described[1]}.",
        argument="id",
        given=known.id,
        remedy="Use one description everywhere; after a recalibration put its date into the name.",
    )


def same_joint(known: Joint, other: Joint) -> Joint:
    """Return the joint, or raise `DataError` if one id stands for two different joints.

    Raises
    ------
    DataError
        Naming the id and both labels.

    """
    if known is not other and known.facts != other.facts:
        described = [
            f"{j.label or 'no label'}, {len(j.member_ids)} members, {j.source or 'no source'}" for j in (known, other)
        ]
        raise DataError(
            f"two different joints have this id: {described[0]}; and {described[1]}.",
            argument="id",
            given=known.id,
            remedy="Use one description everywhere; after a recalibration put its date into the name.",
        )
    return known


def shared_influences(groups: Iterable[Mapping[str, Influence]]) -> dict[str, Influence]:
    """Return all influences of several results by id.

    Raises
    ------
    DataError
        If an id stands for two sets of facts.

    """
    found: dict[str, Influence] = {}
    joints: dict[str, Joint] = {}
    for group in groups:
        for id_, influence in group.items():
            same_facts(found.setdefault(id_, influence), influence)
            if influence.joint is not None:
                same_joint(joints.setdefault(influence.joint.id, influence.joint), influence.joint)
    return found
