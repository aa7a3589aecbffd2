"""The air in which something is weighed: its density, by the equation that fits what was measured."""

from __future__ import annotations

from dataclasses import dataclass, field

from assay.errors import DomainError, Problems, UnitError
from assay.kernels.air import (
    CIPM_PRESSURES,
    CIPM_TEMPERATURES,
    ROOM_TEMPERATURES,
    air_density_from_approximation,
    air_density_from_cipm,
)
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.units import Written, read, split

CIPM, OIML, CONVENTIONAL = "CIPM-2007", "OIML R 111", "conventional"
#: Density of air in which nothing was measured, g/L, and its half-width: 10 %, the range for which the convention of
#: 1.2 kg/m³ is meant (OIML R 111, from memory).
STANDARD_DENSITY, STANDARD_HALF_WIDTH = 1.2, 0.12
#: Standard uncertainty of the equation itself, as a share (Picard et al. 2008, from memory).
_U_CIPM = 22e-6
#: Half-width of the approximation, as a share: it keeps within 3.2e-4 of CIPM-2007 from 10 °C to 30 °C, 600 hPa to
#: 1100 hPa and in any humidity (computed; tests/bench/test_air.py).
_WITHIN_OIML = 3.2e-4
#: Humidity of a room in which it was not measured, and its half-width: a choice of this library.
_HUMIDITY, _HUMIDITY_HALF_WIDTH = 0.5, 0.3


