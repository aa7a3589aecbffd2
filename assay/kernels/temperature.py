"""Volumes at another temperature than 20 °C."""

from __future__ import annotations

from assay.kernels.value import Value


def volume_at_20_from_volume(volume: Value, expansion_difference: Value, temperature_difference: Value) -> Value:
    """Return the volume that a liquid has at 20 °C from what its ware indicates at another temperature.

    The ware grows with the temperature and the liquid grows more: what was measured warm is less at 20 °C.

    Parameters
    ----------
    volume : float or array [L]
        Volume as indicated by ware that is marked for 20 °C.
    expansion_difference : float or array [1/K]
        Cubic expansion of the ware less that of the liquid.
    temperature_difference : float or array [K]
        Temperature of the liquid less 20 °C.

    Returns
    -------
    float or array [L]
        The volume at 20 °C.

    References
    ----------
    [eurachem-cg4] Example A1, effect of temperature on volumes (2.1e-4 per K, the expansion of the glass neglected
    there).

    Examples
    --------
    >>> round(volume_at_20_from_volume(0.025, 1.0e-5 - 2.1e-4, 5.0), 7)
    0.024975

    """
    return volume * (1.0 + expansion_difference * temperature_difference)


def expansion_difference_from_coefficients(ware_expansion: Value, liquid_expansion: Value) -> Value:
    """Return the expansion of the ware less that of the liquid in it.

    Parameters
    ----------
    ware_expansion : float or array [1/K]
        Cubic expansion coefficient of the ware.
    liquid_expansion : float or array [1/K]
        Cubic expansion coefficient of the liquid.

    Returns
    -------
    float or array [1/K]
        The difference.

    References
    ----------
    common practice: what the ware gains is not seen as volume of the liquid.

    Examples
    --------
    >>> round(expansion_difference_from_coefficients(1e-5, 2.1e-4), 6)
    -0.0002

    """
    return ware_expansion - liquid_expansion
