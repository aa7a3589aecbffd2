"""Beakers, where nothing better is at hand."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from assay.bench.scale import KnottedScale, Limit, Scale, own_limit
from assay.bench.setting import SetVolume, set_to, setting_error
from assay.bench.temperature import material_of
from assay.bench.ware import read_above_zero
from assay.errors import DomainError, Problems
from assay.metrology.estimate import Estimate
from assay.metrology.identity import fresh_id, path_part
from assay.units import Written, read

_ML = 1000.0
#: Limit of error of a beaker's marks, over its capacity: what is printed on many (common practice).
SHARE = 0.05


@dataclass(frozen=True)
class Beaker:
    """A beaker with marks: good to five hundredths of its capacity, however little is in it.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity, subdivision : str or quantity
        Nominal capacity and the distance of its marks, such as ``"250 mL"`` and ``"25 mL"``.
    read_to : str or quantity, optional
        The step to which it is filled; half a division if not stated (common practice).
    tolerance : str or quantity, optional
        Your own limit of error instead of 5 % of the capacity.
    material : str
        What it is made of, for the effect of temperature; see `Burette`.

    Raises
    ------
    DomainError
        If a volume is not above zero, or the marks are further apart than the capacity.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    common practice: beakers are marked to 5 %, here of the capacity. [jcgm-100-2008] 4.3.7: rectangular.

    Examples
    --------
    >>> Beaker("K1", capacity="250 mL", subdivision="25 mL").measure("100 mL").volume()
    <Estimate '100 mL with beaker K1': 0.1000 L, u = 0.0072 L, dof = ∞>

    """

    name: str | None = None
    capacity: Written = field(kw_only=True)
    subdivision: Written = field(kw_only=True)
    read_to: Written | None = field(default=None, kw_only=True)
    tolerance: Written | None = field(default=None, kw_only=True)
    material: str = field(default="borosilicate", kw_only=True)

    def __post_init__(self) -> None:
        """Read every argument, so that a mistake shows at once."""
        problems = Problems()
        problems.attempt(material_of, self.material)
        read_above_zero(problems, self, "capacity", "subdivision", "read_to", "tolerance")
        problems.raise_any()
        division = read(self.subdivision, "volume", argument="subdivision")
        if not self.step <= division <= self.largest:
            raise DomainError(
                "the step is not above the distance of the marks, nor that above the capacity",
                argument="subdivision",
                given=str(self.subdivision),
                expected=f"{self.step * _ML:g} to {self.largest * _ML:g} mL",
            )
        self.id  # noqa: B018  (evaluated now: a bad name is refused here)

    @cached_property
    def id(self) -> str:
        """The path under which its influences are known."""
        return fresh_id("beaker") if self.name is None else f"beaker/{path_part(self.name, argument='name')}"

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"beaker {'without a name' if self.name is None else self.name}"

    @cached_property
    def largest(self) -> float:
        """Nominal capacity, L."""
        return read(self.capacity, "volume", argument="capacity")

    @cached_property
    def step(self) -> float:
        """The step to which it is filled, L."""
        if self.read_to is None:
            return read(self.subdivision, "volume", argument="subdivision") / 2.0
        return read(self.read_to, "volume", argument="read_to")

    @cached_property
    def _scale(self) -> Scale:
        return KnottedScale.within(self.id, self.label, largest=self.largest, limit=self._limit())

    def _limit(self) -> Limit:
        if self.tolerance is not None:
            return own_limit(self.tolerance)
        most = SHARE * self.largest
        return lambda _: most, f"{100 * SHARE:g} % of its capacity, ±{most * _ML:g} mL, common practice"

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less set volume of one filling, L."""
        return self._scale.error(filling)

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the error of filling to a step in a number of fillings, L."""
        return setting_error(self.id, self.label, half_step=self.step / 2.0, fills=fills, record=record)

    def measure(self, volume: Written) -> SetVolume:
        """Return what it delivers when it is filled to a volume, such as ``"100 mL"``, as an aliquot."""
        return set_to(self, volume)
