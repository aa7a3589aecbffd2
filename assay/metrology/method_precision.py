"""The precision that a published method states, as influences and as the s of a method."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assay.errors import DomainError
from assay.metrology.influence import Influence
from assay.metrology.replicates import MethodScatter

#: Two results of standard deviation 1 differ by less in 95 % of the cases; ISO 5725-6 rounds it to 2.8.
_LIMIT = 1.959964 * math.sqrt(2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodPrecision:
    """The precision that a published method states, from a study of several laboratories.

    Parameters
    ----------
    repeatability : float
        Standard deviation s_r of results of one laboratory, in the unit of the results or as a share of them.
    reproducibility : float
        Standard deviation s_R of results of different laboratories; not below that.
    laboratories : int
        How many took part.
    source : str
        The method and its edition.

    Raises
    ------
    DomainError
        If a standard deviation is not above zero, that of laboratories is below that within one, or fewer than two took
        part.

    References
    ----------
    [iso-5725-6] 4.1 (limits r and R are 2.8 times the standard deviations), from memory; [iso-21748] their use as an
    uncertainty, from memory.

    Examples
    --------
    >>> method = MethodPrecision.from_limits(r=0.0028, R=0.0056, laboratories=9, source="a standard method")
    >>> round(method.repeatability, 5), round(method.between_laboratories, 5)
    (0.00101, 0.00175)

    """

    repeatability: float
    reproducibility: float
    laboratories: int
    source: str

    def __post_init__(self) -> None:
        """Check the numbers."""
        for argument in ("repeatability", "reproducibility"):
            value = getattr(self, argument)
            if not (math.isfinite(value) and value > 0.0):
                raise DomainError("a standard deviation is finite and above zero", argument=argument, given=value)
        if self.reproducibility < self.repeatability:
            raise DomainError(
                "laboratories cannot agree better than one laboratory with itself",
                argument="reproducibility",
                given=self.reproducibility,
                expected=f"{self.repeatability:g} or more",
                remedy="Are the two exchanged?",
            )
        if self.laboratories < 2:  # noqa: PLR2004  (what differs takes two)
            raise DomainError("two laboratories or more took part", argument="laboratories", given=self.laboratories)

    @classmethod
    def from_limits(cls, *, r: float, R: float, laboratories: int, source: str) -> MethodPrecision:  # noqa: N803  (the trade's symbol)
        """Return it from the limits r and R that two results differ by in 95 % of the cases."""
        return cls(repeatability=r / _LIMIT, reproducibility=R / _LIMIT, laboratories=laboratories, source=source)

    @property
    def between_laboratories(self) -> float:
        """Standard deviation between laboratories, without what each scatters by itself."""
        return math.sqrt(self.reproducibility**2 - self.repeatability**2)

    def between(self, record: str, *, label: str, scale: float = 1.0) -> Influence:
        """Return what a result of one laboratory is off, as an influence of its own.

        Parameters
        ----------
        record : str
            The path of the laboratory's results: the same in all of them, for its bias is the same.
        label : str
            What a person calls them.
        scale : float
            By what the standard deviation is multiplied: the result, where precision is stated as a share of it.

        References
        ----------
        [iso-21748] from memory.

        """
        return Influence(
            id=f"{record}/between laboratories",
            label=f"between laboratories, {label}",
            value=0.0,
            u=self.between_laboratories * abs(scale),
            dof=float(self.laboratories - 1),
            kind="A",
            source=self.source,
        )

    def method_scatter(self, scale: float = 1.0) -> MethodScatter:
        """Return the repeatability, as an assay takes it for its ``method_s``."""
        return MethodScatter(s=self.repeatability * abs(scale))
