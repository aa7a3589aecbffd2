"""Pictures are checked by what stands on the axes; figures are made without pyplot, and drawn without a screen."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import io
import json
import math
import subprocess
import sys
from collections.abc import Callable, Sequence
from types import ModuleType
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import StepPatch

import assay

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BURETTE = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="B", read_to="0.05 mL")
BALANCE = assay.Balance("W1", readability="1 mg", repeatability="1 mg", linearity="2 mg")


@pytest.fixture
def ax() -> Axes:
    return Figure(figsize=(8, 4), layout="constrained").subplots()


def drawn(ax: Axes) -> None:
    """Draw the figure to its pixels; with warnings as errors, a missing glyph or a layout that fails is an error."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    figure.savefig(io.BytesIO(), format="png")


def estimate(value: float, u: float, *, unit: str = "g/L", **facts: object) -> assay.Estimate:
    influence = assay.Influence(id=f"test/{value}/{u}/{facts}", label=f"input of {u:g}", value=value, u=u, **facts)
    single = assay.Estimate.from_influence(influence, name="value")
    return assay.combine(lambda x: 1.0 * x, single, label="drum 7", unit=unit)


def sum_of_three() -> assay.Estimate:
    """Return a sum whose contributions are 3, 4 and 12, so that u is 13."""
    inputs = [
        assay.Influence(id=f"test/{u}", label=f"input of {u:g}", value=100.0, u=u, kind=kind)
        for u, kind in ((3.0, "B"), (4.0, "A"), (12.0, "B"))
    ]
    named = [assay.Estimate.from_influence(influence, name="value") for influence in inputs]
    return assay.combine(lambda a, b, c: a + b + c, *named, label="sum of three", unit="g/L")


def bars(ax: Axes) -> list[float]:
    return [bar.get_width() for bar in ax.patches]


def texts(ax: Axes) -> list[str]:
    return [text.get_text() for text in ax.texts]


def y_labels(ax: Axes) -> list[str]:
    return [label.get_text() for label in ax.get_yticklabels()]


def legend_texts(ax: Axes) -> list[str]:
    legend = ax.get_legend()
    assert legend is not None
    return [text.get_text() for text in legend.get_texts()]


class TestBudget:
    def test_bars_are_as_long_as_the_contributions_largest_first(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax)
        assert bars(ax) == [12.0, 4.0, 3.0]
        assert y_labels(ax) == ["input of 12", "input of 4", "input of 3"]
        assert ax.yaxis_inverted()
        drawn(ax)

    def test_shares_of_the_square_stand_at_the_ends(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax)
        # 144, 16 and 9 of 169
        assert texts(ax) == ["85.2 % of u²", "9.5 % of u²", "5.3 % of u²"]
        assert [text.xy for text in ax.texts] == [(12.0, 0), (4.0, 1), (3.0, 2)]

    def test_dashed_line_stands_at_u(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax)
        [line] = ax.lines
        assert line.get_xdata() == pytest.approx([13.0, 13.0])
        assert line.get_linestyle() == "--"
        assert "u = 13 g/L" in legend_texts(ax)
        assert ax.get_xlim()[1] > 13.0

    def test_what_is_beyond_n_is_one_bar_so_that_squares_add_to_u_squared(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax, n=1)
        assert bars(ax) == pytest.approx([12.0, 5.0])
        assert y_labels(ax) == ["input of 12", "2 smaller ones together"]
        assert texts(ax) == ["85.2 % of u²", "14.8 % of u²"]
        assert math.hypot(*bars(ax)) == pytest.approx(13.0)

    def test_a_single_line_beyond_n_keeps_its_name(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax, n=2)
        assert bars(ax) == [12.0, 4.0, 3.0]

    def test_types_are_told_apart_by_hatch_and_lightness(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax)
        assert [bar.get_hatch() for bar in ax.patches] == [None, "///", None]
        assert legend_texts(ax)[:2] == ["type A: from replicates", "type B: known otherwise"]
        b, a, _ = (bar.get_facecolor()[:3] for bar in ax.patches)
        assert abs(lightness(a) - lightness(b)) > 0.25

    def test_quantity_unit_and_title(self, ax: Axes) -> None:
        assay.plot_budget(sum_of_three().budget(), ax)
        assert ax.get_xlabel() == "contribution to u / (g/L)"
        assert ax.get_title(loc="left") == "Budget of sum of three"

    def test_a_pure_number_has_no_unit(self, ax: Axes) -> None:
        assay.plot_budget(estimate(2.0, 0.1, unit="1").budget(), ax)
        assert ax.get_xlabel() == "contribution to u"
        assert legend_texts(ax)[-1] == "u = 0.10"

    def test_dollar_signs_are_no_formulas(self, ax: Axes) -> None:
        """Read as a formula, this one could not be drawn."""
        one = assay.Influence(id="test/dollar", label=r"lot $\nosuchsign$", value=1.0, u=0.1)
        result = assay.Estimate.from_influence(one, name="value")
        assay.plot_budget(result.budget(), ax)
        assert y_labels(ax) == [r"lot $\nosuchsign$"]
        drawn(ax)
        ax.clear()
        assay.plot_distribution(result, ax, trials=1_000)
        drawn(ax)

    def test_no_two_labels_of_the_demo_overlap(self, ax: Axes) -> None:
        [strength] = assay.run_demo("acid").strengths.values()
        assay.plot_budget(strength.in_basis("% w/w HCl").budget(), ax)
        drawn(ax)
        boxes = [label.get_window_extent() for label in ax.get_yticklabels()]
        assert len(boxes) == 7
        assert not [(a, b) for k, a in enumerate(boxes) for b in boxes[k + 1 :] if a.overlaps(b)]

    @pytest.mark.parametrize("n", [0, -1, 1.5])
    def test_n_is_a_whole_number_of_one_or_more(self, ax: Axes, n: float) -> None:
        with pytest.raises(assay.DomainError, match=r"n = .*whole number, 1 or more"):
            assay.plot_budget(sum_of_three().budget(), ax, n=n)

    def test_a_result_is_not_its_budget(self, ax: Axes) -> None:
        with pytest.raises(assay.DataError, match=r"Give result\.budget\(\)"):
            assay.plot_budget(sum_of_three(), ax)

    def test_an_exact_number_has_nothing_to_draw(self, ax: Axes) -> None:
        exact = assay.Estimate.exactly(2.0, name="equivalents", label="two")
        with pytest.raises(assay.DomainError, match="no uncertainty"):
            assay.plot_budget(exact.budget(), ax)


