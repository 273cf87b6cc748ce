"""The plan file and its card: complete, self-contained, and the same thing three times."""

import json
from dataclasses import replace
from html.parser import HTMLParser
from types import SimpleNamespace
from xml.etree import ElementTree

import msgspec
import numpy as np
import pytest

from cli.card.page import plan_page
from counting.pacing.card.document import PlanDocument, load_plan, plan_json
from counting.pacing.card.layout import beyond_words, how_words, layout_of
from counting.pacing.card.notes import _bolder_than_filmed
from counting.pacing.card.overlay import laid_json, laid_over, verdict_words
from counting.pacing.card.picture import plan_picture
from counting.pacing.card.words import figures, price_words, rest_words
from counting.pacing.card.writing import document_of, quantile_s
from counting.pacing.model.athlete import FORMS
from counting.pacing.model.attempt import Attempt, SeenRep
from counting.pacing.model.fit import fit_athlete
from counting.pacing.model.known import unbroken_sets
from counting.pacing.model.loads import PacingError
from counting.pacing.search.advice import Target, advise
from counting.pacing.search.course import Course, Station

replace_row = msgspec.structs.replace


@pytest.fixture(scope="module")
def asked():
    """An athlete and a workout to give advice for."""
    stations = (
        Station("chest-to-bar pull-up", 6, 1, 1, 1),
        Station("chest-to-bar pull-up", 6, 1, 2, 1),
        Station("bar muscle-up", 8, 2, 1, 1, fixed_rest_s=20.0),
    )
    course = Course("Boathouse <steps>", stations, 240.0, True, tie_break_rep=12)
    return fit_athlete(
        [], course.movements, unbroken_sets({"bar muscle-up": 5.0}), draws=120
    ), course


@pytest.fixture(scope="module")
def advised(asked):
    return advise(*asked, Target(reps=16), seed=1)


@pytest.fixture(scope="module")
def document(advised):
    return document_of(advised, [], [], seed=1)


class TestAdvice:
    def test_the_chosen_plan_is_among_the_equals_and_close_to_the_best(self, advised):
        assert advised.equals[0].plan == advised.chosen
        best = max(item.value for item in advised.equals)
        assert all(item.value >= best - 0.02 for item in advised.equals)

    def test_every_departure_has_a_price(self, advised):
        assert len(advised.prices) >= 3
        assert all(0.0 <= price.worse <= 1.0 for price in advised.prices)

    def test_a_longer_rest_is_priced_in_the_right_direction(self, advised):
        price = next(item for item in advised.prices if "longer" in item.words)
        assert price.time_s is None or price.time_s >= 0 or price.reps <= 0

    def test_of_equal_plans_the_one_with_the_fewest_ways_is_advised(self, advised):
        def ways(plan):
            stations = advised.course.stations
            return len({(s.movement, s.reps, way) for s, way in zip(stations, plan, strict=True)})

        assert ways(advised.chosen) == min(ways(item.plan) for item in advised.equals)

    def test_no_departure_is_both_clearly_better_and_as_sure(self, asked):
        prices = advise(*asked, seed=1).prices
        assert all(price.worse > 0.25 or price.failing > 0.5 or price.reps > 0 for price in prices)

    def test_with_a_target_departures_tell_its_chance(self, advised):
        assert all(0.0 <= price.reached <= 1.0 for price in advised.prices)

    def test_being_behind_is_priced_at_a_mark_on_the_way(self, advised):
        assert {item.place for item in advised.behind} <= {0, 1}
        assert all(0 < item.later_than_s < advised.course.cap_s for item in advised.behind)

    def test_every_form_is_played(self, advised):
        assert set(advised.by_form) == set(FORMS)


