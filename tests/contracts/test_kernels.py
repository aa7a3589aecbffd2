"""Every formula: its recorded derivatives are right, arrays give what numbers give, its ranges are of its parameters.

None can be missed: whatever a step evaluates is a kernel found here, or a primitive that is drawn here.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import math
import pkgutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, reject
from hypothesis import strategies as st

import assay.kernels
from assay.glossary import TERMS
from assay.kernels.ranges import ranges_of
from assay.metrology.tape import gradient
from assay.substances import density_tables

PACKAGE = Path(assay.kernels.__file__).parents[1]
NOT_FORMULAS = {"assay.kernels.ranges", "assay.kernels.value"}
STEPS = {"evaluate", "evaluate_batch", "evaluate_like"}
# Values of the order of one, so that a central difference keeps its digits; a range beyond is used as it is.
WINDOW = (-10.0, 10.0)
STEP = 1e-3


def found() -> Iterator[Callable[..., Any]]:
    """Yield the public functions defined in the modules of kernels."""
    for module in pkgutil.walk_packages(assay.kernels.__path__, "assay.kernels."):
        if module.name not in NOT_FORMULAS:
            space = vars(importlib.import_module(module.name))
            yield from (
                item
                for name, item in space.items()
                if callable(item) and not name.startswith("_") and getattr(item, "__module__", "") == module.name
            )


KERNELS = sorted(found(), key=lambda kernel: kernel.__name__)


@st.composite
def arguments(draw: st.DrawFn, kernel: Callable[..., Any]) -> tuple[list[float], dict[str, Any]]:
    """Return positional and named arguments within the ranges stated beside a kernel."""
    positional: list[float] = []
    named: dict[str, Any] = {}
    for name, parameter in inspect.signature(kernel).parameters.items():
        if parameter.kind is parameter.VAR_POSITIONAL:
            positional = [draw(values(kernel, name)) for _ in range(draw(st.integers(1, 4)))]
        elif parameter.annotation == "tuple[int, ...]":
            named[name] = tuple(draw(st.integers(1, 9)) for _ in positional)
        else:
            assert parameter.annotation == "Value", f"teach this test how to draw {parameter}"
            named[name] = draw(values(kernel, name))
    return positional, named


def values(kernel: Callable[..., Any], parameter: str) -> st.SearchStrategy[float]:
    low, high = ranges_of(kernel).get(parameter, (-math.inf, math.inf))
    if low < WINDOW[1] and high > WINDOW[0]:
        # A tenth of the smallest step is left at zero: the formula need not hold on its other side.
        low, high = max(low, WINDOW[0]), min(high, WINDOW[1])
        low = max(low, 10.0 * STEP) if 0.0 <= low < 10.0 * STEP else low
    return st.floats(low, high)


def slope(kernel: Callable[..., Any], positional: list[float], named: dict[str, Any], key: int | str) -> float:
    """Return a central difference extrapolated twice; skip a point at which it has not settled."""

    def difference(step: float) -> float:
        ends = []
        for shift in (step, -step):
            moved, moved_by_name = list(positional), dict(named)
            if isinstance(key, int):
                moved[key] += shift
            else:
                moved_by_name[key] += shift
            try:
                ends.append(float(kernel(*moved, **moved_by_name)))
            except ZeroDivisionError:  # a pole within a step: the difference says nothing there
                reject()
        return (ends[0] - ends[1]) / (2.0 * step)

    coarse, middle, fine = (difference(STEP / 2.0**k) for k in range(3))
    first, second = (4.0 * middle - coarse) / 3.0, (4.0 * fine - middle) / 3.0
    assume(abs(second - first) <= 1e-6 * (1.0 + abs(second)))
    return (16.0 * second - first) / 15.0


def evaluated(kernel: Callable[..., Any], positional: list[float], named: dict[str, Any]) -> float:
    """Return the value; skip a point at which there is none, or one too large for a difference."""
    try:
        value = float(kernel(*positional, **named))
    except ZeroDivisionError:
        reject()
    assume(math.isfinite(value) and abs(value) < 1e6)
    return value


def tables() -> st.SearchStrategy[tuple[Callable[..., Any], list[float]]]:
    """Draw a look-up in a table, and a point within a row of it: at the rows themselves there is no slope."""

    def drawn(widths: list[float], heights: list[float], row: int, share: float) -> tuple[Any, list[float]]:
        grid = np.cumsum([0.5, *widths])
        row %= len(widths)
        look_up = density_tables._look_up(grid, np.array(heights[: grid.size]), "table")
        return look_up, [float(grid[row] + share * widths[row])]

    widths = st.lists(st.floats(0.1, 3.0), min_size=1, max_size=5)
    heights = st.lists(st.floats(-10.0, 10.0), min_size=6, max_size=6)
    return st.builds(drawn, widths, heights, st.integers(0, 9), st.floats(0.02, 0.98))


# Where each primitive of the library is made, and what draws one with a point at which it has a slope.
PRIMITIVES: dict[str, Callable[[], st.SearchStrategy[tuple[Callable[..., Any], list[float]]]]] = {
    "substances/density_tables.py: _look_up": tables,
}


def calls(names: set[str]) -> Iterator[tuple[str, str, ast.Call]]:
    """Yield the calls of some functions anywhere in the package: file, function in which they stand, and the call."""

    def within(node: ast.AST, place: str) -> Iterator[tuple[str, ast.Call]]:
        for child in ast.iter_child_nodes(node):
            inside = child.name if isinstance(child, ast.FunctionDef) else place
            if isinstance(child, ast.Call) and isinstance(child.func, ast.Name) and child.func.id in names:
                yield place, child
            yield from within(child, inside)

    for path in sorted(PACKAGE.rglob("*.py")):
        for place, call in within(ast.parse(path.read_text(encoding="utf-8")), ""):
            yield path.relative_to(PACKAGE).as_posix(), place, call


def test_every_formula_of_a_step_is_a_kernel_or_a_primitive() -> None:
    strangers = []
    for file, place, call in calls(STEPS):
        formula = call.args[0]
        if isinstance(formula, ast.Name):
            module = importlib.import_module("assay." + file.removesuffix(".py").replace("/", "."))
            # A name that the module does not know was handed to the function, by a call that is looked at itself.
            known = getattr(module, formula.id, None) in [*KERNELS, None]
        else:
            made = formula.func if isinstance(formula, ast.Call) else formula
            known = isinstance(made, ast.Name | ast.Attribute) and (
                f"{file}: {ast.unparse(made)}" in PRIMITIVES or ast.unparse(made) == "self.kernel"
            )
        if not known:
            strangers.append(f"{file}, {place}: {ast.unparse(formula)}")
    assert not strangers


def test_every_primitive_is_drawn_here() -> None:
    assert {f"{file}: {place}" for file, place, _ in calls({"primitive"})} == PRIMITIVES.keys()


@pytest.mark.parametrize("name", PRIMITIVES)
@given(data=st.data())
def test_declared_derivatives_are_the_differences(name: str, data: st.DataObject) -> None:
    function, point = data.draw(PRIMITIVES[name]())
    plain = evaluated(function, point, {})
    value, partials = gradient(function, point, {})
    assert value == plain
    for key, partial in partials.items():
        assert partial == pytest.approx(slope(function, point, {}, key), rel=1e-5, abs=1e-5)
    together = function(*(np.full(3, x) for x in point))
    np.testing.assert_allclose(together, np.full(3, plain), rtol=1e-14)


def test_kernels_are_found() -> None:
    names = {kernel.__name__ for kernel in KERNELS}
    assert {"mean_from_replicates", "analyte_concentration_from_titre", "mass_from_readings"} <= names
    assert all("_from_" in name for name in names)


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.__name__)
@given(data=st.data())
def test_recorded_derivatives_are_the_differences(kernel: Callable[..., Any], data: st.DataObject) -> None:
    positional, named = data.draw(arguments(kernel))
    plain = evaluated(kernel, positional, named)
    value, partials = gradient(kernel, positional, named)
    assert value == plain
    assert set(partials) == {*range(len(positional)), *(k for k, v in named.items() if isinstance(v, float))}
    for key, partial in partials.items():
        assume(abs(partial) < 1e6)  # as for the value: too steep for a difference
        expected = slope(kernel, positional, named, key)
        assert partial == pytest.approx(expected, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.__name__)
@given(data=st.data())
def test_arrays_give_what_numbers_give(kernel: Callable[..., Any], data: st.DataObject) -> None:
    """The same formula is evaluated on drawn inputs, thousands at a time."""
    positional, named = data.draw(arguments(kernel))
    plain = evaluated(kernel, positional, named)
    as_arrays = {k: np.full(3, v) if isinstance(v, float) else v for k, v in named.items()}
    result = kernel(*(np.full(3, v) for v in positional), **as_arrays)
    np.testing.assert_allclose(result, np.full(3, plain), rtol=1e-14)


@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.__name__)
def test_ranges_are_of_parameters_that_exist(kernel: Callable[..., Any]) -> None:
    parameters = inspect.signature(kernel).parameters
    for name, (low, high) in ranges_of(kernel).items():
        assert name in parameters
        assert name in TERMS
        # A range is checked by name, and a parameter that is only positional has none.
        assert parameters[name].kind is not inspect.Parameter.VAR_POSITIONAL
        assert low < high
