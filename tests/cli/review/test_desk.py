import csv
import io
import json
import re
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import msgspec
import pytest

from cli.review.app import LOG_GONE
from cli.review.desk import Desk
from cli.review.log import LOG_NAME
from counting.record.files import record_json
from counting.record.types import AuditRecord
from tests.records import continuity, further_film
from tests.yardstick import slowness

ORIGIN = {"origin": "http://127.0.0.1"}


def key_of(desk: Desk, file: str) -> str:
    return next(a.key for a in desk.library.attempts() if a.record.film.file == file)


@pytest.fixture
def lane(desk: Desk) -> str:
    """Path of the attempt with open reps."""
    return f"/attempt/{key_of(desk, 'lane_1.mp4')}"


def call(client: Any, lane: str, rep: int, verdict: str, reviewer: str = "R. Osei") -> dict:
    call.made += 1  # type: ignore[attr-defined]
    answer = client.post(
        f"{lane}/decide",
        json={
            "request": f"request{call.made:04d}",  # type: ignore[attr-defined]
            "rep": rep,
            "call": verdict,
            "reviewer": reviewer,
            "note": "seen twice",
        },
        headers=ORIGIN,
    )
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


call.made = 0  # type: ignore[attr-defined]


def test_a_further_film_is_shown_beside_the_first(client: Any, desk: Desk, folder: Path) -> None:
    lane = f"/attempt/{key_of(desk, 'lane_1.mp4')}"
    assert "further-1" not in client.get(lane).text
    record = next(a.record for a in desk.library.attempts() if a.record.film.file == "lane_1.mp4")
    both = msgspec.structs.replace(record, second_views=[further_film(record, "side.mp4", 1.25)])
    (folder / "lane_1.audit" / "audit.json").write_text(record_json(both), encoding="utf-8")
    (folder / "side.mp4").write_bytes(b"another film")
    page = client.get(lane).text
    assert 'film/further-1"' in page
    assert 'data-offset="1.25"' in page
    assert client.get(f"{lane}/film/further-1").content == b"another film"
    for nobody in ("further-0", "further-2", "further-", "further-11"):
        assert client.get(f"{lane}/film/{nobody}").content != b"another film"


def test_the_list_puts_the_attempt_that_a_look_can_change_first(client: Any) -> None:
    page = client.get("/").text
    assert page.index("lane_1.mp4") < page.index("lane_2.mp4")
    assert "3 reps to call" in page
    assert "1 of 2 attempts needs" in page


