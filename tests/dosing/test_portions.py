"""Several doses from one assay: for each portion or for all together, and what must be in hand.

What portions share (strength, scale of the dispenser) and what is new in each (setting) is written out by hand, or
drawn from the stated distributions without the library's sampler.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable

import numpy as np
import pytest

from assay import (
    AssayError,
    Burette,
    Cylinder,
    DataError,
    DomainError,
    Dose,
    DosedVolume,
    Estimate,
    Influence,
    Pipette,
    Strength,
    dose,
)
from assay.dosing.dispenser import Dispenser
from assay.substances.species import SPECIES

ACID = SPECIES["hydrochloric acid"]
CONCENTRATION = 10.0
DRAWS = 100_000
#: Draws from which the library takes its quantiles; it moves them by 3 standard errors to the safe side.
LIBRARY_DRAWS = 200_000


def strength(u: float = 0.0, *, dof: float = math.inf, shape: str = "normal") -> Strength:
    if u == 0.0:
        exact = Estimate.exactly(CONCENTRATION, name="amount_concentration", label="bottle 3")
        return Strength(species=ACID, estimate=exact)
    influence = Influence(id="bottle 3", label="bottle 3", value=CONCENTRATION, u=u, dof=dof, shape=shape)
    return Strength(species=ACID, estimate=Estimate.from_influence(influence, name="amount_concentration"))


def cylinder(capacity: float = 25.0, division: float = 0.5, tolerance: float = 0.5) -> Cylinder:
    return Cylinder("C", capacity=f"{capacity} mL", subdivision=f"{division} mL", tolerance=f"{tolerance} mL")


def dosed(of: Strength | None = None, **options: object) -> Dose:
    whole = {"deliver": "0.103 mol HCl", "dispenser": cylinder(), "into": "water", **options}
    return dose(strength(0.05) if of is None else of, **whole)


def standard_error(p: float, draws: int) -> float:
    return math.sqrt(p * (1.0 - p) / draws)


# -------------------------------------------------------------------------------- what is shared, and what is new
SETTING_ONLY = cylinder(tolerance=0.0)  # set to 0.5 mL: ±0.25 mL, rectangular, in each portion anew


@pytest.mark.parametrize("portions", [1, 2, 5, 24])
def test_where_only_the_setting_is_uncertain_portions_fail_one_by_one(portions: int) -> None:
    """10.3 mL are needed. At 10.5 mL a portion is short if it is set 0.2 mL low or more: (0.25 - 0.2)/0.5 = 10 %."""
    found = dosed(strength(), dispenser=SETTING_ONLY, portions=portions, assurance=0.85)
    assert found.at_least.volume == pytest.approx(0.0105)
    assert found.at_least.below == pytest.approx(0.1, abs=4 * standard_error(0.1, LIBRARY_DRAWS))
    any_short = 1.0 - 0.9**portions
    assert found.at_least.any_below == pytest.approx(any_short, abs=4 * standard_error(any_short, LIBRARY_DRAWS))


@pytest.mark.parametrize(
    ("binding", "portions", "volume"),
    [
        ("each", 1, 0.0105),
        ("each", 24, 0.0105),  # 10 % for every single one, whatever their number
        ("all", 1, 0.0105),
        ("all", 2, 0.0110),  # 1 - 0.9² = 19 % at 10.5 mL is more than 15 %
        ("all", 24, 0.0110),  # at 11.0 mL none can be short
    ],
)
def test_which_promise_binds_decides_the_at_least_volume(binding: str, portions: int, volume: float) -> None:
    found = dosed(strength(), dispenser=SETTING_ONLY, portions=portions, binding=binding, assurance=0.85)
    assert found.at_least.volume == pytest.approx(volume)
    assert found.binding == binding


@pytest.mark.parametrize(("binding", "volume"), [("each", 0.0100), ("all", 0.0095)])
def test_which_promise_binds_decides_the_at_most_volume(binding: str, volume: float) -> None:
    """10.2 mL are asked. At 10.0 mL a portion is above if set 0.2 mL high or more: 10 %, and 1 - 0.9² = 19 % of two."""
    found = dosed(
        strength(), deliver="0.102 mol HCl", dispenser=SETTING_ONLY, portions=2, binding=binding, assurance=0.85
    )
    assert found.at_most.volume == pytest.approx(volume)
    if binding == "each":
        assert found.at_most.above == pytest.approx(0.1, abs=4 * standard_error(0.1, LIBRARY_DRAWS))
        assert found.at_most.any_above == pytest.approx(0.19, abs=4 * standard_error(0.19, LIBRARY_DRAWS))


@pytest.mark.parametrize(
    "dispenser",
    [
        pytest.param(cylinder(division=0.001, tolerance=0.0), id="a setting too fine to count"),
        pytest.param(
            Pipette("P1", capacity="1 mL", tolerance="0.02 mL"), id="a pipette, whose setting is in its class"
        ),
    ],
)
def test_what_portions_share_makes_them_fail_together(dispenser: Dispenser) -> None:
    """The doubt about the strength is one: 24 portions are as sure as one."""
    found = [dosed(strength(0.3), dispenser=dispenser, portions=24, binding=binding) for binding in ("each", "all")]
    for kind in ("nominal", "at_least", "at_most"):
        each, together = (getattr(one, kind) for one in found)
        assert each.volume == pytest.approx(together.volume, abs=1.5e-6)  # L: one graduation of the finer
        assert each.any_below == pytest.approx(each.below, abs=0.001)
        assert each.any_above == pytest.approx(each.above, abs=0.001)


def test_one_portion_is_the_dose_that_was_always_given() -> None:
    plain, each, together = dosed(), dosed(portions=1), dosed(portions=1, binding="all")
    for kind in ("nominal", "at_least", "at_most"):
        first = getattr(plain, kind)
        for other in (getattr(each, kind), getattr(together, kind)):
            assert (other.volume, other.below, other.above) == (first.volume, first.below, first.above)
        assert (first.any_below, first.any_above) == (first.below, first.above)
    assert (plain.portions, plain.spare, plain.binding) == (1, 0, "each")
    assert "portion" not in str(plain)
    assert "P(any" not in str(plain)


@pytest.mark.parametrize("kind", ["at_least", "at_most"])
def test_more_portions_bound_together_are_never_nearer_to_what_is_asked(kind: str) -> None:
    fine = cylinder(division=0.02, tolerance=0.1)
    volumes = [
        getattr(dosed(strength(0.02), dispenser=fine, portions=n, binding="all"), kind).volume for n in (1, 3, 10, 30)
    ]
    assert volumes == sorted(volumes, reverse=kind == "at_most")
    assert volumes[0] != volumes[-1]


# ------------------------------------------------------------------------------------------ assurance by brute force
def generator(*case: object) -> np.random.Generator:
    return np.random.default_rng(zlib.crc32(repr(case).encode()))


#: Draws of the strength, mol/L, for each of the distributions that are stated to the library.
STRENGTHS: dict[str, tuple[Strength, Callable[[np.random.Generator], np.ndarray]]] = {
    "normal": (strength(0.05), lambda rng: CONCENTRATION + 0.05 * rng.standard_normal(DRAWS)),
    "three titres": (strength(0.02, dof=2.0), lambda rng: CONCENTRATION + 0.02 * rng.standard_t(2, DRAWS)),
    "rectangular": (
        strength(0.2, shape="rectangular"),
        lambda rng: CONCENTRATION + 0.2 * math.sqrt(3.0) * rng.uniform(-1.0, 1.0, DRAWS),
    ),
}
#: Capacity, division, tolerance, mL: in one filling as made; finely divided; in several fillings.
CYLINDERS = {"as made": (25.0, 0.5, 0.5), "fine": (25.0, 0.02, 0.5), "small": (5.0, 0.2, 0.05)}


def extremes(
    volume: float, of: str, dispenser: str, portions: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the amount in the first, the poorest and the richest portion, mol, for a volume set in mL."""
    capacity, division, tolerance = CYLINDERS[dispenser]
    fills = max(math.ceil(volume / capacity - 1e-9), 1)
    concentration = STRENGTHS[of][1](rng)
    scale = fills * rng.uniform(-tolerance, tolerance, DRAWS)
    first = poorest = richest = None
    for _ in range(portions):
        setting = rng.uniform(-division / 2.0, division / 2.0, (fills, DRAWS)).sum(axis=0)
        amount = concentration * (volume + scale + setting) / 1000.0
        first = amount if first is None else first
        poorest = amount if poorest is None else np.minimum(poorest, amount)
        richest = amount if richest is None else np.maximum(richest, amount)
    return first, poorest, richest


