"""Many measured numbers of one sort at once: value, uncertainty and degrees of freedom of each row, in plain arrays."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from assay.display.numbers import significant
from assay.display.rows import Rows, html, text
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.kernels.value import Value
from assay.metrology.batch_terms import RowInfluence, Source, coverage_dof_of_rows, rows_met, u_and_dof_of
from assay.metrology.covariance import correlation
from assay.metrology.coverage import check_factor, coverage_factor
from assay.metrology.estimate import Estimate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.metrology.row_codes import Codes, Mask, RowCodes
from assay.metrology.shapes import Array

NO_VALUE = "no-value"
_SHOWN_ROWS = 10


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class EstimateBatch:
    """Many measured numbers of one sort, one in each row; made by `combine_batch` and by the assays of many samples.

    A row that has no number (a missing reading, a value out of range) holds NaN, is masked and says why by a code; the
    other rows are not touched by it. Rows are correlated as far as they share influences: with each other, with other
    batches and with single results.

    Parameters
    ----------
    name : str
        Name of the quantity, from the glossary.
    label : str
        What a person calls the whole.
    unit : str
        Unit of the values.
    value : array of shape (rows,)
        Best values; NaN where there is none.
    codes : RowCodes
        Which rows have no number, why, and what is doubtful about others.
    parents : sequence of (operand, derivative)
        What the values were computed from, and their derivatives with respect to it: a number, an array of shape
        (rows,), or a list with either for each block of rows.
    row : callable
        Returns the estimate of one row, by its index.
    flags : tuple of Flag
        Doubts about all rows.

    References
    ----------
    [jcgm-100-2008] 5.1.2 and 5.2.2 (u with correlation) and G.4.1 (degrees of freedom), for each row.

    Examples
    --------
    >>> masses = EstimateBatch.one_per_row(np.array([1.0, np.nan, 3.0]), 0.1, label="mass")
    >>> masses.value.tolist(), masses.mask.tolist()
    ([1.0, nan, 3.0], [False, True, False])

    """

    name: str
    label: str
    unit: str
    value: Array
    codes: RowCodes
    parents: Sequence[tuple[EstimateBatch | Source, Value]]
    row: Callable[[int], Estimate]
    flags: tuple[Flag, ...] = ()

    def __post_init__(self) -> None:
        """Close what could be changed."""
        for array in (self.value, self.codes.mask, self.codes.which):
            array.flags.writeable = False

    @classmethod
    def one_per_row(
        cls,
        value: Value,
        u: Value,
        *,
        label: str,
        dof: Value = math.inf,
        name: str = "value",
        unit: str = "1",
        record: str | None = None,
    ) -> EstimateBatch:
        """Return independent inputs, one for each row, from arrays.

        Parameters
        ----------
        value : array of shape (rows,)
            Best values, in the unit. NaN is a missing one: its row has no number.
        u : float or array of shape (rows,)
            Standard uncertainties, same unit, not negative.
        label : str
            What a person calls them.
        dof : float or array of shape (rows,)
            Degrees of freedom of ``u``, 1 or more.
        name, unit : str
            Name in the glossary and unit.
        record : str, optional
            Name under which the numbers are known; without it they are recognised again only as this object.

        Raises
        ------
        DomainError
            If the sizes do not agree, or a ``u`` or ``dof`` is none.

        Examples
        --------
        >>> EstimateBatch.one_per_row(np.array([1.0, 2.0]), 0.1, label="a").u.tolist()
        [0.1, 0.1]

        """
        values = np.array(value, dtype=float)
        u, dof = _column(u, values, "u", low=0.0), _column(dof, values, "dof", low=1.0)
        base = fresh_id("rows") if record is None else f"rows/{path_part(record, argument='record')}"

        inputs = _Inputs(base=base, label=label, name=name, unit=unit, value=values, u=u, dof=dof)
        source = RowInfluence(id=base, value=values, u=u, dof=dof, term=base, row_of=inputs.row_of)
        codes = RowCodes.none(values.size).without(~np.isfinite(values), NO_VALUE)
        return cls(
            name=name,
            label=label,
            unit=unit,
            value=codes.cleared(values),
            codes=codes,
            parents=[(source, 1.0)],
            row=inputs,
        )

    @cached_property
    def _u_and_dof(self) -> tuple[Array, Array]:
        u, dof = u_and_dof_of(self)
        u[self.mask] = dof[self.mask] = np.nan
        for i in rows_met(self):
            # What this row has alone stands in a shared result too: its own chain knows how the two add.
            if not self.mask[i]:
                estimate = self[i]
                u[i], dof[i] = estimate.u, estimate.dof
        u.flags.writeable = dof.flags.writeable = False
        return u, dof

    @property
    def mask(self) -> Mask:
        """Where a row has no number, of shape (rows,)."""
        return self.codes.mask

    @property
    def code(self) -> Codes:
        """Why a row has no number, or what is doubtful about it, of shape (rows,); empty for the others."""
        return self.codes.text()

    @property
    def u(self) -> Array:
        """Standard uncertainties, in the unit of the values, of shape (rows,); NaN where there is no value."""
        return self._u_and_dof[0]

    @property
    def dof(self) -> Array:
        """Effective degrees of freedom of each row, of shape (rows,); infinite if u is taken as known."""
        return self._u_and_dof[1]

    @cached_property
    def coverage_dof(self) -> Array:
        """Degrees of freedom by which the interval of each row is stated; see `Estimate.coverage_dof`."""
        coverage = coverage_dof_of_rows(self, self.dof)
        for i in rows_met(self):
            if not self.mask[i]:
                coverage[i] = self[i].coverage_dof
        coverage.flags.writeable = False
        return coverage

    def expanded(self, level: float = 0.95, *, k: float | None = None) -> Array:
        """Return the expanded uncertainties U = k u of all rows, with k for a level of confidence or as given."""
        factor = coverage_factor(level, self.coverage_dof) if k is None else check_factor(k)
        return np.asarray(self.u * factor)

    def interval(self, level: float = 0.95) -> tuple[Array, Array]:
        """Return the lower and the upper ends of value ± U at a level of confidence."""
        half = self.expanded(level)
        return self.value - half, self.value + half

    def correlation(self, i: int, j: int) -> float:
        """Return the correlation of two rows, -1 to 1."""
        return correlation(self[i], self[j])

    def records(self) -> list[dict[str, object]]:
        """Return a record for each row, as a data frame takes them: row, value, u, dof, unit and code."""
        columns = (self.value.tolist(), self.u.tolist(), self.dof.tolist(), self.code.tolist())
        return [
            {"row": k, "value": value, "u": u, "dof": dof, "unit": self.unit, "code": code}
            for k, (value, u, dof, code) in enumerate(zip(*columns, strict=True))
        ]

    def without(self, bad: Mask, why: str) -> EstimateBatch:
        """Return the same batch with further rows that have no number, and the code that says why."""
        codes = self.codes.without(bad, why)
        return self if codes is self.codes else replace(self, value=codes.cleared(self.value), codes=codes)

    def doubted(self, doubtful: Mask, why: str) -> EstimateBatch:
        """Return the same batch with a code on rows that keep their number but are doubtful."""
        codes = self.codes.doubted(doubtful, why)
        return self if codes is self.codes else replace(self, codes=codes)

    def __len__(self) -> int:
        return self.value.size

    def __getitem__(self, i: int) -> Estimate:
        """Return one row as an estimate, with its budget and everything else that one result has.

        Raises
        ------
        DataError
            If the row has no number.

        """
        return self.row(self.check_row(i))

    def check_row(self, i: int) -> int:
        """Return the index of a row, counted from the start; refuse one that has no number.

        Raises
        ------
        DataError
            If it has none.

        """
        i = range(len(self))[operator.index(i)]
        if self.mask[i]:
            raise DataError(
                "this row has no number",
                argument="row",
                given=i,
                remedy=f"Its code is {self.codes.names[self.codes.which[i]]!r}: check its readings.",
            )
        return i

    def rows(self, n: int = _SHOWN_ROWS) -> Rows:
        """Return the first rows as rows of text."""
        n = min(n, len(self))
        body = tuple(
            (str(k), significant(value, 5), significant(u, 2), "∞" if math.isinf(dof) else f"{dof:.3g}", str(code))
            for k, value, u, dof, code in zip(
                range(n), self.value[:n], self.u[:n], self.dof[:n], self.code[:n], strict=True
            )
        )
        left = f", the first {n} of {len(self)} rows" if n < len(self) else ""
        return Rows(
            title=f"{self.label}{left}",
            head=("row", f"value / ({self.unit})", f"u / ({self.unit})", "dof", "code"),
            body=body,
        )

    def __repr__(self) -> str:
        flags = "".join(f"[{flag.code}] " for flag in self.flags)
        counts = np.bincount(self.codes.which, minlength=len(self.codes.names))
        told = ", ".join(f"{n} {name}" for n, name in zip(counts[1:], self.codes.names[1:], strict=True) if n)
        without = int(self.mask.sum())
        return (
            f"<EstimateBatch {self.label!r}: {flags}{len(self)} rows in {self.unit}, {without} without a number"
            f"{f' ({told})' if told else ''}>"
        )

    def __str__(self) -> str:
        return "\n".join([*(f"! {flag}" for flag in self.flags), text(self.rows())])

    def _repr_html_(self) -> str:
        return html(self.rows(), before=tuple(f"! {flag}" for flag in self.flags))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Inputs:
    """Independent inputs, of which one row is an influence."""

    base: str
    label: str
    name: str
    unit: str
    value: Array
    u: Value
    dof: Value

    def __call__(self, i: int) -> Estimate:
        u, dof = (float(x[i]) if isinstance(x, np.ndarray) else float(x) for x in (self.u, self.dof))
        label = f"{self.label}, row {i + 1}"
        influence = Influence(id=f"{self.base}/{i + 1}", label=label, value=float(self.value[i]), u=u, dof=dof)
        return replace(Estimate.from_influence(influence, name=self.name), unit=self.unit)

    def row_of(self, id_: str) -> int | None:
        """Return the row of the influence with this id; ``None`` if it is none of these."""
        head, _, last = id_.rpartition("/")
        is_row = head == self.base and last.isdecimal() and 1 <= int(last) <= self.value.size
        return int(last) - 1 if is_row else None


def _column(given: Value, values: Array, argument: str, *, low: float) -> Value:
    column = np.array(given, dtype=float)
    if values.ndim != 1 or column.shape not in {(), values.shape} or not (column >= low).all():
        raise DomainError(
            "values are a row of numbers, and this is one number for all of them, or one for each",
            argument=argument,
            given=f"shape {column.shape} beside values of shape {values.shape}, least {column.min(initial=np.inf):g}",
            expected=f"{low:g} or more",
        )
    return column if column.ndim else float(column)
