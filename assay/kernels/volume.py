"""From readings and markings to the volume really delivered or contained."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


@valid(upper_knot_weight=(0.0, 1.0))
def scale_error_from_knots(lower_knot_error: Value, upper_knot_error: Value, upper_knot_weight: Value) -> Value:
    """Return the scale deviation of a burette between two knots, by linear interpolation.

    Interpolation keeps the deviation within the limits that hold at the knots.

    Parameters
    ----------
    lower_knot_error : float or array [L]
        Deviation at the knot below the reading.
    upper_knot_error : float or array [L]
        Deviation at the knot above the reading.
    upper_knot_weight : float or array [1]
        Distance from the knot below over the knot spacing, 0 to 1.

    Returns
    -------
    float or array [L]
        The deviation.

    References
    ----------
    common practice: a burette's correction is interpolated linearly between the calibrated points.

    Examples
    --------
    >>> scale_error_from_knots(0.0, 0.04, 0.25)
    0.01

    """
    return lower_knot_error + upper_knot_weight * (upper_knot_error - lower_knot_error)


def scale_error_from_point(scale_error: Value, point_deviation: Value, point_share: Value) -> Value:
    """Return the deviation of a scale with what one of its calibrated points adds to it.

    Parameters
    ----------
    scale_error : float or array [L]
        Deviation without that point.
    point_deviation : float or array [L]
        Deviation at the point.
    point_share : float or array [1]
        By how much it counts at the reading: 1 at the point, nothing from its neighbours on.

    Returns
    -------
    float or array [L]
        The deviation.

    References
    ----------
    common practice: a burette's correction is interpolated linearly between the calibrated points.

    Examples
    --------
    >>> scale_error_from_point(0.0, 0.04, 0.25)
    0.01

    """
    return scale_error + point_deviation * point_share


def delivered_volume_from_readings(
    final_reading: Value, initial_reading: Value, final_scale_error: Value, initial_scale_error: Value
) -> Value:
    """Return the volume that a burette really delivered between two readings.

    Parameters
    ----------
    final_reading : float or array [L]
        Reading at the end point.
    initial_reading : float or array [L]
        Reading before the titration.
    final_scale_error : float or array [L]
        Scale deviation at the final reading.
    initial_scale_error : float or array [L]
        Scale deviation at the initial reading.

    Returns
    -------
    float or array [L]
        The volume.

    References
    ----------
    [iso-385-2005] The limit of error holds at any point of the scale and for the difference between any two (from
    memory).

    Examples
    --------
    >>> round(delivered_volume_from_readings(0.02435, 0.0, 1e-5, 0.0), 8)
    0.02436

    """
    return (final_reading + final_scale_error) - (initial_reading + initial_scale_error)


def volume_error_from_volume(volume: Value, nominal_volume: Value) -> Value:
    """Return true volume less nominal volume of ware whose volume was found.

    Parameters
    ----------
    volume : float or array [L]
        The volume found.
    nominal_volume : float or array [L]
        Volume marked on the glass.

    Returns
    -------
    float or array [L]
        The error.

    References
    ----------
    [eurachem-cg4] Example A3, volume as nominal value plus calibration error.

    Examples
    --------
    >>> round(volume_error_from_volume(0.01002, 0.010), 6)
    2e-05

    """
    return volume - nominal_volume


def drifted_error_from_volume_error(
    volume_error: Value, yearly_drift: Value, elapsed_years: Value, share_of_scale: Value
) -> Value:
    """Return true volume less nominal volume of ware some time after it was found.

    Parameters
    ----------
    volume_error : float or array [L]
        The error on the day when it was found.
    yearly_drift : float or array [L]
        By how much it changes in a year, at a mark or at the end of a scale.
    elapsed_years : float or array [1]
        Time since then over a year.
    share_of_scale : float or array [1]
        Reading over the end of the scale, as what a scale drifts grows from its zero; 1 at a mark.

    Returns
    -------
    float or array [L]
        The error.

    References
    ----------
    common practice: what is stated of the drift between two calibrations grows evenly with the time. That it grows
    evenly along a scale is a choice of this library.

    Examples
    --------
    >>> round(drifted_error_from_volume_error(2e-5, 4e-6, 0.5, 1.0), 9)
    2.2e-05

    """
    return volume_error + yearly_drift * elapsed_years * share_of_scale


def volume_from_nominal(nominal_volume: Value, volume_error: Value) -> Value:
    """Return the volume that a one-mark vessel really holds or delivers.

    Parameters
    ----------
    nominal_volume : float or array [L]
        Volume marked on the glass.
    volume_error : float or array [L]
        True volume less nominal volume.

    Returns
    -------
    float or array [L]
        The volume.

    References
    ----------
    [eurachem-cg4] Example A3, volume as nominal value plus calibration error.

    Examples
    --------
    >>> round(volume_from_nominal(0.010, 2e-5), 6)
    0.01002

    """
    return nominal_volume + volume_error


@valid(nominal_volume=POSITIVE, fills=(1.0, 1e6))
def dispensed_volume_from_setting(
    nominal_volume: Value, fills: Value, volume_error: Value, setting_error: Value
) -> Value:
    """Return the volume that a dispenser really delivers when set to a total volume in a number of equal fillings.

    The error of the scale is the same in every filling of the same vessel and so multiplies; the error of setting is
    new each time, and is stated here for the whole.

    Parameters
    ----------
    nominal_volume : float or array [L]
        Total volume that is set, above zero.
    fills : float or array [1]
        Number of fillings, 1 or more.
    volume_error : float or array [L]
        True volume less set volume, of one filling.
    setting_error : float or array [L]
        Error of setting to the graduation, of all fillings together.

    Returns
    -------
    float or array [L]
        The volume.

    References
    ----------
    common practice: a systematic error of a vessel is counted as often as the vessel is filled.

    Examples
    --------
    >>> round(dispensed_volume_from_setting(0.200, 2.0, 1e-4, 0.0), 6)
    0.2002

    """
    return nominal_volume + fills * volume_error + setting_error
