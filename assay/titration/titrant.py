"""A titrant: its concentration, and what it shares with every assay that uses it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from assay.display.numbers import measured
from assay.flags import Flag, refuse_blocked
from assay.metrology.budget import Budget
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.substances.strength import Strength


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Titrant:
    """A standardised titrant: every assay that uses it shares its influences.

    Parameters
    ----------
    name : str
        What it is: ``"thiosulfate"``.
    estimate : Estimate
        Its concentration, mol/L, or its content, mol/g, for titration by mass.
    facts : mapping of str to str
        Standard, lot, purity, atomic weights: what a traceability line needs.

    """

    name: str
    estimate: Estimate
    facts: Mapping[str, str] = field(default_factory=dict)

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self.estimate.label

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data."""
        return self.estimate.flags

    def budget(self) -> Budget:
        """Return the uncertainty budget of the concentration."""
        return self.estimate.budget()

    def accepting(self, code: str, *, because: str) -> Titrant:
        """Return the same titrant with a flag accepted by name, the reason recorded."""
        return Titrant(name=self.name, estimate=self.estimate.accepting(code, because=because), facts=self.facts)

    @property
    def unit(self) -> str:
        """In what its titres are measured: L or g."""
        return self.estimate.unit.removeprefix("mol/")

    def entry(self) -> Entry:
        """Return what is saved of it."""
        return Entry(kind="titrant", facts={**self.facts, "titrant": self.name}, estimate=self.estimate)

    @classmethod
    def from_entry(cls, entry: Entry) -> Titrant:
        """Return a titrant from what was saved of it."""
        facts = dict(entry.facts)
        return cls(name=facts.pop("titrant"), estimate=entry.estimate, facts=facts)

    def __repr__(self) -> str:
        return measured(self.estimate, kind="Titrant")

    def __str__(self) -> str:
        return "\n".join([*(f"! {flag}" for flag in self.flags), str(self.estimate)])

    @classmethod
    def from_strength(cls, strength: Strength) -> Titrant:
        """Return an assayed reagent as a titrant: hydrochloric acid assayed against sodium hydroxide, for example.

        Raises
        ------
        BlockedResultError
            If the strength carries a blocking flag.

        """
        refuse_blocked(strength.flags, what="the strength")
        name = "titrant_content" if strength.per_mass else "titrant_concentration"
        return cls(name=strength.species.name, estimate=replace(strength.estimate, name=name), facts=strength.facts)
