"""Amounts delivered and volumes to deliver."""

from __future__ import annotations

from assay.kernels.ranges import NOT_NEGATIVE, POSITIVE, valid
from assay.kernels.value import Value


def delivered_amount_from_volume(amount_concentration: Value, volume: Value) -> Value:
    """Return the amount that a volume of reagent delivers.

    Parameters
    ----------
    amount_concentration : float or array [mol/L]
        Strength of the reagent.
    volume : float or array [L]
        Volume really delivered.

    Returns
    -------
    float or array [mol]
        The amount.

    References
    ----------
    common practice: strength times volume.

    Examples
    --------
    >>> delivered_amount_from_volume(2.0, 0.25)
    0.5

    """
    return amount_concentration * volume


@valid(required_amount=NOT_NEGATIVE, amount_concentration=POSITIVE, fills=(1.0, 1e6))
def set_volume_from_amount(
    required_amount: Value, amount_concentration: Value, fills: Value, volume_error: Value, setting_error: Value
) -> Value:
    """Return the volume to set on a dispenser so that exactly the required amount is delivered.

    It is the inverse of `delivered_amount_from_volume` after `dispensed_volume_from_setting`: evaluated on drawn
    inputs, its quantiles are the volumes that meet the requirement with a stated probability.

    Parameters
    ----------
    required_amount : float or array [mol]
        Amount to deliver.
    amount_concentration : float or array [mol/L]
        Strength of the reagent, above zero.
    fills : float or array [1]
        Number of fillings of the dispenser.
    volume_error : float or array [L]
        True volume less set volume, of one filling.
    setting_error : float or array [L]
        Error of setting to the graduation, of all fillings together.

    Returns
    -------
    float or array [L]
        The volume to set.

    References
    ----------
    common practice: amount over strength, less what the dispenser adds by itself.

    Examples
    --------
    >>> set_volume_from_amount(0.5, 2.0, 1.0, 0.001, 0.0)
    0.249

    """
    return required_amount / amount_concentration - fills * volume_error - setting_error


@valid(reagent_amount=NOT_NEGATIVE, equivalents=NOT_NEGATIVE)
def required_amount_from_equivalents(reagent_amount: Value, equivalents: Value) -> Value:
    """Return the amount to deliver for a number of molar equivalents of another reagent.

    Parameters
    ----------
    reagent_amount : float or array [mol]
        Amount of the reagent that is to be met.
    equivalents : float or array [1]
        Moles to deliver for each mole of that reagent.

    Returns
    -------
    float or array [mol]
        The amount to deliver.

    References
    ----------
    common practice: equivalents of a preparative recipe are moles for each mole of the limiting reagent.

    Examples
    --------
    >>> round(required_amount_from_equivalents(0.1, 1.2), 3)
    0.12

    """
    return reagent_amount * equivalents
