"""The unit door: quantities and strings become plain numbers here, and nowhere else; `registry` alone imports pint.

A string is one decimal number with a point, then a unit. The number is read by the library's own grammar; pint sees
only the unit. (Given a whole string, pint reads ``"25,00 mL"`` as 2500 mL and does not come back from ``"9**9**9
mL"``.)
"""

from __future__ import annotations

from assay.units.arrays import read_array
from assay.units.grammar import Parts, split
from assay.units.kinds import INTERNAL
from assay.units.reading import Written, kind_of, read, read_fraction, read_in, read_with_step
from assay.units.registry import quantity

__all__ = [
    "INTERNAL",
    "Parts",
    "Written",
    "kind_of",
    "quantity",
    "read",
    "read_array",
    "read_fraction",
    "read_in",
    "read_with_step",
    "split",
]
