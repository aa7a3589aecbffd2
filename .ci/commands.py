"""Print the commands that the documents give, so that CI runs what a reader copies.

python .ci/commands.py block README.md "Test it"      the one fenced sh block under that heading
python .ci/commands.py table DEVELOPERS.md "Checks"   name, tab, command: one line for each row of the table there
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

_ROW = re.compile(r"^\|\s*`?(?P<name>[\w-]+)`?\s*\|\s*`(?P<command>[^`]+)`\s*\|", re.MULTILINE)
_BLOCK = re.compile(r"^```sh\n(?P<block>.*?)\n```$", re.MULTILINE | re.DOTALL)


def section(document: str, heading: str) -> str:
    """Return what stands under a second-level heading, up to the next one."""
    found = re.split(rf"^## {re.escape(heading)}\s*$", document, maxsplit=1, flags=re.MULTILINE)
    if len(found) == 1:
        message = f"no heading '## {heading}'"
        raise LookupError(message)
    return re.split(r"^## ", found[1], maxsplit=1, flags=re.MULTILINE)[0]


def block(document: str, heading: str) -> str:
    """Return the text of the only fenced ``sh`` block under a heading."""
    blocks = [match["block"] for match in _BLOCK.finditer(section(document, heading))]
    if len(blocks) != 1:
        message = f"'## {heading}' has {len(blocks)} fenced sh blocks where there must be one"
        raise LookupError(message)
    return blocks[0]


def table(document: str, heading: str) -> list[tuple[str, str]]:
    """Return name and command of each table row under a heading that has a command in its second column."""
    rows = [(match["name"], match["command"]) for match in _ROW.finditer(section(document, heading))]
    if not rows:
        message = f"'## {heading}' has no table row with a command"
        raise LookupError(message)
    return rows


def main(what: str, path: str, heading: str) -> None:
    """Print the block or the table."""
    document = Path(path).read_text(encoding="utf-8")
    if what == "block":
        print(block(document, heading))
    else:
        for name, command in table(document, heading):
            print(name, command, sep="\t")


if __name__ == "__main__":
    main(*sys.argv[1:])
