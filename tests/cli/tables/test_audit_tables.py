import io
from collections.abc import Callable

import msgspec
import pytest
from rich.console import Console

from cli.answer import answer_of
from cli.summary import decision_s, set_summaries, where_time_went
from cli.tables import audit_console, print_audit, sparkline
from counting.record.types import AuditRecord, ContinuityPart, UnexplainedPart
from tests.records import continuity
from vision.continuity.types import Continuity


def printed(record: AuditRecord, **console: object) -> str:
    out = io.StringIO()
    print_audit(record, Console(file=out, width=160, **console))  # type: ignore[arg-type]
    return out.getvalue()


def test_every_flagged_rep_stands_with_its_time_call_value_limit_and_95_percent_interval(
    attempt: AuditRecord,
) -> None:
    line = next(line for line in printed(attempt).splitlines() if line.split()[:2] == ["4", "1"])
    assert line.split()[2:5] == ["0:08.2", "(0:13.2)", "no-rep"]
    assert "hip crease above knee top 4.4 cm (2.4 to 6.4), standard: 0 cm or less" in line


def test_sets_show_their_counts_times_and_the_break_that_followed(attempt: AuditRecord) -> None:
    text = printed(attempt)
    rows = text[text.index("Sets") :].splitlines()[2:5]
    assert rows[0].split()[:5] == ["1", "8", "6", "1", "1"]
    assert rows[0].rstrip().endswith("9.0 s bar down")
    assert rows[2].split()[:5] == ["3", "5", "3", "1", "1"]


def test_the_first_lines_say_the_count_its_range_and_what_an_eye_must_decide(
    attempt: AuditRecord,
) -> None:
    lines = printed(attempt).splitlines()
    assert lines[1].split()[:6] == ["count", "14", "to", "17", "reps", "may"]
    assert (
        lines[2].split(maxsplit=1)[1].rstrip() == "14 good, 2 no-rep, 3 too close of 19 reps tried"
    )
    assert lines[3].startswith("to decide  reps ")
    assert "are too close to call" in lines[3]


def test_the_next_command_is_named(
    attempt: AuditRecord, attempt_of: Callable[..., AuditRecord]
) -> None:
    out = io.StringIO()
    print_audit(attempt, Console(file=out, width=80), review="films", report="films/a.audit")
    assert "repwitness review films" in out.getvalue()
    out = io.StringIO()
    sure = attempt_of(sets=(3,), no_reps=(), too_close=())
    print_audit(sure, Console(file=out, width=80), review="films", report="films/a.audit")
    assert "repwitness report films/a.audit" in out.getvalue()


def test_a_count_without_doubt_is_said_to_count(attempt_of: Callable[..., AuditRecord]) -> None:
    record = attempt_of(sets=(3,), no_reps=(), too_close=())
    text = printed(record)
    assert "3 reps count; every rep is called" in text
    assert "nothing" in text


def test_a_break_in_the_film_is_told_at_the_top(attempt: AuditRecord) -> None:
    cut = continuity("break at 3:12", continuous=False)
    text = printed(msgspec.structs.replace(attempt, continuity=cut))
    assert "break at 3:12" in text[: text.index("Sets")]
    assert "no film shows" not in text


def test_what_was_done_to_a_film_and_does_not_show_in_it_is_told(attempt: AuditRecord) -> None:
    document = Continuity((), 300, sound=True).document()
    whole = msgspec.convert(document, ContinuityPart)
    text = printed(msgspec.structs.replace(attempt, continuity=whole))
    head = text[: text.index("Sets")]
    assert "looks continuous" in head
    assert "no film shows: playing backwards; another speed throughout" in head


def test_a_film_without_reps_prints_no_empty_table(attempt_of: Callable[..., AuditRecord]) -> None:
    text = printed(attempt_of(sets=(), no_reps=(), too_close=()))
    assert "Sets" not in text
    assert "0 good of 0 reps tried" in text


def test_a_pipe_gets_neither_colour_codes_nor_a_cut_reason(
    attempt: AuditRecord, capsys: pytest.CaptureFixture[str]
) -> None:
    print_audit(attempt, audit_console())
    text = capsys.readouterr().out
    assert "\x1b" not in text
    assert "standard: 0 cm or less" in text


