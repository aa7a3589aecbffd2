"""Weighings by difference and titres by mass, corrected for the buoyancy of air where a density is stated."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from assay.bench.air import Air
from assay.errors import DomainError
from assay.kernels.buoyancy import buoyancy_factor_from_densities, vacuum_mass_from_mass
from assay.kernels.weighing import mass_from_readings
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence

if TYPE_CHECKING:
    from assay.bench.balance import Balance

#: Density of the weights by which balances are adjusted, g/L, and its half-width: what OIML R 111 allows for weights of
#: class E2, 7.81 g/mL to 8.21 g/mL, rounded (from memory).
_WEIGHTS, _WEIGHTS_HALF_WIDTH = 8000.0, 200.0
#: Under this path stands the density of what is weighed.
WEIGHED_DENSITY = "density of what is weighed"
#: Half-width of a stated density of what is weighed, as a share of it: sources differ by one per cent for potassium
#: iodate. A choice of this library.
_DENSITY_HALF_WIDTH = 0.02


@cache
def conventional_air() -> Air:
    """Return the air where nothing was measured: that of one room, the same wherever it is not stated."""
    return Air(day="not measured")


def weights_density(balance: Balance) -> Estimate:
    """Return the density of the weights by which a balance was adjusted, g/L."""
    influence = Influence.within(
        f"{balance.id}/weights density",
        label=f"density of the weights of {balance.label}",
        value=_WEIGHTS,
        half_width=_WEIGHTS_HALF_WIDTH,
        source="OIML R 111, from memory",
    )
    return Estimate.from_influence(influence, name="weights_density")


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """Readings of one weighing by difference; made by `Balance.by_difference`.

    Parameters
    ----------
    balance : Balance
        The balance.
    gross, tare : float [g]
        Readings with and without the portion.
    density : float [g/L], optional
        Density of what is weighed, if its buoyancy is corrected.
    air : Air, optional
        The air, with the density.

    References
    ----------
    [eurachem-cg4] Example A2: weighing by difference, linearity counted twice. [oiml-r111-2004] conventional density of
    weights, from memory.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> round(balance.by_difference("21.4312 g", "20.5402 g").nominal, 4)
    0.891

    """

    balance: Balance
    gross: float
    tare: float
    density: float | None = None
    air: Air | None = None

    def __post_init__(self) -> None:
        """Refuse one of density and air without the other."""
        if (self.density is None) != (self.air is None):
            raise DomainError(
                "the buoyancy of what is weighed takes its density and the air",
                argument="air" if self.air is None else "density",
                given="nothing",
                remedy="Write balance.by_difference(gross, tare, density='1.636 g/mL', air=air), or leave both out.",
            )

    @property
    def nominal(self) -> float:
        """Mass by the readings, g."""
        return round(self.gross - self.tare, 9)

    @property
    def path(self) -> str:
        """The path under which it is known: the same wherever what was weighed is used."""
        return f"{self.balance.id}/weighing/{hashlib.sha256(self.readings().encode()).hexdigest()[:10]}"

    def mass(self, record: str, *, repeatability: bool = True, weighed: str = "") -> Estimate:
        """Return the mass, g.

        Parameters
        ----------
        record : str
            The path under which the weighing is known.
        repeatability : bool
            Whether the repeatability of the readings is counted here; not if the scatter of replicates shows it.
        weighed : str
            What is weighed, if not a standard; see `Balance.linearity_error`.

        """
        nothing = Estimate.exactly(0.0, name="gross_repeatability", label="repeatability, shown by the replicates")
        gross, tare = self.balance.reading_errors(record) if repeatability else (nothing, nothing)
        found = evaluate(
            mass_from_readings,
            name="mass",
            label=f"mass of {record.rsplit('/', 1)[-1]}",
            gross_reading=self.gross,
            tare_reading=self.tare,
            gross_linearity=self.balance.linearity_error("gross", weighed=weighed),
            tare_linearity=self.balance.linearity_error("tare", weighed=weighed),
            gross_repeatability=gross,
            tare_repeatability=tare,
        )
        found = self.balance.indicated(found, record, once=repeatability)
        if self.density is None or self.air is None:
            return found
        return self._in_vacuum(found, self.density, self.air, weighed or "standard")

    def _in_vacuum(self, weighed: Estimate, stated: float, air: Air, what: str) -> Estimate:
        density = Influence.within(
            f"{WEIGHED_DENSITY}/{what} {stated!r}",
            label=f"density of the weighed {what}, {stated / 1000.0:g} g/mL",
            value=stated,
            half_width=_DENSITY_HALF_WIDTH * stated,
            source=f"stated; within {100 * _DENSITY_HALF_WIDTH:g} %, a choice of the library",
        )
        factor = evaluate(
            buoyancy_factor_from_densities,
            name="buoyancy_factor",
            label=f"buoyancy of {weighed.label}",
            air_density=air.density(),
            weights_density=weights_density(self.balance),
            density=Estimate.from_influence(density, name="density"),
        )
        return evaluate(vacuum_mass_from_mass, name="mass", label=weighed.label, mass=weighed, buoyancy_factor=factor)

    def u_repeatability(self) -> float:
        """Return the standard uncertainty of the mass from repeatability and rounding alone, g."""
        return self.balance.u_reading() * math.sqrt(2.0)

    def readings(self) -> str:
        """Return the readings as text that is the same for the same readings."""
        return f"{self.gross!r}-{self.tare!r}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MassTitre:
    """A titre by mass; made by `Balance.titre`. It needs no burette and no temperature.

    Parameters
    ----------
    weighing : Weighing
        What the bottle lost.
    rough : bool
        Whether it was a trial run.
    void : str
        The reason why it does not count; empty if it does.

    References
    ----------
    common practice: gravimetric titration, the bottle weighed before and after.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> balance.titre("82.4150 g", "57.4660 g").shown
    '24.949 g'

    """

    weighing: Weighing
    rough: bool = False
    void: str = ""

    @property
    def kept(self) -> bool:
        """Whether it counts."""
        return not self.rough and not self.void

    @property
    def nominal(self) -> float:
        """Mass by the readings, g."""
        return self.weighing.nominal

    @property
    def unit(self) -> str:
        """Unit of `nominal`."""
        return "g"

    @property
    def shown(self) -> str:
        """The titre as it is told in messages."""
        return f"{self.nominal:.6g} g"

    def measure(self, record: str, *, of: str = "titre") -> Estimate:
        """Return the mass delivered in a ``"titre"`` or a ``"blank"``, g; the replicates show the repeatability."""
        return self.weighing.mass(record, repeatability=False, weighed=of)

    def readings(self) -> str:
        """Return the readings as text that is the same for the same readings."""
        return self.weighing.readings()
