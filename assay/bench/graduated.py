"""Other ware with a scale: graduated pipettes and syringes, read like burettes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from assay.bench.burette import Burette
from assay.bench.scale import Limit
from assay.bench.ware import STANDARDS
from assay.data import table
from assay.errors import DataError, nearest

_ML = 1000.0


@dataclass(frozen=True)
class GraduatedPipette(Burette):
    """A graduated pipette: what it delivers from zero to a reading is an aliquot, or a portion of a dose.

    Its error is a function of the reading as that of a `Burette` is: the same volume errs in the same way wherever it
    is taken, volumes far apart on the scale hardly alike.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity, subdivision : str or quantity
        Nominal capacity and the value of one scale division, such as ``"10 mL"`` and ``"0.1 mL"``.
    accuracy_class : str
        ``"A"`` or ``"B"``; unmarked glass counts as B (common practice).
    standard : str, optional
        Edition of the standard; ``"ISO 835:2007"`` if none is named.
    read_to : str or quantity, optional
        The step to which it is read; half a division if not stated (common practice).
    tolerance : str or quantity, optional
        Your own limit of error instead of the class limit.
    shape : str
        ``"rectangular"``, or ``"triangular"`` where something speaks for small errors; see `Burette`.
    material : str
        What it is made of, for the effect of temperature; see `Burette`.
    calibration : CorrectionTable or calibration by weighing, optional
        What is known of this very pipette, in place of the limit of its class.

    Raises
    ------
    DataError
        If the standard has no such pipette, or a limit of error is given beside a certificate.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [iso-835-2007] limits of error, from memory. [jcgm-100-2008] 4.3.7: where limits are all that is known, rectangular.

    Examples
    --------
    >>> GraduatedPipette("G10", capacity="10 mL", subdivision="0.1 mL").measure("7.50 mL").volume()
    <Estimate '7.5 mL with graduated pipette G10': 0.007500 L, u = 0.000058 L, dof = ∞>

    """

    _item: ClassVar[str] = "graduated pipette"


@dataclass(frozen=True)
class Syringe(Burette):
    """A syringe: it measures aliquots and doses, and titrates where there is no burette.

    Readings are volumes expelled, from zero when it is full. Its error is a function of the reading as that of a
    `Burette` is. Without a limit of your own, that of the standard holds: 4 % of what is expelled (5 % below a capacity
    of 5 mL), and more below half the capacity. Weigh what it expels of water, and state what you find.

    Parameters
    ----------
    name : str, optional
        What the laboratory calls it. Without a name it cannot be recognised again.
    capacity, subdivision : str or quantity
        Nominal capacity and the value of one scale division, such as ``"10 mL"`` and ``"0.5 mL"``.
    accuracy_class : str
        Empty: syringes have no classes.
    standard : str, optional
        ``"ISO 7886-1"`` if none is named.
    read_to : str or quantity, optional
        The step to which it is read; half a division if not stated (common practice).
    tolerance : str or quantity, optional
        Your own limit of error instead of that of the standard.
    shape : str
        ``"rectangular"``, or ``"triangular"`` where something speaks for small errors; see `Burette`.
    material : str
        What it is made of, for the effect of temperature; see `Burette`.
    calibration : CorrectionTable or calibration by weighing, optional
        What is known of this very syringe, in place of the limit of the standard.

    Raises
    ------
    DataError
        If the standard is unknown, or a limit of error is given beside a certificate.
    UnitError
        If a volume has no unit or a wrong one.

    References
    ----------
    [iso-7886-1] tolerance on the graduated capacity, from memory. [jcgm-100-2008] 4.3.7: where limits are all that is
    known, rectangular.

    Examples
    --------
    >>> Syringe("S10", capacity="10 mL", subdivision="0.5 mL").measure("8.0 mL").volume()
    <Estimate '8 mL with syringe S10': 0.00800 L, u = 0.00018 L, dof = ∞>

    """

    accuracy_class: str = field(init=False, default="", repr=False)
    material: str = field(default="polypropylene", kw_only=True)
    _item: ClassVar[str] = "syringe"

    def _known_limit(self) -> Limit:
        standard = STANDARDS["syringe"] if self.standard is None else self.standard
        limits = table("syringe_limits")
        known = limits.choices("standard")
        if standard not in known:
            raise DataError(
                "not in the table of syringes.", argument="standard", given=standard, remedy=nearest(standard, known)
            )
        shares: dict[str, float] = {}
        for row in limits.rows:  # in the order of capacities: the last that holds counts
            if row.index["standard"] == standard and float(row.index["from_capacity"]) <= self.end * _ML * (1 + 1e-9):
                shares[row.index["part"]] = row.value
        half = self.end / 2.0
        fixed = shares["of the capacity below half"] * self.end
        below, above = shares["of the expelled volume below half"], shares["of the expelled volume from half"]
        source = f"{standard}, ±{100 * above:g} % of the volume from half the capacity on, from memory"
        return lambda volume: fixed + below * volume if volume < half else above * volume, source
