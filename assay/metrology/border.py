"""The border to the `uncertainties` package, and the only place that imports it."""

from __future__ import annotations

import os
import threading
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from assay.errors import DataError, DomainError
from assay.metrology.identity import fresh_id, same_facts
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

if TYPE_CHECKING:
    import uncertainties

# One variable per influence id: this is what keeps a user's own arithmetic correlated. The facts are kept beside it, so
# that an id that changes its facts is noticed.
_VARIABLES: dict[str, tuple[Influence, uncertainties.UFloat]] = {}
# The way back: which influence, or which joint, a variable was made for. A variable that came from outside stands here
# with the influence that was made for it.
_ORIGINS: dict[Any, Influence | Joint] = {}
_LOCK = threading.RLock()
if hasattr(os, "register_at_fork"):  # a child must not find the lock held by a thread that it does not have
    os.register_at_fork(before=_LOCK.acquire, after_in_parent=_LOCK.release, after_in_child=_LOCK.release)


def ufloat_of(
    value: float, sensitivities: Mapping[str, float], influences: Mapping[str, Influence]
) -> uncertainties.UFloat:
    """Return value plus sensitivities times the deviations of one shared variable per influence."""
    total = _exact(value)
    for id_, sensitivity in sensitivities.items():
        total = total + sensitivity * (_variable(influences[id_]) - influences[id_].value)
    # `uncertainties` works out derivatives when they are first asked for, and takes its notes apart meanwhile: of two
    # threads that asked at once, each would get a part of them.
    total.derivatives  # noqa: B018  (asked for now)
    return total


def _exact(value: float) -> uncertainties.UFloat:
    """Return a number without uncertainty, made without the warning that u = 0 gives."""
    from uncertainties import ufloat

    return 0.0 * ufloat(1.0, 1.0) + value


def _variable(influence: Influence) -> uncertainties.UFloat:
    with _LOCK:
        if influence.id not in _VARIABLES:
            _create(influence)
        known, variable = _VARIABLES[influence.id]
    same_facts(known, influence)
    return variable


def _create(influence: Influence) -> None:
    from uncertainties import correlated_values, ufloat

    if influence.joint is None:
        if influence.u > 0.0:
            made = ufloat(influence.value, influence.u, tag=influence.id)
            _ORIGINS[made] = influence
        else:
            made = _exact(influence.value)
        _VARIABLES[influence.id] = (influence, made)
        return
    joint: Joint = influence.joint
    for member, variable in zip(joint.members(), correlated_values(joint.values, joint.covariance), strict=True):
        # Another joint, or a single influence, may have been met under this id before.
        same_facts(_VARIABLES.setdefault(member.id, (member, variable))[0], member)
        _ORIGINS.update(dict.fromkeys(variable.derivatives, joint))


def parts_of(number: uncertainties.UFloat, label: str) -> tuple[float, dict[str, float], dict[str, Influence]]:
    """Return value, sensitivities and influences of a ufloat.

    A variable that this library gave out is the influence it stands for; any other becomes an influence of its own, the
    same one each time it is met in this process.

    Raises
    ------
    DomainError
        If it is no ufloat, or its value is not finite.
    DataError
        If the standard deviation of a variable was changed after it was first met.

    """
    from uncertainties import UFloat

    if not isinstance(number, UFloat):
        raise DomainError(
            "this is not a number of the uncertainties package",
            argument=label,
            given=type(number).__name__,
            remedy="Give a ufloat, or for plain numbers an Influence with value and u.",
        )
    sensitivities: dict[str, float] = {}
    influences: dict[str, Influence] = {}
    joints: dict[str, tuple[Joint, dict[Any, float]]] = {}
    with _LOCK:
        for variable, slope in number.derivatives.items():
            if slope == 0.0 and variable not in _ORIGINS:  # what an exact number is made of
                continue
            origin = _origin_of(variable)
            if isinstance(origin, Joint):
                joints.setdefault(origin.id, (origin, {}))[1][variable] = slope
            else:
                sensitivities[origin.id], influences[origin.id] = slope, origin
        for joint, slopes in joints.values():
            members, of_members = _by_member(joint, slopes)
            influences |= {member.id: member for member in members}
            sensitivities |= dict(zip(joint.member_ids, of_members, strict=True))
    return float(number.nominal_value), sensitivities, influences


def _origin_of(variable: Any) -> Influence | Joint:  # noqa: ANN401  (a class that `uncertainties` does not show)
    known = _ORIGINS.get(variable)
    if isinstance(known, Joint):
        return known
    if known is None:
        id_ = fresh_id(f"ufloat/{str(variable.tag).replace('/', ' ')}" if variable.tag is not None else "ufloat")
        label = str(variable.tag) if variable.tag is not None else "a ufloat without a tag"
        known = Influence(
            id=id_, label=label, value=variable.nominal_value, u=variable.std_dev, source="a number given as a ufloat"
        )
        _ORIGINS[variable], _VARIABLES[id_] = known, (known, variable)
    if variable.std_dev != known.u:
        raise DataError(
            f"the standard deviation of {known.label} is {variable.std_dev:.6g}, and was {known.u:.6g} when first met",
            argument=known.id,
            remedy="Make a new ufloat instead of changing one.",
        )
    return known


def _by_member(joint: Joint, slopes: Mapping[Any, float]) -> tuple[tuple[Influence, ...], list[float]]:
    """Return the members of a joint and the derivatives by them, from those by the variables behind them."""
    members = joint.members()
    rows = [_variable(member).derivatives for member in members]
    behind = list({variable: None for row in rows for variable in row})
    matrix = np.array([[row.get(variable, 0.0) for row in rows] for variable in behind])
    # Where members are determined by others, any solution gives the same variance: the smallest is taken.
    solved, *_ = np.linalg.lstsq(matrix, np.array([slopes.get(variable, 0.0) for variable in behind]), rcond=None)
    return members, [float(slope) for slope in solved]