class TestDocument:
    def test_every_station_has_sets_that_make_up_its_reps(self, document):
        assert [sum(row.sets) for row in document.rows] == [6, 6, 8]

    def test_marks_rise_and_lie_inside_their_intervals(self, document):
        marks = [row.mark for row in document.rows]
        assert [m.middle_s for m in marks[:2]] == sorted(m.middle_s for m in marks[:2])
        assert all(m.early_s <= m.middle_s <= m.late_s for m in marks if m.late_s is not None)

    def test_exactly_one_station_is_decisive(self, document):
        assert sum(row.decisive for row in document.rows) == 1

    def test_better_scores_stand_at_higher_percentiles(self, document):
        for outlook in document.outlook:
            reps = [row.reps for row in outlook.percentiles]
            assert reps == sorted(reps)

    def test_cautions_and_evidence_are_told(self, document):
        cautions, evidence = " ".join(document.cautions), " ".join(document.evidence)
        for word in ("Warm up", "pain", "hands", "safeties", "coach", "physician"):
            assert word in cautions
        assert "No trial" in evidence

    def test_the_target_has_a_probability(self, document):
        assert document.target == "16 reps"
        assert 0.0 <= document.target_probability <= 1.0

    def test_the_file_reads_back_equal(self, document, tmp_path):
        path = tmp_path / "plan.json"
        path.write_text(plan_json(document), encoding="utf-8")
        assert load_plan(path) == document
        assert load_plan(tmp_path) == document

    def test_the_file_holds_only_finite_numbers(self, document):
        def refuse(word):
            raise AssertionError(word)

        json.loads(plan_json(document), parse_constant=refuse)

    @pytest.mark.parametrize("text", ["", "{}", "[1]", '{"schema": "other/1"}'])
    def test_another_file_is_refused(self, text, tmp_path):
        path = tmp_path / "plan.json"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(PacingError, match=r"plan\.json"):
            load_plan(path)

    def test_a_missing_file_is_named(self, tmp_path):
        with pytest.raises(PacingError, match="cannot be read"):
            load_plan(tmp_path / "none.json")


class TestLines:
    def rounds(self, document, count, sets=(6,)):
        row = replace_row(document.rows[0], sets=list(sets), rests_s=[5.0] * (len(sets) - 1))
        other = replace_row(row, station=2, movement="burpee", decisive=False)
        return [
            replace_row(each, round=number, rounds=count, decisive=each.decisive and number == 2)
            for number in range(1, count + 1)
            for each in (replace_row(row, decisive=True), other)
        ]

    def test_a_short_plan_has_one_line_for_each_station(self, document):
        lines = layout_of(document).lines
        assert [line.work.split()[0] for line in lines] == ["6", "6", "8"]
        assert [line.first for line in lines] == [True, True, True]

    def test_many_equal_rounds_are_told_once_with_a_mark_for_each(self, document):
        rows = self.rounds(document, 9)
        layout = layout_of(msgspec.structs.replace(document, rows=rows))
        lines, passings = layout.lines, layout.passings[1]
        assert [line.place for line in lines] == ["every round", ""]
        assert lines[1].work == "6 burpees"
        assert [item.place for item in passings] == list(map(str, range(1, 10)))
        assert [item.place for item in passings if item.decisive] == ["2"]
        assert all(item.mark for item in passings)

    def test_rounds_that_differ_are_all_written_out(self, document):
        rows = self.rounds(document, 9)
        rows[6] = replace_row(rows[6], sets=[3, 3], rests_s=[5.0])
        assert len(layout_of(msgspec.structs.replace(document, rows=rows)).lines) == 18

    def test_a_workout_without_an_end_says_that_it_goes_on(self, document):
        endless = msgspec.structs.replace(document, rows_beyond=40, endless=True)
        assert "same sets" in beyond_words(endless)
        assert "1 more station that" in beyond_words(
            msgspec.structs.replace(document, rows_beyond=1)
        )
        assert beyond_words(document) == ""


class TestPictures:
    def test_the_picture_is_valid_and_names_everything(self, document):
        picture = plan_picture(document)
        root = ElementTree.fromstring(picture)
        words = " ".join(text for text in root.itertext())
        for name in (*document.groups, "tie-break", "bar muscle-up"):
            assert name in words

    def test_nothing_is_drawn_outside(self, document):
        root = ElementTree.fromstring(plan_picture(document))
        width, height = (float(value) for value in root.get("viewBox").split()[2:])
        for shape in root.iter("{http://www.w3.org/2000/svg}rect"):
            assert 0 <= float(shape.get("x", 0)) <= width
            assert float(shape.get("x", 0)) + float(shape.get("width")) <= width + 0.1
        for line in root.iter("{http://www.w3.org/2000/svg}polyline"):
            points = [tuple(map(float, pair.split(","))) for pair in line.get("points").split()]
            assert all(0 <= x <= width and 0 <= y <= height for x, y in points)

    def test_the_page_needs_nothing_from_outside_and_escapes_names(self, document):
        found = []

        class Reader(HTMLParser):
            def handle_starttag(self, tag, attrs):
                found.append((tag, dict(attrs)))

        page = plan_page(document)
        Reader().feed(page)
        assert not [tag for tag, attrs in found if tag in ("script", "link", "img", "iframe")]
        assert not [attrs for _, attrs in found if "src" in attrs or "href" in attrs]
        assert "Boathouse &lt;steps&gt;" in page
        assert "<steps>" not in page

    def test_every_row_of_the_plan_is_on_the_page(self, document):
        page = plan_page(document)
        for row in document.rows:
            assert f"{row.reps} {row.movement}" in page


