"""Flags: a doubt is visible, blocks until it is accepted by name, and keeps the reason."""

from __future__ import annotations

import pytest

from assay.errors import BlockedResultError, DataError
from assay.flags import Flag, accept, merged, refuse_blocked

DOUBT = Flag(code="old-titrant", message="Standardised 40 days ago.")
BLOCK = Flag(code="blank-above-titre", message="The blank is larger than the titre.", blocking=True)


def test_a_flag_as_a_line_of_a_report() -> None:
    assert str(DOUBT) == "old-titrant: Standardised 40 days ago."
    assert str(BLOCK) == "blank-above-titre (blocks later steps): The blank is larger than the titre."
    (accepted,) = accept((BLOCK,), "blank-above-titre", because="a water sample")
    assert str(accepted) == "blank-above-titre: The blank is larger than the titre. Accepted: a water sample."


def test_only_the_named_flag_is_accepted_and_nothing_is_changed() -> None:
    flags = (DOUBT, BLOCK)
    accepted = accept(flags, "blank-above-titre", because="  a water sample ")
    assert [flag.accepted for flag in accepted] == ["", "a water sample"]
    assert [flag.accepted for flag in flags] == ["", ""]


def test_every_flag_of_the_code_is_accepted() -> None:
    other = Flag(code=BLOCK.code, message="Another titre.", blocking=True)
    assert {flag.accepted for flag in accept((BLOCK, other), BLOCK.code, because="why")} == {"why"}


def test_an_unknown_code_is_refused_with_the_nearest() -> None:
    with pytest.raises(DataError, match="Did you mean 'blank-above-titre'"):
        accept((DOUBT, BLOCK), "blank-over-titre", because="why")
    with pytest.raises(DataError, match="no flag at all"):
        accept((), "blank-above-titre", because="why")


@pytest.mark.parametrize("reason", ["", "  \n"])
def test_no_acceptance_without_a_reason(reason: str) -> None:
    with pytest.raises(DataError, match="who accepted it and why"):
        accept((BLOCK,), BLOCK.code, because=reason)


def test_merging_keeps_each_once_in_order() -> None:
    same = Flag(code=DOUBT.code, message=DOUBT.message)
    assert merged([(BLOCK,), (DOUBT, BLOCK), (same,)]) == (BLOCK, DOUBT)
    assert merged([]) == ()


def test_a_blocking_flag_stops_later_steps_until_it_is_accepted() -> None:
    refuse_blocked((DOUBT,), what="the strength")
    with pytest.raises(BlockedResultError, match="the strength") as caught:
        refuse_blocked((DOUBT, BLOCK), what="the strength")
    assert BLOCK.message in str(caught.value)
    assert "accepting('blank-above-titre'" in caught.value.remedy
    assert 'blank-above-titre = "…"' in caught.value.remedy
    refuse_blocked(accept((DOUBT, BLOCK), BLOCK.code, because="why"), what="the strength")
