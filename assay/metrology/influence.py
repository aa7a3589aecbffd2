"""One uncertain input."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assay.errors import DomainError
from assay.metrology.coverage import check_factor, coverage_factor
from assay.metrology.plain import check_dof, check_limits, extent, plain, plain_values
from assay.metrology.shapes import Shape, u_from_half_width

if TYPE_CHECKING:
    from assay.metrology.joint import Joint


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
        Name of the distribution: ``"normal"``, ``"rectangular"``, ``"triangular"``, ``"arcsine"``, or with
        ``parameters`` ``"trapezoidal"``, ``"t"``, ``"truncated normal"``, ``"log-normal"``, ``"beta"``, ``"sample"``.
    dof : float
        Degrees of freedom of ``u``; infinite if ``u`` is taken as known.
    kind : str
        ``"A"`` if evaluated from repeated observations, else ``"B"``.
    source : str
        Where the value and its uncertainty come from.
    joint : Joint or None
        The joint that this influence is a member of.
    parameters : tuple of float
        What the shape needs besides: the length of the top over that of the base of a trapezoid, the degrees of freedom
        of a t, above 2, the two exponents of a beta; those of the others are set by `truncated`, `log_normal` and
        `sampled`.

    Raises
    ------
    DataError
        If there is no such shape.
    DomainError
        If a number is not finite, ``u`` is negative, ``dof`` is below 1 or the parameters are not those of the shape.

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
    parameters: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Check the facts, and make the numbers plain floats, of which derivatives are taken."""
        for name in ("value", "u", "dof"):
            given = getattr(self, name)
            if type(given) is not float:
                object.__setattr__(self, name, plain(given, argument=f"{name} of {self.id}"))
        object.__setattr__(self, "parameters", self.distribution.parameters)
        if not math.isfinite(self.value):
            raise DomainError("an influence needs a finite value", argument=self.id, given=self.value)
        if not (math.isfinite(self.u) and self.u >= 0.0):
            raise DomainError(
                "a standard uncertainty is finite and not negative", argument=f"u of {self.id}", given=self.u
            )
        check_dof(self.dof, self.id)

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
        """Return the value below which this share of its distribution lies, 0 to 1."""
        if not 0.0 <= plain(probability, argument="probability") <= 1.0:
            raise DomainError("a share is 0 to 1", argument="probability", given=probability)
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
        half_width = extent("half_width", half_width, id)
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
        id, label : str
            As for `Influence`.
        low, high : float
            The limits, the lower first.
        shape, parameters
            A bounded shape: rectangular, triangular, arcsine or trapezoidal, about the middle; or ``"beta"`` with its
            exponents, which need not be symmetric.
        source : str
            Where it is known from.

        References
        ----------
        [jcgm-101-2008] 6.4.2 to 6.4.6.

        Examples
        --------
        >>> Influence.between("t", label="temperature", low=18.0, high=24.0).value
        21.0

        """
        check_limits(low, high, f"low of {id}")
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
        id, label : str
            As for `Influence`.
        value, expanded : float
            The value and its U, in one unit.
        k : float, optional
            The coverage factor that the certificate states.
        level : float, optional
            Where it states a level of confidence instead: k is then the quantile of t at ``dof``.
        dof : float
            Degrees of freedom, if the certificate gives them.
        source : str
            Where it is known from.

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
        expanded, dof = extent("expanded", expanded, id), check_dof(plain(dof, argument=f"dof of {id}"), id)
        factor = coverage_factor(level, dof) if level is not None else check_factor(0.0 if k is None else k)
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
        return cls.within(id, label=label, value=value, half_width=0.5 * extent("step", step, id), source=source)

    @classmethod
    def observed(cls, id: str, values: Sequence[float], *, label: str, source: str = "") -> Influence:  # noqa: A002
        """Return the mean of replicate observations: u = s/√n with n - 1 degrees of freedom.

        Observations that are all alike have u = 0; their resolution is an influence of its own, `rounded`.

        Raises
        ------
        DomainError
            If there are fewer than two, or one is not finite.

        References
        ----------
        [jcgm-100-2008] 4.2.3.

        Examples
        --------
        >>> Influence.observed("o", [24.32, 24.36, 24.34], label="titre").dof
        2.0

        """
        values = plain_values(values, argument=id)
        if len(values) < 2:  # noqa: PLR2004
            raise DomainError(
                f"{'a single observation says' if values else 'no observation says'} nothing about its scatter",
                argument=f"values of {id}",
                given=values,
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
        id, label : str
            As for `Influence`.
        value, u : float
            Of the normal distribution before it is cut; the mean and the standard deviation of what is left become
            the influence's own.
        low, high : float
            The limits, the lower first; infinite for none.
        source : str
            Where it is known from.

        Examples
        --------
        >>> cut = Influence.truncated("p", label="purity", value=0.999, u=0.001, high=1.0)
        >>> round(cut.value, 5), round(cut.u, 5), cut.quantile(1.0) <= 1.0
        (0.99871, 0.00079, True)

        """
        check_limits(low, high, f"low of {id}", infinite=True)
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
        id, label : str
            As for `Influence`.
        median : float
            The value that is as likely too large as too small, above zero.
        factor : float
            About two thirds of the distribution lie between median/factor and median x factor; above 1.
        source : str
            Where it is known from.

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
        ordered = sorted(plain_values(values, argument=id))
        if not ordered or ordered[0] == ordered[-1]:
            raise DomainError(
                "these values have no spread",
                argument=f"values of {id}",
                given=ordered[:3],
                expected="two values or more, not all the same",
            )
        shape = Shape("sample", tuple(ordered))
        mean, deviation = shape.moments
        return cls(
            id=id, label=label, value=mean, u=deviation, shape=shape.name, parameters=shape.parameters, source=source
        )