class TestOverlay:
    def attempt(self, document, sets, late_s=0.0):
        reps, clock_s, number = [], 0.0, 0
        for row, sizes in zip(document.rows, sets, strict=True):
            for size in sizes:
                number += 1
                for _ in range(size):
                    place = (row.block, row.round, row.station)
                    reps.append(SeenRep(row.movement, clock_s, clock_s + 2.0, number, False, place))
                    clock_s += 2.0
                clock_s += 4.0
            clock_s += late_s
        return Attempt(tuple(reps), 0.0)

    def test_sets_as_planned_are_seen_as_such(self, document):
        laid = laid_over(self.attempt(document, [row.sets for row in document.rows]), document)
        assert all(item.as_planned for item in laid)
        assert verdict_words(laid)[0] == "All sets were done as planned."

    def test_the_first_departure_and_the_time_lost_are_named(self, document):
        assert document.rows[0].sets != [6]
        sets = [[6], document.rows[1].sets, document.rows[2].sets]
        laid = laid_over(self.attempt(document, sets, late_s=30.0), document)
        assert not laid[0].as_planned
        assert "round 1: 6 unbroken instead of" in verdict_words(laid)[0]

    def test_losses_add_up_to_the_time_behind(self, document):
        laid = laid_over(self.attempt(document, [[6], [6], [8]]), document)
        lost = [item.lost_s for item in laid if item.lost_s is not None]
        last = [item.behind_s for item in laid if item.behind_s is not None][-1]
        assert sum(lost) == pytest.approx(last)

    def test_where_the_work_ended_is_told(self, document):
        laid = laid_over(self.attempt(document, [[6], [3], []]), document)
        assert (
            "ended in the chest-to-bar pull-ups of round 2, after 3 of 6" in verdict_words(laid)[-1]
        )

    def test_reps_that_the_film_lacks_are_told_without_an_end_of_the_work(self, document):
        laid = laid_over(self.attempt(document, [[6], [3], [1]]), document)
        told = " ".join(verdict_words(laid))
        assert "shows 3 of 6 reps of the chest-to-bar pull-ups of round 2" in told
        assert told.count("ended") == 1

    def test_an_attempt_at_another_workout_is_refused(self, document):
        reps = (SeenRep("burpee", 0.0, 3.0, 1, False, (1, 1, 1)),)
        with pytest.raises(PacingError, match="do not fit"):
            laid_over(Attempt(reps, 0.0), document)

    def test_an_unfinished_station_has_no_time(self, document):
        laid = laid_over(self.attempt(document, [[6], [3], []]), document)
        assert [item.done_s is None for item in laid] == [False, True, True]
        assert json.loads(laid_json(laid))[2]["sets"] == []


class TestWords:
    def test_rests(self):
        assert rest_words([]) == "–"
        assert rest_words([5.0, 5.0]) == "5 s"
        assert rest_words([5.0, 12.0, 12.0]) == "5 s, then 12 s"
        assert rest_words([5.0, 12.0, 5.0, 12.0]) == "5 to 12 s"

    def test_prices_inside_chance_are_not_told_as_losses(self):
        assert price_words(0.4, 3.0, 0.55) == "makes no difference beyond the noise"
        assert price_words(0.4, 3.0, 0.9, equal=True) == "makes no difference beyond the noise"

    @pytest.mark.parametrize(
        ("price", "words"),
        [
            ((1.2, 12.0, 0.9), "costs one rep and 12 s (worse in 9 of 10)"),
            ((2.4, 33.0, 0.97), "costs 2 reps and 35 s (nearly always worse)"),
            ((-0.5, None, 0.1), "gains half a rep (better in 9 of 10)"),
            ((0.0, 0.2, 0.7), "costs little (worse in 7 of 10)"),
        ],
    )
    def test_prices_have_no_more_digits_than_the_plays_can_tell(self, price, words):
        assert price_words(*price) == words

    def test_what_wins_often_but_loses_on_average_is_told_as_both(self):
        assert price_words(1.0, None, 0.3) == "is better in 7 of 10 but costs one rep on average"

    def test_a_target_is_told_beside_the_price(self):
        assert price_words(0.0, 0.0, 0.5, reached=0.4).endswith("; target in 40 of 100")

    def test_reps_that_fail_are_told_beside_the_time(self):
        assert price_words(0.0, 0.0, 0.5, 2.1).endswith("; 2 more reps fail")
        assert price_words(0.0, 0.0, 0.5, 0.3).endswith("noise")

    @pytest.mark.parametrize(
        ("interval", "written"),
        [
            ((8.45, 19.0, 41.8), ("8", "19", "42")),
            ((2.18, 2.25, 2.33), ("2.18", "2.25", "2.33")),
            ((140.2, 222.0, 378.1), ("140", "220", "380")),
            ((0.482, 0.763, 1.28), ("0.5", "0.8", "1.3")),
        ],
    )
    def test_digits_follow_the_width_of_the_interval(self, interval, written):
        assert figures(*interval) == written


