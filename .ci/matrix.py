"""Run the tests in clean environments of their own, one for each CPython on this machine.

python .ci/matrix.py newest   the newest dependencies that pyproject.toml allows, on every CPython found
python .ci/matrix.py oldest   the oldest ones that it allows, on the oldest CPython it allows
python .ci/matrix.py list     say which CPythons were found
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
_ABOUT = (
    "import sys, json, ensurepip, venv; "
    "print(json.dumps([sys.implementation.name, sys.version_info[:3], sys.version_info.releaselevel, sys.executable]))"
)
_ANY_CASE = re.IGNORECASE | re.MULTILINE
_FLOOR = re.compile(r"(?P<name>[\w.-]+)>=(?P<version>[\d.]+)")


def candidates() -> list[str]:
    """Return every path that may be a CPython: names on PATH, and what a pyenv keeps."""
    names = [f"python3.{minor}" for minor in range(OLDEST[1], 30)] + ["python3", "python"]
    folders = [folder for folder in os.environ.get("PATH", "").split(os.pathsep) if folder]
    found = [path for name in names for folder in folders if (path := shutil.which(name, path=folder))]
    for root in dict.fromkeys((os.environ.get("PYENV_ROOT", ""), str(Path.home() / ".pyenv"))):
        if root:
            kept = Path(root).glob("versions/*/bin/python3.*")
            found += sorted(str(path) for path in kept if re.fullmatch(r"python3\.\d+", path.name))
    return list(dict.fromkeys(found))


def pythons() -> dict[tuple[int, int], str]:
    """Return the interpreters that really run and can make an environment, one for each minor version."""
    found: dict[tuple[int, int], str] = {}
    for path in candidates():
        asked = subprocess.run([path, "-c", _ABOUT], capture_output=True, text=True, check=False)
        if asked.returncode != 0:  # a shim without a version behind it, a config script, or one without venv
            continue
        name, version, level, executable = json.loads(asked.stdout)
        minor = (version[0], version[1])
        if name == "cpython" and level == "final" and minor >= OLDEST:
            found.setdefault(minor, executable)
    return dict(sorted(found.items()))


def floors() -> list[str]:
    """Return the lower bound of every dependency, run time and test, as an exact requirement."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    bounds = project["dependencies"] + project["optional-dependencies"]["test"]
    return [f"{found['name']}=={found['version']}" for bound in bounds if (found := _FLOOR.match(bound))]


def run(python: str, constraints: list[str], extras: str) -> tuple[bool, str]:
    """Make an environment, install the project with its extras there, run the tests; return success and output."""
    with tempfile.TemporaryDirectory(prefix="assay-matrix-") as folder:
        here = Path(folder)
        pinned = here / "constraints.txt"
        pinned.write_text("\n".join(constraints), encoding="utf-8")
        inside = str(here / "env" / "bin" / "python")
        install = ["install", "-qq", "--only-binary", ":all:", "--constraint", str(pinned), f"{ROOT}[{extras}]"]
        steps = [
            [python, "-m", "venv", str(here / "env")],
            [inside, "-m", "pip", "--disable-pip-version-check", *install],
            [inside, "-m", "pip", "--disable-pip-version-check", "list", "--format=freeze"],
            [inside, "-m", "pytest", "-q", "-n", "auto", "--tb=short", "-p", "no:cacheprovider"],
        ]
        said = ""
        for step in steps:
            done = subprocess.run(
                step, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                check=False,
            )  # fmt: skip
            said += done.stdout
            if done.returncode != 0:
                return False, f"{said}\n{' '.join(step)}: exit status {done.returncode}\n"
        return True, said


def main(which: str) -> int:
    """Run one line of the matrix; return the exit status."""
    found = pythons()
    for minor, path in found.items():
        print(f"found CPython {minor[0]}.{minor[1]}: {path}", flush=True)
    if OLDEST not in found:
        print(f"CPython {OLDEST[0]}.{OLDEST[1]}, the oldest allowed, is not on this machine", flush=True)
        return 1
    if which == "list":
        return 0
    chosen = {OLDEST: found[OLDEST]} if which == "oldest" else dict(found)
    told = os.environ.get("README_PYTHON", "")
    for minor in [minor for minor in chosen if which == "newest" and told == f"{minor[0]}.{minor[1]}"]:
        print(f"CPython {told}, newest dependencies: run by the README's test command", flush=True)
        del chosen[minor]
    # The referees are tried with the newest dependencies only: their own floors are not ours.
    constraints, extras = (floors(), "test") if which == "oldest" else ([], "test,referees")

    def timed(path: str) -> tuple[bool, str, float]:
        start = time.monotonic()
        passed, said = run(path, constraints, extras)
        return passed, said, time.monotonic() - start

    worst = 0
    for minor, path in chosen.items():  # one after another: each run of the tests uses every core
        passed, said, seconds = timed(path)
        listed = " ".join(re.findall(r"^(?:numpy|scipy|pint|uncertainties)==\S+", said, _ANY_CASE))
        outcome = "passed" if passed else "FAILED"
        print(f"CPython {minor[0]}.{minor[1]}, {which} dependencies ({listed}): {outcome}, {seconds:.0f} s")
        print(said.strip().splitlines()[-1] if passed else said, flush=True)
        worst = worst or int(not passed)
    return worst


if __name__ == "__main__":
    if sys.argv[1:] not in (["newest"], ["oldest"], ["list"]):
        sys.exit(__doc__)
    sys.exit(main(sys.argv[1]))
