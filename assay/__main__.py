"""The command line: ``python -m assay [SHEET] [--json]``."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Sequence

from assay.errors import AssayError

#: Exit status when something given cannot be used.
REFUSED = 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a bench sheet and print its report; return the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m assay",
        description="Strength with its uncertainty, and volumes to dispense, from a bench sheet.",
        epilog="Exit status: 0, or 2 if the sheet cannot be used; the message names file, line, table and key.",
    )
    parser.add_argument("sheet", nargs="?", help="bench sheet, a TOML file with schema = 1; without it, the demo sheet")
    parser.add_argument("--json", action="store_true", help="print the results as JSON instead of a report")
    options = parser.parse_args(arguments)
    from assay.report.document import report_json
    from assay.report.page import report_text
    from assay.sheet.run import run_sheet

    for stream in (sys.stdout, sys.stderr):
        # A page of another encoding shows a substitute for a sign it lacks, instead of breaking off.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        result = run_sheet(options.sheet)
        shown = report_json(result) if options.json else report_text(result)
    except AssayError as error:
        print(f"assay: {error}", file=sys.stderr)
        return REFUSED
    print(shown, end="")
    return 0


if __name__ == "__main__":
    sys.exit(main())
