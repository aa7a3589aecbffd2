"""What a solution is made up in: a flask with its mark, or a cylinder or a beaker filled to a graduation."""

from __future__ import annotations

from typing import TypeAlias

from assay.bench.beaker import Beaker
from assay.bench.setting import SetVolume
from assay.bench.vessels import Cylinder, Flask
from assay.errors import DataError

Filled: TypeAlias = Flask | SetVolume


def is_filled(given: object) -> bool:
    """Return whether a solution can be made up in this."""
    if isinstance(given, SetVolume):
        return isinstance(given.instrument, (Cylinder, Beaker))
    return isinstance(given, Flask)


def check_filled(given: object, *, argument: str, remedy: str = "") -> None:
    """Refuse what no solution is made up in, such as a pipette.

    Raises
    ------
    DataError
        If it is such a thing.

    """
    if is_filled(given):
        return
    raise DataError(
        "no solution is made up in this",
        argument=argument,
        given=getattr(given, "label", given),
        expected="a Flask, or a cylinder or a beaker filled to a graduation",
        remedy=remedy or "Write Flask('F250', capacity='250 mL'), or cylinder.measure('250 mL').",
    )
