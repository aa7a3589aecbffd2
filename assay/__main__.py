"""The command line: ``python -m assay [SHEET | check] [--demo NAME] [--json]``."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Sequence

from assay.errors import AssayError

#: Exit status when a published value does not come out as recorded.
NOT_AS_RECORDED = 1
#: Exit status when something given cannot be used.
REFUSED = 2
#: In place of a sheet: work the published values out. A sheet of this name is run as ``./check``.
CHECK = "check"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a bench sheet and print its report, or work the published values out; return the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m assay",
        description="Strength with its uncertainty, and volumes to dispense, from a bench sheet.",
        epilog="Exit status: 0, or 2 if the sheet cannot be used; the message names file, line, table and key. Of "
        "check: 0 if every value agrees or disagrees as recorded, else 1.",
    )
    parser.add_argument(
        "sheet",
        nargs="?",
        help="bench sheet, a TOML file with schema = 1; without it, the demo sheet. The word check instead works the "
        "published values out that the library is held against (a sheet of that name is run as ./check)",
    )
    parser.add_argument(
        "--demo", choices=["drum", "acid", "caustic"], help="run one of the demo sheets instead of a file"
    )
    parser.add_argument("--json", action="store_true", help="print the results as JSON instead of a report")
    options = parser.parse_args(arguments)
    if options.sheet == CHECK:
        if options.demo or options.json:
            parser.error("check takes no further option")
        return _check()
    if options.sheet and options.demo:
        parser.error(f"give a sheet or --demo, not both: {options.sheet!r} would not be read")
    from assay.report.document import report_json
    from assay.report.page import report_text
    from assay.sheet.run import run_demo, run_sheet

    for stream in (sys.stdout, sys.stderr):
        # A page of another encoding shows a substitute for a sign it lacks, instead of breaking off.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        result = run_demo(options.demo) if options.demo else run_sheet(options.sheet)
        shown = report_json(result) if options.json else report_text(result)
    except AssayError as error:
        print(f"assay: {error}", file=sys.stderr)
        return REFUSED
    print(shown, end="")
    return 0


def _check() -> int:
    from assay.checks.evaluate import outcomes
    from assay.checks.guide import guide_comparison
    from assay.checks.page import checks_text
    from assay.checks.rows import read_left_out

    found = outcomes()
    print(checks_text(found, guide_comparison(), read_left_out()), end="")
    return 0 if all(outcome.as_recorded for outcome in found) else NOT_AS_RECORDED


if __name__ == "__main__":
    sys.exit(main())
