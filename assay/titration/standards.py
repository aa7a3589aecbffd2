"""Primary standards: a weighed portion, or a solution made up in a flask."""

from __future__ import annotations

from dataclasses import dataclass, field

from assay.bench.filled import Filled
from assay.bench.temperature import Temperature, at_20
from assay.bench.weighing import Weighing
from assay.data import Row, facts, table
from assay.errors import DataError, DomainError, nearest
from assay.flags import Flag
from assay.kernels.dilution import concentration_from_amount
from assay.kernels.weighing import amount_from_mass
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.metrology.influence import Influence
from assay.substances.molar_mass import DEFAULT_EDITION, molar_mass
from assay.titration.end_point import EndPoint, standardising_flags
from assay.units import read_fraction


def _spelled(name: str) -> str:
    """Return a name without what the spelling of one person and another differ in: capitals, commas and spaces."""
    return " ".join(name.casefold().translate({ord(","): " ", ord("-"): " "} | _SUBSCRIPTS).split())


_SUBSCRIPTS = {ord("₀") + digit: str(digit) for digit in range(10)}


@dataclass(frozen=True, slots=True)
class PrimaryStandard:
    """A primary standard: one lot is one influence wherever it is used.

    Parameters
    ----------
    name : str
        Name or formula in the table of primary standards, such as ``"potassium iodate"`` or ``"KIO3"``, or a common
        name, such as ``"KHP"`` or ``"soda ash"``.
    lot : str, optional
        Lot number. Without it the lot cannot be recognised again.
    purity : str
        Mass fraction from the certificate, such as ``"99.95 % w/w"`` or ``"0.9995 g/g"``.
    half_width : str
        Half-width of the purity, taken as rectangular, such as ``"0.05 % w/w"``.
    edition : str
        Edition of the atomic weights.

    Raises
    ------
    DataError
        If the standard is not in the table.
    DomainError
        If the purity is not between 0 and 1.
    UnitError
        If purity or half-width are bare numbers.

    References
    ----------
    [eurachem-cg4] Example A2: purity rectangular.

    Examples
    --------
    >>> PrimaryStandard("potassium iodate", lot="A17", purity="99.95 % w/w", half_width="0.05 % w/w").formula
    'KIO3'

    """

    name: str
    lot: str | None = field(default=None, kw_only=True)
    purity: str = field(kw_only=True)
    half_width: str = field(kw_only=True)
    edition: str = field(default=DEFAULT_EDITION, kw_only=True)
    _row: Row = field(init=False, repr=False, compare=False)
    _purity: Estimate = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Look the standard up and read its purity."""
        standards = table("primary_standards").rows
        names = {name: row.index["name"] for row in standards for name in (row.index["name"], row.index["formula"])}
        names |= {row.index["name"]: row.fact for row in facts("standard_names").rows}
        found = {_spelled(name): standard for name, standard in names.items()}.get(_spelled(self.name))
        if found is None:
            raise DataError(
                "not in the table of primary standards.", argument="standard", given=self.name,
                remedy=nearest(self.name, names),
            )  # fmt: skip
        row = next(
            row for row in standards if row.index["name"] == found and row.index["quantity"].startswith("equivalents")
        )
        object.__setattr__(self, "_row", row)
        object.__setattr__(self, "_purity", self._read_purity())

    def _read_purity(self) -> Estimate:
        purity = read_fraction(self.purity, argument="purity")
        half_width = read_fraction(self.half_width, argument="half_width")
        if not 0.0 < purity <= 1.0:
            raise DomainError(
                "a purity is above 0 and at most 100 % w/w",
                argument="purity",
                given=self.purity,
                remedy="A certificate above 100 % within its half-width is written as 100 % w/w.",
            )
        if half_width < 0.0:
            raise DomainError(
                "a half-width is not negative", argument="half_width", given=self.half_width, remedy="Drop the sign."
            )
        lot = (
            fresh_id("lot")
            if self.lot is None
            else f"lot/{self._row.index['name']}/{path_part(self.lot, argument='lot')}"
        )
        return Estimate.from_influence(
            Influence.within(
                f"{lot}/purity",
                label=f"purity of {self.label}",
                value=purity,
                half_width=half_width,
                source=f"certificate, {self.purity} ± {self.half_width}",
            ),
            name="purity",
        )

    @property
    def formula(self) -> str:
        """Its formula."""
        return self._row.index["formula"]

    @property
    def density(self) -> str:
        """Its density, such as ``"3.89 g/mL"``, for the buoyancy of air; it counts as known within 2 %."""
        name = self._row.index["name"]
        row = next(
            row
            for row in table("primary_standards").rows
            if row.index["name"] == name and row.index["quantity"] == "density"
        )
        return f"{row.value:g} {row.unit}"

    @property
    def titrant(self) -> str:
        """What it standardises."""
        return self._row.index["against"]

    @property
    def equivalents(self) -> float:
        """Moles of titrant that one mole consumes."""
        return self._row.value

    @property
    def indicators(self) -> tuple[str, ...]:
        """The indicators that change at its equivalence point, the usual one first."""
        return tuple(row.index["indicator"] for row in facts("standard_indicators").select(standard=self._name))

    @property
    def _name(self) -> str:
        return self._row.index["name"]

    def end_point_flags(self, end_point: EndPoint | None) -> tuple[Flag, ...]:
        """Return the flags of the end point to which it was titrated; see `standardising_flags`."""
        return standardising_flags(end_point, what=self._name, suitable=self.indicators)

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"{self._row.index['name']}, {'lot not stated' if self.lot is None else f'lot {self.lot}'}"

    def amount(self, weighing: Weighing, record: str, *, repeatability: bool = True) -> Estimate:
        """Return the amount in a weighed portion, mol; see `Weighing.mass`."""
        return evaluate(
            amount_from_mass,
            name="standard_amount",
            label=f"amount of {self._row.index['name']}",
            mass=weighing.mass(record, repeatability=repeatability),
            purity=self._purity,
            molar_mass=molar_mass(self.formula, edition=self.edition),
        )

    def trace(self) -> dict[str, str]:
        """Return what a traceability line needs."""
        return {
            "standard": self._row.index["name"],
            "lot": self.lot or "not stated",
            "purity": f"{self.purity} ± {self.half_width} (half-width)",
            "atomic weights": self.edition,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class StandardSolution:
    """A primary standard made up in a flask.

    Parameters
    ----------
    standard : PrimaryStandard
        The standard.
    weighing : Weighing
        The weighed portion.
    flask : Flask, or a cylinder or a beaker filled to a graduation
        What it was made up in, such as ``cylinder.measure("250 mL")``.

    References
    ----------
    [eurachem-cg4] Example A1: a standard weighed and made up in a flask.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> iodate = assay.PrimaryStandard("KIO3", lot="2219", purity="99.95 % w/w", half_width="0.05 % w/w")
    >>> solution = assay.StandardSolution(
    ...     standard=iodate,
    ...     weighing=balance.by_difference("21.4312 g", "20.5402 g"),
    ...     flask=assay.Flask("F250", capacity="250 mL"),
    ... )
    >>> solution.concentration()
    <Estimate 'concentration of potassium iodate, lot 2219': 0.016646 mol/L, u = 0.000013 mol/L, dof = ∞>

    """

    standard: PrimaryStandard
    weighing: Weighing
    flask: Filled

    @property
    def path(self) -> str:
        """The path under which its weighing is known: the same for every titrant that is standardised against it."""
        return self.weighing.path

    def concentration(self, temperature: Temperature | None = None) -> Estimate:
        """Return its concentration, mol/L, at 20 °C where the temperature is stated."""
        return evaluate(
            concentration_from_amount,
            name="standard_concentration",
            label=f"concentration of {self.standard.label}",
            amount=self.standard.amount(self.weighing, self.path),
            made_up_volume=at_20(self.flask.filled_once(self.path), self.flask.material, temperature),
        )