def lightness(color: str | Sequence[float]) -> float:
    """Return the relative luminance of a colour: what is left of it in grey."""
    channels = np.array(to_rgb(tuple(color) if not isinstance(color, str) else color))
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def intervals(ax: Axes) -> dict[str, tuple[float, float]]:
    """Return the ends of the intervals that are drawn, by the first word of their text; lower ones first."""
    spans = [line for line in ax.lines if len(line.get_xdata()) == 2]
    words = [text for text in ax.texts if text.get_text().startswith(("Monte Carlo", "linear"))]
    return {text.get_text().partition(",")[0]: tuple(line.get_xdata()) for line, text in zip(spans, words, strict=True)}


def verticals(ax: Axes) -> list[float]:
    return sorted(
        float(segment[0][0])
        for collection in ax.collections
        if isinstance(collection, LineCollection)
        for segment in collection.get_segments()
    )


class TestDistribution:
    def test_intervals_of_a_rectangular_input(self, ax: Axes) -> None:
        """Of a rectangle from 9 to 11, 95 % lie within 0.95; the linear interval is 1.96/√3 wide on either side."""
        trials = 100_000
        assay.plot_distribution(estimate(10.0, 1.0 / math.sqrt(3.0), shape="rectangular"), ax, trials=trials)
        found = intervals(ax)
        assert found["linear"] == pytest.approx((10.0 - 1.95996 / math.sqrt(3.0), 10.0 + 1.95996 / math.sqrt(3.0)))
        error = 3.0 * math.sqrt(0.025 * 0.975 / trials) * 2.0
        assert found["Monte Carlo"] == pytest.approx((9.05, 10.95), abs=error)
        assert verticals(ax) == pytest.approx(sorted(found["linear"] + found["Monte Carlo"]))
        drawn(ax)

    def test_linear_interval_knows_the_degrees_of_freedom(self, ax: Axes) -> None:
        """JCGM 100:2008, table G.2: t for 95 % is 4.30 with two degrees of freedom."""
        assay.plot_distribution(estimate(10.0, 1.0, dof=2.0), ax, trials=10_000)
        low, high = intervals(ax)["linear"]
        assert f"{10.0 - low:.2f}" == f"{high - 10.0:.2f}" == "4.30"
        assert any("dof 2" in text for text in texts(ax))

    def test_linear_interval_at_another_level(self, ax: Axes) -> None:
        """JCGM 100:2008, table G.2: t for 90 % is 2.92 with two degrees of freedom."""
        assay.plot_distribution(estimate(10.0, 1.0, dof=2.0), ax, level=0.9, trials=10_000)
        low, high = intervals(ax)["linear"]
        assert f"{10.0 - low:.2f}" == f"{high - 10.0:.2f}" == "2.92"
        assert any(text.startswith("linear, 90 %") for text in texts(ax))

    @pytest.mark.parametrize("few_replicates", ["plug-in", "scaled t"])
    def test_monte_carlo_interval_is_that_of_the_result(self, ax: Axes, few_replicates: str) -> None:
        result = estimate(10.0, 1.0, dof=4.0)
        assay.plot_distribution(result, ax, level=0.9, trials=5_000, seed=7, few_replicates=few_replicates)
        run = result.monte_carlo(level=0.9, trials=5_000, seed=7, few_replicates=few_replicates)
        assert intervals(ax)["Monte Carlo"] == (run.interval.low, run.interval.high)
        assert any(text.startswith("Monte Carlo, 90 %") for text in texts(ax))

    def test_area_is_the_share_within_the_frame(self, ax: Axes) -> None:
        assay.plot_distribution(estimate(10.0, 1.0 / math.sqrt(3.0), shape="rectangular"), ax, trials=10_000)
        assert area(ax) == pytest.approx(1.0)
        assert not any("outside" in text for text in texts(ax))

    def test_trials_outside_the_frame_are_told(self, ax: Axes) -> None:
        assay.plot_distribution(estimate(10.0, 1.0, dof=1.0), ax, trials=10_000, few_replicates="scaled t")
        assert 0.9 < area(ax) < 0.999
        [told] = [text for text in texts(ax) if "outside" in text]
        assert float(told.partition(" ")[0]) == pytest.approx(100.0 * (1.0 - area(ax)), rel=0.05)

    def test_the_narrower_interval_stands_lower(self, ax: Axes) -> None:
        assay.plot_distribution(estimate(10.0, 1.0, dof=2.0), ax, trials=10_000)
        heights = {text.get_text().partition(",")[0]: text.xy[1] for text in ax.texts}
        assert heights["Monte Carlo"] < heights["linear"] < ax.get_ylim()[1]

    def test_quantity_unit_and_title(self, ax: Axes) -> None:
        [strength] = assay.run_demo("drum").strengths.values()
        result = strength.in_basis("g/L available chlorine")
        assay.plot_distribution(result, ax, trials=1_000)
        assert ax.get_xlabel() == "mass concentration / (g/L)"
        assert ax.get_ylabel() == "probability density / (g/L)⁻¹"
        assert ax.get_title(loc="left") == result.label
        drawn(ax)

    def test_trials_drawn_elsewhere(self, ax: Axes) -> None:
        """Order statistics of 1, 2, … 1000 (JCGM 101:2008, 7.7.2): 25 and 975."""
        assay.plot_distribution(list(range(1, 1001)), ax, unit="mol", label="delivered")
        assert intervals(ax) == {"Monte Carlo": (25.0, 975.0)}
        assert (ax.get_xlabel(), ax.get_title(loc="left")) == ("value / mol", "delivered")
        assert ax.get_ylabel() == "probability density / mol⁻¹"

    def test_trials_drawn_elsewhere_need_a_unit(self, ax: Axes) -> None:
        with pytest.raises(assay.UnitError, match="unit='g/L'"):
            assay.plot_distribution(list(range(1000)), ax)

    def test_a_result_keeps_its_unit(self, ax: Axes) -> None:
        with pytest.raises(assay.UnitError, match=r"unit = 'mg/L'.*'g/L'"):
            assay.plot_distribution(estimate(10.0, 1.0), ax, unit="mg/L")

    @pytest.mark.parametrize(
        ("values", "problem"),
        [
            ([1.0, 2.0], "2 trials"),
            ([1.0] * 200, "all trials are equal"),
            ([1.0] * 200 + [math.nan], "not finite"),
            ([1.0] * 200 + [math.inf], "not finite"),
        ],
    )
    def test_values_without_a_distribution(self, ax: Axes, values: list[float], problem: str) -> None:
        with pytest.raises(assay.DomainError, match=problem):
            assay.plot_distribution(values, ax, unit="1")

    def test_an_exact_number_has_nothing_to_draw(self, ax: Axes) -> None:
        with pytest.raises(assay.DomainError, match="all trials are equal"):
            assay.plot_distribution(assay.Estimate.exactly(2.0, name="equivalents", label="two"), ax, trials=1_000)

    @pytest.mark.parametrize("level", [0.0, 1.0, 95.0, math.nan])
    def test_level_is_between_0_and_1(self, ax: Axes, level: float) -> None:
        with pytest.raises(assay.DomainError, match="level"):
            assay.plot_distribution(estimate(10.0, 1.0), ax, level=level)


