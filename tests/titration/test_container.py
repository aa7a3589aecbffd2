"""From the portion that was titrated to the container: what samples differ by, and what was lost before."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import assay
from assay import Burette, DomainError, Pipette, Sampling, Strength, Titrant, compare, sampling_precision

BURETTE = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
P25 = Pipette("P25", capacity="25 mL")


@pytest.fixture(scope="module")
def thiosulfate() -> Titrant:
    return assay.run_demo("drum").titrant


@pytest.fixture(scope="module")
def hydroxide() -> Titrant:
    return assay.run_demo("acid").titrant


def drum(titrant: Titrant, sampling: Sampling | None, record: str | None = "drum") -> Strength:
    titres = [BURETTE.titre(reading) for reading in ("24.35 mL", "24.40 mL", "24.30 mL")]
    return assay.assay_hypochlorite(
        titrant, aliquot=P25, titres=titres, blank=BURETTE.titre("0.05 mL"), sampling=sampling, record=record
    )


def codes(strength: Strength) -> list[str]:
    return [flag.code for flag in strength.flags]


def test_what_is_not_stated_changes_nothing(thiosulfate: Titrant) -> None:
    bare, told = drum(thiosulfate, None), drum(thiosulfate, Sampling(method="dipped", delay="2 h", loss=0.0))
    assert (bare.estimate.value, bare.estimate.u) == (told.estimate.value, told.estimate.u)
    assert "portion-only" in codes(bare)
    assert "portion-only" not in codes(told)


def test_what_samples_differ_by_is_an_influence_of_its_own(thiosulfate: Titrant) -> None:
    bare = drum(thiosulfate, Sampling(method="dipped", delay="2 h"))
    told = drum(thiosulfate, Sampling(method="dipped", delay="2 h", samples=4, between_samples=0.01, between_dof=7))
    value = bare.estimate.value
    assert told.estimate.value == pytest.approx(value, rel=1e-15)
    assert told.estimate.u == pytest.approx(math.hypot(bare.estimate.u, value * 0.01 / 2))
    line = next(line for line in told.budget().lines if line.label == "samples of drum")
    assert line.contribution == pytest.approx(value * 0.005)
    assert line.dof == 7


def test_a_loss_is_on_one_side(thiosulfate: Titrant) -> None:
    bare = drum(thiosulfate, Sampling(method="dipped", delay="2 h"))
    told = drum(thiosulfate, Sampling(method="dipped", delay="2 h", loss=0.01, loss_in="1 h"))
    value = bare.estimate.value
    # From none to 2 %, each share as likely: the strength lies between what was found and that over 0.98.
    assert told.estimate.value == pytest.approx(value / 0.99)
    assert told.estimate.u == pytest.approx(
        math.hypot(bare.estimate.u / 0.99, value / 0.99**2 * 0.02 / math.sqrt(12)), rel=1e-12
    )
    lost = told.estimate.influences["sampling/record drum/loss"]
    assert (lost.quantile(0.0), lost.quantile(1.0)) == pytest.approx((0.0, 0.02), abs=1e-15)


def test_duplicate_samples_bring_their_degrees_of_freedom_and_doubts(thiosulfate: Titrant) -> None:
    found = sampling_precision([[[98.0, 99.0], [103.0, 102.0]], [[97.0, 97.0], [100.0, 101.0]]])
    told = drum(thiosulfate, Sampling(method="dipped", delay="2 h", between_samples=found))
    influence = told.estimate.influences["sampling/record drum/samples"]
    assert influence.u == found.relative_s
    assert influence.dof == found.sampling_dof
    assert influence.kind == "A"
    assert "few-targets" in codes(told)


def test_a_named_sample_is_one_sample_in_all_its_assays(thiosulfate: Titrant) -> None:
    named = Sampling(method="dipped", delay="2 h", name="drum 7, Monday", between_samples=0.01)
    one, again = (drum(thiosulfate, named, record).estimate for record in ("first", "second"))
    apart = Sampling(method="dipped", delay="2 h", between_samples=0.01)
    first, second = (drum(thiosulfate, apart, record).estimate for record in ("first", "second"))
    difference, other = compare(one, again).difference, compare(first, second).difference
    sampled = first.value * 0.01 * math.sqrt(2)
    assert other.u == pytest.approx(math.hypot(difference.u, sampled), rel=1e-3)


def test_without_name_and_record_each_is_a_sample_of_its_own(thiosulfate: Titrant) -> None:
    loose = Sampling(method="dipped", delay="2 h", between_samples=0.01)
    one, other = (drum(thiosulfate, loose, None).estimate for _ in range(2))
    samples = [{i for i in e.influences if i.startswith("sampling/")} for e in (one, other)]
    assert all(samples)
    assert not samples[0] & samples[1]


def test_a_delay_that_is_not_stated_is_flagged(thiosulfate: Titrant) -> None:
    assert "delay-not-stated" in codes(drum(thiosulfate, Sampling(method="dipped")))
    assert "delay-not-stated" not in codes(drum(thiosulfate, Sampling(method="dipped", loss=0.001)))


def test_acids_and_bases_are_sampled_as_well(hydroxide: Titrant) -> None:
    def vinegar(sampling: Sampling) -> Strength:
        return assay.assay_acid_base(
            hydroxide,
            "acetic acid",
            end_point=assay.EndPoint("phenolphthalein", operator="first bench"),
            aliquot=P25,
            titres=[BURETTE.titre("24.35 mL"), BURETTE.titre("24.40 mL")],
            blank=BURETTE.titre("0.05 mL"),
            sampling=sampling,
            record="vinegar",
        )

    bare, told = vinegar(Sampling(method="poured")), vinegar(Sampling(method="poured", between_samples=0.02))
    assert told.estimate.u == pytest.approx(math.hypot(bare.estimate.u, 0.02 * bare.estimate.value))
    assert "delay-not-stated" in codes(told)


def test_the_sample_is_still_there_after_saving(thiosulfate: Titrant, tmp_path: Path) -> None:
    told = drum(thiosulfate, Sampling(method="dipped", delay="2 h", between_samples=0.01, loss=0.01))
    assay.save(tmp_path / "drum.json", drum=told)
    back = assay.load(tmp_path / "drum.json")["drum"]
    assert isinstance(back, Strength)
    assert back.estimate.u == told.estimate.u
    assert compare(back.estimate, drum(thiosulfate, None, "other").estimate).difference.u > told.estimate.u
    assert "between none and 1 % of it lost" in back.facts["sampling"]


def test_a_batch_says_that_it_counts_no_sampling(thiosulfate: Titrant) -> None:
    batch = assay.TitreBatch(burette=BURETTE, final=[[24.35, 24.40]], unit="mL")
    with pytest.raises(DomainError, match="one by one"):
        assay.assay_hypochlorite_batch(
            thiosulfate,
            aliquot=P25,
            titres=batch,
            blank=BURETTE.titre("0.05 mL"),
            sampling=Sampling(method="dipped", delay="2 h", loss=0.01),
        )
