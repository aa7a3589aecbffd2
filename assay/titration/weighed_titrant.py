"""A titrant that is weighed: whether the buoyancy of air was corrected, in its standardisation and where it is used."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assay.bench.weighing import MassTitre
from assay.errors import DomainError
from assay.titration.titres import AnyTitre

#: Under this name stands, among the facts of a titrant that was weighed, as what it was.
WEIGHED_AS = "titrant weighed"


def weighed_fact(titres: Sequence[AnyTitre]) -> dict[str, str]:
    """Return as what the titrant was weighed in its standardisation, if it was.

    Raises
    ------
    DomainError
        If some titres were corrected for buoyancy and others not.

    """
    ways = sorted({_weighed_as(titre) for titre in titres} - {""})
    if len(ways) > 1:
        raise DomainError(
            "the titrant was weighed in different ways",
            argument="titres",
            given=" and ".join(ways),
            remedy="State the density of the titrant for all of its titres, or for none.",
        )
    return {WEIGHED_AS: ways[0]} if ways else {}


def check_weighed_as(facts: Mapping[str, str], titres: Sequence[AnyTitre]) -> None:
    """Refuse titres for which the titrant was weighed otherwise than in its standardisation.

    Raises
    ------
    DomainError
        If it was.

    """
    standardised = facts.get(WEIGHED_AS)
    if standardised is None:
        return
    for titre in titres:
        if _weighed_as(titre) != standardised:
            raise DomainError(
                "the titrant was weighed otherwise when it was standardised: the buoyancy of air would not cancel",
                argument="titres",
                given=f"{titre.shown}, {_weighed_as(titre)}",
                expected=standardised,
                remedy="State the density of the titrant in both, and the same in both, or in neither.",
            )


def _weighed_as(titre: AnyTitre) -> str:
    """Return as what the titrant of a titre by mass was weighed; empty for one by volume."""
    if not isinstance(titre, MassTitre):
        return ""
    density = titre.weighing.density
    return "as read in air" if density is None else f"corrected for the buoyancy of {density / 1000.0:g} g/mL"
