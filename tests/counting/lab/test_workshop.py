"""What only developers run stays out of users' way."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[3]


def importers_of(package: str) -> Iterator[str]:
    for top in ("vision", "counting", "cli"):
        for file in sorted((ROOT / top).rglob("*.py")):
            text = file.read_text(encoding="utf-8")
            if package.rpartition(".")[2] not in text:
                continue  # no import can name it
            tree = ast.parse(text)
            modules = {
                name
                for node in ast.walk(tree)
                for name in (
                    [node.module or ""]
                    if isinstance(node, ast.ImportFrom)
                    else [alias.name for alias in getattr(node, "names", [])]
                    if isinstance(node, ast.Import)
                    else []
                )
            }
            if any(name == package or name.startswith(package + ".") for name in modules):
                yield file.relative_to(ROOT).as_posix()


def test_only_validate_and_what_is_run_by_developers_need_the_workshop() -> None:
    users = {file for file in importers_of("counting.lab") if not file.startswith("counting/lab/")}
    measuring = {file for file in users if file.startswith("counting/pacing/measure")}
    assert users - measuring == {"cli/commands/validate.py"}
