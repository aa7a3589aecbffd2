"""What the library states of a laboratory: its batches over many runs, and its single steps for a few of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assay.bench.balance import Balance
from assay.bench.burette import Burette
from assay.bench.setting import OneVolume
from assay.bench.temperature import at_20
from assay.bench.titre_batch import TitreBatch
from assay.bench.vessels import Flask, Pipette
from assay.kernels.dilution import amount_from_aliquot
from assay.kernels.titration import analyte_concentration_from_titre, titrant_concentration_from_standard
from assay.metrology.batch import evaluate_batch
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.shapes import Array
from assay.substances.species import HYPOCHLORITE
from assay.titration.assays import Dilution, liquids_of, portion_and_factor
from assay.titration.batch_naming import naming_of
from assay.titration.batch_run import BatchRun
from assay.titration.iodometry import assay_hypochlorite
from assay.titration.standardisation import standardise_by_aliquots
from assay.titration.standards import PrimaryStandard, StandardSolution
from assay.titration.titrant import Titrant
from assay.titration.titres import Conditions

if TYPE_CHECKING:
    import laboratories as lab

LEVEL = 0.95
#: What the library takes where no shape is stated.
DEFAULT = str(Burette.__dataclass_fields__["shape"].default)


@dataclass(frozen=True, slots=True)
class Laboratory:
    """The library's view of a laboratory: its glass as the label says, and how it titrates."""

    burette: Burette
    aliquot: OneVolume
    taken: OneVolume
    flasks: tuple[Flask, Flask]
    solution: StandardSolution
    # About what an aliquot consumes, mol of titrant: how much its liquid expands depends on it.
    consumed: float = 0.0025

    @classmethod
    def of(cls, cell: lab.Cell, shape: str) -> Laboratory:
        """Return the laboratory of a cell with glass stated in a shape."""
        facts = {"accuracy_class": cell.accuracy_class}
        if shape != DEFAULT:
            facts["shape"] = shape
        name = f"study {cell.told()} {shape}".replace("/", " ")
        flasks = tuple(Flask(f"{name} {which}", capacity="250 mL", **facts) for which in ("standard", "sample"))
        # The weighing and the salt are all but exact: the glass and the titres are what is studied.
        balance = Balance(f"{name}", readability="1e-9 g", repeatability="1e-9 g", linearity="1e-9 g")
        salt = PrimaryStandard("potassium iodate", lot="study", purity="100 % w/w", half_width="1e-9 % w/w")
        return cls(
            burette=Burette(
                name, capacity="50 mL", subdivision="0.1 mL", read_to=f"{cell.step} mL", **facts
            ),
            aliquot=Pipette(f"{name} aliquot", capacity="25 mL", **facts),
            taken=Pipette(f"{name} taken", capacity="10 mL", **facts),
            flasks=(flasks[0], flasks[1]),
            solution=StandardSolution(
                standard=salt, weighing=balance.by_difference("10.8917 g", "10.0000 g"), flask=flasks[0]
            ),
        )  # fmt: skip

    def titres(self, readings: lab.Readings) -> TitreBatch:
        """Return readings as the library takes them."""
        return TitreBatch(burette=self.burette, final=readings.final, initial=readings.initial, unit="mL")

    def strengths(self, drawn: lab.Drawn, conditions: Conditions | None = None) -> EstimateBatch:
        """Return the strength of each run with everything that is unknown about it."""
        conditions = conditions or Conditions()
        day = conditions.temperature
        titrated = [
            self._titrated(readings, blank, conditions)
            for readings, blank in ((drawn.standard, drawn.standard_blank), (drawn.sample, drawn.sample_blank))
        ]
        amount = evaluate(
            amount_from_aliquot,
            name="standard_amount",
            label="amount",
            standard_concentration=self.solution.concentration(day),
            aliquot_volume=at_20(self.aliquot.volume(), self.aliquot.material, day),
        )
        titrant = evaluate_batch(
            titrant_concentration_from_standard,
            name="titrant_concentration",
            label="titrant",
            standard_amount=amount,
            equivalents=6.0,
            titre=titrated[0][0],
            blank=titrated[0][1],
        )
        dilutions = [Dilution(self.taken, self.flasks[1])]
        liquids = liquids_of(self.aliquot, dilutions, self.consumed)
        portion, factor = portion_and_factor(self.aliquot, dilutions, liquids, day)
        return evaluate_batch(
            analyte_concentration_from_titre,
            name="amount_concentration",
            label="strength",
            titrant_concentration=titrant,
            titre=titrated[1][0],
            blank=titrated[1][1],
            equivalents=2.0,
            aliquot_volume=portion,
            dilution_factor=factor,
        )

    def _titrated(
        self, readings: lab.Readings, blank: lab.Readings | None, conditions: Conditions
    ) -> tuple[EstimateBatch, EstimateBatch | Estimate]:
        titres = self.titres(readings)
        empty = None if blank is None else self.titres(blank)
        known = Influence(id="study/any titrant", label="any titrant", value=0.1, u=1e-4)
        run = BatchRun(
            titrant=Titrant(name="thiosulfate", estimate=Estimate.from_influence(known, name="titrant_concentration")),
            species=HYPOCHLORITE, aliquot=self.aliquot, titres=titres, dilutions=(), blank=empty,
            conditions=conditions, naming=naming_of(titres, empty, None, None),
        )  # fmt: skip
        mean, empty_mean, _ = run.titre_and_blank()
        return mean, empty_mean

    def single(self, drawn: lab.Drawn, i: int, conditions: Conditions | None = None) -> Estimate:
        """Return the strength of one run by the steps that a person would write."""
        known = conditions or Conditions()
        stated = {"temperature": known.temperature, "method_s": known.method_s, "method_dof": known.method_dof}
        blanks = [
            None if readings is None else self.titres(readings).row(i)[0]
            for readings in (drawn.standard_blank, drawn.sample_blank)
        ]
        titrant = standardise_by_aliquots(
            self.solution,
            aliquot=self.aliquot,
            titres=self.titres(drawn.standard).row(i),
            blank=blanks[0],
            record=f"standard {i}",
            **stated,
        )
        found = assay_hypochlorite(
            titrant,
            aliquot=self.aliquot,
            titres=self.titres(drawn.sample).row(i),
            dilutions=[Dilution(self.taken, self.flasks[1])],
            blank=blanks[1],
            record=f"sample {i}",
            **stated,
        )
        return found.estimate

    def truth(self, drawn: lab.Drawn) -> Array:
        """Return the true strengths, mol/L."""
        return drawn.true_ratio * self.solution.concentration().value


def check_single(
    laboratory: Laboratory,
    drawn: lab.Drawn,
    strengths: EstimateBatch,
    places: Sequence[int],
    conditions: Conditions | None = None,
) -> None:
    """Raise if the single steps give another interval than the batch."""
    for i in places:
        single = laboratory.single(drawn, i, conditions)
        for one, other in ((single.value, strengths.value[i]), (single.expanded(LEVEL), strengths.expanded(LEVEL)[i])):
            if not math.isclose(one, other, rel_tol=1e-9):
                message = f"the single steps of run {i} give {one}, the batch {other}"
                raise AssertionError(message)
