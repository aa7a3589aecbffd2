"""One uncertain input, and several that were obtained together."""

from __future__ import annotations

import math
import statistics
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assay.errors import DataError, DomainError
from assay.metrology.coverage import check_factor, coverage_factor
from assay.metrology.shapes import Shape, u_from_half_width


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
        Best value, in the unit of its quantity: the mean of its distribution.
    u : float
        Standard uncertainty, same unit, not negative: the standard deviation of its distribution.
    shape : str
        Name of the distribution; see `Shape`.
    dof : float
        Degrees of freedom of ``u``; infinite if ``u`` is taken as known.
    kind : str
        ``"A"`` if evaluated from repeated observations, else ``"B"``.
    source : str
        Where the value and its uncertainty come from.
    joint : Joint or None
        The joint that this influence is a member of.
    parameters : tuple of float
        What the shape needs besides; see `Shape`.

    Raises
    ------
    DomainError
        If a number is not finite, ``u`` is negative or ``dof`` is below 1.

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
    parameters: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Check the facts, and make the numbers plain floats, of which derivatives are taken."""
        for name in ("value", "u", "dof"):
            object.__setattr__(self, name, float(getattr(self, name)))
        object.__setattr__(self, "parameters", self.distribution.parameters)
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
        return (self.value, self.u, self.shape, self.parameters, self.dof, joint)

    @property
    def distribution(self) -> Shape:
        """Its distribution, moved and stretched to mean 0 and standard deviation 1."""
        return Shape(self.shape, self.parameters)

    def quantile(self, probability: float) -> float:
        """Return the value below which this share of its distribution lies."""
        return self.value + self.u * float(self.distribution.quantile(probability))

    @classmethod
    def within(
        cls,
        id: str,  # noqa: A002  (the field's name)
        *,
        label: str,
        value: float = 0.0,
        half_width: float,
        shape: str = "rectangular",
        parameters: tuple[float, ...] = (),
        source: str = "",
    ) -> Influence:
        """Return an influence known to lie within a half-width of its value: a tolerance, or half of a rounding step.

        Examples
        --------
        >>> round(Influence.within("a", label="a", half_width=0.05).u, 4)
        0.0289

        """
        if not (math.isfinite(half_width) and half_width >= 0.0):
            raise DomainError(
                "a half-width is finite and not negative", argument=f"half_width of {id}", given=half_width
            )
        u = u_from_half_width(half_width, shape, parameters)
        return cls(id=id, label=label, value=value, u=u, shape=shape, parameters=parameters, source=source)

    @classmethod
    def between(
        cls,
        id: str,  # noqa: A002
        *,
        label: str,
        low: float,
        high: float,
        shape: str = "rectangular",
        parameters: tuple[float, ...] = (),
        source: str = "",
    ) -> Influence:
        """Return an influence known to lie between two limits.

        Parameters
        ----------
        id, label, source : str
            As for `Influence`.
        low, high : float
            The limits, the lower first.
        shape, parameters
            A bounded shape: rectangular, triangular, arcsine or trapezoidal, about the middle; or ``"beta"`` with its
            exponents, which need not be symmetric.

        References
        ----------
        [jcgm-101-2008] 6.4.2 to 6.4.6.

        Examples
        --------
        >>> Influence.between("t", label="temperature", low=18.0, high=24.0).value
        21.0

        """
        _check_limits(low, high, f"low of {id}")
        if shape != "beta":
            middle, half = 0.5 * (low + high), 0.5 * (high - low)
            return cls.within(
                id, label=label, value=middle, half_width=half, shape=shape, parameters=parameters, source=source
            )
        drawn = Shape(shape, parameters)
        lowest, highest = float(drawn.quantile(0.0)), float(drawn.quantile(1.0))
        u = (high - low) / (highest - lowest)
        return cls(id=id, label=label, value=low - u * lowest, u=u, shape=shape, parameters=parameters, source=source)

    @classmethod
    def certified(
        cls,
        id: str,  # noqa: A002
        *,
        label: str,
        value: float,
        expanded: float,
        k: float | None = None,
        level: float | None = None,
        dof: float = math.inf,
        source: str = "",
    ) -> Influence:
        """Return an influence from a certificate: a value and an expanded uncertainty U.

        Parameters
        ----------
        id, label, source : str
            As for `Influence`.
        value, expanded : float
            The value and its U, in one unit.
        k : float, optional
            The coverage factor that the certificate states.
        level : float, optional
            Where it states a level of confidence instead: k is then the quantile of t at ``dof``.
        dof : float
            Degrees of freedom, if the certificate gives them.

        Raises
        ------
        DomainError
            If neither or both of ``k`` and ``level`` are given, or a number is out of its range.

        References
        ----------
        [jcgm-100-2008] 4.3.3 (a multiple of the standard deviation) and 4.3.4 (a level of confidence).

        Examples
        --------
        >>> Influence.certified("c", label="purity", value=0.9995, expanded=0.0004, k=2.0).u
        0.0002

        """
        if (k is None) == (level is None):
            raise DomainError(
                "an expanded uncertainty is a multiple k of u, or holds at a level of confidence",
                argument=f"k of {id}",
                given="neither" if k is None else "both",
                expected="k or level",
                remedy="Look for 'k =' on the certificate; where it says only '95 %', give level=0.95.",
            )
        factor = coverage_factor(level, dof) if level is not None else check_factor(k or 0.0)
        return cls(id=id, label=label, value=value, u=expanded / factor, dof=dof, source=source)

    @classmethod
    def rounded(cls, id: str, *, label: str, value: float = 0.0, step: float, source: str = "") -> Influence:  # noqa: A002
        """Return an influence from a resolution: a value shown in steps, so known to half a step.

        References
        ----------
        [jcgm-100-2008] F.2.2.1.

        Examples
        --------
        >>> round(Influence.rounded("r", label="display", step=0.01).u, 5)
        0.00289

        """
        return cls.within(id, label=label, value=value, half_width=0.5 * step, source=source)

    @classmethod
    def observed(cls, id: str, values: Sequence[float], *, label: str, source: str = "") -> Influence:  # noqa: A002
        """Return the mean of replicate observations: u = s/√n with n - 1 degrees of freedom.

        Raises
        ------
        DomainError
            If there are fewer than two.

        References
        ----------
        [jcgm-100-2008] 4.2.3.

        Examples
        --------
        >>> Influence.observed("o", [24.32, 24.36, 24.34], label="titre").dof
        2.0

        """
        if len(values) < 2:  # noqa: PLR2004
            raise DomainError(
                "a single observation says nothing about its scatter",
                argument=id,
                given=len(values),
                expected="two observations or more",
                remedy="Observe again, or state u and dof from your own records.",
            )
        mean, s = statistics.fmean(values), statistics.stdev(values)
        stated = source or f"n = {len(values)}, s = {s:.3g} (JCGM 100:2008, 4.2.3)"
        return cls(
            id=id, label=label, value=mean, u=s / math.sqrt(len(values)), dof=len(values) - 1.0, kind="A", source=stated
        )

    @classmethod
    def truncated(
        cls,
        id: str,  # noqa: A002
        *,
        label: str,
        value: float,
        u: float,
        low: float = -math.inf,
        high: float = math.inf,
        source: str = "",
    ) -> Influence:
        """Return a normal influence that cannot lie beyond its physical limits: a purity not above one.

        Parameters
        ----------
        id, label, source : str
            As for `Influence`.
        value, u : float
            Of the normal distribution before it is cut; the mean and the standard deviation of what is left become
            the influence's own.
        low, high : float
            The limits, the lower first; infinite for none.

        Examples
        --------
        >>> cut = Influence.truncated("p", label="purity", value=0.999, u=0.001, high=1.0)
        >>> round(cut.value, 5), round(cut.u, 5), cut.quantile(1.0) <= 1.0
        (0.99871, 0.00079, True)

        """
        _check_limits(low, high, f"low of {id}", infinite=True)
        if not (math.isfinite(u) and u > 0.0):
            raise DomainError("a truncated normal needs u above zero", argument=f"u of {id}", given=u)
        limits = ((low - value) / u, (high - value) / u)
        shape = Shape("truncated normal", limits)
        mean, deviation = shape.moments
        return cls(
            id=id, label=label, value=value + u * mean, u=u * deviation, shape=shape.name, parameters=limits,
            source=source,
        )  # fmt: skip

    @classmethod
    def log_normal(cls, id: str, *, label: str, median: float, factor: float, source: str = "") -> Influence:  # noqa: A002
        """Return a positive influence known to a factor: its logarithm is normal with standard deviation ln(factor).

        Parameters
        ----------
        id, label, source : str
            As for `Influence`.
        median : float
            The value that is as likely too large as too small, above zero.
        factor : float
            About two thirds of the distribution lie between median/factor and median x factor; above 1.

        Examples
        --------
        >>> a = Influence.log_normal("k", label="rate constant", median=2.0, factor=1.5)
        >>> round(a.quantile(0.5), 12), round(a.value, 3)
        (2.0, 2.171)

        """
        if not (math.isfinite(median) and median > 0.0 and math.isfinite(factor) and factor > 1.0):
            raise DomainError(
                "a log-normal needs a median above zero and a factor above one",
                argument=f"factor of {id}",
                given=f"median {median:g}, factor {factor:g}",
            )
        shape = Shape("log-normal", (math.log(factor),))
        mean, deviation = shape.moments
        return cls(
            id=id, label=label, value=median * mean, u=median * deviation, shape=shape.name,
            parameters=shape.parameters, source=source,
        )  # fmt: skip

    @classmethod
    def sampled(cls, id: str, values: Sequence[float], *, label: str, source: str = "") -> Influence:  # noqa: A002
        """Return an influence whose distribution is an empirical sample: each of these values is equally likely.

        It is not for replicates of one quantity, whose mean has s/√n: those are `observed`.

        Examples
        --------
        >>> Influence.sampled("e", [1.0, 1.0, 4.0], label="from a simulation").value
        2.0

        """
        shape = Shape("sample", tuple(sorted(values)))
        mean, deviation = shape.moments
        return cls(
            id=id, label=label, value=mean, u=deviation, shape=shape.name, parameters=shape.parameters, source=source
        )


def _check_limits(low: float, high: float, argument: str, *, infinite: bool = False) -> None:
    if not (low < high and (infinite or (math.isfinite(low) and math.isfinite(high)))):
        raise DomainError(
            "a range has a lower and a higher limit",
            argument=argument,
            given=f"{low:g} to {high:g}",
            expected="low < high" + ("" if infinite else ", both finite"),
        )


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
