"""Which rows of a batch have no number, and why; kept in a byte for each row."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

import numpy as np

from assay.metrology.shapes import Array

Indices: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.int64]]"
Mask: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]"
Codes: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.str_]]"
_Bytes: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.uint8]]"
_AnyArray = TypeVar("_AnyArray", bound="np.ndarray[Any, Any]")


def closed(array: _AnyArray) -> _AnyArray:
    """Return a view of an array that cannot be written through."""
    view = array.view()
    view.flags.writeable = False
    return view


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowCodes:
    """Which rows have no number, and a code for these and for doubtful ones; the first code of a row stays.

    Parameters
    ----------
    mask : array of bool, shape (rows,)
        True where a row has no number.
    which : array of uint8, shape (rows,)
        Place of each row's code among ``names``.
    names : tuple of str
        The codes; the first is empty, for the rows with which nothing is wrong.

    """

    mask: Mask
    which: _Bytes
    names: tuple[str, ...]

    @classmethod
    def none(cls, rows: int) -> RowCodes:
        """Return the codes of rows with which nothing is wrong."""
        return cls(mask=np.zeros(rows, dtype=bool), which=np.zeros(rows, dtype=np.uint8), names=("",))

    def text(self) -> Codes:
        """Return the codes as an array of str, of shape (rows,)."""
        return np.array(self.names)[self.which]

    def without(self, bad: Mask, why: str) -> RowCodes:
        """Return the codes with further rows that have no number."""
        new = bad & ~self.mask
        return self._marked(new, why, self.mask | new) if new.any() else self

    def doubted(self, doubtful: Mask, why: str) -> RowCodes:
        """Return the codes with a further code for rows that keep their number and have none yet."""
        new = doubtful & (self.which == 0)
        return self._marked(new, why, self.mask) if new.any() else self

    def _marked(self, rows: Mask, why: str, mask: Mask) -> RowCodes:
        names = self.names if why in self.names else (*self.names, why)
        which = self.which.copy()
        which[rows] = names.index(why)
        return RowCodes(mask=mask, which=which, names=names)

    def joined(self, other: RowCodes) -> RowCodes:
        """Return the codes of results that need both: no number where either has none."""
        found = self
        for code in other.names[1:]:
            coded = other.which == other.names.index(code)
            found = found.without(coded & other.mask, code).doubted(coded & ~other.mask, code)
        return found

    def told_of(self, what: str) -> RowCodes:
        """Return the same with ``what`` put before each code."""
        return RowCodes(mask=self.mask, which=self.which, names=("", *(what + name for name in self.names[1:])))

    def taken(self, rows: Indices) -> RowCodes:
        """Return the codes of some of the rows."""
        return RowCodes(mask=self.mask[rows], which=self.which[rows], names=self.names)

    def cleared(self, values: Array) -> Array:
        """Return values with NaN where there is no number."""
        return np.where(self.mask, np.nan, values) if self.mask.any() else values
