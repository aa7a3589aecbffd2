"""The saved form of results: JSON that keeps numbers exactly and correlation whole."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from typing import Any

from assay.errors import DataError
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence, Joint, same_facts, same_joint, shared_influences

SCHEMA = 1

Json = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One saved result.

    Parameters
    ----------
    kind : str
        What it is: ``"estimate"``, or the kind that another room gives it.
    facts : mapping of str to str
        What that room needs to make it again.
    estimate : Estimate
        The number.
    parts : mapping of str to Estimate
        Other numbers that belong to it, such as a density.

    """

    kind: str
    facts: Mapping[str, str]
    estimate: Estimate
    parts: Mapping[str, Estimate] = field(default_factory=dict)

    @property
    def numbers(self) -> tuple[Estimate, ...]:
        """All numbers that belong to it."""
        return (self.estimate, *self.parts.values())


def encoded(entries: Mapping[str, Entry], *, tables: Mapping[str, str]) -> str:
    """Return results as the text of a file.

    Parameters
    ----------
    entries : mapping of str to Entry
        The results by the names under which they are to be found again.
    tables : mapping of str to str
        The tables in use, by name, with a digest of each.

    Raises
    ------
    DataError
        If one influence id stands for two sets of facts.

    """
    influences = shared_influences(n.influences for entry in entries.values() for n in entry.numbers)
    joints = {i.joint.id: i.joint for i in influences.values() if i.joint is not None}
    document: Json = {
        "schema": SCHEMA,
        "assay_version": version("assay"),
        "tables": dict(sorted(tables.items())),
        "influences": [_influence_out(influences[id_]) for id_ in sorted(influences)],
        "joints": [_joint_out(joints[id_]) for id_ in sorted(joints)],
        "results": [_entry_out(name, entry) for name, entry in entries.items()],
    }
    document["sha256"] = _digest(document)
    return json.dumps(document, allow_nan=False, ensure_ascii=False, indent=1)


def decoded(text: str, *, where: str) -> dict[str, Entry]:
    """Return the results that a file holds, by name.

    They have value, u, degrees of freedom, budget and correlation; the kernels are not saved, so Monte Carlo samples
    their linear form and says so.

    Parameters
    ----------
    text : str
        Text of the file.
    where : str
        Name of the file, for messages.

    Raises
    ------
    DataError
        If the file is cut off, edited, of another schema, or names one influence twice with different facts.

    """
    document = _checked(text, where)
    try:
        return _entries_in(document, where)
    except (KeyError, TypeError):
        raise DataError(
            "a part of the file is missing, although its SHA-256 is right",
            argument=where,
            remedy="It was not made by this library: save the results again from where they were obtained.",
        ) from None


def _entries_in(document: Json, where: str) -> dict[str, Entry]:
    joints: dict[str, Joint] = {}
    for raw in document["joints"]:
        joint = _joint_in(raw)
        same_joint(joints.setdefault(joint.id, joint), joint)
    influences: dict[str, Influence] = {}
    for raw in document["influences"]:
        influence = _influence_in(raw, joints)
        same_facts(influences.setdefault(influence.id, influence), influence)
    entries: dict[str, Entry] = {}
    for raw in document["results"]:
        if raw["name"] in entries:
            raise DataError(f"two results have the name {raw['name']!r}", argument=where)
        entries[raw["name"]] = _entry_in(raw, influences)
    return entries


def _checked(text: str, where: str) -> Json:
    try:
        document = json.loads(text)
        schema, digest = document["schema"], document.pop("sha256")
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise DataError(
            "this is not a whole file of saved results",
            argument=where,
            remedy="It may be cut off or hand-made: save the results again from where they were obtained.",
        ) from None
    if schema != SCHEMA:
        raise DataError(
            f"the file has schema {schema!r}; this version reads schema {SCHEMA}",
            argument=where,
            remedy="Read it with the version that it names in assay_version, or update this one.",
        )
    if not _agrees(document, digest):
        raise DataError(
            "the file was changed after it was saved: its contents no longer have its SHA-256",
            argument=where,
            remedy="Restore it from a copy, or save the results again.",
        )
    return dict(document)


def _agrees(document: Json, digest: object) -> bool:
    try:
        return _digest(document) == digest
    except ValueError:  # NaN, an infinity or half a character, which the library never writes
        return False


def _digest(document: Json) -> str:
    rest = {key: value for key, value in document.items() if key != "sha256"}
    canonical = json.dumps(rest, allow_nan=False, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()


def _finite(dof: float) -> float | None:
    return None if math.isinf(dof) else dof


def _dof(raw: float | None) -> float:
    return math.inf if raw is None else float(raw)


def _influence_out(influence: Influence) -> Json:
    return {
        "id": influence.id,
        "label": influence.label,
        "value": influence.value,
        "u": influence.u,
        "shape": influence.shape,
        "dof": _finite(influence.dof),
        "kind": influence.kind,
        "source": influence.source,
        "joint": None if influence.joint is None else influence.joint.id,
    }


def _influence_in(raw: Json, joints: Mapping[str, Joint]) -> Influence:
    return Influence(
        **{**raw, "dof": _dof(raw["dof"]), "joint": None if raw["joint"] is None else joints[raw["joint"]]}
    )


def _joint_out(joint: Joint) -> Json:
    return {
        "id": joint.id,
        "label": joint.label,
        "member_ids": joint.member_ids,
        "values": joint.values,
        "covariance": joint.covariance,
        "shape": joint.shape,
        "dof": _finite(joint.dof),
        "kind": joint.kind,
        "source": joint.source,
    }


def _joint_in(raw: Json) -> Joint:
    return Joint(
        **{
            **raw,
            "member_ids": tuple(raw["member_ids"]),
            "values": tuple(raw["values"]),
            "covariance": tuple(tuple(row) for row in raw["covariance"]),
            "dof": _dof(raw["dof"]),
        }
    )


def _entry_out(name: str, entry: Entry) -> Json:
    shown = {"name": name, "kind": entry.kind, "facts": dict(entry.facts), **_estimate_out(entry.estimate)}
    if entry.parts:
        shown["parts"] = {part: _estimate_out(estimate) for part, estimate in entry.parts.items()}
    return shown


def _estimate_out(estimate: Estimate) -> Json:
    return {
        "quantity": estimate.name,
        "label": estimate.label,
        "unit": estimate.unit,
        "value": estimate.value,
        "sensitivities": dict(estimate.sensitivities),
        "flags": [
            {"code": f.code, "message": f.message, "blocking": f.blocking, "accepted": f.accepted}
            for f in estimate.flags
        ],
    }


def _entry_in(raw: Json, influences: Mapping[str, Influence]) -> Entry:
    parts = {part: _estimate_in(one, influences) for part, one in raw.get("parts", {}).items()}
    return Entry(kind=raw["kind"], facts=raw["facts"], estimate=_estimate_in(raw, influences), parts=parts)


def _estimate_in(raw: Json, influences: Mapping[str, Influence]) -> Estimate:
    return Estimate(
        name=raw["quantity"],
        label=raw["label"],
        unit=raw["unit"],
        value=raw["value"],
        sensitivities=raw["sensitivities"],
        influences={id_: influences[id_] for id_ in raw["sensitivities"]},
        flags=_flags_in(raw["flags"]),
        reloaded=True,
    )


def _flags_in(raw: Iterable[Json]) -> tuple[Flag, ...]:
    return tuple(Flag(**flag) for flag in raw)
