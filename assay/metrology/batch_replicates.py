"""Replicates of many results at once: scatter, rounding and mean of each row, where rows may be unlike in number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assay.glossary import TERMS
from assay.kernels.replicates import mean_from_replicates
from assay.kernels.value import Value
from assay.metrology.batch_terms import RowInfluence
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.replicates import MethodScatter, Rounding, repeatability_of, resolution_of
from assay.metrology.row_codes import Indices, RowCodes
from assay.metrology.shapes import Array
from assay.metrology.tape import gradient


@dataclass(frozen=True, slots=True, kw_only=True)
class ScatterBatch:
    """What the replicates of each row say about their mean: `Scatter` for many.

    Parameters
    ----------
    s, repeatability : float or array of shape (rows,)
        Standard deviation of one replicate, with its rounding and without; that of the method if one was given.
    dof : float or array of shape (rows,)
        Degrees of freedom of ``s``.
    u_scatter, u_resolution : float or array of shape (rows,)
        Standard uncertainty of the mean from the repeatability, and from rounding.

    """

    s: Value
    repeatability: Value
    dof: Value
    u_scatter: Value
    u_resolution: Value


def scatter_of_batch(
    columns: Array, counts: Indices, *, method: MethodScatter | None = None, rounding: Rounding
) -> ScatterBatch:
    """Return the scatter of each row, by the rules of `scatter_of`.

    Parameters
    ----------
    columns : array of shape (replicates, rows)
        The replicates; what stands beyond the count of a row is not looked at.
    counts : array of int, shape (rows,)
        How many replicates each row has. A row with none, or with one and no known scatter, gives numbers without
        meaning: mask it.
    method : MethodScatter, optional
        A scatter known from elsewhere.
    rounding : Rounding
        Rounding of one replicate; its parts may be arrays of shape (rows,).

    """
    n = np.maximum(counts, 1)
    found = _standard_deviation(columns, counts)
    shown = np.where(counts > 1, found, np.inf)  # a single one shows nothing
    if method is not None:
        s: Value = np.full(counts.shape, method.s)
        dof: Value = method.dof
    else:
        s, dof = found, np.maximum(counts - 1.0, 1.0)
    repeatability = repeatability_of(s, rounding)
    return ScatterBatch(
        s=s,
        repeatability=repeatability,
        dof=dof,
        u_scatter=repeatability / np.sqrt(n),
        u_resolution=resolution_of(np.minimum(s, shown), n, rounding),
    )


def _standard_deviation(columns: Array, counts: Indices) -> Array:
    # From the differences to the first replicate: like titres differ exactly, and equal ones by nothing at all.
    first = columns[0]
    differences = [np.where(counts > k, column - first, 0.0) for k, column in enumerate(columns[1:], start=1)]
    mean = sum(differences, np.zeros_like(first)) / np.maximum(counts, 1)
    squares = mean * mean
    for k, difference in enumerate(differences, start=1):
        squares += np.where(counts > k, np.square(difference - mean), 0.0)
    return np.sqrt(squares / np.maximum(counts - 1, 1))


def mean_of_batch(
    replicates: Sequence[EstimateBatch],
    counts: Indices,
    *,
    scatter: RowInfluence,
    resolution: RowInfluence,
    codes: RowCodes,
    name: str,
    label: str,
) -> EstimateBatch:
    """Return the mean of the replicates of each row, with scatter and rounding as influences of each row's own.

    A part of a step: its rows are taken out by the single step. Rows with equally many replicates are evaluated
    together, each lot by the same kernel as a single mean.

    Parameters
    ----------
    replicates : sequence of EstimateBatch
        The first replicate of all rows, the second, and so on.
    counts : array of int, shape (rows,)
        How many replicates each row has.
    scatter, resolution : RowInfluence
        Deviation of each mean because its replicates are few, and because its readings are rounded.
    codes : RowCodes
        Which rows have no mean, and why.
    name, label : str
        As for `EstimateBatch`.

    """
    operands: dict[int | str, EstimateBatch | RowInfluence] = dict(enumerate(replicates))
    operands |= {"replicate_scatter": scatter, "replicate_resolution": resolution}
    value = np.full(counts.shape, np.nan)
    partials = {key: np.zeros(counts.shape) for key in operands}
    good = ~codes.mask
    for count in range(1, len(replicates) + 1):
        chosen = (counts == count) & good
        if not chosen.any():
            continue
        rows = slice(None) if chosen.all() else np.flatnonzero(chosen)
        value[rows], found = gradient(
            mean_from_replicates,
            [column.value[rows] for column in replicates[:count]],
            {"replicate_scatter": scatter.value, "replicate_resolution": resolution.value},
        )
        for key, partial in found.items():
            partials[key][rows] = partial
    return EstimateBatch(
        name=name,
        label=label,
        unit=TERMS[name].unit,
        value=value,
        codes=codes,
        parents=[(operand, partials[key]) for key, operand in operands.items()],
        row=replicates[0].row,
        flags=replicates[0].flags,
    )
