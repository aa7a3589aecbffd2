"""Decisions, advice on further titres, and plans of when to stop, by brute force.

Laboratories here are as simple as they can be: a mean of n normal titres with an offset that all of them share (glass,
standard, titrant), which is normal with a u that is known. Everything is in units of the scatter of one titre, and the
draws are numpy's alone. Three questions:

1. How often is accepted what lies on a limit, the worst that does not conform? At the most the stated risk, plus three
   standard errors.
2. Where the advice is "m further titres decide with a chance p", do they, over strengths that lie evenly about the
   limit? Where it is "none can", does none?
3. Under a plan of when to stop, does the interval that is stated in the end hold the truth as often as it says, and is
   the risk kept over all looks? And without a plan?
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from assay.metrology.conformity import FIT, UNDECIDED, Rule
from assay.metrology.coverage import coverage_factor
from assay.metrology.deciding import outlook_of
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.futures import Futures, decisions, u_and_dof_of
from assay.metrology.influence import Influence
from assay.metrology.probability import Limits
from assay.metrology.replicates import MethodScatter, mean_of, scatter_of
from assay.metrology.shapes import Array, Generator
from assay.titration.stopping import StoppingPlan

DRAWS, SMALL_DRAWS = 100_000, 20_000
CASES, SMALL_CASES = 600, 60
#: u of what titres share, over the scatter of one titre.
SHARED = (0.0, 0.2, 0.5, 1.0, 3.0)
KNOWN = math.inf


class Series(NamedTuple):
    """Titres of many laboratories, of shape (draws, titres), their offsets in them, and what is known of both."""

    titres: Array
    shared: float
    known_s: bool

    def result(self, n: int, risk: float = math.nan) -> Futures:
        """Return value, u and degrees of freedom of the first n titres, as the library states them."""
        first = self.titres[:, :n]
        variance = np.ones(len(first)) if self.known_s else first.var(axis=1, ddof=1)
        dof = KNOWN if self.known_s else n - 1.0
        u, dof = u_and_dof_of(variance / n, dof, ((self.shared, math.inf),), risk=risk)
        return Futures(first.mean(axis=1), u, dof)


def series(generator: Generator, truth: float, n: int, shared: float, draws: int, *, known_s: bool) -> Series:
    """Return titres of laboratories whose samples all have one true value."""
    offset = shared * generator.standard_normal((draws, 1))
    return Series(truth + offset + generator.standard_normal((draws, n)), shared, known_s)


def _above(share: float, bound: float, draws: int) -> bool:
    return share > bound + 3.0 * math.sqrt(bound * (1.0 - bound) / draws)


# ----------------------------------------------------------------------------------------------------------- decisions


def _rules() -> Iterator[tuple[str, Rule, float]]:
    """Yield rules, each with the risk that it states for one limit; NaN where it states none."""
    for risk in (0.05, 0.025, 0.01):
        yield f"risk {100 * risk:g} %", Rule(risk, math.nan, ""), risk
    yield "guard band 1 U, 95 %", Rule(math.nan, 0.0, "", 1.0, 0.95), math.nan
    yield "guard band of a scatter", Rule(math.nan, 1.0, ""), math.nan


def _decisions(generator: Generator, draws: int) -> Iterator[str]:
    yield "  1. accepted although it lies on the limit, in %: one limit; two limits 12 u apart; 4 u apart"
    scatters = ((2, False), (3, False), (5, False), (20, False), (1, True))
    for (n, known_s), shared in itertools.product(scatters, SHARED):
        u = math.hypot(shared, 1.0 / math.sqrt(n))
        drawn = series(generator, 0.0, n, shared, draws, known_s=known_s)
        for name, rule, risk in _rules():
            results = drawn.result(n, rule.risk)
            lower, upper, wide, narrow = (
                float(np.mean(decisions(results, limits, rule) == FIT))
                for limits in (
                    Limits(0.0, math.inf), Limits(-math.inf, 0.0), Limits(0.0, 12.0 * u), Limits(-4.0 * u, 0.0),
                )
            )  # fmt: skip
            # A lower limit and an upper one are mirror images: together they are one share of twice the draws.
            accepted = (0.5 * (lower + upper), wide, narrow)
            wrong = any(_above(share, risk, draws) for share in accepted)
            told = "; ".join(f"{100 * share:5.2f}" for share in accepted)
            yield f"{'!' if wrong else ' '} {_told(n, shared, known_s=known_s)} {name:23}: {told}"


def _told(n: int, shared: float, *, known_s: bool) -> str:
    return f"{f'known s, n {n}' if known_s else f'own s, n {n}':13} shared {shared:3.1f}"


# -------------------------------------------------------------------------------------------------------------- advice


def _estimate(titres: Array, shared: float, *, known_s: bool) -> Estimate:
    method = MethodScatter(s=1.0) if known_s else None
    exact = [Estimate.exactly(float(titre), name="value", label="titre") for titre in titres]
    mean = mean_of(exact, scatter_of(titres.tolist(), method=method), record="r", name="replicate_mean", label="mean")
    offset = Influence(id="glass", label="glass", value=0.0, u=shared)
    return combine(lambda x, y: x + y, mean, Estimate.from_influence(offset, name="value"), label="strength")


class Advised(NamedTuple):
    """What was foretold of undecided cases, and what came."""

    cases: int
    chance: Array  # foretold of the advised number, where one was
    came: Array  # whether it was decided then
    any_chance: Array  # foretold of a number drawn at random, in all cases
    any_came: Array
    none_came: Array  # where none can: whether a number drawn at random decided


def _advised(generator: Generator, n: int, shared: float, cases: int, *, known_s: bool) -> Advised:
    """Return the advice on strengths that lie evenly about a limit at zero, and what further titres did."""
    rule = Rule(0.05, math.nan, "")
    limit = Limits(0.0, math.inf)
    found: tuple[list[float], ...] = ([], [], [], [], [])
    done = 0
    reach = 40.0 / math.sqrt(n) if n < 4 and not known_s else 8.0  # as far as an undecided mean may lie
    while done < cases:
        truth = generator.uniform(-1.0, 1.0) * reach * math.hypot(shared, 1.0)
        drawn = series(generator, truth, 400, shared, 1, known_s=known_s)
        if decisions(drawn.result(n, rule.risk), limit, rule)[0] != UNDECIDED:
            continue
        done += 1
        advice = outlook_of(
            _estimate(drawn.titres[0, :n], shared, known_s=known_s),
            lower=0.0, probability=float(generator.choice((0.5, 0.8, 0.95))), futures=1024,
        )  # fmt: skip

        def came(further: float, drawn: Series = drawn) -> float:
            result = drawn.result(n + int(further), rule.risk)
            return float(decisions(result, limit, rule)[0] != UNDECIDED)

        chances = dict(advice.chances)
        if math.isfinite(advice.further) and advice.further <= 400 - n:
            found[0].append(chances[int(advice.further)])
            found[1].append(came(advice.further))
        number = int(generator.choice(list(chances)))
        if number <= 400 - n:
            found[2].append(chances[number])
            found[3].append(came(number))
        if advice.verdict == "cannot decide":
            found[4].append(came(number))
    return Advised(done, *map(np.array, found))


def _advice(generator: Generator, cases: int, *, full: bool) -> Iterator[str]:
    yield "  2. of undecided strengths that lie evenly about a limit, risk 5 %: decided / foretold, in %"
    grid = itertools.product(((2, False), (3, False), (4, False), (6, False), (3, True)), (0.2, 1.0, 3.0))
    for (n, known_s), shared in list(grid) if full else list(grid)[::4]:
        got = _advised(generator, n, shared, cases, known_s=known_s)
        parts = [f"{got.cases} undecided"]
        wrong = False
        for name, came, chance in (("as advised", got.came, got.chance), ("any number", got.any_came, got.any_chance)):
            if came.size:
                foretold, share = float(chance.mean()), float(came.mean())
                error = math.sqrt(float((chance * (1.0 - chance)).sum())) / came.size
                wrong |= share < foretold - 3.0 * error
                parts.append(f"{name} {100 * share:.1f} / {100 * foretold:.1f} of {came.size}")
        if got.none_came.size:
            wrong |= bool(got.none_came.any())
            parts.append(f"none can: {int(got.none_came.sum())} of {got.none_came.size} decided")
        yield f"{'!' if wrong else ' '} {_told(n, shared, known_s=known_s)}: {'; '.join(parts)}"


# --------------------------------------------------------------------------------------------------------------- plans


def _stopped(drawn: Series, looks: tuple[int, ...], risk: float, level: float) -> tuple[Array, Array]:
    """Return how each series was decided, and whether the interval stated at its end holds the offset-free truth."""
    limit, rule = Limits(0.0, math.inf), Rule(risk, math.nan, "")
    draws = len(drawn.titres)
    decision, low, high = np.full(draws, UNDECIDED), np.zeros(draws), np.zeros(draws)
    for n in looks:
        going = decision == UNDECIDED
        found = decisions(drawn.result(n, risk), limit, rule)
        value, u, dof = drawn.result(n, 0.5 - 0.5 * level)
        half = u * coverage_factor(level, dof)
        low, high = np.where(going, value - half, low), np.where(going, value + half, high)
        decision = np.where(going, found, decision)
    return decision, np.stack([low, high])


class _Rates(NamedTuple):
    """How each look decides and states, and what it came to."""

    risk: float
    level: float

    def of(self, generator: Generator, looks: tuple[int, ...], shared: float, draws: int, *, known_s: bool) -> _Rates:
        """Return what is accepted on the limit, and the least share held of truths about it."""
        held, accepted = [], 0.0
        for truth in (0.0, 0.5, 1.0, 2.0):
            drawn = series(generator, truth, looks[-1], shared, draws, known_s=known_s)
            decision, (low, high) = _stopped(drawn, looks, self.risk, self.level)
            held.append(float(np.mean((low <= truth) & (truth <= high))))
            if truth == 0.0:
                accepted = float(np.mean(decision == FIT))
        return _Rates(accepted, min(held))


def _plans(generator: Generator, draws: int, *, full: bool) -> Iterator[str]:
    yield "  3. plans: accepted on the limit at a stated 5 %, least share held at a stated 95 %; in brackets: unplanned"
    kinds = [(split, shared, False) for split in ("bonferroni", "exact for t") for shared in (0.0, 0.2, 1.0)]
    kinds += [("bonferroni", shared, True) for shared in (0.0, 0.2, 1.0)]
    for looks in ((3, 5, 8), (2, 4, 6), (4, 6), tuple(range(3, 11))) if full else ((3, 5, 8), (2, 4)):
        for split, shared, known_s in kinds:
            plan = StoppingPlan(looks=looks, lower=0.0, split=split)
            planned, loose = (
                rates.of(generator, looks, shared, draws, known_s=known_s)
                for rates in (_Rates(plan.risk_at_each, plan.level_at_each), _Rates(plan.risk, plan.level))
            )
            wrong = _above(planned.risk, plan.risk, draws) or _above(1.0 - planned.level, 1.0 - plan.level, draws)
            yield (
                f"{'!' if wrong else ' '} looks {'-'.join(map(str, looks)):16} {split:11} "
                f"{'known s' if known_s else 'own s':7} shared {shared:3.1f}: accepted {100 * planned.risk:5.2f} "
                f"({100 * loose.risk:5.2f}), held {100 * planned.level:.2f} ({100 * loose.level:.2f})"
            )


def rows(full: bool) -> Iterator[str]:  # noqa: FBT001  (the one switch of every study)
    """Yield the rows of the three questions."""
    generator = np.random.default_rng(20261125)
    draws = DRAWS if full else SMALL_DRAWS
    yield from _decisions(generator, draws)
    yield from _advice(generator, CASES if full else SMALL_CASES, full=full)
    yield from _plans(generator, draws, full=full)
