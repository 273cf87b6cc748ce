import re
import time
import xml.etree.ElementTree as ET
from collections.abc import Callable
from itertools import pairwise

import msgspec
import pytest

from cli.charts import check_gauge, count_likelihood, pace_chart, rep_strip, share_bar, timeline
from cli.charts.svg import mark, tick_step_s
from cli.charts.timeline import MARGIN_PX, NARROW, WIDE, fold
from cli.summary import TimeShare
from counting.record.types import AuditRecord, SeriesPart
from tests.conftest import make_attempt
from tests.yardstick import slowness


def drawn(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def with_class(root: ET.Element, name: str) -> list[ET.Element]:
    return [item for item in root.iter() if name in (item.get("class") or "").split()]


def test_the_axis_is_folded_into_equal_rows_that_cover_the_film_without_gap() -> None:
    rows = fold(400.0, WIDE)
    assert len(rows) == 3
    assert rows[0].start_s == 0.0
    assert rows[-1].end_s == pytest.approx(400.0)
    for earlier, later in pairwise(rows):
        assert earlier.end_s == pytest.approx(later.start_s)
        assert later.top_px > earlier.top_px


def test_a_time_is_placed_in_proportion_on_its_row() -> None:
    row = fold(100.0, WIDE)[0]
    assert row.x(0.0) == MARGIN_PX
    assert row.x(100.0) == pytest.approx(WIDE.width_px - MARGIN_PX)
    assert row.x(25.0) == pytest.approx(MARGIN_PX + 0.25 * (WIDE.width_px - 2 * MARGIN_PX))


@pytest.mark.parametrize("shape", [WIDE, NARROW])
def test_every_rep_is_on_the_timeline_once_and_flagged_ones_are_links_that_say_why(
    attempt: AuditRecord, shape: object
) -> None:
    root = drawn(timeline(attempt, shape))  # type: ignore[arg-type]
    numbers = [item.get("data-rep") for item in root.iter() if item.get("data-rep")]
    assert numbers == [str(rep.number) for rep in attempt.reps]
    links = [item for item in root.iter() if item.tag == "a"]
    assert [link.get("href") for link in links] == [f"#rep-{n}" for n in (4, 7, 12, 17, 18)]
    assert links[0].get("aria-label") == (
        "rep 4 at 0:08.2 (film 0:13.2): no-rep, < 1 % chance that it is good"
    )


def test_breaks_and_sets_are_drawn_where_they_happen(attempt: AuditRecord) -> None:
    root = drawn(timeline(attempt, WIDE))
    row = fold(attempt.film.duration_s, WIDE)[0]
    lefts = [float(item.get("x") or 0) for item in with_class(root, "break")]
    assert lefts == pytest.approx([row.x(part.start_s) for part in attempt.breaks], abs=0.01)
    assert len(with_class(root, "set-band")) == 3


def test_the_signal_breaks_where_the_athlete_was_not_seen(attempt: AuditRecord) -> None:
    path = with_class(drawn(timeline(attempt, WIDE)), "signal")[0].get("d") or ""
    assert path.count("M") == 2


def test_thinning_the_signal_keeps_the_deepest_point(
    attempt_of: Callable[..., AuditRecord],
) -> None:
    record = attempt_of(series_hz=200.0)
    assert record.series is not None
    path = with_class(drawn(timeline(record, NARROW)), "signal")
    points = [float(y) for item in path for y in re.findall(r" ([\d.]+)", item.get("d") or "")]
    tops = {row.top_px for row in fold(record.film.duration_s, NARROW)}
    deepest = max(point - max(top for top in tops if top <= point) for point in points)
    shallowest = min(point - max(top for top in tops if top <= point) for point in points)
    assert deepest - shallowest == pytest.approx(64 - 12, abs=0.1)


def test_a_file_name_or_reason_cannot_break_out_of_a_drawing(attempt: AuditRecord) -> None:
    hostile = check_gauge(
        type(attempt.reps[0].checks[0])(
            name='"><script>alert(1)</script>',
            words="",
            quantity="<img src=x>",
            at_s=1.0,
            value=1.0,
            relation="at most",
            limit=0.0,
            unit="cm",
            uncertainty=1.0,
            probability_met=0.2,
            verdict="too close",
        )
    )
    assert hostile is not None
    assert "<script" not in hostile
    assert "<img" not in hostile


def test_a_gauge_puts_the_asked_side_where_the_relation_says(attempt: AuditRecord) -> None:
    depth, lockout = attempt.reps[0].checks
    at_most, at_least = drawn(check_gauge(depth) or ""), drawn(check_gauge(lockout) or "")
    assert float(with_class(at_most, "gauge-asked")[0].get("x") or 0) == 4.0
    assert float(with_class(at_least, "gauge-asked")[0].get("x") or 0) == 150.0
    met = float(with_class(at_most, "value")[0].get("cx") or 0)
    assert met < 150.0


def test_a_gauge_draws_the_interval_that_the_call_comes_from(attempt: AuditRecord) -> None:
    """Too close exactly where the whisker crosses the limit in the middle."""
    depth = attempt.reps[0].checks[0]
    for low, high in ((-5.0, -1.0), (-3.0, 2.0), (0.5, 6.0)):
        check = msgspec.structs.replace(depth, value=(low + high) / 2, low=low, high=high)
        whisker = with_class(drawn(check_gauge(check) or ""), "whisker")[0].get("d") or ""
        left, _, right = map(float, re.findall(r"-?[\d.]+", whisker))
        assert (left < 150.0 < right) == (low < 0.0 < high)


def test_verdicts_differ_in_shape_not_only_in_colour() -> None:
    shapes = {verdict: mark(verdict, 0, 0) for verdict in ("good", "no-rep", "too close")}
    assert shapes["good"].startswith("<circle")
    assert "z" not in shapes["no-rep"].split('d="')[1].split('"')[0]
    assert shapes["too close"].split('d="')[1].split('"')[0].endswith("z")


def test_counts_without_doubt_draw_nothing_and_wide_doubt_keeps_the_most_probable() -> None:
    assert count_likelihood([("5", 1.0)]) is None
    wide = [(str(n), p / 465) for n, p in enumerate(range(1, 31))]
    shown = drawn(count_likelihood(wide) or "")
    assert [item.text for item in with_class(shown, "count-name")] == [
        str(n) for n in range(21, 30)
    ]


def test_pace_is_drawn_from_zero_with_one_stem_a_rep(attempt: AuditRecord) -> None:
    root = drawn(pace_chart(attempt) or "")
    stems = with_class(root, "stem")
    assert len(stems) == len(attempt.reps)
    assert len([item for item in with_class(root, "tick") if item.text == "0 s"]) == 1


def test_a_share_bar_says_its_parts_aloud() -> None:
    shares = [TimeShare("moving", 40.1, 0.7), TimeShare("paused mid-set", 17.2, 0.3)]
    bar = drawn(share_bar(shares) or "")
    assert bar.get("aria-label") == "Where the time went: moving 40.1 s, paused mid-set 17.2 s"


def test_a_kind_of_time_looks_the_same_whichever_others_there_are() -> None:
    breaks = TimeShare("breaks", 20.0, 0.4)
    alone, among = share_bar([breaks]), share_bar([TimeShare("moving", 30.0, 0.6), breaks])
    pattern = drawn(alone or "")[0].get("class")
    assert pattern == drawn(among or "")[1].get("class")


@pytest.mark.parametrize(("span_s", "step_s"), [(10, 1), (68, 10), (900, 120), (90000, 10800)])
def test_ticks_are_round_and_not_crowded(span_s: float, step_s: int) -> None:
    assert tick_step_s(span_s, 10) == step_s


def test_a_strip_of_reps_leaves_a_gap_between_sets_and_folds_long_attempts() -> None:
    together = rep_strip([(1, "good"), (1, "good")])
    apart = rep_strip([(1, "good"), (2, "good")])
    assert "M5 7h0M15 7h0" in together
    assert "M5 7h0M23 7h0" in apart
    long = rep_strip([(1, "no-rep")] * 60)
    assert 'aria-label="60 no-rep"' in long
    assert 'viewBox="0 0 220 42"' in long
    assert rep_strip([]) == ""


@pytest.mark.slow
def test_the_work_of_a_timeline_grows_with_the_films_length_alone() -> None:
    """A day at ten values a second: looking at all of them for every row would take minutes."""
    made = make_attempt(sets=(2,))
    count = 24 * 3600 * 10
    series = SeriesPart(
        name="hip height", unit="m", time_s=[n / 10 for n in range(count)], value=[0.5] * count
    )
    day = msgspec.structs.replace(
        made, film=msgspec.structs.replace(made.film, duration_s=86_400.0), series=series
    )
    begun_s = time.process_time()
    timeline(day)
    assert time.process_time() - begun_s < 4.0 * slowness()