class TestNotes:
    def told(self, typed, target=None, reps=(6, 8)):
        stations = (
            Station("pull-up", reps[0], 1, 1, 1),
            Station("bar muscle-up", reps[1], 1, 1, 2),
        )
        course = Course("notes", stations, 240.0, True)
        rep = SeenRep("pull-up", 0.0, 2.0, 1, False, (1, 1, 1))
        filmed = tuple(replace(rep, start_s=2.0 * i, end_s=2.0 * i + 2.0) for i in range(2))
        fit = fit_athlete([Attempt(filmed, 0.0)], course.movements, unbroken_sets(typed), draws=120)
        advice = advise(fit, course, target, seed=1)
        return " ".join(document_of(advice, ["film"], [], seed=1).notes)

    def test_what_was_not_filmed_and_what_would_sharpen_the_plan_is_told(self):
        told = self.told({})
        assert "Not on film: bar muscle-ups" in told
        assert '--unbroken "bar muscle-up=REPS"' in told

    def test_a_target_out_of_reach_is_told_and_a_typed_capacity_not_asked_for(self):
        told = self.told({"bar muscle-up": 5.0}, Target(time_s=20.0))
        assert "all reps within 0:20, is out of reach" in told
        assert '"bar muscle-up=REPS"' not in told

    def test_a_movement_out_of_reach_is_named_as_such(self):
        stations = (Station("pull-up", 4, 1, 1, 1), Station("bar muscle-up", 2, 2, 1, 1))
        course = Course("reach", stations, 120.0, True)
        fit = fit_athlete(
            [], course.movements, unbroken_sets({"bar muscle-up": 0.3, "pull-up": 12}), draws=120
        )
        told = document_of(advise(fit, course, seed=1), [], [], seed=1).decisive
        assert "bar muscle-ups are out of reach" in told
        assert "The 4 reps before it make the score" in told
        assert "tie-break" not in told

    def test_a_plan_much_faster_than_the_film_says_so(self):
        course = Course(
            "slow", (Station("pull-up", 6, 1, 1, 1), Station("burpee", 3, 1, 1, 2)), 300, True
        )
        reps = [SeenRep("pull-up", 20.0 * i, 20.0 * i + 1.7, i, False, (1, 1, 1)) for i in range(6)]
        fit = fit_athlete([Attempt(tuple(reps), 0.0)], course.movements, draws=120)
        notes = document_of(advise(fit, course, seed=1), ["film"], [], seed=1).notes
        assert "On film the pull-ups of round 1 ended at 1:42" in notes[0]

    @pytest.mark.parametrize(("planned_s", "is_told"), [(80.0, True), (93.0, False)])
    def test_a_plan_is_bold_from_15_per_cent_less_than_was_filmed(self, planned_s, is_told):
        """The film took 1:42."""
        course = Course("slow", (Station("pull-up", 6, 1, 1, 1),), 300, True)
        reps = [SeenRep("pull-up", 20.0 * i, 20.0 * i + 1.7, i, False, (1, 1, 1)) for i in range(6)]
        advice = SimpleNamespace(
            course=course,
            fit=SimpleNamespace(attempts=[Attempt(tuple(reps), 0.0)]),
            forecast=SimpleNamespace(clock_at=lambda _number: np.full(3, planned_s)),
        )
        assert bool(_bolder_than_filmed(advice)) == is_told

    @pytest.mark.parametrize(("rest_s", "is_told"), [(9.0, False), (11.0, True)])
    def test_a_rest_of_ten_seconds_is_for_breath(self, document, rest_s, is_told):
        row = replace_row(
            document.rows[0], movement="burpee", sets=[3, 3], rests_s=[rest_s], able=1.0
        )
        assert any(words.endswith(": breathe") for words in how_words(row)) == is_told

    def test_sets_longer_than_any_filmed_are_told(self):
        told = self.told({"bar muscle-up": 14.0}, reps=(4, 1))
        assert "4 pull-ups (filmed: 2)" in told


def test_a_quantile_beyond_reach_is_none():
    assert quantile_s(np.array([1.0, 2.0, np.inf, np.inf]), 0.9) is None
    assert quantile_s(np.array([1.0, 2.0, np.inf, np.inf]), 0.5) == 2.0


def test_the_plan_file_has_a_schema():
    schema = msgspec.json.schema(PlanDocument)
    assert "rows" in schema["$defs"]["PlanDocument"]["properties"]
