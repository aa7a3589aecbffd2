"""A titrant: its concentration, and what it shares with every assay that uses it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise

from assay.display.numbers import degrees, measured, plus_minus, significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.flags import Flag, refuse_blocked
from assay.metrology.budget import Budget
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.substances.chain import Link, parts_of, taken_from
from assay.substances.strength import Strength

#: Facts of an assay that tell of its sample, not of what is titrated with it later.
_OF_THE_SAMPLE = ("label", "label strength", "sampling")


@told_as_rows(indent="")
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
    chain : tuple of Link
        The titrants between the primary standard and this one, the one against the standard first; empty if this one
        was standardised against it.

    References
    ----------
    common practice: a titrant leads back to a primary standard.

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("acid").titrant
    <Titrant 'sodium hydroxide (2026-11-17 sodium hydroxide)': 0.10037 mol/L, u = 0.00025 mol/L, dof = ∞>

    """

    name: str
    estimate: Estimate
    facts: Mapping[str, str] = field(default_factory=dict)
    chain: tuple[Link, ...] = ()

    @property
    def links(self) -> tuple[Link, ...]:
        """The titrants before it, and itself at the end."""
        return (*self.chain, Link(name=self.name, estimate=self.estimate, facts=self.facts))

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
        return replace(self, estimate=self.estimate.accepting(code, because=because))

    @property
    def unit(self) -> str:
        """In what its titres are measured: L or g."""
        return self.estimate.unit.removeprefix("mol/")

    def entry(self) -> Entry:
        """Return what is saved of it."""
        before, parts = parts_of(self.chain)
        return Entry(
            kind="titrant", facts={**self.facts, **before, "name": self.name}, estimate=self.estimate, parts=parts
        )

    @classmethod
    def from_entry(cls, entry: Entry) -> Titrant:
        """Return a titrant from what was saved of it."""
        facts = dict(entry.facts)
        chain = taken_from(facts, entry.parts)
        # Files of the first release have the name under another key.
        name = facts.pop("name") if "name" in facts else facts.pop("titrant")
        return cls(name=name, estimate=entry.estimate, facts=facts, chain=chain)

    def traceability(self, level: float = 0.95) -> tuple[str, ...]:
        """Return how it leads back to a primary standard: a sentence for each titrant on the way, itself the last."""
        links = self.links
        first = _sentence(links[0], _standard(links[0].facts), level)
        return (first, *(_sentence(link, _before(link, previous), level) for previous, link in pairwise(links)))

    def rows(self, level: float = 0.95) -> Rows:
        """Return its strength as a row of text."""
        e = self.estimate
        shown = plus_minus(e.value, e.expanded(level), e.unit)
        return Rows(
            title=f"{self.label}: titrant, U at {100 * level:g} %",
            head=("value ± U", "u", "k", "dof"),
            body=((shown, significant(e.u), f"{e.coverage_factor(level):.2f}", degrees(e.coverage_dof)),),
        )

    def __repr__(self) -> str:
        return measured(self.estimate, kind="Titrant")

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
        facts = {key: fact for key, fact in strength.facts.items() if key not in _OF_THE_SAMPLE}
        estimate = replace(strength.estimate, name=name)
        return cls(name=strength.species.name, estimate=estimate, facts=facts, chain=strength.chain)

    def _last_lines(self) -> tuple[str, ...]:
        return self.traceability()


def _sentence(link: Link, against: str, level: float) -> str:
    e = link.estimate
    end_point = f"; end point: {link.facts['end point']}" if "end point" in link.facts else ""
    drift = f"; {link.facts['drift']}" if "drift" in link.facts else ""
    return (
        f"{e.label}, {plus_minus(e.value, e.expanded(level), e.unit)} (k = {e.coverage_factor(level):.2f}, "
        f"{degrees(e.coverage_dof)} degrees of freedom), {against}{end_point}{drift}."
    )


def _standard(facts: Mapping[str, str]) -> str:
    """Return against what the first of a chain stands; a file of the first release names its titrant alone."""
    if "compared with" in facts:
        return f"compared with {facts['compared with']}"
    if "titrant" in facts:
        return f"against {facts['titrant']}"
    if "standard" not in facts:
        return "against a standard that is not stated"
    return (
        f"against {facts['standard']}, lot {facts.get('lot', 'not stated')}, purity "
        f"{facts.get('purity', 'not stated')}; atomic weights {facts.get('atomic weights', 'not stated')}"
    )


def _before(link: Link, previous: Link) -> str:
    label = previous.estimate.label
    return f"{'compared with' if link.facts.get('compared with') == label else 'against'} {label}"
