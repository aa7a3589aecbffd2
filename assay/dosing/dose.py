"""The dose: which volume delivers at least, at most, or as near as can be what is asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from numbers import Integral

from assay.display.numbers import plus_minus, significant
from assay.dosing.dispenser import Dispenser
from assay.dosing.incompatible import refuse_incompatible
from assay.dosing.requirement import Deliverable, required_amount
from assay.dosing.solver import Solver, place_of
from assay.dosing.volumes import TRIALS, Dose, DosedVolume, shown
from assay.errors import DataError, DomainError
from assay.flags import Flag, merged, refuse_blocked
from assay.flags import accept as accepted
from assay.kernels.replicates import mean_from_values
from assay.metrology.consistency import consistency
from assay.metrology.coverage import check_level
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine, evaluate
from assay.metrology.replicates import mean_of, scatter_of
from assay.substances.strength import Strength, refuse_as_sodium
from assay.substances.written import StrengthLike, read_strength
from assay.titration.facts import label_strength
from assay.units import Written, read


def dose(
    strength: Strength | Sequence[Strength],
    *,
    deliver: Deliverable,
    dispenser: Dispenser,
    into: str | None = None,
    limit: Deliverable | None = None,
    assurance: float = 0.95,
    label: StrengthLike | None = None,
    available: Written | None = None,
    accept: Mapping[str, str] | None = None,
    portions: int = 1,
    spare: int = 0,
    binding: str = "each",
) -> Dose:
    """Return the volumes to dispense so that a requirement is met.

    The assurance is the probability that the amount *delivered*, strength times volume, meets the requirement. The
    volumes are quantiles of the volume that each draw of strength and dispenser would need; inputs with few degrees of
    freedom are drawn from the scaled t. Volumes are then rounded to the dispenser's graduation, never to the unsafe
    side.

    Parameters
    ----------
    strength : Strength or sequence of Strength
        The measured strength; several assays of the same stock are averaged, all alike and with their correlation, and
        must agree as in `consistency`.
    deliver : str, Equivalents or Estimate
        What is to be delivered: ``"0.25 mol OCl-"``, ``"17.7 g available chlorine"``, or equivalents of another
        reagent.
    dispenser : Burette, Pipette, Cylinder or other ware that is set
        What dispenses; one that was used in the titration is the same influence here.
    into : str, optional
        What it is dispensed into. A known incompatible mixture is refused; leaving it out prints the caution first.
    limit : str, Equivalents or Estimate, optional
        What must not be exceeded, if that is more than ``deliver``; the at-most volume is for it.
    assurance : float
        Probability with which the at-least and the at-most volume keep their promise, between 0.5 and 1.
    label : str, optional
        Strength on the label, for comparison; that stated at the assay if none is given.
    available : str or quantity, optional
        Volume in the container.
    accept : mapping of str to str, optional
        Blocking flags of the mean of several assays, or of the dispenser, that are accepted, each with the reason, such
        as ``{"discordant-assays": "the first was drawn before the drum was rolled"}``.
    portions : int
        Portions to dispense from the same reagent, such as 24 for a class; each delivers what is asked.
    spare : int
        Further portions to have in hand.
    binding : str
        ``"each"``: the assurance holds for every single portion; ``"all"``: for all of them together, which share the
        doubt about the strength but are each set anew.

    Returns
    -------
    Dose
        Nominal, at-least and at-most volume.

    Raises
    ------
    IncompatibleMixtureError
        If it would be dispensed into something with which it is dangerous, such as hypochlorite into acid or ammonia,
        acid into hypochlorite, or anything with water in it into concentrated acid or alkali.
    BlockedResultError
        If the strength carries a blocking flag that was not accepted, or what is to be delivered or the label is as
        NaOCl and the hypochlorite comes from another source, unless that was accepted by name.
    DataError
        If one assay is given twice, or assays of several reagents.
    DomainError
        If the assurance or a number of portions is out of range, or more is asked than the container holds.
    BasisError
        If what is to be delivered does not say as what.

    References
    ----------
    [jcgm-101-2008] 6.4.9 (scaled t) and 7.7 (quantiles of the draws).

    Examples
    --------
    >>> import assay
    >>> drum = assay.run_demo("drum").strengths["drum 7"]
    >>> cylinder = assay.Cylinder("C100", capacity="100 mL", subdivision="1 mL")
    >>> dose(drum, deliver="0.100 mol OCl-", into="water", dispenser=cylinder)
    <Dose of hypochlorite: [titres-set-aside] nominal 64 mL, at least 66 mL, at most 62 mL>

    """
    strengths = [one.per_volume() for one in _listed(strength)]
    if not isinstance(dispenser, Dispenser):
        raise DataError(
            "this does not dispense",
            argument="dispenser",
            given=dispenser,
            expected="a burette, a pipette or a cylinder",
            remedy="Write Cylinder('C250', capacity='250 mL', subdivision='2 mL').",
        )
    species = strengths[0].species
    if into is not None:
        if not into.strip():
            raise DataError(
                "say what the vessel holds", argument="into", given=into,
                remedy="Write for example 'water', or leave it out.",
            )  # fmt: skip
        refuse_incompatible(into, reagent=species.kind, name=species.name)
    for one in strengths:
        found = plus_minus(one.estimate.value, one.estimate.expanded(), one.estimate.unit)
        refuse_blocked(one.flags, what=f"the strength of {one.label}, {found},")
    _check_assurance(assurance)
    required = required_amount(deliver, argument="deliver", species=species)
    most = required if limit is None else required_amount(limit, argument="limit", species=species)
    if most.value < required.value:
        raise DomainError(
            "the limit is below what is to be delivered",
            argument="limit",
            given=str(limit),
            expected=f"{required.label} or more",
            remedy="Are deliver and limit exchanged?",
        )
    used = _used(strengths)
    doubts = _flags_of(dispenser)
    for code, reason in (accept or {}).items():
        if code in {flag.code for flag in doubts}:
            doubts = accepted(doubts, code, because=reason)
        else:
            used = used.accepting(code, because=reason)
    refuse_blocked(used.flags, what="the mean of the strengths")
    refuse_blocked(doubts, what=dispenser.label)
    on_label = label if label is not None else strengths[0].facts.get("label")
    for argument, written in (("deliver", deliver), ("limit", limit), ("label", on_label)):
        refuse_as_sodium(used.flags, written, argument=argument)
    refuse_blocked(merged([required.flags, most.flags]), what="what is to be delivered")
    count = _check_portions(portions, spare, binding)
    solver = Solver(
        strength=used,
        dispenser=dispenser,
        required=required,
        limit=most,
        assurance=assurance,
        portions=count,
        all_together=binding == "all",
    )
    nominal, at_least, at_most = solver.nominal(), solver.at_least(), solver.at_most()
    _check_available(available, [volume for volume in (nominal, at_least) if volume is not None], count)
    stated = _stated(on_label, strengths[0])
    return Dose(
        reagent=species.name,
        required=required,
        limit=most,
        into=into,
        dispenser=dispenser.label,
        assurance=assurance,
        strength=used,
        nominal=nominal,
        at_least=at_least,
        at_most=at_most,
        by_label=None if stated is None else _by_label(used, required, stated),
        flags=merged([used.flags, doubts, solver.flags(nominal, at_least, at_most, limited=limit is not None)]),
        kind=species.kind,
        portions=portions,
        spare=spare,
        binding=binding,
    )


def _flags_of(dispenser: Dispenser) -> tuple[Flag, ...]:
    """Return the doubts about what dispenses: of its certificate, or of what that does not say."""
    return merged([dispenser.volume_error(dispenser.largest).flags, dispenser.setting_error(1).flags])


def _check_portions(portions: int, spare: int, binding: str) -> int:
    counts: tuple[tuple[str, object, int], ...] = (("portions", portions, 1), ("spare", spare, 0))
    for argument, given, least in counts:
        if isinstance(given, bool) or not isinstance(given, Integral) or int(given) < least:
            raise DomainError(
                "out of range", argument=argument, given=given, expected=f"a whole number, {least} or more"
            )
    if binding not in {"each", "all"}:
        raise DataError("unknown promise", argument="binding", given=binding, expected="'each' or 'all'")
    return portions + spare


def _listed(strength: Strength | Sequence[Strength]) -> tuple[Strength, ...]:
    listed = tuple(strength) if isinstance(strength, Sequence) else (strength,)
    if not listed:
        raise DataError("there is no strength to dose by", argument="strength", given=strength)
    for one in listed:
        if not isinstance(one, Strength):
            raise DataError(
                "this is not a strength",
                argument="strength",
                given=one,
                remedy="Give what assay_hypochlorite returned, or what load() read from a file.",
            )
    return listed


def _check_assurance(assurance: float) -> None:
    check_level(assurance, argument="assurance")
    if assurance < 0.5:  # noqa: PLR2004  (a coin does better)
        raise DomainError(
            "an assurance below one half promises to miss", argument="assurance", given=assurance, expected="0.5 to 1"
        )
    if place_of(assurance) >= TRIALS:
        raise DomainError(
            f"{TRIALS} trials cannot show so high an assurance",
            argument="assurance",
            given=assurance,
            expected="0.5 to 0.9999",
        )


def _used(strengths: Sequence[Strength]) -> Estimate:
    """Return the strength to dose by: the one given, or the mean of several that agree."""
    if len(strengths) == 1:
        return strengths[0].estimate
    species = {s.species.name for s in strengths}
    if len(species) > 1:
        raise DataError(
            "several assays are averaged only if they are of one reagent", argument="strength", given=species
        )
    estimates = [s.estimate for s in strengths]
    label = f"mean of {', '.join(e.label for e in estimates)}"
    found = consistency(*estimates, label=label)
    if found.consistent:
        # Not weighted: weights from the scatter of a few titres each are themselves a matter of chance.
        return evaluate(mean_from_values, *estimates, name="amount_concentration", label=label)
    # Accepted or not, assays that disagree scatter more than their budgets say: what they show is counted.
    scatter = scatter_of([e.value for e in estimates])
    mean = mean_of(estimates, scatter, record=f"assays/{label}", name="amount_concentration", label=label)
    told = ", ".join(f"{e.label} {e.value:.5g} mol/L" for e in estimates)
    ratio = significant(found.birge_ratio)
    message = (
        f"the assays differ by more than their uncertainties allow (Birge ratio {ratio}): {told}. "
        f"Outlying: {', '.join(found.outlying)}. Find out why before they are averaged."
    )
    return mean.flagged(Flag(code="discordant-assays", message=message, blocking=True))


def _stated(label: StrengthLike | None, strength: Strength) -> float | None:
    """Return the label's strength as mol/L; ``None`` if there is none, or it is by mass and without a density."""
    if isinstance(label, str):
        return label_strength(label, species=strength.species, per_mass=strength.per_mass)
    return None if label is None else read_strength(label, argument="label", species=strength.species)


def _by_label(strength: Estimate, required: Estimate, stated: float) -> Estimate:
    return combine(
        lambda c, n: c * (n / stated), strength, required, label="delivered by the volume from the label", unit="mol"
    )


def _check_available(available: Written | None, volumes: Sequence[DosedVolume], count: int) -> None:
    if available is None:
        return
    held = read(available, "volume", argument="available")
    for volume in volumes:
        if count * volume.volume > held:
            portions = f" in {count} portions" if count > 1 else ""
            raise DomainError(
                f"the {volume.kind} dose takes {shown(count * volume.volume)}{portions}, more than there is",
                argument="available",
                given=str(available),
                remedy="Ask for less, or dose from a fuller container.",
            )
