"""Mutation testing of what decides: how many small faults in the code its own tests notice.

    python -m tests.faults.mutation [PACKAGE ...] [--share 1] [--from 0] [--list]

PACKAGE is a folder such as ``counting/decision`` (the default) or one module of it. Each mutant
runs against the one test file that mirrors its module, in a fork; ``--share 0.1`` tries every tenth
mutant, with ``--from 3`` beginning at the fourth. The exit status is 0 where at least 90 % are
killed. A mutant that takes ten times the processor time of the unchanged module counts as killed.
"""

import argparse
import ast
import itertools
import math
import sys
from pathlib import Path

from tests.faults.forked import KILLED, ROOT, SURVIVED, load_libraries, load_ours, run
from tests.faults.mutations import Mutant, mutants
from tests.faults.processor import children_s

WANTED = 0.9


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("places", nargs="*", default=["counting/decision"], metavar="PACKAGE")
    parser.add_argument("--share", type=float, default=1.0)
    parser.add_argument("--from", type=int, default=0, dest="first", metavar="N")
    parser.add_argument("--list", action="store_true", help="Name every survivor.")
    options = parser.parse_args()
    load_libraries()
    tried = killed = 0
    for place in options.places:
        for module in modules(ROOT / place):
            wanted = slice(options.first, None, round(1 / options.share))
            found, noticed = try_module(module, wanted, options.list)
            tried, killed = tried + found, killed + noticed
    print(f"{'all':40} {tried:5} mutants {killed:5} killed  {share(killed, tried)}")
    return 0 if tried and killed >= WANTED * tried else 1


def share(killed: int, tried: int) -> str:
    """Say which part was killed."""
    return f"{100 * killed / tried:.1f} %" if tried else "-"


def modules(place: Path) -> list[Path]:
    """List the modules of a package that a test file mirrors."""
    files = [place] if place.suffix == ".py" else sorted(place.glob("*.py"))
    return [file for file in files if tests_of(file).exists()]


def tests_of(module: Path) -> Path:
    """Name the test file that mirrors a module."""
    return ROOT / "tests" / module.relative_to(ROOT).parent / f"test_{module.name}"


def try_module(module: Path, wanted: slice, name_survivors: bool) -> tuple[int, int]:
    """Try a module's mutants; give how many there were and how many were killed."""
    source = module.read_text(encoding="utf-8")
    tests = [tests_of(module)]
    load_ours(*tests)
    shown = module.relative_to(ROOT)
    started_s = children_s()
    if run(module, ast.parse(source), math.inf, tests) == KILLED:
        print(f"{shown}: its tests fail without a fault")
        return 1, 0
    longest_s = 10.0 * (children_s() - started_s) + 5.0
    tried = killed = 0
    for mutant in itertools.islice(mutants(source), wanted.start, None, wanted.step):
        tried += 1
        noticed = run(module, mutant.tree, longest_s, tests)
        killed += noticed
        if noticed == SURVIVED and name_survivors:
            print(described(shown, mutant), flush=True)
    print(f"{shown!s:40} {tried:5} mutants {killed:5} killed  {share(killed, tried)}", flush=True)
    return tried, killed


def described(module: Path, mutant: Mutant) -> str:
    """Say in a line what was changed."""
    before, after = (" ".join(text.split())[:70] for text in (mutant.before, mutant.after))
    return f"survived {module}:{mutant.line}: {before}  ->  {after}"


if __name__ == "__main__":
    sys.exit(main())
