"""Run every notebook from top to bottom in a fresh kernel, warnings as errors; nothing is written back.

python .ci/notebooks.py            run them; fail if one raises, or if one holds stored outputs
python .ci/notebooks.py FOLDER     the same, and put each with its outputs into FOLDER, to be looked at
"""

from __future__ import annotations

import ast
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nbformat import NotebookNode

ROOT = Path(__file__).resolve().parent.parent
NOTEBOOKS = ROOT / "notebooks"
SECONDS = 300
# The kernel's own warnings, at its start and its end, are not the notebook's.
_FIRST = "import warnings\nwarnings.simplefilter('error')"
_LAST = "warnings.simplefilter('ignore')"


def faults(notebook: NotebookNode) -> list[str]:
    """Return what a notebook must not hold: outputs and counts of an earlier run, imports beyond the public names."""
    found = []
    for place, cell in enumerate(notebook.cells, start=1):
        if cell.cell_type != "code":
            continue
        if cell.outputs or cell.execution_count is not None:
            found.append(f"cell {place} holds outputs or a count of an earlier run: clear them before it is stored")
        found += [f"cell {place} imports {name}" for name in imported(cell.source) if not public(name)]
    return found


def imported(source: str) -> list[str]:
    """Return the dotted names that a cell imports."""
    names = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names.append(f"{node.module}")
    return names


def public(name: str) -> bool:
    """Return whether a reader may import this: ``assay`` but none of its rooms, matplotlib, chance, means, files."""
    return name in {"assay", "random", "pathlib", "statistics", "tempfile"} or name.partition(".")[0] == "matplotlib"


def run(path: Path, copies: Path | None) -> list[str]:
    """Run one notebook; return what is wrong with it."""
    import nbformat
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
    from traitlets.config import Config

    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    if wrong := faults(notebook):
        return wrong
    story = notebook.cells
    notebook.cells = [nbformat.v4.new_code_cell(_FIRST), *story, nbformat.v4.new_code_cell(_LAST)]
    client = NotebookClient(
        notebook,
        timeout=SECONDS,
        kernel_name="python3",
        resources={"metadata": {"path": str(ROOT)}},
        config=Config({"KernelManager": {"transport": "ipc"}}),
    )
    try:
        client.execute()
    except (CellExecutionError, CellTimeoutError, DeadKernelError) as error:
        return [str(error)]
    if copies is not None:
        notebook.cells = story
        nbformat.write(notebook, copies / path.name)
    return []


def main(copies: Path | None) -> int:
    """Run all of them; return the exit status."""
    paths = sorted(NOTEBOOKS.glob("*.ipynb"))
    if not paths:
        print("there is no notebook")
        return 1
    worst = 0
    for path in paths:
        start = time.monotonic()
        wrong = run(path, copies)
        print(f"{path.name}: {'FAILED' if wrong else 'passed'}, {time.monotonic() - start:.0f} s", flush=True)
        print(*wrong, sep="\n", end="\n" if wrong else "")
        worst = worst or int(bool(wrong))
    return worst


def alone(folder: str) -> None:
    """Keep the kernel to this interpreter and this folder: no settings, kernels or histories of the user."""
    for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR", "MPLCONFIGDIR"):
        os.environ[name] = folder
    os.environ["JUPYTER_PLATFORM_DIRS"] = "1"
    os.environ.pop("MPLBACKEND", None)


if __name__ == "__main__":
    if len(sys.argv) > 2:  # noqa: PLR2004  (the program and one folder)
        sys.exit(__doc__)
    with tempfile.TemporaryDirectory(prefix="assay-notebooks-") as scratch:
        alone(scratch)
        sys.exit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else None))
