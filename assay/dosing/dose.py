"""The dose: which volume delivers at least, at most, or as near as can be what is asked for."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from assay.display.numbers import degrees, plus_minus, significant
from assay.display.rows import Rows, html, latex, text
from assay.dosing.dispenser import Dispenser, Setting
from assay.dosing.incompatible import refuse_incompatible
from assay.dosing.requirement import Deliverable, required_amount
from assay.errors import DataError, DomainError
from assay.flags import Flag, merged, refuse_blocked
from assay.kernels.replicates import mean_from_values
from assay.metrology.coverage import check_level
from assay.metrology.estimate import Estimate, combine, evaluate
from assay.metrology.monte_carlo import sampled
from assay.metrology.replicates import mean_of, scatter_of
from assay.metrology.shapes import Array
from assay.substances.strength import Strength, StrengthLike, read_strength
from assay.titration.procedure import cautions
from assay.units import Written, read

#: Trials from which the volumes are taken, and the standard errors by which an order statistic is moved to the safe
#: side, so that the assurance does not hang on the luck of one run. Choices of this library.
TRIALS = 200_000
SAFE_STANDARD_ERRORS = 3.0

_ML = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DosedVolume:
    """One volume to dispense and what it does.

    Parameters
    ----------
    kind : str
        ``"nominal"``, ``"at least"`` or ``"at most"``.
    volume : float [L]
        Volume to set in all, on a graduation.
    fills : int
        Number of equal fillings.
    delivered : Estimate [mol]
        What will really be delivered.
    below : float
        Probability that it delivers less than is to be delivered.
    above : float
        Probability that it delivers more than the limit; than what is to be delivered where no limit was given.

    """

    kind: str
    volume: float
    fills: int
    delivered: Estimate
    below: float
    above: float

    def instruction(self, dispenser: str) -> str:
        """Return what to do, for the bench."""
        if self.fills == 1:
            return f"{_shown(self.volume)} with {dispenser}"
        return f"{_shown(self.volume)} in {self.fills} fillings of {_shown(self.volume / self.fills)} with {dispenser}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Dose:
    """The volumes that meet a requirement.

    Parameters
    ----------
    reagent : str
        What is dispensed.
    required : Estimate [mol]
        What is to be delivered.
    limit : Estimate [mol]
        What must not be exceeded; the same as ``required`` where none was given.
    into : str or None
        What it is dispensed into.
    dispenser : str
        What it is dispensed with.
    assurance : float
        Probability with which the at-least and the at-most volume keep their promise.
    strength : Estimate [mol/L]
        The strength used.
    nominal : DosedVolume or None
        As near as the dispenser can; ``None`` if that is less than half a step.
    at_least, at_most : DosedVolume or None
        ``None`` if there is no such volume; a flag says why.
    by_label : Estimate or None
        What the volume computed from the label would deliver, mol; ``None`` if no label was stated.
    flags : tuple of Flag
        Doubts about the dose.

    """

    reagent: str
    required: Estimate
    limit: Estimate
    into: str | None
    dispenser: str
    assurance: float
    strength: Estimate
    nominal: DosedVolume | None
    at_least: DosedVolume | None
    at_most: DosedVolume | None
    by_label: Estimate | None
    flags: tuple[Flag, ...]

    @property
    def volumes(self) -> tuple[DosedVolume, ...]:
        """The volumes that exist."""
        return tuple(volume for volume in (self.nominal, self.at_least, self.at_most) if volume is not None)

    def cautions(self) -> tuple[str, ...]:
        """Return the cautions to read before dispensing; first of all not to mix, where it is not said into what."""
        return cautions(f"dosing {self.reagent}") + cautions("local codes")

    def rows(self, level: float = 0.95) -> Rows:
        """Return the volumes as rows of text."""
        body = tuple(
            (
                v.kind,
                v.instruction(self.dispenser),
                plus_minus(v.delivered.value, v.delivered.expanded(level), "mol"),
                f"{100 * v.delivered.value / self.required.value:.1f} %",
                _probability(v.below),
                _probability(v.above),
            )
            for v in self.volumes
        )
        limit = "more than asked" if self.limit is self.required else f"more than {self.limit.label}"
        return Rows(
            title=f"Dose of {self.reagent} to deliver {self.required.label}, assurance {100 * self.assurance:g} %",
            head=("", "dispense", f"delivers (U at {100 * level:g} %)", "of asked", "P(too little)", f"P({limit})"),
            body=body,
        )

    def sentences(self, level: float = 0.95) -> tuple[str, ...]:
        """Return flags and the comparison with the label as lines of a report."""
        lines = [f"! {flag}" for flag in self.flags]
        if self.by_label is not None:
            share = self.by_label.value / self.required.value
            lines.append(
                f"Trusting the label would have delivered "
                f"{plus_minus(self.by_label.value, self.by_label.expanded(level), 'mol')}, "
                f"{100 * share:.0f} % of what is asked."
            )
        return tuple(lines)

    @property
    def harmless(self) -> bool:
        """Whether it is stated to go into water: of anything else the caution not to mix is told first."""
        return self.into is not None and "water" in self.into.casefold()

    def first_caution(self) -> tuple[str, ...]:
        """Return what is told before the volumes: not to mix, unless it goes into water."""
        return () if self.harmless else (f"CAUTION: {self.cautions()[0]}",)

    def __str__(self) -> str:
        return "\n".join([*self.first_caution(), text(self.rows()), *self.sentences()])

    def __repr__(self) -> str:
        found = ", ".join(f"{volume.kind} {_shown(volume.volume)}" for volume in self.volumes) or "no volume"
        flags = "".join(f"[{flag.code}] " for flag in self.flags)
        return f"<Dose of {self.reagent}: {flags}{found}>"

    def _repr_html_(self) -> str:
        return html(self.rows(), before=self.first_caution(), after=self.sentences())

    def _repr_latex_(self) -> str:
        return latex(self.rows(), before=self.first_caution(), after=self.sentences())


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
) -> Dose:
    """Return the volumes to dispense so that a requirement is met.

    The assurance is the probability that the amount *delivered*, strength times volume, meets the requirement. The
    volumes are quantiles of the volume that each draw of strength and dispenser would need; inputs with few degrees of
    freedom are drawn from the scaled t. Volumes are then rounded to the dispenser's graduation, never to the unsafe
    side.

    Parameters
    ----------
    strength : Strength or sequence of Strength
        The measured strength; several assays of the same stock are averaged, with their correlation.
    deliver : str, Equivalents or Estimate
        What is to be delivered: ``"0.25 mol OCl-"``, ``"17.7 g available chlorine"``, or equivalents of another
        reagent.
    dispenser : Burette, Pipette or Cylinder
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
        Blocking flags of the mean of several assays that are accepted, each with the reason, such as
        ``{"discordant-assays": "the first was drawn before the drum was rolled"}``.

    Returns
    -------
    Dose
        Nominal, at-least and at-most volume.

    Raises
    ------
    IncompatibleMixtureError
        If it would be dispensed into acid, ammonia, an ammonium salt, an amine or urea.
    BlockedResultError
        If the strength carries a blocking flag that was not accepted.
    DomainError
        If the assurance is out of range, or more is asked than the container holds.
    BasisError
        If what is to be delivered does not say as what.

    References
    ----------
    [jcgm-101-2008] 6.4.9 (scaled t) and 7.7 (quantiles of the draws).

    """
    strengths = _listed(strength)
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
        refuse_incompatible(into, reagent=species.name)
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
    for code, reason in (accept or {}).items():
        used = used.accepting(code, because=reason)
    refuse_blocked(used.flags, what="the mean of the strengths")
    refuse_blocked(merged([required.flags, most.flags]), what="what is to be delivered")
    solver = _Solver(strength=used, dispenser=dispenser, required=required, limit=most, assurance=assurance)
    nominal, at_least, at_most = solver.nominal(), solver.at_least(), solver.at_most()
    _check_available(available, [volume for volume in (nominal, at_least) if volume is not None])
    stated = label if label is not None else strengths[0].facts.get("label")
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
        by_label=None if stated is None else _by_label(used, required, read_strength(stated, argument="label")),
        flags=used.flags + solver.flags(nominal, at_least, at_most, limited=limit is not None),
    )


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
    if _place(assurance) >= TRIALS:
        raise DomainError(
            f"{TRIALS} trials cannot show so high an assurance",
            argument="assurance",
            given=assurance,
            expected="0.5 to 0.9999",
        )


def _place(assurance: float) -> int:
    """Return the place of the order statistic that keeps an assurance, moved to the safe side."""
    margin = SAFE_STANDARD_ERRORS * math.sqrt(assurance * (1.0 - assurance) * TRIALS)
    return math.ceil(assurance * TRIALS + margin) - 1


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
    apart = [(a, b) for a, b in combinations(estimates, 2) if _disagree(a, b)]
    if not apart:
        return evaluate(mean_from_values, *estimates, name="amount_concentration", label=label)
    # Accepted or not, assays that disagree scatter more than their budgets say: what they show is counted.
    scatter = scatter_of([e.value for e in estimates])
    mean = mean_of(estimates, scatter, record=f"assays/{label}", name="amount_concentration", label=label)
    told = "; ".join(f"{a.label} {a.value:.5g} and {b.label} {b.value:.5g} mol/L" for a, b in apart)
    message = (
        f"the assays differ by more than the U of their difference: {told}. Find out why before they are averaged."
    )
    return mean.flagged(Flag(code="discordant-assays", message=message, blocking=True))


def _disagree(a: Estimate, b: Estimate) -> bool:
    difference = combine(lambda x, y: x - y, a, b)
    return abs(difference.value) > difference.expanded()


def _by_label(strength: Estimate, required: Estimate, stated: float) -> Estimate:
    return combine(
        lambda c, n: c * (n / stated), strength, required, label="delivered by the volume from the label", unit="mol"
    )


def _check_available(available: Written | None, volumes: Sequence[DosedVolume]) -> None:
    if available is None:
        return
    held = read(available, "volume", argument="available")
    for volume in volumes:
        if volume.volume > held:
            raise DomainError(
                f"the {volume.kind} dose takes {_shown(volume.volume)}, more than there is",
                argument="available",
                given=str(available),
                remedy="Ask for less, or dose from a fuller container.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solver:
    """Finds volumes as quantiles of the volume that each draw needs."""

    strength: Estimate
    dispenser: Dispenser
    required: Estimate
    limit: Estimate
    assurance: float

    def needed(self, amount: Estimate, setting: Setting) -> Array:
        """Return the volume that each draw needs, L; infinite where the drawn strength is not above zero."""
        strength = self.strength
        (volumes, strengths), _ = sampled(
            [setting.needed(amount, strength), strength], trials=TRIALS, few_replicates="scaled t"
        )
        volumes[strengths <= 0.0] = np.inf
        return volumes

    def nominal(self) -> DosedVolume | None:
        """Return the graduation nearest to required amount over strength."""
        if self.strength.value <= 0.0:
            return None
        exact = self.required.value / self.strength.value
        return self._made("nominal", Setting.of(self.dispenser, exact).graduated(exact, up=None))

    def at_least(self) -> DosedVolume | None:
        """Return the smallest graduation that delivers the required amount with the stated assurance."""
        return self._solved("at least", self.required, up=True)

    def at_most(self) -> DosedVolume | None:
        """Return the largest graduation that keeps within the limit with the stated assurance."""
        return self._solved("at most", self.limit, up=False)

    def _solved(self, kind: str, amount: Estimate, *, up: bool) -> DosedVolume | None:
        if self.strength.value <= 0.0:
            return None
        place = _place(self.assurance)
        place = place if up else TRIALS - 1 - place
        volume = amount.value / self.strength.value
        # The number of fillings depends on the volume and the volume on the number: it settles in a step or two.
        for _ in range(_MOST_ROUNDS):
            setting = Setting.of(self.dispenser, volume)
            exact = float(np.partition(self.needed(amount, setting), place)[place])
            if not math.isfinite(exact):
                return None
            volume = setting.graduated(exact, up=up)
            if volume <= 0.0 or Setting.of(self.dispenser, volume).fills == setting.fills:
                break
        return self._made(kind, volume)

    def _made(self, kind: str, volume: float) -> DosedVolume | None:
        if volume <= 0.0:
            return None
        setting = Setting.of(self.dispenser, volume)
        needed = self.needed(self.required, setting)
        allowed = needed if self.limit is self.required else self.needed(self.limit, setting)
        return DosedVolume(
            kind=kind,
            volume=volume,
            fills=setting.fills,
            delivered=setting.delivered(volume, self.strength),
            below=float(np.mean(needed > volume)),
            above=float(np.mean(allowed < volume)),
        )

    def flags(
        self, nominal: DosedVolume | None, at_least: DosedVolume | None, at_most: DosedVolume | None, *, limited: bool
    ) -> tuple[Flag, ...]:
        """Return what must be said where a volume does not exist, or the two do not leave room."""
        flags: list[Flag] = []
        step = _shown(self.dispenser.step)
        if at_least is None:
            message = (
                f"there is no at-least dose: at {100 * self.assurance:g} % the lower bound of the strength is not "
                f"above zero ({plus_minus(self.strength.value, self.strength.expanded(), 'mol/L')}, "
                f"dof {degrees(self.strength.dof)}). "
                "Assay again with more replicates or a stronger aliquot."
            )
            flags.append(Flag(code="no-at-least-dose", message=message))
        if at_most is None and self.strength.value > 0.0:
            message = f"there is no at-most dose on this dispenser: it would be less than one step of {step}."
            flags.append(Flag(code="no-at-most-dose", message=message))
        if nominal is None and self.strength.value > 0.0:
            message = f"the nominal dose is less than half a step of {step}: take a finer dispenser or dilute first."
            flags.append(Flag(code="dispenser-too-coarse", message=message))
        if limited and at_least is not None and (at_most is None or at_least.volume > at_most.volume):
            message = (
                f"no volume delivers both enough and not too much with {100 * self.assurance:g} % assurance: "
                "narrow the uncertainty (the budget says which part) or widen the limit."
            )
            flags.append(Flag(code="no-volume-meets-both", message=message))
        return tuple(flags)


_MOST_ROUNDS = 5


def _shown(volume: float) -> str:
    """Return a volume for the bench, in mL below two litres."""
    return f"{volume * _ML:.6g} mL" if volume < 2.0 else f"{volume:.6g} L"  # noqa: PLR2004  (as the trade writes it)


def _probability(p: float) -> str:
    floor = 1.0 / TRIALS
    return f"< {100 * floor:.1g} %" if p < floor else f"{significant(100 * p)} %"
