"""Mutation testing of what decides: how many small faults in the code its own tests notice.

    python -m tests.faults.mutation [PACKAGE ...] [--share 1] [--from 0] [--list]

PACKAGE is a folder such as ``counting/decision`` (the default) or one module of it. Each mutant
runs against the one test file that mirrors its module, in a fork; ``--share 0.1`` tries every tenth
mutant, with ``--from 3`` beginning at the fourth. The exit status is 0 where at least 90 % are
killed. A mutant that takes ten times the processor time of the unchanged module counts as killed.
"""

import argparse
import ast
import contextlib
import gc
import importlib
import importlib.abc
import importlib.machinery
import itertools
import math
import os
import resource
import sys
import time
from importlib.util import spec_from_loader
from pathlib import Path
from types import CodeType, ModuleType

from tests.faults.mutations import Mutant, mutants
from tests.faults.processor import children_s

ROOT = Path(__file__).parents[2]
OURS = ("vision", "counting", "cli", "tests")
WANTED = 0.9
KILLED, SURVIVED = 1, 0


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


def load_libraries() -> None:
    """Import what every fork needs."""
    import hypothesis
    import msgspec  # noqa: F401
    import numpy  # noqa: F401
    import pytest  # noqa: F401
    import scipy.optimize
    import scipy.special
    import scipy.stats  # noqa: F401
    from _pytest.config import default_plugins

    for plugin in default_plugins:
        importlib.import_module(f"_pytest.{plugin}")
    hypothesis.settings.register_profile(
        "mutants", deadline=None, derandomize=True, database=None, max_examples=30
    )
    hypothesis.settings.load_profile("mutants")


def load_ours(tests: Path) -> None:
    """Import what a test file imports of ours, and the set-up of all tests, for every fork."""
    for name in ["tests.conftest", *imported(tests)]:
        if name.partition(".")[0] in OURS:
            # What is no module of ours is a name in one, whose module comes beside it.
            with contextlib.suppress(ModuleNotFoundError):
                importlib.import_module(name)
    gc.freeze()


def imported(file: Path) -> set[str]:
    """Name the modules that a file may import: each module, and each name taken from one."""
    names = set()
    package = ".".join(file.relative_to(ROOT).parent.parts)
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = package if node.level else ""
            module = ".".join(part for part in (start, node.module or "") if part)
            names.update({module, *(f"{module}.{alias.name}" for alias in node.names)})
    return names


def unload(name: str) -> None:
    """Let a module, and all that rests on it, be imported anew."""
    ours = {
        loaded: imported(Path(module.__file__))
        for loaded, module in sys.modules.items()
        if loaded.partition(".")[0] in OURS and getattr(module, "__file__", None)
    }
    stale: set[str] = set()
    found = {name}
    while found:
        stale |= found
        found = {loaded for loaded, needs in ours.items() if needs & found} - stale
    for old in stale & set(sys.modules):
        package, _, own = old.rpartition(".")
        del sys.modules[old]
        if hasattr(sys.modules.get(package), own):
            delattr(sys.modules[package], own)


def try_module(module: Path, wanted: slice, name_survivors: bool) -> tuple[int, int]:
    """Try a module's mutants; give how many there were and how many were killed."""
    source = module.read_text(encoding="utf-8")
    load_ours(tests_of(module))
    shown = module.relative_to(ROOT)
    started_s = children_s()
    if run(module, ast.parse(source), math.inf) == KILLED:
        print(f"{shown}: its tests fail without a fault")
        return 1, 0
    longest_s = 10.0 * (children_s() - started_s) + 5.0
    tried = killed = 0
    for mutant in itertools.islice(mutants(source), wanted.start, None, wanted.step):
        tried += 1
        noticed = run(module, mutant.tree, longest_s)
        killed += noticed
        if noticed == SURVIVED and name_survivors:
            print(described(shown, mutant), flush=True)
    print(f"{shown!s:40} {tried:5} mutants {killed:5} killed  {share(killed, tried)}", flush=True)
    return tried, killed


def described(module: Path, mutant: Mutant) -> str:
    """Say in a line what was changed."""
    before, after = (" ".join(text.split())[:70] for text in (mutant.before, mutant.after))
    return f"survived {module}:{mutant.line}: {before}  ->  {after}"


def run(module: Path, tree: ast.Module, longest_s: float) -> int:
    """Run a module's tests in a fork that imports ``tree`` in its place."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        try:
            os._exit(run_here(module, tree, longest_s))
        finally:
            os._exit(KILLED)
    _, status = os.waitpid(child, 0)
    return SURVIVED if status == 0 else KILLED


def run_here(module: Path, tree: ast.Module, longest_s: float) -> int:
    """Run the tests in this process, which ends by a signal when it takes too long."""
    import pytest

    if math.isfinite(longest_s):
        limit = math.ceil(time.process_time() + longest_s)
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    name = ".".join(module.relative_to(ROOT).with_suffix("").parts)
    unload(name)
    sys.meta_path.insert(0, Finder(name, compile(tree, str(module), "exec")))
    # Assertions are not explained and plugins not looked for: both cost more than most tests.
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:unraisableexception"]
    options.append("--assert=plain")
    return int(pytest.main([*options, str(tests_of(module))]))


class Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module from code at hand."""

    def __init__(self, name: str, code: CodeType) -> None:
        self._name = name
        self._code = code

    def find_spec(
        self, fullname: str, _path: object, _target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        """Answer for that one module."""
        return spec_from_loader(fullname, self) if fullname == self._name else None

    def exec_module(self, module: ModuleType) -> None:
        """Run the code as the module."""
        exec(self._code, module.__dict__)


if __name__ == "__main__":
    sys.exit(main())
