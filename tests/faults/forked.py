"""Tests of a changed module, each time in a fork of a process that holds all they need.

A change costs what its tests take, not what importing takes.
"""

import ast
import contextlib
import gc
import importlib
import importlib.abc
import importlib.machinery
import math
import os
import resource
import sys
import time
from collections.abc import Iterator, Sequence
from importlib.util import spec_from_loader
from pathlib import Path
from types import CodeType, ModuleType

ROOT = Path(__file__).parents[2]
OURS = ("vision", "counting", "cli", "tests")
KILLED, SURVIVED = 1, 0


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


def load_ours(*tests: Path) -> None:
    """Import what test files import of ours, and the set-up of all tests, for every fork."""
    for name in ["tests.conftest", *sorted(set().union(*map(imported, tests)))]:
        if name.partition(".")[0] in OURS:
            # What is no module of ours is a name in one, whose module comes beside it.
            with contextlib.suppress(ModuleNotFoundError):
                importlib.import_module(name)
    gc.freeze()


def imported(file: Path) -> set[str]:
    """Name the modules that a file may import: each module, and each name taken from one."""
    names = set()
    package = ".".join(file.relative_to(ROOT).parent.parts)
    for node in statements(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = package if node.level else ""
            module = ".".join(part for part in (start, node.module or "") if part)
            names.update({module, *(f"{module}.{alias.name}" for alias in node.names)})
    return names


def statements(node: ast.AST) -> Iterator[ast.AST]:
    """Walk through a module's statements, not into what they compute."""
    for name in ("body", "orelse", "finalbody", "handlers", "cases"):
        inside = getattr(node, name, [])
        for part in inside if isinstance(inside, list) else []:
            yield part
            yield from statements(part)


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


def run(
    module: Path,
    tree: ast.Module,
    longest_s: float,
    tests: Sequence[Path],
    wanted: str = "not campaign",
) -> int:
    """Run tests, those that ``wanted`` marks, in a fork that imports ``tree`` for a module."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        try:
            os._exit(run_here(module, tree, longest_s, tests, wanted))
        finally:
            os._exit(KILLED)
    _, status = os.waitpid(child, 0)
    return SURVIVED if status == 0 else KILLED


def run_here(
    module: Path, tree: ast.Module, longest_s: float, tests: Sequence[Path], wanted: str
) -> int:
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
    options += ["--assert=plain", "-m", wanted]
    status = int(pytest.main([*options, *map(str, tests)]))
    nothing_ran = status == int(pytest.ExitCode.NO_TESTS_COLLECTED)
    return 0 if nothing_ran else status


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
