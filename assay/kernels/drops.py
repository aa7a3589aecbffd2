"""Drops that are counted and weighed."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


@valid(mass=POSITIVE, density=POSITIVE, drops=(1.0, 1e6), mean_drop_scatter=(-0.9, 10.0))
def drop_volume_from_weighing(mass: Value, density: Value, drops: Value, mean_drop_scatter: Value) -> Value:
    """Return the volume of a drop from the mass of many that were counted.

    Parameters
    ----------
    mass : float or array [g]
        Mass of all the drops, above zero.
    density : float or array [g/L]
        Density of the liquid, above zero.
    drops : float or array [1]
        How many they were.
    mean_drop_scatter : float or array [1]
        By which share their mean exceeds the mean of endless drops.

    Returns
    -------
    float or array [L]
        The volume.

    References
    ----------
    common practice: drops are counted onto a balance.

    Examples
    --------
    >>> round(drop_volume_from_weighing(2.5, 1000.0, 50.0, 0.0), 9)
    5e-05

    """
    return mass / (density * drops * (1.0 + mean_drop_scatter))