def nearer(volume: DosedVolume, division: float) -> float:
    """Return the volume one graduation nearer to what is asked, mL."""
    step = volume.fills * division
    return 1000.0 * volume.volume + (-step if volume.kind == "at least" else step)


@pytest.mark.parametrize("assurance", [0.90, 0.95, 0.99])
@pytest.mark.parametrize("binding", ["each", "all"])
@pytest.mark.parametrize("of", STRENGTHS)
@pytest.mark.parametrize("dispenser", CYLINDERS)
def test_the_stated_assurance_is_kept_and_not_overdone(dispenser: str, of: str, binding: str, assurance: float) -> None:
    capacity, division, tolerance = CYLINDERS[dispenser]
    amount, portions = 0.103, 26
    found = dose(
        STRENGTHS[of][0],
        deliver=f"{amount} mol HCl",
        dispenser=cylinder(capacity, division, tolerance),
        into="water",
        assurance=assurance,
        portions=24,
        spare=2,
        binding=binding,
    )
    floor = assurance - 3.0 * standard_error(assurance, DRAWS)
    # Six standard errors of the library's draws (three by its rule, three for their luck), three of these.
    ceiling = assurance + 6.0 * standard_error(assurance, LIBRARY_DRAWS) + 3.0 * standard_error(assurance, DRAWS)
    for volume in (found.at_least, found.at_most):
        enough = volume.kind == "at least"

        def met(set_to: float, *, enough: bool = enough, kind: str = volume.kind) -> float:
            rng = generator(dispenser, of, binding, assurance, kind, set_to)
            first, poorest, richest = extremes(set_to, of, dispenser, portions, rng)
            looked_at = first if binding == "each" else poorest if enough else richest
            return float(np.mean(looked_at >= amount if enough else looked_at <= amount))

        assert met(1000.0 * volume.volume) >= floor
        assert met(nearer(volume, division)) <= ceiling


