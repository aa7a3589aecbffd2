"""Calibrate your own ware: from weighings of water to its volume at 20 °C."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assay.bench.air import Air
from assay.bench.certified import Drift, Repeatability, check_same_ware, date_of, drift_since
from assay.bench.temperature import Temperature, ware_expansion
from assay.bench.weighing import Weighing, weights_density
from assay.display.numbers import plus_minus, significant
from assay.display.rows import Rows, html, latex, text
from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.kernels.buoyancy import buoyancy_factor_from_densities, volume_at_20_from_weighing, z_factor_from_buoyancy
from assay.kernels.volume import volume_error_from_volume
from assay.kernels.water import water_density_from_temperature_difference
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.grubbs import grubbs
from assay.metrology.identity import path_part
from assay.metrology.influence import Influence
from assay.metrology.replicates import Rounding, Scatter, mean_of, scatter_of
from assay.units import Written, read

_ML = 1000.0
#: Half-width within which deionised water agrees with the equation, g/L: isotopes up to 0.003, dissolved air up to
#: 0.005, pressure up to 0.01 at 800 hPa; the sum rounded up is a choice of this library.
WATER_HALF_WIDTH = 0.02
#: Fewer weighings than these are flagged: ISO 8655-6 and ISO 4787 take ten (from memory).
USUAL = 10
#: Evaporation of this share of what was weighed, or more, is a wrong unit: a choice of this library.
_TOO_MUCH = 0.1
#: From how many weighings on one of them can be seen to lie apart.
_TESTED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What weighings of water say of a piece of ware; made by `calibrate`.

    Given to `Pipette` or `Flask` as its ``calibration`` it replaces the limit of the class everywhere.

    Parameters
    ----------
    volume : Estimate [L]
        The mean volume at 20 °C.
    scatter : Scatter
        Of the weighings, g.
    date : str
        When it was done; the ids of what it says carry it.
    material : str
        What the ware was said to be made of: it holds for ware of that material.
    flags : tuple of Flag
        ``few-weighings`` if there are fewer than ten, ``outlying-weighing`` if one lies apart from the others.
    ageing : Drift, optional
        What the volume may have changed since.
    ware : str
        What was calibrated.
    least_s : float [g]
        What the balance itself repeats to, of a weighing: weighings that agree by chance repeat no better.

    References
    ----------
    [iso-4787-2010] and [iso-8655-6-2002]: gravimetric testing, from memory.

    Examples
    --------
    The example of `calibrate` shows one.

    >>> from assay import Air, Balance, Temperature
    >>> balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> found = calibrate(
    ...     "pipette P10",
    ...     [balance.by_difference(gross, "20.0000 g") for gross in ("29.9612 g", "29.9630 g", "29.9589 g")],
    ...     water=Temperature("21.0 °C", half_width="0.5 K", day="2026-11-10"),
    ...     air=Air("21.0 °C", pressure="1008 hPa", humidity="45 %", day="2026-11-10"),
    ...     date="2026-11-10",
    ... )
    >>> round(found.volume.value * 1000, 3), [flag.code for flag in found.flags]
    (9.991, ['few-weighings'])

    """

    volume: Estimate
    scatter: Scatter
    date: str
    material: str = "borosilicate"
    flags: tuple[Flag, ...] = ()
    ageing: Drift | None = None
    ware: str
    least_s: float = 0.0

    @property
    def of_one(self) -> Repeatability:
        """What single deliveries or fillings differ by, L: the scatter of the weighings, with the balance's in it."""
        grams = max(self.scatter.s, self.least_s)
        return Repeatability(
            s=grams * self.volume.value / self.scatter.mean,
            dof=self.scatter.dof if grams > self.least_s else math.inf,
            source=f"scatter of {self.scatter.n} weighings on {self.date}",
        )

    def error(self, id_: str, label: str, nominal: float) -> Estimate:
        """Return true volume less nominal volume, L, of the ware with this id and label."""
        check_same_ware(self.ware, id_, label)
        if not abs(self.volume.value - nominal) < 0.1 * nominal:
            raise DomainError(
                f"this is far from the {nominal * _ML:g} mL of {label}",
                argument="calibration",
                given=f"{self.volume.value * _ML:.5g} mL",
                remedy="Does the calibration belong to this piece of ware?",
            )
        found = evaluate(
            volume_error_from_volume,
            name="volume_error",
            label=f"error of {label}, calibrated on {self.date}",
            volume=self.volume,
            nominal_volume=nominal,
        )
        return found if self.ageing is None else self.ageing.on(found, id_, label)

    def found(self) -> tuple[Estimate, ...]:
        """Return what was found: the volume at 20 °C, L."""
        return (self.volume,)

    def rows(self, level: float = 0.95) -> Rows:
        """Return the volume and where its uncertainty comes from as rows of text."""
        budget = self.volume.budget()
        e = self.volume
        title = (
            f"{e.label}: {plus_minus(e.value * _ML, e.expanded(level) * _ML, 'mL')} at 20 °C, U at {100 * level:g} %; "
            f"one delivery or filling: s = {significant(self.of_one.s * _ML * 1000)} µL"
        )
        lines = tuple((line.label, f"{significant(abs(line.contribution) * _ML * 1000)} µL") for line in budget.lines)
        return Rows(title=title, head=("from", "contribution to u"), body=lines)

    def __str__(self) -> str:
        return "\n".join([*(f"! {flag}" for flag in self.flags), text(self.rows())])

    def __repr__(self) -> str:
        e = self.volume
        return f"<Calibration {e.label!r}: {plus_minus(e.value * _ML, e.expanded() * _ML, 'mL')}, n = {self.scatter.n}>"

    def _repr_html_(self) -> str:
        return html(self.rows())

    def _repr_latex_(self) -> str:
        return latex(self.rows())


