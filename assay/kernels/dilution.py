"""Taking a volume and making it up to a larger one."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


@valid(taken_volume=POSITIVE, made_up_volume=POSITIVE)
def dilution_factor_from_volumes(taken_volume: Value, made_up_volume: Value) -> Value:
    """Return the factor by which a concentration falls.

    Parameters
    ----------
    taken_volume : float or array [L]
        Volume taken from the more concentrated solution, above zero.
    made_up_volume : float or array [L]
        Volume to which it is made up, above zero.

    Returns
    -------
    float or array [1]
        Concentration before over concentration after.

    References
    ----------
    common practice: the amount is the same before and after.

    Examples
    --------
    >>> round(dilution_factor_from_volumes(0.010, 0.250), 12)
    25.0

    """
    return made_up_volume / taken_volume


@valid(taken_volume=POSITIVE, made_up_volume=POSITIVE)
def dilution_factor_from_deliveries(
    dilution_factor: Value,
    taken_volume: Value,
    made_up_volume: Value,
    taken_deviation: Value,
    made_up_deviation: Value,
) -> Value:
    """Return the factor by which a concentration falls in one dilution, by what was new in it.

    Parameters
    ----------
    dilution_factor : float or array [1]
        The factor by the volumes that the ware has on average.
    taken_volume, made_up_volume : float or array [L]
        These volumes, above zero.
    taken_deviation, made_up_deviation : float or array [L]
        By how much what was taken, and what was made up, was more in this dilution.

    Returns
    -------
    float or array [1]
        Concentration before over concentration after.

    References
    ----------
    [eurachem-cg4] Example A1: repeatability of filling a flask, beside its calibration.

    Examples
    --------
    >>> round(dilution_factor_from_deliveries(25.0, 0.010, 0.250, 1e-5, 0.0), 3)
    24.975

    """
    taken = taken_volume / (taken_volume + taken_deviation)
    return dilution_factor * taken * (made_up_volume + made_up_deviation) / made_up_volume


def dilution_factor_from_factors(*dilution_factor: Value) -> Value:
    """Return the factor of several dilutions one after another; 1 if there is none.

    Parameters
    ----------
    *dilution_factor : float or array [1]
        Factor of each dilution.

    Returns
    -------
    float or array [1]
        Their product.

    References
    ----------
    common practice: factors of successive dilutions multiply.

    Examples
    --------
    >>> dilution_factor_from_factors(25.0, 10.0)
    250.0

    """
    product: Value = 1.0
    for factor in dilution_factor:
        product = product * factor
    return product


@valid(made_up_volume=POSITIVE)
def concentration_from_amount(amount: Value, made_up_volume: Value) -> Value:
    """Return the amount concentration of a solution made up in a flask.

    Parameters
    ----------
    amount : float or array [mol]
        Amount dissolved.
    made_up_volume : float or array [L]
        Volume of the solution, above zero.

    Returns
    -------
    float or array [mol/L]
        The concentration.

    References
    ----------
    common practice: amount over volume of solution.

    Examples
    --------
    >>> round(concentration_from_amount(0.001, 0.250), 12)
    0.004

    """
    return amount / made_up_volume


def amount_from_aliquot(standard_concentration: Value, aliquot_volume: Value) -> Value:
    """Return the amount in an aliquot.

    Parameters
    ----------
    standard_concentration : float or array [mol/L]
        Concentration of the solution.
    aliquot_volume : float or array [L]
        Volume of the aliquot.

    Returns
    -------
    float or array [mol]
        The amount.

    References
    ----------
    common practice: concentration times volume.

    Examples
    --------
    >>> round(amount_from_aliquot(0.004, 0.025), 12)
    0.0001

    """
    return standard_concentration * aliquot_volume
