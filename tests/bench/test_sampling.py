"""Sampling: what must be stated before a result speaks of the container."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from assay import AssayError, DataError, DomainError, Sampling, UnitError


def test_sentence_for_the_report() -> None:
    stated = Sampling(method=" drum rolled, drawn through the tap ", delay="20 min")
    assert stated.sentence() == "Sampling: drum rolled, drawn through the tap; titrated after 20 min."


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
