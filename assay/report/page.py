"""The report of a bench sheet as text."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from assay.bench.weighing import WEIGHED_DENSITY
from assay.display.numbers import plus_minus
from assay.display.rows import text
from assay.dosing.volumes import Dose
from assay.flags import Flag
from assay.metrology.control import ControlChart
from assay.metrology.recovery import Recovery
from assay.sheet.run import SheetResult
from assay.substances.strength import Strength
from assay.titration.acid_base import Caustic
from assay.titration.assays import PORTION_ONLY
from assay.titration.procedure import cautions, procedure

WIDTH = 110
_LARGEST = 5


def report_text(result: SheetResult) -> str:
    """Return the report of a bench sheet, to be read at the bench.

    Parameters
    ----------
    result : SheetResult
        What `run_sheet` returned.

    Returns
    -------
    str
        Lines of at most 110 characters, tables excepted.

    References
    ----------
    [jcgm-100-2008] 7: what is told with a result.

    Examples
    --------
    >>> from assay.sheet.run import run_sheet
    >>> print(report_text(run_sheet()).splitlines()[0])
    Prep room: drum of hypochlorite for the dye-fading practical, 2026-11-16

    """
    return "\n".join(_lines(result)) + "\n"


def _lines(result: SheetResult) -> Iterator[str]:
    yield f"{result.title}, {result.date}"
    for strength in result.strengths.values():
        yield from _sampling(strength)
    yield ""
    for calibration in result.calibrations.values():
        for flag in calibration.flags:
            yield from _wrapped(f"! {flag}", hang="  ")
        yield text(calibration.rows(result.level))
        yield ""
    for strength in result.strengths.values():
        yield from _strength(strength, result.level)
    for name, caustic in result.caustics.items():
        known = {flag for strength in result.strengths.values() for flag in strength.flags}
        yield from _caustic(name, caustic, result.level, known)
    yield from _control(result)
    for dose in result.doses:
        yield from _dose(dose, result)
    traced = (line for titrant in result.titrants.values() for line in titrant.traceability(result.level))
    for line in dict.fromkeys(traced):
        yield from _wrapped(f"Traceability: {line}", hang="  ")
    if result.strengths:
        yield from _wrapped(_conditions(result), hang="  ")
        yield ""
    yield from _section("Cautions", _cautions(result))
    for kind in _kinds(result):
        yield from _section("The titration, in its safe order", list(procedure(kind)), bullet="")
    yield from _section("Above all", list(cautions("local codes")), bullet="")


def _kinds(result: SheetResult) -> list[str]:
    """Return the kinds of titration on the sheet: iodometry, acid-base."""
    found = {
        "iodometry" if strength.species.kind == "hypochlorite" else "acid-base"
        for strength in result.strengths.values()
    }
    return sorted(found, reverse=True)


def _cautions(result: SheetResult) -> list[str]:
    steps = [f"handling {strength.species.kind}" for strength in result.strengths.values()]
    steps += ["thiosulfate waste"] if "iodometry" in _kinds(result) else []
    steps += ["acid-base titration"] if "acid-base" in _kinds(result) else []
    standards = {titrant.facts.get("standard") for titrant in result.titrants.values()}
    steps += ["dichromate"] if "potassium dichromate" in standards else []
    steps += ["calibration by weighing"] if result.calibrations else []
    return [line for step in dict.fromkeys(steps) for line in cautions(step)]


def _conditions(result: SheetResult) -> str:
    buoyancy = (
        "Air buoyancy is corrected where the density of what is weighed is known; the budget names it."
        if any(id_.startswith(WEIGHED_DENSITY) for id_ in _influences(result))
        else "Air buoyancy is not in the budget."
    )
    if result.temperature:
        return (
            f"Volumes are stated at 20 °C; the liquids were at {result.temperature}, one shared influence, and expand "
            f"as dilute solutions, those above 0.25 equivalents per litre by more (the budget names them). {buoyancy}"
        )
    return f"Volumes as marked at 20 °C; temperature is not in the budget. {buoyancy}"


def _influences(result: SheetResult) -> Iterator[str]:
    """Yield the ids of all that the results rest on."""
    for estimate in (
        *(titrant.estimate for titrant in result.titrants.values()),
        *(strength.estimate for strength in result.strengths.values()),
    ):
        yield from estimate.influences


def _sampling(strength: Strength) -> Iterator[str]:
    portion = next((flag.message for flag in strength.flags if flag.code == PORTION_ONLY), None)
    if portion is None:
        yield from _wrapped(strength.facts.get("sampling", ""))
    else:
        yield from _wrapped(f"! {portion[:1].upper()}{portion[1:]}", hang="  ")


def _control(result: SheetResult) -> Iterator[str]:
    """Yield the recoveries and the control charts, each with its flags."""
    known = {flag for strength in result.strengths.values() for flag in strength.flags}
    judged: tuple[Recovery | ControlChart, ...] = (*result.recoveries.values(), *result.controls.values())
    for found in judged:
        for flag in found.flags:
            if flag not in known:
                yield from _wrapped(f"! {flag}", hang="  ")
        yield text(found.rows())
        yield ""


def _strength(strength: Strength, level: float) -> Iterator[str]:
    for flag in strength.flags:
        if flag.code != PORTION_ONLY:
            yield from _wrapped(f"! {flag}", hang="  ")
    yield text(strength.rows(level))
    yield from _wrapped(f"Measured: {strength.species.measured}.", hang="  ", indent="  ")
    if "label" in strength.facts:
        yield f"  The label says {strength.facts['label']}."
    if "end point" in strength.facts:
        yield from _wrapped(f"End point: {strength.facts['end point']}.", hang="  ", indent="  ")
    if strength.density is not None:
        yield from _density(strength, level)
    elif not strength.per_mass:
        yield from _wrapped(
            "A strength per mass needs a weighed sample, which is best, or a density.", hang="  ", indent="  "
        )
    yield ""
    budget = strength.budget()
    yield text(budget.rows(_LARGEST))
    yield ""


def _density(strength: Strength, level: float) -> Iterator[str]:
    density = strength.density
    if density is None:
        return
    estimate = density.estimate
    shown = plus_minus(estimate.value / 1000.0, estimate.expanded(level) / 1000.0, "g/mL")
    yield from _wrapped(f"Density: {shown}, {density.how}.", hang="  ", indent="  ")
    if density.assumed and not strength.per_mass:
        yield from _wrapped(
            "Weigh the sample next time: a strength per mass then needs no density.", hang="  ", indent="  "
        )


def _caustic(name: str, caustic: Caustic, level: float, known: set[Flag]) -> Iterator[str]:
    for flag in caustic.carbonate.flags:
        if flag not in known:
            yield from _wrapped(f"! {flag}", hang="  ")
    yield f"{name}: hydroxide and carbonate, from two end points, U at {100 * level:g} %"
    for estimate in (caustic.hydroxide, caustic.carbonate):
        yield f"  {estimate.label:9}  {plus_minus(estimate.value, estimate.expanded(level), estimate.unit)}"
    yield ""


def _dose(dose: Dose, result: SheetResult) -> Iterator[str]:
    level = result.level
    told = {f"! {flag}" for strength in result.strengths.values() for flag in strength.flags}
    before = dose.cautions()
    for caution in dose.first_caution():
        yield from _wrapped(caution, hang="  ")
    yield text(dose.rows(level))
    yield f"  into: {dose.into or 'not stated'}"
    for line in dose.sentences(level):
        # Flags of the strengths stand above with the strengths themselves.
        if line not in told:
            yield from _wrapped(line, hang="    ", indent="  ")
    yield from _section("Before dispensing", list(before), level=1)


def _section(title: str, lines: list[str], *, bullet: str = "- ", level: int = 0) -> Iterator[str]:
    indent = "  " * level
    yield f"{indent}{title}"
    for line in lines:
        yield from _wrapped(f"{bullet}{line}", hang=f"{indent}    ", indent=f"{indent}  ")
    yield ""


def _wrapped(line: str, *, hang: str = "", indent: str = "") -> list[str]:
    return wrap(line, WIDTH, initial_indent=indent, subsequent_indent=hang)
