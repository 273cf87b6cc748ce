import hashlib
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from cli.review.log import LOG_NAME, DecisionLog
from counting.record.files import record_json
from counting.record.seal import sealed
from counting.record.types import AuditRecord, UnexplainedPart
from tests.cli.filmed import filmed_audit
from tests.cli.review.server import Server

PATIENCE_S = 90.0

CLIP = Path(__file__).parents[3] / "sample_clips" / "boathouse_thrusters.mp4"


@pytest.fixture
def evening(tmp_path: Path, attempt_of: Callable[..., AuditRecord]) -> Path:
    """A folder with a sample clip and an audit of six reps, five of them flagged."""
    made = attempt_of((6,), (2,), (1, 3, 4, 5), file=CLIP.name, cycle_s=2.0)
    made = msgspec.structs.replace(
        made,
        film=msgspec.structs.replace(
            made.film, sha256=hashlib.sha256(CLIP.read_bytes()).hexdigest()
        ),
    )
    (tmp_path / "clip.audit").mkdir()
    (tmp_path / "clip.audit" / "audit.json").write_text(record_json(made), encoding="utf-8")
    shutil.copy(CLIP, tmp_path / CLIP.name)
    return tmp_path


@pytest.fixture
def server(evening: Path) -> Iterator[Server]:
    """The desk over the folder."""
    running = Server(evening)
    yield running
    running.kill()


@pytest.fixture
def opened(server: Server, page_of: Callable[..., Any]) -> Any:
    """The attempt's page, with the reviewer's name filled in."""
    page = page_of()
    page.goto(server.address)
    page.get_by_role("link", name=CLIP.name).click()
    # A click does not wait for the page that it leads to.
    page.locator("#film").wait_for(state="attached")
    until(page, "document.getElementById('film').readyState >= 2")
    until(page, "document.querySelector('#queue a[aria-current]') !== null")
    page.locator("#reviewer").fill("R. Osei")
    page.keyboard.press("Enter")
    until(page, "document.activeElement === document.body")
    return page


def until(page: Any, expression: str) -> None:
    """Wait until an expression holds; the page's content policy forbids waiting inside of it."""
    deadline = time.monotonic() + PATIENCE_S
    while not page.evaluate(expression):
        if time.monotonic() >= deadline:
            shown = page.locator("#notice").all_inner_texts()
            raise AssertionError(f"never came: {expression}; the notice says {shown}")
        page.wait_for_timeout(20)


def notice_starts(words: str) -> str:
    return f"document.getElementById('notice').textContent.startsWith('{words}')"


def forget_lost_connections(page_of: Callable[..., Any]) -> None:
    complaints: list[str] = page_of.complaints  # type: ignore[attr-defined]
    complaints[:] = [text for text in complaints if "net::ERR_" not in text]


def mine(page: Any) -> list[str]:
    return list(page.locator("#queue [data-mine]").all_inner_texts())


def now_s(page: Any) -> float:
    return float(page.evaluate("document.getElementById('film').currentTime"))


def test_the_film_plays_pauses_and_steps_single_frames(opened: Any) -> None:
    before_s = now_s(opened)
    opened.keyboard.press("Space")
    until(opened, f"document.getElementById('film').currentTime > {before_s + 0.3}")
    opened.keyboard.press("Space")
    assert opened.evaluate("document.getElementById('film').paused")
    paused_s = now_s(opened)
    opened.keyboard.press("ArrowRight")
    until(opened, f"document.getElementById('film').currentTime > {paused_s}")
    rate_hz = float(opened.locator("main").get_attribute("data-rate"))
    assert now_s(opened) - paused_s == pytest.approx(1 / rate_hz, abs=0.01)


def test_a_click_on_the_timeline_jumps_to_its_time(opened: Any) -> None:
    row = opened.locator(".only-wide .timeline .row").first
    start_s, end_s = (float(row.get_attribute(f"data-{name}")) for name in ("start", "end"))
    lane = row.locator(".lane").bounding_box()
    opened.mouse.click(lane["x"] + 0.75 * lane["width"], lane["y"] + lane["height"] / 2)
    assert now_s(opened) == pytest.approx(start_s + 0.75 * (end_s - start_s), abs=0.1)


