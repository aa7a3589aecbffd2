"""Steps of a row that go through the library's own titrations: instruments, readings, standards and end points.

Only the value of what they return is compared with a print: the sources of these rows state no uncertainty, so the
instruments have any limits of error that are allowed.
"""

from __future__ import annotations

from typing import Any

from assay.bench.balance import Balance
from assay.bench.burette import Burette, Titre
from assay.bench.vessels import Flask, Pipette
from assay.bench.weighing import Weighing
from assay.checks.operands import Operands
from assay.metrology.estimate import Estimate
from assay.substances.species import SPECIES, Species
from assay.substances.strength import Strength
from assay.titration.acid_base import assay_acid_base, hydroxide_and_carbonate
from assay.titration.assays import Dilution
from assay.titration.end_point import EndPoint
from assay.titration.iodometry import assay_hypochlorite
from assay.titration.standardisation import standardise_by_portions
from assay.titration.standards import PrimaryStandard
from assay.titration.titrant import Titrant

_S = "0.02 mL"


def standardised(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return a titrant's concentration from a portion of a primary standard: ``standardise``, ``mass``, ``titre``."""
    standard = PrimaryStandard(step["standardise"], purity="1 g/g", half_width="0 g/g", edition=operands.edition)
    portions = [(_weighing(operands.given(step["mass"])), _titre(operands.given(step["titre"])))]
    return standardise_by_portions(standard, portions=portions, method_s=_S).estimate


def assayed_hypochlorite(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return a hypochlorite: ``assay`` is its titre, with ``titrant``, ``aliquot``, ``dilutions`` and ``basis``."""
    strength = assay_hypochlorite(
        Titrant(name="thiosulfate", estimate=operands.estimate(step["titrant"], "titrant_concentration")),
        dilutions=[
            Dilution(_pipette(operands.given(taken)), Flask(capacity=operands.given(made_up), accuracy_class="A"))
            for taken, made_up in step.get("dilutions", [])
        ],
        aliquot=_pipette(operands.given(step["aliquot"])),
        titres=[_titre(operands.given(step["assay"]))],
        method_s=_S,
    )
    return strength.in_basis(step["basis"])


def assayed_acid_or_base(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return an acid or a base, mol/L of an ``aliquot`` or mol/g of a ``portion``: ``acid_base`` is the species.

    ``titrant`` and ``titre`` as everywhere; ``blank``; ``indicator`` if it is not phenolphthalein; with ``basis``, in
    that.
    """
    species = SPECIES[step["acid_base"]]
    titre = _titre(operands.given(step["titre"]))
    strength = _strength(operands, step, species, step.get("indicator", "phenolphthalein"), titre)
    return strength.in_basis(step["basis"]) if "basis" in step else strength.estimate


def between_end_points(operands: Operands, step: dict[str, Any]) -> Estimate:
    """Return ``hydroxide`` or ``carbonate`` of a caustic: ``end_points`` says which.

    ``first`` is the titre to phenolphthalein; either ``further`` is what methyl orange takes after it, or ``total`` is
    the titre of methyl orange from the beginning.
    """
    species = SPECIES["sodium hydroxide"]
    first = operands.given(step["first"])
    titre = _titre(operands.given(step["total"])) if "total" in step else _titre(first, operands.given(step["further"]))
    caustic = hydroxide_and_carbonate(
        phenolphthalein=_strength(operands, step, species, "phenolphthalein", _titre(first)),
        methyl_orange=_strength(operands, step, species, "methyl orange", titre),
    )
    found: Estimate = getattr(caustic, step["end_points"])
    return found


def _strength(operands: Operands, step: dict[str, Any], species: Species, indicator: str, titre: Titre) -> Strength:
    titrant = Titrant(name=species.titrant, estimate=operands.estimate(step["titrant"], "titrant_concentration"))
    sample: dict[str, Any] = {"aliquot": None, "titres": (), "portions": ()}
    if "portion" in step:
        sample["portions"] = [(_weighing(operands.given(step["portion"])), titre)]
    else:
        sample["aliquot"] = Pipette(capacity=operands.given(step["aliquot"]), tolerance="0.01 mL")
        sample["titres"] = [titre]
    return assay_acid_base(
        titrant,
        species.name,
        end_point=EndPoint(indicator, operator="published", u="0 mL"),
        blank=_titre(operands.given(step["blank"])) if "blank" in step else None,
        method_s=_S,
        **sample,
    )


def _weighing(mass: str) -> Weighing:
    return Balance(readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg").by_difference(mass, "0 g")


def _titre(volume: str, further: str | None = None) -> Titre:
    # Larger than any printed titre, so that none is refused.
    burette = Burette(capacity="100 mL", subdivision="0.1 mL", tolerance="0.1 mL")
    return burette.titre("0 mL", volume, refilled=[] if further is None else [("0 mL", further)])


def _pipette(capacity: str) -> Pipette:
    return Pipette(capacity=capacity, accuracy_class="A")
