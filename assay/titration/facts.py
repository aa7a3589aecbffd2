"""What is kept beside a strength: its label, its titrant, how it was sampled."""

from __future__ import annotations

from assay.bench.sampling import Sampling
from assay.substances.species import Species
from assay.substances.written import read_strength
from assay.titration.titrant import Titrant


def assay_facts(titrant: Titrant, *, species: Species, label: str | None, sampling: Sampling | None) -> dict[str, str]:
    """Return the facts of an assay; the label's strength also as mol/L, exactly."""
    facts = {**titrant.facts, "titrant": titrant.label}
    if label is not None:
        facts["label"] = label
        facts["label strength"] = repr(read_strength(label, argument="label", species=species))
    if sampling is not None:
        facts["sampling"] = sampling.sentence()
    return facts
