"""The end point: which indicator, and whose eye."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

from assay.data import table
from assay.errors import DataError, DomainError, nearest
from assay.flags import Flag
from assay.kernels.density import mass_from_volume
from assay.kernels.titration import titre_at_equivalence_from_end_point
from assay.metrology.batch import evaluate_like
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.substances.species import Species
from assay.units import Written, read

_Measured = TypeVar("_Measured", Estimate, EstimateBatch)
#: g/L: near enough for a fraction of a drop. Common practice.
DENSITY_OF_DILUTE_TITRANT = 1000.0
#: L: ten drops, beyond which nothing is called an end point. Common practice.
FARTHEST = 0.0005
#: Quantity in the table of indicators that those of acids and bases have, and starch has not.
_EXPONENT = "titration exponent"


@dataclass(frozen=True, slots=True)
class EndPoint:
    """An indicator's end point as one person sees it: the same person and indicator are the same influence.

    What is meant is the habit of an eye: how far beyond (or before) the equivalence point it stops, titration after
    titration. Where one person judged both the standardisation and the assay with one indicator, most of it cancels;
    where two did, it does not. A blank titrated to the same colour takes it off each titre, so that it cancels exactly:
    its line in the budget is then zero, and so is the effect of ``excess``. The scatter between the judgements of one
    person is no part of ``u``: replicate titres show it in their standard deviation, a single titre has it in its
    ``method_s``, and a single blank takes it from the titres, so that it is counted once wherever it belongs.

    Parameters
    ----------
    indicator : str
        Name in the table of indicators, such as ``"phenolphthalein"``.
    operator : str, optional
        Who judged the colour, by initials or a number; without it, nobody is recognised again.
    excess : str or quantity
        Titrant usually delivered beyond the equivalence point, a volume of at most 0.5 mL either way; zero if it is not
        known.
    u : str or quantity
        Standard uncertainty of that, a volume of at most 0.5 mL; not the scatter between single titrations.

    Raises
    ------
    DataError
        If the indicator is not in the table.
    UnitError
        If a volume has no unit.
    DomainError
        If the uncertainty is negative, or either is more than ten drops.

    References
    ----------
    [eurachem-cg4] Example A3: a visual end point is judged within u = 0.03 mL, often 0.05 mL late; common practice for
    the limit of ten drops.

    Examples
    --------
    >>> EndPoint("phenolphthalein", operator="K").colours
    'colourless to pink'

    """

    indicator: str
    operator: str | None = field(default=None, kw_only=True)
    excess: Written = field(default="0.00 mL", kw_only=True)
    u: Written = field(default="0.03 mL", kw_only=True)
    _excess: Estimate = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look the indicator up and read the excess."""
        rows = [row for row in table("indicators").rows if row.index["indicator"] == self.indicator]
        if not rows:
            known = {row.index["indicator"] for row in table("indicators").rows}
            raise DataError(
                "not in the table of indicators.", argument="indicator", given=self.indicator,
                remedy=nearest(self.indicator, known),
            )  # fmt: skip
        late = read(self.excess, "volume", argument="excess")
        wide = read(self.u, "volume", argument="u")
        if wide < 0.0:
            raise DomainError("a standard uncertainty is not negative", argument="u", given=str(self.u))
        for argument, given, value in (("excess", self.excess, late), ("u", self.u, wide)):
            if abs(value) > FARTHEST * (1.0 + 1e-9):
                raise DomainError(
                    "no eye ends a titration so far from the equivalence point: a drop is about 0.05 mL",
                    argument=argument,
                    given=str(given),
                    expected=f"at most {1000.0 * FARTHEST:g} mL",
                    remedy="Check the number and its unit; what the reagents consume is titrated as a blank.",
                )
        who = (
            fresh_id("operator")
            if self.operator is None
            else f"operator/{path_part(self.operator, argument='operator')}"
        )
        influence = Influence(
            id=f"{who}/{self.indicator}/end point",
            label=f"colour judgement, {self.indicator}, {self.operator or 'operator not named'}",
            value=late,
            u=wide,
            source="judgement of a visual end point, shared by all that this operator judged",
        )
        object.__setattr__(self, "_excess", Estimate.from_influence(influence, name="end_point_excess"))

    @property
    def colours(self) -> str:
        """The change of colour, from the lower to the higher pH."""
        row = next(row for row in table("indicators").rows if row.index["indicator"] == self.indicator)
        return f"{row.index['first_colour']} to {row.index['second_colour']}"

    def corrected(self, titre: _Measured, unit: str) -> _Measured:
        """Return a titre in L or g, or a batch, at the equivalence point; a dilute titrant weighs a gram per mL."""
        excess = self._excess
        if unit == "g":
            excess = evaluate(
                mass_from_volume, name="mass", label=excess.label, volume=excess, density=DENSITY_OF_DILUTE_TITRANT
            )
        return evaluate_like(
            titre,
            titre_at_equivalence_from_end_point,
            "titre",
            name=titre.name,
            label=titre.label,
            end_point_excess=excess,
        )

    @property
    def acid_base(self) -> bool:
        """Whether its colour goes by the pH; that of starch goes by iodine."""
        return self.indicator in acid_base_indicators()

    def sentence(self, *, with_blank: bool = False) -> str:
        """Return what was stated, for a traceability line, and what a blank to the same colour makes of it."""
        told = f"{self.indicator} ({self.colours}), judged by {self.operator or 'an operator not named'}"
        if not with_blank:
            return told
        return (
            f"{told}; the blank was titrated to the same colour, so what this eye sees late or early cancels, and the "
            "scatter between its judgements is that of the titres"
        )

    def flags_for(self, species: Species) -> tuple[Flag, ...]:
        """Return a blocking flag if the indicator changes away from the equivalence point of a species."""
        return self._unsuitable(species.name, species.indicators)

    def _unsuitable(self, what: str, suitable: tuple[str, ...]) -> tuple[Flag, ...]:
        if self.indicator in suitable:
            return ()
        message = (
            f"{self.indicator} changes its colour away from the equivalence point of {what}: use "
            f"{' or '.join(suitable)}."
        )
        return (Flag(code="indicator-unsuitable", message=message, blocking=True),)