def calibrate(
    ware: str,
    weighings: Sequence[Weighing],
    *,
    water: Temperature,
    air: Air,
    date: str,
    material: str = "borosilicate",
    evaporation: Written | None = None,
    drift: Written | None = None,
    used: str | None = None,
) -> Calibration:
    """Return the volume of a piece of ware at 20 °C from what it held or delivered of water.

    The mean of the weighings counts; their scatter says how well it is known. What a single delivery or filling differs
    from it counts where one stands for itself: in a dilution, a flask that is made up, a dose. Aliquots that are
    titrated show it by their titres. Its degrees of freedom count for each delivery and for the mean apart, though all
    are of these weighings: with three weighings and a pipette that is used twice, k is too small. Balance, water and
    air are the same in all weighings and do not average.

    Parameters
    ----------
    ware : str
        What is calibrated, such as ``"pipette P10"``.
    weighings : sequence of Weighing
        One for each filling, ``balance.by_difference(gross, tare)``; two or more, ten as the standards have it.
    water : Temperature
        Temperature of the water, and of the ware in it.
    air : Air
        The air at the balance.
    date : str
        When it was done, such as ``"2026-11-10"``; with `ware` it is the path of what the calibration says.
    material : str
        What the ware is made of; see `Burette`.
    evaporation : str or quantity, optional
        The most water that may have evaporated from a weighing, such as ``"0.5 mg"``: what was weighed is then too
        little by half of it, within the other half.
    drift : str or quantity, optional
        By how much the volume may change in a year, as a half-width; it needs ``used``. It is one influence for all
        days of use.
    used : str, optional
        The date on which the ware is used, for the drift since ``date``.

    Returns
    -------
    Calibration
        Volume with budget; a flag if there are fewer than ten weighings.

    Raises
    ------
    DataError
        If the date or the material is unknown, water, air or a weighing is something else, the weighings are of two
        balances, or one is corrected for buoyancy already.
    DomainError
        If there are fewer than two weighings, or the evaporation is negative or a tenth of what was weighed or more.

    References
    ----------
    [iso-4787-2010] volume at the reference temperature, from memory; [iso-8655-6-2002] factor Z;
    [tanaka-2001] density of water.

    Examples
    --------
    >>> from assay import Air, Balance, Pipette, Temperature
    >>> balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> grams = ("29.9612", "29.9630", "29.9589", "29.9601", "29.9622")
    >>> found = calibrate(
    ...     "pipette P10",
    ...     [balance.by_difference(f"{gross} g", "20.0000 g") for gross in grams],
    ...     water=Temperature("21.0 °C", half_width="0.5 K", day="2026-11-10"),
    ...     air=Air("21.0 °C", pressure="1008 hPa", humidity="45 %", day="2026-11-10"),
    ...     date="2026-11-10",
    ... )
    >>> pipette = Pipette("P10", capacity="10 mL", accuracy_class="B", calibration=found)
    >>> pipette.volume().u < Pipette("P10", capacity="10 mL", accuracy_class="B").volume().u / 10
    True

    """
    date_of(date, argument="date")
    weighings = _checked(weighings)
    for argument, stated, kind, remedy in (
        ("water", water, Temperature, "Temperature('21.0 °C', half_width='0.5 K', day='…')"),
        ("air", air, Air, "Air('21.0 °C', pressure='1008 hPa', humidity='45 %'), or Air() where nothing was measured"),
    ):
        _check_kind(argument, stated, kind, remedy)
    path = f"calibration/{path_part(ware, argument='ware')}/{date}"
    # As titres by mass: what a weighing repeats to on the balance is the least that its replicates scatter by.
    least = max(weighing.u_repeatability() for weighing in weighings)
    scatter = scatter_of([weighing.nominal for weighing in weighings], rounding=Rounding(own=least))
    masses = [
        weighing.mass(f"{path}/{k}", repeatability=False, weighed="water") for k, weighing in enumerate(weighings, 1)
    ]
    mass = mean_of(masses, scatter, record=path, name="mass", label=f"water in {ware}")
    volume = evaluate(
        volume_at_20_from_weighing,
        name="volume",
        label=f"volume of {ware}, calibrated on {date}",
        mass=mass,
        evaporated_mass=_evaporated(evaporation, path, ware, scatter.mean),
        z_factor=z_factor(water, air, weights_density(weighings[0].balance)),
        ware_expansion=ware_expansion(material),
        temperature_difference=water.difference(),
    )
    flags = (*_few(ware, len(weighings)), *_outlying(ware, [weighing.nominal for weighing in weighings]))
    return Calibration(
        volume=volume.flagged(*flags), scatter=scatter, date=date, material=material, flags=flags, ware=ware,
        ageing=drift_since(drift, date, used), least_s=least,
    )  # fmt: skip


