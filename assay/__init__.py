"""Titrimetric assay of reagents whose label cannot be trusted, and the volumes to dispense by what was measured.

Start with `Burette`, `Pipette`, `Flask` and `Balance`. Standardise a titrant (thiosulfate, sodium hydroxide or
hydrochloric acid) against a `PrimaryStandard` with `standardise_by_aliquots` or `standardise_by_portions`, or against
another titrant with `standardise_by_comparison`; what was assayed becomes a titrant by `Titrant.from_strength`. Assay
hypochlorite with `assay_hypochlorite`, acids and bases to an indicator's `EndPoint` with `assay_acid_base`, a caustic
that drank carbon dioxide to two end points with `hydroxide_and_carbonate`. Dispense by `dose`. `run_sheet` does all of
it from a bench sheet. An input of your own is an `Influence`, or a `fitted_line`; as an `Estimate` it enters `combine`
with a formula of yours, and every result has `budget`, `expanded`, `monte_carlo` and `validate`. Rows of titres are a
`TitreBatch` for `assay_hypochlorite_batch` and `assay_acid_base_batch`, and `combine_batch` takes the rows of results.
`save` and `load` keep results with what they share. Every name below is
imported when it is first used, so that ``import assay`` itself loads no scientific package.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from assay.bench.air import Air
    from assay.bench.balance import Balance
    from assay.bench.beaker import Beaker
    from assay.bench.burette import Burette, Titre
    from assay.bench.burette_calibration import BuretteCalibration, calibrate_burette
    from assay.bench.calibration import Calibration, calibrate
    from assay.bench.certificates import Certificate, CorrectionTable
    from assay.bench.dropper import Dropper
    from assay.bench.graduated import GraduatedPipette, Syringe
    from assay.bench.piston import PistonBurette, PistonPipette
    from assay.bench.sampling import Sampling
    from assay.bench.setting import SetVolume
    from assay.bench.temperature import Temperature
    from assay.bench.titre_batch import TitreBatch
    from assay.bench.vessels import Cylinder, Flask, Pipette
    from assay.bench.weighing import MassTitre, Weighing
    from assay.dosing.dose import dose
    from assay.dosing.requirement import Equivalents
    from assay.dosing.volumes import Dose, DosedVolume
    from assay.errors import (
        AssayError,
        BasisError,
        BlockedResultError,
        ConvergenceError,
        DataError,
        DomainError,
        IncompatibleMixtureError,
        MissingDependencyError,
        SheetError,
        UnitError,
    )
    from assay.explanation.words import explain
    from assay.flags import Flag
    from assay.metrology.batch import combine_batch
    from assay.metrology.budget import Budget, BudgetLine
    from assay.metrology.comparison import Comparison, compare
    from assay.metrology.conformity import Conformity
    from assay.metrology.consistency import Consistency, consistency, weighted_mean
    from assay.metrology.control import ControlChart, control_chart, control_chart_of_means
    from assay.metrology.covariance import correlation, covariance_matrix
    from assay.metrology.deciding import DecisionOutlook
    from assay.metrology.duplicates import SamplingPrecision, sampling_precision
    from assay.metrology.estimate import Estimate
    from assay.metrology.estimate_batch import EstimateBatch
    from assay.metrology.evaluation import combine
    from assay.metrology.further import ExpectedWidth, expected_width
    from assay.metrology.grubbs import grubbs, grubbs_pair
    from assay.metrology.influence import Influence
    from assay.metrology.joint import Joint
    from assay.metrology.line import Line, fitted_line
    from assay.metrology.method_precision import MethodPrecision
    from assay.metrology.monte_carlo import MonteCarlo
    from assay.metrology.outlier_test import OutlierTest
    from assay.metrology.outliers import WithAndWithout, dixon, with_and_without
    from assay.metrology.probability import SampledProbability
    from assay.metrology.recovery import Recovery, recovery_of
    from assay.metrology.run_rules import ControlSignal
    from assay.metrology.validation import Validation
    from assay.metrology.variance import (
        Component,
        VarianceAnalysis,
        analysis_of_variance,
        nested_analysis,
    )
    from assay.plot.budget import plot_budget
    from assay.plot.control import plot_control
    from assay.plot.distribution import plot_distribution
    from assay.plot.replicates import plot_replicates
    from assay.report.document import report_json
    from assay.report.page import report_text
    from assay.sheet.run import SheetResult, run_demo, run_sheet
    from assay.substances.density import Density, density_by_weighing, measured_density
    from assay.substances.formula import parse_formula
    from assay.substances.molar_mass import molar_mass
    from assay.substances.strength import Strength
    from assay.titration.acid_base import Caustic, assay_acid_base, hydroxide_and_carbonate
    from assay.titration.assays import Dilution
    from assay.titration.batch import StrengthBatch, assay_acid_base_batch, assay_hypochlorite_batch
    from assay.titration.deciding import titres_to_decide
    from assay.titration.drift import titrant_at
    from assay.titration.end_point import EndPoint
    from assay.titration.files import load, save
    from assay.titration.iodometry import assay_hypochlorite
    from assay.titration.procedure import acid_base_procedure, cautions, iodometry_procedure
    from assay.titration.repeatability import Concordance, Repeatability, judge_concordance, pooled_repeatability
    from assay.titration.standardisation import (
        standardise_by_aliquots,
        standardise_by_comparison,
        standardise_by_portions,
    )
    from assay.titration.standards import PrimaryStandard, StandardSolution
    from assay.titration.stopping import StoppingLook, StoppingPlan
    from assay.titration.titrant import Titrant

# Name of each module that is loaded on demand, and what it gives.
_FROM = {
    "assay.bench.air": ("Air",),
    "assay.bench.balance": ("Balance",),
    "assay.bench.beaker": ("Beaker",),
    "assay.bench.burette": ("Burette", "Titre"),
    "assay.bench.burette_calibration": ("BuretteCalibration", "calibrate_burette"),
    "assay.bench.calibration": ("Calibration", "calibrate"),
    "assay.bench.certificates": ("Certificate", "CorrectionTable"),
    "assay.bench.dropper": ("Dropper",),
    "assay.bench.graduated": ("GraduatedPipette", "Syringe"),
    "assay.bench.piston": ("PistonBurette", "PistonPipette"),
    "assay.bench.sampling": ("Sampling",),
    "assay.bench.setting": ("SetVolume",),
    "assay.bench.temperature": ("Temperature",),
    "assay.bench.titre_batch": ("TitreBatch",),
    "assay.bench.vessels": ("Cylinder", "Flask", "Pipette"),
    "assay.bench.weighing": ("MassTitre", "Weighing"),
    "assay.dosing.dose": ("dose",),
    "assay.dosing.requirement": ("Equivalents",),
    "assay.dosing.volumes": ("Dose", "DosedVolume"),
    "assay.errors": (
        "AssayError",
        "BasisError",
        "BlockedResultError",
        "ConvergenceError",
        "DataError",
        "DomainError",
        "IncompatibleMixtureError",
        "MissingDependencyError",
        "SheetError",
        "UnitError",
    ),
    "assay.explanation.words": ("explain",),
    "assay.flags": ("Flag",),
    "assay.metrology.batch": ("combine_batch",),
    "assay.metrology.budget": ("Budget", "BudgetLine"),
    "assay.metrology.comparison": ("Comparison", "compare"),
    "assay.metrology.conformity": ("Conformity",),
    "assay.metrology.consistency": ("Consistency", "consistency", "weighted_mean"),
    "assay.metrology.control": ("ControlChart", "control_chart", "control_chart_of_means"),
    "assay.metrology.deciding": ("DecisionOutlook",),
    "assay.metrology.duplicates": ("SamplingPrecision", "sampling_precision"),
    "assay.metrology.covariance": ("correlation", "covariance_matrix"),
    "assay.metrology.estimate": ("Estimate",),
    "assay.metrology.evaluation": ("combine",),
    "assay.metrology.estimate_batch": ("EstimateBatch",),
    "assay.metrology.further": ("ExpectedWidth", "expected_width"),
    "assay.metrology.influence": ("Influence",),
    "assay.metrology.joint": ("Joint",),
    "assay.metrology.line": ("Line", "fitted_line"),
    "assay.metrology.monte_carlo": ("MonteCarlo",),
    "assay.metrology.grubbs": ("grubbs", "grubbs_pair"),
    "assay.metrology.method_precision": ("MethodPrecision",),
    "assay.metrology.outlier_test": ("OutlierTest",),
    "assay.metrology.outliers": ("WithAndWithout", "dixon", "with_and_without"),
    "assay.metrology.probability": ("SampledProbability",),
    "assay.metrology.recovery": ("Recovery", "recovery_of"),
    "assay.metrology.run_rules": ("ControlSignal",),
    "assay.metrology.validation": ("Validation",),
    "assay.metrology.variance": (
        "Component",
        "VarianceAnalysis",
        "analysis_of_variance",
        "nested_analysis",
    ),
    "assay.plot.budget": ("plot_budget",),
    "assay.plot.control": ("plot_control",),
    "assay.plot.distribution": ("plot_distribution",),
    "assay.plot.replicates": ("plot_replicates",),
    "assay.report.document": ("report_json",),
    "assay.report.page": ("report_text",),
    "assay.sheet.run": ("SheetResult", "run_demo", "run_sheet"),
    "assay.substances.density": ("Density", "density_by_weighing", "measured_density"),
    "assay.substances.formula": ("parse_formula",),
    "assay.substances.molar_mass": ("molar_mass",),
    "assay.substances.strength": ("Strength",),
    "assay.titration.acid_base": ("Caustic", "assay_acid_base", "hydroxide_and_carbonate"),
    "assay.titration.assays": ("Dilution",),
    "assay.titration.batch": ("StrengthBatch", "assay_acid_base_batch", "assay_hypochlorite_batch"),
    "assay.titration.deciding": ("titres_to_decide",),
    "assay.titration.drift": ("titrant_at",),
    "assay.titration.end_point": ("EndPoint",),
    "assay.titration.files": ("load", "save"),
    "assay.titration.iodometry": ("assay_hypochlorite",),
    "assay.titration.procedure": ("acid_base_procedure", "cautions", "iodometry_procedure"),
    "assay.titration.repeatability": (
        "Concordance",
        "Repeatability",
        "judge_concordance",
        "pooled_repeatability",
    ),
    "assay.titration.standardisation": (
        "standardise_by_aliquots",
        "standardise_by_comparison",
        "standardise_by_portions",
    ),
    "assay.titration.standards": ("PrimaryStandard", "StandardSolution"),
    "assay.titration.stopping": ("StoppingLook", "StoppingPlan"),
    "assay.titration.titrant": ("Titrant",),
}
_HOME = {name: module for module, names in _FROM.items() for name in names}

__all__ = [  # noqa: PLE0604  (built from the table above, which the tests compare with the imports for type checkers)
    *sorted(_HOME)
]


def __getattr__(name: str) -> object:
    """Import a public name when it is first used (PEP 562)."""
    if name not in _HOME:
        raise AttributeError(f"module 'assay' has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
