"""The text of a sheet, and where in it everything stands: messages name table, key and line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from assay.errors import SheetError

#: Path of a table or key, with the number of an array's item where there is one: ("dose", 0, "into").
Path: TypeAlias = "tuple[str | int, ...]"

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"""^\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=""")
_PART = re.compile(r""""([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+)""")
_STRING = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'')
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A sheet as text and as data.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    text : str
        The text.
    data : dict
        What it says.
    lines : dict
        Line of each table and key, by path.

    """

    name: str
    text: str
    data: dict[str, Any]
    lines: dict[Path, int] = field(default_factory=dict)

    def line_of(self, path: Path, given: object = None) -> int:
        """Return the line of a key, or that of a text within its value if it stands on a later line."""
        line = next((self.lines[path[:k]] for k in range(len(path), 0, -1) if path[:k] in self.lines), 1)
        if isinstance(given, str) and given:
            following = [other for other in self.lines.values() if other > line]
            end = min(following, default=len(self.text.splitlines()) + 1)
            for number, content in enumerate(self.text.splitlines()[line - 1 : end - 1], line):
                if given in content:
                    return number
        return line

    def error(
        self, path: Path, problem: str, *, given: object = None, expected: str = "", remedy: str = ""
    ) -> SheetError:
        """Return an error that names file, line, table and key."""
        where = f"{self.name}, line {self.line_of(path, given)}, {shown(path)}"
        return SheetError(problem, argument=where, given=given, expected=expected, remedy=remedy)


def shown(path: Path) -> str:
    """Return a path as a person reads it.

    Examples
    --------
    >>> shown(("dose", 0, "into")), shown(("assay",)), shown(("date",))
    ('[[dose]] 1, key into', '[assay]', 'key date')

    """
    if len(path) == 1:
        return f"[{path[0]}]" if path[0] in _TABLES else f"key {path[0]}"
    *table, key = path
    if isinstance(key, int):
        return f"[[{'.'.join(str(part) for part in table)}]] {key + 1}"
    names = [str(part) for part in table if isinstance(part, str)]
    numbers = [part + 1 for part in table if isinstance(part, int)]
    if not names:
        return f"key {key}"
    if names == ["instruments"]:
        return f"[instruments.{key}]"
    bracketed = f"[[{'.'.join(names)}]] {numbers[-1]}" if numbers else f"[{'.'.join(names)}]"
    return f"{bracketed}, key {key}"


_TABLES = {"instruments", "standardisation", "assay", "dose"}


def parsed(text: str, name: str) -> Source:
    """Return a sheet's text as data.

    Raises
    ------
    SheetError
        If it is not TOML, or a key is repeated; the message names the line.

    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), text, name) from None
    return Source(name=name, text=text, data=data, lines=dict(_located(text)))


def _syntax_error(message: str, text: str, name: str) -> SheetError:
    match = _AT_LINE.search(message)
    lines = text.splitlines()
    number = min(int(match.group(1)), max(len(lines), 1)) if match else len(lines)
    content = lines[number - 1].strip() if lines else ""
    reason = _AT_LINE.sub("", message).replace("(at end of document)", "at the end of the file").strip()
    if "overwrite" in reason or "twice" in reason or "already" in reason or "mutate" in reason:
        problem, remedy = (
            "this key or table stands here a second time.",
            "Keep one of the two; TOML keys are written once.",
        )
    else:
        problem = f"this is not TOML: {reason[:1].lower()}{reason[1:]}."
        remedy = "Texts and readings stand in double quotes, lists in [square brackets], one key on each line."
    return SheetError(problem, argument=f"{name}, line {number}", given=content, remedy=remedy)


def _located(text: str) -> Iterator[tuple[Path, int]]:
    """Yield path and line of each table header and key; the text is known to be valid."""
    table: Path = ()
    counts: dict[Path, int] = {}
    depth = 0
    for number, raw in enumerate(text.splitlines(), 1):
        bare = _STRING.sub('""', raw).split("#", 1)[0]
        if depth == 0:
            header = _HEADER.match(bare if '"' not in bare else raw)
            key = _KEY.match(raw)
            if header is not None and key is None:
                table = _table_path(header, counts)
                yield table, number
                continue
            if key is not None:
                yield (*table, *_parts(key.group(1))), number
        depth += sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")


def _table_path(header: re.Match[str], counts: dict[Path, int]) -> Path:
    path: Path = ()
    names = _parts(header.group(2))
    for k, name in enumerate(names):
        path = (*path, name)
        if k == len(names) - 1 and header.group(1) == "[[":
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(next(part for part in match.groups() if part is not None) for match in _PART.finditer(dotted))
