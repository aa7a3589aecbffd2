"""The published checks as text: every row with its agreement, and every disagreement with its reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from textwrap import wrap

from assay.checks.evaluate import Outcome
from assay.checks.guide import Comparison
from assay.checks.rows import Check, LeftOut, last_place
from assay.display.numbers import fixed, value_and_u

WIDTH = 110

#: Columns before the quantity: agreement, printed, ours, unit.
_COLUMNS = "{:<9} {:>12} {:>14} {:<11} "
_INDENT = " " * len(_COLUMNS.format("", "", "", ""))


def checks_text(
    outcomes: Sequence[Outcome], comparisons: Sequence[Comparison], left_out: Sequence[LeftOut] = ()
) -> str:
    """Return the report of all published checks.

    Parameters
    ----------
    outcomes : sequence of Outcome
        The rows, worked out.
    comparisons : sequence of Comparison
        The guide's examples under both sets of assumptions.
    left_out : sequence of LeftOut
        What the same sources print and is not worked out.

    Returns
    -------
    str
        Lines of at most 110 characters.

    """
    return "\n".join(_lines(outcomes, comparisons, left_out)) + "\n"


def _lines(
    outcomes: Sequence[Outcome], comparisons: Sequence[Comparison], left_out: Sequence[LeftOut]
) -> Iterator[str]:
    yield from _wrapped(
        "Published values, worked out with this installation. A value agrees if it lies within half a unit of the last "
        "printed digit; where a source rounded midway or is wrong, its row records why, and ours is then compared with "
        "the recomputed value. Where a number was sampled, three standard errors of the difference of both runs "
        "are allowed for besides."
    )
    yield ""
    for kind, rows in groupby(outcomes, key=lambda outcome: outcome.check.kind):
        yield from _kind(kind, list(rows))
    yield from _guide(comparisons)
    yield from _left_out(left_out)
    yield from _disagreements([outcome for outcome in outcomes if not outcome.agrees])
    yield from _summary(outcomes)


def _kind(kind: str, rows: Sequence[Outcome]) -> Iterator[str]:
    yield f"{kind.replace('_', ' ').capitalize()}: {len(rows)} values, {sum(row.agrees for row in rows)} agree"
    yield (_COLUMNS.format("", "printed", "ours", "unit") + "quantity, and source").rstrip()
    for row in rows:
        check = row.check
        begin = _COLUMNS.format(_word(row), check.printed, _shown(row), _unit(check))
        yield from _wrapped(check.quantity, begin=begin, indent=_INDENT)
        yield from _wrapped(f"[{check.source}] {check.locator}{_memory(row)}", begin=_INDENT, indent=_INDENT)
        if check.carried:
            yield from _wrapped(f"taken over as printed: {check.carried}", begin=_INDENT, indent=_INDENT)
        if row.run_error:
            yield f"{_INDENT}standard error of both runs {row.run_error:.2g}"
        if check.exact:
            yield f"{_INDENT}the printed number is exact"
    yield ""


def _word(row: Outcome) -> str:
    if not row.as_recorded:
        return "WRONG"
    return "agrees" if row.agrees else "disagrees"


def _unit(check: Check) -> str:
    """Return the unit of a row; a pure number has none to be shown."""
    return check.unit.removeprefix("1")


def _memory(row: Outcome) -> str:
    return " (from memory)" if row.check.provenance == "memory" else ""


def _shown(row: Outcome) -> str:
    """Return ours with two digits more than the print, so that an agreement can be seen to be one."""
    printed = row.check.printed
    if "e" in printed.lower():
        digits = len(printed.lower().partition("e")[0].replace(".", "").lstrip("-0"))
        return f"{row.ours:.{digits + 1}e}"
    return fixed(row.ours, 2 - last_place(printed))


def _guide(comparisons: Sequence[Comparison]) -> Iterator[str]:
    yield "The guide's assumptions and the house rule"
    yield from _wrapped(
        "The same readings and limits of error, once with every input independent, as the guide to uncertainty in "
        "chemical measurement has it, and once with the library's own burette, pipette, balance, temperature and end "
        "point, where one thing is one influence wherever it acts. The squares of a column add to the square of its u.",
        begin="  ",
        indent="  ",
    )
    yield ""
    for comparison in comparisons:
        yield from _comparison(comparison)


def _comparison(comparison: Comparison) -> Iterator[str]:
    yield from _wrapped(comparison.example, begin="  ", indent="  ")
    agreement = "agree" if comparison.value.agrees and comparison.u.agrees else "DO NOT AGREE"
    yield from _wrapped(f"printed {_printed(comparison)}", begin="    ", indent="    ")
    yield f"    ours, with its assumptions, {agreement}"
    for name, result in (("guide", comparison.guide), ("house", comparison.house)):
        shown, u_shown = value_and_u(result.value, result.u)
        yield f"    {name} {shown} {result.unit}, u = {u_shown} {result.unit}"
    yield f"    {'u from':<14} {'guide':>10} {'house':>10}"
    for cause in comparison.causes:
        begin = f"    {cause.name:<14} {cause.guide:>10.2e} {cause.house:>10.2e}  "
        yield from _wrapped(cause.why, begin=begin, indent=" " * len(begin)) if cause.why else [begin.rstrip()]
    yield ""


def _left_out(rows: Sequence[LeftOut]) -> Iterator[str]:
    if not rows:
        return
    yield f"Not worked out: {len(rows)}"
    for row in rows:
        printed = f"{row.printed} {row.unit.removeprefix('1')}".strip()
        line = f"{row.id}: {row.quantity}, printed {printed} [{row.source}] {row.locator}."
        yield from _wrapped(line, begin="  ", indent="    ")
        yield from _wrapped(row.why, begin="    ", indent="    ")
    yield ""


def _printed(comparison: Comparison) -> str:
    """Return what was printed and by whom."""
    value, u, rounded = comparison.value.check, comparison.u.check, comparison.rounded
    shown, shown_u = f"{value.printed} {value.unit}", f"u = {u.printed} {u.unit}"
    if value.source == u.source:
        return f"{shown}, {shown_u} [{u.source}]"
    if rounded is None:
        return f"{shown} [{value.source}], {shown_u} [{u.source}]"
    return (
        f"{shown}, u = {rounded.printed} {rounded.unit}, from components that were rounded midway [{rounded.source}]; "
        f"unrounded, {shown_u} [{u.source}]"
    )


def _disagreements(rows: Sequence[Outcome]) -> Iterator[str]:
    yield f"Disagreements: {len(rows)}"
    for row in rows:
        check = row.check
        printed = f"{check.printed} {_unit(check)}".strip()
        line = f"{check.id}: {check.quantity}, printed {printed}, ours {_shown(row)}."
        yield from _wrapped(line, begin="  ", indent="    ")
        reason = check.disagrees or "NOT RECORDED: ours is not what is printed, and no reason is known."
        yield from _wrapped(reason, begin="    ", indent="    ")
    yield ""


def _summary(outcomes: Sequence[Outcome]) -> Iterator[str]:
    wrong = [outcome for outcome in outcomes if not outcome.as_recorded]
    agreeing = sum(outcome.agrees for outcome in outcomes)
    recorded = len(outcomes) - agreeing - sum(not outcome.agrees for outcome in wrong)
    yield f"{len(outcomes)} values: {agreeing} agree, {recorded} disagree for the recorded reason."
    if wrong:
        yield from _wrapped(
            f"{len(wrong)} not as recorded: {', '.join(outcome.check.id for outcome in wrong)}. This installation does "
            "not compute what it should.",
        )


def _wrapped(line: str, *, begin: str = "", indent: str = "") -> list[str]:
    return wrap(line, WIDTH, initial_indent=begin, subsequent_indent=indent, break_on_hyphens=False) or [begin.rstrip()]
