"""The report of a bench sheet as JSON. Its keys are a contract: new ones may come, none goes or changes its meaning."""

from __future__ import annotations

import json
import math
from importlib.metadata import version
from typing import Any

from assay.dosing.volumes import Dose, DosedVolume
from assay.flags import Flag
from assay.metrology.control import ControlChart
from assay.metrology.estimate import Estimate
from assay.sheet.run import SheetResult
from assay.substances.chain import Link

SCHEMA = 1

Json = dict[str, Any]


def report_json(result: SheetResult) -> str:
    """Return the results of a bench sheet as JSON text.

    Each result has ``name``, ``value``, ``standard_uncertainty``, ``basis`` or ``unit``, ``degrees_of_freedom``
    (effective, ``null`` if infinite), ``coverage_factor`` with the ``coverage_degrees_of_freedom`` of its t,
    ``interval`` with its level, ``ids`` of its influences, and ``flags``. A titrant also has
    its ``traceability``, and as ``chain`` the titrants through which it leads back to the primary standard.

    Parameters
    ----------
    result : SheetResult
        What `run_sheet` returned.

    Returns
    -------
    str
        The text of the document.

    References
    ----------
    [jcgm-100-2008] 7: what is told with a result.

    Examples
    --------
    >>> from assay.sheet.run import run_sheet
    >>> json.loads(report_json(run_sheet()))["results"][1]["basis"]
    'mol/L OCl-'

    """
    document = {
        "schema": SCHEMA,
        "assay_version": version("assay"),
        "title": result.title,
        "date": result.date.isoformat(),
        "results": [
            *(
                _link(titrant.links[-1], result.level)
                | {"chain": [_link(link, result.level) for link in titrant.chain]}
                for titrant in result.titrants.values()
            ),
            *(
                _result(estimate, f"strength/{sample}", result.level) | {"basis": basis, "facts": dict(strength.facts)}
                for sample, strength in result.strengths.items()
                for basis, estimate in strength.bases().items()
            ),
            *(
                _result(estimate, f"caustic/{name}/{estimate.label}", result.level)
                for name, caustic in result.caustics.items()
                for estimate in (caustic.hydroxide, caustic.carbonate)
            ),
        ],
        "doses": [_dose(dose, f"dose/{k}", result.level) for k, dose in enumerate(result.doses, 1)],
        "recoveries": [
            _result(found.recovery, f"recovery/{name}", result.level)
            | {"e_n": found.e_n, "flags": [_flag(flag) for flag in found.flags]}
            for name, found in result.recoveries.items()
        ],
        "calibrations": [
            _result(volume, f"calibration/{name}/{volume.label}", result.level)
            | {"date": found.date, "flags": [_flag(flag) for flag in found.flags]}
            for name, found in result.calibrations.items()
            for volume in found.found()
        ],
        "controls": [_chart(chart, f"control/{name}") for name, chart in result.controls.items()],
    }
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=2)


def _result(estimate: Estimate, name: str, level: float) -> Json:
    interval = estimate.interval(level)
    return {
        "name": name,
        "label": estimate.label,
        "value": estimate.value,
        "standard_uncertainty": estimate.u,
        "unit": estimate.unit,
        "degrees_of_freedom": None if math.isinf(estimate.dof) else estimate.dof,
        "interval": {"low": interval.low, "high": interval.high, "level": level},
        "coverage_factor": estimate.coverage_factor(level),
        "coverage_degrees_of_freedom": None if math.isinf(estimate.coverage_dof) else estimate.coverage_dof,
        "ids": sorted(estimate.influences),
        "contributions": [
            {"label": line.label, "standard_uncertainty": line.contribution, "ids": list(line.ids)}
            for line in estimate.budget().lines
        ],
        "flags": [_flag(flag) for flag in estimate.flags],
    }


def _chart(chart: ControlChart, name: str) -> Json:
    limits = chart.limits
    return {
        "name": name,
        "quantity": chart.quantity,
        "unit": chart.unit,
        "values": list(chart.values),
        "baseline": chart.baseline,
        "centre": limits.centre,
        "lower": limits.lower,
        "upper": limits.upper,
        "interim": limits.interim,
        "rules": list(chart.rules),
        "signals": [{"rule": signal.rule, "at": list(signal.at)} for signal in chart.signals],
        "flags": [_flag(flag) for flag in chart.flags],
        "spread": None if chart.spread is None else _chart(chart.spread, f"{name}/spread"),
    }


def _link(link: Link, level: float) -> Json:
    return _result(link.estimate, f"titrant/{link.name}", level) | {"traceability": dict(link.facts)}


def _dose(dose: Dose, name: str, level: float) -> Json:
    return {
        "name": name,
        "reagent": dose.reagent,
        "deliver": dose.required.label,
        "required": _result(dose.required, f"{name}/required", level),
        "limit": None if dose.limit is dose.required else _result(dose.limit, f"{name}/limit", level),
        "strength": _result(dose.strength, f"{name}/strength", level),
        "into": dose.into,
        "dispenser": dose.dispenser,
        "assurance": dose.assurance,
        "portions": dose.portions,
        "spare": dose.spare,
        "binding": dose.binding,
        "volumes": [_volume(volume, name, level) for volume in dose.volumes],
        "by_label": None if dose.by_label is None else _result(dose.by_label, f"{name}/by label", level),
        "cautions": list(dose.cautions()),
        "flags": [_flag(flag) for flag in dose.flags],
    }


def _volume(volume: DosedVolume, name: str, level: float) -> Json:
    return {
        "kind": volume.kind,
        "volume": volume.volume,
        "volume_unit": "L",
        "fillings": volume.fills,
        "delivered": _result(volume.delivered, f"{name}/{volume.kind}", level),
        "probability_below": volume.below,
        "probability_above": volume.above,
        "probability_any_below": volume.any_below,
        "probability_any_above": volume.any_above,
    }


def _flag(flag: Flag) -> Json:
    return {"code": flag.code, "message": flag.message, "blocking": flag.blocking, "accepted": flag.accepted}
