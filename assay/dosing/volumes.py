"""What a dose is: volumes to dispense, what they deliver, and how surely."""

from __future__ import annotations

from dataclasses import dataclass

from assay.display.numbers import plus_minus, significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.dosing.incompatible import is_water
from assay.flags import Flag, codes_of
from assay.metrology.estimate import Estimate
from assay.titration.procedure import cautions

#: Trials from which the volumes are taken: a choice of this library.
TRIALS = 200_000

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
    any_below, any_above : float
        Probability that any of several portions does; the same as ``below`` and ``above`` for one.
    counted : str
        What the fillings are called.

    References
    ----------
    [jcgm-101-2008] 7.7: the probabilities are shares of the draws.

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("drum").doses[0].at_least.instruction("the cylinder")
    '66 mL with the cylinder'

    """

    kind: str
    volume: float
    fills: int
    delivered: Estimate
    below: float
    above: float
    any_below: float
    any_above: float
    counted: str = "fillings"

    def instruction(self, dispenser: str) -> str:
        """Return what to do, for the bench."""
        if self.fills == 1:
            return f"{shown(self.volume)} with {dispenser}"
        each = f"{self.fills} {self.counted} of {shown(self.volume / self.fills)}"
        return f"{shown(self.volume)} in {each} with {dispenser}"


@told_as_rows(indent="")
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
    kind : str
        Kind of the reagent, by which cautions are found.
    portions, spare : int
        Portions that are dispensed, and spare ones beside them.
    binding : str
        Whether the assurance holds for ``"each"`` portion or for ``"all"`` together.

    References
    ----------
    [jcgm-101-2008] 7.7: probabilities and volumes are taken from the sorted draws.

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("drum").doses[0]
    <Dose of hypochlorite: [titres-set-aside] nominal 64 mL, at least 66 mL, at most 62 mL>

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
    kind: str
    portions: int = 1
    spare: int = 0
    binding: str = "each"

    @property
    def volumes(self) -> tuple[DosedVolume, ...]:
        """The volumes that exist."""
        return tuple(volume for volume in (self.nominal, self.at_least, self.at_most) if volume is not None)

    def cautions(self) -> tuple[str, ...]:
        """Return the cautions to read before dispensing; first of all not to mix, where it is not said into what."""
        return cautions(f"dosing {self.kind}") + cautions("local codes")

    def rows(self, level: float = 0.95) -> Rows:
        """Return the volumes as rows of text."""
        several = self.portions + self.spare > 1
        body = tuple(
            (
                v.kind,
                v.instruction(self.dispenser),
                plus_minus(v.delivered.value, v.delivered.expanded(level), "mol"),
                f"{100 * v.delivered.value / self.required.value:.1f} %",
                probability(v.below),
                probability(v.above),
                *((probability(v.any_below), probability(v.any_above)) if several else ()),
            )
            for v in self.volumes
        )
        limit = "more than asked" if self.limit is self.required else f"more than {self.limit.label}"
        of = f" for {'each portion' if self.binding == 'each' else 'all portions together'}" if several else ""
        return Rows(
            title=(
                f"Dose of {self.reagent} to deliver {self.required.label}, assurance {100 * self.assurance:g} %{of}"
            ),
            head=(
                "",
                "dispense",
                f"delivers (U at {100 * level:g} %)",
                "of asked",
                "P(too little)",
                f"P({limit})",
                *(("P(any too little)", f"P(any {limit})") if several else ()),
            ),
            body=body,
        )

    def sentences(self, level: float = 0.95) -> tuple[str, ...]:
        """Return flags and the comparison with the label as lines of a report."""
        lines = [f"! {flag}" for flag in self.flags]
        count = self.portions + self.spare
        if count > 1:
            drawn = ", ".join(f"{v.kind} {shown(count * v.volume)}" for v in self.volumes)
            spare = f" and {self.spare} spare" if self.spare else ""
            lines.append(f"For {self.portions} portions{spare} there must be in all: {drawn}.")
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
        """Whether it is stated to go into water alone: of anything else the caution not to mix is told first."""
        return self.into is not None and is_water(self.into)

    def first_caution(self) -> tuple[str, ...]:
        """Return what is told before the volumes: not to mix, unless it goes into water."""
        return () if self.harmless else (f"CAUTION: {self.cautions()[0]}",)

    def __repr__(self) -> str:
        found = ", ".join(f"{volume.kind} {shown(volume.volume)}" for volume in self.volumes) or "no volume"
        return f"<Dose of {self.reagent}: {codes_of(self.flags)}{found}>"

    def _last_lines(self) -> tuple[str, ...]:
        return self.sentences()

    def _first_lines(self) -> tuple[str, ...]:
        return self.first_caution()


def shown(volume: float) -> str:
    """Return a volume for the bench, in mL below two litres."""
    return f"{volume * _ML:.6g} mL" if volume < 2.0 else f"{volume:.6g} L"  # noqa: PLR2004  (as the trade writes it)


def probability(p: float) -> str:
    """Return a probability for a report; below one in the number of trials nothing is known."""
    floor = 1.0 / TRIALS
    return f"< {100 * floor:.1g} %" if p < floor else f"{significant(100 * p)} %"
