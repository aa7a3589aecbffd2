"""Formulas over rows, against the same formulas one by one, and against what was worked out by hand."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assay import DataError, DomainError, Estimate, EstimateBatch, Influence, Joint, combine, combine_batch
from assay.kernels.titration import titrant_concentration_from_standard
from assay.kernels.volume import scale_error_from_knots
from assay.metrology import batch_terms
from assay.metrology.batch import evaluate_batch
from assay.metrology.batch_terms import RowMember
from assay.metrology.covariance import correlation
from assay.metrology.estimate import Kernel
from assay.metrology.evaluation import evaluate

REL = 1e-12


def shared(id_: str, value: float = 2.0, u: float = 0.1, dof: float = math.inf) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, dof=dof), name="value")


def column(*values: float, u: object = 0.1, dof: object = math.inf, record: str | None = None) -> EstimateBatch:
    return EstimateBatch.one_per_row(np.array(values), u, dof=dof, label="column", record=record)


def same_as_single(batch: EstimateBatch, singles: list[Estimate]) -> None:
    assert batch.value.tolist() == pytest.approx([single.value for single in singles], rel=REL)
    assert batch.u.tolist() == pytest.approx([single.u for single in singles], rel=REL, abs=1e-300)
    assert batch.dof.tolist() == pytest.approx([single.dof for single in singles], rel=REL)


# ------------------------------------------------------------------------------------------------ value, u and dof
def test_a_product_against_the_formula_of_the_guide() -> None:
    """u(xy)² = y²u(x)² + x²u(y)²; the degrees of freedom by Welch-Satterthwaite, written out."""
    x, y, u_x, u_y = np.array([2.0, 3.0, 5.0]), 4.0, np.array([0.1, 0.2, 0.3]), 0.2
    nu_x, nu_y = np.array([2.0, 4.0, 8.0]), 5.0
    found = combine_batch(lambda a, b: a * b, column(*x, u=u_x, dof=nu_x), shared("y", y, u_y, nu_y), unit="mL")
    parts = (y * u_x) ** 2, (x * u_y) ** 2
    variance = parts[0] + parts[1]
    assert found.value.tolist() == (x * y).tolist()
    np.testing.assert_allclose(found.u, np.sqrt(variance), rtol=REL)
    np.testing.assert_allclose(found.dof, variance**2 / (parts[0] ** 2 / nu_x + parts[1] ** 2 / nu_y), rtol=REL)
    assert (found.unit, found.name) == ("mL", "value")


FUNCTIONS: dict[str, Kernel] = {
    "ratio": lambda a, b, c: a / b + c,
    "logarithm": lambda a, b, c: np.log(a * b) - c**2,
    "root": lambda a, b, c: np.sqrt(a) * (b - c),
    "without one": lambda a, b, c: a * c + 0.0 * b,
    "constant beside": lambda a, b, c: 3.0 * a - 2.0 + b * c,
}
positive = st.floats(0.5, 5.0)
dofs = st.sampled_from([1.0, 2.0, 7.5, math.inf])


@pytest.mark.parametrize("name", FUNCTIONS)
@given(data=st.data())
def test_each_row_is_what_one_by_one_gives(name: str, data: st.DataObject) -> None:
    """A column, a shared result and a result made of both, so that influences meet on several ways."""
    n = data.draw(st.integers(1, 6))
    values = data.draw(st.lists(positive, min_size=n, max_size=n))
    us = data.draw(st.lists(st.floats(0.0, 0.3), min_size=n, max_size=n))
    nus = data.draw(st.lists(dofs, min_size=n, max_size=n))
    b = combine(
        lambda x, y: x / y,
        shared("first", data.draw(positive), 0.1, data.draw(dofs)),
        shared("second", data.draw(positive), 0.2, data.draw(dofs)),
    )
    a = column(*values, u=np.array(us), dof=np.array(nus), record="a")
    c = combine_batch(lambda x, y: x + 2.0 * y, a, b)
    batch = combine_batch(FUNCTIONS[name], a, b, c)
    singles = []
    for k in range(n):
        one = Estimate.from_influence(
            Influence(id=f"rows/a/{k + 1}", label="", value=values[k], u=us[k], dof=nus[k]), name="value"
        )
        singles.append(combine(FUNCTIONS[name], one, b, combine(lambda x, y: x + 2.0 * y, one, b)))
    # Here u is below a thousandth only where contributions cancel, and their rounding is then all that can differ.
    assume(all(single.u > 1e-3 for single in singles))
    same_as_single(batch, singles)
    same_as_single(batch, [batch[k] for k in range(n)])
    assert [batch[k].influences.keys() for k in range(n)] == [single.influences.keys() for single in singles]


@given(values=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5), slope=st.floats(-2.0, 2.0))
def test_a_joint_whose_members_differ_from_row_to_row(values: list[float], slope: float) -> None:
    """A scale read between two of four knots in each row, and by a shared result as well: one term, with 3 dof."""
    knots = np.arange(4)
    covariance = 0.01 * np.exp(-(np.subtract.outer(knots, knots) ** 2) / 4.0)
    joint = Joint(
        id="scale", label="scale", member_ids=tuple(f"scale/{k}" for k in knots), values=(0.0,) * 4,
        covariance=tuple(map(tuple, covariance)), dof=3.0,
    )  # fmt: skip
    members = [Estimate.from_influence(member, name="lower_knot_error") for member in joint.members()]
    fixed = combine(lambda a, b: a + slope * b, members[1], members[3])
    place = 3.0 * np.array(values)
    lower = np.minimum(np.floor(place), 2.0).astype(np.int64)
    weight = place - lower
    error = evaluate_batch(
        scale_error_from_knots,
        name="final_scale_error",
        label="error",
        lower_knot_error=RowMember(id="lower", joint=joint, places=lower),
        upper_knot_error=RowMember(id="upper", joint=joint, places=lower + 1),
        upper_knot_weight=weight,
    )
    batch = combine_batch(lambda x, y: x - y + 5.0, error, fixed)
    for k, (below, share) in enumerate(zip(lower, weight, strict=True)):
        weights = np.zeros(4)
        weights[below] += 1.0 - share
        weights[below + 1] += share
        weights -= [0.0, 1.0, 0.0, slope]
        variance = weights @ covariance @ weights
        assert batch.u[k] ** 2 == pytest.approx(variance, rel=1e-9, abs=1e-15)
        if variance > 1e-12:  # where all cancels, nothing is left that could have degrees of freedom
            assert batch.dof[k] == pytest.approx(3.0)


def test_what_cancels_leaves_no_rubbish() -> None:
    """A large shared influence that drops out: what is left keeps its digits."""
    large, small = shared("large", 1.0, 1e3), column(1.0, 2.0, u=1e-6)
    sum_ = combine_batch(lambda a, b: a + b, large, small)
    assert combine_batch(lambda a, b: a - b, sum_, large).u.tolist() == pytest.approx([1e-6, 1e-6], rel=1e-6)


@pytest.mark.parametrize("block", [1, 2, 3, 5])
def test_blocks_change_nothing(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows are worked on in blocks that stay in cache; how long these are shows in no number."""

    def worked_out() -> EstimateBatch:
        a = column(1.0, 2.0, math.nan, 4.0, 5.0, u=np.arange(5.0), dof=np.arange(1.0, 6.0), record="a")
        c = combine_batch(lambda x, y: x * y, a, shared("y"))
        return combine_batch(lambda x, y: x / y, a, c)

    def numbers(batch: EstimateBatch) -> list[np.ndarray]:
        return [batch.value, batch.u, batch.dof]

    whole = numbers(worked_out())
    monkeypatch.setattr(batch_terms, "BLOCK", block)
    batch = worked_out()
    for part, all_at_once in zip(numbers(batch), whole, strict=True):
        np.testing.assert_array_equal(part, all_at_once)
    assert batch.code.tolist() == ["", "", "no-value", "", ""]


