"""Control charts and recoveries as they stand on a sheet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from assay.metrology.control import ControlChart, control_chart
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.metrology.recovery import Recovery, recovery_of
from assay.sheet.table import Table, named_strength
from assay.substances.stated import stated_strength
from assay.substances.strength import Strength


def charts(root: Table, strengths: Mapping[str, Strength]) -> dict[str, ControlChart]:
    """Return the control charts of a sheet by name; the sample that one names is its last result."""
    found: dict[str, ControlChart] = {}
    for table in root.tables("control"):
        table.only(
            "name", "results", "of", "basis", "unit", "target", "standard_deviation", "dof", "baseline", "rules"
        )  # fmt: skip
        name = table.text("name")
        if name in found:
            raise table.error("name", "two charts have this name.", given=name, remedy="Name them apart.")
        results: list[float | Estimate] = [*_numbers(table, "results")]
        if table.has("of"):
            results.append(_today(table, strengths))
        unit = _unit(table, results)
        found[name] = table.call("results", control_chart, results, label=name, unit=unit, **_stated(table, results))
    return found


def _numbers(table: Table, key: str) -> list[float]:
    """Return a list of pure numbers, in the unit that the table states."""
    values = table.items(key)
    for value in values:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise table.error(
                key, "a list of pure numbers is needed here; their unit or basis stands beside them.", given=str(value),
                remedy=f"Write {key} = [99.8, 100.3].",
            )  # fmt: skip
    return [float(value) for value in values]


def _today(table: Table, strengths: Mapping[str, Strength]) -> Estimate:
    strength = named_strength(table, "of", strengths)
    basis = table.showing(basis=f"{strength.species.bases[2].key}").text("basis")
    return table.call("basis", strength.in_basis, basis)


def _unit(table: Table, results: list[float | Estimate]) -> str | None:
    """Return the unit of a chart: that of today's result in its basis, or the one stated where there is none."""
    today = results[-1] if results else None
    if not isinstance(today, Estimate):
        if table.has("basis"):
            raise table.error(
                "basis", "without a sample the results have a unit.", remedy='Write unit = "g/L", or add of = "…".'
            )
        return table.showing(unit="g/L").text("unit")
    if table.has("unit"):
        raise table.error("unit", "the basis says the unit already.", remedy="Leave it out.")
    return today.unit


def _stated(table: Table, results: list[float | Estimate]) -> dict[str, Any]:
    optional = {key: table.number(key) for key in ("target", "standard_deviation") if table.has(key)}
    return {
        **optional,
        "dof": table.number("dof", math.inf),
        "baseline": table.whole("baseline", 1) if table.has("baseline") else _earlier(results, known=len(optional)),
        "rules": table.text("rules", "western electric"),
    }


def _earlier(results: list[float | Estimate], *, known: int) -> int | None:
    """Return how many earlier results set the limits by which that of today is judged; ``None`` for all there are."""
    earlier = sum(not isinstance(result, Estimate) for result in results)
    enough = 1 if known == 2 else 2  # noqa: PLR2004  (target and standard deviation are both stated; a scatter takes two)
    return earlier if enough <= earlier < len(results) else None


def recoveries(root: Table, strengths: Mapping[str, Strength], *, date: str, level: float) -> dict[str, Recovery]:
    """Return the recoveries of the controls that a sheet assays, by the name of the sample."""
    found: dict[str, Recovery] = {}
    for table in root.tables("recovery"):
        table.only("of", "known", "half_width")
        strength = named_strength(table, "of", strengths)
        name = table.text("of")
        if name in found:
            raise table.error("of", "the recovery of this sample stands above already.", given=name)
        known = _known(table, strength, path=f"control/{date} {name}/known")
        result = table.call("known", strength.in_basis, known[1])
        found[name] = table.call("known", recovery_of, result, _estimate(result, known[0]), level=level)
    return found


def _known(table: Table, strength: Strength, *, path: str) -> tuple[Influence, str]:
    """Return what the control is known to hold, and in which basis."""
    example = f"100.0 {strength.species.bases[2].key}"
    table = table.showing(known=example, half_width=example.replace("100.0", "0.5"))
    (value, basis), (half_width, other) = (
        table.call(key, stated_strength, table.text(key), argument=key, species=strength.species)
        for key in ("known", "half_width")
    )
    if other.key != basis.key:
        raise table.error(
            "half_width", "what the control holds and its half-width are in two bases.", given=table.text("half_width"),
            expected=f"a half-width in {basis.key}",
        )  # fmt: skip
    with table.reading("half_width"):
        influence = Influence.within(
            path, label=f"known strength of {table.text('of')}", value=value, half_width=half_width,
            source="as stated on the sheet",
        )  # fmt: skip
    return influence, basis.key


def _estimate(like: Estimate, influence: Influence) -> Estimate:
    return Estimate.from_influence(influence, name=like.name)
