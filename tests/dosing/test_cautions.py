"""What is told before a volume is: on every page that shows one."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from assay.bench.vessels import Cylinder
from assay.dosing.dose import Dose, dose
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.substances.species import HYPOCHLORITE
from assay.substances.strength import Strength


def strength(value: float, name: str) -> Strength:
    influence = Influence(id=name, label=name, value=value, u=0.002)
    return Strength(species=HYPOCHLORITE, estimate=Estimate.from_influence(influence, name="amount_concentration"))


def dosed(into: str | None) -> Dose:
    cylinder = Cylinder("C100", capacity="100 mL", subdivision="1 mL")
    return dose(strength(1.5, "drum"), deliver="0.06 mol OCl-", dispenser=cylinder, into=into)


@pytest.mark.parametrize("into", [None, "Salzsäure", "the grey bucket"])
def test_into_anything_but_water_the_caution_comes_before_the_volumes_on_every_page(into: str | None) -> None:
    found = dosed(into)
    for page in (str(found), found._repr_html_(), found._repr_latex_()):
        assert "CAUTION: Never dispense hypochlorite into acid" in page
        assert page.index("CAUTION") < page.index("nominal")


def test_into_water_the_volumes_come_first() -> None:
    assert "CAUTION" not in str(dosed("water"))


def test_accepted_discordance_is_told_and_widens_the_mean() -> None:
    pair = [strength(0.70, "top"), strength(0.66, "bottom")]
    cylinder = Cylinder("C250", capacity="250 mL", subdivision="2 mL")
    found = dose(
        pair, deliver="0.1 mol OCl-", dispenser=cylinder, into="water", accept={"discordant-assays": "not rolled"}
    )
    # Two values 0.04 apart: s = 0.04/√2, of the mean s/√2 = 0.02 with one degree of freedom, beside 0.002/√2.
    assert found.strength.u == pytest.approx((0.02**2 + 0.002**2 / 2.0) ** 0.5, rel=1e-9)
    assert found.strength.dof == pytest.approx(found.strength.u**4 / 0.02**4, rel=1e-9)
    assert "discordant-assays" in str(found)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_page_of_another_encoding_does_not_break_off(encoding: str) -> None:
    told = subprocess.run(
        [sys.executable, "-m", "assay"],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": encoding},
    )
    assert told.returncode == 0
    assert b"Traceback (" not in told.stderr
    assert b"Dose of hypochlorite" in told.stdout