# --------------------------------------------------------------------------------------------------- what is shared
def test_rows_are_correlated_by_what_they_share() -> None:
    """Cov = 1·1·u_y², so r = u_y² / (u_x² + u_y²)."""
    batch = combine_batch(lambda x, y: x + y, column(1.0, 2.0, u=0.3), shared("y", u=0.4))
    assert batch.correlation(0, 1) == pytest.approx(0.16 / 0.25, rel=REL)
    assert batch.correlation(1, 1) == pytest.approx(1.0)
    assert correlation(batch[0], shared("y", u=0.4)) == pytest.approx(0.4 / 0.5, rel=REL)


def test_a_row_taken_out_is_still_that_row() -> None:
    """Divided by the first row, the first has no uncertainty left; the others have the whole."""
    x = column(2.0, 4.0, 8.0, u=0.1)
    ratio = combine_batch(lambda a, b: a / b, x, x[0])
    assert ratio.value.tolist() == [1.0, 2.0, 4.0]
    expected = [0.0, *(math.hypot(0.1 / 2.0, v * 0.1 / 4.0) for v in (4.0, 8.0))]
    assert ratio.u.tolist() == pytest.approx(expected, rel=REL)


def test_one_record_is_one_column_and_two_are_two() -> None:
    a, again, other = (column(1.0, 2.0, record=name) for name in ("a", "a", "b"))
    assert combine_batch(lambda x, y: x - y, a, again).u.tolist() == [0.0, 0.0]
    assert combine_batch(lambda x, y: x - y, a, other).u.tolist() == pytest.approx([math.sqrt(0.02)] * 2)
    unnamed = column(1.0, 2.0), column(1.0, 2.0)
    assert combine_batch(lambda x, y: x - y, *unnamed).u.tolist() == pytest.approx([math.sqrt(0.02)] * 2)


