import io

import pytest

from cli.progress import film_progress


def test_nothing_is_shown_where_the_error_stream_is_no_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with film_progress() as progress:
        progress("drawing", 3.0, 10.0)
    assert capsys.readouterr() == ("", "")


def test_a_terminal_is_told_the_stage_and_the_film_time_done(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    terminal = io.StringIO()
    monkeypatch.setattr(terminal, "isatty", lambda: True)
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "100")
    with film_progress() as progress:
        progress("faces", 1.0, 10.0)
        progress("drawing", 3.0, 10.0)
    assert "drawing" in terminal.getvalue()
    assert "of 10 s of film" in terminal.getvalue()
