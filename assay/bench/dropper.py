"""Droppers: drops that were counted onto a balance are a volume each."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

from assay.bench.setting import SetVolume, delivery_scatter
from assay.bench.temperature import material_of
from assay.bench.weighing import Weighing
from assay.errors import DataError, DomainError, Problems
from assay.kernels.drops import drop_volume_from_weighing
from assay.kernels.volume import volume_error_from_volume
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.metrology.plain import plain
from assay.units import Written, read_with_step

_ML = 1000.0
#: Standard deviation of single drops over their volume, where it was not found: a choice of this library.
SCATTER = 0.05
#: Volumes between which a drop lies, L; outside, drops or readings were miscounted: a choice of this library.
SMALLEST_DROP, LARGEST_DROP = 5e-6, 2e-4


@dataclass(frozen=True)
class Dropper:
    """A dropper whose drops were counted and weighed: it delivers whole drops of the liquid that was weighed.

    The mean volume of a drop is the same wherever it is used. How much single drops differ is new in each drop: it is
    counted in a dilution and in a dose, and not in titrated aliquots, whose titres show it.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    drops : int
        How many drops were weighed.
    weighing : Weighing
        What they weighed, ``balance.by_difference(gross, tare)``.
    density : str or quantity
        Density of the liquid, such as ``"0.998 g/mL"``.
    half_width : str or quantity, optional
        Half-width within which the density is known; half a step of its last digit if not stated.
    scatter : float
        Standard deviation of single drops over their volume, 0.05 if not stated (a choice of this library).
    material : str
        What it is made of; see `Burette`.

    Raises
    ------
    DataError
        If the drops were not counted, or there is no weighing.
    DomainError
        If a drop would be below 0.005 mL or above 0.2 mL, or a share is out of range.
    UnitError
        If the density has no unit or a wrong one.

    References
    ----------
    common practice: drops are counted onto a balance.

    Examples
    --------
    >>> from assay import Balance
    >>> scale = Balance("W2", readability="0.01 g", repeatability="0.01 g", linearity="0.02 g")
    >>> weighed = scale.by_difference("14.51 g", "12.00 g")
    >>> dropper = Dropper("D1", drops=50, weighing=weighed, density="0.998 g/mL")
    >>> dropper.measure(20).volume()
    <Estimate '1.00601 mL with dropper D1': 0.001006 L, u = 0.000011 L, dof = ∞>

    """

    name: str | None = None
    drops: int | None = field(default=None, kw_only=True)
    weighing: Weighing = field(kw_only=True)
    density: Written = field(kw_only=True)
    half_width: Written | None = field(default=None, kw_only=True)
    scatter: float = field(default=SCATTER, kw_only=True)
    material: str = field(default="polypropylene", kw_only=True)

    def __post_init__(self) -> None:
        """Read every argument, so that a mistake shows at once."""
        problems = Problems()
        problems.attempt(material_of, self.material)
        problems.attempt(_count, self.drops, "drops", remedy="Count the drops that are weighed together, 50 or more.")
        density = problems.attempt(self._known_density)
        scatter = problems.attempt(plain, self.scatter, argument="scatter")
        weighing: object = self.weighing
        if not isinstance(weighing, Weighing):
            problems.add(
                DataError(
                    "this is not a weighing",
                    argument="weighing",
                    given=weighing,
                    remedy="Write balance.by_difference('14.51 g', '12.00 g').",
                )
            )
        problems.raise_any()
        if not 0.0 <= scatter < 0.5:  # noqa: PLR2004  (no dropper is as bad)
            raise DomainError(
                "a scatter is a share of the volume",
                argument="scatter",
                given=self.scatter,
                expected="0 or more and below 0.5",
                remedy="Write 0.05 for 5 %.",
            )
        del density
        if not SMALLEST_DROP <= self.step <= LARGEST_DROP:
            raise DomainError(
                f"a drop would be {self.step * _ML:.3g} mL",
                argument="drops",
                given=self.drops,
                expected=f"{SMALLEST_DROP * _ML:g} to {LARGEST_DROP * _ML:g} mL each",
                remedy="Check the count and the readings of the balance.",
            )

    def _known_density(self) -> tuple[float, float]:
        """Return the density and the half-width within which it is known, g/L."""
        density = read_with_step(self.density, "density", argument="density")
        if not density.value > 0.0:
            raise DomainError("a density is above zero", argument="density", given=str(self.density))
        if self.half_width is None:
            return density.value, density.step / 2.0
        wide = read_with_step(self.half_width, "density", argument="half_width").value
        if not 0.0 <= wide < density.value:
            raise DomainError(
                "a half-width is not negative and less than the density",
                argument="half_width",
                given=str(self.half_width),
            )
        return density.value, wide

    @cached_property
    def id(self) -> str:
        """The path under which its influences are known."""
        return fresh_id("dropper") if self.name is None else f"dropper/{path_part(self.name, argument='name')}"

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"dropper {'without a name' if self.name is None else self.name}"

    @cached_property
    def drop(self) -> Estimate:
        """The mean volume of a drop, L."""
        count = float(self.drops or 0)
        value, wide = self._known_density()
        density = Influence.within(
            f"{self.id}/density", label=f"density of what {self.label} drops", value=value, half_width=wide,
            source=f"stated, ±{wide / 1000.0:g} g/mL",
        )  # fmt: skip
        mean = Influence(
            id=f"{self.id}/scatter of {self.drops} drops",
            label=f"drops of {self.label}, mean of {self.drops}",
            value=0.0,
            u=self.scatter / math.sqrt(count),
            source=self._scatter_source,
        )
        return evaluate(
            drop_volume_from_weighing,
            name="volume",
            label=f"drop of {self.label}",
            mass=self.weighing.mass(f"{self.id}/weighing", weighed="drops"),
            density=Estimate.from_influence(density, name="density"),
            drops=count,
            mean_drop_scatter=Estimate.from_influence(mean, name="mean_drop_scatter"),
        )

    @property
    def _scatter_source(self) -> str:
        chosen = ", a choice of the library" if self.scatter == SCATTER else ", stated"
        return f"drops scatter by {100 * self.scatter:g} %{chosen}"

    @cached_property
    def step(self) -> float:
        """Volume of a drop, L: it dispenses whole drops."""
        return round(self.drop.value, 12)

    @property
    def largest(self) -> float:
        """Largest volume of one filling, L: one drop, as each is one."""
        return self.step

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less nominal volume of one drop, L."""
        del filling  # a drop is a drop
        return evaluate(
            volume_error_from_volume,
            name="volume_error",
            label=f"error of a drop of {self.label}",
            volume=self.drop,
            nominal_volume=self.step,
        )

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return what a number of drops together are more or less than as many mean drops, L."""
        s, source = self.scatter * self.step, self._scatter_source
        return delivery_scatter(self.id, self.label, s=s, source=source, fills=fills, record=record)

    def measure(self, drops: int) -> SetVolume:
        """Return what a number of drops is, as an aliquot."""
        count = _count(drops, "drops", remedy="Count the drops, such as dropper.measure(20).")
        return SetVolume(instrument=self, nominal=count * self.step, fills=count)


def _count(given: object, argument: str, *, remedy: str) -> int:
    """Return a number of drops, or refuse what is none."""
    if given is None:
        raise DataError(
            "drops without a count are no volume: how much a drop is goes by the dropper and the liquid",
            argument=argument,
            given="nothing",
            remedy=remedy,
        )
    if isinstance(given, bool) or not isinstance(given, int) or given < 1:
        raise DataError(
            "drops are counted", argument=argument, given=given, expected="a whole number, 1 or more", remedy=remedy
        )
    return given
