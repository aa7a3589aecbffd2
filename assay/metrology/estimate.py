"""A measured number: value, uncertainty, and where both come from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

from assay.display.numbers import Interval, measured
from assay.errors import DomainError
from assay.flags import Flag, accept, merged
from assay.glossary import unit_of
from assay.kernels.value import Value
from assay.metrology import border
from assay.metrology.budget import Budget, budget_of, combined_dof, terms_of
from assay.metrology.closing import parts_closed
from assay.metrology.conformity import Conformity, conformity
from assay.metrology.coverage import check_factor, coverage_dof_of, coverage_factor
from assay.metrology.influence import Influence
from assay.metrology.monte_carlo import FIXED_TRIALS, MOST_TRIALS, MonteCarlo, Plan, propagated
from assay.metrology.order import in_order
from assay.metrology.probability import (
    Limit,
    SampledProbability,
    probability_above,
    probability_below,
    probability_between,
    sampled_probability,
)
from assay.metrology.validation import Validation, validated

if TYPE_CHECKING:
    import pint
    import uncertainties


Kernel: TypeAlias = Callable[..., Value]

_CHECK = "Check the readings: something is zero, of the wrong sign or much too large."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Estimate:
    """A measured number, evaluated when it is built and never changed.

    Build one with `evaluate`, `from_influence`, `exactly` or `combine`; the constructor is for those.

    Parameters
    ----------
    name : str
        Name of the quantity, from the glossary.
    label : str
        What a person calls this one.
    unit : str
        Unit of the value.
    value : float
        Best value.
    sensitivities : mapping of str to float
        Derivative of the value with respect to each influence, by influence id.
    influences : mapping of str to Influence
        The influences, by id.
    kernel : callable or None
        The formula; ``None`` for an input and for a result read from a file.
    positional : tuple
        Operands that the kernel takes by place: estimates and exact numbers.
    named : mapping
        Operands that it takes by name.
    flags : tuple of Flag
        Doubts about the data.
    reloaded : bool
        Whether it was read from a file, without its kernel.

    References
    ----------
    [jcgm-100-2008] 5.1.2 and 5.2.2 (u), G.4.1 (degrees of freedom); [jcgm-101-2008] 7 (Monte Carlo).

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("drum").strengths["drum 7"].in_basis("g/L available chlorine")
    <Estimate '2026-11-16 drum 7, g/L available chlorine': [titres-set-aside] 110.66 g/L, u = 0.45 g/L, dof =
    45.7>

    """

    name: str
    label: str
    unit: str
    value: float
    sensitivities: Mapping[str, float]
    influences: Mapping[str, Influence]
    kernel: Kernel | None = None
    positional: tuple[Operand, ...] = ()
    named: Mapping[str, Operand] = field(default_factory=dict)
    flags: tuple[Flag, ...] = ()
    reloaded: bool = False
    _u_and_dof: tuple[float, float] = field(init=False)

    def __post_init__(self) -> None:
        """Evaluate u and the degrees of freedom, and close the mappings."""
        object.__setattr__(self, "_u_and_dof", combined_dof(_terms(self.sensitivities, self.influences)))
        for name in ("sensitivities", "influences", "named"):
            object.__setattr__(self, name, MappingProxyType(getattr(self, name)))

    def __reduce__(self) -> tuple[Callable[..., Estimate], tuple[dict[str, object]]]:
        """Pickle everything but the kernel and its operands, as a saved file does."""
        kept = {name: getattr(self, name) for name in ("name", "label", "unit", "value", "flags")}
        mappings = {"sensitivities": dict(self.sensitivities), "influences": dict(self.influences)}
        is_input = self.kernel is None and not self.reloaded
        return _unpickled, ({**kept, **mappings, "reloaded": not is_input},)

    def __copy__(self) -> Estimate:
        """Return the same object: nothing of it can change."""
        return self

    def __deepcopy__(self, memo: dict[int, object]) -> Estimate:
        """Return the same object: nothing of it can change."""
        return self

    @property
    def u(self) -> float:
        """Standard uncertainty, in the unit of the value (JCGM 100:2008, 5.1.2 and 5.2.2)."""
        return self._u_and_dof[0]

    @property
    def dof(self) -> float:
        """Effective degrees of freedom, Welch-Satterthwaite (JCGM 100:2008, G.4.1); infinite if u is taken as known."""
        return self._u_and_dof[1]

    @property
    def coverage_dof(self) -> float:
        """Degrees of freedom of the t by which intervals and probabilities are stated; `dof` or fewer.

        They are `dof` where all of u was estimated from few observations, and where none of it was. Where few
        replicates stand beside what is known, the formula of the guide states intervals that are too short; the reason
        and the figures stand in `coverage_dof_from_shares` of ``assay.metrology.coverage``.
        """
        return coverage_dof_of(_terms(self.sensitivities, self.influences), self.dof)

    @property
    def relative_u(self) -> float:
        """Standard uncertainty over the magnitude of the value; infinite for a value of zero."""
        return self.u / abs(self.value) if self.value else math.inf

    @property
    def intermediates(self) -> Mapping[str, Estimate]:
        """The measured operands from which this was computed, by parameter name."""
        found = {f"{k + 1}": operand for k, operand in enumerate(self.positional) if isinstance(operand, Estimate)}
        found |= {name: operand for name, operand in self.named.items() if isinstance(operand, Estimate)}
        return MappingProxyType(found)

    def budget(self, *, depth: int | None = None, closed: Sequence[str] = ()) -> Budget:
        """Return the uncertainty budget, largest contribution first; the squares of its lines add to u squared.

        Parameters
        ----------
        depth : int, optional
            Show what lies so many steps before the result as one line each, instead of every influence. What two of
            the lines share stands as a line of its own.
        closed : sequence of str
            Show these parts as one line each: labels, or names of quantities such as ``"titrant_concentration"``.

        """
        parts, opened = parts_closed(self, depth=depth, closed=closed)
        return budget_of(self, closed=parts, opened=opened)

    def coverage_factor(self, level: float = 0.95) -> float:
        """Return k for a level of confidence: the quantile of t (JCGM 100:2008, G.3.2) at `coverage_dof`."""
        return coverage_factor(level, self.coverage_dof)

    def expanded(self, level: float = 0.95, *, k: float | None = None) -> float:
        """Return the expanded uncertainty U = k u, with k for a level of confidence or with a k that is given."""
        return self.u * (self.coverage_factor(level) if k is None else check_factor(k))

    def interval(self, level: float = 0.95) -> Interval:
        """Return the interval value ± U at a level of confidence, by t at `coverage_dof`.

        In the coverage study (960 kinds of simulated laboratories that standardise and assay with class A or B glass, 2
        to 6 titres each; ``tests/studies/results/coverage.txt``) a stated 95 % held the truth in 94.6 to 99.95 % of the
        runs of every kind, with a mean width of 1.0 to 3.6 times that of an oracle who knows the repeatability; above
        98 % where the glass is better than its limit, or titres scatter by little. The interval of JCGM 101
        (``monte_carlo(few_replicates="scaled t")``) held it in 92 to 100 % of 500 runs, with 1.0 to 8.9 times the
        oracle's width.
        """
        half = self.expanded(level)
        return Interval(self.value - half, self.value + half, level)

    def monte_carlo(
        self,
        *,
        trials: int | None = None,
        digits: int | None = None,
        seed: int = 1,
        level: float = 0.95,
        few_replicates: str = "plug-in",
        block: int = 16_384,
        threads: int = 1,
    ) -> MonteCarlo:
        """Return the propagation of distributions through the same kernels (JCGM 101:2008, clause 7).

        Parameters
        ----------
        trials : int, optional
            Number of trials, 100 or more; a million if not given. With ``digits``, the most that may be run; ten
            million if not given. Some two million are kept; more are counted on a fine grid, in constant memory.
        digits : int, optional
            Run until value, u and both ends are stable to half a unit of the last of so many significant digits of u,
            1 to 6 (JCGM 101:2008, 7.9). A run that is not stable after ``trials`` has a flag.
        seed : int
            Seed; each influence draws from its own stream made of the seed and its id.
        level : float
            Coverage probability of the intervals, between 0 and 1.
        few_replicates : str
            ``"plug-in"`` draws an influence with few degrees of freedom from a normal with the linear u, so that a
            difference from the linear result means non-linearity. ``"scaled t"`` draws it from the scaled and shifted
            t of JCGM 101:2008, 6.4.9, which shows what few replicates cost; it has no standard deviation below 3
            degrees of freedom, and then only the intervals are given.
        block : int
            Trials for which the kernels are evaluated at once, 16 384 at the most; changes speed and memory, never the
            numbers.
        threads : int
            Threads that draw and evaluate; changes speed, never the numbers.

        Raises
        ------
        DomainError
            If an option is out of range, or a trial has no value at all.

        Examples
        --------
        >>> from assay.metrology.evaluation import combine
        >>> x = Estimate.from_influence(Influence(id="x", label="x", value=2.0, u=0.1), name="value")
        >>> run = combine(lambda v: 2.0 * v, x, label="twice x").monte_carlo(digits=1)
        >>> round(run.u, 2), round(run.coverage_factor, 1), run.tolerance
        (0.2, 2.0, 0.05)

        """
        plan = Plan(
            trials=trials,
            digits=digits,
            seed=seed,
            level=level,
            few_replicates=few_replicates,
            block=block,
            threads=threads,
        )
        return propagated(self, plan)

    def validate(
        self, *, digits: int = 2, level: float = 0.95, trials: int = MOST_TRIALS, seed: int = 1, threads: int = 1
    ) -> Validation:
        """Return whether the linear interval states what sampling the formula gives (JCGM 101:2008, clause 8).

        Parameters
        ----------
        digits : int
            Significant digits of u that are meant to be right, 1 to 6; two are what this library shows.
        level : float
            Level of confidence of both intervals, between 0 and 1.
        trials : int
            The most that may be run. The run ends when it is stable to a fifth of half a unit of the last digit, or
            when the verdict is clear.
        seed, threads : int
            As for `monte_carlo`.

        Raises
        ------
        DomainError
            If an option is out of range, or a trial has no value at all.

        Examples
        --------
        >>> from assay.metrology.evaluation import combine
        >>> x = Estimate.from_influence(Influence(id="x", label="x", value=2.0, u=0.1), name="value")
        >>> combine(lambda v: 3.0 * v, x).validate().validated
        True
        >>> [flag.code for flag in combine(lambda v: (v - 2.0) ** 2, x).validate().flags]
        ['linear-differs', 'linear-not-validated']

        """
        plan = Plan(trials=trials, level=level, seed=seed, threads=threads)
        return validated(self, digits=digits, plan=plan)

    def probability_below(self, limit: Limit) -> float:
        """Return the probability of a true value below a limit, by t at `coverage_dof`; 0 or 1 without any uncertainty.

        Parameters
        ----------
        limit : str, pint.Quantity or float
            In any unit of the quantity, ``"80 g/L"``; a plain number for a result that is one.

        Raises
        ------
        UnitError
            If the unit is missing or of another dimension.

        References
        ----------
        [jcgm-106-2012] 7.3, cited from memory.

        """
        return probability_below(self, limit)

    def probability_above(self, limit: Limit) -> float:
        """Return the probability of a true value above a limit; see `probability_below`."""
        return probability_above(self, limit)

    def probability_between(self, lower: Limit, upper: Limit) -> float:
        """Return the probability of a true value from one limit to another; see `probability_below`."""
        return probability_between(self, lower, upper)

    def sampled_probability(
        self,
        lower: Limit | None = None,
        upper: Limit | None = None,
        *,
        trials: int = FIXED_TRIALS,
        seed: int = 1,
        few_replicates: str = "scaled t",
        threads: int = 1,
    ) -> SampledProbability:
        """Return the probability of a true value within limits by Monte Carlo, for a formula that is bent.

        Parameters
        ----------
        lower, upper : str, pint.Quantity or float, optional
            The limits, of which one may be left out.
        trials, seed, few_replicates, threads
            As for `monte_carlo`; what few replicates cost is drawn unless it is asked otherwise.

        """
        return sampled_probability(self, lower, upper, trials, seed, few_replicates, threads)

    def conformity(
        self,
        *,
        lower: Limit | None = None,
        upper: Limit | None = None,
        risk: float | None = None,
        guard_factor: float | None = None,
        guard_band: Limit | None = None,
        level: float = 0.95,
    ) -> Conformity:
        """Return whether the result is fit, unfit or undecided by a lower, an upper, or both specification limits.

        Parameters
        ----------
        lower, upper : str, pint.Quantity or float, optional
            The specification limits, which belong to what conforms.
        risk : float, optional
            Most specific risk of a wrong decision, more than 0, at most 0.5: of accepting what does not conform, and
            of rejecting what does. 0.05 if no rule is given.
        guard_factor : float, optional
            Instead: guard band as a multiple of U; 0 is simple acceptance.
        guard_band : str, pint.Quantity or float, optional
            Instead: width of the guard band.
        level : float
            Level of confidence of the U that ``guard_factor`` multiplies.

        Raises
        ------
        DataError
            If there is no limit, or there are several rules.
        DomainError
            If the lower limit is not below the upper one, or the rule is out of range.
        UnitError
            If the unit of a limit is missing or of another dimension.
        BlockedResultError
            If the result carries a blocking flag that was not accepted.

        References
        ----------
        [jcgm-106-2012] 8.2 (simple acceptance) and 8.3 (guard bands), cited from memory.

        Examples
        --------
        >>> x = Estimate.from_influence(Influence(id="x", label="x", value=2.0, u=0.1), name="value")
        >>> x.conformity(upper=2.2), x.conformity(upper=2.1).decision
        (<Conformity 'x': fit (2.00, u = 0.10, dof = ∞; conforms with probability 0.977)>, 'undecided')

        """
        return conformity(
            self,
            lower=lower,
            upper=upper,
            risk=risk,
            guard_factor=guard_factor,
            guard_band=guard_band,
            level=level,
        )

    @property
    def ufloat(self) -> uncertainties.UFloat:
        """The number as an `uncertainties` object, correlated with all results that share an influence."""
        return border.ufloat_of(self.value, self.sensitivities, self.influences)

    @property
    def quantity(self) -> pint.Quantity[uncertainties.UFloat]:
        """The number as a pint quantity whose magnitude is `ufloat`."""
        from assay.units import quantity

        return quantity(self.ufloat, self.unit)

    def accepting(self, code: str, *, because: str) -> Estimate:
        """Return the same result with a flag accepted by name, the reason recorded."""
        return replace(self, flags=accept(self.flags, code, because=because))

    def flagged(self, *flags: Flag) -> Estimate:
        """Return the same result with further flags."""
        return replace(self, flags=merged([self.flags, flags]))

    def walk(self) -> Iterator[Estimate]:
        """Return every result that this one is computed from, operands before results, this one last."""
        return in_order([self], Estimate.measured_operands)

    def measured_operands(self) -> Iterator[Estimate]:
        """Yield the operands that are estimates, in order."""
        for operand in (*self.positional, *self.named.values()):
            if isinstance(operand, Estimate):
                yield operand

    def __repr__(self) -> str:
        return measured(self, kind="Estimate")

    def __str__(self) -> str:
        return f"{self.label}: {measured(self)}"

    @classmethod
    def from_influence(cls, influence: Influence, *, name: str) -> Estimate:
        """Return the estimate of a single influence, which is also how a quantity of your own enters `combine`.

        Parameters
        ----------
        influence : Influence
            The input.
        name : str
            Name of the quantity, from the glossary, which gives the unit; ``"value"`` for one of your own.

        Raises
        ------
        DataError
            If the glossary has no such name.

        """
        return cls(
            name=name,
            label=influence.label,
            unit=unit_of(name),
            value=influence.value,
            sensitivities={influence.id: 1.0},
            influences={influence.id: influence},
        )

    @classmethod
    def from_ufloat(cls, number: uncertainties.UFloat, *, label: str, unit: str = "1") -> Estimate:
        """Return a number of the `uncertainties` package as an estimate, its correlations kept.

        Parameters
        ----------
        number : UFloat
            The number, in ``unit``. Numbers that share a variable stay correlated, and one that was computed from
            `ufloat` of a result of this library shares its influences. Degrees of freedom of variables from elsewhere
            are taken as infinite, for `uncertainties` has none.
        label, unit : str
            What a person calls it, and its unit as text.

        Raises
        ------
        DomainError
            If it is no ufloat, or not finite.

        Examples
        --------
        >>> from assay.metrology.evaluation import combine
        >>> from uncertainties import ufloat
        >>> x = ufloat(2.0, 0.1, tag="x")
        >>> a, b = Estimate.from_ufloat(x, label="a"), Estimate.from_ufloat(3 * x, label="b")
        >>> combine(lambda p, q: q / p, a, b).u
        0.0

        """
        value, sensitivities, influences = border.parts_of(number, label)
        if not math.isfinite(value):
            raise DomainError("the value is not finite", argument=label, given=value)
        return cls(
            name="value", label=label, unit=unit, value=value, sensitivities=sensitivities, influences=influences
        )

    @classmethod
    def exactly(cls, value: float, *, name: str, label: str) -> Estimate:
        """Return a number without uncertainty: a count, or a definition."""
        if not math.isfinite(value):
            raise DomainError("the value is not finite", argument=label, given=value)
        return cls(name=name, label=label, unit=unit_of(name), value=float(value), sensitivities={}, influences={})


def _unpickled(fields: dict[str, Any]) -> Estimate:
    return Estimate(**fields)


Operand: TypeAlias = Estimate | float | tuple[int, ...]


def _terms(sensitivities: Mapping[str, float], influences: Mapping[str, Influence]) -> list[tuple[float, float]]:
    """Return contribution and degrees of freedom of each term of the Welch-Satterthwaite formula."""
    return [(contribution, dof) for contribution, dof, _ in terms_of(sensitivities, influences)]
