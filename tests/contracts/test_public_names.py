"""What a user can import, and what importing it costs."""

from __future__ import annotations

import inspect
import json
import subprocess
import sys
from pathlib import Path

import pytest

import assay

SNAPSHOT = Path(__file__).with_name("public_names.txt")
HEAVY = {"numpy", "scipy", "pint", "uncertainties", "matplotlib"}
MOST_REQUIRED_PARAMETERS = 5
# What the library returns and no user builds: a result has as many fields as it has facts.
RESULTS = {
    "BudgetLine",
    "Comparison",
    "Component",
    "Concordance",
    "Conformity",
    "ControlChart",
    "Consistency",
    "DecisionOutlook",
    "Dose",
    "DosedVolume",
    "Estimate",
    "EstimateBatch",
    "ExpectedWidth",
    "MonteCarlo",
    "OutlierTest",
    "SampledProbability",
    "SheetResult",
    "Validation",
}


def test_public_names_are_those_of_the_snapshot() -> None:
    """A name that comes or goes is a decision: change public_names.txt in the same commit."""
    assert sorted(assay.__all__) == SNAPSHOT.read_text(encoding="utf-8").split()


def test_all_is_sorted_and_without_repeats() -> None:
    assert list(assay.__all__) == sorted(set(assay.__all__))


@pytest.mark.parametrize("name", assay.__all__)
def test_public_name_can_be_reached(name: str) -> None:
    assert getattr(assay, name) is not None
    assert name in dir(assay)


def test_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no_such_name"):
        assay.no_such_name  # noqa: B018  (reaching for it is the test)


def test_import_loads_no_heavy_package() -> None:
    code = "import json, sys, assay; print(json.dumps(sorted({name.partition('.')[0] for name in sys.modules})))"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    loaded = set(json.loads(said))
    assert "assay" in loaded
    assert not loaded & HEAVY


def test_results_are_public() -> None:
    assert set(assay.__all__) >= RESULTS


@pytest.mark.parametrize("name", [name for name in assay.__all__ if name not in RESULTS])
def test_at_most_five_parameters_are_required(name: str) -> None:
    """More than five facts that must be told at once belong together in an object of their own."""
    required = [
        parameter.name
        for parameter in inspect.signature(getattr(assay, name)).parameters.values()
        if parameter.default is parameter.empty
        and parameter.kind not in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD)
    ]
    assert len(required) <= MOST_REQUIRED_PARAMETERS, required
