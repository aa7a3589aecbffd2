"""The table of volumetric ware as it is looked up: the right row, or the nearest choices."""

from __future__ import annotations

import pytest

from assay import DataError
from assay.bench.ware import STANDARDS, class_row, class_source

# item, capacity [L], subdivision [L], class, standard, limit of error [mL] as printed there.
LOOKED_UP = [
    ("burette", 0.050, 0.0001, "A", None, 0.05),
    ("burette", 0.050, 0.0001, "B", None, 0.1),
    ("burette", 0.050, 0.0001, "as", None, 0.05),
    ("burette", 0.025, 0.00005, "A", None, 0.03),
    ("burette", 0.025, 0.0001, "A", None, 0.05),
    ("burette", 0.100, None, "A", "Eichordnung 1988", 0.08),
    ("burette", 0.025, 0.0001, " b ", "ASTM E287", 0.06),
    ("one-mark pipette", 0.025, None, "A", None, 0.03),
    ("volumetric flask", 0.250, None, "B", None, 0.3),
    ("measuring cylinder", 0.250, 0.002, "B", None, 2.0),
]


@pytest.mark.parametrize("row", LOOKED_UP)
def test_the_row_of_the_class(row: tuple[str, float, float | None, str, str | None, float]) -> None:
    item, capacity, subdivision, letter, standard, limit = row
    found = class_row(item, capacity=capacity, subdivision=subdivision, accuracy_class=letter, standard=standard)
    assert found.half_width == limit
    assert found.index["standard"] == (standard or STANDARDS[item])
    assert f"±{limit:g} mL" in class_source(found)
    assert ("from memory" in class_source(found)) == (found.provenance == "memory")


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (("burette", 0.030, 0.0001, "A", None), ["30 mL", "10, 25, 50 mL"]),
        (("burette", 0.050, 0.0005, "A", None), ["0.5 mL", "0.1 mL"]),
        (("one-mark pipette", 0.0255, None, "A", None), ["25.5 mL", "10, 20, 25 mL"]),
        (("volumetric flask", 0.200, None, "X", None), ["'X'", "'A', 'B'"]),
        (("measuring cylinder", 0.250, 0.002, "A", "ISO 4788"), ["'ISO 4788'", "'ISO 4788:2005'"]),
        (("burette", 0.050, None, "A", "GOST 29251-91 (ISO 385-1:1984)"), ["'A'", "'B'"]),
    ],
)
def test_refused_with_the_nearest_choices(
    row: tuple[str, float, float | None, str, str | None], says: list[str]
) -> None:
    item, capacity, subdivision, letter, standard = row
    with pytest.raises(DataError) as caught:
        class_row(item, capacity=capacity, subdivision=subdivision, accuracy_class=letter, standard=standard)
    for words in says:
        assert words in str(caught.value)
    assert caught.value.remedy
