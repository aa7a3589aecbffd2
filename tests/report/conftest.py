"""Results that are reported: run once."""

from __future__ import annotations

import pytest

from assay.data import text_resource
from assay.sheet.run import SheetResult, run_sheet, run_text

SAMPLING = (
    '[assay.sampling]\nmethod = "drum rolled, 100 mL drawn through the tap after 50 mL to waste"\ndelay = "15 min"\n'
)


@pytest.fixture(scope="session")
def demo_result() -> SheetResult:
    return run_sheet()


@pytest.fixture(scope="session")
def silent_result() -> SheetResult:
    """Return the demo without sampling, vessel, blank and label, at another level."""
    text = text_resource("demo_drum.toml")
    for old, new in (
        (text[text.index("[assay.sampling]") : text.index("# What the practical needs")], ""),
        ('into = "water"\n', ""),
        ('blank = [["0.00 mL", "0.05 mL"]]\n\n# What', "\n# What"),
        ('label = "15 % w/v available chlorine"\n', ""),
        ("schema = 1", "schema = 1\nlevel = 0.99"),
    ):
        assert old in text
        text = text.replace(old, new)
    return run_text(text, name="silent.toml")


@pytest.fixture(scope="session")
def exact_result() -> SheetResult:
    """Return a sheet whose scatter is known from elsewhere: no degrees of freedom are finite; no lot, no dose."""
    text = text_resource("demo_drum.toml")
    text = text[: text.index("# What the practical needs")]
    text = text.replace('lot = "2219"\n', "").replace("aliquot =", 'method_s = "0.03 mL"\naliquot =')
    return run_text(text, name="exact.toml")
