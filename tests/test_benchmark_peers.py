"""The scripts that the benchmarks compare with must do the same work: they give the same numbers."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

from assay import load

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

import batch
import chain
import monte_carlo
import persistence


def test_hand_written_monte_carlo_of_the_demo_gives_our_numbers() -> None:
    """The same streams through a formula spelled out by hand: equal but for the last bits."""
    ours = monte_carlo.ours(100_000)
    value, u, low, high = monte_carlo.peer(100_000)
    assert ours.value == pytest.approx(value, rel=1e-12)
    assert ours.u == pytest.approx(u, rel=1e-9)
    assert (ours.interval.low, ours.interval.high) == pytest.approx((low, high), rel=1e-12)


def test_pint_of_ufloats_gives_our_numbers() -> None:
    value, u, budget, dof = chain.ours()
    their_value, their_u, their_lines, their_dof = chain.peer()
    assert (value, u, dof) == pytest.approx((their_value, their_u, their_dof), rel=1e-12)
    theirs = {name: part for name, part in their_lines if part > 1e-12}
    ours = {line.label: line.contribution for line in budget.lines if line.contribution > 1e-12}
    assert ours == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("work", ["chain", "shared", "assay"])
def test_partial_derivatives_by_hand_give_our_numbers(work: str) -> None:
    """Value, u and degrees of freedom of each row; more rows than are worked on at once."""
    ours, theirs = (getattr(batch, f"{work}_{whose}")(40_000) for whose in ("ours", "peer"))
    assert np.isfinite(theirs[0]).all()
    for mine, other in zip(ours, theirs, strict=True):
        np.testing.assert_allclose(mine, other, rtol=1e-11)


def test_plain_numbers_of_results_are_the_numbers_that_we_save() -> None:
    """In order, and what several share once: each of its influences is one that two assays have."""
    assays = 20
    persistence.save_ours(assays)
    persistence.save_peer(assays)
    folder = persistence._folder()
    ours, theirs = load(folder / "ours.json"), json.loads((folder / "peer.json").read_text(encoding="utf-8"))
    shared = {influence["id"] for influence in theirs["influences"]}
    for strength, (value, u, dof, derivatives, own, joints) in zip(ours.values(), theirs["results"], strict=True):
        estimate = strength.estimate
        assert (estimate.value, estimate.u, estimate.dof) == (value, u, dof)
        assert list(estimate.sensitivities.values()) == derivatives
        alone = [i for id_, i in estimate.influences.items() if id_ not in shared]
        assert [[i.value, i.u] for i in alone if i.joint is None] == [pair for *pair, _ in own]
        assert {i.joint.dof for i in alone if i.joint is not None} == {dof for *_, dof in joints}
    first, second, *_ = ours.values()
    assert shared >= first.estimate.influences.keys() & second.estimate.influences.keys()
