"""How many of the numbers that the code names its tests notice when they are off by half.

    python -m tests.faults.constants [PLACE ...] [--sample N] [--seed 1] [--kept FILE]

PLACE is a package, a folder of one, or a module; all of ``vision``, ``counting`` and ``cli`` unless
named. Each ``Final`` of a module that holds numbers is made half as large again, then half as
large; a table's numbers all together. Either change runs against the quick tests of the file that
mirrors the module, of those that import it, and of those that mirror a module that imports it; then
against the slow tests of the first, or, where there is none, of the others.

A constant of which a change goes unnoticed is named. With ``--kept`` every answer is kept, a line
each, and not asked for again while the module and those tests stay the same, so that a run that was
stopped goes on where it was.
"""

import argparse
import ast
import copy
import hashlib
import importlib
import itertools
import json
import math
import random
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from tests.faults.forked import KILLED, ROOT, imported, load_libraries, load_ours, run
from tests.faults.processor import children_s

PACKAGES = ("vision", "counting", "cli")
QUICK, SLOW = "not slow and not campaign", "slow and not campaign"
FURTHEST = 4
"""Steps of imports from a module to look for tests within; most have theirs at the first."""
FACTORS = {"too large": 1.5, "too small": 0.5}


@dataclass(frozen=True, slots=True)
class Constant:
    """A named number, or a table of numbers, and the module and the line that it stands in."""

    module: Path
    line: int
    name: str
    text: str

    @property
    def shown(self) -> str:
        """Say in a line which it is."""
        return f"{self.module.relative_to(ROOT)}:{self.line}: {self.name} = {self.text}"


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("places", nargs="*", default=PACKAGES, metavar="PLACE")
    parser.add_argument("--sample", type=int, metavar="N", help="Try N, drawn by chance.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kept", type=Path, metavar="FILE", help="Where answers are kept.")
    options = parser.parse_args()
    found = [one for place in options.places for one in constants_in(ROOT / place)]
    if options.sample is not None:
        drawn = random.Random(options.seed).sample(range(len(found)), options.sample)
        found = [found[number] for number in sorted(drawn)]
    load_libraries()
    tally: Counter[str] = Counter()
    for constant in found:
        answer = kept_or_tried(constant, options.kept)
        tally[answer] += 1
        if answer != "noticed":
            print(f"{answer}: {constant.shown}", flush=True)
    counts = ", ".join(f"{answer} {count}" for answer, count in sorted(tally.items()))
    print(f"{len(found)} constants: {counts}")
    return 0


def constants_in(place: Path) -> Iterator[Constant]:
    """List a place's constants that hold a number other than 0, in the order of files and lines."""
    for module in [place] if place.suffix == ".py" else sorted(place.rglob("*.py")):
        named = list(finals(ast.parse(module.read_text(encoding="utf-8"))))
        loaded = importlib.import_module(name_of(module)) if named else None
        for node in named:
            value = getattr(loaded, node.target.id)  # type: ignore[union-attr]
            if not same(value, scaled(value, 2.0)):
                text = " ".join(ast.unparse(node.value).split())[:60]  # type: ignore[arg-type]
                yield Constant(module, node.lineno, node.target.id, text)  # type: ignore[union-attr]


def finals(tree: ast.Module) -> Iterator[ast.AnnAssign]:
    """Find the constants of a module."""
    for node in tree.body:
        match node:
            case ast.AnnAssign(target=ast.Name(), value=ast.expr()):
                if ast.unparse(node.annotation).startswith("Final"):
                    yield node


def scaled(value: Any, factor: float) -> Any:
    """Change every number of a value; of whole numbers to the next one at least."""
    match value:
        case int() if type(value) is int:
            change = value * (factor - 1.0)
            return value + round(math.copysign(max(1.0, abs(change)), change)) if value else 0
        case float():
            return value * factor
        case np.ndarray() if value.dtype.kind == "f":
            return value * factor
        case np.ndarray() if value.dtype.kind in "iu":
            return np.array([scaled(one, factor) for one in value.ravel().tolist()]).reshape(
                value.shape
            )
        case Mapping():
            return {key: scaled(one, factor) for key, one in value.items()}
        case tuple() | list() if type(value) in (tuple, list):
            return type(value)(scaled(one, factor) for one in value)
        case _:
            return value


def same(one: Any, other: Any) -> bool:
    """Tell whether two values are alike, arrays and those within tables, too."""
    if isinstance(one, Mapping):
        return all(same(one[key], other[key]) for key in one)
    if isinstance(one, tuple | list):
        return all(map(same, one, other))
    return bool(np.all(one == other)) if isinstance(one, np.ndarray) else bool(one == other)