def _few(ware: str, n: int) -> tuple[Flag, ...]:
    if n >= USUAL:
        return ()
    message = f"{ware} was calibrated by {n} weighings; the standards take {USUAL}."
    return (Flag(code="few-weighings", message=message),)


def _outlying(ware: str, grams: Sequence[float]) -> tuple[Flag, ...]:
    """Return a flag if one weighing lies apart from the others by the test of Grubbs at 99 %."""
    if len(grams) < _TESTED or max(grams) == min(grams):
        return ()
    found = grubbs(grams, level=0.99)
    if not found.suspected:
        return ()
    told = ", ".join(f"{value:g} g" for value in found.values)
    message = f"of the weighings of {ware}, {told} lies apart (Grubbs, 99 %): is it a slip? All of them count."
    return (Flag(code="outlying-weighing", message=message),)


def _checked(weighings: Sequence[Weighing]) -> tuple[Weighing, ...]:
    """Return weighings of water on one balance, two or more; refuse what is something else."""
    given: object = weighings
    found = tuple(given) if isinstance(given, Iterable) and not isinstance(given, str) else (given,)
    strangers = [type(weighing).__name__ for weighing in found if not isinstance(weighing, Weighing)]
    if strangers:
        raise DataError(
            "this is not a weighing",
            argument="weighings",
            given=strangers[0],
            remedy="Write balance.by_difference('29.9612 g', '20.0000 g') for each.",
        )
    weighed = tuple(weighing for weighing in found if isinstance(weighing, Weighing))
    if len(weighed) < 2:  # noqa: PLR2004  (one says nothing about its scatter)
        raise DomainError(
            "a calibration takes two weighings or more: one says nothing about its scatter",
            argument="weighings",
            given=len(weighed),
            remedy=f"Weigh {USUAL} fillings.",
        )
    if any(weighing.density is not None for weighing in weighed):
        raise DataError(
            "the buoyancy of the water follows from its temperature and the air, and would be corrected twice",
            argument="weighings",
            given="weighings with a density",
            remedy="Leave density and air out of by_difference.",
        )
    if len({weighing.balance.id for weighing in weighed}) > 1:
        raise DataError(
            "the weighings of one calibration are made on one balance",
            argument="weighings",
            given=", ".join(sorted({weighing.balance.label for weighing in weighed})),
            remedy="Calibrate with those of one of them, and compare the two.",
        )
    return weighed