def test_a_film_with_a_break_stands_first_of_all(
    client: Any, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    cut = msgspec.structs.replace(
        attempt_of((3,), (), (), file="lane_3.mp4", sha256="3" * 64),
        continuity=continuity("break at 0:09", continuous=False),
    )
    (folder / "lane_3.audit").mkdir()
    (folder / "lane_3.audit" / "audit.json").write_text(record_json(cut), encoding="utf-8")
    page = client.get("/").text
    assert page.index("lane_3.mp4") < page.index("lane_1.mp4")
    assert "film in doubt" in page


def test_waiting_leaves_settled_attempts_out(client: Any) -> None:
    page = client.get("/?show=open").text
    assert "lane_1.mp4" in page
    assert "lane_2.mp4" not in page


def test_the_page_holds_a_card_for_every_rep_and_a_queue_of_those_flagged(
    client: Any, lane: str
) -> None:
    page = client.get(lane).text
    assert page.count('class="card"') == 19
    assert page.count("data-goto=") == 5
    assert "<style" not in page
    assert " style=" not in page


def test_score_and_interval_follow_every_call(client: Any, lane: str) -> None:
    assert client.get(f"{lane}/state").json()["score"] == "14 to 17"
    assert call(client, lane, 7, "good")["score"] == "15 to 17"
    assert call(client, lane, 12, "no-rep")["score"] == "15 to 16"
    last = call(client, lane, 18, "good")
    assert last["score"] == "16 reps"
    assert last["counts"] == {"good": 16, "no-rep": 3, "too close": 0, "only counted": 0}


def test_undo_takes_back_the_last_call_of_that_reviewer(client: Any, lane: str) -> None:
    call(client, lane, 7, "good")
    call(client, lane, 12, "good", "M. Lind")
    answer = client.post(
        f"{lane}/undo", json={"request": "undorequest1", "reviewer": "R. Osei"}, headers=ORIGIN
    ).json()
    assert answer["reps"][6]["mine"] is None
    assert answer["undone"] == 7
    assert answer["reps"][6]["verdict"] == "too close"
    assert answer["score"] == "14 to 17"
    again = {"request": "undorequest2", "reviewer": "R. Osei"}
    assert client.post(f"{lane}/undo", json=again, headers=ORIGIN).json()["undone"] is None


def scores_in(page: str) -> list[str]:
    return sorted(re.findall(r'<span class="stands-value">([^<]*)', page))


def test_a_second_reviewer_sees_nothing_of_the_first_ones_calls_until_done(
    client: Any, lane: str
) -> None:
    untouched = client.get(f"{lane}/state?reviewer=M. Lind").json()
    page, listed = client.get(lane).text, scores_in(client.get("/").text)
    for rep in (4, 7, 12, 17, 18):
        call(client, lane, rep, "good")
    assert scores_in(client.get("/").text) == listed
    client.post(
        f"{lane}/sign", json={"request": "signrequest1", "reviewer": "R. Osei"}, headers=ORIGIN
    )
    assert client.get(lane).text == page
    before = client.get(f"{lane}/state?reviewer=M. Lind").json()
    assert before.pop("blind")
    assert before == {name: value for name, value in untouched.items() if name != "blind"}
    for rep in (4, 7, 12, 17):
        told = call(client, lane, rep, "no-rep", "M. Lind")
        assert told["blind"]
        assert not any(one["others"] for one in told["reps"])
    assert told["score"] == "14 to 15"
    done = call(client, lane, 18, "skip", "M. Lind")
    assert not done["blind"]
    assert done["reps"][6]["others"] == {"R. Osei": "good"}
    assert (done["reps"][6]["state"], done["reps"][6]["verdict"]) == ("disputed", "too close")


def test_agreement_shows_kappa_and_where_reviewers_differ(client: Any, lane: str) -> None:
    assert "before there is anything to compare" in client.get("/agreement").text
    for rep, other in ((4, "no-rep"), (7, "good"), (12, "no-rep")):
        call(client, lane, rep, "no-rep" if rep == 4 else "good")
        call(client, lane, rep, other, "M. Lind")
    page = client.get("/agreement").text
    assert "67 %" in page
    assert "told from 20 reps on" in page
    assert "0.40" not in page
    assert "#rep-12" in page


def test_the_csv_holds_one_line_a_rep_with_what_was_measured_and_what_stands(
    client: Any, lane: str
) -> None:
    call(client, lane, 4, "good")
    answer = client.get(f"{lane}/sheet/csv")
    assert 'filename="lane_1.sheet.csv"' in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == 19
    assert (rows[3]["measured"], rows[3]["verdict"], rows[3]["state"]) == (
        "no-rep",
        "good",
        "decided",
    )
    assert rows[3]["reviewers"] == "R. Osei: good"
    assert rows[3]["notes"] == "seen twice"


def test_a_note_cannot_become_a_formula_in_a_spreadsheet(client: Any, lane: str) -> None:
    client.post(
        f"{lane}/decide",
        json={
            "request": "formula1",
            "rep": 7,
            "call": "good",
            "reviewer": "=cmd()",
            "note": "=1+1",
        },
        headers=ORIGIN,
    )
    rows = list(csv.DictReader(io.StringIO(client.get(f"{lane}/sheet/csv").text)))
    assert rows[6]["notes"] == "'=1+1"
    assert rows[6]["reviewers"].startswith("'=")


def test_the_json_holds_the_whole_log_also_what_was_taken_back(client: Any, lane: str) -> None:
    call(client, lane, 7, "good")
    client.post(
        f"{lane}/undo", json={"request": "undorequest2", "reviewer": "R. Osei"}, headers=ORIGIN
    )
    sheet = json.loads(client.get(f"{lane}/sheet/json").text)
    assert sheet["schema"] == "repwitness.sheet/1"
    assert [row["undoes"] for row in sheet["log"]] == [None, 1]
    assert sheet["counts"]["lowest"] == 14
    assert sheet["signed"] is None


def test_a_signed_report_is_only_signed_while_nothing_has_changed_since(
    client: Any, lane: str
) -> None:
    call(client, lane, 7, "good")
    signed = client.post(
        f"{lane}/sign", json={"request": "signrequest1", "reviewer": "R. Osei"}, headers=ORIGIN
    ).json()
    assert signed["signed"].startswith("signed off by R. Osei")
    report = client.get(f"{lane}/sheet/report")
    assert "signed off by R. Osei" in report.text
    assert "script-src" not in report.headers["content-security-policy"]
    assert "changed since" in call(client, lane, 12, "good")["signed"]
    assert "signed off by R. Osei" not in client.get(f"{lane}/sheet/report").text


def test_a_changed_audit_is_read_again(
    client: Any, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    changed = attempt_of((5,), (), (2,), file="lane_2.mp4", sha256="2" * 64)
    (folder / "lane_2.audit" / "audit.json").write_text(record_json(changed), encoding="utf-8")
    assert "1 rep to call" in client.get("/").text


def test_a_broken_record_is_named_and_harms_no_other(client: Any, folder: Path) -> None:
    (folder / "lane_9.audit").mkdir()
    (folder / "lane_9.audit" / "audit.json").write_text("{", encoding="utf-8")
    page = client.get("/").text
    assert "lane_9.audit" in page
    assert "lane_1.mp4" in page


def test_an_empty_folder_says_what_to_do(client: Any, folder: Path) -> None:
    for name in ("lane_1", "lane_2"):
        (folder / f"{name}.audit" / "audit.json").unlink()
    assert "repwitness audit" in client.get("/").text


def test_the_next_attempt_is_the_one_most_worth_a_look_besides_this_one(
    client: Any, desk: Desk, lane: str
) -> None:
    other = key_of(desk, "lane_2.mp4")
    assert client.get(f"/next?after={other}").headers["location"] == lane
    assert client.get(f"/next?after={key_of(desk, 'lane_1.mp4')}").headers["location"] == "/"


def test_an_attempt_that_is_gone_leads_back_to_the_others(client: Any) -> None:
    answer = client.get("/attempt/0000000000000000")
    assert answer.status_code == 404
    assert 'href="/"' in answer.text


def test_the_list_shows_every_rep_as_its_mark_and_says_their_number(client: Any) -> None:
    assert 'aria-label="14 good, 2 no-rep, 3 too close"' in client.get("/").text


@pytest.mark.slow
def test_the_list_of_five_hundred_audits_comes_within_half_a_second(
    client: Any, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    made = attempt_of()
    for number in range(500):
        place = folder / f"heat_{number:03d}.audit"
        place.mkdir()
        record = msgspec.structs.replace(
            made,
            film=msgspec.structs.replace(
                made.film, file=f"heat_{number:03d}.mp4", sha256=f"{number:064x}"
            ),
        )
        (place / "audit.json").write_text(record_json(record), encoding="utf-8")
    client.get("/")
    spent_s = []
    for _ in range(3):
        begun_s = time.process_time()
        page = client.get("/").text
        spent_s.append(time.process_time() - begun_s)
    assert page.count("<tr>") == 503
    assert min(spent_s) < 0.5 * slowness()


def test_a_log_that_is_lost_stops_the_calls_and_every_page_says_so(
    client: Any, folder: Path, lane: str
) -> None:
    headers = {"origin": "http://127.0.0.1"}
    body = {"request": "request0001", "rep": 7, "call": "good", "reviewer": "R. Osei"}
    assert client.post(f"{lane}/decide", json=body, headers=headers).status_code == 200
    (folder / LOG_NAME).unlink()
    lost = client.post(f"{lane}/decide", json=body | {"request": "request0002"}, headers=headers)
    assert lost.status_code == 503
    assert lost.headers[LOG_GONE] == "yes"
    assert "deleted or replaced" in lost.text
    for page in ("/", lane, "/agreement", "/attempt/0000000000000000"):
        text = client.get(page).text
        assert 'role="alert"' in text
        assert "no call is taken any more" in text
    state = client.get(f"{lane}/state?reviewer=R.+Osei").json()
    assert "no call is taken any more" in state["log_trouble"]
    assert state["reps"][6]["mine"] == "good", "what was acknowledged is still shown"


def test_a_log_held_by_another_is_told_and_the_call_may_be_sent_again(
    client: Any, folder: Path, lane: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cli.review.log.WAIT_S", 0.1)
    headers = {"origin": "http://127.0.0.1"}
    body = {"request": "request0001", "rep": 7, "call": "good", "reviewer": "R. Osei"}
    with closing(sqlite3.connect(folder / LOG_NAME, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        busy = client.post(f"{lane}/decide", json=body, headers=headers)
        assert busy.status_code == 503
        assert LOG_GONE not in busy.headers
        assert "another program holds the review log" in busy.text
        assert 'role="alert"' not in client.get("/").text
        other.execute("ROLLBACK")
    assert client.post(f"{lane}/decide", json=body, headers=headers).status_code == 200
