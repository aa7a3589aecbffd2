"""Formulas over rows: a kernel, or a function of the user's own, for many results at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeAlias, TypeGuard, TypeVar

import numpy as np

from assay.errors import DomainError
from assay.flags import Flag, merged
from assay.glossary import TERMS
from assay.kernels.value import Value
from assay.metrology.batch_sweep import Sweep
from assay.metrology.batch_terms import RowInfluence, RowMember, Source
from assay.metrology.chain import chain_of
from assay.metrology.estimate import Estimate, Kernel
from assay.metrology.estimate_batch import NO_VALUE, EstimateBatch
from assay.metrology.evaluation import check_ranges, evaluate, told
from assay.metrology.row_codes import RowCodes
from assay.metrology.shapes import Array

OUT_OF_RANGE = "out-of-range"

#: What a formula over rows may be given.
RowOperand: TypeAlias = "EstimateBatch | Estimate | RowInfluence | RowMember | Array | float"
_Measured = TypeVar("_Measured", Estimate, EstimateBatch)


def evaluate_batch(
    kernel: Kernel,
    *positional: RowOperand,
    name: str,
    label: str,
    flags: tuple[Flag, ...] = (),
    unit: str | None = None,
    **named: RowOperand,
) -> EstimateBatch:
    """Return the result of a kernel for each row; see `evaluate`.

    Parameters
    ----------
    kernel : callable
        The formula.
    *positional, **named
        Its operands: batches, estimates that all rows share, exact numbers, and arrays of them.
    name, label, flags, unit
        As for `evaluate`.

    Raises
    ------
    DomainError
        If something that all rows share lies outside the range of the kernel, or nothing is given row by row.

    """
    operands: list[tuple[int | str, RowOperand]] = [*enumerate(positional), *named.items()]
    rows = _rows_in([operand for _, operand in operands], label)
    uncertain = {key: operand for key, operand in operands if _is_uncertain(operand)}
    shared = {key: operand for key, operand in named.items() if isinstance(operand, (Estimate, float))}
    check_ranges(kernel, shared)
    try:
        swept = Sweep(
            kernel, [_plain(x) for x in positional], {key: _plain(x) for key, x in named.items()}, list(uncertain)
        ).over(rows, label)
    except (ZeroDivisionError, OverflowError) as error:
        raise DomainError(str(error), argument=label, remedy="Check what all rows share: something is zero.") from None
    codes = RowCodes.none(rows)
    for _, operand in operands:
        if isinstance(operand, EstimateBatch):
            codes = codes.joined(operand.codes)
    for bad, why in ((swept.outside, OUT_OF_RANGE), (swept.undefined, NO_VALUE)):
        codes = codes if bad is None else codes.without(bad, why)
    return EstimateBatch(
        name=name,
        label=label,
        unit=TERMS[name].unit if unit is None else unit,
        value=codes.cleared(swept.value),
        codes=codes,
        parents=[(operand, swept.partials[key]) for key, operand in uncertain.items()],
        row=_Row(kernel=kernel, positional=positional, named=named, name=name, label=label, unit=unit),
        flags=merged([*(x.flags for _, x in operands if isinstance(x, (Estimate, EstimateBatch))), flags]),
    )


def evaluate_like(
    measured: _Measured, kernel: Kernel, parameter: str, *, name: str, label: str, **named: Estimate | float
) -> _Measured:
    """Return the result of a kernel for one measured number or for a batch of them, whichever is given.

    Parameters
    ----------
    measured : Estimate or EstimateBatch
        What the kernel takes as ``parameter``.
    kernel : callable
        The formula.
    parameter : str
        Name of the parameter.
    name, label : str
        Name of the result in the glossary, and what a person calls it.
    **named : Estimate or float
        The other operands.

    """
    operands: dict[str, Value] = {parameter: measured, **named}
    if isinstance(measured, EstimateBatch):
        return evaluate_batch(kernel, name=name, label=label, **operands)
    return evaluate(kernel, name=name, label=label, **operands)


def combine_batch(
    function: Kernel,
    *results: EstimateBatch | Estimate | Array | float,
    label: str = "combined result",
    unit: str = "1",
) -> EstimateBatch:
    """Return the result of a function of your own for each row, with correlation and degrees of freedom.

    Parameters
    ----------
    function : callable
        Any function of arithmetic operators and numpy functions, as for `combine`. It is called once, with values of a
        row in the order of ``results``: what it does then is done to every row.
    *results : EstimateBatch, Estimate, array of shape (rows,) or float
        The results it takes: batches of equally many rows, single results that all rows share, exact numbers.
    label : str
        What a person calls the result.
    unit : str
        Its unit, as text; the function is trusted to give it.

    Returns
    -------
    EstimateBatch
        The results, named ``value``.

    Raises
    ------
    DomainError
        If the sizes differ, or the function branches on a value or uses the math module.

    References
    ----------
    [jcgm-100-2008] 5.1.2 and 5.2.2 (u with correlation) and G.4.1 (degrees of freedom), for each row.

    Examples
    --------
    >>> a = EstimateBatch.one_per_row(np.array([2.0, 4.0]), 0.1, label="a")
    >>> ratio = combine_batch(lambda x, y: x / y, a, a[0])
    >>> ratio.value.tolist(), ratio.u.round(4).tolist()
    ([1.0, 2.0], [0.0, 0.1118])

    """
    operands = [_exact_column(result) for result in results]
    with told(label):
        chain = chain_of(function, [_first_of(operand) for operand in operands])
    return evaluate_batch(chain, *operands, name="value", label=label, unit=unit)


def _first_of(operand: RowOperand) -> np.float64:
    """Return a value by which a function shows what it does: that of the first row that has one.

    It is a number of numpy, which goes on where this very row divides by zero.
    """
    values = np.atleast_1d(np.asarray(_plain(operand), dtype=float))
    has_value = np.isfinite(values)
    return values[np.argmax(has_value)] if has_value.any() else np.float64(1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """Takes one row of a result out, by the same formula."""

    kernel: Kernel
    positional: tuple[RowOperand, ...]
    named: Mapping[str, RowOperand]
    name: str
    label: str
    unit: str | None

    def __call__(self, i: int) -> Estimate:
        named: dict[str, Value] = {key: _taken(operand, i) for key, operand in self.named.items()}
        return evaluate(
            self.kernel,
            *(_taken(operand, i) for operand in self.positional),
            name=self.name,
            label=f"{self.label}, row {i + 1}",
            unit=self.unit,
            **named,
        )


def _taken(operand: RowOperand, i: int) -> Estimate | float:
    if isinstance(operand, EstimateBatch):
        return operand[i]
    if isinstance(operand, np.ndarray):
        return float(operand[i])
    if isinstance(operand, (RowInfluence, RowMember)):
        raise TypeError(f"{operand.id} is a part of a step, whose own rows are taken out by it")
    return operand


def _plain(operand: RowOperand) -> Value:
    return operand.value if isinstance(operand, (Estimate, EstimateBatch, RowInfluence, RowMember)) else operand


def _is_uncertain(operand: RowOperand) -> TypeGuard[EstimateBatch | Source]:
    if isinstance(operand, Estimate):
        return bool(operand.influences)
    return isinstance(operand, (EstimateBatch, RowInfluence, RowMember))


def _exact_column(given: EstimateBatch | Estimate | Array | float) -> RowOperand:
    if isinstance(given, (EstimateBatch, Estimate)):
        return given
    numbers = np.asarray(given)
    if numbers.dtype.kind not in "fiu" or numbers.ndim > 1:
        raise DomainError(
            f"{type(given).__name__} is neither a batch, nor an estimate, nor plain numbers",
            argument="results",
            given=str(given)[:80],
            remedy="Give a batch, the estimate of a single result, or numbers in the unit that the function expects.",
        )
    return numbers.astype(float) if numbers.ndim else float(numbers)


def _rows_in(operands: Iterable[RowOperand], label: str) -> int:
    sizes = set()
    for operand in operands:
        if isinstance(operand, (EstimateBatch, np.ndarray)):
            sizes.add(len(operand))
        elif isinstance(operand, RowMember):
            sizes.add(operand.places.size)
        elif isinstance(operand, RowInfluence) and isinstance(operand.u, np.ndarray):
            sizes.add(operand.u.size)
    if len(sizes) != 1:
        told = " and ".join(str(size) for size in sorted(sizes))
        raise DomainError(
            f"the operands have {told} rows" if sizes else "nothing here has rows",
            argument=label,
            remedy="Give batches of equally many rows; for single results there is combine().",
        )
    return sizes.pop()
