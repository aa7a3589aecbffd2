"""A measured number: value, uncertainty, and where both come from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from numbers import Real
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from assay.display.numbers import Interval, measured
from assay.errors import DomainError
from assay.flags import Flag, accept, merged
from assay.glossary import TERMS
from assay.kernels.ranges import ranges_of
from assay.kernels.value import Value
from assay.metrology import border
from assay.metrology.budget import Budget, budget_of, terms_of
from assay.metrology.coverage import coverage_factor
from assay.metrology.influence import Influence, same_facts
from assay.metrology.monte_carlo import MonteCarlo, propagated
from assay.metrology.tape import gradient

if TYPE_CHECKING:
    import pint
    import uncertainties


Kernel: TypeAlias = Callable[..., Value]


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
    <Estimate '2026-11-16 drum 7, g/L available chlorine': [titres-set-aside] 110.66 g/L, u = 0.35 g/L, dof =
    12.7>

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
        object.__setattr__(self, "_u_and_dof", _u_and_dof(self.sensitivities, self.influences))
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
    def relative_u(self) -> float:
        """Standard uncertainty over the magnitude of the value; infinite for a value of zero."""
        return self.u / abs(self.value) if self.value else math.inf

    @property
    def intermediates(self) -> Mapping[str, Estimate]:
        """The measured operands from which this was computed, by parameter name."""
        found = {f"{k + 1}": operand for k, operand in enumerate(self.positional) if isinstance(operand, Estimate)}
        found |= {name: operand for name, operand in self.named.items() if isinstance(operand, Estimate)}
        return MappingProxyType(found)

    def budget(self) -> Budget:
        """Return the uncertainty budget, largest contribution first; the squares of its lines add to u squared."""
        return budget_of(
            self.sensitivities, self.influences, title=self.label, value=self.value, u=self.u, unit=self.unit
        )

    def coverage_factor(self, level: float = 0.95) -> float:
        """Return k for a level of confidence: the quantile of t at `dof` (JCGM 100:2008, G.3.2)."""
        return coverage_factor(level, self.dof)

    def expanded(self, level: float = 0.95) -> float:
        """Return the expanded uncertainty U = k u at a level of confidence."""
        return self.coverage_factor(level) * self.u

    def interval(self, level: float = 0.95) -> Interval:
        """Return the interval value ± U at a level of confidence, by t."""
        half = self.expanded(level)
        return Interval(self.value - half, self.value + half, level)

    def monte_carlo(
        self,
        *,
        trials: int = 1_000_000,
        seed: int = 1,
        level: float = 0.95,
        few_replicates: str = "plug-in",
        block: int = 16_384,
    ) -> MonteCarlo:
        """Return the propagation of distributions through the same kernels (JCGM 101:2008, clause 7).

        Parameters
        ----------
        trials : int
            Number of trials, 100 or more.
        seed : int
            Seed; each influence draws from its own stream made of the seed and its id.
        level : float
            Coverage probability of the interval, between 0 and 1.
        few_replicates : str
            ``"plug-in"`` draws an influence with few degrees of freedom from a normal with the linear u, so that a
            difference from the linear result means non-linearity. ``"scaled t"`` draws it from the scaled and shifted
            t of JCGM 101:2008, 6.4.9, which shows what few replicates cost; it has no standard deviation below 3
            degrees of freedom, and then only the interval is given.
        block : int
            Trials held at once; changes speed and memory, never the numbers.

        """
        return propagated(self, trials=trials, seed=seed, level=level, few_replicates=few_replicates, block=block)

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
        """Yield every result that this one is computed from, operands before results, this one last."""
        seen: set[int] = set()
        stack: list[tuple[Estimate, bool]] = [(self, False)]
        while stack:
            node, ready = stack.pop()
            if ready:
                yield node
            elif id(node) not in seen:
                seen.add(id(node))
                stack.append((node, True))
                stack.extend((operand, False) for operand in node.measured_operands())

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
        """Return the estimate of a single influence."""
        return cls(
            name=name,
            label=influence.label,
            unit=TERMS[name].unit,
            value=influence.value,
            sensitivities={influence.id: 1.0},
            influences={influence.id: influence},
        )

    @classmethod
    def exactly(cls, value: float, *, name: str, label: str) -> Estimate:
        """Return a number without uncertainty: a count, or a definition."""
        if not math.isfinite(value):
            raise DomainError("the value is not finite", argument=label, given=value)
        return cls(name=name, label=label, unit=TERMS[name].unit, value=float(value), sensitivities={}, influences={})


def _unpickled(fields: dict[str, Any]) -> Estimate:
    return Estimate(**fields)


Operand: TypeAlias = Estimate | float | tuple[int, ...]


def evaluate(
    kernel: Kernel,
    *positional: Operand,
    name: str,
    label: str,
    flags: tuple[Flag, ...] = (),
    unit: str | None = None,
    **named: Operand,
) -> Estimate:
    """Return the result of a kernel: its value and its sensitivity to every influence of its operands.

    Parameters
    ----------
    kernel : callable
        The formula.
    *positional, **named
        Its operands: estimates, or exact numbers.
    name : str
        Name of the result, from the glossary.
    label : str
        What a person calls the result.
    flags : tuple of Flag
        Flags of this step; those of the operands are kept too.
    unit : str, optional
        Unit of the result, where the glossary leaves it open.

    Returns
    -------
    Estimate
        The result.

    Raises
    ------
    DomainError
        If an operand lies outside the range stated beside the kernel, or the result is not finite.
    DataError
        If one influence id stands for two sets of facts.

    """
    _check_ranges(kernel, named)
    value, partials = _differentiated(kernel, positional, named, label)
    sensitivities: dict[str, float] = {}
    influences: dict[str, Influence] = {}
    operands: list[tuple[int | str, Operand]] = [*enumerate(positional), *named.items()]
    for key, operand in operands:
        if isinstance(operand, Estimate):
            _add_chain(_finite_slope(partials[key], operand, label), operand, sensitivities, influences)
    return Estimate(
        name=name,
        label=label,
        unit=TERMS[name].unit if unit is None else unit,
        value=value,
        sensitivities=sensitivities,
        influences=influences,
        kernel=kernel,
        positional=positional,
        named=named,
        flags=merged([*(o.flags for _, o in operands if isinstance(o, Estimate)), flags]),
    )


def combine(function: Kernel, *results: Estimate | float, label: str = "combined result", unit: str = "1") -> Estimate:
    """Return the result of a function of your own, with budget, correlation and degrees of freedom.

    Parameters
    ----------
    function : callable
        Any function of arithmetic operators and numpy functions; it is given plain values in the order of ``results``.
    *results : Estimate or float
        The results it takes. Ones that share a titrant or an instrument are correlated, and that is accounted for.
    label : str
        What a person calls the result.
    unit : str
        Its unit, as text; the function is trusted to give it.

    Returns
    -------
    Estimate
        The result, named ``value``.

    Raises
    ------
    DomainError
        If the function branches on a value or uses the math module.

    References
    ----------
    [jcgm-100-2008] 5.1.2 and 5.2.2, with the derivatives of the function as sensitivities.

    Examples
    --------
    >>> from assay.metrology.influence import Influence
    >>> a = Estimate.from_influence(Influence(id="a", label="a", value=2.0, u=0.1), name="value")
    >>> combine(lambda x, y: x / y, a, a).u
    0.0

    """
    operands = [result if isinstance(result, Estimate) else _exact(result) for result in results]
    return evaluate(function, *operands, name="value", label=label, unit=unit)


def _plain(operand: Operand) -> Value:
    return operand.value if isinstance(operand, Estimate) else operand


def _exact(number: object) -> float:
    if not isinstance(number, Real):
        raise DomainError(
            f"{type(number).__name__} is neither an estimate nor a plain number",
            argument="results",
            given=str(number),
            remedy="Give the estimate of the result, or a number in the unit that the function expects.",
        )
    return float(number)


def _differentiated(
    kernel: Kernel, positional: Sequence[Operand], named: Mapping[str, Operand], label: str
) -> tuple[float, Mapping[int | str, Value]]:
    try:
        with np.errstate(all="ignore"):  # what has no value is told below, in words
            value, partials = gradient(
                kernel, [_plain(x) for x in positional], {k: _plain(x) for k, x in named.items()}
            )
    except (ZeroDivisionError, OverflowError) as error:
        value, partials = math.nan, {}
        problem = str(error)
    else:
        value = _one_number(value, label)
        problem = f"the result is {value}"
    if not math.isfinite(value):
        raise DomainError(
            problem,
            argument=label,
            remedy="Check the readings: something is zero, of the wrong sign or much too large.",
        )
    return value, partials


def _one_number(value: Value, label: str) -> float:
    if isinstance(value, complex):  # a negative number to a broken power
        return math.nan
    if isinstance(value, np.ndarray) and value.ndim == 0:
        value = value.item()
    if isinstance(value, Real):
        return float(value)
    raise DomainError(
        f"the function returns {type(value).__name__}, not one number",
        argument=label,
        remedy="Return one number; combine once for each result that is wanted.",
    )


def _finite_slope(slope: Value, operand: Estimate, label: str) -> float:
    plain = float(slope)
    if not math.isfinite(plain):
        raise DomainError(
            f"the formula has no slope where {operand.label} is {operand.value:g}, so that u would have no meaning",
            argument=label,
            remedy="Rewrite the formula without the kink (a root or an absolute value of zero), or check the reading.",
        )
    return plain


def _check_ranges(kernel: Kernel, named: Mapping[str, Operand]) -> None:
    for parameter, (low, high) in ranges_of(kernel).items():
        if parameter in named:
            operand = named[parameter]
            value = _plain(operand)
            if not low <= value <= high:
                label = operand.label if isinstance(operand, Estimate) else parameter
                limits = "above zero" if low > 0.0 and math.isinf(high) else f"from {low:g} to {high:g}"
                raise DomainError(
                    "the value lies outside the range in which the formula holds",
                    argument=label,
                    given=value,
                    expected=f"{limits} {TERMS[parameter].unit}".rstrip("1").rstrip(),
                    remedy="Check the reading and its unit.",
                )


def _add_chain(
    slope: float, operand: Estimate, sensitivities: dict[str, float], influences: dict[str, Influence]
) -> None:
    for id_, sensitivity in operand.sensitivities.items():
        if id_ in influences:
            same_facts(influences[id_], operand.influences[id_])
            sensitivities[id_] += slope * sensitivity
        else:
            influences[id_] = operand.influences[id_]
            sensitivities[id_] = slope * sensitivity


def _u_and_dof(sensitivities: Mapping[str, float], influences: Mapping[str, Influence]) -> tuple[float, float]:
    terms = list(terms_of(sensitivities, influences))
    u = math.hypot(*(contribution for contribution, _, _ in terms))
    # Shares instead of fourth powers: nothing overflows, and nothing small vanishes.
    loss: float = sum(((c / u) ** 4 / dof for c, dof, _ in terms), 0.0) if u > 0.0 else 0.0
    return u, (1.0 / loss if loss > 0.0 else math.inf)
