"""The procedure as it is printed: steps in the order that is safe, with the cautions beside them."""

from __future__ import annotations

from assay.data import facts


def cautions(step: str) -> tuple[str, ...]:
    """Return the usual cautions for a step.

    Parameters
    ----------
    step : str
        Such as ``"handling hypochlorite"``, ``"dosing hypochlorite"`` or ``"local codes"``.

    Returns
    -------
    tuple of str
        One sentence each, most important first.

    Raises
    ------
    DataError
        If there are none of this name.

    References
    ----------
    common practice; each row of the table of cautions names its source.

    Examples
    --------
    >>> for line in cautions("thiosulfate waste"):
    ...     print(line)
    Keep thiosulfate waste near neutral: acid turns it into sulfur and sulfur dioxide.
    Reduce leftover iodine with thiosulfate until the colour is gone before it is collected.

    """
    return tuple(row.fact for row in facts("cautions").select(step=step))


def iodometry_procedure() -> tuple[str, ...]:
    """Return the steps of the iodometric assay of hypochlorite, in the order that is safe.

    Returns
    -------
    tuple of str
        One numbered step each.

    References
    ----------
    [usp-32-hypochlorite] and [bp-strong-hypochlorite] Assay: 1 to 2 g of iodide, about 50 mL of water, acetic acid.
    The order, iodide before sample before acid, catches the chlorine as iodine (common practice).

    Examples
    --------
    >>> for line in iodometry_procedure()[2:5]:
    ...     print(line)
    3. Dissolve 2 g of potassium iodide in about 50 mL of water in a conical flask that can be stoppered.
    4. Pipette the aliquot of the diluted sample into the iodide, the tip below the surface.
    5. Only now add 10 mL of 6 mol/L acetic acid; never hydrochloric acid. Stopper the flask and swirl.

    """
    return (
        "1. Work in a fume hood, with goggles and gloves.",
        "2. Dilute the sample with water: at most 5 milliequivalents an aliquot, 50 mL of 0.1 mol/L thiosulfate.",
        "3. Dissolve 2 g of potassium iodide in about 50 mL of water in a conical flask that can be stoppered.",
        "4. Pipette the aliquot of the diluted sample into the iodide, the tip below the surface.",
        "5. Only now add 10 mL of 6 mol/L acetic acid; never hydrochloric acid. Stopper the flask and swirl.",
        "6. Titrate at once with thiosulfate until pale straw, add starch, and go on until the blue is gone for 30 s.",
        "7. Titrate a blank of iodide, water, acid and starch without sample.",
    )


def acid_base_procedure() -> tuple[str, ...]:
    """Return the steps of the assay of an acid or a base, in the order that is safe.

    Returns
    -------
    tuple of str
        One numbered step each.

    References
    ----------
    common practice: a strong sample is diluted by adding it to water, and a carbonate end point is approached, boiled
    and finished cold.

    Examples
    --------
    >>> acid_base_procedure()[1]
    '2. Put plenty of water into the flask first; add the acid or the caustic to it, never water to them.'

    """
    return (
        "1. Wear goggles and gloves; open strong hydrochloric acid and strong ammonia in a fume hood, cooled.",
        "2. Put plenty of water into the flask first; add the acid or the caustic to it, never water to them.",
        "3. Let it cool to the temperature of the room, make up to the mark and mix.",
        "4. Pipette the aliquot, add two drops of the indicator that is named on the sheet, and titrate.",
        "5. Carbonate with methyl orange or bromocresol green: approach the end point, boil, cool and finish.",
        "6. Titrate a blank of the same water and indicator to the same colour.",
    )


def procedure(kind: str) -> tuple[str, ...]:
    """Return the steps of a kind of titration: ``"iodometry"`` or ``"acid-base"``."""
    return {"iodometry": iodometry_procedure, "acid-base": acid_base_procedure}[kind]()
