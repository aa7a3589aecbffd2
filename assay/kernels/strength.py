"""One strength in several bases."""

from __future__ import annotations

from assay.kernels.ranges import POSITIVE, valid
from assay.kernels.value import Value


def molar_mass_from_atomic_weights(*atomic_weight: Value, counts: tuple[int, ...]) -> Value:
    """Return the molar mass of a formula.

    Atoms of one element share one atomic weight, so their uncertainty adds up instead of averaging out.

    Parameters
    ----------
    *atomic_weight : float or array [g/mol]
        Standard atomic weight of each element of the formula.
    counts : tuple of int
        Atoms of each element, in the same order.

    Returns
    -------
    float or array [g/mol]
        The molar mass.

    References
    ----------
    [eurachem-cg4] Example A2, Step 3, molar mass of potassium hydrogen phthalate.

    Examples
    --------
    >>> round(molar_mass_from_atomic_weights(22.98976928, 15.999, 35.45, counts=(1, 1, 1)), 3)
    74.439

    """
    total: Value = 0.0
    for weight, count in zip(atomic_weight, counts, strict=True):
        total = total + count * weight
    return total


@valid(molar_mass=POSITIVE, entities=POSITIVE)
def mass_concentration_from_amount_concentration(
    amount_concentration: Value, molar_mass: Value, entities: Value
) -> Value:
    """Return a strength as grams of a named substance in a litre.

    Parameters
    ----------
    amount_concentration : float or array [mol/L]
        Amount concentration of the species.
    molar_mass : float or array [g/mol]
        Molar mass of the named substance, above zero.
    entities : float or array [1]
        Entities of the named substance that stand for one of the species: one Cl2 for one OCl-.

    Returns
    -------
    float or array [g/L]
        The mass concentration.

    References
    ----------
    [bp-strong-hypochlorite] Assay: 1 mL of 0.1 M thiosulfate for 3.545 mg of available chlorine, so one Cl2 for one
    OCl-.

    Examples
    --------
    >>> round(mass_concentration_from_amount_concentration(1.0, 70.90, 1.0), 2)
    70.9

    """
    return amount_concentration * entities * molar_mass


@valid(molar_mass=POSITIVE, entities=POSITIVE)
def mass_fraction_from_amount_content(amount_content: Value, molar_mass: Value, entities: Value) -> Value:
    """Return a strength as grams of a named substance in a gram of solution.

    Parameters
    ----------
    amount_content : float or array [mol/g]
        Amount of the species in a gram.
    molar_mass : float or array [g/mol]
        Molar mass of the named substance, above zero.
    entities : float or array [1]
        Entities of the named substance that stand for one of the species.

    Returns
    -------
    float or array [g/g]
        The mass fraction.

    References
    ----------
    common practice: amount times molar mass, per gram.

    Examples
    --------
    >>> round(mass_fraction_from_amount_content(0.001, 36.458, 1.0), 6)
    0.036458

    """
    return amount_content * entities * molar_mass


def stated_value_from_value(value: Value, scale: Value) -> Value:
    """Return a mass concentration or fraction in the unit in which it is stated: per cent, milligrams per kilogram.

    Parameters
    ----------
    value : float or array [1]
        Mass concentration or mass fraction, in g/L or g/g.
    scale : float or array [1]
        Units of the stated basis in one g/L or g/g: 0.1 for per cent w/v, 100 for per cent w/w, 1e6 for mg/kg.

    Returns
    -------
    float or array [1]
        The value as it is stated.

    References
    ----------
    common practice: the trade per cent of hypochlorite is grams of available chlorine per litre over ten.

    Examples
    --------
    >>> stated_value_from_value(125.0, 0.1)
    12.5

    """
    return value * scale


@valid(scale=POSITIVE, molar_mass=POSITIVE, entities=POSITIVE)
def inner_value_from_stated_value(value: Value, scale: Value, molar_mass: Value, entities: Value) -> Value:
    """Return the amount of the species per litre or per gram that a stated value stands for.

    Parameters
    ----------
    value : float or array [1]
        The value as it is stated, in the unit of its basis.
    scale : float or array [1]
        Units of the stated basis in one g/L or g/g, above zero.
    molar_mass : float or array [g/mol]
        Molar mass of the named substance, above zero.
    entities : float or array [1]
        Entities of the named substance that stand for one of the species.

    Returns
    -------
    float or array [1]
        The amount, in mol/L or mol/g.

    References
    ----------
    common practice: the inverse of `stated_value_from_value` and the kernels before it.

    Examples
    --------
    >>> round(inner_value_from_stated_value(12.5, 0.1, 70.90, 1.0), 4)
    1.763

    """
    return value / scale / (entities * molar_mass)