def acid_base_indicators() -> tuple[str, ...]:
    """Return the indicators whose colour goes by the pH."""
    return tuple(row.index["indicator"] for row in table("indicators").rows if row.index["quantity"] == _EXPONENT)


def check_end_point(end_point: object) -> None:
    """Refuse what is not an end point, before anything is read from it.

    Raises
    ------
    DataError
        If it is not an `EndPoint`.

    """
    if isinstance(end_point, EndPoint):
        return
    name = end_point if isinstance(end_point, str) else "phenolphthalein"
    raise DataError(
        "the indicator is not named" if end_point is None else "this is not an end point",
        argument="end_point",
        given=end_point,
        expected="an EndPoint, which names the indicator and who judged its colour",
        remedy=f"Write EndPoint(indicator={name!r}, operator='…').",
    )


def standardising_flags(end_point: EndPoint | None, *, what: str, suitable: tuple[str, ...]) -> tuple[Flag, ...]:
    """Return the flags of the end point of a standardisation.

    Parameters
    ----------
    end_point : EndPoint or None
        Indicator and operator.
    what : str
        What is titrated, or the titrant where that is not known.
    suitable : tuple of str
        The indicators that change at its equivalence point.

    Raises
    ------
    DomainError
        If an indicator of acids and bases is named for iodine, whose end point is that of starch.

    """
    by_ph = any(indicator in acid_base_indicators() for indicator in suitable)
    if end_point is None:
        if not by_ph:
            return ()
        message = (
            f"no indicator is named for {what}: whether its colour changes at the equivalence point cannot be told. "
            f"Use {' or '.join(suitable)}, and name it with who judged it."
        )
        return (Flag(code="end-point-not-named", message=message),)
    if end_point.acid_base and not by_ph:
        raise DomainError(
            f"the end point of iodometry is that of {' or '.join(suitable)}: {end_point.indicator} shows no iodine",
            argument="end_point",
            given=end_point.indicator,
            expected=" or ".join(repr(indicator) for indicator in suitable),
            remedy=f"Leave it out for {what}, or check which standard was titrated.",
        )
    return end_point._unsuitable(what, suitable)  # noqa: SLF001  (of the same file)
