"""The air at the balance as it stands on a sheet."""

from __future__ import annotations

from collections.abc import Iterable

from assay.bench.air import Air
from assay.sheet.table import Table


def occasion(day: str, read: Iterable[str]) -> str:
    """Return the name of what was read on a day: other readings of the same day are another occasion."""
    return ", ".join((day, *read)).replace("/", " ").replace("\n", " ")


def air_of(table: Table, *, day: str) -> Air:
    """Return the air that a table states, or air in which nothing was measured."""
    if not table.has("air"):
        return Air(day=day)
    one = table.table("air").showing(temperature="21.5 °C", pressure="1008 hPa", humidity="45 %")
    one.only(
        "temperature", "pressure", "humidity", "temperature_half_width", "pressure_half_width", "humidity_half_width"
    )
    with one.reading():
        read = {key: one.text(key) for key in sorted(one.data)}
        return Air(day=occasion(day, (f"{key} {value}" for key, value in read.items())), **read)
