"""What every dispenser can say of itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from assay.kernels.dosing import delivered_amount_from_volume, set_volume_from_amount
from assay.kernels.volume import dispensed_volume_from_setting
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate

# Relative slack for a volume that lies on a graduation but for the last bits of its float.
_ON_GRADUATION = 1e-9


@runtime_checkable
class Dispenser(Protocol):
    """A burette, a pipette, a cylinder or other ware that is set."""

    @property
    def label(self) -> str:
        """What a person calls it."""

    @property
    def step(self) -> float:
        """Smallest step to which it is set, L."""

    @property
    def largest(self) -> float:
        """Largest volume of one filling, L."""

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less set volume of one filling, L."""

    def setting_error(self, fills: int) -> Estimate:
        """Return the error of setting in a number of fillings, L."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A dispenser used in a number of equal fillings.

    Parameters
    ----------
    dispenser : Dispenser
        What dispenses.
    fills : int
        Number of fillings.
    about : float [L]
        About how much is dispensed in all: where on the scale the error is looked up.

    """

    dispenser: Dispenser
    fills: int
    about: float

    @classmethod
    def of(cls, dispenser: Dispenser, volume: float) -> Setting:
        """Return the setting with the fewest fillings that hold a volume."""
        fills = max(math.ceil(volume / dispenser.largest - _ON_GRADUATION), 1)
        return cls(dispenser=dispenser, fills=fills, about=volume)

    def graduated(self, volume: float, *, up: bool | None) -> float:
        """Return a volume in all such that each of the equal fillings lies on a graduation; see `rounded`."""
        if self.dispenser.step == self.dispenser.largest:  # a one-mark pipette: the number of fillings is what is set
            return rounded(volume, self.dispenser.step, up=up)
        return rounded(volume, self.fills * self.dispenser.step, up=up)

    def needed(self, amount: Estimate, strength: Estimate) -> Estimate:
        """Return the volume to set so that exactly an amount is delivered, L, but for the error of setting."""
        return evaluate(
            set_volume_from_amount,
            name="volume",
            label=f"volume to set on {self.dispenser.label}",
            required_amount=amount,
            amount_concentration=strength,
            fills=float(self.fills),
            volume_error=self.dispenser.volume_error(self.about / self.fills),
            setting_error=0.0,
        )

    def setting_error(self) -> Estimate:
        """Return the error of setting all fillings of one portion, L."""
        return self.dispenser.setting_error(self.fills)

    def delivered(self, volume: float, strength: Estimate) -> Estimate:
        """Return the amount that a set volume really delivers, mol."""
        dispensed = evaluate(
            dispensed_volume_from_setting,
            name="volume",
            label=f"volume dispensed with {self.dispenser.label}",
            nominal_volume=volume,
            fills=float(self.fills),
            volume_error=self.dispenser.volume_error(self.about / self.fills),
            setting_error=self.setting_error(),
        )
        return evaluate(
            delivered_amount_from_volume,
            name="delivered_amount",
            label=f"amount delivered with {self.dispenser.label}",
            amount_concentration=strength,
            volume=dispensed,
        )


def rounded(volume: float, step: float, *, up: bool | None) -> float:
    """Return a volume at a graduation: the next one up, the next one down, or (``None``) the nearest.

    Examples
    --------
    >>> rounded(0.1012, 0.002, up=True), rounded(0.1012, 0.002, up=False), rounded(0.1012, 0.002, up=None)
    (0.102, 0.1, 0.102)

    """
    steps = volume / step
    if up is None:
        count = math.floor(steps + 0.5)
    else:
        count = math.ceil(steps - _ON_GRADUATION) if up else math.floor(steps + _ON_GRADUATION)
    return round(count * step, 12)
