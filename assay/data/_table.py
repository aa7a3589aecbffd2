"""A table in memory: its rows, and how one of them is found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Generic, Protocol, TypeVar

from assay.errors import DataError, nearest

#: Relative distance below which two numbers of an index column are one: decimals that passed through a unit conversion.
_SAME: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One value of a table with its uncertainty and its source.

    Parameters
    ----------
    cells : tuple of (str, str)
        Index columns and what this row has in them; the unit of a column is not part of its name.
    value : float
        The value, in ``unit``.
    u : float or None
        Standard uncertainty, in ``unit``; ``None`` if the row does not give one.
    half_width : float or None
        Half-width of the shape, in ``unit``; ``None`` if the row does not give one.
    dof : float
        Degrees of freedom of the uncertainty; infinite unless the row says otherwise.
    unit : str
        Unit of ``value``, ``u`` and ``half_width``; ``"1"`` for a pure number.
    shape : str
        One of `SHAPES`; empty for an exact value and for one without a stated uncertainty.
    source : str
        Key of `references`.
    locator : str
        Table, clause, page or row in the source.
    provenance : str
        One of `PROVENANCES`.
    note : str
        What a user of the row has to know besides.
    exact : bool
        Whether the value has no uncertainty by its nature.
    unstated : bool
        Whether the source states no uncertainty; whoever uses the row has to supply one or to raise a flag.

    """

    cells: tuple[tuple[str, str], ...]
    value: float
    u: float | None
    half_width: float | None
    dof: float
    unit: str
    shape: str
    source: str
    locator: str
    provenance: str
    note: str
    exact: bool
    unstated: bool

    @property
    def index(self) -> dict[str, str]:
        """Return the index columns of this row by name, as text."""
        return dict(self.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One statement of a table of facts with its source.

    Parameters
    ----------
    cells : tuple of (str, str)
        Index columns and what this row has in them.
    fact : str
        The statement.
    source, locator, provenance, note : str
        As in `Row`.

    """

    cells: tuple[tuple[str, str], ...]
    fact: str
    source: str
    locator: str
    provenance: str
    note: str

    @property
    def index(self) -> dict[str, str]:
        """Return the index columns of this row by name, as text."""
        return dict(self.cells)


class _Entry(Protocol):
    """What a table needs of its rows."""

    @property
    def cells(self) -> tuple[tuple[str, str], ...]: ...

    @property
    def index(self) -> dict[str, str]: ...


_E = TypeVar("_E", bound=_Entry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Generic[_E]):
    """A table in the order of its file.

    Parameters
    ----------
    name : str
        Name of the file without its ending.
    columns : tuple of str
        Index columns, without their units.
    units : tuple of str
        Unit of each index column; empty for a column of text.
    rows : tuple of Row or of Fact
        The rows.

    """

    name: str
    columns: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[_E, ...]

    def find(self, **index: str | float) -> _E:
        """Return the one row whose index columns have the given values.

        Parameters
        ----------
        **index : str or float
            Values by column. Columns of text are compared as text, columns with a unit as numbers in that unit; an
            empty text finds an empty cell. A column may be left out where the others leave only one row.

        Raises
        ------
        DataError
            If there is no such column, no such row, or more than one.

        Examples
        --------
        >>> from assay.data import table
        >>> row = table("atomic_weights").find(edition="ciaaw-2021", symbol="Cl")
        >>> row.value, row.half_width, row.shape
        (35.45, 0.01, 'rectangular')
        >>> burettes = {"item": "burette", "standard": "ISO 385:2005", "accuracy_class": "A"}
        >>> table("volumetric_ware").find(**burettes, nominal=25)  # doctest: +ELLIPSIS
        Traceback (most recent call last):
            ...
        assay.errors.DataError: 2 rows of table 'volumetric_ware' fit... Say which: subdivision = 0.05, 0.1 mL.

        """
        rows = self.select(**index)
        if len(rows) == 1:
            return rows[0]
        open_columns = [column for column in self.columns if column not in index]
        differing = [column for column in open_columns if len({row.index[column] for row in rows}) > 1]
        listed = "; ".join(f"{column} = {self._list(column, rows)}" for column in differing)
        raise DataError(
            f"{len(rows)} rows of table {self.name!r} fit", remedy=f"Say which: {listed}." if listed else ""
        )

    def select(self, **index: str | float) -> tuple[_E, ...]:
        """Return all rows whose index columns have the given values, at least one, in the order of the file.

        Parameters
        ----------
        **index : str or float
            As in `find`.

        Raises
        ------
        DataError
            If there is no such column or no such row; the message names the first column, in the order of the table,
            whose value leaves no row, and what there is instead.

        """
        for column in index:
            self._position(column)
        rows = self.rows
        before: list[str] = []
        for position, column in enumerate(self.columns):
            if column not in index:
                continue
            wanted = index[column]
            fitting = tuple(row for row in rows if self._fits(position, row.cells[position][1], wanted))
            if not fitting:
                raise self._no_row(column, wanted, rows, before)
            rows = fitting
            before.append(f"{column} = {wanted!r}")
        return rows

    def choices(self, column: str, **fixed: str | float) -> tuple[str, ...]:
        """Return what a column holds, each once, among the rows that have the given values in other columns.

        Parameters
        ----------
        column : str
            Index column. Text comes in the order of the file, numbers in ascending order; empty cells are left out.
        **fixed : str or float
            As in `find`.

        Examples
        --------
        >>> from assay.data import table
        >>> table("volumetric_ware").choices("subdivision", item="burette", standard="ISO 385:2005", nominal=25)
        ('0.05', '0.1')

        """
        position = self._position(column)
        found = dict.fromkeys(row.cells[position][1] for row in self.select(**fixed))
        found.pop("", None)
        return tuple(sorted(found, key=float)) if self.units[position] else tuple(found)

    def _position(self, column: str) -> int:
        if column not in self.columns:
            raise DataError(
                f"table {self.name!r} has no such index column",
                argument="column",
                given=column,
                remedy=nearest(column, self.columns),
            )
        return self.columns.index(column)

    def _fits(self, position: int, cell: str, wanted: str | float) -> bool:
        if not self.units[position] or not cell or wanted == "":
            return cell == str(wanted)
        try:
            number = float(wanted)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise DataError(
                f"column {self.columns[position]!r} of table {self.name!r} holds numbers",
                argument=self.columns[position],
                given=wanted,
                expected=f"a number in {self.units[position]}",
            )
        return math.isclose(float(cell), number, rel_tol=_SAME)

    def _no_row(self, column: str, wanted: str | float, rows: tuple[_E, ...], before: list[str]) -> DataError:
        there = f"has no row with {', '.join(before)} and this {column}" if before else "has no such row"
        position = self._position(column)
        if self.units[position]:
            remedy = f"There is: {self._list(column, rows)}."
        else:
            remedy = nearest(str(wanted), [row.cells[position][1] for row in rows])
        return DataError(
            f"table {self.name!r} {there}",
            argument=column,
            given=wanted,
            remedy=remedy,
        )

    def _list(self, column: str, rows: tuple[_E, ...]) -> str:
        position = self._position(column)
        cells = {row.cells[position][1] for row in rows}
        unit = self.units[position]
        if not unit:
            return ", ".join(repr(cell) for cell in sorted(cells))
        if cells == {""}:
            return "only the empty cell"
        numbers = ", ".join(sorted(cells - {""}, key=float)) + f" {unit}"
        return f"{numbers}, or empty" if "" in cells else numbers
