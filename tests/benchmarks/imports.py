"""What importing costs, in a new process each time."""

from __future__ import annotations

import subprocess
import sys


def _seconds(statement: str) -> float:
    code = f"import time; start = time.perf_counter(); {statement}; print(time.perf_counter() - start)"
    return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)


def ours() -> float:
    """Return the seconds that ``import assay`` takes."""
    return _seconds("import assay")


def peer() -> float:
    """Return the seconds that the packages it stands on take."""
    return _seconds("import numpy, pint, uncertainties")
