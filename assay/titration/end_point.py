"""The end point: which indicator, and whose eye."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

from assay.data import table
from assay.errors import DataError, nearest
from assay.flags import Flag
from assay.kernels.density import mass_from_volume
from assay.kernels.titration import titre_at_equivalence_from_end_point
from assay.metrology.batch import evaluate_like
from assay.metrology.estimate import Estimate, evaluate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.influence import Influence, fresh_id, path_part
from assay.substances.species import Species
from assay.units import Written, read

_Measured = TypeVar("_Measured", Estimate, EstimateBatch)
#: g/L: near enough for a fraction of a drop. Common practice.
DENSITY_OF_DILUTE_TITRANT = 1000.0


@dataclass(frozen=True, slots=True)
class EndPoint:
    """An indicator's end point as one person sees it: the same person and indicator are the same influence.

    Where one person judged both the standardisation and the assay with one indicator, most of the judgement cancels;
    where two did, it does not.

    Parameters
    ----------
    indicator : str
        Name in the table of indicators, such as ``"phenolphthalein"``.
    operator : str, optional
        Who judged the colour, by initials or a number; without it, nobody is recognised again.
    excess : str or quantity
        Titrant usually delivered beyond the equivalence point, a volume; zero if it is not known.
    u : str or quantity
        Standard uncertainty of that, a volume.

    Raises
    ------
    DataError
        If the indicator is not in the table.
    UnitError
        If a volume has no unit.

    References
    ----------
    [eurachem-cg4] Example A3: a visual end point is judged within u = 0.03 mL, often 0.05 mL late.

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
        who = (
            fresh_id("operator")
            if self.operator is None
            else f"operator/{path_part(self.operator, argument='operator')}"
        )
        influence = Influence(
            id=f"{who}/{self.indicator}/end point",
            label=f"colour judgement, {self.indicator}, {self.operator or 'operator not named'}",
            value=read(self.excess, "volume", argument="excess"),
            u=read(self.u, "volume", argument="u"),
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

    def sentence(self) -> str:
        """Return what was stated, for a traceability line."""
        return f"{self.indicator} ({self.colours}), judged by {self.operator or 'an operator not named'}"

    def flags_for(self, species: Species) -> tuple[Flag, ...]:
        """Return a blocking flag if the indicator changes away from the equivalence point of a species."""
        if self.indicator in species.indicators:
            return ()
        message = (
            f"{self.indicator} changes its colour away from the equivalence point of {species.name}: use "
            f"{' or '.join(species.indicators)}."
        )
        return (Flag(code="indicator-unsuitable", message=message, blocking=True),)
