"""Limits of a strength as a person writes them: a number, and the basis that says as what and per what."""

from __future__ import annotations

from typing import TYPE_CHECKING

from assay.errors import BasisError, DataError, Problems
from assay.units import split

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate
    from assay.substances.species import Basis
    from assay.substances.strength import Strength


def in_basis_of(strength: Strength, **limits: str | None) -> tuple[Estimate, dict[str, str | None]]:
    """Return a strength in the basis of its limits, and the limits in the unit of that basis.

    Parameters
    ----------
    strength : Strength
        The strength.
    **limits : str or None
        The limits by the name of their argument, such as ``lower="80 g/L available chlorine"``.

    Raises
    ------
    BasisError
        If a limit does not say its basis, two are in different ones, or the strength cannot be stated in it.
    UnitError
        If a number cannot be read.
    DataError
        If there is no limit.

    """
    problems = Problems()
    read = {name: problems.attempt(_read, strength, name, limit) for name, limit in limits.items() if limit is not None}
    problems.raise_any()
    if not read:
        raise DataError(
            "there is no specification limit",
            argument=", ".join(limits),
            remedy=f"Give one with its basis, such as '80 {strength.species.bases[1].key}'.",
        )
    keys = list(dict.fromkeys(basis.key for _, basis in read.values()))
    if len(keys) > 1:
        raise BasisError(
            "the limits are in different bases",
            argument=", ".join(read),
            given=" and ".join(keys),
            remedy="State both in the basis of the specification; bases() shows the strength in each.",
        )
    estimate = strength.in_basis(keys[0])
    return estimate, {name: f"{read[name][0]} {estimate.unit}" if name in read else None for name in limits}


def _read(strength: Strength, argument: str, limit: str) -> tuple[str, Basis]:
    species = strength.species
    if not isinstance(limit, str):
        raise BasisError(
            "a limit of a strength says as what it is expressed and per what",
            argument=argument,
            given=str(limit),
            remedy=f"Write it with its basis, such as '80 {species.bases[1].key}'.",
        )
    parts = split(limit, argument=argument, example=f"'80 {species.bases[1].key}'")
    basis = species.basis(parts.rest)
    if basis is None:
        raise BasisError(
            f"{f'{parts.rest!r} alone' if parts.rest else 'a bare number'} does not say as what the strength is "
            "expressed and per what",
            argument=argument,
            given=limit,
            remedy=f"Write one of: {', '.join(repr(f'{parts.number} {basis.key}') for basis in species.bases)}.",
        )
    return str(parts.number), basis
