"""Standardising a titrant against a primary standard."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, inf, nan
from statistics import fmean, stdev

from assay.bench.balance import Weighing
from assay.bench.burette import Titre
from assay.bench.vessels import Flask, Pipette
from assay.data import Row, table
from assay.display.numbers import measured
from assay.errors import DataError, DomainError, nearest
from assay.flags import Flag
from assay.kernels.dilution import amount_from_aliquot, concentration_from_amount
from assay.kernels.titration import titrant_concentration_from_standard
from assay.kernels.weighing import amount_from_mass
from assay.metrology.budget import Budget
from assay.metrology.estimate import Estimate, evaluate
from assay.metrology.influence import Influence, fresh_id, path_part
from assay.metrology.replicates import MethodScatter, Rounding, mean_of, scatter_of, scatter_with_single
from assay.metrology.saved import Entry
from assay.substances.molar_mass import DEFAULT_EDITION, molar_mass
from assay.titration.titres import (
    aside_flag,
    blank_flag,
    blank_of,
    check_net,
    check_titres,
    method_scatter,
    record_path,
    rounding_of,
    single_of,
    titre_set,
)
from assay.units import Written, read_fraction


@dataclass(frozen=True, slots=True)
class PrimaryStandard:
    """A primary standard: one lot is one influence wherever it is used.

    Parameters
    ----------
    name : str
        Name in the table of primary standards, such as ``"potassium iodate"``.
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
        names = {name: row for row in standards for name in (row.index["name"], row.index["formula"])}
        if self.name not in names:
            raise DataError(
                "not in the table of primary standards.", argument="standard", given=self.name,
                remedy=nearest(self.name, names),
            )  # fmt: skip
        row = next(
            row
            for row in standards
            if row.index["name"] == names[self.name].index["name"] and row.index["quantity"].startswith("equivalents")
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
    def titrant(self) -> str:
        """What it standardises."""
        return self._row.index["against"]

    @property
    def equivalents(self) -> float:
        """Moles of titrant that one mole consumes."""
        return self._row.value

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
    flask : Flask
        The flask it was made up in.

    """

    standard: PrimaryStandard
    weighing: Weighing
    flask: Flask

    @property
    def path(self) -> str:
        """The path under which its weighing is known: the same for every titrant that is standardised against it."""
        readings = hashlib.sha256(self.weighing.readings().encode()).hexdigest()[:10]
        return f"{self.weighing.balance.id}/weighing/{readings}"

    def concentration(self) -> Estimate:
        """Return its concentration, mol/L."""
        return evaluate(
            concentration_from_amount,
            name="standard_concentration",
            label=f"concentration of {self.standard.label}",
            amount=self.standard.amount(self.weighing, self.path),
            made_up_volume=self.flask.volume(),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Titrant:
    """A standardised titrant: every assay that uses it shares its influences.

    Parameters
    ----------
    name : str
        What it is: ``"thiosulfate"``.
    estimate : Estimate
        Its concentration, mol/L.
    facts : mapping of str to str
        Standard, lot, purity, atomic weights: what a traceability line needs.

    """

    name: str
    estimate: Estimate
    facts: Mapping[str, str] = field(default_factory=dict)

    @property
    def label(self) -> str:
        """What a person calls it."""
        return self.estimate.label

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about the data."""
        return self.estimate.flags

    def budget(self) -> Budget:
        """Return the uncertainty budget of the concentration."""
        return self.estimate.budget()

    def accepting(self, code: str, *, because: str) -> Titrant:
        """Return the same titrant with a flag accepted by name, the reason recorded."""
        return Titrant(name=self.name, estimate=self.estimate.accepting(code, because=because), facts=self.facts)

    def entry(self) -> Entry:
        """Return what is saved of it."""
        return Entry(kind="titrant", facts={**self.facts, "titrant": self.name}, estimate=self.estimate)

    @classmethod
    def from_entry(cls, entry: Entry) -> Titrant:
        """Return a titrant from what was saved of it."""
        facts = dict(entry.facts)
        return cls(name=facts.pop("titrant"), estimate=entry.estimate, facts=facts)

    def __repr__(self) -> str:
        return measured(self.estimate, kind="Titrant")

    def __str__(self) -> str:
        return "\n".join([*(f"! {flag}" for flag in self.flags), str(self.estimate)])


def standardise_by_aliquots(
    solution: StandardSolution,
    *,
    aliquot: Pipette,
    titres: Sequence[Titre],
    blank: Titre | Sequence[Titre] | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
    record: str | None = None,
) -> Titrant:
    """Return a titrant standardised with aliquots of a standard solution.

    Parameters
    ----------
    solution : StandardSolution
        The standard made up in a flask.
    aliquot : Pipette
        The pipette that takes each aliquot.
    titres : sequence of Titre
        Titres of the aliquots.
    blank : Titre or sequence of Titre, optional
        Titres of the reagents alone; leaving it out is flagged.
    method_s : str or quantity, optional
        Known standard deviation of one titre, a volume, instead of that of these titres; needed for a single titre.
    method_dof : float
        Its degrees of freedom.
    record : str, optional
        Name of the record, such as ``"thiosulfate, 16 November"``. Without it, the scatter is new each time.

    Returns
    -------
    Titrant [mol/L]
        Its concentration, with everything it shares with other results.

    Raises
    ------
    DomainError
        If there is a single titre without ``method_s``, or no titre.

    References
    ----------
    [talbot-1921] Part IV, problem 61 (equivalents of iodate); common practice for the aliquots.

    """
    standard = solution.standard
    titres = check_titres(titres, argument="titres")
    path = record_path(record, [solution.weighing.readings(), *(titre.readings() for titre in titres)])
    label = f"{standard.titrant}{'' if record is None else f' ({record})'}"
    amount = evaluate(
        amount_from_aliquot,
        name="standard_amount",
        label=f"amount of {standard.label} in an aliquot",
        standard_concentration=solution.concentration(),
        aliquot_volume=aliquot.volume(),
    )
    titrated = titre_set(
        titres,
        path=path,
        label=f"titre, {label}",
        method=method_scatter(method_s, method_dof),
        single_blank=single_of(blank) is not None,
    )
    scatter = titrated.scatter
    empty, flags = blank_of(
        blank, path=path, label=label, s=scatter.s, dof=scatter.dof, scattered=titrated.blank_scatter
    )
    check_net(titrated.mean.value - empty.value, label=label)
    estimate = _concentration(standard, amount, titrated.mean, empty, label)
    whole = fmean(titre.nominal for titre in titres)
    with_all = estimate.value * (titrated.mean.value - empty.value) / ((whole - empty.value) or nan)
    flags += blank_flag(titrated.mean.value, empty.value, label) + aside_flag(titrated.aside, with_all, label)
    return Titrant(name=standard.titrant, estimate=estimate.flagged(*flags), facts=standard.trace())


def standardise_by_portions(
    standard: PrimaryStandard,
    *,
    portions: Sequence[tuple[Weighing, Titre]],
    blank: Titre | Sequence[Titre] | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
    record: str | None = None,
) -> Titrant:
    """Return a titrant standardised with portions of a primary standard, each weighed for itself.

    The scatter is that of the concentrations found; it contains the repeatability of weighing, reading and end point.

    Parameters
    ----------
    standard : PrimaryStandard
        The standard.
    portions : sequence of (Weighing, Titre)
        Each weighed portion and its titre.
    blank : Titre or sequence of Titre, optional
        Titres of the reagents alone; leaving it out is flagged.
    method_s : str or quantity, optional
        Known standard deviation of one titre, a volume; needed for a single portion.
    method_dof : float
        Its degrees of freedom.
    record : str, optional
        Name of the record.

    Returns
    -------
    Titrant [mol/L]
        Its concentration, with everything it shares with other results.

    Raises
    ------
    DomainError
        If there is a single portion without ``method_s``, or none.

    References
    ----------
    [talbot-1921] Part IV, problem 61 (equivalents of iodate); common practice for the portions.

    """
    check_titres([titre for _, titre in portions], argument="portions")
    path = record_path(record, [f"{weighing.readings()}|{titre.readings()}" for weighing, titre in portions])
    label = f"{standard.titrant}{'' if record is None else f' ({record})'}"
    kept = [titre.kept for _, titre in portions]
    amounts = [
        standard.amount(weighing, f"{path}/portion {k + 1}", repeatability=False)
        for k, (weighing, _) in enumerate(portions)
    ]
    known = method_scatter(method_s, method_dof)
    if not any(kept):
        scatter_of([])  # refuses
    for _, titre in portions:
        check_net(titre.nominal, label=label)
    mean_titre = fmean(titre.nominal for _, titre in portions if titre.kept)
    ratios = [a.value / t.nominal for a, (_, t) in zip(amounts, portions, strict=True) if t.kept]
    s, dof = _titre_scatter(ratios, known, mean_titre)
    s *= mean_titre

    def found_with(empty: Estimate) -> tuple[list[Estimate], list[Estimate]]:
        for _, titre in portions:
            check_net(titre.nominal - empty.value, label=label)
        found = [
            _concentration(standard, amount, titre.volume(), empty, f"{label}, portion {k + 1}")
            for k, (amount, (_, titre)) in enumerate(zip(amounts, portions, strict=True))
        ]
        return found, [concentration for concentration, keep in zip(found, kept, strict=True) if keep]

    empty, flags = blank_of(blank, path=path, label=label, s=s, dof=dof)
    found, counted = found_with(empty)
    scatter = scatter_of(
        [concentration.value for concentration in counted],
        method=None if known is None else _relative(known, counted[0].value / mean_titre),
        rounding=_rounding_of_portions([portion for portion in portions if portion[1].kept], counted),
    )
    of_mean = None
    if single_of(blank) is not None and s > 0.0 and scatter.s > 0.0:
        # One s stands behind the mean and its single blank: both again, as one term.
        of_mean, of_blank = scatter_with_single(
            scatter, record=path, name="titrant_concentration", label=label, single="blank", single_u=s
        )
        empty, flags = blank_of(blank, path=path, label=label, s=s, dof=dof, scattered=of_blank)
        found, counted = found_with(empty)
    mean = mean_of(counted, scatter, record=path, name="titrant_concentration", label=label, scattered=of_mean)
    aside = [titre for _, titre in portions if not titre.kept]
    flags += blank_flag(mean_titre, empty.value, label)
    flags += aside_flag(aside, fmean(concentration.value for concentration in found), label)
    return Titrant(name=standard.titrant, estimate=mean.flagged(*flags), facts=standard.trace())


def _concentration(
    standard: PrimaryStandard, amount: Estimate, titre: Estimate, blank: Estimate, label: str
) -> Estimate:
    return evaluate(
        titrant_concentration_from_standard,
        name="titrant_concentration",
        label=label,
        standard_amount=amount,
        equivalents=standard.equivalents,
        titre=titre,
        blank=blank,
    )


def _titre_scatter(ratios: Sequence[float], known: MethodScatter | None, mean_titre: float) -> tuple[float, float]:
    """Return the relative scatter of titres of unlike portions, and its degrees of freedom, for a single blank."""
    if known is not None:
        return known.s / mean_titre, known.dof
    if len(ratios) < 2:  # noqa: PLR2004  (a scatter needs two)
        return 0.0, inf
    return stdev(ratios) / fmean(ratios), float(len(ratios) - 1)


def _relative(known: MethodScatter, factor: float) -> MethodScatter:
    return MethodScatter(s=known.s * abs(factor), dof=known.dof)


def _rounding_of_portions(portions: Sequence[tuple[Weighing, Titre]], found: Sequence[Estimate]) -> Rounding:
    """Return rounding and weighing repeatability of one portion, in mol/L of titrant."""
    if not found:
        return Rounding()
    rounding = rounding_of([titre for _, titre in portions])
    per_volume = max(abs(c.value) / titre.nominal for c, (_, titre) in zip(found, portions, strict=True))
    weighing = max(
        abs(c.value) * weighed.u_repeatability() / weighed.nominal
        for c, (weighed, _) in zip(found, portions, strict=True)
    )
    return Rounding(shared=rounding.shared * per_volume, own=hypot(rounding.own * per_volume, weighing))
