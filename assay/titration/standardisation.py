"""Standardising a titrant: against a primary standard, or by comparison with a known titrant."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, nan
from statistics import fmean

from assay.bench.balance import Weighing
from assay.bench.temperature import Temperature, at_20
from assay.bench.vessels import Pipette
from assay.errors import DomainError
from assay.flags import refuse_blocked
from assay.kernels.dilution import amount_from_aliquot
from assay.kernels.titration import titrant_concentration_from_comparison, titrant_concentration_from_standard
from assay.metrology.estimate import Estimate, evaluate
from assay.titration.end_point import EndPoint
from assay.titration.portions import PortionSet
from assay.titration.standards import PrimaryStandard, StandardSolution
from assay.titration.titrant import Titrant
from assay.titration.titres import (
    AnyTitre,
    Blank,
    Conditions,
    aside_flag,
    blank_flag,
    blank_of,
    check_net,
    check_titres,
    record_path,
    single_of,
    titre_set,
)
from assay.units import Written

#: Glossary name of a titrant's strength, by the unit of its titres.
_NAMES = {"L": "titrant_concentration", "g": "titrant_content"}


def standardise_by_aliquots(
    solution: StandardSolution,
    *,
    aliquot: Pipette,
    titres: Sequence[AnyTitre],
    blank: Blank = None,
    end_point: EndPoint | None = None,
    temperature: Temperature | None = None,
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
    titres : sequence of Titre or MassTitre
        Titres of the aliquots, by volume or by mass; by mass the titrant is then known per gram.
    blank : Titre, MassTitre or a sequence, optional
        Titres of the reagents alone; leaving it out is flagged.
    end_point : EndPoint, optional
        Indicator and operator of an acid-base titration.
    temperature : Temperature, optional
        Temperature of the liquids; volumes are then stated at 20 °C.
    method_s : str or quantity, optional
        Known standard deviation of one titre, instead of that of these titres; needed for a single titre.
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
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    titres = check_titres(titres, argument="titres")
    path = record_path(record, [solution.weighing.readings(), *(titre.readings() for titre in titres)])
    label = _label(standard.titrant, record)
    amount = evaluate(
        amount_from_aliquot,
        name="standard_amount",
        label=f"amount of {standard.label} in an aliquot",
        standard_concentration=solution.concentration(temperature),
        aliquot_volume=at_20(aliquot.volume(), aliquot.material, temperature),
    )
    titrated = titre_set(
        titres, path=path, label=f"titre, {label}", conditions=conditions, single_blank=single_of(blank) is not None
    )
    scatter = titrated.scatter
    empty, flags = blank_of(
        blank,
        path=path,
        label=label,
        s=scatter.repeatability,
        dof=scatter.dof,
        conditions=conditions,
        scattered=titrated.blank_scatter,
    )
    check_net(titrated.mean.value - empty.value, label=label)
    unit = titrated.kept[0].unit
    estimate = _concentration(standard, amount, titrated.mean, empty, label, unit)
    # The rest of a correction to the mean is the same with all titres as with those kept.
    whole = fmean(titre.nominal for titre in titres) + titrated.mean.value - scatter.mean
    with_all = estimate.value * (titrated.mean.value - empty.value) / ((whole - empty.value) or nan)
    flags += blank_flag(titrated.mean.value, empty.value, label, unit)
    flags += aside_flag(titrated.aside, with_all, label, estimate.unit)
    return Titrant(name=standard.titrant, estimate=estimate.flagged(*flags), facts=_facts(standard, end_point))


def standardise_by_portions(
    standard: PrimaryStandard,
    *,
    portions: Sequence[tuple[Weighing, AnyTitre]],
    blank: Blank = None,
    end_point: EndPoint | None = None,
    temperature: Temperature | None = None,
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
    portions : sequence of (Weighing, Titre or MassTitre)
        Each weighed portion and its titre.
    blank : Titre, MassTitre or a sequence, optional
        Titres of the reagents alone; leaving it out is flagged.
    end_point : EndPoint, optional
        Indicator and operator of an acid-base titration.
    temperature : Temperature, optional
        Temperature of the liquids; volumes are then stated at 20 °C.
    method_s : str or quantity, optional
        Known standard deviation of one titre; needed for a single portion.
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
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    titres = check_titres([titre for _, titre in portions], argument="portions")
    path = record_path(record, [f"{weighing.readings()}|{titre.readings()}" for weighing, titre in portions])
    label = _label(standard.titrant, record)
    unit = titres[0].unit if titres else "L"

    def one(at: str, weighing: Weighing, titre: Estimate, empty: Estimate) -> Estimate:
        amount = standard.amount(weighing, at, repeatability=False)
        return _concentration(standard, amount, titre, empty, f"{label}, {at.rsplit('/', 1)[-1]}", unit)

    found = PortionSet(portions=portions, path=path, label=label, name=_NAMES[unit])
    mean = found.mean(one, blank, conditions)
    return Titrant(name=standard.titrant, estimate=mean, facts=_facts(standard, end_point))


def standardise_by_comparison(
    known: Titrant,
    *,
    known_titres: Sequence[AnyTitre],
    titres: Sequence[AnyTitre],
    blank: Blank = None,
    end_point: EndPoint | None = None,
    temperature: Temperature | None = None,
    record: str | None = None,
) -> Titrant:
    """Return a titrant standardised by comparison: like portions are titrated with it and with a known one.

    For thiosulfate the portions are equal aliquots of one iodine solution, titrated in turn.

    Parameters
    ----------
    known : Titrant
        The titrant that is known.
    known_titres : sequence of titres
        Titres with the known titrant.
    titres : sequence of titres
        Titres with the other, of the same kind.
    blank : titre or a sequence, optional
        Titres of the reagents alone; leaving it out is flagged.
    end_point : EndPoint, optional
        Indicator and operator.
    temperature : Temperature, optional
        Temperature of the liquids.
    record : str, optional
        Name of the record.

    Returns
    -------
    Titrant
        Its strength, in the unit of the known one.

    Raises
    ------
    BlockedResultError
        If the known titrant carries a blocking flag.
    DomainError
        If titres and titrant are not of one kind, by volume or by mass.

    References
    ----------
    common practice: equal amounts are titrated, so strengths are inversely as titres.

    """
    refuse_blocked(known.flags, what="the known titrant")
    conditions = Conditions(end_point=end_point, temperature=temperature)
    first, second = (check_titres(t, argument=a) for t, a in ((known_titres, "known_titres"), (titres, "titres")))
    check_unit(known, [*first, *second])
    path = record_path(record, [titre.readings() for titre in (*first, *second)])
    label = f"{known.name}{' by comparison' if record is None else f' ({record})'}"
    before = titre_set(first, path=f"{path}/known", label=f"titre, {known.label}", conditions=conditions)
    after = titre_set(
        second, path=path, label=f"titre, {label}", conditions=conditions, single_blank=single_of(blank) is not None
    )
    scatter = after.scatter
    empty, flags = blank_of(
        blank,
        path=path,
        label=label,
        s=scatter.repeatability,
        dof=scatter.dof,
        conditions=conditions,
        scattered=after.blank_scatter,
    )
    check_net(after.mean.value - empty.value, label=label)
    flags += blank_flag(after.mean.value, empty.value, label, known.unit)
    estimate = evaluate(
        titrant_concentration_from_comparison,
        name=_NAMES[known.unit],
        label=label,
        titrant_concentration=known.estimate,
        known_titre=before.mean,
        titre=after.mean,
        blank=empty,
    )
    return Titrant(
        name=known.name, estimate=estimate.flagged(*flags), facts={**known.facts, "compared with": known.label}
    )


def check_unit(titrant: Titrant, titres: Sequence[AnyTitre]) -> None:
    """Refuse titres by volume of a titrant that is known per gram, and the other way round.

    Raises
    ------
    DomainError
        If they do not fit.

    """
    wrong = [titre for titre in titres if titre.unit != titrant.unit]
    if wrong:
        how = {"L": "per litre, and is measured by volume", "g": "per gram, and is measured by mass"}[titrant.unit]
        raise DomainError(
            f"the titrant was standardised {how}",
            argument="titres",
            given=wrong[0].shown,
            remedy="Measure its titres in the way in which it was standardised, or standardise it in this way as well.",
        )


def _label(titrant: str, record: str | None) -> str:
    return titrant if record is None else f"{titrant} ({record})"


def _facts(standard: PrimaryStandard, end_point: EndPoint | None) -> dict[str, str]:
    return standard.trace() | ({} if end_point is None else {"end point": end_point.sentence()})


def _concentration(  # noqa: PLR0917  (the operands of one kernel, and what the result is called)
    standard: PrimaryStandard, amount: Estimate, titre: Estimate, blank: Estimate, label: str, unit: str
) -> Estimate:
    return evaluate(
        titrant_concentration_from_standard,
        name=_NAMES[unit],
        label=label,
        standard_amount=amount,
        equivalents=standard.equivalents,
        titre=titre,
        blank=blank,
    )
