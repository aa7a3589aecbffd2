"""What is saved, as the rows of a document of schema 2, which `schema_2` describes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from assay.flags import Flag
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.identity import same_facts, same_joint
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.schema_2 import Row, as_json


class _Writer:
    """Gives everything that is saved its place, in the order in which it is met."""

    def __init__(self) -> None:
        self.texts: dict[str, int] = {}
        self.folders: dict[str, int] = {}
        self.facts: dict[tuple[tuple[str, str], ...], int] = {}
        self.flags: dict[Flag, int] = {}
        self.quantities: dict[tuple[str, str, bool], int] = {}
        self.evaluations: dict[tuple[str, float, str, str], int] = {}
        # Things and their places in two dictionaries: a hundred thousand pairs would keep the garbage collector busy.
        self.joints: dict[str, Joint] = {}
        self.joint_places: dict[str, int] = {}
        self.influences: dict[str, Influence] = {}
        self.places: dict[str, int] = {}
        self.parts: dict[int, tuple[Estimate, int]] = {}
        self.part_rows: list[str] = []
        self.new_joints: list[Row] = []
        self.new_influences: list[Row] = []

    def text(self, text: str) -> int:
        return self.texts.setdefault(text, len(self.texts))

    def id(self, id_: str) -> tuple[int | None, int]:
        folder, slash, name = id_.rpartition("/")
        return self.folders.setdefault(folder, len(self.folders)) if slash else None, self.text(name)

    def evaluation(self, of: Influence | Joint) -> int:
        return self.evaluations.setdefault((of.shape, of.dof, of.kind, of.source), len(self.evaluations))

    def entry(self, name: str, entry: Entry) -> str:
        """Return the row of a result as text, since small lists that stay would keep the garbage collector busy."""
        self.new_joints, self.new_influences = [], []
        facts = self.facts.setdefault(tuple(entry.facts.items()), len(self.facts))
        parts = [x for key, part in entry.parts.items() for x in (self.text(key), self.part(part))]
        row: Row = [name, self.new_joints, self.new_influences, self.text(entry.kind), facts, parts or None]
        return as_json(row + self.estimate(entry.estimate))

    def part(self, part: Estimate) -> int:
        """Return the place of a part, which is the same one for all results that have the same object."""
        known = self.parts.get(id(part))
        if known is None:
            known = self.parts[id(part)] = part, len(self.parts)
            self.part_rows.append(as_json(self.estimate(part)))
        return known[1]

    def estimate(self, estimate: Estimate) -> Row:
        influences, sensitivities = estimate.influences, estimate.sensitivities
        in_order = list(sensitivities) == list(influences)
        is_input = estimate.kernel is None and not estimate.reloaded
        quantity = estimate.name, estimate.unit, is_input
        return [
            self.quantities.setdefault(quantity, len(self.quantities)),
            estimate.label,
            estimate.value,
            list(sensitivities.values()) if in_order else [sensitivities[id_] for id_ in influences],
            self.places_of(influences),
            [self.flags.setdefault(flag, len(self.flags)) for flag in estimate.flags] or None,
        ]

    def places_of(self, influences: Mapping[str, Influence]) -> list[int]:
        given = list(influences.values())
        known = list(map(self.influences.get, influences))
        if known != given:  # all that was met before is compared in one go: mostly it is the same object
            for one, influence in zip(known, given, strict=True):
                if one is None:
                    self.add(influence)
                else:
                    same_facts(one, influence)
        return list(map(self.places.__getitem__, influences))

    def add(self, influence: Influence) -> None:
        self.places[influence.id] = len(self.places)
        self.influences[influence.id] = influence
        self.new_influences.append(self.influence_row(influence))

    def influence_row(self, influence: Influence) -> Row:
        joint = influence.joint
        place = None if joint is None else self.joint(joint)
        if joint is not None:
            member = joint.member_ids.index(influence.id)
            if _is_plain_member(influence, joint, member):
                return [place, member, influence.label]
        folder, name = self.id(influence.id)
        row: Row = [folder, name, influence.label, influence.value, influence.u, self.evaluation(influence)]
        if influence.parameters or joint is not None:
            row += [[_finite(p) for p in influence.parameters], place]
        return row

    def joint(self, joint: Joint) -> int:
        place = self.joint_places.get(joint.id)
        if place is not None:
            same_joint(self.joints[joint.id], joint)
            return place
        place = self.joint_places[joint.id] = len(self.joints)
        self.joints[joint.id] = joint
        members = [x for id_ in joint.member_ids for x in self.id(id_)]
        covariance = [x for row in joint.covariance for x in row]
        folder, name = self.id(joint.id)
        self.new_joints.append([folder, name, joint.label, members, joint.values, covariance, self.evaluation(joint)])
        return place


def lists_of(entries: Mapping[str, Entry]) -> tuple[dict[str, list[str]], Iterable[str]]:
    """Return the lists of a document that holds these results, each row as JSON, and the ids of all influences.

    Raises
    ------
    DataError
        If one influence id or one joint id stands for two sets of facts.
    ValueError
        If a number is not finite.

    """
    writer = _Writer()
    results = [writer.entry(name, entry) for name, entry in entries.items()]
    lists: dict[str, Iterable[object]] = {
        "evaluations": [[shape, _finite(dof), kind, source] for shape, dof, kind, source in writer.evaluations],
        "facts": [[writer.text(text) for pair in facts for text in pair] for facts in writer.facts],
        "flags": [[f.code, f.message, f.blocking, f.accepted] for f in writer.flags],
        "folders": writer.folders,
        "quantities": writer.quantities,
        "texts": writer.texts,
    }
    rows = {name: [as_json(row) for row in rows] for name, rows in lists.items()}
    return {**rows, "parts": writer.part_rows, "results": results}, writer.influences.keys()


def _is_plain_member(influence: Influence, joint: Joint, member: int) -> bool:
    """Return whether an influence says nothing that the joint does not say, but for its label."""
    return (
        influence.value == joint.values[member]
        and influence.u == math.sqrt(joint.covariance[member][member])
        and (influence.shape, influence.dof, influence.kind, influence.source, influence.parameters)
        == (joint.shape, joint.dof, joint.kind, joint.source, ())
    )


def _finite(x: float) -> float | None:
    return float(x) if math.isfinite(x) else None