def with_scaled(tree: ast.Module, name: str, factor: float) -> ast.Module:
    """Give a module in which one constant is another number."""
    tree = copy.deepcopy(tree)
    (node,) = (node for node in finals(tree) if ast.unparse(node.target) == name)
    assert node.value is not None
    scaling = ast.parse(f"__import__('importlib').import_module('{__name__}').scaled", mode="eval")
    node.value = ast.Call(scaling.body, [node.value, ast.Constant(factor)], [])
    return ast.fix_missing_locations(tree)


def kept_or_tried(constant: Constant, file: Path | None) -> str:
    """Say which changes of a constant are noticed, by what was kept or by trying."""
    key = digest(constant)
    if file is not None and file.is_file():
        for line in file.read_text(encoding="utf-8").splitlines():
            kept = json.loads(line)
            if kept["key"] == key:
                return str(kept["answer"])
    answer = tried(constant)
    if file is not None:
        with file.open("a", encoding="utf-8") as lines:
            lines.write(json.dumps({"key": key, "answer": answer, "what": constant.shown}) + "\n")
    return answer


def tried(constant: Constant) -> str:
    """Run a constant's tests with either change."""
    module = constant.module
    if not tests_about(module):
        return "no test"
    load_ours(*tests_about(module))
    ways = ((tests_about(module), QUICK), (own_tests(module), SLOW))
    usual_s = [usually_s(module, *way) for way in ways]
    if any(map(math.isnan, usual_s)):
        return "its tests fail as it is"
    tree = ast.parse(module.read_text(encoding="utf-8"))
    unnoticed = [
        words
        for words, factor in FACTORS.items()
        if not any(
            run(module, with_scaled(tree, constant.name, factor), 10.0 * taken_s + 5.0, *way)
            == KILLED
            for way, taken_s in zip(ways, usual_s, strict=True)
        )
    ]
    return "noticed" if not unnoticed else f"unnoticed {' and '.join(unnoticed)}"


@cache
def usually_s(module: Path, tests: tuple[Path, ...], wanted: str) -> float:
    """Give the processor time that tests take as the module is; NaN where they fail."""
    started_s = children_s()
    tree = ast.parse(module.read_text(encoding="utf-8"))
    failed = run(module, tree, math.inf, tests, wanted) == KILLED
    return math.nan if failed else children_s() - started_s


def own_tests(module: Path) -> tuple[Path, ...]:
    """Give the test file that mirrors a module, or all about it where there is none."""
    own = mirror(module)
    return (own,) if is_tests(own) else tests_about(module)


@cache
def tests_about(module: Path) -> tuple[Path, ...]:
    """List the test files that may notice a change of a module, its own first.

    Where neither it nor what imports it has any, what imports those is taken, and so on.
    """
    around, files = [module], list[Path]()
    for depth in itertools.count(1):
        names = set(map(name_of, [*around, *givers(around)]))
        files += map(mirror, around)
        files += [file for file, needs in needed("tests").items() if names & needs]
        nearer = [file for file, needs in needed(*PACKAGES).items() if names & needs]
        found = tuple(dict.fromkeys(filter(is_tests, files + [mirror(file) for file in nearer])))
        around = [*dict.fromkeys([*around, *nearer])]
        if found or depth == FURTHEST:
            return found
    raise AssertionError


def givers(modules: Sequence[Path]) -> list[Path]:
    """List the packages that give away names of theirs from some modules."""
    names = set(map(name_of, modules))
    return [
        module.parent / "__init__.py"
        for module in modules
        if names & needed(*PACKAGES).get(module.parent / "__init__.py", frozenset())
    ]


def is_tests(file: Path) -> bool:
    """Tell whether a file holds tests."""
    return file.name.startswith("test_") and file.is_file()


def mirror(module: Path) -> Path:
    """Name the test file that mirrors a module."""
    return ROOT / "tests" / module.relative_to(ROOT).parent / f"test_{module.name}"


@cache
def needed(*packages: str) -> dict[Path, frozenset[str]]:
    """Tell of each file of some packages which modules it may import."""
    files = [file for package in packages for file in sorted((ROOT / package).rglob("*.py"))]
    return {file: frozenset(imported(file)) for file in files}


def name_of(module: Path) -> str:
    """Give the name that a module is imported by."""
    return ".".join(module.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def digest(constant: Constant) -> str:
    """Tell a constant, its module and its tests from all others."""
    content = hashlib.sha256(f"{constant.name}\0{QUICK}\0".encode())
    for file in (constant.module, *tests_about(constant.module)):
        content.update(hashlib.sha256(file.read_bytes()).digest())
    return content.hexdigest()[:32]


if __name__ == "__main__":
    sys.exit(main())
