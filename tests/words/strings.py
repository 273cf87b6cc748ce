"""Collecting the strings that a user can see, out of modules, pages and scripts."""

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

TOP = Path(__file__).parents[2]
PACKAGES = ("cli", "counting", "vision")
FOR_DEVELOPERS = ("counting/lab", "counting/pacing/measure")
_SAYS = re.compile(r"[A-Za-z]{2,}[^A-Za-z]* [^A-Za-z]*[A-Za-z]{2,}")
"""Two words with a space between them: names, keys, classes and formats have none."""
_MARK = re.compile(r"<[^<>]*>")
_FIELD = re.compile(r"\b[a-z_]+(?:(?:\[\{\}\])?\.[a-z_]+)+|\b[a-z_]+\[\{\}\]")
_PAINTED = ("alt", "aria-label", "placeholder", "title", "content")
_SCRIPT_STRING = re.compile(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`')
_IN_TEMPLATE = re.compile(r"\{\{.*?\}\}|\{%.*?%\}", re.S)
_SAID_BY_TEMPLATE = re.compile(r'"([^"\n]*)"')
_OF_A_MACHINE = re.compile(
    r"^(SELECT|INSERT|CREATE|PRAGMA|BEGIN|\s*@page|default-src)|[{;]\s*--|\bvar\("
)


@dataclass(frozen=True, order=True)
class Seen:
    """A string with the place that it is written at; ``{}`` stands for what is filled in."""

    file: str
    line: int
    text: str


def visible_strings() -> list[Seen]:
    """Give all strings of two words or more that stand in what we ship, but for documentation."""
    found: list[Seen] = []
    for package in PACKAGES:
        for path in sorted((TOP / package).rglob("*")):
            name = path.relative_to(TOP).as_posix()
            if name.startswith(FOR_DEVELOPERS):
                continue
            read = {".py": _of_module, ".html": _of_page, ".js": _of_script}.get(path.suffix)
            if read is not None:
                text = path.read_text(encoding="utf-8")
                found += [Seen(name, line, _plain(said)) for line, said in read(text)]
    return sorted({seen for seen in found if _SAYS.search(seen.text)})


def _plain(said: str) -> str:
    """Leave out marks of pages and names of fields, which are nobody's words."""
    return " ".join(_FIELD.sub("{}", _MARK.sub(" ", said)).split())


def _of_module(text: str) -> Iterator[tuple[int, str]]:
    nodes = list(ast.walk(ast.parse(text)))
    commands = {
        id(node.body[0].value)
        for node in nodes
        if isinstance(node, ast.FunctionDef) and _is_command(node) and ast.get_docstring(node)
        if isinstance(node.body[0], ast.Expr)
    }
    alone = {id(node.value) for node in nodes if isinstance(node, ast.Expr)} - commands
    inside = {
        id(part)
        for node in nodes
        if isinstance(node, ast.JoinedStr)
        for part in ast.walk(node)
        if part is not node and isinstance(part, ast.Constant | ast.JoinedStr)
    }
    for node in nodes:
        if id(node) in alone or id(node) in inside:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            said = node.value
        elif isinstance(node, ast.JoinedStr):
            said = "".join(
                part.value if isinstance(part, ast.Constant) else "{}" for part in node.values
            )
        else:
            continue
        if not _OF_A_MACHINE.search(said):
            yield node.lineno, said


def _is_command(node: ast.FunctionDef) -> bool:
    """Whether a function's documentation is what ``--help`` prints: its options say so."""
    return any(
        isinstance(part, ast.Attribute) and part.attr in ("Argument", "Option")
        for argument in node.args.args
        if argument.annotation is not None
        for part in ast.walk(argument.annotation)
    )


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.said: list[tuple[int, str]] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._hidden += tag in ("style", "script")
        for name, value in attrs:
            if name in _PAINTED and value:
                self.said.append((self.getpos()[0], value))

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self._hidden and not data.startswith(("default-src", "width=")):
            self.said.append((self.getpos()[0], data))


def _of_page(text: str) -> Iterator[tuple[int, str]]:
    for code in _IN_TEMPLATE.finditer(text):
        line = text.count("\n", 0, code.start()) + 1
        for said in _SAID_BY_TEMPLATE.finditer(code[0]):
            yield line, said[1]
    page = _Page()
    page.feed(_IN_TEMPLATE.sub(lambda code: "{}" + "\n" * code[0].count("\n"), text))
    yield from page.said


def _of_script(text: str) -> Iterator[tuple[int, str]]:
    for said in _SCRIPT_STRING.finditer(text):
        line = text.count("\n", 0, said.start()) + 1
        yield line, re.sub(r"\$\{[^{}]*\}", "{}", said[1] or said[2] or "")
