"""Reps that nobody judged are never shown as good, wherever they are shown."""

import io

import pytest
from msgspec.structs import replace
from rich.console import Console
from typer.testing import CliRunner

from cli.charts.strip import rep_strip
from cli.main import app
from cli.report.page import report_html
from cli.summary import counted_sentences, set_summaries, to_explain
from cli.tables.audit import print_audit
from counting.record.files import record_json
from counting.record.tables import sets_csv
from counting.record.types import AuditRecord, CheckPart, CountsPart
from counting.review.sheet import reviewed_sheet

WHY = "not judged here: no labelled film tells how far off it may be read"


def open_check() -> CheckPart:
    return CheckPart(
        name="contact",
        words="both feet touch the bar",
        quantity="feet to bar gap",
        at_s=None,
        value=None,
        relation="at most",
        limit=1.5,
        unit="cm",
        uncertainty=None,
        probability_met=0.5,
        verdict="not judged",
        reason=WHY,
    )


def phase(verdict: str) -> CheckPart:
    return replace(
        open_check(),
        name="feet up",
        quantity="feet above hands",
        at_s=3.0,
        value=-0.2,
        limit=-0.15,
        relation="at least",
        unit="share",
        uncertainty=0.06,
        probability_met=0.2,
        verdict=verdict,
        reason="was not reached",
        low=-0.3,
        high=-0.1,
    )


@pytest.fixture
def counted(attempt: AuditRecord) -> AuditRecord:
    """The attempt with all reps only counted, the second near to missing something."""
    reps = [
        replace(
            rep,
            verdict="only counted",
            checks=[open_check(), phase("too close" if rep.number == 2 else "met")],
            reason=f"only counted: contact {WHY}",
            probability_good=0.5,
        )
        for rep in attempt.reps
    ]
    counts = CountsPart(
        good=0, no_rep=0, too_close=0, only_counted=len(reps), lowest=0, highest=len(reps)
    )
    return replace(attempt, reps=reps, counts=counts, workout=None)


def printed(record: AuditRecord) -> str:
    out = io.StringIO()
    print_audit(record, Console(file=out, width=200, highlight=False))
    return out.getvalue()


def test_the_sum_says_how_many_were_only_counted_and_that_any_may_stand(counted) -> None:
    said = printed(counted)
    n = len(counted.reps)
    assert f"0 to {n} reps may count" in said
    assert f"0 good, {n} only counted" in said
    assert "most probable" not in said


def test_the_reason_they_share_is_told_once_and_doubts_one_by_one(counted) -> None:
    assert len(counted_sentences(counted)) == len({rep.movement for rep in counted.reps})
    assert [rep.number for rep in to_explain(counted)] == [2]
    said = printed(counted)
    assert said.count("no labelled film tells") == len(counted_sentences(counted))
    assert "feet above hands −20 % (−30 to −10), standard: −15 % or more" in said


def test_sets_and_tables_count_them_apart(counted) -> None:
    parts = set_summaries(counted)
    assert sum(part.only_counted for part in parts) == len(counted.reps)
    assert all(part.good == 0 and part.attempts == part.only_counted for part in parts)
    heading, first = sets_csv(counted).splitlines()[:2]
    place = heading.split(",").index("only_counted")
    assert first.split(",")[place] == str(parts[0].only_counted)


def test_the_page_shows_them_with_a_mark_of_their_own_and_without_odds(counted) -> None:
    page = report_html(counted)
    assert f"{len(counted.reps)} only counted" in page
    assert "meets the standard with room to spare" not in page
    assert "How probable each count is" not in page
    assert "2 only counted" in str(rep_strip([(1, "only counted")] * 2))


def test_they_stay_open_until_a_person_calls_them(counted) -> None:
    assert len(reviewed_sheet(counted, []).open_reps) == len(counted.reps)


def test_an_explanation_gives_phases_in_shares_and_why_nothing_was_judged(
    counted, tmp_path
) -> None:
    folder = tmp_path / "attempt.audit"
    folder.mkdir()
    (folder / "audit.json").write_text(record_json(counted), encoding="utf-8")
    done = CliRunner().invoke(app, ["explain", str(folder), "--rep", "2", "--no-still"])
    assert done.exit_code == 0, done.output
    assert "contact: not judged" in done.output
    assert WHY in done.output
    assert "feet above hands −20 % (−30 to −10), read at " in done.output
    assert "0:03.00); standard" in done.output
    assert "standard: −15 % or more" in done.output
