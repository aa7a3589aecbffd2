"""Brute force of `dose`: the amount delivered, drawn from the stated distributions, meets the requirement as promised.

The draws are numpy's alone: the strength from the shape of its one influence (a scaled t where its degrees of freedom
are few), the dispenser from its class limit and its graduation. Bound: the promised assurance less three standard
errors.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from assay.bench.burette import Burette
from assay.bench.vessels import Cylinder, Pipette
from assay.dosing.dispenser import Dispenser
from assay.dosing.dose import dose
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.shapes import Array, Generator
from assay.substances.species import HYPOCHLORITE
from assay.substances.strength import Strength

DRAWS = 100_000
STRENGTH = 1.5  # mol/L, invented

# Class limits in L, written out here: ISO 4788 class B 100 mL, ISO 648 class B 5 mL, ISO 385 class B 50 mL; and the
# half-steps to which each is set.
LIMITS = {"cylinder": (1.0e-3, 0.5e-3), "pipette": (3.0e-5, 0.0), "burette": (1.0e-4, 2.5e-5)}


def _dispensers() -> dict[str, Dispenser]:
    return {
        "cylinder": Cylinder("study", capacity="100 mL", subdivision="1 mL"),
        "pipette": Pipette("study", capacity="5 mL"),
        "burette": Burette("study", capacity="50 mL", subdivision="0.1 mL"),
    }


def _strengths(generator: Generator, shape: str, dof: float, u: float) -> Array:
    if math.isfinite(dof):
        return STRENGTH + u * generator.standard_t(dof, DRAWS)
    if shape == "rectangular":
        return STRENGTH + u * math.sqrt(3.0) * generator.uniform(-1.0, 1.0, DRAWS)
    return STRENGTH + u * generator.standard_normal(DRAWS)


def rows(full: bool) -> Iterator[str]:  # noqa: FBT001  (the one switch of every study)
    """Yield one row for each cell and kind of volume."""
    generator = np.random.default_rng(20261125)
    relative = (0.002, 0.005, 0.01, 0.02, 0.05, 0.10) if full else (0.002, 0.03, 0.10)
    shapes = (("normal", math.inf), ("rectangular", math.inf), ("normal", 2.0), ("normal", 5.0), ("normal", 20.0))
    kinds = ("cylinder", "pipette", "burette") if full else ("cylinder",)
    levels = (0.90, 0.95, 0.99) if full else (0.90, 0.99)
    dispensers = _dispensers()
    for kind, (shape, dof), r, level in itertools.product(kinds, shapes if full else shapes[1:3], relative, levels):
        u = r * STRENGTH
        influence = Influence(
            id=f"study/{shape}/{dof}/{r}", label="strength", value=STRENGTH, u=u, shape=shape, dof=dof
        )
        estimate = Estimate.from_influence(influence, name="amount_concentration")
        strength = Strength(species=HYPOCHLORITE, estimate=estimate)
        found = dose(strength, deliver="0.0600 mol OCl-", into="water", dispenser=dispensers[kind], assurance=level)
        drawn = _strengths(generator, shape, dof, u)
        limit, half_step = LIMITS[kind]
        for volume in (found.at_least, found.at_most):
            cell = f"{kind:9} {shape:11} dof {dof:4g} u {100 * r:4g} % promised {100 * level:g} %"
            if volume is None:
                yield f"  {cell}: no such volume"
                continue
            error = volume.fills * limit * generator.uniform(-1.0, 1.0, DRAWS)
            error += half_step * math.sqrt(volume.fills) * generator.uniform(-1.0, 1.0, DRAWS)
            delivered = drawn * (volume.volume + error)
            met = np.mean(delivered >= 0.06) if volume.kind == "at least" else np.mean(delivered <= 0.06)
            bound = level - 3.0 * math.sqrt(level * (1.0 - level) / DRAWS)
            mark = " " if met >= bound else "!"
            yield f"{mark} {cell}, {volume.kind:8} {1000 * volume.volume:7.3f} mL: met {100 * met:.2f} %"
