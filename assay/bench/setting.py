"""Ware that is set: what one delivery of a stated volume is, and the error that is new in each setting."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from assay.errors import DataError, DomainError
from assay.kernels.replicates import sum_from_values
from assay.kernels.volume import dispensed_volume_from_setting
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.units import Written, read

_ML = 1000.0
#: Settings that are drawn one by one; the sum of more is normal to all that a quantile shows. A choice of this library.
_MOST_SETTINGS = 12


@runtime_checkable
class OneVolume(Protocol):
    """What delivers one volume: a one-mark pipette, or other ware set to a volume."""

    @property
    def label(self) -> str:
        """What a person calls it."""

    @property
    def material(self) -> str:
        """What it is made of."""

    def volume(self) -> Estimate:
        """Return the volume, L, but for what is new in each delivery: the scatter of titres of aliquots shows that."""

    def new_in_each(self, record: str) -> Estimate | None:
        """Return what is new in a single delivery, L, known under the path of a record; ``None`` if nothing is."""


def one_delivery(ware: OneVolume, record: str) -> Estimate:
    """Return the volume of a single delivery, L, known under the path of a record."""
    return once(ware.volume(), ware.new_in_each(record))


def once(volume: Estimate, new: Estimate | None) -> Estimate:
    """Return a volume, L, with what is new in one delivery or filling; as it is, if nothing is."""
    if new is None:
        return volume
    return evaluate(
        dispensed_volume_from_setting,
        name="volume",
        label=f"{volume.label}, once",
        nominal_volume=volume,
        fills=1.0,
        volume_error=0.0,
        setting_error=new,
    )


class Settable(Protocol):
    """Ware that is set to a volume."""

    @property
    def label(self) -> str:
        """What a person calls it."""

    @property
    def material(self) -> str:
        """What it is made of."""

    @property
    def largest(self) -> float:
        """Largest volume of one filling, L."""

    def volume_error(self, filling: float) -> Estimate:
        """Return true volume less set volume of one filling, L."""

    def setting_error(self, fills: int, record: str = "") -> Estimate:
        """Return the error that is new in each filling, L, of a number of fillings for a record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetVolume:
    """One volume that ware was set to; made by ``measure`` of the ware.

    It is an aliquot, or what a dilution takes. What is new in each delivery (setting, random error, drops of unlike
    size) is counted where a single delivery stands for itself, as in a dilution, and not again in aliquots that are
    titrated: the scatter of their titres shows it.

    Parameters
    ----------
    instrument : ware with a scale, a piston pipette, a dropper, a cylinder or a beaker
        What delivers it.
    nominal : float [L]
        The volume by its scale.
    fills : int
        Number of fillings, or of drops.

    References
    ----------
    [jcgm-100-2008] 4.3.10 (from memory): no component is counted twice.

    Examples
    --------
    >>> import assay
    >>> pipette = assay.GraduatedPipette("G10", capacity="10 mL", subdivision="0.1 mL")
    >>> pipette.measure("7.50 mL").volume()
    <Estimate '7.5 mL with graduated pipette G10': 0.007500 L, u = 0.000058 L, dof = ∞>

    """

    instrument: Settable
    nominal: float
    fills: int = 1

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"{self.nominal * _ML:.6g} mL with {self.instrument.label}"

    @property
    def material(self) -> str:
        """What the ware is made of."""
        return self.instrument.material

    def volume(self) -> Estimate:
        """Return the volume, L, but for what is new in each delivery."""
        return evaluate(
            dispensed_volume_from_setting,
            name="volume",
            label=self.label,
            nominal_volume=self.nominal,
            fills=float(self.fills),
            volume_error=self.instrument.volume_error(self.nominal / self.fills),
            setting_error=Estimate.exactly(0.0, name="setting_error", label="setting, where it counts"),
        )

    def new_in_each(self, record: str) -> Estimate:
        """Return the error of setting it in a single delivery, L, known under the path of a record."""
        return self.instrument.setting_error(self.fills, record)

    def new_in_filling(self, record: str) -> Estimate:
        """Return the error of filling it once to its graduation, L, known under the path of a record."""
        return self.new_in_each(f"{record}/made up")

    def filled_once(self, record: str) -> Estimate:
        """Return the volume of a single filling to its graduation, L, known under the path of a record."""
        return once(self.volume(), self.new_in_filling(record))


