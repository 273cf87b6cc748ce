"""Branch coverage of what decides: verdict, score, clock and parsers; all of it must be reached.

    python -m tests.faults.coverage

Runs only the tests that mirror these modules. The exit status is 0 where every branch is taken.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
TESTS = (
    "tests/counting/checks",
    "tests/counting/decision",
    "tests/counting/movements",
    "tests/counting/record",
    "tests/counting/workout",
    "tests/counting/pacing/card/test_card.py",
    "tests/vision/test_arrays.py",
    "tests/vision/test_track.py",
)
MODULES = (
    "counting/checks/inference.py",
    "counting/checks/judge.py",
    "counting/checks/phases.py",
    "counting/checks/table.py",
    "counting/checks/wording.py",
    "counting/decision/*.py",
    "counting/movements/loader.py",
    "counting/pacing/card/document.py",
    "counting/record/*.py",
    "counting/workout/clock.py",
    "counting/workout/countdown.py",
    "counting/workout/file.py",
    "counting/workout/flags.py",
    "counting/workout/beyond_film.py",
    "counting/movements/key_lines.py",
    "counting/workout/placing.py",
    "counting/workout/record.py",
    "counting/workout/score.py",
    "counting/workout/sheet.py",
    "counting/workout/splits.py",
    "counting/workout/starting.py",
    "counting/workout/types.py",
    "counting/workout/whole.py",
    "vision/arrays.py",
    "vision/track.py",
)


def main() -> int:
    """Run the tests under measurement and report what no test reaches."""
    tool = [sys.executable, "-m", "coverage"]
    pytest = ["-m", "pytest", "-q", "-p", "no:cacheprovider", *TESTS]
    tests = subprocess.run(
        [*tool, "run", "--branch", "--source=counting,vision", *pytest], cwd=ROOT, check=False
    )
    asked = ["--show-missing", "--skip-covered", "--fail-under=100", "--precision=1"]
    report = subprocess.run(
        [*tool, "report", *asked, f"--include={','.join(MODULES)}"], cwd=ROOT, check=False
    )
    return tests.returncode or report.returncode


if __name__ == "__main__":
    sys.exit(main())