def test_three_reps_are_decided_by_keyboard_and_stand_after_a_reload(
    opened: Any, evening: Path
) -> None:
    for key in "gns":
        opened.keyboard.press(key)
    until(opened, "document.getElementById('count-good').textContent === '2'")
    assert mine(opened)[:3] == ["you: good", "you: no-rep", "you: skip"]
    opened.reload()
    until(opened, "document.querySelector('[data-mine]').textContent !== ''")
    assert mine(opened) == ["you: good", "you: no-rep", "you: skip", "", ""]
    assert opened.locator("#score").inner_text() == "2 to 4"
    rows = DecisionLog(evening / LOG_NAME).decisions()
    assert [(row.rep, row.call, row.reviewer) for row in rows] == [
        (1, "good", "R. Osei"),
        (3, "no-rep", "R. Osei"),
        (4, "skip", "R. Osei"),
    ]


def test_back_undo_and_a_note_work_from_the_keyboard(opened: Any, evening: Path) -> None:
    opened.keyboard.press("m")
    opened.keyboard.type("hips low, grain of film")
    opened.keyboard.press("Escape")
    opened.keyboard.press("g")
    opened.keyboard.press("b")
    until(opened, "location.hash === '#rep-1'")
    assert opened.locator("#note").input_value() == "hips low, grain of film"
    opened.keyboard.press("u")
    until(opened, "document.querySelector('[data-mine]').textContent === ''")
    rows = DecisionLog(evening / LOG_NAME).decisions()
    assert [(row.call, row.note, row.undoes) for row in rows] == [
        ("good", "hips low, grain of film", None),
        ("good", "", 1),
    ]


def test_undo_goes_back_to_the_rep_and_says_so(opened: Any) -> None:
    opened.keyboard.press("g")
    opened.keyboard.press("g")
    until(opened, "location.hash === '#rep-4'")
    opened.keyboard.press("u")
    until(opened, notice_starts("Rep 3: call undone."))
    assert opened.evaluate("location.hash") == "#rep-3"
    assert mine(opened)[:2] == ["you: good", ""]


def test_after_the_last_call_signing_has_the_focus_and_keys_call_nothing(
    opened: Any, evening: Path
) -> None:
    for key in "ggggg":
        opened.keyboard.press(key)
    until(opened, "document.activeElement.id === 'sign'")
    until(opened, "document.getElementById('queue-left').textContent === 'all called'")
    opened.keyboard.press("n")
    opened.keyboard.press("g")
    assert opened.locator("[data-call=good]").is_disabled()
    opened.keyboard.press("Enter")
    until(opened, "!document.getElementById('signed').hidden")
    rows = DecisionLog(evening / LOG_NAME).decisions()
    assert [row.call for row in rows] == ["good"] * 5
    opened.locator("#queue a").first.click()
    opened.keyboard.press("n")
    until(opened, "document.querySelector('[data-mine]').textContent === 'you: no-rep'")


def test_no_call_is_made_without_a_name(server: Server, page_of: Callable[..., Any]) -> None:
    page = page_of()
    page.goto(server.address)
    page.get_by_role("link", name=CLIP.name).click()
    until(page, "document.querySelector('#queue a[aria-current]') !== null")
    page.keyboard.press("g")
    assert "Write your name first" in page.locator("#notice").inner_text()
    assert page.evaluate("document.activeElement.id") == "reviewer"


def test_a_server_killed_mid_decision_loses_no_call(
    opened: Any, server: Server, evening: Path, page_of: Callable[..., Any]
) -> None:
    opened.keyboard.press("g")
    opened.keyboard.press("n")
    server.kill()
    opened.keyboard.press("g")
    until(opened, notice_starts("Not saved yet"))
    server.start()
    until(opened, "document.getElementById('notice').hidden")
    opened.reload()
    until(opened, "document.querySelector('[data-mine]').textContent !== ''")
    assert mine(opened)[:3] == ["you: good", "you: no-rep", "you: good"]
    rows = DecisionLog(evening / LOG_NAME).decisions()
    assert [(row.rep, row.call) for row in rows] == [(1, "good"), (3, "no-rep"), (4, "good")]
    forget_lost_connections(page_of)


