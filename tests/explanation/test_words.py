"""Explanations: the printed chain gives the printed result, and says where everything comes from."""

from __future__ import annotations

import ast
import pickle
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from matplotlib.mathtext import MathTextParser

import assay
from assay.display.blocks import Equation, Listed, Mathematics
from assay.explanation.step import Step
from assay.explanation.words import Explanation, explain
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.replicates import mean_of, scatter_of
from assay.substances.strength import Strength

DEMOS = ("drum", "acid", "caustic")
_UNIT = re.compile(r"\s\[[^\[\]]+\]")
_NUMBER_WITH_UNIT = re.compile(r"([\d.]+(?:e[+-]?\d+)?)\s\[([^\[\]]+)\]")
_REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()
_SAFE = (ast.Expression, ast.BinOp, ast.UnaryOp, ast.Constant, ast.Call, ast.Name, ast.Load, ast.operator, ast.unaryop)


def measured(name: str, value: float, u: float = 0.1, **facts: Any) -> Estimate:  # noqa: ANN401  (facts of an influence)
    return Estimate.from_influence(Influence(id=name, label=name, value=value, u=u, **facts), name="value")


@cache
def results() -> dict[str, Any]:
    """Return everything that the demo sheets give and that has an explanation."""
    found: dict[str, Any] = {}
    for demo in DEMOS:
        sheet = assay.run_demo(demo)
        found |= {f"{demo}, titrant {name}": titrant for name, titrant in sheet.titrants.items()}
        found |= {f"{demo}, {name}": strength for name, strength in sheet.strengths.items()}
        for name, strength in sheet.strengths.items():
            found |= {f"{demo}, {name}, {key}": estimate for key, estimate in strength.bases().items()}
            if strength.density is not None:
                found[f"{demo}, {name}, density"] = strength.density
        found |= {f"{demo}, dose {k}": dose for k, dose in enumerate(sheet.doses)}
        found |= {f"{demo}, {name}, caustic": caustic for name, caustic in sheet.caustics.items()}
    found |= weighed() | compared()
    drum = next(iter(assay.run_demo("drum").strengths.values()))
    found["a strength with an assumed density"] = drum.assuming_density(filled="150 g/L available chlorine").in_basis(
        "% w/w available chlorine"
    )
    return found


def compared() -> dict[str, Any]:
    """Return a comparison, means of what agrees and of what does not, in a unit."""
    days = [
        replace(measured(day, value, 1.0), unit="g/L")
        for day, value in (("Monday", 100.0), ("Tuesday", 101.5), ("Friday", 112.0))
    ]
    return {
        "a comparison": assay.compare(*days[:2]),
        "a mean of what agrees": assay.consistency(*days[:2]),
        "a mean of what disagrees": assay.consistency(*days),
    }


