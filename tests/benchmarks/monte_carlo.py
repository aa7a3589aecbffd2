"""Monte Carlo of the demo sheet's whole chain, against a script written by hand for just this chain.

The script has the same inputs, shapes, generators and trials, works in the same chunks, and gives value, u and
interval. It knows what each influence means from its id; everything else is spelled out.
"""

from __future__ import annotations

import hashlib
from functools import cache

import numpy as np
from scipy.special import ndtr

from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.monte_carlo import MonteCarlo
from assay.sheet.run import run_sheet

TRIALS = 1_000_000
BLOCK = 16_384


@cache
def _demo() -> Estimate:
    return run_sheet().strengths["drum 7"].estimate


def ours(trials: int = TRIALS) -> MonteCarlo:
    """Return value, u and interval by the library."""
    return _demo().monte_carlo(trials=trials, seed=1, block=BLOCK)


@cache
def _inputs() -> dict[str, Influence]:
    """Return the influences by short names."""
    found = {}
    for id_, influence in _demo().influences.items():
        parts = id_.split("/")
        if parts[0] == "record":
            parts = [parts[1].rsplit(" ", 1)[-1], *parts[3:]]
        elif "weighing" in parts:
            parts = [*parts[:2], *parts[4:]]
        found["/".join(parts)] = influence
    return found


class _Stream:
    """A generator that is set to the place of a chunk, by as much as `numpy.random.PCG64.jumped` jumps."""

    def __init__(self, id_: str) -> None:
        digest = int.from_bytes(hashlib.sha256(id_.encode()).digest()[:16], "big")
        self.bits = np.random.PCG64(np.random.SeedSequence([1, digest]))
        self.start = self.bits.state
        self.generator = np.random.Generator(self.bits)

    def set_to(self, chunk: int) -> None:
        self.bits.state = self.start
        self.bits.advance(chunk * 0x9E3779B97F4A7C15F39CC0605CEDC835 % 2**128)


def _stream_of(influence: Influence) -> str:
    """Return the name of the stream of an influence; a member of a joint has that of its place."""
    joint = influence.joint
    return influence.id if joint is None else f"{joint.id}#{joint.member_ids.index(influence.id)}"


def peer(trials: int = TRIALS) -> tuple[float, float, float, float]:
    """Return value, u and interval by a script for this chain."""
    x = _inputs()
    streams = {name: _Stream(_stream_of(influence)) for name, influence in x.items() if "burette" not in name}
    joint = x["burette/B1/calibration/0 mL"].joint
    scores = [_Stream(f"{joint.id}#{k}") for k in range(14)]
    scale = np.sqrt(np.diag(joint.covariance))
    # At zero the scale is exact: a score is drawn there, alike to no other, and counts for nothing.
    correlation = np.eye(scale.size)
    above = 2.0 * np.sin(np.pi / 6.0 * np.array(joint.covariance)[1:, 1:] / np.outer(scale[1:], scale[1:]))
    correlation[1:, 1:] = above
    places = [1, 9, 10, 12, 13]
    root = np.linalg.cholesky(correlation)[places, :14]
    amplitude = 2.0 * np.sqrt(3.0) * scale[1]
    result = np.empty(trials)

    def normal(name: str, n: int) -> np.ndarray:
        return x[name].u * streams[name].generator.standard_normal(n)

    def rectangular(name: str, n: int) -> np.ndarray:
        return x[name].value + 2.0 * np.sqrt(3.0) * x[name].u * (streams[name].generator.random(n) - 0.5)

    for chunk, start in enumerate(range(0, trials, BLOCK)):
        n = min(BLOCK, trials - start)
        for stream in (*streams.values(), *scores):
            stream.set_to(chunk)
        normals = root @ np.stack([score.generator.standard_normal(n) for score in scores])
        g2_5, g22_5, g25, g30, g32_5 = amplitude * (ndtr(normals) - 0.5)
        mass = (
            21.4312 - rectangular("balance/W1/linearity/gross", n) - normal("balance/W1/repeatability/gross", n)
        ) - (20.5402 - rectangular("balance/W1/linearity/tare", n) - normal("balance/W1/repeatability/tare", n))
        k = rectangular("atomic-weight/ciaaw-2021/K", n)
        i = rectangular("atomic-weight/ciaaw-2021/I", n)
        o = rectangular("atomic-weight/ciaaw-2021/O", n)
        amount = mass * rectangular("lot/potassium iodate/2219/purity", n) / (k + i + 3.0 * o)
        solution = amount / (0.250 + rectangular("flask/F250/calibration", n))
        p25 = 0.025 + rectangular("pipette/P25/calibration", n)
        at_24_95, at_0_05 = g22_5 + 0.98 * (g25 - g22_5), 0.02 * g2_5
        titre = ((0.02495 + at_24_95) + (0.02500 + g25) + (0.02495 + at_24_95)) / 3.0
        titre = titre + normal("thiosulfate/scatter", n) + rectangular("thiosulfate/resolution", n)
        blank = 5e-5 + at_0_05 + normal("thiosulfate/blank/scatter", n)
        blank = blank + rectangular("thiosulfate/blank/resolution", n)
        thiosulfate = 6.0 * solution * p25 / (titre - blank)
        factor = (0.250 + rectangular("flask/F250-2/calibration", n)) / (
            0.010 + rectangular("pipette/P10/calibration", n)
        )
        ends = [g30 + t * (g32_5 - g30) for t in (0.48, 0.46, 0.50)]
        titre = ((0.0312 + ends[0]) + (0.03115 + ends[1]) + (0.03125 + ends[2])) / 3.0
        titre = titre + normal("7/scatter", n) + rectangular("7/resolution", n)
        blank = 5e-5 + at_0_05 + normal("7/blank/scatter", n) + rectangular("7/blank/resolution", n)
        result[start : start + n] = thiosulfate * (titre - blank) / (2.0 * p25) * factor
    places = [round(0.025 * trials) - 1, round(0.975 * trials) - 1]
    low, high = np.partition(result, places)[places]
    return result.mean(), result.std(ddof=1), low, high
