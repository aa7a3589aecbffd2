"""The text of a model becomes its function, and nothing else does."""

from __future__ import annotations

import math

import pytest

from assay.checks.models import model


@pytest.mark.parametrize(
    ("text", "names", "values", "result"),
    [
        ("a - b - c", ("a", "b", "c"), (7.0, 2.0, 1.0), 4.0),
        ("b / a * b", ("b", "a"), (6.0, 2.0), 18.0),
        ("-x ** 2", ("x",), (3.0,), -9.0),
        ("2 * (x + 1.5)", ("x",), (0.5,), 4.0),
        ("sqrt(x) + exp(y)", ("x", "y"), (9.0, 0.0), 4.0),
        ("cos(phi) ** 2 + sin(phi) ** 2", ("phi",), (0.7,), 1.0),
        ("1e6 * x", ("x",), (2.0,), 2e6),
    ],
)
def test_a_model_is_arithmetic(text: str, names: tuple[str, ...], values: tuple[float, ...], result: float) -> None:
    found, function = model(text)
    assert found == names
    assert function(*values) == pytest.approx(result, rel=1e-15)


@pytest.mark.parametrize("text", ["x if x else 0", "x.real", "open(x)", "x[0]", "x < 1", "x // 2", "'x'", "sqrt(x, x)"])
def test_anything_else_is_refused(text: str) -> None:
    names, function = model(text)
    with pytest.raises(ValueError, match="is no arithmetic of a model"):
        function(*[1.0 for _ in names])


def test_a_name_of_a_function_is_no_input() -> None:
    assert model("exp(t) * t")[0] == ("t",)
    assert math.isclose(float(model("exp(t) * t")[1](1.0)), math.e)
