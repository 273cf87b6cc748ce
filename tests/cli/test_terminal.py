"""No name, note or word of a record reaches the terminal as a control function (ECMA-48)."""

import csv
import io
import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer
from msgspec.structs import replace
from rich.table import Table
from rich.text import Text

from cli import main
from cli.terminal import PlainStream, console, plain_streams, printable
from counting.record.files import record_json
from counting.record.seal import sealed
from tests.followed import followed_attempt

TITLE = "\x1b]0;owned\x07"
"""Sets a terminal's title (ECMA-48, operating system command)."""
HOSTILE = f"lane {TITLE}\x9b31m\x1b[2J\u202e4pm.exe"

CLIP = next((Path(__file__).parents[2] / "sample_clips").glob("*.mp4"))

Run = Callable[..., tuple[int, str, str]]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Übung 3 – größer\n\tgut", "Übung 3 – größer\n\tgut"),
        ("a\x1b[31mb", "a\\u001b[31mb"),
        ("a\x9b31mb", "a\\u009b31mb"),
        ("a\rb\r\nc", "a\\u000db\r\nc"),
        ("caf\udce9", "caf\\udce9"),
        ("\u202egnp.exe", "\\u202egnp.exe"),
        ("\U000e0001x", "\\udb40\\udc01x"),
        ("two\u202fnarrow\u00a0spaces", "two\u202fnarrow\u00a0spaces"),
    ],
)
def test_what_a_terminal_would_obey_is_escaped_as_in_json(text: str, shown: str) -> None:
    assert printable(text) == shown
    if "\n" not in text:
        assert json.loads(f'"{shown}"') == text or "\udce9" in text


def test_both_streams_are_plain_and_given_back() -> None:
    before = sys.stdout, sys.stderr
    with plain_streams():
        assert isinstance(sys.stdout, PlainStream)
        assert isinstance(sys.stderr, PlainStream)
    assert (sys.stdout, sys.stderr) == before


def test_a_table_keeps_its_own_colours_and_escapes_what_stands_in_it() -> None:
    out = io.StringIO()
    made = console(force_terminal=True, color_system="standard", width=120)
    made.file = out
    table = Table()
    table.add_column("film", overflow="fold")
    table.add_row(Text(HOSTILE, style="red"))
    made.print(table)
    assert "\x1b[31m" in out.getvalue(), "the colour of the row"
    assert TITLE not in out.getvalue()
    cells = "".join(re.sub(r"\x1b\[[0-9;]*m", "", out.getvalue()).split())
    for sign in ("\\u001b]0;owned", "\\u009b31m", "4pm.exe"):
        assert sign in cells.replace("│", ""), "nothing is cut off"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the program as from a shell: exit status, standard output and error."""

    def ran(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["repwitness", *map(str, arguments)])
        status: Any = 0
        try:
            main.run()
        except SystemExit as end:
            status = end.code
        said = capsys.readouterr()
        return status or 0, said.out, said.err

    return ran


def assert_plain(*texts: str) -> None:
    for text in texts:
        left = text.replace("\r\n", "\n")
        assert [sign for sign in left if sign != "\n" and sign in "\x07\x1b\x9b\r\u202e"] == []


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    """An audit whose film, movement, remarks and folder are named to fool a terminal."""
    folder = tmp_path / f"{TITLE}.audit"
    folder.mkdir()
    made = followed_attempt("g?n", "gg", file=f"{HOSTILE}.mp4")
    assert made.workout is not None
    made = replace(
        made,
        movement=HOSTILE,
        warnings=[HOSTILE],
        reps=[replace(rep, reason=HOSTILE, movement=f"{HOSTILE}{rep.set}") for rep in made.reps],
        workout=replace(made.workout, definition=replace(made.workout.definition, name=HOSTILE)),
    )
    (folder / "audit.json").write_text(record_json(sealed(made)), encoding="utf-8")
    return folder


@pytest.mark.parametrize(
    "asked",
    [
        ["score", "AUDIT"],
        ["score", "AUDIT", "--json"],
        ["score", "AUDIT", "--csv"],
        ["compare", "AUDIT", "AUDIT"],
        ["explain", "AUDIT", "--rep", "1", "--no-still"],
        ["report", "AUDIT"],
        ["mark", f"/nowhere/{TITLE}.mp4", "AUDIT"],
        ["verify", "AUDIT", f"/nowhere/{TITLE}.mp4"],
        ["audit", f"/nowhere/{TITLE}.mp4"],
        ["audit", str(CLIP), "--movement", TITLE],
        ["audit", "/nowhere.mp4", f"--{TITLE}"],
        [TITLE],
        ["movements", TITLE],
        ["review", f"/nowhere/{TITLE}"],
        ["batch", f"/nowhere/{TITLE}", "--out", f"/nowhere/{TITLE}"],
        ["forget", f"/nowhere/{TITLE}"],
        ["limits", TITLE],
        ["plan", "--workout", f"/nowhere/{TITLE}", "--from", "AUDIT"],
        ["validate", f"/nowhere/{TITLE}"],
    ],
    ids=lambda asked: " ".join(asked[:1] + [a for a in asked if a.startswith("--")]).replace(
        TITLE, "TITLE"
    ),
)
def test_nothing_that_is_read_or_asked_reaches_it_raw(
    run: Run, hostile: Path, asked: list[str]
) -> None:
    _, out, err = run(*(str(hostile) if word == "AUDIT" else word for word in asked))
    assert out + err
    assert_plain(out, err)
    assert "owned" in out + err or "--json" in asked or "--csv" in asked


def test_json_and_csv_stay_what_they_are(run: Run, hostile: Path) -> None:
    _, out, _ = run("score", hostile, "--json")
    assert json.loads(out)["definition"]["name"] == HOSTILE
    _, out, _ = run("score", hostile, "--csv")
    assert next(csv.reader(io.StringIO(out)))[0] == "level"


def test_an_interrupted_command_says_a_word(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    app = typer.Typer()

    @app.command()
    def long() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(main, "app", app)
    status, _, err = run()
    assert status == 130
    assert "stopped; run the same command again to continue" in err