def test_one_record_with_other_numbers_is_refused() -> None:
    a, changed = column(1.0, 2.0, record="a"), column(1.0, 2.5, record="a")
    with pytest.raises(DataError, match="two different columns") as caught:
        combine_batch(lambda x, y: x - y, a, changed).u  # noqa: B018  (asking for it is the test)
    assert caught.value.given == "rows/a"


# ---------------------------------------------------------------------------------------------------------- bad rows
def test_a_bad_row_has_no_number_and_the_others_survive() -> None:
    net = combine_batch(lambda x: x, column(0.025, 0.0, math.nan, 0.030))
    batch = evaluate_batch(
        titrant_concentration_from_standard, name="titrant_concentration", label="t",
        standard_amount=shared("n", 4e-4, 1e-7), equivalents=6.0, titre=net, blank=0.0,
    )  # fmt: skip
    assert batch.code.tolist() == ["", "no-value", "no-value", ""]
    assert batch.mask.tolist() == [False, True, True, False]
    for numbers in (batch.value, batch.u, batch.dof, batch.expanded(), *batch.interval()):
        assert np.isnan(numbers).tolist() == batch.mask.tolist()
    assert batch.value[[0, 3]].tolist() == pytest.approx([6.0 * 4e-4 / 0.025, 6.0 * 4e-4 / 0.030])
    with pytest.raises(DataError, match="no-value"):
        batch[1]
    assert batch[-1].value == batch.value[3]


def test_a_row_out_of_range_has_a_code_and_a_shared_one_is_refused() -> None:
    amounts = column(4e-4, -4e-4, u=1e-7)
    options = {"name": "titrant_concentration", "label": "t", "equivalents": 6.0, "blank": 0.0}
    batch = evaluate_batch(titrant_concentration_from_standard, standard_amount=amounts, titre=0.025, **options)
    assert batch.code.tolist() == ["", "out-of-range"]
    with pytest.raises(DomainError, match="outside the range"):
        evaluate_batch(titrant_concentration_from_standard, standard_amount=amounts, titre=-0.025, **options)
    with pytest.raises(DomainError, match="zero"):
        evaluate_batch(
            titrant_concentration_from_standard, standard_amount=0.1, titre=0.0, **options | {"equivalents": amounts}
        )


def test_where_the_first_row_divides_by_zero_the_others_survive() -> None:
    found = combine_batch(lambda x: 1.0 / (x - 2.0), column(2.0, 4.0))
    assert found.code.tolist() == ["no-value", ""]
    assert found.value[1] == pytest.approx(0.5, rel=REL)
    assert found.u[1] == pytest.approx(0.1 / 4.0, rel=REL)


@pytest.mark.parametrize(
    "function", [lambda x: 2.0 * math.exp(x), lambda x: max(x, 1.0), lambda x: x.sum(), np.cumsum]
)  # fmt: skip
def test_what_cannot_be_recorded_is_refused_as_for_a_single_result(function: Kernel) -> None:
    with pytest.raises(DomainError) as single:
        combine(function, shared("a"))
    with pytest.raises(DomainError) as batch:
        combine_batch(function, column(2.0, 3.0))
    assert str(batch.value) == str(single.value)


def test_a_list_of_results_is_added_up_row_by_row() -> None:
    found = combine_batch(lambda x, y: np.mean([x, y]), column(2.0, 4.0, u=0.3), column(4.0, 8.0, u=0.4))
    assert found.value.tolist() == [3.0, 6.0]
    assert found.u.tolist() == pytest.approx([0.25, 0.25], rel=REL)


def test_a_slope_that_is_not_finite_has_a_code() -> None:
    batch = combine_batch(np.sqrt, column(4.0, 0.0))
    assert batch.code.tolist() == ["", "no-value"]


def test_the_first_code_of_a_row_stays_and_both_operands_count() -> None:
    a, b = column(1.0, math.nan, 3.0, 4.0), column(1.0, 2.0, math.nan, 0.0)
    batch = combine_batch(lambda x, y: x / y, a.without(np.array([True, False, False, False]), "first"), b)
    assert batch.code.tolist() == ["first", "no-value", "no-value", "no-value"]
    assert np.isnan(batch.value).all()
    assert "1 first" in repr(batch)
    assert "3 no-value" in repr(batch)


