"""Files of schema 2: every influence, joint, flag and repeated text once, and results that refer to them by place.

A document is a JSON object. Its lists have one row for each thing, and what stands where in a row is told by the
document itself, in ``columns``:

- ``texts``, ``folders``, ``facts`` and ``evaluations`` hold what several rows have in common, which refer to it by
  place. An id is a folder (``null`` for none) and a text: ``lot/A17`` and ``purity``.
- ``results``: each brings the joints and the influences that no result before it has; all results count them on. A
  member of a joint has the place of the joint, its place in the joint and its label; any other influence has its facts.
  An estimate has the derivatives by its influences, and the places of these in runs: 7, 3 stands for 7, 8 and 9.
- ``null`` stands for infinite degrees of freedom, and for a limit that a truncated normal does not have.

What was not computed from something else is marked as an input; it is itself again when it is read.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from assay.errors import DataError
from assay.flags import Flag
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence, Joint, same_facts, same_joint

Row: TypeAlias = list[Any]
Json: TypeAlias = dict[str, Any]

COLUMNS: Mapping[str, str] = {
    "evaluations": "shape, dof, kind, source",
    "facts": "key, text, …",
    "flags": "code, message, blocking, accepted",
    "results": "name, joints, influences, kind, facts, estimate, parts (name, estimate, …)",
    "joint": "folder, name, label, members (folder, name, …), values, covariance, evaluation",
    "member": "joint, place, label",
    "influence": "folder, name, label, value, u, evaluation, parameters, joint",
    "estimate": "quantity, label, unit, value, is input, derivatives, runs, flags",
}
as_json = json.JSONEncoder(
    allow_nan=False, ensure_ascii=False, sort_keys=True, separators=(",", ":"), default=float
).encode
_MEMBER = len(COLUMNS["member"].split(","))
_WITH_PARTS = len(COLUMNS["results"].split(" (", maxsplit=1)[0].split(","))
_REMEDY = "It was not made by this library: save the results again from where they were obtained."


# ------------------------------------------------------------------------------------------------------------- written
class _Writer:
    """Gives everything that is saved its place, in the order in which it is met."""

    def __init__(self) -> None:
        self.texts: dict[str, int] = {}
        self.folders: dict[str, int] = {}
        self.facts: dict[tuple[tuple[str, str], ...], int] = {}
        self.flags: dict[Flag, int] = {}
        self.evaluations: dict[tuple[str, float, str, str], int] = {}
        self.joints: dict[str, tuple[Joint, int]] = {}
        self.influences: dict[str, tuple[Influence, int]] = {}
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
        estimate = self.estimate(entry.estimate)
        row: Row = [name, self.new_joints, self.new_influences, self.text(entry.kind), facts, estimate]
        if entry.parts:
            row.append([x for part, number in entry.parts.items() for x in (self.text(part), self.estimate(number))])
        return as_json(row)

    def estimate(self, estimate: Estimate) -> Row:
        influences, sensitivities = estimate.influences, estimate.sensitivities
        in_order = list(sensitivities) == list(influences)
        is_input = estimate.kernel is None and not estimate.reloaded
        return [
            self.text(estimate.name),
            estimate.label,
            self.text(estimate.unit),
            estimate.value,
            int(is_input),
            list(sensitivities.values()) if in_order else [sensitivities[id_] for id_ in influences],
            self.runs(influences),
            [self.flags.setdefault(flag, len(self.flags)) for flag in estimate.flags],
        ]

    def runs(self, influences: Mapping[str, Influence]) -> list[int]:
        """Return the places of influences as runs of neighbours: the first of each and how many there are."""
        runs: list[int] = []
        following = -1
        for id_, influence in influences.items():
            known, place = self.influences.get(id_) or self.influence(influence)
            if known is not influence:
                same_facts(known, influence)
            if place == following:
                runs[-1] += 1
            else:
                runs += (place, 1)
            following = place + 1
        return runs

    def influence(self, influence: Influence) -> tuple[Influence, int]:
        found = self.influences[influence.id] = influence, len(self.influences)
        self.new_influences.append(self.influence_row(influence))
        return found

    def influence_row(self, influence: Influence) -> Row:
        joint = influence.joint
        place = None if joint is None else self.joint(joint)
        if joint is not None:
            member = joint.member_ids.index(influence.id)
            if _is_plain_member(influence, joint, member):
                return [place, member, influence.label]
        row: Row = [*self.id(influence.id), influence.label, influence.value, influence.u, self.evaluation(influence)]
        if influence.parameters or joint is not None:
            row += [[_finite(p) for p in influence.parameters], place]
        return row

    def joint(self, joint: Joint) -> int:
        known, place = self.joints.get(joint.id) or (joint, len(self.joints))
        if place == len(self.joints):
            self.joints[joint.id] = known, place
            members = [x for id_ in joint.member_ids for x in self.id(id_)]
            row: Row = [*self.id(joint.id), joint.label, members, joint.values, joint.covariance]
            self.new_joints.append([*row, self.evaluation(joint)])
        same_joint(known, joint)
        return place


def lists_of(entries: Mapping[str, Entry]) -> dict[str, list[str]]:
    """Return the lists of a document that holds these results, each row as JSON.

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
        "texts": writer.texts,
    }
    return {**{name: [as_json(row) for row in rows] for name, rows in lists.items()}, "results": results}


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