def set_to(instrument: Settable, volume: Written, *, least: float = 0.0, most: float | None = None) -> SetVolume:
    """Return what ware delivers when it is set to a volume within its scale.

    Raises
    ------
    DomainError
        If the volume is not above zero, below the least or above the most, both in L.

    """
    litres = read(volume, "volume", argument="volume")
    upper = instrument.largest if most is None else most
    if not max(least, 5e-324) * (1.0 - 1e-9) <= litres <= upper * (1.0 + 1e-9):
        raise DomainError(
            f"{instrument.label} cannot be set to this",
            argument="volume",
            given=str(volume),
            expected=_range(least, upper),
            remedy="Check the reading and its unit, or take ware of another size.",
        )
    return SetVolume(instrument=instrument, nominal=litres)


def _range(least: float, upper: float) -> str:
    if not least:
        return f"above zero, to {upper * _ML:g} mL"
    return f"{upper * _ML:g} mL" if least == upper else f"{least * _ML:g} mL to {upper * _ML:g} mL"


def check_one_volume(given: object, *, argument: str) -> None:
    """Refuse what does not deliver one volume, such as a cylinder that was set to none.

    Raises
    ------
    DataError
        If it does not.

    """
    if isinstance(given, OneVolume):
        return
    settable = hasattr(given, "measure") and hasattr(given, "largest")
    raise DataError(
        "it is not said which volume is taken" if settable else "this is not what takes a volume",
        argument=argument,
        given=getattr(given, "label", given),
        expected="a pipette, or ware set to a volume",
        remedy="Write ….measure('5.0 mL'), with the volume that was set."
        if settable
        else "Write Pipette('P10', capacity='10 mL'), or ….measure('5.0 mL') of other ware.",
    )


def setting_error(id_: str, label: str, *, half_step: float, fills: int, record: str = "") -> Estimate:
    """Return the error of setting a meniscus to a graduation, new and rectangular in each of a number of fillings.

    Without the path of a record, it is that of a dose.
    """
    path = _path(id_, f"setting of {label}", record, fills)
    source = f"half a step of ±{half_step * _ML:g} mL"
    if fills > _MOST_SETTINGS:
        together = Influence(
            id=path,
            label=f"setting of {label}",
            value=0.0,
            u=half_step * math.sqrt(fills / 3.0),
            source=f"{source}, {fills} fillings",
        )
        return Estimate.from_influence(together, name="setting_error")
    each = [
        Estimate.from_influence(
            Influence.within(
                f"{path}/{k}", label=f"setting of {label}, filling {k}", half_width=half_step, source=source
            ),
            name="setting_error",
        )
        for k in range(1, fills + 1)
    ]
    if fills == 1:
        return each[0]
    return evaluate(sum_from_values, *each, name="setting_error", label=f"setting of {label}, {fills} fillings")


def delivery_scatter(
    id_: str, label: str, *, s: float, source: str, fills: int, record: str = "", dof: float = math.inf
) -> Estimate:
    """Return the random error of a number of deliveries together, each new, L; ``s`` is that of one."""
    influence = Influence(
        id=f"{_path(id_, f'deliveries with {label}', record, fills)}/random error",
        label=f"random error of {label}" if fills == 1 else f"random error of {label}, {fills} deliveries",
        value=0.0,
        u=s * math.sqrt(fills),
        dof=dof,
        source=source,
    )
    return Estimate.from_influence(influence, name="setting_error")


def _path(id_: str, what: str, record: str, fills: int) -> str:
    return f"{record}/{what}" if record else f"{id_}/setting of a dose in {fills}"