@pytest.mark.parametrize("of", STRENGTHS)
@pytest.mark.parametrize("dispenser", CYLINDERS)
def test_every_probability_is_that_of_the_simulation(dispenser: str, of: str) -> None:
    amount, limit, portions = 0.103, 0.108, 8
    found = dose(
        STRENGTHS[of][0],
        deliver=f"{amount} mol HCl",
        limit=f"{limit} mol HCl",
        dispenser=cylinder(*CYLINDERS[dispenser]),
        into="water",
        portions=portions,
        binding="all",
    )
    for volume in found.volumes:
        rng = generator(dispenser, of, volume.kind)
        first, poorest, richest = extremes(1000.0 * volume.volume, of, dispenser, portions, rng)
        for stated, counted in [
            (volume.below, first < amount),
            (volume.any_below, poorest < amount),
            (volume.above, first > limit),
            (volume.any_above, richest > limit),
        ]:
            p = float(np.mean(counted))
            both = math.sqrt(p * (1.0 - p) * (1.0 / LIBRARY_DRAWS + 1.0 / DRAWS))
            assert stated == pytest.approx(p, abs=4.0 * both + 1e-4)


def test_a_burette_sets_each_portion_anew() -> None:
    """Read to 0.05 mL: ±0.025 mL in each. 10.31 mL are needed; at 10.35 mL none is short, at 10.30 mL 70 % are."""
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", tolerance="1e-6 mL")
    found = dosed(strength(), deliver="0.1031 mol HCl", dispenser=burette, portions=6, binding="all", assurance=0.99)
    assert found.nominal.volume == pytest.approx(0.0103)
    assert found.nominal.below == pytest.approx(0.7, abs=4 * standard_error(0.7, LIBRARY_DRAWS))
    short = 1.0 - 0.3**6
    assert found.nominal.any_below == pytest.approx(short, abs=4 * standard_error(short, LIBRARY_DRAWS))
    assert found.at_least.volume == pytest.approx(0.01035)
    assert found.at_least.any_below == 0.0