def test_a_warning_goes_once_the_desk_answers_whatever_answer_comes_last(
    opened: Any, page_of: Callable[..., Any]
) -> None:
    calls: list[Any] = []
    state_comes = False

    def first_call_is_lost(route: Any) -> None:
        calls.append(route)
        if len(calls) == 1:
            route.abort()

    def state_is_lost_at_first(route: Any) -> None:
        if state_comes:
            route.continue_()
        else:
            route.abort()

    opened.route("**/decide", first_call_is_lost)
    opened.route("**/state?*", state_is_lost_at_first)
    opened.keyboard.press("g")
    while len(calls) < 2:
        opened.wait_for_timeout(20)
    opened.evaluate("document.getElementById('reviewer').dispatchEvent(new Event('change'))")
    until(opened, notice_starts("The desk does not answer"))
    with opened.expect_response("**/state?*"):
        state_comes = True
    opened.wait_for_load_state("networkidle")
    calls[1].continue_()
    until(opened, "document.getElementById('notice').hidden")
    forget_lost_connections(page_of)


def test_a_film_cut_off_with_the_desk_comes_back_where_it_was(
    opened: Any, page_of: Callable[..., Any]
) -> None:
    desk_answers = False

    def only_while_the_desk_answers(route: Any) -> None:
        if desk_answers:
            route.continue_()
        else:
            route.abort("connectionrefused")

    now = now_s(opened)
    opened.route("**/film/*", only_while_the_desk_answers)
    opened.route("**/film-check", only_while_the_desk_answers)
    opened.evaluate("document.getElementById('film').load()")
    until(opened, notice_starts("The desk does not answer"))
    desk_answers = True
    until(opened, "document.getElementById('notice').hidden")
    until(opened, "document.getElementById('film').readyState >= 2")
    assert now_s(opened) == pytest.approx(now, abs=0.05)
    forget_lost_connections(page_of)


def test_a_film_the_browser_cannot_play_is_said_to_be_so(opened: Any) -> None:
    opened.route("**/film/*", lambda route: route.fulfill(body="no film"))
    opened.evaluate("document.getElementById('film').load()")
    until(opened, notice_starts("This browser cannot play the film"))


def test_a_call_is_on_the_screen_within_a_tenth_of_a_second(opened: Any) -> None:
    spent_ms = opened.evaluate(
        """async () => {
          const cell = document.querySelector('[data-mine]');
          const shown = new Promise((done) => new MutationObserver(() => requestAnimationFrame(() =>
            done(performance.now()))).observe(cell, { childList: true }));
          const pressed = performance.now();
          document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'g', bubbles: true }));
          return (await shown) - pressed;
        }"""
    )
    assert spent_ms < 100


@pytest.mark.parametrize("width", [360, 1280])
def test_nobody_is_kept_out_of_the_desk(
    server: Server,
    page_of: Callable[..., Any],
    barriers: Callable[..., list[str]],
    overflow: Callable[[Any], float],
    width: int,
) -> None:
    page = page_of(width=width)
    page.goto(server.address)
    assert barriers(page, both_schemes=True) == []
    assert overflow(page) <= 0
    page.get_by_role("link", name=CLIP.name).click()
    until(page, "document.querySelector('#queue a[aria-current]') !== null")
    for name, key in (("R. Osei", "g"), ("M. Lind", "n")):
        page.locator("#reviewer").fill(name)
        page.keyboard.press("Enter")
        page.locator("#queue a").first.click()
        page.keyboard.press(key)
        until(page, "document.querySelector('[data-mine]').textContent.length > 0")
    assert barriers(page, both_schemes=True) == []
    assert overflow(page) <= 0
    page.wait_for_timeout(300)
    page.goto(f"{server.address}agreement")
    assert page.get_by_role("heading", name="M. Lind and R. Osei").is_visible()
    assert barriers(page, both_schemes=True) == []
    assert overflow(page) <= 0