@dataclass(frozen=True, slots=True)
class Air:
    """The air of a room: its density by CIPM-2007 where all was measured, else by what the measurements allow.

    With temperature, pressure and humidity, from 15 °C to 27 °C, it is that of CIPM-2007. At other temperatures, or
    where the humidity was not measured (it is then 20 % to 80 %), it is the approximation of OIML R 111. Where neither
    pressure nor temperature was measured it is 1.2 g/L within 10 %.

    Parameters
    ----------
    temperature : str or quantity, optional
        Of the air, 10 °C to 30 °C, such as ``"21.5 °C"``.
    pressure : str or quantity, optional
        At the balance, not reduced to sea level, 600 hPa to 1100 hPa, such as ``"1008 hPa"``.
    humidity : str, optional
        Relative humidity, such as ``"45 %"``.
    temperature_half_width, pressure_half_width : str or quantity
        Half-widths within which they are known; 1 K and 2 hPa if not stated, as of simple instruments (a choice of this
        library).
    humidity_half_width : str
        The same of the humidity; ``"10 %"`` if not stated. What lies beyond 0 % and 100 % is cut off.
    day : str, optional
        Name of the day or of the room's record; without it, it cannot be recognised again.

    Raises
    ------
    DomainError
        If something lies outside its range, a half-width is wider than half the range of the equations, or only one of
        temperature and pressure is given.
    UnitError
        If something has no unit or a wrong one.

    References
    ----------
    [picard-2008] equation CIPM-2007; [oiml-r111-2004] the approximation and the conventional density, from memory.

    Examples
    --------
    >>> air = Air("20 °C", pressure="1013.25 hPa", humidity="50 %", day="2026-11-16")
    >>> air.equation, round(air.density().value, 5)
    ('CIPM-2007', 1.19931)
    >>> Air().density()
    <Estimate 'density of the air, conventional': 1.200 g/L, u = 0.069 g/L, dof = ∞>

    """

    temperature: Written | None = None
    pressure: Written | None = field(default=None, kw_only=True)
    humidity: str | None = field(default=None, kw_only=True)
    temperature_half_width: Written = field(default="1 K", kw_only=True)
    pressure_half_width: Written = field(default="2 hPa", kw_only=True)
    humidity_half_width: str = field(default="10 %", kw_only=True)
    day: str | None = field(default=None, kw_only=True)
    _density: Estimate = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Read everything, so that a mistake shows at once."""
        if (self.temperature is None) != (self.pressure is None):
            missing = "pressure" if self.pressure is None else "temperature"
            raise DomainError(
                "the density of air takes temperature and pressure together",
                argument=missing,
                given="nothing",
                expected=f"a {missing}",
                remedy="State both, or neither: the air then counts as 1.2 g/L within 10 %.",
            )
        if self.humidity is not None and self.temperature is None:
            raise DomainError(
                "a humidity alone says nothing of the density",
                argument="humidity",
                given=self.humidity,
                remedy="State temperature and pressure as well.",
            )
        object.__setattr__(self, "_density", self._found())

    @property
    def equation(self) -> str:
        """By what its density is found: ``"CIPM-2007"``, ``"OIML R 111"`` or ``"conventional"``."""
        if self.temperature is None:
            return CONVENTIONAL
        kelvin = read(self.temperature, "temperature", argument="temperature")
        within = CIPM_TEMPERATURES[0] <= kelvin <= CIPM_TEMPERATURES[1]
        return CIPM if self.humidity is not None and within else OIML

    def density(self) -> Estimate:
        """Return its density, g/L."""
        return self._density

    def _found(self) -> Estimate:
        kelvin_wide, pascal_wide, humid_wide = self._half_widths()
        id_ = fresh_id("air") if self.day is None else f"air/{path_part(self.day, argument='day')}"
        label = f"density of the air, {self.equation}"
        if self.temperature is None or self.pressure is None:
            source = "OIML R 111, conventional density of air within 10 %, from memory"
            influence = Influence.within(
                f"{id_}/density", label=label, value=STANDARD_DENSITY, half_width=STANDARD_HALF_WIDTH, source=source
            )
            return Estimate.from_influence(influence, name="air_density")
        problems = Problems()
        kelvin = problems.attempt(read, self.temperature, "temperature", argument="temperature")
        pascal = problems.attempt(read, self.pressure, "pressure", argument="pressure")
        humid = _HUMIDITY
        if self.humidity is None:
            humid_wide = _HUMIDITY_HALF_WIDTH
        else:
            humid = problems.attempt(_share, self.humidity, argument="humidity")
        problems.raise_any()
        driest, dampest = max(humid - humid_wide, 0.0), min(humid + humid_wide, 1.0)
        humid, humid_wide = (dampest + driest) / 2.0, (dampest - driest) / 2.0
        _check("temperature", self.temperature, kelvin, ROOM_TEMPERATURES, "10 °C to 30 °C")
        _check("pressure", self.pressure, pascal, CIPM_PRESSURES, "600 hPa to 1100 hPa")
        kernel = air_density_from_cipm if self.equation == CIPM else air_density_from_approximation
        inputs = {
            "temperature": (kelvin, kelvin_wide, "temperature of the air"),
            "pressure": (pascal, pascal_wide, "pressure of the air"),
            "relative_humidity": (humid, humid_wide, "humidity of the air"),
        }
        temperature, pressure, humidity = (
            Estimate.from_influence(
                Influence.within(
                    f"{id_}/{name}", label=told, value=value, half_width=wide, source="measured at the balance"
                ),
                name=name,
            )
            for name, (value, wide, told) in inputs.items()
        )
        return evaluate(
            kernel,
            name="air_density",
            label=label,
            temperature=temperature,
            pressure=pressure,
            relative_humidity=humidity,
            air_density_error=self._equation_error(),
        )

    def _half_widths(self) -> tuple[float, float, float]:
        """Return the half-widths of temperature, K, pressure, Pa, and humidity, as they are stated."""
        problems = Problems()
        kelvin = problems.attempt(
            read, self.temperature_half_width, "temperature difference", argument="temperature_half_width"
        )
        pascal = problems.attempt(read, self.pressure_half_width, "pressure", argument="pressure_half_width")
        humid = problems.attempt(_share, self.humidity_half_width, argument="humidity_half_width")
        problems.raise_any()
        for argument, given, value, limits, unit, scale in (
            ("temperature_half_width", self.temperature_half_width, kelvin, ROOM_TEMPERATURES, "K", 1.0),
            ("pressure_half_width", self.pressure_half_width, pascal, CIPM_PRESSURES, "hPa", 100.0),
        ):
            widest = (limits[1] - limits[0]) / 2.0
            if not 0.0 <= value <= widest:
                raise DomainError(
                    "a half-width is not negative, and no wider than half the range of the equations",
                    argument=argument,
                    given=str(given),
                    expected=f"0 {unit} to {widest / scale:g} {unit}",
                    remedy="State by how much the instrument may be off; where nothing was measured, leave it all out.",
                )
        return kelvin, pascal, humid

    def _equation_error(self) -> Estimate:
        """Return what the equation itself may be off: the same in all rooms and on all days."""
        if self.equation == CIPM:
            influence = Influence(
                id="table/air density/CIPM-2007",
                label="equation CIPM-2007",
                value=0.0,
                u=_U_CIPM * STANDARD_DENSITY,
                source="[picard-2008] from memory",
            )
        else:
            influence = Influence.within(
                "table/air density/OIML R 111",
                label="approximation of OIML R 111",
                half_width=_WITHIN_OIML * STANDARD_DENSITY,
                source="[oiml-r111-2004] from memory, against CIPM-2007 computed",
            )
        return Estimate.from_influence(influence, name="air_density_error")


def _check(argument: str, given: Written, value: float, limits: tuple[float, float], expected: str) -> None:
    if not limits[0] <= value <= limits[1]:
        raise DomainError(
            "the equations for the density of air do not hold here",
            argument=argument,
            given=str(given),
            expected=expected,
            remedy="Read it at the balance; a weather report reduces the pressure to sea level.",
        )


def _share(written: str, *, argument: str) -> float:
    given: object = written
    parts = split(given, argument=argument, example="'45 %'") if isinstance(given, str) else None
    if parts is None or parts.rest not in {"%", "% RH", "% rh"}:
        raise UnitError(
            "a relative humidity is written in per cent",
            argument=argument,
            given=written,
            remedy="Write for example '45 %'.",
        )
    share = float(parts.number) / 100.0
    if not 0.0 <= share <= 1.0:
        raise DomainError(
            "a relative humidity lies between 0 % and 100 %", argument=argument, given=written, remedy="Read it again."
        )
    return share
