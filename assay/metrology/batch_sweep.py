"""One formula over many rows: values, derivatives and what has none, in blocks that stay in cache."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from assay.errors import DomainError
from assay.kernels.ranges import Range, ranges_of
from assay.kernels.value import Value
from assay.metrology.batch_terms import blocks, cut
from assay.metrology.row_codes import Mask
from assay.metrology.shapes import Array
from assay.metrology.tape import gradient


@dataclass(slots=True, kw_only=True)
class Swept:
    """What a formula gives over all rows.

    Parameters
    ----------
    value : array of shape (rows,)
        Its values.
    partials : dict of int or str to list
        Its derivatives with respect to its operands, by place or name; for each block of rows a number or an array.
    outside : array of bool, shape (rows,), or None
        Where an operand lies outside the range of the formula; nothing if nowhere.
    undefined : array of bool, shape (rows,), or None
        Where the formula has no finite value or no finite slope; nothing if nowhere.

    """

    value: Array
    partials: dict[int | str, list[Value]] = field(default_factory=dict)
    outside: Mask | None = None
    undefined: Mask | None = None


@dataclass(frozen=True, slots=True)
class Sweep:
    """A formula with its operands as plain numbers and arrays.

    Parameters
    ----------
    kernel : callable
        The formula.
    positional, named
        Its operands.
    wanted : sequence of int or str
        The operands, by place or name, with respect to which derivatives are wanted.

    """

    kernel: Callable[..., Value]
    positional: Sequence[Value]
    named: Mapping[str, Value]
    wanted: Sequence[int | str]

    def over(self, rows: int, label: str) -> Swept:
        """Return values and derivatives of all rows; ``label`` is what the result is called in a refusal.

        Raises
        ------
        DomainError
            If the function does not give one number for each row.
        ZeroDivisionError, OverflowError
            If what all rows share has no value.

        """
        found = Swept(value=np.empty(rows))
        limits = [(name, limit) for name, limit in ranges_of(self.kernel).items() if name in self.named]
        with np.errstate(all="ignore"):  # a row that has no value is told by its code
            for block in blocks(rows):
                named = {name: cut(value, block) for name, value in self.named.items()}
                computed, partials = gradient(self.kernel, [cut(value, block) for value in self.positional], named)
                value = _one_for_each(computed, block.stop - block.start, label)
                found.value[block] = value
                for key in self.wanted:
                    found.partials.setdefault(key, []).append(partials[key])
                _note_outside(named, limits, block, found)
                _note_undefined([value, *partials.values()], block, found)
        return found


def _one_for_each(computed: Value, rows: int, label: str) -> Value:
    value = np.asarray(computed)
    if value.dtype.kind not in "fiu" or value.shape not in {(), (rows,)}:
        raise DomainError(
            f"the function returns {type(computed).__name__} of shape {value.shape}, not one number for each row",
            argument=label,
            expected=f"shape ({rows},)",
            remedy="Use functions that act on each element, and combine once for each result that is wanted.",
        )
    return value


def _note_outside(named: Mapping[str, Value], limits: Sequence[tuple[str, Range]], block: slice, found: Swept) -> None:
    for name, (low, high) in limits:
        values = named[name]
        if not isinstance(values, np.ndarray):
            continue
        if not (values.min() >= low and (math.isinf(high) or values.max() <= high)):
            if found.outside is None:
                found.outside = np.zeros(found.value.size, dtype=bool)
            found.outside[block] |= ~((values >= low) & (values <= high))


def _note_undefined(found_here: Sequence[Value], block: slice, found: Swept) -> None:
    # What is not finite stays so in a sum: one pass over each array, and nothing is written.
    if math.isfinite(sum(float(np.add.reduce(x)) if isinstance(x, np.ndarray) else x for x in found_here)):
        return
    if found.undefined is None:
        found.undefined = np.zeros(found.value.size, dtype=bool)
    for values in found_here:
        found.undefined[block] |= ~np.isfinite(values)