def test_a_log_that_is_lost_stops_the_keys_and_the_page_says_why(
    opened: Any, evening: Path, page_of: Callable[..., Any]
) -> None:
    log = evening / LOG_NAME
    kept = log.with_name("kept.sqlite")
    log.rename(kept)
    opened.keyboard.press("g")
    until(opened, notice_starts("Not saved yet: "))
    assert "deleted or replaced" in opened.locator("#notice").inner_text()
    until(opened, "document.querySelector('[data-call=good]').disabled")
    assert opened.evaluate("JSON.parse(localStorage.getItem('repwitness-unsent')).length") == 1
    opened.keyboard.press("n")
    until(opened, notice_starts("No call is taken: "))
    assert opened.evaluate("JSON.parse(localStorage.getItem('repwitness-unsent')).length") == 1
    opened.reload()
    assert "no call is taken any more" in opened.get_by_role("alert").inner_text()
    opened.close()
    complaints: list[str] = page_of.complaints  # type: ignore[attr-defined]
    complaints[:] = [text for text in complaints if "503" not in text]


def opened_by(page: Any, address: str, file: str) -> Any:
    """Open a film's attempt as R. Osei."""
    page.goto(address)
    page.get_by_role("link", name=file).click()
    until(page, "document.querySelector('#queue a[aria-current]') !== null")
    page.locator("#reviewer").fill("R. Osei")
    page.keyboard.press("Enter")
    until(page, "document.activeElement === document.body")
    return page


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Callable[[], Server]]:
    """A maker of a desk over the test's own folder."""
    running: list[Server] = []

    def start() -> Server:
        running.append(Server(tmp_path))
        return running[-1]

    yield start
    for server in running:
        server.kill()


def test_fifty_open_reps_take_at_most_three_keys_each(
    tmp_path: Path,
    attempt_of: Callable[..., AuditRecord],
    served: Callable[[], Server],
    page_of: Callable[..., Any],
) -> None:
    made = attempt_of((50,), (), tuple(range(1, 51)), file=CLIP.name, cycle_s=2.0)
    (tmp_path / "clip.audit").mkdir()
    (tmp_path / "clip.audit" / "audit.json").write_text(record_json(made), encoding="utf-8")
    page = opened_by(page_of(), served().address, CLIP.name)
    pressed = 0
    for turn in range(50):
        page.keyboard.press("g1n2"[turn % 4])
        pressed += 1
    until(page, "document.getElementById('queue-left').textContent === 'all called'")
    page.keyboard.press("o")
    pressed += 1
    until(page, "document.getElementById('signed').textContent.startsWith('signed off by R. Osei')")
    assert pressed <= 3 * 50
    rows = DecisionLog(tmp_path / LOG_NAME).decisions()
    assert sorted(row.rep for row in rows) == list(range(1, 51))
    assert {(row.call, row.standard) for row in rows} == {
        ("good", ""),
        ("no-rep", "depth"),
        ("no-rep", ""),
        ("no-rep", "lockout"),
    }
    page.keyboard.press("a")
    page.wait_for_url(lambda url: "/attempt/" not in url)


def test_signing_by_key_waits_for_the_last_call(opened: Any, evening: Path) -> None:
    opened.keyboard.press("o")
    assert opened.locator("#notice").inner_text().startswith("5 reps are still to call")
    assert DecisionLog(evening / LOG_NAME).signatures() == {}


def test_film_question_and_both_buttons_fit_one_screen_of_a_phone(
    server: Server, page_of: Callable[..., Any], overflow: Callable[[Any], float]
) -> None:
    page = page_of(width=390, height=844, has_touch=True, is_mobile=True)
    opened_by(page, server.address, CLIP.name)
    boxes = [
        page.locator(place).first.bounding_box()
        for place in (
            "#screen",
            ".card:not([hidden]) h3",
            ".card:not([hidden]) .check p",
            "[data-call=good]",
        )
    ]
    beside = page.locator("[data-call='no-rep']").bounding_box()
    assert beside["y"] == boxes[-1]["y"]
    edges = [edge for box in boxes for edge in (box["y"], box["y"] + box["height"])]
    assert edges == sorted(edges)
    assert edges[0] >= 0
    assert edges[-1] <= 844
    assert overflow(page) <= 0


