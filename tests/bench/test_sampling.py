"""Sampling: what must be stated before a result speaks of the container."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from assay import AssayError, DataError, DomainError, Sampling, UnitError


def test_sentence_for_the_report() -> None:
    stated = Sampling(method=" drum rolled, drawn through the tap ", delay="20 min")
    assert stated.sentence() == (
        "Sampling: drum rolled, drawn through the tap; titrated after 20 min. "
        "What samples differ by and what was lost until then are not in the budget."
    )


def test_all_that_is_stated_is_in_the_sentence() -> None:
    stated = Sampling(
        method="dipped",
        delay="2 h",
        samples=3,
        places="top, middle and bottom",
        mixing="rolled for 5 min",
        temperature="18 °C",
        between_samples=0.004,
        loss=0.001,
        loss_in="1 h",
    )
    assert stated.sentence() == (
        "Sampling: dipped; 3 samples; from top, middle and bottom; mixed: rolled for 5 min; kept at 18 °C; titrated "
        "after 2 h; between none and 0.2 % of it lost until then."
    )


def test_what_is_left_out_of_the_budget_is_named_alone() -> None:
    assert Sampling(method="dipped", delay="2 h", loss=0.0).sentence() == (
        "Sampling: dipped; titrated after 2 h. What samples differ by is not in the budget."
    )


@pytest.mark.parametrize("delay", ["0 min", "90 s", "1.5 h", "2 day"])
def test_any_time_is_a_delay(delay: str) -> None:
    assert Sampling(method="dipped", delay=delay).delay == delay


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: Sampling(method="  ", delay="20 min"), DataError, ["method", "how the portion was taken"]),
        (lambda: Sampling(method="dipped", delay="20"), UnitError, ["delay", "'20'", "'20 min' or '2 h'"]),
        (lambda: Sampling(method="dipped", delay="20 mL"), UnitError, ["20 mL", "not a unit of time"]),
        (lambda: Sampling(method="dipped", delay="soon"), UnitError, ["soon", "no number"]),
        (lambda: Sampling(method="dipped", delay="-20 min"), DomainError, ["delay", "-20 min"]),
        (lambda: Sampling(method="dipped", name="drum/7"), DataError, ["name", "'drum/7'"]),
        (lambda: Sampling(method="dipped", samples=0), DomainError, ["samples", "1 or more"]),
        (lambda: Sampling(method="dipped", temperature="18 mL"), UnitError, ["temperature", "18 mL"]),
        (lambda: Sampling(method="dipped", between_samples=0.4), DomainError, ["between_samples", "0.4 % is 0.004"]),
        (lambda: Sampling(method="dipped", between_samples=-0.1), DomainError, ["between_samples", "-0.1"]),
        (lambda: Sampling(method="dipped", between_samples=math.nan), DomainError, ["between_samples", "nan"]),
        (lambda: Sampling(method="dipped", between_samples=0.1, between_dof=0.0), DomainError, ["between_dof"]),
        (lambda: Sampling(method="dipped", loss=0.6), DomainError, ["loss", "0.5 % is 0.005"]),
        (lambda: Sampling(method="dipped", loss=math.nan), DomainError, ["loss", "nan"]),
        (lambda: Sampling(method="dipped", loss=0.01, loss_in="1 h"), DataError, ["loss_in", "delay"]),
        (lambda: Sampling(method="dipped", delay="1 h", loss_in="1 h"), DataError, ["loss_in", "loss = 0.001"]),
        (lambda: Sampling(method="dipped", delay="1 h", loss=0.1, loss_in="0 h"), DomainError, ["loss_in", "0 h"]),
        (lambda: Sampling(method="dipped", delay="9 h", loss=0.1, loss_in="1 h"), DomainError, ["loss", "sooner"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)


@pytest.mark.parametrize(
    ("stated", "says"),
    [({"loss": "200 %"}, "200 %"), ({"between_samples": "0.4 %"}, "0.4 %"), ({"samples": "two"}, "two")],
)
def test_text_in_place_of_a_number_is_told(stated: dict[str, str], says: str) -> None:
    with pytest.raises(DomainError, match=says):
        Sampling(method="rolled", delay="2 h", **stated)  # type: ignore[arg-type]
