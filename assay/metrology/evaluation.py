"""From a formula and measured numbers to a measured number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from numbers import Real
from typing import TYPE_CHECKING

import numpy as np

from assay.errors import DomainError
from assay.flags import Flag, merged
from assay.glossary import TERMS
from assay.kernels.ranges import ranges_of
from assay.kernels.value import Value
from assay.metrology.chain import chain_of
from assay.metrology.estimate import Estimate, Kernel, Operand
from assay.metrology.identity import same_facts
from assay.metrology.influence import Influence
from assay.metrology.tape import gradient

if TYPE_CHECKING:
    import uncertainties

_CHECK = "Check the readings: something is zero, of the wrong sign or much too large."


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
    check_ranges(kernel, named)
    value, partials = _differentiated(kernel, positional, named, label)
    sensitivities: dict[str, float] = {}
    influences: dict[str, Influence] = {}
    operands: list[tuple[int | str, Operand]] = [*enumerate(positional), *named.items()]
    for key, operand in operands:
        if isinstance(operand, Estimate) and operand.sensitivities:  # an exact number needs no slope
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


def combine(
    function: Kernel,
    *results: Estimate | uncertainties.UFloat | float,
    label: str = "combined result",
    unit: str = "1",
) -> Estimate:
    """Return the result of a function of your own, with budget, correlation and degrees of freedom.

    Parameters
    ----------
    function : callable
        Any function of arithmetic operators and numpy functions, lists of the arguments in numpy.sum, mean, prod, std
        and dot among them. It is called once, in the order of ``results``: what it does then is what is differentiated,
        sampled and explained.
    *results : Estimate, ufloat or float
        The results it takes. Ones that share a titrant or an instrument are correlated, and that is accounted for. A
        number of the `uncertainties` package is taken as `Estimate.from_ufloat` takes it, with its correlations.
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
        If the function does what cannot be recorded (a branch on a value, the math module, writing into a value) or
        returns something else than one number; the message says what to write instead.

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
    operands = [_operand(result, place) for place, result in enumerate(results, 1)]
    with told(label):
        chain = chain_of(function, [float(_plain(operand)) for operand in operands])
    return evaluate(chain, *operands, name="value", label=label, unit=unit)


def _plain(operand: Operand) -> Value:
    return operand.value if isinstance(operand, Estimate) else operand


def _operand(given: object, place: int) -> Operand:
    if isinstance(given, Estimate):
        return given
    if isinstance(given, Real):
        return float(given)
    is_quantity = hasattr(given, "m_as")
    if hasattr(given, "derivatives") and not is_quantity:  # a ufloat, whose class the border alone knows
        return Estimate.from_ufloat(given, label=str(getattr(given, "tag", None) or f"ufloat {place}"))
    remedy = "Give the estimate of the result, or a number in the unit that the function expects."
    if is_quantity:
        remedy = "Give its magnitude in the unit that the function expects: quantity.m_as('mol/L'), for example."
    raise DomainError(
        f"{type(given).__name__} is neither an estimate nor a plain number",
        argument="results",
        given=str(given)[:80],
        remedy=remedy,
    )


def _differentiated(
    kernel: Kernel, positional: Sequence[Operand], named: Mapping[str, Operand], label: str
) -> tuple[float, Mapping[int | str, Value]]:
    with told(label):
        value, partials = gradient(kernel, [_plain(x) for x in positional], {k: _plain(x) for k, x in named.items()})
    value = _one_number(value, label)
    if not math.isfinite(value):
        raise DomainError(f"the result is {value}", argument=label, remedy=_CHECK)
    return value, partials


class told:  # noqa: N801  (read as a statement: with told(label))
    """Tell a division by zero and the like as a `DomainError`; what gives no number is told by who meets it.

    Parameters
    ----------
    label : str
        What a person calls the result.

    """

    __slots__ = ("_label", "_quiet")

    def __init__(self, label: str) -> None:
        self._label = label
        self._quiet = np.errstate(all="ignore")

    def __enter__(self) -> None:
        self._quiet.__enter__()

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        self._quiet.__exit__(None, None, None)
        if isinstance(error, (ZeroDivisionError, OverflowError)):
            # Of a logarithm or a root of zero it is the slope that divides by zero, and the words must not mislead.
            problem = f"the formula, or its slope, has no value here ({error})"
            raise DomainError(problem, argument=self._label, remedy=_CHECK) from None


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


def check_ranges(kernel: Kernel, named: Mapping[str, Operand]) -> None:
    """Raise `DomainError` if an operand lies outside the range stated beside a kernel."""
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
