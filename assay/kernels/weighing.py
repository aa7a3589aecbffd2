"""From balance readings to mass and amount."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


def mass_from_readings(
    gross_reading: Value,
    tare_reading: Value,
    gross_linearity: Value,
    tare_linearity: Value,
    gross_repeatability: Value,
    tare_repeatability: Value,
) -> Value:
    """Return the mass of a portion weighed by difference, as weighed in air: not corrected for buoyancy.

    The linearity error enters twice, once for each load, and so does the repeatability.

    Parameters
    ----------
    gross_reading : float or array [g]
        Reading of vessel and portion.
    tare_reading : float or array [g]
        Reading of the vessel alone, or after the portion was tipped out.
    gross_linearity : float or array [g]
        Linearity error at the gross load.
    tare_linearity : float or array [g]
        Linearity error at the tare load.
    gross_repeatability : float or array [g]
        Repeatability and rounding error of the gross reading.
    tare_repeatability : float or array [g]
        Repeatability and rounding error of the tare reading.

    Returns
    -------
    float or array [g]
        The mass.

    References
    ----------
    [eurachem-cg4] Example A2, weighing by difference with the linearity counted twice.

    Examples
    --------
    >>> round(mass_from_readings(60.5450, 60.1562, 0.0, 0.0, 0.0, 0.0), 4)
    0.3888

    """
    gross = gross_reading - gross_linearity - gross_repeatability
    tare = tare_reading - tare_linearity - tare_repeatability
    return gross - tare


def mass_from_indicated_mass(
    mass: Value, gross_eccentricity: Value, tare_eccentricity: Value, relative_drift: Value
) -> Value:
    """Return the mass of a portion from that by the readings, where the balance errs in further ways.

    Parameters
    ----------
    mass : float or array [g]
        Mass by the readings.
    gross_eccentricity : float or array [g]
        Error of the gross load because it does not stand in the middle.
    tare_eccentricity : float or array [g]
        The same of the tare load.
    relative_drift : float or array [1]
        Share by which the balance reads too much since it was adjusted.

    Returns
    -------
    float or array [g]
        The mass, as weighed in air.

    References
    ----------
    common practice: the errors that a certificate of a balance lists beside linearity and repeatability.

    Examples
    --------
    >>> round(mass_from_indicated_mass(0.3888, 0.0001, 0.0, 2e-6), 7)
    0.3886992

    """
    return (mass - gross_eccentricity + tare_eccentricity) * (1.0 - relative_drift)


@valid(mass=POSITIVE, purity=POSITIVE, molar_mass=POSITIVE)
def amount_from_mass(mass: Value, purity: Value, molar_mass: Value) -> Value:
    """Return the amount of a named substance in a weighed portion.

    Parameters
    ----------
    mass : float or array [g]
        Mass of the portion, above zero.
    purity : float or array [g/g]
        Mass fraction of the named substance, above zero; draws of a purity of 1.0000 ± 0.0005 exceed 1.
    molar_mass : float or array [g/mol]
        Molar mass of the named substance, above zero.

    Returns
    -------
    float or array [mol]
        The amount.

    References
    ----------
    [eurachem-cg4] Example A2, equation for the amount of the weighed standard.

    Examples
    --------
    >>> round(amount_from_mass(0.121, 1.0, 214.00), 8)
    0.00056542

    """
    return mass * purity / molar_mass
