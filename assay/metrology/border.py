"""The border to the `uncertainties` package, and the only place that imports it."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import TYPE_CHECKING

from assay.metrology.influence import Influence, Joint, same_facts

if TYPE_CHECKING:
    import uncertainties

# One variable per influence id: this is what keeps a user's own arithmetic correlated. The facts are kept beside it, so
# that an id that changes its facts is noticed.
_VARIABLES: dict[str, tuple[Influence, uncertainties.UFloat]] = {}
_LOCK = threading.Lock()


def ufloat_of(
    value: float, sensitivities: Mapping[str, float], influences: Mapping[str, Influence]
) -> uncertainties.UFloat:
    """Return value plus sensitivities times the deviations of one shared variable per influence."""
    total = _exact(value)
    for id_, sensitivity in sensitivities.items():
        total = total + sensitivity * (_variable(influences[id_]) - influences[id_].value)
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
        made = ufloat(influence.value, influence.u, tag=influence.id) if influence.u > 0.0 else _exact(influence.value)
        _VARIABLES[influence.id] = (influence, made)
        return
    joint: Joint = influence.joint
    for member, variable in zip(joint.members(), correlated_values(joint.values, joint.covariance), strict=True):
        # Another joint, or a single influence, may have been met under this id before.
        same_facts(_VARIABLES.setdefault(member.id, (member, variable))[0], member)
