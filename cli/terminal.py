"""What reaches the terminal is text, whatever the names and notes in it hold.

A film may be called anything, and a record may come from anybody: a terminal would obey what is
written in them (ECMA-48 control functions), move its cursor, change its title or hide a line.
"""

import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, TextIO

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

_ESCAPED: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""General categories of Unicode: controls, formats (also those that turn the direction), halves of
pairs, and separators of lines."""
_KEPT: Final = frozenset("\n\t\u200c\u200d")
"""Layout of our own, and the joiners within words and pictures."""


def printable(text: str) -> str:
    """Escape what a terminal would obey, as JSON does; all else stays as it is."""
    if text.isprintable():
        return text
    return "\r\n".join(_escaped(part) for part in text.split("\r\n"))


def _escaped(text: str) -> str:
    return "".join(
        _as_json(sign) if sign not in _KEPT and unicodedata.category(sign) in _ESCAPED else sign
        for sign in text
    )


def _as_json(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


class PlainStream:
    """A text stream that lets nothing through but text; ``raw`` is the stream behind it."""

    def __init__(self, raw: TextIO) -> None:
        self.raw = raw

    def write(self, text: str) -> int:
        """Write text, controls escaped; returns its own length."""
        self.raw.write(printable(text))
        return len(text)

    def writelines(self, lines: Any) -> None:
        """Write several texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.raw, name)


@contextmanager
def plain_streams() -> Iterator[None]:
    """Let nothing but text through to standard output and error."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = map(_plain, before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def _plain(stream: TextIO) -> Any:
    return stream if stream is None or isinstance(stream, PlainStream) else PlainStream(stream)


def _plain_text(renderable: "RenderableType") -> "RenderableType":
    from rich.text import Text

    if isinstance(renderable, str):
        return printable(renderable)
    if isinstance(renderable, Text) and (plain := printable(renderable.plain)) != renderable.plain:
        made = renderable.blank_copy(plain)
        made.stylize(renderable.style)
        return made
    return renderable


def console(*, stderr: bool = False, **options: Any) -> "Console":
    """Make a console that writes its own controls and escapes those in what it is given."""
    from rich.console import Console, ConsoleOptions, RenderableType
    from rich.segment import Segment

    class PlainConsole(Console):
        def render(
            self, renderable: RenderableType, options: ConsoleOptions | None = None
        ) -> Iterator[Segment]:
            # Before lines are broken, so that none is cut off; then whatever else comes.
            for part in super().render(_plain_text(renderable), options):
                plain = part.text if part.control else printable(part.text)
                yield part if plain == part.text else Segment(plain, part.style)

    stream = sys.stderr if stderr else sys.stdout
    return PlainConsole(file=getattr(stream, "raw", stream), stderr=stderr, **options)
