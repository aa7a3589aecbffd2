"""Build the sdist and from it the wheel, install the wheel alone in a clean environment, run it far from the sources.

python .ci/wheel.py
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def said_by(*command: str, folder: Path) -> str:
    """Return what a command prints; end with its error if it fails."""
    done = subprocess.run(command, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)}: exit status {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def missing_from(wheel: Path) -> list[str]:
    """Return the files of the package that the wheel does not hold."""
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    package = (path for path in (ROOT / "assay").rglob("*") if path.is_file() and path.suffix != ".pyc")
    return sorted(name for path in package if (name := path.relative_to(ROOT).as_posix()) not in held)


def main() -> None:
    """Build, compare, install, run."""
    with tempfile.TemporaryDirectory(prefix="assay-wheel-") as folder:
        far = Path(folder)
        said_by(sys.executable, "-m", "build", "--outdir", str(far / "dist"), str(ROOT), folder=far)
        [wheel] = (far / "dist").glob("*.whl")
        if missing := missing_from(wheel):
            sys.exit(f"not in {wheel.name}: {', '.join(missing)}")
        venv.create(far / "env", with_pip=True)
        python = str(far / "env" / "bin" / "python")
        said_by(python, "-m", "pip", "--disable-pip-version-check", "install", "--quiet", str(wheel), folder=far)
        report = said_by(python, "-W", "error", "-m", "assay", folder=far)
        record = json.loads(said_by(python, "-W", "error", "-m", "assay", "--json", folder=far))
        if not report.strip() or not record:
            sys.exit("the demo printed nothing")
        print(f"{wheel.name}: the demo prints {len(report.splitlines())} lines, and JSON with {', '.join(record)}")


if __name__ == "__main__":
    main()
