"""One saved result, as the rooms that make results hand it to the file and get it back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assay.metrology.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One saved result.

    Parameters
    ----------
    kind : str
        What it is: ``"estimate"``, or the kind that another room gives it.
    facts : mapping of str to str
        What that room needs to make it again.
    estimate : Estimate
        The number.
    parts : mapping of str to Estimate
        Other numbers that belong to it, such as a density.

    """

    kind: str
    facts: Mapping[str, str]
    estimate: Estimate
    parts: Mapping[str, Estimate] = field(default_factory=dict)

    @property
    def numbers(self) -> tuple[Estimate, ...]:
        """All numbers that belong to it."""
        return (self.estimate, *self.parts.values())
