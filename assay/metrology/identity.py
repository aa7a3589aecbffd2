"""When two influences are one: the same id, and the same facts under it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping

from assay.errors import DataError
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

_UNNAMED = "unnamed-"


def fresh_id(kind: str) -> str:
    """Return an id that nothing else has: for a thing without a name, which cannot be recognised again."""
    return f"{kind}/{_UNNAMED}{uuid.uuid4().hex[:12]}"


def is_fresh(id_: str) -> bool:
    """Return whether an id is that of a thing without a name."""
    return id_.rpartition("/")[2].startswith(_UNNAMED)


def path_part(text: str, *, argument: str) -> str:
    """Return a name as one part of an id, without surrounding space.

    Raises
    ------
    DataError
        If it is no text, is empty or contains a slash or a line break.

    """
    given: object = text
    if not isinstance(given, str):
        raise DataError("a name is text", argument=argument, given=given, remedy=f"Write {str(given)!r} in quotes.")
    part = text.strip()
    if not part or "/" in part or "\n" in part:
        raise DataError(
            "a name is one or more characters without a slash or a line break",
            argument=argument,
            given=text,
            remedy="Write a plain name such as 'B1'.",
        )
    return part


def same_facts(known: Influence, other: Influence) -> None:
    """Raise `DataError` if one id stands for two different sets of facts.

    Raises
    ------
    DataError
        Naming the id and both sets of facts.

    """
    if known is other or known.facts == other.facts:
        return
    described = [
        f"value {i.value:.9g}, u {i.u:.6g}, {i.shape}, {i.dof:g} degrees of freedom ({i.label or 'no label'})"
        for i in (known, other)
    ]
    raise DataError(
        f"two different influences have this id: {described[0]}; and {described[1]}.",
        argument="id",
        given=known.id,
        remedy="Use one description everywhere; after a recalibration put its date into the name.",
    )


def same_joint(known: Joint, other: Joint) -> Joint:
    """Return the joint, or raise `DataError` if one id stands for two different joints.

    Raises
    ------
    DataError
        Naming the id and both labels.

    """
    if known is not other and known.facts != other.facts:
        described = [
            f"{j.label or 'no label'}, {len(j.member_ids)} members, {j.source or 'no source'}" for j in (known, other)
        ]
        raise DataError(
            f"two different joints have this id: {described[0]}; and {described[1]}.",
            argument="id",
            given=known.id,
            remedy="Use one description everywhere; after a recalibration put its date into the name.",
        )
    return known


def shared_influences(groups: Iterable[Mapping[str, Influence]]) -> dict[str, Influence]:
    """Return all influences of several results by id.

    Raises
    ------
    DataError
        If an id stands for two sets of facts.

    """
    found: dict[str, Influence] = {}
    joints: dict[str, Joint] = {}
    for group in groups:
        for id_, influence in group.items():
            same_facts(found.setdefault(id_, influence), influence)
            if influence.joint is not None:
                same_joint(joints.setdefault(influence.joint.id, influence.joint), influence.joint)
    return found
