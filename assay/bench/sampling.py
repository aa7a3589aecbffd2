"""How the tested portion was taken: without it a result speaks of the portion, not of the container."""

from __future__ import annotations

from dataclasses import dataclass

from assay.errors import DataError, DomainError
from assay.units import Written, read


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """How a portion was taken from its container, and how long it waited.

    Parameters
    ----------
    method : str
        How it was taken, such as ``"drum rolled, 100 mL drawn through the tap after 50 mL to waste"``.
    delay : str or quantity
        Time from sampling to titration, such as ``"20 min"``.

    Raises
    ------
    DataError
        If the method is empty.
    UnitError
        If the delay is not a time.
    DomainError
        If it is negative.

    References
    ----------
    common practice: a result speaks of the container only if it is told how the portion was taken.

    Examples
    --------
    >>> Sampling(method="drum rolled, drawn through the tap", delay="20 min").sentence()
    'Sampling: drum rolled, drawn through the tap; titrated after 20 min.'

    """

    method: str
    delay: Written

    def __post_init__(self) -> None:
        """Check that something is said."""
        if not self.method.strip():
            raise DataError("say how the portion was taken", argument="method", given=self.method)
        if read(self.delay, "time", argument="delay") < 0.0:
            raise DomainError(
                "a delay is not negative",
                argument="delay",
                given=str(self.delay),
                remedy="Are the two times exchanged?",
            )

    def sentence(self) -> str:
        """Return what was stated, as a line of a report."""
        return f"Sampling: {self.method.strip()}; titrated after {self.delay}."
