"""The assurance of a dose, by brute force.

Strength, tolerance and setting are drawn here from their stated distributions, without the library's sampler. What is
looked at is the share of draws in which strength times real volume meets the requirement: not below the stated one at
the volume given, and not above it, but for a margin, one graduation nearer to what is asked.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import special

from assay import Burette, Cylinder, DosedVolume, Estimate, Influence, Pipette, Strength, combine, dose
from assay.substances.species import HYPOCHLORITE

DRAWS = 100_000
#: Draws from which the library takes its quantiles; it moves them by 3 standard errors to the safe side.
LIBRARY_DRAWS = 200_000
CONCENTRATION = 2.0

RELATIVE = [0.002, 0.01, 0.03, 0.1]
ASSURANCES = [0.90, 0.95, 0.99]


@dataclass(frozen=True)
class Part:
    """One independent part of the strength's uncertainty: share of u, shape, degrees of freedom."""

    share: float
    shape: str = "normal"
    dof: float = math.inf

    def drawn(self, generator: np.random.Generator, u: float) -> np.ndarray:
        if math.isfinite(self.dof):
            return self.share * u * generator.standard_t(self.dof, DRAWS)
        if self.shape == "rectangular":
            return self.share * u * math.sqrt(3.0) * generator.uniform(-1.0, 1.0, DRAWS)
        return self.share * u * generator.standard_normal(DRAWS)


HALF = math.sqrt(0.5)
COMPOSITIONS = {
    "normal": [Part(1.0)],
    "dof 5": [Part(1.0, dof=5.0)],
    "dof 2": [Part(1.0, dof=2.0)],
    "rectangular": [Part(1.0, "rectangular")],
    "mostly rectangular": [Part(math.sqrt(0.9), "rectangular"), Part(math.sqrt(0.1))],
    "dof 2 and rectangular": [Part(HALF, dof=2.0), Part(HALF, "rectangular")],
}

# capacity, division, tolerance, mL: one with hardly any rounding, one as it is made (class B), one set more coarsely
# than it is made, with two fillings or more.
DISPENSERS = {"fine": (250.0, 0.01, 2.0), "as made": (250.0, 2.0, 2.0), "coarse": (50.0, 1.0, 0.02)}


def generator(*case: object) -> np.random.Generator:
    return np.random.default_rng(zlib.crc32(repr(case).encode()))


def strength(parts: list[Part], u: float) -> Strength:
    influences = [
        Influence(id=f"part {k}", label=f"part {k}", value=0.0, u=part.share * u, shape=part.shape, dof=part.dof)
        for k, part in enumerate(parts)
    ]
    estimates = [Estimate.from_influence(influence, name="value") for influence in influences]
    return Strength(
        species=HYPOCHLORITE,
        estimate=combine(lambda *deviations: sum(deviations, CONCENTRATION), *estimates, unit="mol/L", label="drum"),
    )


def cylinder(kind: str) -> Cylinder:
    capacity, division, tolerance = DISPENSERS[kind]
    return Cylinder("C", capacity=f"{capacity} mL", subdivision=f"{division} mL", tolerance=f"{tolerance} mL")


def errors(kind: str, fills: int, rng: np.random.Generator) -> np.ndarray:
    """Return drawn real volume less set volume, L: one tolerance in every filling, a new setting in each."""
    _, division, tolerance = DISPENSERS[kind]
    scale = rng.uniform(-tolerance, tolerance, DRAWS)
    settings = rng.uniform(-division / 2.0, division / 2.0, (fills, DRAWS)).sum(axis=0)
    return (fills * scale + settings) / 1000.0


def standard_error(p: float, draws: int) -> float:
    return math.sqrt(p * (1.0 - p) / draws)


def share_met(kind: str, amount: float, delivered: np.ndarray) -> float:
    return float(np.mean(delivered >= amount) if kind == "at least" else np.mean(delivered <= amount))


def check_promise(kind: str, amount: float, assurance: float, delivered: np.ndarray) -> None:
    """Check that the amount delivered meets the requirement as often as stated, to three standard errors."""
    assert share_met(kind, amount, delivered) >= assurance - 3.0 * standard_error(assurance, DRAWS)


def check_not_overdone(kind: str, amount: float, assurance: float, delivered: np.ndarray) -> None:
    """Check that what one graduation nearer would deliver breaks the promise, or keeps it by no more than the margin.

    The margin is six standard errors of the library's draws (three by its rule, three for their luck), three of these.
    """
    margin = 6.0 * standard_error(assurance, LIBRARY_DRAWS) + 3.0 * standard_error(assurance, DRAWS)
    assert share_met(kind, amount, delivered) <= assurance + margin


def nearer(volume: DosedVolume, graduation: float) -> float:
    """Return the volume one graduation nearer to what is asked, L; each of several equal fillings moves by one."""
    step = volume.fills * graduation / 1000.0
    return volume.volume - step if volume.kind == "at least" else volume.volume + step