# ------------------------------------------------------------------------------------------------- what must be said
def test_spare_portions_are_promised_as_well() -> None:
    """Two and 22 spare, or 24: the same promise."""
    spare, counted = dosed(portions=2, spare=22, binding="all"), dosed(portions=24, binding="all")
    assert [v.volume for v in spare.volumes] == [v.volume for v in counted.volumes]
    assert [v.any_below for v in spare.volumes] == [v.any_below for v in counted.volumes]
    assert (spare.portions, spare.spare) == (2, 22)


@pytest.mark.parametrize(
    ("spare", "sentence"),
    [
        (3, "For 24 portions and 3 spare there must be in all: nominal 283.5 mL"),  # 27 × 10.5 mL
        (0, "For 24 portions there must be in all: nominal 252 mL"),
    ],
)
def test_what_must_be_in_hand_is_said_for_portions_and_spare(spare: int, sentence: str) -> None:
    found = dosed(portions=24, spare=spare)
    assert found.nominal.volume == pytest.approx(0.0105)
    for page in (str(found), found._repr_html_(), found._repr_latex_()):
        assert sentence in page
    count = 24 + spare
    assert f"at least {count * found.at_least.volume * 1000:g} mL" in str(found)
    assert f"at most {count * found.at_most.volume * 1000:g} mL" in str(found)


def test_one_portion_with_a_spare_is_several() -> None:
    found = dosed(portions=1, spare=1)
    assert "For 1 portions and 1 spare there must be in all: nominal 21 mL" in str(found)
    assert "P(any too little)" in str(found)


@pytest.mark.parametrize(("binding", "words"), [("each", "for each portion"), ("all", "for all portions together")])
def test_for_what_the_assurance_holds_stands_in_the_title(binding: str, words: str) -> None:
    found = dosed(portions=24, binding=binding)
    for page in (str(found), found._repr_html_()):
        assert f"0.103 mol HCl, assurance 95 % {words}" in page
    assert f"0.103 mol HCl, assurance 95 \\% {words}" in found._repr_latex_()


def test_probabilities_for_one_and_for_any_stand_beside_each_other() -> None:
    found = dosed(portions=24, limit="0.12 mol HCl")
    head, *body = found.rows().head, *found.rows().body
    assert head[4:] == (
        "P(too little)", "P(more than 0.12 mol HCl)", "P(any too little)", "P(any more than 0.12 mol HCl)",
    )  # fmt: skip
    assert all(len(line) == len(head) for line in body)


def test_the_same_question_has_the_same_answer() -> None:
    assert str(dosed(portions=24, spare=2, binding="all")) == str(dosed(portions=24, spare=2, binding="all"))


def test_what_is_available_must_do_for_all_portions_and_spare() -> None:
    at_least = dosed(portions=24, spare=3).at_least
    needed = 27 * at_least.volume * 1000
    assert dosed(portions=24, spare=3, available=f"{needed:g} mL").at_least.volume == at_least.volume
    with pytest.raises(DomainError) as caught:
        dosed(portions=24, spare=3, available=f"{needed - 0.1:g} mL")
    for words in (
        f"takes {needed:g} mL in 27 portions",
        "more than there is",
        f"'{needed - 0.1:g} mL'",
        "Ask for less",
    ):
        assert words in str(caught.value)


# ---------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("options", "error", "says"),
    [
        *(
            ({"portions": given}, DomainError, ["portions", repr(given), "a whole number, 1 or more"])
            for given in (0, -1, 2.5, 24.0, math.nan, math.inf, "24", "a class", True)
        ),
        ({"portions": None}, DomainError, ["portions", "a whole number, 1 or more"]),
        *(
            ({"spare": given}, DomainError, ["spare", repr(given), "a whole number, 0 or more"])
            for given in (-1, 0.5, 2.0, math.nan, "two", False)
        ),
        ({"binding": "any"}, DataError, ["binding", "'any'", "'each' or 'all'"]),
        ({"binding": ""}, DataError, ["binding", "'each' or 'all'"]),
    ],
)
def test_refused_with_what_was_given_and_what_is_expected(
    options: dict[str, object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        dosed(**options)
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)
