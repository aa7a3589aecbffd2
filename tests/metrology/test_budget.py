"""Budgets add up, and degrees of freedom follow the printed formula."""

from __future__ import annotations

import math

import pytest

from assay.metrology.budget import Budget, BudgetLine
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint


def number(id_: str, value: float, u: float, dof: float = math.inf, **facts: str) -> Estimate:
    influence = Influence(id=id_, label=facts.pop("label", id_), value=value, u=u, dof=dof, **facts)
    return Estimate.from_influence(influence, name="value")


def line_fit(*, dof: float = 3.0) -> tuple[Estimate, Estimate]:
    joint = Joint(
        id="fit",
        label="calibration line",
        member_ids=("fit/slope", "fit/intercept"),
        values=(2.0, 1.0),
        covariance=((0.04, -0.03), (-0.03, 0.09)),
        dof=dof,
    )
    slope, intercept = (Estimate.from_influence(member, name="value") for member in joint.members())
    return slope, intercept


# --------------------------------------------------------------------------------------------------------------- lines
def test_squares_add_up_and_the_largest_comes_first() -> None:
    total = combine(lambda x, y, z: x * y - z, number("x", 3.0, 0.1), number("y", 2.0, 0.3), number("z", 1.0, 0.2))
    budget = total.budget()
    # By hand: |∂/∂x| u = 2·0.1, |∂/∂y| u = 3·0.3, |∂/∂z| u = 0.2.
    assert [line.label for line in budget.lines] == ["y", "x", "z"]
    assert [line.contribution for line in budget.lines] == pytest.approx([0.9, 0.2, 0.2])
    assert [line.sensitivity for line in budget.lines] == pytest.approx([3.0, 2.0, -1.0])
    assert math.fsum(line.contribution**2 for line in budget.lines) == pytest.approx(total.u**2, rel=1e-12)
    assert math.fsum(line.share for line in budget.lines) == pytest.approx(1.0, rel=1e-12)
    assert [line.ids for line in budget.largest(1)] == [("y",)]


def test_a_joint_is_one_line_with_its_covariance() -> None:
    slope, intercept = line_fit()
    x = number("x", 5.0, 0.1)
    result = combine(lambda a, b, x: a * x + b, slope, intercept, x)
    lines = {line.label: line for line in result.budget().lines}
    # By hand: x² var(a) + 2 x cov(a, b) + var(b) = 25·0.04 − 10·0.03 + 0.09 = 0.79; a² u(x)² = 0.04.
    assert lines["calibration line"].contribution == pytest.approx(math.sqrt(0.79), rel=1e-12)
    assert lines["calibration line"].ids == ("fit/slope", "fit/intercept")
    assert math.isnan(lines["calibration line"].sensitivity)
    assert result.u == pytest.approx(math.sqrt(0.83), rel=1e-12)


def test_one_member_alone_is_a_line_with_its_own_sensitivity() -> None:
    slope, _ = line_fit()
    (line,) = combine(lambda a: 3.0 * a, slope).budget().lines
    assert (line.sensitivity, line.value) == (3.0, 2.0)
    assert (line.u, line.contribution) == pytest.approx((0.2, 0.6))


def test_without_uncertainty_no_share_is_made_up() -> None:
    x = number("x", 3.0, 0.1)
    (line,) = combine(lambda a, b: a - b, x, x).budget().lines
    assert (line.contribution, line.share) == (0.0, 0.0)
    assert Estimate.exactly(6.0, name="equivalents", label="z").budget().lines == ()


# --------------------------------------------------------------------------------------------------- degrees of freedom
def test_the_product_of_three_means_of_the_guide() -> None:
    # JCGM 100:2008, G.4.1, EXAMPLE (from memory): relative u 0.25 %, 0.57 %, 0.82 % with 9, 4 and 14 degrees of freedom
    # give 1.03 %, 19.0 degrees of freedom, t = 2.09 and U = 2.2 %.
    product = combine(
        lambda x, y, z: x * y * z,
        number("x1", 1.0, 0.0025, 9.0),
        number("x2", 1.0, 0.0057, 4.0),
        number("x3", 1.0, 0.0082, 14.0),
    )
    assert f"{100.0 * product.relative_u:.2f}" == "1.03"
    assert f"{product.dof:.1f}" == "19.0"
    assert f"{product.coverage_factor(0.95):.2f}" == "2.09"
    assert f"{100.0 * product.expanded(0.95):.1f}" == "2.2"


