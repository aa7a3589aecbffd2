"""The titrants that stand between a primary standard and a strength, each known by the one before it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from assay.metrology.estimate import Estimate

_SEPARATOR = "/"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Link:
    """One titrant on the way.

    Parameters
    ----------
    name : str
        What it is: ``"thiosulfate"``.
    estimate : Estimate [mol/L] or [mol/g]
        Its strength.
    facts : mapping of str to str
        What a traceability line needs.

    """

    name: str
    estimate: Estimate
    facts: Mapping[str, str] = field(default_factory=dict)


def parts_of(chain: Sequence[Link]) -> tuple[dict[str, str], dict[str, Estimate]]:
    """Return facts and numbers under which a chain is saved, beside those of what it leads to."""
    facts, parts = {}, {}
    for k, link in enumerate(chain, 1):
        place = f"chain{_SEPARATOR}{k}"
        facts[place] = link.name
        facts |= {f"{place}{_SEPARATOR}{key}": fact for key, fact in link.facts.items()}
        parts[place] = link.estimate
    return facts, parts


def taken_from(facts: dict[str, str], parts: Mapping[str, Estimate]) -> tuple[Link, ...]:
    """Return the chain that was saved, and take its facts away from the others."""
    chain: list[Link] = []
    while (place := f"chain{_SEPARATOR}{len(chain) + 1}") in parts:
        begins = f"{place}{_SEPARATOR}"
        own = {key.removeprefix(begins): facts.pop(key) for key in list(facts) if key.startswith(begins)}
        chain.append(Link(name=facts.pop(place), estimate=parts[place], facts=own))
    return tuple(chain)
