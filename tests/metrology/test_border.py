"""The border to `uncertainties`: one variable per influence, so that a user's own arithmetic stays correlated."""

from __future__ import annotations

import math
import threading
from typing import Any

import numpy as np
import pytest
import uncertainties

from assay.errors import DataError, DomainError, UnitError
from assay.metrology.covariance import covariance_matrix
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint


def number(id_: str, value: float, u: float, **facts: Any) -> Estimate:  # noqa: ANN401
    # The variables live as long as the process: ids of this file begin with "border".
    influence = Influence(id=f"border/{id_}", label=id_, value=value, u=u, **facts)
    return Estimate.from_influence(influence, name="titre")


def test_value_and_u_come_through() -> None:
    product = combine(lambda x, y: x * y, number("a", 2.0, 0.03), number("b", 5.0, 0.04))
    assert product.ufloat.nominal_value == 10.0
    assert product.ufloat.std_dev == pytest.approx(math.hypot(0.15, 0.08), rel=1e-12)


def test_own_arithmetic_stays_correlated() -> None:
    titrant = number("titrant", 0.1, 0.001)
    one, two = (combine(lambda c, v: c * v, titrant, number(f"v{k}", v, 0.002 * v)) for k, v in enumerate((25.0, 20.0)))
    assert (titrant.ufloat - titrant.ufloat).std_dev == 0.0
    # The titrant cancels in the ratio: 1.25 · √2 · 0.2 %.
    assert (one.ufloat / two.ufloat).std_dev == pytest.approx(1.25 * math.sqrt(2.0) * 0.002, rel=1e-12)
    again = number("titrant", 0.1, 0.001)
    assert (again.ufloat - titrant.ufloat).std_dev == 0.0


def test_members_of_a_joint_are_correlated() -> None:
    joint = Joint(
        id="border/fit",
        label="fit",
        member_ids=("border/fit/a", "border/fit/b"),
        values=(2.0, 1.0),
        covariance=((0.04, -0.03), (-0.03, 0.09)),
    )
    a, b = (Estimate.from_influence(member, name="value") for member in joint.members())
    assert (3.0 * a.ufloat + b.ufloat).std_dev == pytest.approx(math.sqrt(0.27), rel=1e-9)  # 9·0.04 − 6·0.03 + 0.09
    assert uncertainties.covariance_matrix([a.ufloat, b.ufloat])[0][1] == pytest.approx(-0.03, rel=1e-9)


def test_a_joint_of_full_correlation_comes_through() -> None:
    joint = Joint(
        id="border/same",
        label="same",
        member_ids=("border/same/a", "border/same/b"),
        values=(1.0, 2.0),
        covariance=((0.04, 0.04), (0.04, 0.04)),
    )
    a, b = (Estimate.from_influence(member, name="value") for member in joint.members())
    assert (a.ufloat - b.ufloat).std_dev == pytest.approx(0.0, abs=1e-8)


def test_one_id_with_two_sets_of_facts_is_refused_naming_both() -> None:
    assert number("told", 1.0, 0.1).ufloat.std_dev == pytest.approx(0.1)
    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,") as caught:
        _ = number("told", 1.0, 0.2).ufloat
    assert caught.value.given == "border/told"


def test_a_joint_does_not_replace_what_an_id_stood_for() -> None:
    known = number("taken", 1.0, 0.1)
    before = known.ufloat
    joint = Joint(
        id="border/joint",
        label="joint",
        member_ids=("border/free", "border/taken"),
        values=(1.0, 1.0),
        covariance=((0.04, 0.0), (0.0, 0.04)),
    )
    with pytest.raises(DataError, match="border/taken"):
        _ = Estimate.from_influence(joint.members()[0], name="value").ufloat
    assert (known.ufloat - before).std_dev == 0.0


def test_without_uncertainty_nothing_warns() -> None:
    exact = Estimate.exactly(6.0, name="equivalents", label="z").ufloat
    assert (exact.nominal_value, exact.std_dev) == (6.0, 0.0)
    nothing = number("nothing", 3.0, 0.0).ufloat
    assert (nothing.nominal_value, nothing.std_dev) == (3.0, 0.0)