def test_the_end_gauge_of_the_guide() -> None:
    # JCGM 100:2008, H.1: contributions 25 nm (18), 9.7 nm (25.6), 2.9 nm (50) and 16.6 nm (2) give u = 32 nm and 16.7
    # degrees of freedom, taken as 16 (16.7 from memory). By hand: u² = 625 + 94.09 + 8.41 + 275.56 = 1003.06 nm², and
    # u⁴ over 25⁴/18 + 9.7⁴/25.6 + 2.9⁴/50 + 16.6⁴/2 = 60 015.6 nm⁴.
    contributions = {"standard": (25.0, 18.0), "comparator": (9.7, 25.6), "expansion": (2.9, 50.0), "dt": (16.6, 2.0)}
    gauge = combine(lambda *x: sum(x), *(number(name, 0.0, u, dof) for name, (u, dof) in contributions.items()))
    assert f"{gauge.u:.0f}" == "32"
    assert gauge.dof == pytest.approx(1003.06**2 / 60015.6, rel=1e-5)
    assert math.floor(gauge.dof) == 16


@pytest.mark.parametrize(
    ("parts", "dof"),
    [
        ([(0.1, 4.0)], 4.0),  # one term keeps its own
        ([(0.1, 4.0), (0.1, 4.0)], 8.0),  # equal terms add
        ([(0.1, 5.0), (0.1, math.inf)], 20.0),  # (2 u²)²/(u⁴/5)
        ([(0.1, math.inf), (0.2, math.inf)], math.inf),
        ([(0.3, 2.0), (0.0, 1.0)], 2.0),  # what does not contribute does not count
        ([(3.0, 9.0), (4.0, 16.0)], 25.0),  # (9 + 16)²/(81/9 + 256/16)
    ],
)
def test_welch_satterthwaite_by_hand(parts: list[tuple[float, float]], dof: float) -> None:
    total = combine(lambda *x: sum(x), *(number(f"p{k}", 1.0, u, nu) for k, (u, nu) in enumerate(parts)))
    assert total.dof == pytest.approx(dof, rel=1e-12)


def test_a_joint_is_one_term() -> None:
    slope, intercept = line_fit(dof=3.0)
    assert combine(lambda a, b: a + b, slope, intercept).dof == pytest.approx(3.0, rel=1e-12)
    # Variance of a + b: 0.04 − 0.06 + 0.09 = 0.07. With an equal variance of 7 degrees of freedom beside it:
    # (0.14)²/(0.07²/3 + 0.07²/7) = 4/(1/3 + 1/7) = 8.4.
    other = number("other", 0.0, math.sqrt(0.07), 7.0)
    assert combine(lambda a, b, c: a + b + c, slope, intercept, other).dof == pytest.approx(8.4, rel=1e-12)


def test_expanded_and_interval_by_t() -> None:
    # t for 4 degrees of freedom and 95 %: 2.776 (JCGM 100:2008, Table G.2, prints 2.78).
    mean = number("m", 10.0, 0.5, 4.0)
    assert mean.expanded(0.95) == pytest.approx(0.5 * 2.776445, rel=1e-6)
    low, high, level = mean.interval(0.95)
    assert (low, high, level) == (pytest.approx(10.0 - 1.3882226), pytest.approx(10.0 + 1.3882226), 0.95)
    known = number("k", 10.0, 0.5)
    assert known.expanded(0.95) == pytest.approx(0.5 * 1.959964, rel=1e-6)


# --------------------------------------------------------------------------------------------------------------- shown
HOSTILE = r"<b>50 % & a_b {x} \ $"


def test_shown_as_text_html_and_latex() -> None:
    budget = combine(lambda x: 2.0 * x, number("x", 1.0, 0.05, 4.0, label=HOSTILE), label=HOSTILE, unit="g").budget()
    assert str(budget) == repr(budget)
    assert [cell.strip() for cell in str(budget).splitlines()[2].split("  ") if cell.strip()][1:] == [
        "0.10",
        "100.0 %",
        "4",
    ]
    page = budget._repr_html_()
    assert "<b>" not in page
    assert "&lt;b&gt;50 % &amp; a_b" in page
    source = budget._repr_latex_()
    assert r"50 \% \& a\_b \{x\} \textbackslash{} \$" in source


def test_rows_are_cut_to_the_largest() -> None:
    line = BudgetLine(
        label="x",
        ids=("x",),
        value=1.0,
        u=0.1,
        sensitivity=1.0,
        contribution=0.1,
        share=0.5,
        dof=math.inf,
        shape="normal",
        kind="B",
        source="s",
    )
    budget = Budget(title="t", value=1.0, u=0.14, unit="g", lines=(line,) * 7)
    assert len(budget.largest()) == 5
    *shown, rest = budget.rows(5).body
    assert len(shown) == 5
    assert rest == ("2 smaller ones together", "0.14", "100.0 %", "", "")
    assert budget.rows(6) == budget.rows()
    assert len(budget.rows().body) == 7
    assert budget.rows().body[0] == ("x", "0.10", "50.0 %", "∞", "s")
