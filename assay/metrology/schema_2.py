"""Files of schema 2: every influence, joint, flag and repeated text once, and results that refer to them by place.

A document is a JSON object. Its lists have one row for each thing, and what stands where in a row is told by the
document itself, in ``columns``:

- ``texts``, ``folders``, ``facts``, ``quantities`` and ``evaluations`` hold what several rows have in common, which
  refer to it by place. An id is a folder (``null`` for none) and a text: ``lot/A17`` and ``purity``.
- ``results``: each brings the joints and the influences that no result before it has; all results count them on. A
  member of a joint has the place of the joint, its place in the joint and its label; any other influence has its facts.
  An estimate has the derivatives by its influences, and the places of these. What belongs to several results, such as
  their titrant, stands once, in ``parts``.
- ``null`` stands for infinite degrees of freedom, for a limit that a truncated normal does not have, and for no parts
  or flags.

What was not computed from something else is marked as an input; it is itself again when it is read.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from assay.errors import AssayError, DataError
from assay.flags import Flag
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.identity import same_facts, same_joint
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

Row: TypeAlias = list[Any]
Json: TypeAlias = dict[str, Any]

COLUMNS: Mapping[str, str] = {
    "evaluations": "shape, dof, kind, source",
    "facts": "key and text of each",
    "flags": "code, message, blocking, accepted",
    "quantities": "quantity, unit, is input",
    "parts": "quantity, label, value, derivatives, places, flags",
    "results": "name, joints, influences, kind, facts, parts (name and part of each), and as for parts",
    "joint": "folder, name, label, members (folder and name of each), values, covariance (row by row), evaluation",
    "member": "joint, place, label",
    "influence": "folder, name, label, value, u, evaluation, parameters, joint",
}
as_json = json.JSONEncoder(
    allow_nan=False, ensure_ascii=False, sort_keys=True, separators=(",", ":"), default=float, check_circular=False
).encode
#: Length of the row of a member of a joint, by which it is told from other influences.
MEMBER = len(COLUMNS["member"].split(","))
_REMEDY = "It was not made by this library: save the results again from where they were obtained."


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
        self._evaluations = [
            (shape, _number(dof), kind, source) for shape, dof, kind, source in document["evaluations"]
        ]
        self._facts = [[self._texts[place] for place in row] for row in document["facts"]]
        self._quantities: list[Row] = document["quantities"]
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
        self._part_rows: list[Row] = document["parts"]
        self._parts: dict[int, Estimate] = {}
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
            except AssayError:  # a value that the library would not have taken either
                raise
            except (LookupError, TypeError, ValueError):
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
        if len(row) != MEMBER:
            return self._id(row[0], row[1])
        members = self._joint_rows[row[0]][3]
        return self._id(members[2 * row[1]], members[2 * row[1] + 1])

    def _entry(self, row: Row) -> Entry:
        _name, _joints, _influences, kind, facts, parts, *estimate = row
        return Entry(
            kind=self._texts[kind],
            facts=dict(_pairs(self._facts[facts])),
            estimate=self._estimate(estimate),
            parts={self._texts[name]: self._part(place) for name, place in _pairs(parts or ())},
        )

    def _part(self, place: int) -> Estimate:
        known = self._parts.get(place)
        return known or self._parts.setdefault(place, self._estimate(self._part_rows[place]))

    def _estimate(self, row: Row) -> Estimate:
        quantity, label, value, derivatives, places, flags = row
        name, unit, is_input = self._quantities[quantity]
        ids = [self._ids[place] for place in places]
        return Estimate(
            name=name,
            label=label,
            unit=unit,
            value=value,
            sensitivities=dict(zip(ids, derivatives, strict=True)),
            influences={id_: self._influence(place) for id_, place in zip(ids, places, strict=True)},
            flags=tuple(self._flags[place] for place in flags or ()),
            reloaded=not is_input,
        )

    def _influence(self, place: int) -> Influence:
        known = self._influences.get(place)
        return known if known is not None else self._influences.setdefault(place, self._new_influence(place))

    def _new_influence(self, place: int) -> Influence:
        row = self._rows[place]
        if len(row) == MEMBER:
            return _member(self._joint(row[0]), row[1], row[2])
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
        n = len(values)
        return Joint(
            id=self._joint_ids[place],
            label=label,
            member_ids=tuple(self._id(folder, name) for folder, name in _pairs(members)),
            values=tuple(values),
            covariance=tuple(tuple(covariance[k : k + n]) for k in range(0, n * n, n)),
            shape=shape,
            dof=dof,
            kind=kind,
            source=source,
        )


def _member(joint: Joint, place: int, label: str) -> Influence:
    return Influence(
        id=joint.member_ids[place],
        label=label,
        value=joint.values[place],
        u=math.sqrt(joint.covariance[place][place]),
        shape=joint.shape,
        dof=joint.dof,
        kind=joint.kind,
        source=joint.source,
        joint=joint,
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