def weighed() -> dict[str, Any]:
    """Return assays of weighed samples, made up in a flask and by portions."""
    thiosulfate = next(iter(assay.run_demo("drum").titrants.values()))
    burette = assay.Burette("B8", capacity="50 mL", subdivision="0.1 mL")
    p25, f250, f500 = (
        assay.Pipette("P25", capacity="25 mL"),
        assay.Flask("F250", capacity="250 mL"),
        assay.Flask("F500", capacity="500 mL"),
    )
    balance = assay.Balance("W8", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    titres = [burette.titre(final) for final in ("31.20 mL", "31.15 mL", "31.25 mL")]
    made_up = assay.Dilution(balance.by_difference("141.9312 g", "30.5402 g"), f250)
    readings = ("36.1112 g", "34.7112 g", "33.3212 g", "31.9312 g")
    portions = [
        (balance.by_difference(gross, tare), titre)
        for (gross, tare), titre in zip(pairwise(readings), titres, strict=True)
    ]
    common: dict[str, Any] = {"blank": burette.titre("0.05 mL"), "record": "weighed drum"}
    diluted = assay.assay_hypochlorite(
        thiosulfate, aliquot=p25, dilutions=[made_up, assay.Dilution(p25, f500)], titres=titres, **common
    )
    return {
        "a weighed sample made up": diluted,
        "a weighed sample made up, by mass": diluted.in_basis("% w/w available chlorine"),
        "weighed portions": assay.assay_hypochlorite(thiosulfate, portions=portions, **common),
    }


#: A constant of the density of water [tanaka-2001], which is an equation of numbers: of a temperature over 1 °C.
_FITTED = "522528.9"
NAMES = sorted(results())


def estimates_of(result: Any) -> list[Estimate]:  # noqa: ANN401  (any of the results above)
    """Return the numbers that a result is explained by, the last of them last."""
    if isinstance(result, Estimate):
        return [result]
    if hasattr(result, "volumes"):
        return [volume.delivered for volume in result.volumes]
    if isinstance(result, (assay.Comparison, assay.Consistency)):
        return [result.difference if isinstance(result, assay.Comparison) else result.mean]
    return [result.estimate] if hasattr(result, "estimate") else [result.hydroxide, result.carbonate]


def primitives(result: object) -> dict[str, Callable[..., Any]]:
    """Return the look-ups behind a result: their values stand in tables, not in the formula."""
    kernels = [node.kernel for estimate in estimates_of(result) for node in estimate.walk()]
    return {kernel.__name__: kernel for kernel in kernels if hasattr(kernel, "__name__")}


def evaluated(written: str, names: dict[str, Any]) -> float:
    """Return what a printed expression gives, units taken away, with nothing but numbers, operators and functions."""
    tree = ast.parse(_UNIT.sub("", written), mode="eval")
    assert all(isinstance(node, _SAFE) for node in ast.walk(tree))
    return float(eval(compile(tree, "printed", "eval"), {"__builtins__": {}}, names))  # noqa: S307  (checked above)


def checked(step: Step, functions: dict[str, Any]) -> None:
    """Check that the printed numbers of a step give its printed result, to the last digit shown."""
    names = {**vars(np), **functions}
    for part in step.parts:
        names[part.left.text] = evaluated(part.right[-1].text, names)
    value = Decimal(repr(evaluated(step.values.text, names)))
    last = Decimal(step.printed)
    assert value.quantize(last) == last
    assert abs(value - last) <= Decimal("0.5").scaleb(int(last.as_tuple().exponent)) + abs(value) * Decimal("1e-14")


@pytest.mark.parametrize("name", NAMES)
def test_evaluating_the_printed_chain_gives_each_result_to_the_last_digit_shown(name: str) -> None:
    explanation = explain(results()[name])
    assert explanation.steps
    for step in explanation.steps:
        checked(step, primitives(results()[name]))


@pytest.mark.parametrize("name", NAMES)
def test_the_printed_units_of_a_step_give_that_of_its_result(name: str) -> None:
    """Every formula but a look-up in a table, and the fit for water, is evaluated with its printed units."""
    functions: dict[str, Any] = {"sqrt": np.sqrt, "exp": np.exp, "log": np.log, "abs": abs, "quantity": quantity}
    for step in explain(results()[name]).steps:
        if "_from_table(" in step.symbols.text or _FITTED in step.symbols.text:
            continue
        for part in step.parts:
            functions[part.left.text] = with_units(part.right[-1].text, functions)
        (equation,) = (one for one in step.page if isinstance(one, Equation) and one.left == step.symbol)
        printed = with_units(equation.right[-1].text, functions)
        assert _REGISTRY.Quantity(with_units(step.values.text, functions)).is_compatible_with(printed), step


def with_units(written: str, names: dict[str, Any]) -> Any:  # noqa: ANN401  (a number, or a quantity)
    """Return what a printed expression gives, with its units."""
    called = _NUMBER_WITH_UNIT.sub(r"quantity(\1, '\2')", written)
    tree = ast.parse(called, mode="eval")
    assert all(isinstance(node, _SAFE) for node in ast.walk(tree))
    return eval(compile(tree, "printed", "eval"), {"__builtins__": {}}, names)  # noqa: S307  (checked above)


def quantity(value: float, unit: str) -> Any:  # noqa: ANN401  (a quantity)
    return value * _REGISTRY(unit.replace("°C", "kelvin"))


@pytest.mark.parametrize("name", NAMES)
def test_a_number_is_printed_alike_where_it_is_found_and_where_it_is_used(name: str) -> None:
    explanation = explain(results()[name])
    printed = {f"(step {step.number})": step.printed for step in explanation.steps}
    for step in explanation.steps:
        for line in lines_of(step):
            for place, number in printed.items():
                if line.endswith(place):
                    assert re.search(rf"(?<![\d.]){re.escape(number)}(?![\d.])", step.values.text)


def lines_of(step: Step) -> Iterator[str]:
    for block in step.page:
        if isinstance(block, Listed):
            yield from (said for _, said in block.lines)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_stated_is_what_the_result_states(name: str) -> None:
    """The last step ends with the result, its u and its degrees of freedom as the result itself shows them."""
    result = results()[name]
    estimate = estimates_of(result)[-1]
    _, _, shown = str(estimate).rpartition("] ")
    shown = shown.removeprefix(f"{estimate.label}: ")
    assert shown.replace("dof =", "degrees of freedom") in re.sub(r"\s+", " ", str(explain(result).steps[-1]))


@pytest.mark.parametrize("name", NAMES)
def test_every_piece_of_latex_can_be_typeset(name: str) -> None:
    for step in explain(results()[name]).steps:
        listed = [symbol for block in step.page if isinstance(block, Listed) for symbol, _ in block.lines if symbol]
        for piece in (step.symbol, step.symbols, step.values, *listed):
            assert isinstance(piece, Mathematics)
            typeset(piece.latex)


@cache
def typeset(piece: str) -> object:
    return MathTextParser("path").parse(f"${piece}$")


@pytest.mark.parametrize("name", NAMES)
def test_every_influence_and_its_source_is_told(name: str) -> None:
    result = results()[name]
    shown = str(explain(result))
    for estimate in estimates_of(result):
        for influence in estimate.influences.values():
            assert influence.label in shown
            assert influence.source in shown


EXPRESSIONS: dict[str, Callable[..., Value]] = {
    "precedence": lambda x, y: x - (y - x * (x + y)) / (x / (y / (x - 2.0))) ** 2,
    "unary minus": lambda x, y: -((-x) ** 2) - (-y) ** 3 + 2 ** (-x),
    "functions": lambda x, y: np.log(x) * np.exp(-y) + np.sqrt(x * x + y * y) - np.arctan2(x, y) * abs(-x),
    "negative powers": lambda x, y: x**-2 / y**-0.5 + 1 / (x * y) ** 2,
    "a mean of many": lambda x, y: np.mean([x, y] * 10),
    "a part used twice": lambda x, y: (x * y + 1.0) ** 2 / (x * y + 1.0 + np.log(x)),
    "one that repeats itself": lambda x, y: -repeated(x, y),
    "one that lies deep": lambda x, y: deep(x) * y,
    "a constant": lambda _x, _y: 3.25,
    "an argument": lambda _x, y: y,
    "a product of constants": lambda x, y: 1e-7 * x * 3e8 * y,
}


def repeated(x: Value, y: Value) -> Value:
    for _ in range(12):
        x = x * 0.5 + y / (1.0 + x)
    return x


def deep(x: Value) -> Value:
    for _ in range(40):
        x = np.sin(x) + 1.0
    return x


@pytest.mark.parametrize("name", EXPRESSIONS)
@given(x=st.floats(0.5, 3.0), y=st.floats(-9.0, 9.0), u=st.sampled_from([1e-7, 1e-3, 0.2]))
def test_a_users_formula_is_written_as_it_is_meant(name: str, x: float, y: float, u: float) -> None:
    assume(abs(y) > 0.1 and abs(x - 2.0) > 0.01)
    if name == "negative powers":
        y = abs(y)
    if name == "one that repeats itself":
        y = abs(y)
    function = EXPRESSIONS[name]
    result = combine(function, measured("x", x, u), measured("y", y, u))
    (step,) = explain(result).steps
    checked(step, {})
    names: dict[str, Any] = {**vars(np), "x_1": x, "x_2": y}
    for part in step.parts:
        names[part.left.text] = evaluated(part.right[0].text, names)
    assert evaluated(step.symbols.text, names) == pytest.approx(result.value, rel=1e-9, abs=1e-9)


@given(titres=st.lists(st.floats(0.010, 0.045), min_size=2, max_size=40), step=st.sampled_from([1e-5, 1e-6, 5e-5]))
def test_means_of_many_replicates_are_printed_to_be_checked(titres: list[float], step: float) -> None:
    read = [round(titre / step) * step for titre in titres]
    replicates = [measured(f"titre {k}", value, 3e-5) for k, value in enumerate(read)]
    mean = mean_of(replicates, scatter_of(read), record="r", name="titre", label="mean") if len(set(read)) > 1 else None
    assume(mean is not None)
    assert mean is not None
    (found,) = explain(mean).steps
    assert f"/ {len(read)} + " in found.symbols.text
    checked(found, {})


def test_a_part_that_is_used_twice_has_a_name() -> None:
    def function(x: Value, y: Value) -> Value:
        root = np.sqrt(x * y)
        return root / (1.0 + root)

    (step,) = explain(combine(function, measured("x", 4.0), measured("y", 9.0))).steps
    assert [(part.left.text, part.right[0].text) for part in step.parts] == [("t_1", "sqrt(x_1 * x_2)")]
    assert step.symbols.text == "t_1 / (1 + t_1)"


def test_a_formula_that_doubles_itself_does_not_double_its_text() -> None:
    def function(x: Value) -> Value:
        for _ in range(60):
            x = x * x - x + 0.5
        return x

    (step,) = explain(combine(function, measured("x", 0.5))).steps
    assert sum(len(part.right[0].text) for part in step.parts) < 10_000


def test_a_like_number_is_told_once() -> None:
    burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    twice = [burette.titre("24.95 mL").volume(), burette.titre("24.95 mL").volume()]
    mean = mean_of(twice, scatter_of([0.02495, 0.02496]), record="r", name="titre", label="mean")
    labels = [step.label for step in explain(mean).steps]
    assert labels.count("titre of 24.95 mL on burette B1") == 1
    assert str(explain(mean).steps[-1]).count("titre of 24.95 mL on burette B1") == 2


def test_symbols_of_one_formula_are_told_apart() -> None:
    for name in NAMES:
        for step in explain(results()[name]).steps:
            symbols = [
                symbol.text for block in step.page if isinstance(block, Listed) for symbol, _ in block.lines if symbol
            ]
            assert len({*symbols, step.symbol.text}) == len(symbols) + 1


def test_users_function_names_its_operands_and_itself() -> None:
    def fading_rate(c: Value, k: Value) -> Value:
        """Return the initial rate.

        More is not told.
        """
        return k * c

    rate = combine(
        fading_rate, measured("hypochlorite", 0.1), measured("rate constant", 2.0), label="rate", unit="mol/s"
    )
    shown = str(explain(rate))
    assert "A formula of your own, fading_rate. Return the initial rate." in shown
    assert "More is not told" not in shown
    assert "y = x_2 * x_1" in shown
    assert "x_1: hypochlorite (input 1)" in shown


def test_formulas_of_the_library_are_not_called_a_users_own() -> None:
    shown = {name: re.sub(r"\s+", " ", str(explain(result))) for name, result in compared().items()}
    assert "Monday minus Tuesday The difference of two results. y = x_1 - x_2" in shown["a comparison"]
    assert "Weighted mean of results" in shown["a mean of what agrees"]
    assert not any("A formula of your own" in page for page in shown.values())
    assert "+ 0 [g/L]" in shown["a mean of what disagrees"]


def test_a_weighed_sample_is_diluted_by_litres_per_gram() -> None:
    shown = str(explain(results()["a weighed sample made up"]))
    # 0.25 L over 111.391 g are 2.2443 mL/g; 500 mL over 25 mL are 20.
    assert shown.count("= 0.002244") == 2
    assert "mass of sample made up in flask F250 (250 mL)" in shown
    assert re.search(r"= 0\.250* \[L\] / 111\.391\d* \[g\]\n += 0\.002244\d* \[L/g\]", shown)
    assert re.search(r"F = F_1 \* F_2\n += 0\.002244\d* \[L/g\] \* 20\.?0* *\n += 0\.04488\d* \[L/g\]", shown)


def test_an_exact_number_is_told_as_given() -> None:
    two = Estimate.exactly(2.0, name="value", label="pair")
    shown = str(explain(combine(lambda x, n, k: x * n * k, measured("x", 1.5), two, 3.0)))
    assert "x_2: pair (exact)" in shown
    assert "x_3: a number as given" in shown


def test_a_reloaded_result_tells_its_linear_form_and_says_so() -> None:
    drum = results()["drum, drum 7"]
    reloaded = pickle.loads(pickle.dumps(drum.estimate))  # noqa: S301  (written in the same line)
    explanation = explain(combine(lambda c: 2.0 * c, reloaded, label="twice", unit="mol/L"))
    shown = re.sub(r"\s+", " ", str(explanation))
    assert "Its formula is not known here" in shown
    assert "a Monte Carlo run samples that" in shown
    assert [step.number for step in explanation.steps] == [2]  # the linear form is step 1
    checked(explanation.steps[0], {})
    largest = max(drum.estimate.influences.values(), key=lambda i: abs(drum.estimate.sensitivities[i.id]) * i.u)
    assert largest.label in shown
    assert largest.source in shown
    alone = explain(reloaded)
    assert alone.steps == ()
    assert "Its formula is not known here" in re.sub(r"\s+", " ", str(alone))


def test_flags_stand_at_the_top_and_at_the_step_that_raised_them() -> None:
    shown = str(explain(results()["drum, drum 7"]))
    assert shown.count("flag titres-set-aside") == 2
    titrant = shown.partition("Step 15: ")[2].partition("Step 16: ")[0]
    assert "flag titres-set-aside" in titrant


def test_a_dose_says_that_its_volumes_are_quantiles() -> None:
    dose = results()["drum, dose 0"]
    shown = re.sub(r"\s+", " ", str(explain(dose)))
    assert "quantiles of the volume that each of many draws needs" in shown
    for volume in dose.volumes:
        assert f"{volume.kind}, " in shown
    assert all(f"flag {flag.code}" in shown for flag in dose.flags)
    assert "quantiles" not in str(explain(dose.volumes[0]))


def test_sources_are_cited_in_full() -> None:
    shown = re.sub(r"\s+", " ", str(explain(results()["drum, drum 7"])))
    assert "Formula: [talbot-1921] Part IV, problem 61: six equivalents for one iodate." in shown
    assert "- [talbot-1921] Talbot HP. An Introductory Course" in shown
    assert "- [ciaaw-2021] Prohaska T" in shown  # cited by an influence


def pages(explanation: Explanation) -> dict[str, str]:
    return {
        "text": str(explanation),
        "markdown": explanation.markdown(),
        "html": explanation._repr_html_(),
        "latex": explanation._repr_latex_(),
    }


@pytest.mark.parametrize("form", ["text", "markdown", "html", "latex"])
def test_every_form_tells_every_step(form: str) -> None:
    explanation = explain(results()["acid, hardware acid"])
    page = pages(explanation)[form]
    for step in explanation.steps:
        assert f"Step {step.number}: " in page
        unit_free = step.printed.partition("e")[0]
        assert unit_free in page


def test_latex_is_balanced_and_escaped() -> None:
    awkward = measured("50 % & {more}_$#", 1.0, source="[x] 5 % ~ of\\it")
    page = explain(combine(lambda x: 2.0 * x, awkward, label="a_b & c")).latex()
    assert page.count(r"\begin{") == page.count(r"\end{") > 0
    assert r"50 \% \& \{more\}\_\$\#" in page
    assert r"a\_b \& c" in page
    assert "\\item [" not in explain(results()["drum, drum 7"]).latex()


def test_html_and_markdown_are_escaped() -> None:
    awkward = measured("<b>|*x*</b>", 1.0, source="a|b")
    explanation = explain(combine(lambda x: 2.0 * x, awkward))
    assert "<b>" not in explanation._repr_html_()
    assert "&lt;b&gt;" in explanation._repr_html_()
    row = next(line for line in explanation.markdown().splitlines() if line.startswith("| 1 |"))
    assert re.split(r"(?<!\\)\|", row)[2].strip() == r"\<b>\|\*x\*\</b>"


def test_one_line_tells_what_it_is() -> None:
    assert repr(explain(combine(lambda x: 2.0 * x, measured("x", 1.0), label="twice"))) == (
        "<Explanation of twice: 1 steps>"
    )


@pytest.mark.parametrize("given_result", [1.5, "drum", None, {"a": 1}])
def test_what_is_no_result_is_refused(given_result: object) -> None:
    with pytest.raises(assay.DataError, match="is not one result") as caught:
        explain(given_result)
    assert "sheet.doses[0]" in caught.value.remedy


def test_a_sheet_is_refused_and_each_of_its_results_is_not() -> None:
    sheet = assay.run_demo("drum")
    with pytest.raises(assay.DataError, match="SheetResult is not one result"):
        explain(sheet)
    strength = next(iter(sheet.strengths.values()))
    assert isinstance(strength, Strength)
    assert explain(strength).title == strength.label
