"""Titrations to an equivalence point: from the standard to the titrant, from the titrant to the sample.

What reacts with what enters only as equivalents, the moles of titrant that one mole consumes. Iodometry:
IO3- + 5 I- + 6 H+ → 3 I2 + 3 H2O; OCl- + 2 I- + 2 H+ → I2 + Cl- + H2O; I2 + 2 S2O3(2-) → 2 I- + S4O6(2-),
so that one iodate consumes six thiosulfate and one hypochlorite two.
"""

from __future__ import annotations

from assay.kernels.ranges import NOT_NEGATIVE, POSITIVE, valid
from assay.kernels.value import Value


@valid(standard_amount=POSITIVE, equivalents=POSITIVE, titre=NOT_NEGATIVE)
def titrant_concentration_from_standard(
    standard_amount: Value, equivalents: Value, titre: Value, blank: Value
) -> Value:
    """Return the concentration of a titrant from a titrated portion of a primary standard.

    Parameters
    ----------
    standard_amount : float or array [mol]
        Amount of the standard in the portion, above zero.
    equivalents : float or array [1]
        Moles of titrant consumed by one mole of the standard: thiosulfate and iodate, 6.
    titre : float or array [L]
        Volume of titrant to the end point.
    blank : float or array [L]
        Volume that the reagents alone consume.

    Returns
    -------
    float or array [mol/L]
        The concentration; negative where the blank exceeds the titre.

    References
    ----------
    [talbot-1921] Part IV, problem 61: six equivalents for one iodate.

    Examples
    --------
    >>> round(titrant_concentration_from_standard(0.121 / 214.00, 6.0, 0.04164, 0.0), 5)
    0.08147

    """
    return equivalents * standard_amount / (titre - blank)


@valid(
    titrant_concentration=POSITIVE,
    titre=NOT_NEGATIVE,
    equivalents=POSITIVE,
    aliquot_volume=POSITIVE,
    dilution_factor=POSITIVE,
)
def analyte_concentration_from_titre(
    titrant_concentration: Value,
    titre: Value,
    blank: Value,
    equivalents: Value,
    aliquot_volume: Value,
    dilution_factor: Value,
) -> Value:
    """Return the strength of a sample from the titre of an aliquot of its dilution.

    What is titrated is everything that consumes titrant under the conditions, expressed as the named species. For
    hypochlorite in dilute acetic acid, chlorite, bromate, iodate, copper(II) and iron(III) would be counted with it;
    chlorate would not.

    Parameters
    ----------
    titrant_concentration : float or array [mol/L]
        Concentration of the titrant, above zero.
    titre : float or array [L]
        Volume of titrant to the end point.
    blank : float or array [L]
        Volume that the reagents alone consume; a blank above the titre gives a negative strength.
    equivalents : float or array [1]
        Moles of titrant consumed by one mole of the species: thiosulfate and hypochlorite, 2.
    aliquot_volume : float or array [L]
        Volume of the portion that was titrated, above zero.
    dilution_factor : float or array [1]
        Concentration of the sample over that of the aliquot, above zero.

    Returns
    -------
    float or array [mol/L]
        The strength before dilution.

    References
    ----------
    [usp-32-hypochlorite] Sodium Hypochlorite Solution, Assay: blank deducted; 1 mL of 0.1 N thiosulfate for 3.722 mg
    of NaClO, which is two equivalents for one hypochlorite.

    Examples
    --------
    >>> c = analyte_concentration_from_titre(0.09892, 0.00896, 0.0, 2.0, 0.025, 40.0)
    >>> round(c * 74.44 / 10, 2)  # per cent w/v as sodium hypochlorite
    5.28

    """
    in_aliquot = titrant_concentration * (titre - blank) / (equivalents * aliquot_volume)
    return in_aliquot * dilution_factor


def equivalents_in_aliquot_from_titre(titrant_concentration: Value, titre: Value, blank: Value) -> Value:
    """Return the amount of titrant that an aliquot consumed.

    Parameters
    ----------
    titrant_concentration : float or array [mol/L]
        Concentration of the titrant.
    titre : float or array [L]
        Volume of titrant to the end point.
    blank : float or array [L]
        Volume that the reagents alone consume.

    Returns
    -------
    float or array [mol]
        The amount.

    References
    ----------
    common practice: concentration times net volume.

    Examples
    --------
    >>> round(equivalents_in_aliquot_from_titre(0.1, 0.025, 0.0), 6)
    0.0025

    """
    return titrant_concentration * (titre - blank)


def titre_at_equivalence_from_end_point(titre: Value, end_point_excess: Value) -> Value:
    """Return the titre at the equivalence point from that at which the colour was seen.

    Parameters
    ----------
    titre : float or array [L]
        Titre at the end point.
    end_point_excess : float or array [L]
        Titrant delivered beyond the equivalence point; negative if the colour comes early.

    Returns
    -------
    float or array [L]
        The titre at the equivalence point.

    References
    ----------
    [eurachem-cg4] Example A3, bias of the visual end point: an excess of 0.05 mL with u = 0.03 mL.

    Examples
    --------
    >>> round(titre_at_equivalence_from_end_point(0.01864, 0.00005), 5)
    0.01859

    """
    return titre - end_point_excess


@valid(titrant_concentration=POSITIVE, known_titre=NOT_NEGATIVE)
def titrant_concentration_from_comparison(
    titrant_concentration: Value, known_titre: Value, titre: Value, blank: Value
) -> Value:
    """Return the concentration of a titrant from titres of like portions with it and with a known one.

    Parameters
    ----------
    titrant_concentration : float or array [mol/L]
        Concentration of the known titrant, above zero.
    known_titre : float or array [L]
        Titre with the known titrant.
    titre : float or array [L]
        Titre with the other.
    blank : float or array [L]
        Volume that the reagents alone consume of either; like strengths are assumed.

    Returns
    -------
    float or array [mol/L]
        The concentration of the other.

    References
    ----------
    common practice: equal amounts are titrated, so strengths are inversely as titres.

    Examples
    --------
    >>> round(titrant_concentration_from_comparison(0.1, 0.025, 0.0245, 0.0), 6)
    0.102041

    """
    return titrant_concentration * (known_titre - blank) / (titre - blank)
