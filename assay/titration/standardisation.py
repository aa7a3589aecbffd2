"""Standardising a titrant: against a primary standard, or by comparison with a known titrant."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, nan

from assay.bench.setting import OneVolume, check_one_volume
from assay.bench.temperature import Temperature, at_20
from assay.bench.weighing import Weighing
from assay.errors import DomainError
from assay.flags import refuse_blocked
from assay.kernels.dilution import amount_from_aliquot
from assay.kernels.titration import titrant_concentration_from_comparison, titrant_concentration_from_standard
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.substances.species import HYPOCHLORITE
from assay.titration.blanks import (
    Blank,
    aside_blanks_flag,
    blank_flag,
    blanks_in,
    check_blank,
    nominal_blank,
    titrated_with_blank,
)
from assay.titration.end_point import EndPoint, acid_base_indicators, standardising_flags
from assay.titration.portions import PortionSet
from assay.titration.standards import PrimaryStandard, StandardSolution
from assay.titration.titrant import Titrant
from assay.titration.titres import (
    AnyTitre,
    Conditions,
    aside_flag,
    check_net,
    check_titres,
    record_path,
    titre_set,
)
from assay.titration.weighed_titrant import check_weighed_as, weighed_fact
from assay.units import Written

#: Glossary name of a titrant's strength, by the unit of its titres.
_NAMES = {"L": "titrant_concentration", "g": "titrant_content"}


def standardise_by_aliquots(
    solution: StandardSolution,
    *,
    aliquot: OneVolume,
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
    aliquot : Pipette, or ware set to a volume
        What takes each aliquot, such as ``syringe.measure("5.0 mL")``.
    titres : sequence of Titre or MassTitre
        Titres of the aliquots, by volume or by mass; by mass the titrant is then known per gram.
    blank : Titre, MassTitre or a sequence, optional
        Titres of the reagents alone; leaving it out is flagged.
    end_point : EndPoint, optional
        Indicator and operator of an acid-base titration; leaving it out there is flagged, and an indicator that changes
        away from the equivalence point of the standard is a blocking flag.
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
        If there is a single titre without ``method_s``, or no titre, or an indicator of acids and bases is named for
        iodate or dichromate.

    References
    ----------
    [talbot-1921] Part IV, problem 61 (equivalents of iodate); common practice for the aliquots.

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
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> titres = [burette.titre("24.35 mL"), burette.titre("24.40 mL")]
    >>> p25 = assay.Pipette("P25", capacity="25 mL")
    >>> standardise_by_aliquots(solution, aliquot=p25, titres=titres, blank=burette.titre("0.05 mL"))
    <Titrant 'thiosulfate': 0.10265 mol/L, u = 0.00034 mol/L, dof = 17.6>

    """
    check_one_volume(aliquot, argument="aliquot")
    standard = solution.standard
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    judged = standard.end_point_flags(end_point)
    titres = check_titres(titres, argument="titres")
    check_blank(blank, titres)
    path = record_path(record, [solution.weighing.readings(), *(titre.readings() for titre in titres)])
    label = _label(standard.titrant, record)
    amount = evaluate(
        amount_from_aliquot,
        name="standard_amount",
        label=f"amount of {standard.label} in an aliquot",
        standard_concentration=solution.concentration(temperature),
        aliquot_volume=at_20(aliquot.volume(), aliquot.material, temperature),
    )
    conditions = conditions.titrating(_about(standard, [(amount.value, t) for t in titres], blank))
    titrated, empty, flags = titrated_with_blank(titres, blank, path=path, label=label, conditions=conditions)
    check_net(titrated.mean.value - empty.value, label=label)
    unit = titrated.kept[0].unit
    estimate = _concentration(standard, amount, titrated.mean, empty, label, unit)
    net = titrated.mean.value - empty.value
    with_all = estimate.value * net / ((titrated.mean_of_all - empty.value) or nan)
    flags += blank_flag(titrated.mean.value, empty.value, label, unit)
    flags += aside_flag(titrated.aside, with_all, label, estimate.unit)
    flags += aside_blanks_flag(
        blank,
        empty.value,
        label,
        estimate.unit,
        lambda other: estimate.value * net / ((titrated.mean.value - other) or nan),
    )
    facts = _facts(standard, end_point, blank, titres)
    return Titrant(name=standard.titrant, estimate=estimate.flagged(*judged, *flags), facts=facts)


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
        Indicator and operator of an acid-base titration; leaving it out there is flagged, and an indicator that changes
        away from the equivalence point of the standard is a blocking flag.
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
        If there is a single portion without ``method_s``, or none, or an indicator of acids and bases is named for
        iodate or dichromate.

    References
    ----------
    [talbot-1921] Part IV, problem 61 (equivalents of iodate); common practice for the portions.

    Examples
    --------
    >>> import assay
    >>> balance = assay.Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    >>> phthalate = assay.PrimaryStandard("KHP", lot="0415", purity="99.95 % w/w", half_width="0.05 % w/w")
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> portions = [
    ...     (balance.by_difference("14.5105 g", "14.0000 g"), burette.titre("24.95 mL")),
    ...     (balance.by_difference("14.5226 g", "14.0000 g"), burette.titre("25.55 mL")),
    ... ]
    >>> eye = assay.EndPoint("phenolphthalein", operator="first bench")
    >>> standardise_by_portions(phthalate, portions=portions, blank=burette.titre("0.05 mL"), end_point=eye)
    <Titrant 'sodium hydroxide': 0.10032 mol/L, u = 0.00024 mol/L, dof = ∞>

    """
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    judged = standard.end_point_flags(end_point)
    titres = check_titres([titre for _, titre in portions], argument="portions")
    check_blank(blank, titres)
    path = record_path(record, [f"{weighing.readings()}|{titre.readings()}" for weighing, titre in portions])
    label = _label(standard.titrant, record)
    unit = titres[0].unit if titres else "L"

    def one(at: str, weighing: Weighing, titre: Estimate, empty: Estimate) -> Estimate:
        amount = standard.amount(weighing, at, repeatability=False)
        return _concentration(standard, amount, titre, empty, f"{label}, {at.rsplit('/', 1)[-1]}", unit)

    weighed = [(standard.amount(w, path, repeatability=False).value, titre) for w, titre in portions]
    conditions = conditions.titrating(_about(standard, weighed, blank))
    found = PortionSet(portions=portions, path=path, label=label, name=_NAMES[unit])
    mean = found.mean(one, blank, conditions).flagged(*judged)
    return Titrant(name=standard.titrant, estimate=mean, facts=_facts(standard, end_point, blank, titres))


def standardise_by_comparison(
    known: Titrant,
    *,
    known_titres: Sequence[AnyTitre],
    titres: Sequence[AnyTitre],
    blank: Blank = None,
    end_point: EndPoint | None = None,
    temperature: Temperature | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
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
        Indicator and operator of an acid-base titration; leaving it out there is flagged, and starch blocks.
    temperature : Temperature, optional
        Temperature of the liquids.
    method_s : str or quantity, optional
        Known standard deviation of one titre with either titrant; needed where there is a single one.
    method_dof : float
        Its degrees of freedom.
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
        If titres and titrant are not of one kind, by volume or by mass, there is a single titre without ``method_s``,
        or the indicator of an acid-base titration is named for thiosulfate.

    References
    ----------
    common practice: equal amounts are titrated, so strengths are inversely as titres.

    Examples
    --------
    >>> import assay
    >>> known = assay.run_demo("drum").titrant
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> like = [burette.titre("25.00 mL"), burette.titre("25.05 mL")]
    >>> titres = [burette.titre("24.35 mL"), burette.titre("24.40 mL")]
    >>> standardise_by_comparison(known, known_titres=like, titres=titres, blank=burette.titre("0.05 mL"))
    <Titrant 'thiosulfate by comparison': [titres-set-aside] 0.10289 mol/L, u = 0.00035 mol/L, dof = 58.6>

    """
    refuse_blocked(known.flags, what="the known titrant")
    conditions = Conditions(end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof)
    # Like portions end alike at any pH; what they are of is not known here.
    suitable = ("starch",) if known.name == HYPOCHLORITE.titrant else acid_base_indicators()
    judged = standardising_flags(end_point, what=f"a titration with {known.name}", suitable=suitable)
    first, second = (check_titres(t, argument=a) for t, a in ((known_titres, "known_titres"), (titres, "titres")))
    check_unit(known, [*first, *second])
    check_blank(blank, second)
    if known.unit == "L":
        conditions = conditions.titrating(known.estimate.value)
    path = record_path(record, [titre.readings() for titre in (*first, *second)])
    label = _label(f"{known.name} by comparison", record)
    after, empty, flags = titrated_with_blank(
        second,
        blank,
        path=path,
        label=label,
        conditions=conditions,
        # Where the scatter is that of the method, one s stands behind the titres with both titrants.
        known=0 if method_s is None else sum(titre.kept for titre in first),
    )
    before = titre_set(
        first,
        path=f"{path}/known",
        label=f"titre with the known one, {label}",
        conditions=conditions,
        scattered=after.known_scatter,
    )
    check_net(after.mean.value - empty.value, label=label)
    for titrated, what in ((after, label), (before, f"{label}, titrated with the known one")):
        flags += blank_flag(titrated.mean.value, empty.value, what, known.unit)
    estimate = evaluate(
        titrant_concentration_from_comparison,
        name=_NAMES[known.unit],
        label=label,
        titrant_concentration=known.estimate,
        known_titre=before.mean,
        titre=after.mean,
        blank=empty,
    )
    for titrated, power in ((before, 1.0), (after, -1.0)):
        net, whole = titrated.mean.value - empty.value, titrated.mean_of_all - empty.value
        with_all = estimate.value * ((whole or nan) / (net or nan)) ** power
        flags += aside_flag(titrated.aside, with_all, label, estimate.unit)

    def with_blank(other: float) -> float:
        of_known = (before.mean.value - other) / ((before.mean.value - empty.value) or nan)
        return estimate.value * of_known * (after.mean.value - empty.value) / ((after.mean.value - other) or nan)

    flags += aside_blanks_flag(blank, empty.value, label, estimate.unit, with_blank)
    facts = {**known.facts, **_end_point_fact(end_point, blank), "compared with": known.label}
    return Titrant(name=known.name, estimate=estimate.flagged(*judged, *flags), facts=facts, chain=known.links)


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
    check_weighed_as(titrant.facts, titres)


def _about(standard: PrimaryStandard, titrated: Sequence[tuple[float, AnyTitre]], blank: Blank) -> float:
    """Return about which concentration the readings show, mol/L; zero for titres by mass or where they show none."""
    kept = [(amount, titre) for amount, titre in titrated if titre.kept and titre.unit == "L"]
    net = sum(titre.nominal - nominal_blank(blank) for _, titre in kept)
    return standard.equivalents * sum(amount for amount, _ in kept) / net if net > 0.0 else 0.0


def _label(titrant: str, record: str | None) -> str:
    return titrant if record is None else f"{titrant} ({record})"


def _facts(
    standard: PrimaryStandard, end_point: EndPoint | None, blank: Blank, titres: Sequence[AnyTitre]
) -> dict[str, str]:
    return standard.trace() | _end_point_fact(end_point, blank) | weighed_fact([*titres, *blanks_in(blank)])


def _end_point_fact(end_point: EndPoint | None, blank: Blank) -> dict[str, str]:
    return {} if end_point is None else {"end point": end_point.sentence(with_blank=blank is not None)}


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