def test_threads_get_one_variable() -> None:
    made: list[Any] = []
    threads = [threading.Thread(target=lambda: made.append(number("shared", 1.0, 0.1).ufloat)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 8
    assert all((made[0] - other).std_dev == 0.0 for other in made)


def test_a_quantity_has_the_unit_and_the_correlation() -> None:
    titre = number("litre", 0.025, 0.0001)
    assert titre.quantity.m_as("mL").nominal_value == pytest.approx(25.0)
    assert titre.quantity.m_as("mL").std_dev == pytest.approx(0.1)
    assert (titre.quantity - titre.quantity).m.std_dev == 0.0


@pytest.mark.parametrize(("name", "unit"), [("equivalents", ""), ("mass_per_volume_percent", "g/dL")])
def test_a_quantity_of_any_name_of_the_glossary(name: str, unit: str) -> None:
    influence = Influence(id=f"border/{name}", label=name, value=5.0, u=0.1)
    quantity = Estimate.from_influence(influence, name=name).quantity
    assert quantity.m_as(unit or "dimensionless").nominal_value == pytest.approx(5.0)


def test_a_unit_that_is_none_is_refused_when_a_quantity_is_asked_for() -> None:
    result = combine(lambda x: x, number("x", 1.0, 0.1), unit="drops of soup")
    with pytest.raises(UnitError, match="no unit that a quantity can have") as caught:
        _ = result.quantity
    assert caught.value.given == "drops of soup"


# ------------------------------------------------------------------------------------------------------------------ in
def test_a_ufloat_from_elsewhere_keeps_its_correlations() -> None:
    x, y = uncertainties.ufloat(2.0, 0.1, tag="x"), uncertainties.ufloat(3.0, 0.2)
    total, ratio = Estimate.from_ufloat(x + y, label="total"), Estimate.from_ufloat(x / y, label="ratio")
    assert [total.value, total.u] == pytest.approx([5.0, math.hypot(0.1, 0.2)])
    assert total.dof == math.inf
    both = combine(lambda p, q: p * q, total, ratio)
    assert both.value == pytest.approx(10.0 / 3.0)
    assert both.u == pytest.approx(((x + y) * (x / y)).std_dev, rel=1e-12)


def test_correlated_values_come_in_whole() -> None:
    a, b = uncertainties.correlated_values([1.0, 2.0], [[0.04, -0.03], [-0.03, 0.09]])
    one, two = Estimate.from_ufloat(a, label="a"), Estimate.from_ufloat(b, label="b")
    assert covariance_matrix(one, two) == pytest.approx(np.array([[0.04, -0.03], [-0.03, 0.09]]), rel=1e-9)


def test_out_and_in_again_is_the_same_influence() -> None:
    titrant, volume = number("back titrant", 0.1, 0.001), number("back volume", 25.0, 0.03)
    there = titrant.ufloat * volume.ufloat / 20.0
    back = Estimate.from_ufloat(there, label="back", unit="mol/L")
    assert back.influences == {**titrant.influences, **volume.influences}
    here = combine(lambda c, v: c * v / 20.0, titrant, volume)
    assert combine(lambda p, q: p - q, here, back).u == pytest.approx(0.0, abs=1e-15)


def test_members_of_a_joint_come_back_as_the_joint() -> None:
    joint = Joint(
        id="border/in",
        label="fit",
        member_ids=("border/in/a", "border/in/b", "border/in/c"),
        values=(2.0, 1.0, 3.0),
        covariance=((0.04, -0.03, 0.01), (-0.03, 0.09, 0.0), (0.01, 0.0, 0.01)),
        dof=4.0,
    )
    a, b, c = (Estimate.from_influence(member, name="value") for member in joint.members())
    back = Estimate.from_ufloat(a.ufloat * b.ufloat + c.ufloat, label="back")
    here = combine(lambda x, y, z: x * y + z, a, b, c)
    assert [back.u, back.dof] == pytest.approx([here.u, 4.0], rel=1e-9)
    assert combine(lambda p, q: p - q, here, back).u == pytest.approx(0.0, abs=1e-9)


def test_combine_takes_ufloats_with_their_correlations() -> None:
    x, y = uncertainties.ufloat(2.0, 0.1, tag="length"), uncertainties.ufloat(3.0, 0.2)
    titrant = number("mixed", 0.1, 0.001, dof=4.0)
    result = combine(lambda p, q, c, n: p * q * c / n, x + y, x - y, titrant, 5.0)
    own = (x + y) * (x - y) * titrant.ufloat / 5.0
    assert result.value == pytest.approx(own.nominal_value, rel=1e-14)
    assert result.u == pytest.approx(own.std_dev, rel=1e-12)
    # (x² − y²) c / 5: the terms are 2 x c u(x) / 5, 2 y c u(y) / 5 and (x² − y²) u(c) / 5.
    terms = {"length": 0.008, "a ufloat without a tag": 0.024, "mixed": 0.001}
    lines = {line.label: line.contribution for line in result.budget().lines}
    assert lines == pytest.approx(terms, rel=1e-12)
    assert result.dof == pytest.approx(sum(term**2 for term in terms.values()) ** 2 / (0.001**4 / 4.0), rel=1e-9)
    assert combine(lambda p, q: p - q, x, x).u == 0.0
    assert combine(lambda p, q: p - q, titrant.ufloat, titrant).u == 0.0


def test_ufloats_are_sampled_as_the_normals_that_they_are() -> None:
    x = uncertainties.ufloat(2.0, 0.1)
    run = combine(lambda p, q: p * q, x, x).monte_carlo(trials=400_000)
    # The square of a normal: mean x² + u², variance 4 x² u² + 2 u⁴; within five standard errors of 400 000 trials.
    assert run.value == pytest.approx(4.01, abs=5.0 * 0.4 / math.sqrt(400_000))
    assert run.u == pytest.approx(math.sqrt(0.16 + 0.0002), rel=5.0 / math.sqrt(800_000))


def test_one_ufloat_may_be_asked_by_many_threads_at_once() -> None:
    """What was given out is worked out: `uncertainties` itself does that when a deviation is first asked for."""
    inputs = [number(f"asked/{k}", 1.0, 0.1) for k in range(300)]
    total = combine(lambda *x: sum(x), *inputs)
    for _ in range(20):
        given = total.ufloat
        assert given._linear_part.expanded()
        start = threading.Barrier(4)
        found: list[float] = []

        def ask(given: Any = given, start: threading.Barrier = start, found: list[float] = found) -> None:  # noqa: ANN401
            start.wait()
            found.append(given.std_dev)

        threads = [threading.Thread(target=ask) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert found == pytest.approx([0.1 * math.sqrt(300.0)] * 4, rel=1e-12)


def test_a_changed_ufloat_is_refused() -> None:
    x = uncertainties.ufloat(2.0, 0.1, tag="changed")
    Estimate.from_ufloat(x, label="x")
    x.std_dev = 0.2
    with pytest.raises(DataError, match=r"0\.2, and was 0\.1"):
        Estimate.from_ufloat(x, label="x")


@pytest.mark.parametrize(("wrong", "words"), [(2.0, "not a number of the uncertainties"), ("2.0+/-0.1", "ufloat")])
def test_what_is_no_ufloat_is_refused(wrong: object, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        Estimate.from_ufloat(wrong, label="x")