def _check_kind(argument: str, given: object, kind: type, remedy: str) -> None:
    if not isinstance(given, kind):
        raise DataError(
            f"this does not tell what the {argument} was like",
            argument=argument,
            given=given,
            expected=f"{'a' if kind is Temperature else 'an'} {kind.__name__}",
            remedy=f"Write {remedy}.",
        )


def z_factor(water: Temperature, air: Air, weights: Estimate) -> Estimate:
    """Return the volume of water for a gram of its reading, L/g, at its own temperature: no vessel has part in it.

    Parameters
    ----------
    water : Temperature
        Temperature of the water.
    air : Air
        The air at the balance.
    weights : Estimate [g/L]
        Density of the weights by which the balance was adjusted.

    """
    other = Influence.within(
        "table/water density/water at hand",
        label="water at hand against the equation",
        half_width=WATER_HALF_WIDTH,
        source="isotopes, dissolved air, pressure: a choice of the library",
    )
    density = evaluate(
        water_density_from_temperature_difference,
        name="water_density",
        label="density of water",
        temperature_difference=water.difference(),
        water_density_error=Estimate.from_influence(other, name="water_density_error"),
    )
    factor = evaluate(
        buoyancy_factor_from_densities,
        name="buoyancy_factor",
        label="buoyancy of water",
        air_density=air.density(),
        weights_density=weights,
        density=density,
    )
    return evaluate(
        z_factor_from_buoyancy,
        name="z_factor",
        label="volume of a gram of water",
        buoyancy_factor=factor,
        density=density,
    )


def _evaporated(most: Written | None, path: str, ware: str, weighed: float) -> Estimate:
    if most is None:
        return Estimate.exactly(0.0, name="evaporated_mass", label="evaporation, not stated")
    mass = read(most, "mass", argument="evaporation")
    if mass < 0.0:
        raise DomainError("an evaporation is not negative", argument="evaporation", given=str(most))
    if mass >= _TOO_MUCH * weighed:
        raise DomainError(
            f"so much did not evaporate of {weighed:.4g} g",
            argument="evaporation",
            given=str(most),
            expected=f"less than {_TOO_MUCH * weighed:.2g} g",
            remedy="Check the unit: is it in mg?",
        )
    influence = Influence.within(
        f"{path}/evaporation",
        label=f"evaporation from {ware}",
        value=mass / 2.0,
        half_width=mass / 2.0,
        source=f"stated: at most {most}",
    )
    return Estimate.from_influence(influence, name="evaporated_mass")
