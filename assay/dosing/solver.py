"""Finding the volumes: quantiles of the volume that each draw of strength and dispenser needs."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from assay.bench.dropper import Dropper
from assay.display.numbers import degrees, plus_minus
from assay.dosing.dispenser import Dispenser, Setting
from assay.dosing.volumes import TRIALS, DosedVolume, shown
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.sampling import sampled
from assay.metrology.shapes import Array

#: Standard errors by which an order statistic is moved to the safe side, so that the assurance does not hang on the
#: luck of one run. A choice of this library.
SAFE_STANDARD_ERRORS = 3.0


class Needed(NamedTuple):
    """Volume that each draw needs, L: for one portion, and for the neediest and the least needy of all."""

    one: Array
    most: Array
    least: Array


def place_of(assurance: float) -> int:
    """Return the place of the order statistic that keeps an assurance, moved to the safe side."""
    margin = SAFE_STANDARD_ERRORS * math.sqrt(assurance * (1.0 - assurance) * TRIALS)
    return math.ceil(assurance * TRIALS + margin) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Solver:
    """Finds volumes as quantiles of the volume that each draw needs."""

    strength: Estimate
    dispenser: Dispenser
    required: Estimate
    limit: Estimate
    assurance: float
    portions: int = 1
    all_together: bool = False
    _known: dict[object, Needed] = field(default_factory=dict, init=False)

    def needed(self, amount: Estimate, setting: Setting) -> Needed:
        """Return the volume that each draw needs, L; infinite where the drawn strength is not above zero."""
        volume = setting.needed(amount, self.strength)
        # The draws follow from what the volume depends on; a graduation tried again need not be drawn again.
        same = (amount.label, setting.fills, volume.value, tuple(volume.sensitivities.items()))
        if same not in self._known:
            self._known[same] = self._drawn(volume, setting)
        return self._known[same]

    def _drawn(self, volume: Estimate, setting: Setting) -> Needed:
        (volumes, strengths), _ = sampled([volume, self.strength], trials=TRIALS, few_replicates="scaled t")
        volumes[strengths <= 0.0] = np.inf
        first = lowest = highest = self._set(setting, 1)
        # Each portion is set anew: the one that got least needs most, and the one that got most needs least.
        for portion in range(2, self.portions + 1):
            error = self._set(setting, portion)
            lowest, highest = np.minimum(lowest, error), np.maximum(highest, error)
        return Needed(one=volumes - first, most=volumes - lowest, least=volumes - highest)

    @staticmethod
    def _set(setting: Setting, portion: int) -> Array:
        """Return drawn errors of setting one portion, L, each portion from draws of its own."""
        (errors,), _ = sampled([setting.setting_error()], trials=TRIALS, seed=portion)
        return errors

    def nominal(self) -> DosedVolume | None:
        """Return the graduation nearest to required amount over strength."""
        if self.strength.value <= 0.0:
            return None
        exact = self.required.value / self.strength.value
        return self._made("nominal", Setting.of(self.dispenser, exact).graduated(exact, up=None))

    def at_least(self) -> DosedVolume | None:
        """Return the smallest graduation that delivers the required amount with the stated assurance."""
        return self._solved("at least", self.required, up=True)

    def at_most(self) -> DosedVolume | None:
        """Return the largest graduation that keeps within the limit with the stated assurance."""
        return self._solved("at most", self.limit, up=False)

    def _solved(self, kind: str, amount: Estimate, *, up: bool) -> DosedVolume | None:
        if self.strength.value <= 0.0:
            return None
        place = place_of(self.assurance)
        place = place if up else TRIALS - 1 - place
        volume = amount.value / self.strength.value
        # The number of fillings depends on the volume and the volume on the number: it settles in a step or two.
        for _ in range(_MOST_ROUNDS):
            setting = Setting.of(self.dispenser, volume)
            needed = self.needed(amount, setting)
            binding = (needed.most if up else needed.least) if self.all_together else needed.one
            exact = float(np.partition(binding, place)[place])
            if not math.isfinite(exact):
                return None
            volume = setting.graduated(exact, up=up)
            if volume <= 0.0 or Setting.of(self.dispenser, volume).fills == setting.fills:
                break
        return self._made(kind, volume)

    def _made(self, kind: str, volume: float) -> DosedVolume | None:
        if volume <= 0.0:
            return None
        setting = Setting.of(self.dispenser, volume)
        needed = self.needed(self.required, setting)
        allowed = needed if self.limit is self.required else self.needed(self.limit, setting)
        return DosedVolume(
            kind=kind,
            volume=volume,
            fills=setting.fills,
            delivered=setting.delivered(volume, self.strength),
            below=float(np.mean(needed.one > volume)),
            above=float(np.mean(allowed.one < volume)),
            any_below=float(np.mean(needed.most > volume)),
            any_above=float(np.mean(allowed.least < volume)),
            counted="drops" if isinstance(self.dispenser, Dropper) else "fillings",
        )

    def flags(
        self, nominal: DosedVolume | None, at_least: DosedVolume | None, at_most: DosedVolume | None, *, limited: bool
    ) -> tuple[Flag, ...]:
        """Return what must be said where a volume does not exist, or the two do not leave room."""
        flags: list[Flag] = []
        step = shown(self.dispenser.step)
        if at_least is None:
            message = (
                f"there is no at-least dose: at {100 * self.assurance:g} % the lower bound of the strength is not "
                f"above zero ({plus_minus(self.strength.value, self.strength.expanded(), 'mol/L')}, "
                f"dof {degrees(self.strength.dof)}). "
                "Assay again with more replicates or a stronger aliquot."
            )
            flags.append(Flag(code="no-at-least-dose", message=message))
        if at_most is None and self.strength.value > 0.0:
            message = f"there is no at-most dose on this dispenser: it would be less than one step of {step}."
            flags.append(Flag(code="no-at-most-dose", message=message))
        if nominal is None and self.strength.value > 0.0:
            message = f"the nominal dose is less than half a step of {step}: take a finer dispenser or dilute first."
            flags.append(Flag(code="dispenser-too-coarse", message=message))
        if limited and at_least is not None and (at_most is None or at_least.volume > at_most.volume):
            message = (
                f"no volume delivers both enough and not too much with {100 * self.assurance:g} % assurance: "
                "narrow the uncertainty (the budget says which part) or widen the limit."
            )
            flags.append(Flag(code="no-volume-meets-both", message=message))
        return tuple(flags)


_MOST_ROUNDS = 5