# ---------------------------------------------------------------------------------------------- in and out, refusals
def test_records_and_text() -> None:
    batch = combine_batch(lambda x: x, column(1.0, math.nan, u=0.25), unit="g", label="masses")
    first, second = batch.records()
    assert first == {"row": 0, "value": 1.0, "u": 0.25, "dof": math.inf, "unit": "g", "code": ""}
    assert second["code"] == "no-value"
    assert math.isnan(second["value"])
    assert str(batch).splitlines()[0] == "masses"
    assert "no-value" in batch._repr_html_()


def test_nothing_in_it_can_be_changed() -> None:
    values = np.array([1.0, 2.0])
    batch = EstimateBatch.one_per_row(values, 0.1, label="a")
    values[0] = 7.0
    assert batch.value[0] == 1.0
    for array in (batch.value, batch.u, batch.dof, batch.mask):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


def test_expanded_is_that_of_each_row() -> None:
    """Quantiles of t at 0.975, from table G.2 of the guide: 12.71, 4.30 and 1.96."""
    batch = column(1.0, 2.0, 3.0, u=1.0, dof=np.array([1.0, 2.0, math.inf]))
    assert batch.expanded(0.95).round(2).tolist() == [12.71, 4.30, 1.96]
    assert batch.expanded(k=2.0).tolist() == [2.0, 2.0, 2.0]
    low, high = batch.interval(0.95)
    assert (high - low).round(2).tolist() == [25.41, 8.61, 3.92]


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: combine_batch(lambda x, y: x * y, column(1.0), column(1.0, 2.0)), ["1 and 2 rows"]),
        (lambda: combine_batch(lambda x: x, shared("a")), ["nothing here has rows", "combine()"]),
        (lambda: combine_batch(lambda x: x, "1.0"), ["str is neither"]),
        (lambda: combine_batch(lambda x: x, column(1.0), np.ones((2, 2))), ["ndarray is neither"]),
        (lambda: combine_batch(math.exp, column(1.0, 2.0)), ["math module", "exp"]),
        (lambda: combine_batch(lambda x: x if x > 0 else -x, column(1.0, 2.0)), ["branch"]),
        (lambda: combine_batch(lambda x: x > 1.0, column(1.0, 2.0)), ["branch"]),
        (lambda: combine_batch(lambda _x: np.ones(3), column(1.0, 2.0)), ["shape (3,)", "shape (2,)"]),
        (lambda: column(1.0, 2.0, u=-0.1), ["u", "0 or more"]),
        (lambda: column(1.0, 2.0, u=np.ones(3)), ["(3,)", "(2,)"]),
        (lambda: column(1.0, 2.0, dof=0.5), ["dof", "1 or more"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(call: object, says: list[str]) -> None:
    with pytest.raises(DomainError) as caught:
        call()
    for words in says:
        assert words in str(caught.value)


def test_one_row_at_a_time() -> None:
    batch = column(1.0, 2.0)
    with pytest.raises(TypeError):
        batch[0:2]
    with pytest.raises(IndexError):
        batch[2]


def test_a_constant_result_has_no_uncertainty() -> None:
    batch = combine_batch(lambda x: 0.0 * x + 2.0, column(1.0, 2.0))
    assert (batch.value.tolist(), batch.u.tolist(), batch.dof.tolist()) == ([2.0] * 2, [0.0] * 2, [math.inf] * 2)
    assert combine_batch(lambda _x: 2.0, column(1.0, 2.0)).value.tolist() == [2.0, 2.0]


def test_memory_grows_as_the_rows() -> None:
    def peak(rows: int) -> int:
        tracemalloc.start()
        a = column(*np.linspace(1.0, 2.0, rows), record="a")
        b = combine_batch(lambda x, y: x * y, a, shared("y"))
        combine_batch(lambda x, y: x / (y + x), a, b).u  # noqa: B018  (asking for it does the work)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    peak(1_000)  # what is imported and cached at the first call
    few, many = peak(100_000), peak(200_000)
    assert many < 2.1 * few


def test_one_by_one_evaluates_by_the_same_kernel() -> None:
    batch = evaluate_batch(np.square, column(1.0, 3.0, record="a"), name="value", label="square")
    single = evaluate(np.square, column(1.0, 3.0, record="a")[1], name="value", label="square")
    assert (single.value, single.u) == (batch.value[1], batch.u[1])
    assert batch.u.tolist() == pytest.approx([2.0 * 1.0 * 0.1, 2.0 * 3.0 * 0.1])
    assert batch[1].label == "square, row 2"
