"""Files of schema 1: they are read for ever, and no longer written."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

from assay.errors import DataError
from assay.flags import Flag
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.identity import same_facts, same_joint
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

Json: TypeAlias = dict[str, Any]


def entries_of(document: Json, where: str) -> dict[str, Entry]:
    """Return the results of a document of schema 1, by name.

    Raises
    ------
    DataError
        If one influence id or one joint id has two sets of facts, or two results have one name.
    KeyError, TypeError
        If a part is missing.

    """
    joints: dict[str, Joint] = {}
    for raw in document["joints"]:
        joint = _joint(raw)
        same_joint(joints.setdefault(joint.id, joint), joint)
    influences: dict[str, Influence] = {}
    for raw in document["influences"]:
        influence = _influence(raw, joints)
        same_facts(influences.setdefault(influence.id, influence), influence)
    entries: dict[str, Entry] = {}
    for raw in document["results"]:
        if raw["name"] in entries:
            raise DataError(
                f"two results have the name {raw['name']!r}",
                argument=where,
                remedy="It was not made by this library: save the results again from where they were obtained.",
            )
        entries[raw["name"]] = _entry(raw, influences)
    return entries


def _dof(raw: float | None) -> float:
    return math.inf if raw is None else float(raw)


def _influence(raw: Json, joints: Mapping[str, Joint]) -> Influence:
    return Influence(
        **{
            **raw,
            "dof": _dof(raw["dof"]),
            "joint": None if raw["joint"] is None else joints[raw["joint"]],
            "parameters": tuple(_parameter(p, k) for k, p in enumerate(raw.get("parameters", ()))),
        }
    )


def _parameter(raw: float | None, place: int) -> float:
    """Return a parameter of a shape; the limits of a truncated normal may be infinite, the first of them downwards."""
    return float(raw) if raw is not None else (math.inf if place else -math.inf)


def _joint(raw: Json) -> Joint:
    return Joint(
        **{
            **raw,
            "member_ids": tuple(raw["member_ids"]),
            "values": tuple(raw["values"]),
            "covariance": tuple(tuple(row) for row in raw["covariance"]),
            "dof": _dof(raw["dof"]),
        }
    )


def _entry(raw: Json, influences: Mapping[str, Influence]) -> Entry:
    parts = {part: _estimate(one, influences) for part, one in raw.get("parts", {}).items()}
    return Entry(kind=raw["kind"], facts=raw["facts"], estimate=_estimate(raw, influences), parts=parts)


def _estimate(raw: Json, influences: Mapping[str, Influence]) -> Estimate:
    return Estimate(
        name=raw["quantity"],
        label=raw["label"],
        unit=raw["unit"],
        value=raw["value"],
        sensitivities=raw["sensitivities"],
        influences={id_: influences[id_] for id_ in raw["sensitivities"]},
        flags=_flags(raw["flags"]),
        reloaded=True,
    )


def _flags(raw: Iterable[Json]) -> tuple[Flag, ...]:
    return tuple(Flag(**flag) for flag in raw)