def test_no_color_keeps_a_terminal_free_of_colour(
    attempt: AuditRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    coloured = printed(attempt, force_terminal=True, color_system="standard")
    assert "\x1b[32m" in coloured
    monkeypatch.setenv("NO_COLOR", "1")
    plain = printed(attempt, force_terminal=True, color_system="standard")
    assert "\x1b[32m" not in plain
    assert "\x1b[1;31m" not in plain


def test_file_names_with_brackets_are_printed_as_they_are(
    attempt_of: Callable[..., AuditRecord],
) -> None:
    out = io.StringIO()
    console = audit_console()
    console.file = out
    print_audit(attempt_of(file="take [bold]2[/bold].mp4"), console)
    assert "take [bold]2[/bold].mp4" in out.getvalue()


def test_a_sparkline_rises_with_its_values_and_shares_one_scale() -> None:
    assert sparkline([1.0, 2.0, 3.0], 1.0, 3.0) == "▁▅█"
    assert sparkline([1.0, 2.0, 3.0], 1.0, 3.0, ascii_only=True) == "158"
    assert sparkline([2.0, 2.0], 2.0, 2.0) == "▁▁"
    assert sparkline([float("nan"), 3.0], 1.0, 3.0) == " █"
    assert sparkline([0.0, 9.0], 1.0, 3.0) == "▁█"


def test_a_long_set_is_thinned_to_the_width() -> None:
    assert sparkline([1.0] * 50 + [8.0] * 50, 1.0, 8.0, width=10) == "▁▁▁▁▁█████"


def test_where_the_time_went_sums_to_the_span_from_first_to_last_rep(attempt: AuditRecord) -> None:
    parts = where_time_went(attempt)
    span_s = attempt.reps[-1].end_s - attempt.reps[0].start_s
    assert sum(part.duration_s for part in parts) == pytest.approx(span_s)
    assert sum(part.share for part in parts) == pytest.approx(1.0)
    assert {part.what: round(part.duration_s, 6) for part in parts}["breaks"] == 18.0


def test_rest_belongs_to_the_set_before_it_and_the_last_has_none(attempt: AuditRecord) -> None:
    rests = [part.rest_s for part in set_summaries(attempt)]
    assert rests[:2] == pytest.approx([9.0, 9.0])
    assert rests[2] is None


def test_a_rep_is_decided_at_its_worst_check(attempt: AuditRecord) -> None:
    assert decision_s(attempt.reps[3]) == attempt.reps[3].turn_s


def test_nothing_is_timed_in_a_film_that_tells_no_time(attempt: AuditRecord) -> None:
    film = msgspec.structs.replace(attempt.film, times_known=False)
    record = msgspec.structs.replace(attempt, film=film, breaks=[], pauses=[])
    text = printed(record)
    assert "of unknown length" in text
    assert "9.0 s bar down" not in text
    assert all(part.cycle_s == () for part in set_summaries(record))
    assert where_time_went(record) == []
    assert text.splitlines()[1:3] == printed(attempt).splitlines()[1:3]


@pytest.mark.parametrize("width", [40, 60, 80, 100, 160])
def test_a_narrow_terminal_loses_columns_and_never_part_of_a_number(
    attempt: AuditRecord, width: int
) -> None:
    out = io.StringIO()
    print_audit(attempt, Console(file=out, width=width))
    text = out.getvalue()
    assert "…" not in text
    rows = text[text.index("Sets") :].splitlines()
    assert rows[2].split()[:5] == ["1", "8", "6", "1", "1"]
    assert ("cycle times" in rows[1]) == (width >= 100)
    assert max(len(line.rstrip()) for line in rows[:5]) <= width


def test_a_workouts_clock_is_told_with_the_films_time_in_brackets(attempt: AuditRecord) -> None:
    text = printed(msgspec.structs.replace(attempt, start_s=10.0))
    line = next(line for line in text.splitlines() if line.split()[:2] == ["4", "1"])
    assert line.split()[2:4] == ["0:03.2", "(0:13.2)"]


def test_stretches_that_may_hide_reps_are_among_what_an_eye_must_decide(
    attempt: AuditRecord,
) -> None:
    hidden = [
        UnexplainedPart(start_s=12.0, end_s=20.0, most=2, why="moved"),
        UnexplainedPart(start_s=40.0, end_s=44.0, most=1, why="not read"),
    ]
    record = msgspec.structs.replace(attempt, start_s=None, unexplained=hidden)
    decide = answer_of(record).to_decide
    assert decide.endswith("up to 3 more reps may be hidden after 0:12.0, 0:40.0")
