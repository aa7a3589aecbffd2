"""The report of a bench sheet as text."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from assay.display.numbers import degrees, plus_minus
from assay.display.rows import text
from assay.dosing.dose import Dose
from assay.sheet.run import SheetResult
from assay.substances.strength import Strength
from assay.titration.iodometry import PORTION_ONLY
from assay.titration.procedure import cautions, iodometry_procedure

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
    for strength in result.strengths.values():
        yield from _strength(strength, result.level)
    for dose in result.doses:
        yield from _dose(dose, result)
    yield from _trace(result)
    yield from _section("Cautions", _cautions(result))
    yield from _section("The titration, in its safe order", list(iodometry_procedure()), bullet="")
    yield from _section("Above all", list(cautions("local codes")), bullet="")


def _cautions(result: SheetResult) -> list[str]:
    toxic = cautions("dichromate") if result.titrant.facts["standard"] == "potassium dichromate" else ()
    return [*cautions("handling hypochlorite"), *toxic, *cautions("thiosulfate waste")]


def _sampling(strength: Strength) -> Iterator[str]:
    portion = next((flag.message for flag in strength.flags if flag.code == PORTION_ONLY), None)
    if portion is None:
        yield from _wrapped(strength.facts.get("sampling", ""))
    else:
        yield from _wrapped(f"! {portion[:1].upper()}{portion[1:]}", hang="  ")


def _strength(strength: Strength, level: float) -> Iterator[str]:
    for flag in strength.flags:
        if flag.code != PORTION_ONLY:
            yield from _wrapped(f"! {flag}", hang="  ")
    yield text(strength.rows(level))
    yield from _wrapped(f"Measured: {strength.species.measured}.", hang="  ", indent="  ")
    if "label" in strength.facts:
        yield f"  The label says {strength.facts['label']}."
    yield ""
    budget = strength.budget()
    yield text(budget.rows(_LARGEST))
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


def _trace(result: SheetResult) -> Iterator[str]:
    titrant = result.titrant
    estimate = titrant.estimate
    facts = titrant.facts
    yield from _wrapped(
        f"Traceability: {titrant.label}, {plus_minus(estimate.value, estimate.expanded(result.level), estimate.unit)} "
        f"(k = {estimate.coverage_factor(result.level):.2f}, {degrees(estimate.dof)} degrees of freedom), against "
        f"{facts['standard']}, lot {facts['lot']}, purity {facts['purity']}; atomic weights {facts['atomic weights']}. "
        "Volumes as marked at 20 °C; temperature and air buoyancy are not in the budget.",
        hang="  ",
    )
    yield ""


def _section(title: str, lines: list[str], *, bullet: str = "- ", level: int = 0) -> Iterator[str]:
    indent = "  " * level
    yield f"{indent}{title}"
    for line in lines:
        yield from _wrapped(f"{bullet}{line}", hang=f"{indent}    ", indent=f"{indent}  ")
    yield ""


def _wrapped(line: str, *, hang: str = "", indent: str = "") -> list[str]:
    return wrap(line, WIDTH, initial_indent=indent, subsequent_indent=hang)
