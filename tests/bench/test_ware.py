"""The table of volumetric ware as it is looked up: the right row, or the nearest choices."""

from __future__ import annotations

import pytest

from assay import DataError
from assay.bench.ware import STANDARDS, class_row, class_source, piston_limits

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
    ("graduated pipette", 0.010, 0.0001, "AS", None, 0.05),
    ("graduated pipette", 0.005, 0.00005, "B", None, 0.05),
    ("graduated pipette", 0.010, 0.0001, "A", "USP <31>", 0.03),  # without a subdivision in its source
    ("graduated pipette", 0.005, 0.00005, "A", "Eichordnung 1988", 0.03),
    ("burette", 0.100, 0.0002, "A", "Eichordnung 1988", 0.08),
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


# item, capacity [L], standard, systematic and random error [µL] as printed there.
PISTON = [
    ("piston pipette", 1e-4, None, 0.8, 0.3, "read"),
    ("piston pipette", 1e-3, None, 8.0, 3.0, "read"),
    ("piston pipette", 1e-2, "ISO 8655-2:2002", 60.0, 30.0, "memory"),
    ("piston pipette", 1e-5, None, 0.12, 0.08, "memory"),
    ("piston burette", 2e-2, None, 40.0, 14.0, "memory"),
    ("piston burette", 2.5e-2, "ISO 8655-3:2002", 50.0, 17.5, "memory"),
    ("piston burette", 5e-2, "Eichordnung 1988", 150.0, 0.0, "read"),
    ("piston pipette", 1e-3, "Eichordnung 1988", 10.0, 0.0, "read"),
]


@pytest.mark.parametrize("row", PISTON)
def test_errors_of_piston_ware(row: tuple[str, float, str | None, float, float, str]) -> None:
    item, capacity, standard, systematic, random, provenance = row
    found = piston_limits(item, capacity=capacity, standard=standard)
    assert (1e6 * found.systematic, 1e6 * found.random) == pytest.approx((systematic, random), rel=1e-12)
    for source in (found.source, *((found.random_source,) if random else ())):
        assert source.startswith(standard or STANDARDS[item])
        assert ("from memory" in source) == (provenance == "memory")


@pytest.mark.parametrize(
    ("item", "capacity", "standard", "says"),
    [
        ("piston pipette", 3e-3, None, ["3 mL", "1, 2, 5 mL", "tolerance="]),
        ("piston burette", 2e-2, "ISO 8655-3", ["'ISO 8655-3'", "'ISO 8655-3:2002'"]),
    ],
)
def test_unknown_piston_ware_is_refused_with_the_nearest_choices(
    item: str, capacity: float, standard: str | None, says: list[str]
) -> None:
    with pytest.raises(DataError) as caught:
        piston_limits(item, capacity=capacity, standard=standard)
    for words in says:
        assert words in str(caught.value)
