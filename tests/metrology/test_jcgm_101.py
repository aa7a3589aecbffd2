"""The examples of JCGM 101:2008, clause 9, against what it prints and against exact results.

A printed Monte Carlo result has an error of its own: half a unit of its last digit, and what its run left undetermined.
A run of the same size tells that error, so three standard errors of the difference of two such runs are granted.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import pytest
from scipy import optimize, stats

from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

MANY = 1_000_000
OF_A_DIFFERENCE = 3.0 * math.sqrt(2.0)


def number(id_: str, value: float, u: float, shape: str = "normal") -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, shape=shape), name="value")


def total(*us: float, shape: str) -> Estimate:
    return combine(lambda *x: sum(x), *(number(f"X{k}", 0.0, u, shape) for k, u in enumerate(us, start=1)))


def of_rectangular(half_widths: Sequence[float]) -> Callable[[float], float]:
    """Return the distribution function of a sum of rectangular numbers about zero, by inclusion and exclusion."""
    n = len(half_widths)
    scale = math.factorial(n) * math.prod(2.0 * a for a in half_widths)
    corners = [
        (math.prod(signs), sum(s * a for s, a in zip(signs, half_widths, strict=True)))
        for signs in itertools.product((1.0, -1.0), repeat=n)
    ]
    return lambda x: sum(sign * max(x + shift, 0.0) ** n for sign, shift in corners) / scale


# -------------------------------------------------------------------------------------------------------- 9.2 additive
@pytest.mark.parametrize(
    ("us", "shape", "printed", "digits"),
    [
        # As printed in Tables 2, 3 and 4: u and the 95 % interval, which is symmetric about zero.
        ((1.0,) * 4, "normal", (2.0, 3.92), 2),
        ((1.0,) * 4, "rectangular", (2.0, 3.88), 2),
        ((1.0, 1.0, 1.0, 10.0), "rectangular", (10.1, 17.0), 1),
    ],
    ids=["9.2.2", "9.2.3", "9.2.4"],
)
def test_additive_model_as_printed(us: Sequence[float], shape: str, printed: tuple[float, float], digits: int) -> None:
    run = total(*us, shape=shape).monte_carlo(trials=MANY)
    u, end = printed
    assert run.u == pytest.approx(u, abs=0.05 + 3.0 * run.u_error)
    half_a_unit = 0.5 * 10.0**-digits
    assert run.interval.low == pytest.approx(-end, abs=half_a_unit + 3.0 * run.interval_error[0])
    assert run.interval.high == pytest.approx(end, abs=half_a_unit + 3.0 * run.interval_error[1])


@pytest.mark.parametrize("us", [(1.0,) * 4, (1.0, 1.0, 1.0, 10.0)], ids=["9.2.3", "9.2.4"])
@pytest.mark.parametrize("level", [0.5, 0.95, 0.99])
def test_sum_of_rectangular_numbers_has_the_exact_quantiles(us: Sequence[float], level: float) -> None:
    distribution = of_rectangular([math.sqrt(3.0) * u for u in us])
    exact = optimize.brentq(lambda x: distribution(x) - 0.5 * (1.0 + level), 0.0, 30.0, xtol=1e-12)
    if us == (1.0,) * 4 and level == 0.95:
        assert exact == pytest.approx(2.0 * math.sqrt(3.0) * (2.0 - 0.6**0.25), rel=1e-9)  # its closed form
    run = total(*us, shape="rectangular").monte_carlo(trials=MANY, level=level)
    assert run.interval.low == pytest.approx(-exact, abs=3.0 * run.interval_error[0])
    assert run.interval.high == pytest.approx(exact, abs=3.0 * run.interval_error[1])
    # Symmetric and unimodal: the shortest interval is the same one, though its place is less well determined.
    assert run.shortest.low == pytest.approx(-exact, abs=3.0 * run.shortest_error[0])
    assert run.u == pytest.approx(math.hypot(*us), abs=3.0 * run.u_error)


def test_additive_models_are_validated_where_their_ends_agree() -> None:
    # 9.2.2 is exact. In 9.2.3 the ends lie 3.9199 − 3.8794 = 0.0405 apart, within the 0.05 of two digits of 2.0 and
    # beyond the 0.005 of three. In 9.2.4 they lie 19.89 − 17.02 = 2.9 apart, beyond the 0.5 of two digits of 10.
    assert total(1.0, 1.0, 1.0, 1.0, shape="normal").validate().validated
    found = total(1.0, 1.0, 1.0, 1.0, shape="rectangular").validate()
    assert (found.validated, found.tolerance) == (True, 0.05)
    assert found.differences == pytest.approx([0.0405] * 2, abs=0.0001 + 3.0 * max(found.monte_carlo.interval_error))
    assert not total(1.0, 1.0, 1.0, 1.0, shape="rectangular").validate(digits=3, trials=500_000).validated
    found = total(1.0, 1.0, 1.0, 10.0, shape="rectangular").validate()
    assert [flag.code for flag in found.flags] == ["linear-not-validated"]
    assert found.tolerance == 0.5


# ------------------------------------------------------------------------------------------------ 9.3 mass calibration
def mass_calibration() -> Estimate:
    """Return the deviation of a weight from its nominal 100 g, mg."""
    inputs = (
        number("m_Rc", 100_000.0, 0.050),
        number("δm_Rc", 1.234, 0.020),
        Estimate.from_influence(Influence.between("air", label="air", low=1.10, high=1.30), name="value"),
        Estimate.from_influence(Influence.between("W", label="W", low=7_000.0, high=9_000.0), name="value"),
        Estimate.from_influence(Influence.between("R", label="R", low=7_950.0, high=8_050.0), name="value"),
    )
    return combine(
        lambda m, dm, air, w, r: (m + dm) * (1.0 + (air - 1.2) * (1.0 / w - 1.0 / r)) - 100_000.0,
        *inputs,
        label="deviation of the weight",
        unit="mg",
    )


def test_mass_calibration_linear_as_printed() -> None:
    deviation = mass_calibration()
    # Table 6, first-order framework: 1.2340, 0.0539; [1.1285, 1.3395] from memory.
    assert deviation.value == pytest.approx(1.2340, abs=0.00005)
    assert deviation.u == pytest.approx(0.0539, abs=0.00005)
    assert tuple(deviation.interval())[:2] == pytest.approx((1.1285, 1.3395), abs=0.00005)


def test_mass_calibration_by_monte_carlo_as_printed() -> None:
    # Table 6 (from memory): 1.2341, 0.0754, shortest 95 % interval [1.0834, 1.3825], from 0.72 million trials.
    run = mass_calibration().monte_carlo(trials=720_000)
    for found, printed, error in (
        (run.value, 1.2341, run.value_error),
        (run.u, 0.0754, run.u_error),
        (run.shortest.low, 1.0834, run.shortest_error[0]),
        (run.shortest.high, 1.3825, run.shortest_error[1]),
    ):
        assert found == pytest.approx(printed, abs=0.00005 + OF_A_DIFFERENCE * error)
    assert "linear-differs" in [flag.code for flag in run.flags]


def test_mass_calibration_has_the_exact_standard_deviation() -> None:
    # The model is a sum and product of independent inputs, so its variance is u²(M) + E[M²] E[A²] E[B²], with M the
    # mass, A the air density less 1.2, and B the difference of reciprocals of two rectangular numbers.
    def mean_of(low: float, high: float, power: int) -> float:
        return math.log(high / low) / (high - low) if power == 1 else 1.0 / (low * high)

    w, r = (7_000.0, 9_000.0), (7_950.0, 8_050.0)
    of_b = mean_of(*w, 2) - 2.0 * mean_of(*w, 1) * mean_of(*r, 1) + mean_of(*r, 2)
    variance = 0.05**2 + 0.02**2
    exact = math.sqrt(variance + (100_001.234**2 + variance) * (0.1**2 / 3.0) * of_b)
    run = mass_calibration().monte_carlo(trials=MANY)
    assert run.u == pytest.approx(exact, abs=3.0 * run.u_error)
    assert run.value == pytest.approx(1.234, abs=3.0 * run.value_error)


def test_mass_calibration_is_not_validated() -> None:
    # Both ends are 0.04 off, where one digit of 0.05 allows 0.005.
    found = mass_calibration().validate(digits=1)
    assert "linear-not-validated" in [flag.code for flag in found.flags]
    assert found.tolerance == 0.005
    assert found.differences == pytest.approx((0.045, 0.043), abs=0.002)  # Table 6, from memory


# -------------------------------------------------------------------------------------------------- 9.4 comparison loss
def comparison_loss(x1: float, r: float = 0.0) -> Estimate:
    covariance = ((0.005**2, r * 0.005**2), (r * 0.005**2, 0.005**2))
    joint = Joint(id="x", label="x", member_ids=("x/1", "x/2"), values=(x1, 0.0), covariance=covariance)
    members = (Estimate.from_influence(member, name="value") for member in joint.members())
    return combine(lambda a, b: a * a + b * b, *members, label="comparison loss")


@pytest.mark.parametrize("r", [0.0, 0.9])
@pytest.mark.parametrize("x1", [0.0, 0.010, 0.050])
def test_comparison_loss_has_the_exact_moments(x1: float, r: float) -> None:
    u = 0.005
    run = comparison_loss(x1, r).monte_carlo(trials=MANY)
    assert run.value == pytest.approx(x1**2 + 2.0 * u**2, abs=3.0 * run.value_error)
    exact = math.sqrt(4.0 * x1**2 * u**2 + 4.0 * u**4 * (1.0 + r**2))
    assert run.u == pytest.approx(exact, abs=3.0 * run.u_error)


@pytest.mark.parametrize("x1", [0.0, 0.010, 0.050])
def test_comparison_loss_has_the_exact_quantiles(x1: float) -> None:
    # A non-central chi-squared with two degrees of freedom, in units of u²; central for x1 = 0.
    law = stats.ncx2(2, (x1 / 0.005) ** 2, scale=0.005**2) if x1 else stats.expon(scale=2.0 * 0.005**2)
    run = comparison_loss(x1).monte_carlo(trials=MANY)
    assert run.interval.low == pytest.approx(law.ppf(0.025), abs=3.0 * run.interval_error[0])
    assert run.interval.high == pytest.approx(law.ppf(0.975), abs=3.0 * run.interval_error[1])
    below = optimize.minimize_scalar(
        lambda p: law.ppf(p + 0.95) - law.ppf(p), bounds=(0.0, 0.0499), method="bounded", options={"xatol": 1e-9}
    ).x
    assert run.shortest.low == pytest.approx(law.ppf(below), abs=3.0 * run.shortest_error[0] + 1e-11)
    assert run.shortest.high == pytest.approx(law.ppf(below + 0.95), abs=3.0 * run.shortest_error[1] + 1e-11)


@pytest.mark.parametrize(
    ("x1", "mean", "u"),
    # Table 8, in 10⁻⁶; the two last rows from memory, as is the run of a million trials.
    [(0.0, 50, 50), (0.010, 150, 112), (0.050, 2551, 502)],
)
def test_comparison_loss_as_printed(x1: float, mean: float, u: float) -> None:
    run = comparison_loss(x1).monte_carlo(trials=MANY)
    assert 1e6 * run.value == pytest.approx(mean, abs=0.5 + OF_A_DIFFERENCE * 1e6 * run.value_error)
    assert 1e6 * run.u == pytest.approx(u, abs=0.5 + OF_A_DIFFERENCE * 1e6 * run.u_error)


@pytest.mark.parametrize("r", [0.0, 0.9])
@pytest.mark.parametrize("x1", [0.0, 0.010])
def test_comparison_loss_near_zero_is_not_validated(x1: float, r: float) -> None:
    codes = [flag.code for flag in comparison_loss(x1, r).validate(digits=1).flags]
    assert "linear-not-validated" in codes
    assert "linear-differs" in codes