# ---------------------------------------------------------------------------------------------------------------- read
class Entries(Mapping[str, Entry]):
    """The results of a document of schema 2; each is made when it is asked for, and then kept.

    Raises
    ------
    DataError
        If an id stands for two sets of facts or stands twice, or two results have one name.
    LookupError, TypeError, ValueError
        If a part is missing.

    """

    def __init__(self, document: Json, where: str) -> None:
        self._where = where
        self._texts: list[str] = document["texts"]
        self._folders: list[str] = document["folders"]
        self._evaluations = [(shape, _number(dof), kind, source) for shape, dof, kind, source in document["evaluations"]]
        self._facts = [[self._texts[place] for place in row] for row in document["facts"]]
        self._flags = [_flag(row) for row in document["flags"]]
        rows: list[Row] = document["results"]
        self._results: dict[str, Row] = {row[0]: row for row in rows}
        if len(self._results) != len(rows):
            name = next(_repeated(row[0] for row in rows))
            raise DataError(f"two results have the name {name!r}", argument=where, remedy=_REMEDY)
        self._joint_rows = [joint for row in rows for joint in row[1]]
        self._rows = [influence for row in rows for influence in row[2]]
        self._joints: dict[int, Joint] = {}
        self._influences: dict[int, Influence] = {}
        self._made: dict[str, Entry] = {}
        self._joint_ids = [self._id(row[0], row[1]) for row in self._joint_rows]
        self._ids = [self._id_of_row(row) for row in self._rows]
        self._check_joints()
        self._check_influences()
        self.kinds = frozenset(self._texts[place] for place in {row[3] for row in rows})

    def __len__(self) -> int:
        return len(self._results)

    def __iter__(self) -> Iterator[str]:
        return iter(self._results)

    def __contains__(self, name: object) -> bool:
        return name in self._results

    def __getitem__(self, name: str) -> Entry:
        if name not in self._made:
            row = self._results[name]
            try:
                entry = self._entry(row)
            except (LookupError, TypeError, ValueError) as error:
                if isinstance(error, DataError):
                    raise
                raise DataError(
                    f"the result {name!r} is not whole, although the SHA-256 of the file is right",
                    argument=self._where,
                    remedy=_REMEDY,
                ) from None
            # Of two threads that make it at once, both get the one that was kept first.
            self._made.setdefault(name, entry)
        return self._made[name]

    def _check_joints(self) -> None:
        for first, second in _twice(self._joint_ids):
            same_joint(self._joint(first), self._joint(second))
            raise DataError("a joint stands twice", argument=self._where, given=self._joint_ids[first], remedy=_REMEDY)

    def _check_influences(self) -> None:
        for first, second in _twice(self._ids):
            same_facts(self._influence(first), self._influence(second))
            raise DataError("an influence stands twice", argument=self._where, given=self._ids[first], remedy=_REMEDY)

    def _id(self, folder: int | None, name: int) -> str:
        return self._texts[name] if folder is None else f"{self._folders[folder]}/{self._texts[name]}"

    def _id_of_row(self, row: Row) -> str:
        if len(row) != _MEMBER:
            return self._id(row[0], row[1])
        members = self._joint_rows[row[0]][3]
        return self._id(members[2 * row[1]], members[2 * row[1] + 1])

    def _entry(self, row: Row) -> Entry:
        _name, _joints, _influences, kind, facts, estimate = row[: _WITH_PARTS - 1]
        parts = row[_WITH_PARTS - 1] if len(row) == _WITH_PARTS else []
        return Entry(
            kind=self._texts[kind],
            facts=dict(_pairs(self._facts[facts])),
            estimate=self._estimate(estimate),
            parts={self._texts[part]: self._estimate(one) for part, one in _pairs(parts)},
        )

    def _estimate(self, row: Row) -> Estimate:
        quantity, label, unit, value, is_input, derivatives, runs, flags = row
        places = [place for first, n in _pairs(runs) for place in range(first, first + n)]
        ids = [self._ids[place] for place in places]
        return Estimate(
            name=self._texts[quantity],
            label=label,
            unit=self._texts[unit],
            value=value,
            sensitivities=dict(zip(ids, derivatives, strict=True)),
            influences={id_: self._influence(place) for id_, place in zip(ids, places, strict=True)},
            flags=tuple(self._flags[place] for place in flags),
            reloaded=not is_input,
        )

    def _influence(self, place: int) -> Influence:
        known = self._influences.get(place)
        return known if known is not None else self._influences.setdefault(place, self._new_influence(place))

    def _new_influence(self, place: int) -> Influence:
        row = self._rows[place]
        if len(row) == _MEMBER:
            joint = self._joint(row[0])
            return replace(joint.members()[row[1]], label=row[2])
        _folder, _name, label, value, u, evaluation, *more = row
        shape, dof, kind, source = self._evaluations[evaluation]
        parameters, of = more or ((), None)
        return Influence(
            id=self._ids[place],
            label=label,
            value=value,
            u=u,
            shape=shape,
            dof=dof,
            kind=kind,
            source=source,
            joint=None if of is None else self._joint(of),
            parameters=tuple(_number(p, below=k == 0) for k, p in enumerate(parameters)),
        )

    def _joint(self, place: int) -> Joint:
        known = self._joints.get(place)
        return known if known is not None else self._joints.setdefault(place, self._new_joint(place))

    def _new_joint(self, place: int) -> Joint:
        _folder, _name, label, members, values, covariance, evaluation = self._joint_rows[place]
        shape, dof, kind, source = self._evaluations[evaluation]
        return Joint(
            id=self._joint_ids[place],
            label=label,
            member_ids=tuple(self._id(folder, name) for folder, name in _pairs(members)),
            values=tuple(values),
            covariance=tuple(tuple(row) for row in covariance),
            shape=shape,
            dof=dof,
            kind=kind,
            source=source,
        )


def _flag(row: Row) -> Flag:
    code, message, blocking, accepted = row
    return Flag(code=code, message=message, blocking=blocking, accepted=accepted)


def _number(raw: float | None, *, below: bool = False) -> float:
    """Return a number, or the infinity that ``null`` stands for: a lower limit lies below everything."""
    return float(raw) if raw is not None else (-math.inf if below else math.inf)


def _pairs(flat: Sequence[Any]) -> Iterator[tuple[Any, Any]]:
    return zip(flat[::2], flat[1::2], strict=True)


def _repeated(names: Iterable[str]) -> Iterator[str]:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            yield name
        seen.add(name)


def _twice(ids: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Yield the places of an id that stands twice."""
    if len(set(ids)) < len(ids):
        for id_ in _repeated(ids):
            first = ids.index(id_)
            yield first, ids.index(id_, first + 1)