@pytest.mark.parametrize("assurance", ASSURANCES)
@pytest.mark.parametrize("relative", RELATIVE)
@pytest.mark.parametrize("composition", COMPOSITIONS)
@pytest.mark.parametrize("kind", ["fine", "as made"])
def test_promise_kept_and_not_overdone(kind: str, composition: str, relative: float, assurance: float) -> None:
    parts, u = COMPOSITIONS[composition], relative * CONCENTRATION
    _, division, _ = DISPENSERS[kind]
    # The as-made cylinder rounds by up to 2 mL, which may hide what is missing: four targets within a graduation.
    for shift in (0.0,) if kind == "fine" else (0.0, 0.5, 1.0, 1.5):
        amount = CONCENTRATION * (120.0 + shift) / 1000.0
        found = dose(
            strength(parts, u),
            deliver=f"{amount:.6f} mol OCl-",
            dispenser=cylinder(kind),
            into="water",
            assurance=assurance,
        )
        assert found.at_least is not None
        assert found.at_most is not None
        for volume in (found.at_least, found.at_most):
            rng = generator(kind, composition, relative, assurance, shift, volume.kind)
            concentration = CONCENTRATION + sum(part.drawn(rng, u) for part in parts)
            error = errors(kind, volume.fills, rng)
            check_promise(volume.kind, amount, assurance, concentration * (volume.volume + error))
            less = nearer(volume, division)
            error = errors(kind, math.ceil(less / 0.250 - 1e-9), rng)
            check_not_overdone(volume.kind, amount, assurance, concentration * (less + error))


@pytest.mark.parametrize("assurance", ASSURANCES)
@pytest.mark.parametrize("fillings", [2, 3, 8])
def test_promise_kept_where_several_settings_are_all_that_is_uncertain(fillings: int, assurance: float) -> None:
    """Errors of several settings add to a bell, whose tails reach further than one rectangle of the same u."""
    for shift in np.linspace(0.0, 1.0, 11):
        amount = CONCENTRATION * (50.0 * fillings - 8.0 + shift) / 1000.0
        found = dose(
            strength([Part(1.0)], 1e-6),
            deliver=f"{amount:.6f} mol OCl-",
            dispenser=cylinder("coarse"),
            into="water",
            assurance=assurance,
        )
        for volume in (found.at_least, found.at_most):
            rng = generator("coarse", fillings, assurance, shift, volume.kind)
            concentration = CONCENTRATION + 1e-6 * rng.standard_normal(DRAWS)
            error = errors("coarse", volume.fills, rng)
            check_promise(volume.kind, amount, assurance, concentration * (volume.volume + error))


@pytest.mark.parametrize("assurance", ASSURANCES)
def test_promise_kept_by_fillings_of_a_pipette(assurance: float) -> None:
    """Its one error is in every filling; whole fillings are rounded to the safe side."""
    pipette = Pipette("P10", capacity="10 mL", tolerance="0.4 mL")
    for volume_needed in np.arange(121.0, 131.0, 1.0):
        amount = CONCENTRATION * volume_needed / 1000.0
        found = dose(
            strength([Part(1.0)], 0.02),
            deliver=f"{amount:.6f} mol OCl-",
            dispenser=pipette,
            into="water",
            assurance=assurance,
        )
        for volume in (found.at_least, found.at_most):
            rng = generator("pipette", assurance, volume_needed, volume.kind)
            concentration = CONCENTRATION + 0.02 * rng.standard_normal(DRAWS)
            error = rng.uniform(-0.4, 0.4, DRAWS) / 1000.0
            assert volume.volume == pytest.approx(volume.fills * 0.010, rel=1e-12)
            delivered = concentration * volume.fills * (0.010 + error)
            check_promise(volume.kind, amount, assurance, delivered)
            fills = volume.fills - 1 if volume.kind == "at least" else volume.fills + 1
            check_not_overdone(volume.kind, amount, assurance, concentration * fills * (0.010 + error))


KNOTS = np.linspace(0.0, 50.0, 21)


def at(reading: float) -> np.ndarray:
    """Return the share of each knot in the deviation at a reading, mL."""
    return np.maximum(1.0 - np.abs(KNOTS - reading) / 2.5, 0.0)


def scale_deviations(rng: np.random.Generator) -> np.ndarray:
    """Return drawn deviations of a burette's scale at its knots, -1 to 1: the ranks of correlated normal scores."""
    scores = np.exp(-(np.subtract.outer(KNOTS, KNOTS) ** 2) / (2.0 * 5.0**2)) + 1e-9 * np.eye(KNOTS.size)
    return special.erf(np.linalg.cholesky(scores) @ rng.standard_normal((KNOTS.size, DRAWS)) / math.sqrt(2.0))


@pytest.mark.parametrize("assurance", ASSURANCES)
def test_promise_kept_by_a_burette_that_also_titrated(assurance: float) -> None:
    """Strength is proportional to a titre of 25 mL on the burette that dispenses: both share its scale."""
    limit, titre = 1.0, 25.0  # mL: a limit so wide that the burette is all that counts
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", tolerance=f"{limit} mL")
    concentration = combine(
        lambda v: CONCENTRATION * v / (titre / 1000.0),
        burette.titre(f"{titre:.2f} mL").volume(),
        unit="mol/L",
        label="drum",
    )
    amount = CONCENTRATION * 40.0 / 1000.0
    found = dose(
        Strength(species=HYPOCHLORITE, estimate=concentration),
        deliver=f"{amount:.6f} mol OCl-",
        dispenser=burette,
        into="water",
        assurance=assurance,
    )
    rng = generator("burette", assurance)
    deviation = limit * scale_deviations(rng) * (KNOTS > 0.0)[:, None]  # mL, at the knots; nothing at zero
    drawn = CONCENTRATION * (1.0 + (at(titre) - at(0.0)) @ deviation / titre)
    for volume in (found.at_least, found.at_most):
        assert volume.fills == 1
        setting = rng.uniform(-0.025, 0.025, DRAWS)
        for set_volume, checked in [(volume.volume, check_promise), (nearer(volume, 0.05), check_not_overdone)]:
            error = ((at(1000.0 * set_volume) - at(0.0)) @ deviation + setting) / 1000.0
            checked(volume.kind, amount, assurance, drawn * (set_volume + error))