def area(ax: Axes) -> float:
    [steps] = [patch for patch in ax.patches if isinstance(patch, StepPatch)]
    heights, edges, _ = steps.get_data()
    return float(np.sum(heights * np.diff(edges)))


def titres(*finals: str) -> list[assay.Titre]:
    return [BURETTE.titre("0.00 mL", final) for final in finals]


def points(ax: Axes, *, counted: bool) -> list[tuple[float, float, str]]:
    """Return place, height and marker of the titres that count, or of those that do not."""
    return [
        (float(x), float(y), str(line.get_marker()))
        for line in ax.lines
        if str(line.get_marker()) not in {"None", "", "_", "|"} and (line.get_label() != "_not counted") == counted
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    ]


def level_of(ax: Axes, begins: str) -> float:
    [line] = [line for line in ax.lines if str(line.get_label()).startswith(begins)]
    return float(line.get_ydata()[0])


def steps(ax: Axes) -> list[float]:
    return [float(line.get_ydata()[0]) for line in ax.lines if line.get_label() == "_step of reading"]


class TestReplicates:
    def test_points_mean_and_s(self, ax: Axes) -> None:
        """24.95, 25.00 and 24.90 mL: mean 24.95, s = 0.05, by hand."""
        assay.plot_replicates(titres("24.95 mL", "25.00 mL", "24.90 mL"), ax)
        assert points(ax, counted=True) == [
            (1.0, pytest.approx(24.95), "o"),
            (2.0, pytest.approx(25.00), "o"),
            (3.0, pytest.approx(24.90), "o"),
        ]
        assert level_of(ax, "mean of 3: 24.950 mL") == pytest.approx(24.95)
        [band] = ax.patches
        assert (band.get_y(), band.get_height()) == pytest.approx((24.90, 0.10))
        assert any("s = 0.050 mL" in text for text in legend_texts(ax))
        drawn(ax)

    def test_bar_of_a_titre_is_one_step_of_reading(self, ax: Axes) -> None:
        assay.plot_replicates(titres("24.95 mL", "25.00 mL"), ax)
        segments = [
            segment
            for collection in ax.collections
            if isinstance(collection, LineCollection)
            for segment in collection.get_segments()
        ]
        assert [segment[1][1] - segment[0][1] for segment in segments] == pytest.approx([0.05, 0.05])
        assert any("0.05 mL" in text for text in legend_texts(ax))

    def test_lines_stand_at_every_possible_reading(self, ax: Axes) -> None:
        assay.plot_replicates(titres("24.95 mL", "25.00 mL"), ax)
        lines = steps(ax)
        assert np.diff(lines) == pytest.approx(0.05)
        for reading in (24.95, 25.00):
            assert min(abs(line - reading) for line in lines) == pytest.approx(0.0, abs=1e-9)

    def test_a_wall_of_lines_is_not_drawn(self, ax: Axes) -> None:
        assay.plot_replicates(titres("20.00 mL", "25.00 mL"), ax)
        assert steps(ax) == []

    def test_titres_set_aside_are_told_apart(self, ax: Axes) -> None:
        aside = [BURETTE.titre("24.90 mL", rough=True), BURETTE.titre("25.05 mL", void="overshot")]
        assay.plot_replicates([*aside, *titres("24.95 mL", "25.00 mL")], ax)
        assert [place for place, _, _ in points(ax, counted=True)] == [3.0, 4.0]
        assert points(ax, counted=False) == [(1.0, pytest.approx(24.90), "s"), (2.0, pytest.approx(25.05), "X")]
        hollow = [line for line in ax.lines if line.get_label() == "_not counted"]
        assert {str(line.get_markerfacecolor()) for line in hollow} == {"white"}
        told = [label.get_text() for label in ax.get_xticklabels()]
        assert told == ["1\nnot counted\n24.9 mL\nrough", "2\nnot counted\n25.05 mL\nvoid: overshot", "3", "4"]
        assert level_of(ax, "mean of 2") == pytest.approx(24.975)
        drawn(ax)

    def test_a_titre_far_off_points_out_of_the_frame(self, ax: Axes) -> None:
        far = [BURETTE.titre("30 mL", rough=True), BURETTE.titre("20 mL", void="spilt")]
        assay.plot_replicates([*far, *titres("24.95 mL", "25.00 mL")], ax)
        (_, above, up), (_, below, down) = points(ax, counted=False)
        assert (up, down) == ("^", "v")
        assert ax.get_ylim()[0] <= below < 24.95
        assert 25.00 < above < ax.get_ylim()[1] < 26.0

    def test_titres_by_mass(self, ax: Axes) -> None:
        weighed = [BALANCE.titre("82.415 g", "57.466 g"), BALANCE.titre("82.415 g", "57.460 g")]
        assay.plot_replicates(weighed, ax)
        assert [height for _, height, _ in points(ax, counted=True)] == pytest.approx([24.949, 24.955])
        assert ax.get_ylabel() == "mass of titrant / g"
        assert np.diff(steps(ax)) == pytest.approx(0.001)
        drawn(ax)

    def test_quantity_unit_and_title(self, ax: Axes) -> None:
        assay.plot_replicates(titres("24.95 mL", "25.00 mL"), ax, label="thiosulfate against iodate")
        assert (ax.get_ylabel(), ax.get_xlabel()) == ("titre / mL", "titration, in order")
        assert ax.get_title(loc="left") == "thiosulfate against iodate"

    def test_known_s_of_the_method(self, ax: Axes) -> None:
        assay.plot_replicates(titres("24.95 mL"), ax, method_s="0.03 mL")
        assert any("s = 0.030 mL, of the method" in text for text in legend_texts(ax))

    def test_identical_titres_have_no_band_and_still_a_step(self, ax: Axes) -> None:
        assay.plot_replicates(titres("24.95 mL", "24.95 mL", "24.95 mL"), ax)
        assert any("s = 0 mL" in text for text in legend_texts(ax))
        assert len(steps(ax)) > 2
        drawn(ax)

    def test_a_single_titre_needs_a_known_s(self, ax: Axes) -> None:
        with pytest.raises(assay.DomainError, match="single titre"):
            assay.plot_replicates(titres("24.95 mL"), ax)

    def test_none_kept(self, ax: Axes) -> None:
        with pytest.raises(assay.DomainError, match="no replicate"):
            assay.plot_replicates([BURETTE.titre("24.95 mL", rough=True)], ax)

    def test_numbers_are_not_titres(self, ax: Axes) -> None:
        with pytest.raises(assay.DataError, match="not a titre"):
            assay.plot_replicates([24.95, 25.00], ax)


