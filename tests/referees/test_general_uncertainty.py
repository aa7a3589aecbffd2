"""Random models against a general uncertainty library: value, u and degrees of freedom, wherever both define them.

Inputs are shared between intermediate results, some are correlated, some have finite degrees of freedom. The same
operations are made in the same order with both. Both take inputs that were found together for one term in the degrees
of freedom; ours are compared with the closed form besides. What only one of them allows is said in the last test.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from assay.metrology.covariance import correlation
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

referee = pytest.importorskip("GTC", reason="the referee is installed with the extra 'referees'")

MODELS = range(200)


@dataclass
class Model:
    """The same inputs and results on both sides, place by place."""

    ours: list[Estimate] = field(default_factory=list)
    theirs: list[Any] = field(default_factory=list)
    joints: list[Joint] = field(default_factory=list)

    def add(self, ours: Estimate, theirs: object) -> None:
        self.ours.append(ours)
        self.theirs.append(theirs)


# ---------------------------------------------------------------------------------------------------------- the models
def independent(rng: random.Random, name: str) -> tuple[Estimate, object]:
    value, dof = rng.uniform(0.5, 2.0), rng.choice([math.inf, math.inf, rng.randint(1, 30), rng.uniform(1.0, 20.0)])
    u = value * 10.0 ** rng.uniform(-4.0, -1.0)
    ours = Estimate.from_influence(Influence(id=name, label=name, value=value, u=u, dof=dof), name="value")
    return ours, referee.ureal(value, u, dof, label=name)


def correlations(rng: random.Random, n: int) -> list[list[float]]:
    """Return a random correlation matrix: that of n mixtures of n independent things."""
    mixtures = np.array([[rng.gauss(0.0, 1.0) for _ in range(n)] for _ in range(n)])
    covariance = mixtures @ mixtures.T
    scale = np.sqrt(np.diag(covariance))
    return [[float(x) for x in row] for row in covariance / np.outer(scale, scale)]


def together(rng: random.Random, name: str, dof: float) -> tuple[Joint, list[object]]:
    n = rng.randint(2, 3)
    ids = [f"{name}/{k}" for k in range(n)]
    values = [rng.uniform(0.5, 2.0) for _ in ids]
    us = [value * 10.0 ** rng.uniform(-4.0, -1.0) for value in values]
    r = correlations(rng, n)
    joint = Joint(
        id=name,
        label=name,
        member_ids=tuple(ids),
        values=tuple(values),
        covariance=tuple(tuple(r[i][j] * us[i] * us[j] if i != j else us[i] ** 2 for j in range(n)) for i in range(n)),
        dof=dof,
    )
    if math.isfinite(dof):
        theirs = list(referee.multiple_ureal(values, us, dof, label_seq=ids))
    else:
        theirs = [referee.ureal(v, u, label=i, independent=False) for v, u, i in zip(values, us, ids, strict=True)]
    for i in range(n):
        for j in range(i):
            referee.set_correlation(r[i][j], theirs[i], theirs[j])
    return joint, theirs


#: Operations that stay within range for inputs from 0.1 to 10, by our function and the referee's.
UNARY: Sequence[tuple[Callable[[Any], Any], Callable[[Any], Any]]] = (
    (np.sqrt, referee.sqrt),
    (lambda x: np.log(x + 1.0), lambda x: referee.log(x + 1.0)),
    (lambda x: np.exp(-x) + 0.5, lambda x: referee.exp(-x) + 0.5),
    (lambda x: np.cos(x) + 2.0, lambda x: referee.cos(x) + 2.0),
    (lambda x: np.sin(x) ** 2 + 0.5, lambda x: referee.sin(x) ** 2 + 0.5),
    (lambda x: np.tanh(x) + 1.0, lambda x: referee.tanh(x) + 1.0),
    (lambda x: 1.5 / (x + 1.0), lambda x: 1.5 / (x + 1.0)),
)
BINARY: Sequence[Callable[[Any, Any], Any]] = (
    lambda a, b: (a + b) / 2.0,
    lambda a, b: a - b + 3.0,
    lambda a, b: a * b / (a + b),
    lambda a, b: a / (b + 1.0) + 0.2,
    lambda a, b: (a + 1.0) ** (b / 4.0),
)


def random_model(seed: int, *, joint_dof: Callable[[random.Random], float] | None = None) -> Model:
    """Return a model of 2 to 6 inputs, with one or two joints if asked for, and 3 to 8 operations on what is there."""
    rng = random.Random(seed)  # noqa: S311  (models, not secrets)
    model = Model()
    for k in range(rng.randint(2, 6)):
        model.add(*independent(rng, f"{seed}/input/{k}"))
    if joint_dof is not None:
        for k in range(rng.randint(1, 2)):
            joint, theirs = together(rng, f"{seed}/joint/{k}", joint_dof(rng))
            model.joints.append(joint)
            for influence, their in zip(joint.members(), theirs, strict=True):
                model.add(Estimate.from_influence(influence, name="value"), their)
    for _ in range(rng.randint(3, 8)):
        operate(rng, model)
    total_ours = combine(lambda *x: sum(x[1:], x[0]) / len(x), *model.ours)
    total_theirs = sum(model.theirs[1:], model.theirs[0]) / len(model.theirs)
    model.add(total_ours, total_theirs)
    return model


def operate(rng: random.Random, model: Model) -> None:
    i, j = rng.sample(range(len(model.ours)), 2)
    if rng.random() < 0.4:
        ours, theirs = rng.choice(UNARY)
        model.add(combine(ours, model.ours[i]), theirs(model.theirs[i]))
    else:
        both = rng.choice(BINARY)
        model.add(combine(both, model.ours[i], model.ours[j]), both(model.theirs[i], model.theirs[j]))


def finite(rng: random.Random) -> float:
    return float(rng.randint(2, 20))


def infinite(_: random.Random) -> float:
    return math.inf


def dof_as_closed_form(result: Estimate) -> float:
    """Return Welch-Satterthwaite from the sensitivities, with a joint as one term (written anew, not the library's)."""
    terms: dict[str, tuple[float, float]] = {}
    for id_, slope in result.sensitivities.items():
        influence = result.influences[id_]
        if influence.joint is None:
            terms[id_] = (slope**2 * influence.u**2, influence.dof)
            continue
        joint = influence.joint
        slopes = [result.sensitivities.get(member, 0.0) for member in joint.member_ids]
        variance = sum(a * b * c for a, row in zip(slopes, joint.covariance, strict=True)
                       for b, c in zip(slopes, row, strict=True))  # fmt: skip
        terms[joint.id] = (variance, joint.dof)
    below = math.fsum(variance**2 / dof for variance, dof in terms.values())
    total = math.fsum(variance for variance, _ in terms.values())
    return total**2 / below if below > 0.0 else math.inf


def kind(seed: int) -> Callable[[random.Random], float] | None:
    """Return how a model is made: half without joints, a quarter with correlation and each sort of freedom."""
    return (None, infinite, None, finite)[seed % 4]


# ----------------------------------------------------------------------------------------------------------- the tests
@pytest.mark.parametrize("seed", MODELS)
def test_value_and_u_of_every_result(seed: int) -> None:
    model = random_model(seed, joint_dof=kind(seed))
    for ours, theirs in zip(model.ours, model.theirs, strict=True):
        assert ours.value == pytest.approx(referee.value(theirs), rel=1e-12)
        assert ours.u == pytest.approx(referee.uncertainty(theirs), rel=1e-9)


@pytest.mark.parametrize("seed", MODELS)
def test_degrees_of_freedom_of_every_result(seed: int) -> None:
    model = random_model(seed, joint_dof=kind(seed))
    for ours, theirs in zip(model.ours, model.theirs, strict=True):
        assert ours.dof == pytest.approx(dof_as_closed_form(ours), rel=1e-9)
        assert ours.dof == pytest.approx(referee.dof(theirs), rel=1e-9)


@pytest.mark.parametrize("seed", MODELS)
def test_correlation_of_the_last_two_results(seed: int) -> None:
    model = random_model(seed, joint_dof=kind(seed))
    theirs = referee.get_correlation(model.theirs[-1], model.theirs[-2])
    assert correlation(model.ours[-1], model.ours[-2]) == pytest.approx(theirs, rel=1e-9, abs=1e-12)


def test_the_models_are_what_they_are_meant_to_be() -> None:
    models = [random_model(seed, joint_dof=kind(seed)) for seed in MODELS]
    last = [model.ours[-1] for model in models]
    assert len(models) == 200
    assert sum(bool(model.joints) for model in models) == 100
    assert sum(any(math.isfinite(joint.dof) for joint in model.joints) for model in models) == 50
    assert sum(math.isfinite(result.dof) for result in last) >= 150
    assert all(abs(correlation(model.ours[-1], model.ours[-2])) > 0.0 for model in models)
    neglected = [math.hypot(*(s * r.influences[i].u for i, s in r.sensitivities.items())) for r in last]
    assert sum(abs(u - r.u) > 0.01 * r.u for u, r in zip(neglected, last, strict=True)) >= 50


# ----------------------------------------------------------------------------------------------- where one defines none
def test_a_correlation_with_finite_freedom_belongs_to_inputs_that_were_found_together() -> None:
    """The referee refuses it elsewhere; here it cannot be written at all, for it comes from a `Joint` alone.

    A joint has one number of degrees of freedom, and alone it gives that to the result, whatever the correlation.
    """
    x = referee.ureal(1.0, 0.1, 5, label="x", independent=False)
    y = referee.ureal(2.0, 0.2, 9, label="y", independent=False)
    with pytest.raises(RuntimeError, match="ensemble"):
        referee.set_correlation(0.5, x, y)
    joint = Joint(
        id="j",
        label="j",
        member_ids=("x", "y"),
        values=(1.0, 2.0),
        covariance=((0.01, 0.01), (0.01, 0.04)),
        dof=5.0,
    )
    a, b = (Estimate.from_influence(influence, name="value") for influence in joint.members())
    total = combine(lambda p, q: p + q, a, b)
    assert total.u == pytest.approx(math.sqrt(0.01 + 0.04 + 2.0 * 0.01), rel=1e-12)
    assert total.dof == pytest.approx(5.0, rel=1e-12)
