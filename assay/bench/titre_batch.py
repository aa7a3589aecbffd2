"""Readings of many titrations on one burette, one row for each assay."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from assay.bench.burette import Burette, Titre
from assay.errors import DataError, DomainError, Problems
from assay.kernels.volume import delivered_volume_from_readings
from assay.metrology.batch import evaluate_batch
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.row_codes import Codes, Indices, Mask, RowCodes, closed
from assay.metrology.shapes import Array
from assay.units import read_array

if TYPE_CHECKING:
    import pint

#: Many readings: a quantity of an array, or an array of plain numbers with their unit beside them.
WrittenArray: TypeAlias = "pint.Quantity[Any] | np.ndarray[Any, Any] | Sequence[Any]"

#: Why a row of readings gives no titre.
NO_TITRE = "no-titre"
MISSING = "missing-reading"
BEYOND_COUNT = "reading-beyond-count"
BEYOND_SCALE = "beyond-scale"
BELOW_ZERO = "reading-below-zero"
NOT_POSITIVE = "titre-not-positive"
# Decimal places of a litre to which readings are taken: a thousandth of a nanolitre. So 24.35 in an array is the very
# number that "24.35 mL" is, and one reading is one influence, however it was written.
_DECIMALS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class TitreBatch:
    """Readings of many titrations on one burette: a row for each assay, a column for each replicate.

    Rows may have unlike numbers of replicates: ``counts`` says how many of the columns are filled, from the left, and
    what stands beyond is padding, NaN. A bad row, such as one with NaN among its readings, does not spoil the others;
    `code` says what is wrong with it.

    Parameters
    ----------
    burette : Burette
        The burette, the same for all.
    final : quantity or array of shape (assays, replicates)
        Final readings; from a burette set to zero, they are the titres. One number an assay may be of shape (assays,).
    initial : quantity or array of the same shape, optional
        Initial readings; left out, the burette was set to zero each time.
    counts : array of int, shape (assays,), optional
        How many replicates each row has; left out, all columns are filled.
    unit : str, optional
        Unit of readings that are plain numbers, such as ``"mL"``; a quantity has its own.

    Raises
    ------
    UnitError
        If readings have no unit, or a wrong one.
    DataError
        If the shapes do not agree, or the burette is none.
    DomainError
        If a count is not a whole number from 0 to the number of columns.

    References
    ----------
    common practice: a titre is the final less the initial reading.

    Examples
    --------
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> titres = TitreBatch(burette=burette, final=[[24.30, 24.40], [24.35, np.nan]], counts=[2, 2], unit="mL")
    >>> titres.code().tolist()
    ['', 'missing-reading']

    """

    burette: Burette
    final: WrittenArray
    initial: WrittenArray | None = None
    counts: Sequence[int] | Indices | None = None
    unit: str | None = None
    _finals: Array = field(init=False)
    _initials: Array | None = field(init=False)
    _counts: Indices = field(init=False)
    _filled: Mask = field(init=False)
    _nominal: Array = field(init=False)
    _digest: str = field(init=False)

    def __post_init__(self) -> None:
        """Read everything."""
        burette: object = self.burette
        if not isinstance(burette, Burette):
            raise DataError(
                "titres are read on a burette",
                argument="burette",
                given=burette,
                remedy="Write burette=Burette('B1', capacity='50 mL', subdivision='0.1 mL').",
            )
        problems = Problems()
        finals = problems.attempt(_columns, self.final, self.unit, argument="final")
        initials = None
        if self.initial is not None:
            initials = problems.attempt(_columns, self.initial, self.unit, argument="initial")
        problems.raise_any()
        if initials is not None and initials.shape != finals.shape:
            raise DataError(
                "each final reading has its initial one",
                argument="initial",
                given=f"shape {initials.T.shape}",
                expected=f"shape {finals.T.shape}",
                remedy="Leave it out if the burette was set to zero each time.",
            )
        counts = np.full(finals.shape[1], finals.shape[0]) if self.counts is None else _counted(self.counts, finals)
        filled = np.arange(finals.shape[0])[:, None] < counts
        volumes = finals if initials is None else finals - initials
        nominal = np.where(filled, np.round(volumes, 9), np.nan)
        digest = _digest_of(finals, counts, *(() if initials is None else (initials,)))
        found = {"_finals": finals, "_initials": initials, "_counts": counts, "_filled": filled, "_nominal": nominal}
        for name, value in (*found.items(), ("_digest", digest)):
            object.__setattr__(self, name, value)

    def __len__(self) -> int:
        return self._finals.shape[1]

    def __repr__(self) -> str:
        return f"<TitreBatch on {self.burette.label}: {len(self)} rows, {int(self._counts.sum())} titres>"

    @property
    def replicates(self) -> Indices:
        """How many replicates each row has, of shape (assays,)."""
        return closed(self._counts)

    def row(self, i: int) -> tuple[Titre, ...]:
        """Return the titres of one row, as the burette would make them of the same readings."""
        initials = np.zeros_like(self._finals) if self._initials is None else self._initials
        pairs = zip(initials[: self._counts[i], i].tolist(), self._finals[: self._counts[i], i].tolist(), strict=True)
        return tuple(Titre(burette=self.burette, segments=(pair,)) for pair in pairs)

    def code(self) -> Codes:
        """Return what is wrong with the readings of each row, of shape (assays,); empty if nothing is."""
        return self.codes().text()

    def codes(self, *, of_blank: bool = False) -> RowCodes:
        """Return which rows give no titre and why; a blank may be zero."""
        finals, initials, filled = self._finals, 0.0 if self._initials is None else self._initials, self._filled
        read = np.isfinite(finals) if self._initials is None else np.isfinite(finals) & np.isfinite(self._initials)
        counted = read & filled
        longest = self.burette.largest * (1.0 + 1e-9)
        with np.errstate(invalid="ignore"):
            faults: dict[str, Mask] = {
                MISSING: filled & ~read,
                BEYOND_COUNT: ~np.isnan(finals) & ~filled,
                BELOW_ZERO: counted & ((finals < 0.0) | (initials < 0.0)),
                BEYOND_SCALE: counted & ((finals > longest) | (initials > longest)),
                NOT_POSITIVE: counted & (finals < initials if of_blank else finals <= initials),
            }
        codes = RowCodes.none(len(self)).without(self._counts == 0, NO_TITRE)
        for why, faulty in faults.items():
            codes = codes.without(np.logical_or.reduce(faulty, axis=0), why)
        return codes

    def digest(self) -> str:
        """Return a text that is the same for the same readings."""
        return self._digest

    def nominal(self) -> Array:
        """Return the volumes by the scale, L, of shape (replicates, assays); NaN where there is none."""
        return closed(self._nominal)

    def mean_nominal(self) -> Array:
        """Return the mean of the volumes of each row by the scale, L; NaN where there is none."""
        total: Array = np.where(self._filled, self._nominal, 0.0).sum(axis=0)
        mean: Array = np.divide(total, self._counts, out=np.full(len(self), np.nan), where=self._counts > 0)
        return mean

    def common_start(self) -> Mask:
        """Return for each row whether its titres began at one reading, within half a step; a single one, at zero."""
        if self._initials is None:
            return np.ones(len(self), dtype=bool)
        start = np.where(self._counts > 1, self._initials[0], 0.0)
        alike: Mask = np.abs(self._initials - start) < self.burette.step / 2.0
        return np.asarray((alike | ~self._filled).all(axis=0))

    def delivered(self) -> list[EstimateBatch]:
        """Return the volumes really delivered, L: the first replicate of all rows, the second, and so on.

        Where a row has no such replicate, or one that cannot be, something stands that means nothing.
        """
        usable = self._filled & np.isfinite(self._finals)
        if self._initials is not None:
            usable &= np.isfinite(self._initials)
        columns = []
        for k, (final, good) in enumerate(zip(self._finals, usable, strict=True)):
            final_reading = final if good.all() else np.where(good, final, 0.0)
            initial_reading: Array | float = 0.0
            initial_error: Estimate | EstimateBatch = self.burette.scale_error(0.0)
            if self._initials is not None:
                initial_reading = np.where(good, self._initials[k], 0.0)
                initial_error = self._scale_error(initial_reading, f"{k}/initial")
            delivered = evaluate_batch(
                delivered_volume_from_readings,
                name="delivered_volume",
                label=f"titres {k + 1} on {self.burette.label}",
                final_reading=final_reading,
                initial_reading=initial_reading,
                final_scale_error=self._scale_error(final_reading, f"{k}/final"),
                initial_scale_error=initial_error,
            )
            columns.append(delivered)
        return columns

    def _scale_error(self, readings: Array, which: str) -> EstimateBatch:
        """Return the deviation of the scale at many readings, L."""
        return self.burette.scale.error_of_rows(readings, f"{self._digest}/{which}")


def _columns(written: WrittenArray, unit: str | None, *, argument: str) -> Array:
    """Return readings, L, in columns that lie together in memory, of shape (replicates, assays)."""
    readings = read_array(written, "volume", unit=unit, argument=argument)
    if readings.ndim not in {1, 2} or not readings.size:
        raise DataError(
            "readings have a row for each assay and a column for each replicate",
            argument=argument,
            given=f"shape {readings.shape}",
            expected="shape (assays, replicates), with at least one of each",
        )
    columns: Array = np.ascontiguousarray(readings.reshape(len(readings), -1).T)
    columns[np.isinf(columns)] = np.nan  # no reading either
    return np.round(columns, _DECIMALS, out=columns)


def _digest_of(*arrays: Array | Indices) -> str:
    found = hashlib.sha256()
    for array in arrays:
        found.update(f"{array.shape}".encode())
        found.update(array.data)
    return found.hexdigest()


def _counted(counts: Sequence[int] | Indices, finals: Array) -> Indices:
    most, rows = finals.shape
    found = np.asarray(counts)
    whole = found.astype(np.int64) if found.dtype.kind in "iuf" and np.isfinite(found).all() else None
    if whole is None or found.shape != (rows,) or (whole != found).any() or (whole < 0).any() or (whole > most).any():
        raise DomainError(
            "a count tells for each row how many of its columns are filled",
            argument="counts",
            given=str(counts)[:80],
            expected=f"{rows} whole numbers from 0 to {most}",
            remedy="Leave it out if every column of every row is filled.",
        )
    return whole
