"""Many assays at once, against scripts with partial derivatives worked out by hand for just these formulas.

Ours and the script have the same inputs ready as arrays, and give value, u and degrees of freedom of each row.
"""

from __future__ import annotations

import math
import tracemalloc
from functools import cache

import chain
import numpy as np

from assay.bench.burette import Burette
from assay.bench.titre_batch import TitreBatch
from assay.bench.vessels import Flask, Pipette
from assay.kernels.dilution import amount_from_aliquot, concentration_from_amount, dilution_factor_from_volumes
from assay.kernels.titration import analyte_concentration_from_titre, titrant_concentration_from_standard
from assay.kernels.weighing import amount_from_mass
from assay.metrology.batch import evaluate_batch
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.titration.assays import Dilution
from assay.titration.batch import assay_hypochlorite_batch
from assay.titration.titrant import Titrant

ROWS = 100_000
REPLICATES = 3
Found = tuple[np.ndarray, np.ndarray, np.ndarray]


# ---------------------------------------------------------------- eleven influences, each of them another in every row
@cache
def _arrays(rows: int) -> dict[str, tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Return value, u and degrees of freedom of each input of the chain, by name, for each row."""
    generator = np.random.default_rng(1)
    found = {}
    for name, value, u, dof in chain.INPUTS:
        spread = generator.uniform(0.9, 1.1, rows)
        found[name] = (value * spread, u * generator.uniform(0.9, 1.1, rows), np.full(rows, dof))
    return found


@cache
def _columns(rows: int) -> dict[str, EstimateBatch]:
    return {
        name: EstimateBatch.one_per_row(value, u, dof=math.inf if np.isinf(dof[0]) else dof, label=name, record=name)
        for name, (value, u, dof) in _arrays(rows).items()
    }


def chain_ours(rows: int = ROWS) -> Found:
    """Return value, u and degrees of freedom of the whole chain by the library."""
    x = _columns(rows)
    amount = evaluate_batch(
        amount_from_mass, name="amount", label="n", mass=x["mass"], purity=x["purity"], molar_mass=x["molar_mass"]
    )
    solution = evaluate_batch(
        concentration_from_amount, name="standard_concentration", label="c", amount=amount, made_up_volume=x["flask"]
    )
    taken = evaluate_batch(
        amount_from_aliquot,
        name="standard_amount",
        label="n",
        standard_concentration=solution,
        aliquot_volume=x["pipette"],
    )
    titrant = evaluate_batch(
        titrant_concentration_from_standard,
        name="titrant_concentration",
        label="t",
        standard_amount=taken,
        equivalents=6.0,
        titre=x["titre"],
        blank=x["blank"],
    )
    factor = evaluate_batch(
        dilution_factor_from_volumes,
        name="dilution_factor",
        label="F",
        taken_volume=x["sample_pipette"],
        made_up_volume=x["sample_flask"],
    )
    strength = evaluate_batch(
        analyte_concentration_from_titre,
        name="amount_concentration",
        label="c",
        titrant_concentration=titrant,
        titre=x["sample_titre"],
        blank=x["sample_blank"],
        equivalents=2.0,
        aliquot_volume=x["pipette"],
        dilution_factor=factor,
    )
    return strength.value, strength.u, strength.dof


def chain_peer(rows: int = ROWS) -> Found:
    """Return the same by partial derivatives worked out by hand; the pipette cancels."""
    x = _arrays(rows)
    m, w, molar, flask, p, t, t0, taken, made_up, s, s0 = (value for value, _, _ in x.values())
    net, sample = t - t0, s - s0
    y = 6.0 * (m * w / molar) / flask * p / net * sample / (2.0 * p) * (made_up / taken)
    partials = (
        y / m, y / w, -y / molar, -y / flask, np.zeros(rows), -y / net, y / net,
        -y / taken, y / made_up, y / sample, -y / sample,
    )  # fmt: skip
    variance, loss = np.zeros(rows), np.zeros(rows)
    for partial, (_, u, dof) in zip(partials, x.values(), strict=True):
        part = (partial * u) ** 2
        variance += part
        if np.isfinite(dof[0]):
            loss += part**2 / dof
    return y, np.sqrt(variance), variance**2 / loss


# ------------------------------------------------------ eleven influences, of which a titre and its blank are of a row
SHARED = [name for name, *_ in chain.INPUTS[:9]]


@cache
def _shared() -> dict[str, Estimate]:
    return {
        name: Estimate.from_influence(Influence(id=name, label=name, value=value, u=u, dof=dof), name="value")
        for name, value, u, dof in chain.INPUTS[:9]
    }


def shared_ours(rows: int = ROWS) -> Found:
    """Return value, u and degrees of freedom by the library: what all rows share is worked out once."""
    x, own = _shared(), _columns(rows)
    amount = evaluate(
        amount_from_mass, name="amount", label="n", mass=x["mass"], purity=x["purity"], molar_mass=x["molar_mass"]
    )
    solution = evaluate(
        concentration_from_amount, name="standard_concentration", label="c", amount=amount, made_up_volume=x["flask"]
    )
    taken = evaluate(
        amount_from_aliquot,
        name="standard_amount",
        label="n",
        standard_concentration=solution,
        aliquot_volume=x["pipette"],
    )
    titrant = evaluate(
        titrant_concentration_from_standard,
        name="titrant_concentration",
        label="t",
        standard_amount=taken,
        equivalents=6.0,
        titre=x["titre"],
        blank=x["blank"],
    )
    factor = evaluate(
        dilution_factor_from_volumes,
        name="dilution_factor",
        label="F",
        taken_volume=x["sample_pipette"],
        made_up_volume=x["sample_flask"],
    )
    strength = evaluate_batch(
        analyte_concentration_from_titre,
        name="amount_concentration",
        label="c",
        titrant_concentration=titrant,
        titre=own["sample_titre"],
        blank=own["sample_blank"],
        equivalents=2.0,
        aliquot_volume=x["pipette"],
        dilution_factor=factor,
    )
    return strength.value, strength.u, strength.dof


def shared_peer(rows: int = ROWS) -> Found:
    """Return the same by partial derivatives worked out by hand, as numbers where all rows share an input."""
    m, w, molar, flask, p, t, t0, taken, made_up = (_shared()[name].value for name in SHARED)
    (s, u_s, dof_s), (s0, u_s0, dof_s0) = (_arrays(rows)[name] for name in ("sample_titre", "sample_blank"))
    slope = 6.0 * (m * w / molar) / flask * p / (t - t0) / (2.0 * p) * (made_up / taken)
    y = slope * (s - s0)
    relative = (1.0 / m, 1.0 / w, -1.0 / molar, -1.0 / flask, 0.0, -1.0 / (t - t0), 1.0 / (t - t0), -1.0 / taken,
                1.0 / made_up)  # fmt: skip
    variance, loss = np.zeros(rows), np.zeros(rows)
    for partial, (_, _, u, dof) in zip(relative, chain.INPUTS[:9], strict=True):
        part = (y * (partial * u)) ** 2
        variance += part
        if math.isfinite(dof):
            loss += part**2 / dof
    for u, dof in ((u_s, dof_s), (u_s0, dof_s0)):
        part = (slope * u) ** 2
        variance += part
        loss += part**2 / dof
    return y, np.sqrt(variance), variance**2 / loss


# ------------------------------------------------------------------------ triplicates of one term, from their readings
@cache
def _bench() -> tuple[Titrant, Burette, Pipette, Flask]:
    known = Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.0001, dof=4.0)
    titrant = Titrant(name="thiosulfate", estimate=Estimate.from_influence(known, name="titrant_concentration"))
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    return titrant, burette, Pipette("P10", capacity="10 mL"), Flask("F250", capacity="250 mL")


@cache
def _readings(rows: int) -> np.ndarray:
    """Return titres in mL, of shape (rows, replicates), read to 0.05 mL."""
    generator = np.random.default_rng(2)
    true = generator.uniform(15.0, 30.0, (rows, 1)) + generator.normal(0.0, 0.06, (rows, REPLICATES))
    return np.round(true * 20.0) / 20.0


def assay_ours(rows: int = ROWS) -> Found:
    """Return the strengths of many samples by the library."""
    titrant, burette, pipette, flask = _bench()
    batch = assay_hypochlorite_batch(
        titrant,
        aliquot=pipette,
        titres=TitreBatch(burette=burette, final=_readings(rows), unit="mL"),
        dilutions=[Dilution(pipette, flask)],
        blank=burette.titre("0.05 mL"),
        record="term",
    )
    return batch.value, batch.u, batch.dof


def assay_peer(rows: int = ROWS) -> Found:
    """Return the same by a script that knows this assay, its instruments and their covariances."""
    titrant, burette, pipette, flask = _bench()
    c, u_c, dof_c = titrant.estimate.value, titrant.estimate.u, titrant.estimate.dof
    p, u_p = pipette.volume().value, pipette.volume().u
    f, u_f = flask.volume().value, flask.volume().u
    covariance = np.array(burette.scale.joint.covariance)
    step_u, spacing = 0.05e-3 / math.sqrt(12.0), 2.5e-3
    finals = _readings(rows).T / 1000.0
    good = (np.isfinite(finals) & (finals > 0.0) & (finals <= 0.05)).all(axis=0)
    mean = finals.sum(axis=0) / REPLICATES
    s = np.sqrt(np.square(finals - finals[0] - (mean - finals[0])).sum(axis=0) / (REPLICATES - 1))
    s = np.where((finals == finals[0]).all(axis=0), 0.0, s)
    blank = 0.05e-3
    # Without the rounding that it holds; the rounding itself averages as far as the scatter shows it.
    estimated = np.maximum(s * s - step_u**2, 0.0)
    y = c * (mean - blank) / (2.0 * p) * (f / p)
    slope = c / (2.0 * p) * (f / p)
    scatter = estimated / REPLICATES + estimated
    shared = np.maximum(step_u**2 - s * s, 0.0)
    hidden = shared + (step_u**2 - shared) / REPLICATES + step_u**2
    # The scale: the mean of the deviations at the ends of the titres, less that at the end of the blank; the starts
    # are at zero, and cancel.
    weights = np.zeros((covariance.shape[0], rows))
    every = np.arange(rows)
    for final in finals:
        place = final / spacing
        lower = np.minimum(np.floor(place + 1e-9).astype(int), covariance.shape[0] - 2)
        above = np.clip(place - lower, 0.0, 1.0)
        weights[lower, every] += (1.0 - above) / REPLICATES
        weights[lower + 1, every] += above / REPLICATES
    weights[0] -= 1.0 - blank / spacing
    weights[1] -= blank / spacing
    scale = (weights * (covariance @ weights)).sum(axis=0)
    known = slope**2 * (hidden + scale) + y * y * (4.0 * (u_p / p) ** 2 + (u_f / f) ** 2)
    scatter, of_titrant = slope**2 * scatter, (y / c * u_c) ** 2
    variance = known + scatter + of_titrant
    nu = np.where(estimated > 0.0, REPLICATES - 1.0, np.inf)
    dof = variance**2 / (scatter**2 / nu + of_titrant**2 / dof_c)
    for array in (y, variance, dof):
        array[~good] = np.nan
    return y, np.sqrt(variance), dof


# -------------------------------------------------------------------------------------------------------------- memory
def _peak_for_each(rows: int) -> float:
    """Return the bytes that each assay needs at most while all of them are worked out."""
    _readings(rows)
    tracemalloc.start()
    assay_ours(rows)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / rows


def memory_of_few() -> float:
    """Return the bytes for each of so many assays."""
    return _peak_for_each(ROWS)


def memory_of_many() -> float:
    """Return the bytes for each of twice as many."""
    return _peak_for_each(2 * ROWS)