PICTURES: dict[str, Callable[[Axes], None]] = {
    "budget": lambda ax: assay.plot_budget(sum_of_three().budget(), ax),
    "distribution": lambda ax: assay.plot_distribution(estimate(10.0, 1.0), ax, trials=1_000),
    "replicates": lambda ax: assay.plot_replicates(titres("24.95 mL", "25.00 mL"), ax),
}


class Absent(importlib.abc.MetaPathFinder):
    """An import hook for which matplotlib is not installed."""

    def find_spec(
        self, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        del path, target
        if fullname.partition(".")[0] == "matplotlib":
            raise ModuleNotFoundError(f"No module named {fullname!r}", name=fullname)
        return None


@pytest.mark.parametrize("picture", PICTURES.values(), ids=PICTURES)
class TestEveryPicture:
    def test_without_matplotlib_it_says_how_to_install_it(
        self, picture: Callable[[Axes], None], ax: Axes, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for name in [name for name in sys.modules if name.partition(".")[0] == "matplotlib"]:
            monkeypatch.delitem(sys.modules, name)
        monkeypatch.setattr(sys, "meta_path", [Absent(), *sys.meta_path])
        with pytest.raises(assay.MissingDependencyError, match=r"pip install 'assay\[plot\]'"):
            picture(ax)

    def test_other_things_are_not_drawn_on(self, picture: Callable[[Axes], None], ax: Axes) -> None:
        for wrong in (ax.get_figure(root=True), [ax, ax], None):
            with pytest.raises(assay.DataError, match=r"ax = .*subplots"):
                picture(wrong)

    def test_only_the_given_axes_are_touched(self, picture: Callable[[Axes], None]) -> None:
        figure = Figure()
        given, other = figure.subplots(1, 2)
        before, children = dict(mpl.rcParams), len(other.get_children())
        picture(given)
        assert dict(mpl.rcParams) == before
        assert figure.axes == [given, other]
        assert len(other.get_children()) == children
        assert given.has_data()

    def test_every_line_has_a_colour_that_stands_out_from_white(
        self, picture: Callable[[Axes], None], ax: Axes
    ) -> None:
        picture(ax)
        colours = {line.get_color() for line in ax.lines if line.get_label() != "_step of reading"}
        assert colours
        for colour in colours:
            assert isinstance(colour, str)
            assert 1.05 / (lightness(colour) + 0.05) > 3.0  # the contrast of graphical objects against white


def test_pyplot_is_not_loaded_and_matplotlib_only_for_a_picture() -> None:
    code = (
        "import json, sys, assay\n"
        "budget = assay.molar_mass('NaOCl').budget()\n"
        "draw = assay.plot_budget\n"
        "before = 'matplotlib' in sys.modules\n"
        "from matplotlib.figure import Figure\n"
        "draw(budget, Figure().subplots())\n"
        "print(json.dumps([before, 'matplotlib.pyplot' in sys.modules]))\n"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert json.loads(said) == [False, False]


def test_intervals_are_told_apart_without_colour() -> None:
    ax = Figure().subplots()
    assay.plot_distribution(estimate(10.0, 1.0), ax, trials=1_000)
    assert sorted(line.get_linestyle() for line in ax.lines if len(line.get_xdata()) == 2) == ["-", "--"]


# -------------------------------------------------------------------------------------------------------- control chart
DRIFTING = [100.1, 99.8, 100.3, 99.9, 100.0, 100.2, 99.7, 101.9]


def control_of(**options: object) -> tuple[assay.ControlChart, Axes]:
    chart = assay.control_chart(DRIFTING, unit="g/L", label="control $A", **options)  # type: ignore[arg-type]
    ax = Figure().subplots()
    assay.plot_control(chart, ax)
    return chart, ax


def test_a_control_chart_shows_values_limits_and_broken_rules() -> None:
    chart, ax = control_of(target=100.0, standard_deviation=0.3)
    assert [line.get_ydata()[0] for line in ax.lines if line.get_label() == "_lower"] == [chart.limits.lower]
    assert [list(line.get_ydata()) for line in ax.lines if line.get_label() == "_order"] == [DRIFTING]
    legend = [text.get_text() for text in ax.get_legend().get_texts()]
    assert legend == ["central line, 100", "limits, 99.1 to 100.9", "judged by the limits", "1: beyond-limits"]
    assert [(text.get_text(), text.xy) for text in ax.texts] == [("1", (8, 101.9))]
    assert ax.get_ylabel() == "result / (g/L)"
    assert ax.get_title(loc="left") == "control $A"
    ax.figure.savefig(io.BytesIO(), format="png")


def test_interim_limits_are_dashed_and_what_they_judge_is_hollow() -> None:
    _, ax = control_of(baseline=7)
    told = {line.get_label(): line for line in ax.lines}
    interim = next(line for label, line in told.items() if str(label).startswith("interim limits"))
    assert interim.get_linestyle() == "--"
    assert told["judged by the limits"].get_markerfacecolor() == "white"
    assert list(told["judged by the limits"].get_xdata()) == [8]
    assert list(told["set the limits"].get_xdata()) == list(range(1, 8))


def test_every_value_and_limit_is_within_the_frame() -> None:
    chart, ax = control_of(baseline=7)
    low, high = ax.get_ylim()
    assert low < min(*DRIFTING, chart.limits.lower)
    assert high > max(*DRIFTING, chart.limits.upper)


def test_ranges_are_drawn_without_zones() -> None:
    chart, _ = control_of(baseline=7)
    ax = Figure().subplots()
    assert chart.spread is not None
    assay.plot_control(chart.spread, ax)
    assert not [line for line in ax.lines if line.get_label() == "_zone"]
    assert ax.get_ylabel() == "moving range / (g/L)"


def test_only_a_control_chart_is_drawn_as_one() -> None:
    with pytest.raises(assay.DataError, match="control_chart"):
        assay.plot_control(DRIFTING, Figure().subplots())  # type: ignore[arg-type]
