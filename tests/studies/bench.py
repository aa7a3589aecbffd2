"""Kits of three qualities, by brute force: the stated u against the errors that simulated laboratories make.

Each laboratory owns one kit. Everything about it that is not known is drawn by numpy alone, in the shape that the
library states of it: the scale of its burette, its other ware, its balance, the purity of its iodate, the temperature
of the day, and how much liquids and ware expand. It standardises thiosulfate against iodate and assays a drum with it,
and reads to the step. Buoyancy is left out on both sides. Its repeatability is known from a long record, as
``method_s``. The root mean square of the stated u, relative to the strength, has to be that of the error within 5 %.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

import laboratories as lab
import numpy as np
from scipy import special
from stated import LEVEL, Laboratory, check_single

from assay.bench.balance import Balance
from assay.bench.burette import Burette
from assay.bench.graduated import Syringe
from assay.bench.setting import OneVolume
from assay.bench.temperature import Temperature
from assay.bench.vessels import Flask, Pipette
from assay.metrology.shapes import Array, Generator
from assay.substances.molar_mass import molar_mass
from assay.titration.standards import PrimaryStandard, StandardSolution
from assay.titration.titres import Conditions

ALLOWED = 0.05
RUNS, SMALL_RUNS, AT_ONCE = 400_000, 12_000, 20_000
TITRES = 3
PURITY, PURITY_HALF_WIDTH = 0.9995, 0.0005
WARM, WARM_HALF_WIDTH = 3.0, 2.0  # K above 20 °C
TARE = 20.0
# Cubic expansion of ware, and of solutions beyond water, 1/K, and its half-width: those of the library's table, written
# out here.
EXPANSION = {
    "borosilicate": (9.9e-6, 1e-7),
    "polypropylene": (4.5e-4, 1e-4),
    "dilute": (2.0e-5, 2.0e-5),
    "strong": (2.0e-4, 2.0e-4),  # 1 to 5 equivalents per litre
}


@dataclass(frozen=True, slots=True)
class Kit:
    """What a laboratory works with: capacities and limits of error in mL, masses in g.

    The limits of class A and B are written out here from ISO 385, ISO 648 and ISO 1042; those of a syringe in `limit`.
    The repeatability of a titre has that of the aliquot in it.
    """

    name: str
    accuracy_class: str | None  # of the glass; None where it states its own limits
    material: str
    burette: tuple[float, float, float]  # capacity, limit, division
    aliquot: tuple[float, float]
    taken: tuple[float, float]
    flask: tuple[float, float]
    readability: float
    linearity: float
    portion: float  # of iodate
    scatter: float  # repeatability of one titre (common practice)
    step: float
    titres: tuple[float, float]  # between which they lie

    def laboratory(self) -> Laboratory:
        """Return it as the library is told of it."""
        balance = Balance(
            self.name,
            readability=f"{self.readability} g",
            repeatability=f"{self.readability} g",
            linearity=f"{self.linearity} g",
        )
        iodate = PrimaryStandard(
            "KIO3", lot="study", purity=f"{100 * PURITY} % w/w", half_width=f"{100 * PURITY_HALF_WIDTH} % w/w"
        )
        capacity, limit, division = self.burette
        flasks = tuple(
            Flask(f"{self.name} {of}", capacity=f"{self.flask[0]} mL", **self._known(self.flask[1]))
            for of in ("iodate", "drum")
        )
        return Laboratory(
            burette=self._syringe("titres")
            if self.accuracy_class is None
            else Burette(
                self.name,
                capacity=f"{capacity} mL",
                subdivision=f"{division} mL",
                read_to=f"{self.step} mL",
                **self._known(limit),
            ),
            aliquot=self._one("aliquot", *self.aliquot),
            taken=self._one("taken", *self.taken),
            flasks=(flasks[0], flasks[1]),
            solution=StandardSolution(
                standard=iodate,
                weighing=balance.by_difference(f"{TARE + self.portion} g", f"{TARE} g"),
                flask=flasks[0],
            ),
            consumed=0.1e-3 * sum(self.titres) / 2.0,
        )

    def _one(self, what: str, nominal: float, limit: float) -> OneVolume:
        if self.accuracy_class is None:
            return self._syringe(what).measure(f"{nominal} mL")
        return Pipette(f"{self.name} {what}", capacity=f"{nominal} mL", **self._known(limit))

    def _syringe(self, what: str) -> Syringe:
        capacity, _, division = self.burette
        return Syringe(
            f"{self.name} {what}",
            capacity=f"{capacity} mL",
            subdivision=f"{division} mL",
            read_to=f"{self.step} mL",
            material=self.material,
        )

    def limit(self, volume: Array) -> Array:
        """Return the limit of error of what it titrates with, at a volume, mL.

        That of a syringe of 5 mL or more is 1.5 % of its capacity and 1 % of the volume below half of it, and 4 % of
        the volume above [iso-7886-1] (from memory).
        """
        capacity, limit, _ = self.burette
        if self.accuracy_class is not None:
            return np.full_like(volume, limit)
        return np.where(volume < capacity / 2.0, 0.015 * capacity + 0.01 * volume, 0.04 * volume)

    def _known(self, limit: float) -> dict[str, str]:
        """Return what is said of a piece of ware: its class, or its limit of error."""
        of = {"tolerance": f"{limit} mL"} if self.accuracy_class is None else {"accuracy_class": self.accuracy_class}
        return of | {"material": self.material}

    def conditions(self) -> Conditions:
        """Return what the library is told of the day and the hand: s as it shows in titres that are rounded."""
        return Conditions(
            temperature=Temperature(f"{20.0 + WARM} °C", half_width=f"{WARM_HALF_WIDTH} K", day="study"),
            method_s=f"{math.hypot(self.scatter, self.step / math.sqrt(12.0)):.9f} mL",
        )


KITS = (
    Kit(
        name="class A glass and 0.1 mg", accuracy_class="A", material="borosilicate", burette=(50.0, 0.05, 0.1),
        aliquot=(25.0, 0.03), taken=(10.0, 0.02), flask=(250.0, 0.15), readability=0.0001, linearity=0.0002,
        portion=0.8917, scatter=0.03, step=0.05, titres=(20.0, 28.0),
    ),
    Kit(
        name="class B glass and 1 mg", accuracy_class="B", material="borosilicate", burette=(50.0, 0.10, 0.1),
        aliquot=(25.0, 0.06), taken=(10.0, 0.04), flask=(250.0, 0.30), readability=0.001, linearity=0.002,
        portion=0.892, scatter=0.07, step=0.05, titres=(20.0, 28.0),
    ),
    Kit(
        name="10 mL syringes and 0.01 g", accuracy_class=None, material="polypropylene", burette=(10.0, 0.4, 0.2),
        aliquot=(10.0, 0.4), taken=(10.0, 0.4), flask=(250.0, 2.5), readability=0.01, linearity=0.02,
        portion=0.89, scatter=0.12, step=0.1, titres=(6.0, 8.5),
    ),
)  # fmt: skip


class _Day:
    """How volumes at 20 °C follow from what ware indicates, in each laboratory on its day."""

    def __init__(self, generator: Generator, kit: Kit, runs: int) -> None:
        self.above = WARM + _within(generator, WARM_HALF_WIDTH, runs)
        grown = {
            name: 1.0 + (value + _within(generator, half_width, runs)) * self.above
            for name, (value, half_width) in EXPANSION.items()
        }
        of_water = _water(20.0) / _water(20.0 + self.above)
        self.dilute = grown[kit.material] / (of_water * grown["dilute"])
        self.strong = grown[kit.material] / (of_water * grown["strong"])


def _water(celsius: Array | float) -> Array:
    """Return the density of water by the equation of Tanaka and others 2001, g/L."""
    return 999.974950 * (1.0 - (celsius - 3.983035) ** 2 * (celsius + 301.797) / (522528.9 * (celsius + 69.34881)))


def _within(generator: Generator, half_width: float, runs: int) -> Array:
    return generator.uniform(-half_width, half_width, runs)


class _Scale:
    """The error of a burette as the library states it: rectangular from the first knot on, alike in one part."""

    _PARTS = 20

    def __init__(self, generator: Generator, kit: Kit, runs: int) -> None:
        capacity = kit.burette[0]
        self.places = np.linspace(0.0, capacity, self._PARTS + 1)
        apart = np.subtract.outer(self.places, self.places) / (0.1 * capacity)
        # The knots are Gaussian scores turned into ranks; a little on the diagonal keeps the root real.
        root = np.linalg.cholesky(np.exp(-0.5 * apart**2) + 1e-9 * np.eye(self.places.size))
        scores = generator.standard_normal((runs, self.places.size)) @ root.T
        self.errors = kit.limit(self.places) * (2.0 * special.ndtr(scores) - 1.0)
        self.errors[:, 0] = 0.0

    def error(self, reading: Array) -> Array:
        """Return true volume less reading, of shape (runs, n)."""
        place = np.clip(reading / self.places[1], 0.0, self._PARTS - 1e-9)
        below = place.astype(int)
        lower, upper = (np.take_along_axis(self.errors, below + k, axis=1) for k in (0, 1))
        return lower + (place - below) * (upper - lower)


def draw(generator: Generator, kit: Kit, runs: int) -> tuple[lab.Drawn, Array]:
    """Return what is read in many laboratories with a kit, and the true strengths of their drums at 20 °C, mol/L."""
    day = _Day(generator, kit, runs)
    aliquot, taken, *flasks = (
        nominal + _within(generator, limit, runs) for nominal, limit in (kit.aliquot, kit.taken, kit.flask, kit.flask)
    )
    standard, sample = generator.uniform(*kit.titres, (2, runs))  # really needed, at 20 °C
    # By the readings, less what linearity and repeatability add at either load.
    wrong = sum(
        _within(generator, kit.linearity, runs) - generator.normal(0.0, kit.readability, runs) * sign
        for sign in (1.0, -1.0)
    )
    mass = kit.portion - wrong
    molar = molar_mass("KIO3")
    amount = (
        mass * (PURITY + _within(generator, PURITY_HALF_WIDTH, runs)) / generator.normal(molar.value, molar.u, runs)
    )
    iodate = amount / (flasks[0] * day.dilute * 1e-3)
    titrant = 6.0 * iodate * (aliquot * day.dilute) / standard
    diluted = titrant * sample / (2.0 * aliquot * day.dilute)
    if kit.accuracy_class is None:  # a syringe is set to a graduation, where a pipette has its mark
        taken = taken + _within(generator, kit.step / 2.0, runs)
    truth = diluted * (flasks[1] * day.dilute) / (taken * day.strong)
    scale = _Scale(generator, kit, runs)
    read = [_read(generator, kit, scale, needed / day.dilute) for needed in (standard, sample)]
    return lab.Drawn(read[0], read[1], None, None, truth), truth


def _read(generator: Generator, kit: Kit, scale: _Scale, needed: Array) -> lab.Readings:
    """Return the final readings, from zero, of titrations that need a volume by a scale without error."""
    delivered = needed[:, None] + generator.normal(0.0, kit.scatter, (needed.size, TITRES))
    end = delivered
    for _ in range(4):  # the error changes slowly along the scale
        end = delivered - scale.error(end)
    return lab.Readings(np.round(end / kit.step) * kit.step, None)


def _found(kit: Kit, runs: int) -> tuple[float, float, float, float]:
    """Return the root mean squares of stated u and error, the mean error, and the share held at 95 %."""
    generator = np.random.default_rng([20261125, zlib.crc32(kit.name.encode())])
    laboratory, conditions = kit.laboratory(), kit.conditions()
    stated, errors, held = [], [], []
    for start in range(0, runs, AT_ONCE):
        drawn, truth = draw(generator, kit, min(AT_ONCE, runs - start))
        strengths = laboratory.strengths(drawn, conditions)
        if start == 0:
            check_single(laboratory, drawn, strengths, (0, 1, truth.size - 1), conditions)
        errors.append(strengths.value / truth - 1.0)
        stated.append(strengths.u / strengths.value)
        held.append(np.abs(strengths.value - truth) <= strengths.expanded(LEVEL))
    error, u = np.concatenate(errors), np.concatenate(stated)
    return (
        math.sqrt(np.mean(u**2)),
        math.sqrt(np.mean(error**2)),
        float(np.mean(error)),
        float(np.mean(np.concatenate(held))),
    )


def rows(full: bool) -> Iterator[str]:  # noqa: FBT001  (the one switch of every study)
    """Yield one row for each kit, and what most of its uncertainty comes from."""
    runs = RUNS if full else SMALL_RUNS
    yield f"  {runs} laboratories with each kit; root mean squares, relative to the strength, within {ALLOWED:.0%}"
    for kit in KITS:
        u, error, mean, held = _found(kit, runs)
        # Three standard errors of a root mean square of so many; NaN, where a run has no result, is wrong.
        right = abs(u / error - 1.0) <= ALLOWED + 3.0 / math.sqrt(2.0 * runs)
        yield (
            f"{' ' if right else '!'} {kit.name:25}: stated u {100 * u:.4f} %, found {100 * error:.4f} %, ratio "
            f"{u / error:.4f}; mean error {100 * mean:+.4f} %; a stated 95 % held {100 * held:.2f} %"
        )
        yield f"    from: {_causes(kit)}"


def _causes(kit: Kit) -> str:
    """Return the largest lines of the budget of one laboratory, by the single steps."""
    drawn, _ = draw(np.random.default_rng(20261125), kit, 1)
    budget = kit.laboratory().single(drawn, 0, kit.conditions()).budget()
    largest = sorted(budget.lines, key=lambda line: -abs(line.contribution))[:4]
    total = budget.u**2
    return ", ".join(f"{line.label} {line.contribution**2 / total:.0%}" for line in largest)
