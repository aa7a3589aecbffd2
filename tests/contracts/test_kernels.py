"""Every kernel: its recorded derivatives are right, arrays give what numbers give, its ranges are of its parameters."""

from __future__ import annotations

import importlib
import inspect
import math
import pkgutil
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, reject
from hypothesis import strategies as st

import assay.kernels
from assay.glossary import TERMS
from assay.kernels.ranges import ranges_of
from assay.metrology.tape import gradient

NOT_FORMULAS = {"ranges", "value"}
# Values of the order of one, so that a central difference keeps its digits; a range beyond is used as it is.
WINDOW = (-10.0, 10.0)
STEP = 1e-3


def found() -> Iterator[Callable[..., Any]]:
    """Yield the public functions defined in the modules of kernels."""
    for module in pkgutil.iter_modules(assay.kernels.__path__):
        if module.name not in NOT_FORMULAS:
            space = vars(importlib.import_module(f"assay.kernels.{module.name}"))
            yield from (
                item
                for name, item in space.items()
                if inspect.isfunction(item) and not name.startswith("_") and item.__module__ == space["__name__"]
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