def test_two_fingers_apart_show_a_smaller_part_of_the_film_larger(
    server: Server, page_of: Callable[..., Any]
) -> None:
    page = opened_by(
        page_of(width=390, height=844, has_touch=True, is_mobile=True), server.address, CLIP.name
    )
    width_px = "document.querySelector('#screen svg').viewBox.baseVal.width"
    until(page, f"{width_px} > 0 && document.getElementById('film').readyState >= 2")
    shown = page.evaluate(width_px)
    box = page.locator("#screen").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    fingers = page.context.new_cdp_session(page)
    for kind, apart_px in (("touchStart", 40), ("touchMove", 50), ("touchMove", 100)):
        points = [{"x": x - apart_px / 2, "y": y}, {"x": x + apart_px / 2, "y": y}]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    fingers.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    until(page, f"{width_px} < {0.6 * shown}")


def test_the_film_shows_the_athlete_goes_round_and_draws_the_deciding_lines(
    tmp_path: Path,
    attempt: AuditRecord,
    served: Callable[[], Server],
    page_of: Callable[..., Any],
) -> None:
    folder, record = filmed_audit(tmp_path, attempt, verdict="too close", probability_met=0.5)
    rep = msgspec.structs.replace(record.reps[0], verdict="too close", probability_good=0.5)
    size = msgspec.structs.replace(record.film, width=360, height=640)
    record = sealed(msgspec.structs.replace(record, film=size, reps=[rep]))
    (folder / "audit.json").write_text(record_json(record), encoding="utf-8")
    page = opened_by(page_of(), served().address, "attempt.mp4")
    until(page, "document.querySelectorAll('#screen .drawn line').length === 4")
    shown = page.evaluate("document.querySelector('.still svg').viewBox.baseVal.width")
    assert shown < 360
    limit, measured_at = (
        float(page.locator(f".still .{name}").get_attribute("y1") or 0)
        for name in ("drawn-limit", "drawn-measured")
    )
    assert limit > measured_at
    page.locator("#queue a").first.click()
    until(page, "!document.getElementById('film').paused")
    assert page.evaluate("document.getElementById('film').playbackRate") == 0.5
    until(page, "document.getElementById('film').currentTime > 1.3")
    until(page, "document.getElementById('film').currentTime < 0.8")
    until(page, "document.getElementById('screen').classList.contains('deciding')")
    assert now_s(page) == pytest.approx(1.0, abs=0.4)
    box = page.locator("#screen").bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.wheel(0, -400)
    until(page, f"document.querySelector('.still svg').viewBox.baseVal.width < {0.5 * shown}")
    page.keyboard.press("w")
    until(page, "document.getElementById('whole').ariaPressed === 'true'")


def test_where_reps_may_be_hidden_stands_first_and_shows_the_stretch(
    tmp_path: Path,
    attempt_of: Callable[..., AuditRecord],
    served: Callable[[], Server],
    page_of: Callable[..., Any],
) -> None:
    made = attempt_of((6,), (2,), (1, 3), file=CLIP.name, cycle_s=2.0)
    hidden = UnexplainedPart(start_s=1.0, end_s=2.0, most=2, why="not read")
    made = msgspec.structs.replace(made, unexplained=[hidden])
    (tmp_path / "clip.audit").mkdir()
    (tmp_path / "clip.audit" / "audit.json").write_text(record_json(made), encoding="utf-8")
    shutil.copy(CLIP, tmp_path / CLIP.name)
    page = opened_by(page_of(), served().address, CLIP.name)
    entries = page.locator("#queue li").all_inner_texts()
    assert "up to 2 reps may be hidden" in entries[0]
    assert ["no-rep" in entry for entry in entries] == [False, False, False, True]
    until(page, "document.getElementById('film').readyState >= 2")
    page.locator(".stretch").click()
    until(page, "document.getElementById('film').currentTime > 1.5")
