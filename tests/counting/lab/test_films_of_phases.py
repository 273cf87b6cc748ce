"""Labelled films of movements that are sequences of postures make their checks judged."""

import pytest
from synthetic.labelled import SITTING_UP, label, label_sit_ups, landmark_file

from counting.checks.coverage import judge_or_count, judged_views, why_not_judged
from counting.checks.table import load_table
from counting.decision.conformance import Risk
from counting.lab.body_truth import read_body_truth
from counting.lab.calibrate import main
from counting.lab.held_out import judge_held_out
from counting.lab.readings import load_readings
from counting.movements.loader import find_movement
from counting.timeline import find_reps

SIT_UP = find_movement("sit-up")
(UP,) = SIT_UP.checks
FILMED = [(f"{body} {number}", body) for body in ("ann", "bo", "cy") for number in (1, 2)]


def film(root, name, body, view_deg, seed):
    (root / "tracks").mkdir(exist_ok=True)
    track = label_sit_ups(root / "films" / name, body, view_deg, seed)
    (root / "tracks" / f"{name}.npz").write_bytes(landmark_file(track))
    return track


@pytest.fixture(scope="module")
def filmed(tmp_path_factory):
    root = tmp_path_factory.mktemp("sit-ups")
    for seed, (name, body) in enumerate(FILMED):
        film(root, name, body, 50.0 + 2.0 * seed, seed)
    calibrate(root, root / "films")
    return root


def calibrate(root, *folders):
    main(
        [
            *map(str, folders),
            *("--tracks", str(root / "tracks"), "--workers", "1"),
            *("--readings", str(root / "kept.xz"), "--out", str(root / "table.json")),
        ]
    )


def test_the_true_value_is_the_quantitys_own_whatever_margin_the_film_states(filmed):
    """Law of the figure: the angle between trunk and thigh, lowest in each repetition."""
    truth = read_body_truth(filmed / "films" / "ann 1")
    check = SIT_UP.as_read(UP)
    for rep in truth.reps:
        rows = (truth.time_s >= rep.start_s) & (truth.time_s <= rep.end_s)
        lowest = truth.measures["left_hip"][rows].min()
        assert truth.true_value(rep, check) == pytest.approx(lowest, abs=0.1)


def test_what_is_read_is_read_where_the_trunk_is_folded_most(filmed):
    for kept in load_readings(filmed / "kept.xz"):
        (sample,) = kept.samples
        assert sample.key == "hip angle / lying"
        assert sample.rep_shown == pytest.approx(sample.rep_truth, abs=2.5)
        assert kept.true_good == tuple(bool(value <= UP.limit) for value in sample.rep_truth)


def test_its_check_is_judged_from_the_view_that_films_show_and_from_no_other(filmed):
    table = load_table(filmed / "table.json")
    assert why_not_judged(UP, SIT_UP, table) is None
    assert judged_views(UP, SIT_UP, table) == ["oblique"]


def test_a_body_that_no_film_showed_is_judged_right(filmed, tmp_path):
    track = film(tmp_path, "dee 1", "dee", 55.0, 90)
    truth = read_body_truth(tmp_path / "films" / "dee 1")
    table = load_table(filmed / "table.json")
    reps = find_reps(track, SIT_UP).reps
    verdicts = judge_or_count(track, reps, SIT_UP, Risk(), table).verdicts
    good = [truth.true_value(rep, SIT_UP.as_read(UP)) <= UP.limit for rep in truth.reps]
    assert len(verdicts) == len(SITTING_UP)
    assert good.count(True) == good.count(False) == 2
    assert [v.verdict for v in verdicts] == ["good" if fine else "no-rep" for fine in good]


def test_from_a_view_without_films_its_reps_are_only_counted(filmed, tmp_path):
    track = film(tmp_path, "dee 2", "dee", 90.0, 91)
    table = load_table(filmed / "table.json")
    verdicts = judge_or_count(track, find_reps(track, SIT_UP).reps, SIT_UP, Risk(), table).verdicts
    assert {v.verdict for v in verdicts} == {"only counted"}
    assert "hip angle cannot be judged from" in verdicts[0].reason


def test_bodies_left_out_are_judged_like_those_of_any_movement(filmed):
    judged = list(judge_held_out(load_readings(filmed / "kept.xz"), Risk()))
    assert len(judged) == len(FILMED)
    reps = [rep for one in judged for rep in one.reps]
    assert all(rep.verdict != "no-rep" for rep in reps if rep.truly_good)
    assert all(rep.verdict != "good" for rep in reps if not rep.truly_good)
    assert sum(rep.verdict != "too close" for rep in reps) > len(reps) / 2


class TestAdding:
    """Readings that are there stay."""

    @pytest.fixture
    def root(self, filmed, tmp_path):
        for name in ("kept.xz", "table.json"):
            (tmp_path / name).write_bytes((filmed / name).read_bytes())
        (tmp_path / "tracks").mkdir()
        return tmp_path

    def test_films_are_added_to_those_that_are_there(self, root, capsys):
        before = {one.name: one.digest for one in load_readings(root / "kept.xz")}
        track = label(root / "more" / "eve_side", "eve", 85.0)
        (root / "tracks" / "eve_side.npz").write_bytes(landmark_file(track))
        calibrate(root, root / "more", "--add")
        after = {one.name: one.digest for one in load_readings(root / "kept.xz")}
        assert set(after) == {*before, "eve_side"}
        assert all(after[name] == digest for name, digest in before.items())
        table = load_table(root / "table.json")
        assert set(table.made_from.films) == set(after)
        assert judged_views(UP, SIT_UP, table) == ["oblique"]
        assert "6 films were there, 1 were added, 0 read again" in capsys.readouterr().err

    def test_a_film_that_is_there_is_read_again(self, root, capsys):
        before = {one.name: one.digest for one in load_readings(root / "kept.xz")}
        track = label_sit_ups(root / "films" / "ann 1", "ann", 40.0, 7)
        (root / "tracks" / "ann 1.npz").write_bytes(landmark_file(track))
        calibrate(root, root / "films", "--add")
        after = {one.name: one.digest for one in load_readings(root / "kept.xz")}
        assert set(after) == set(before)
        assert [name for name in after if after[name] != before[name]] == ["ann 1"]
        assert "0 were added, 1 read again: ann 1" in capsys.readouterr().err

    def test_without_asking_to_add_the_films_stand_alone(self, root):
        track = label(root / "more" / "eve_side", "eve", 85.0)
        (root / "tracks" / "eve_side.npz").write_bytes(landmark_file(track))
        calibrate(root, root / "more")
        assert [one.name for one in load_readings(root / "kept.xz")] == ["eve_side"]

    def test_readings_of_other_code_are_not_mixed(self, root, capsys):
        file = root / "table.json"
        file.write_text(
            file.read_text(encoding="utf-8").replace(
                f'"reading": "{load_table(file).made_from.reading}"', '"reading": "0123"'
            ),
            encoding="utf-8",
        )
        kept = (root / "kept.xz").read_bytes()
        track = label(root / "more" / "eve_side", "eve", 85.0)
        (root / "tracks" / "eve_side.npz").write_bytes(landmark_file(track))
        with pytest.raises(SystemExit):
            calibrate(root, root / "more", "--add")
        assert "were read by other code" in capsys.readouterr().err
        assert (root / "kept.xz").read_bytes() == kept

    def test_two_films_of_one_name_are_refused(self, root, capsys):
        for place in ("here", "there"):
            label(root / place / "eve_side", "eve", 85.0)
        with pytest.raises(SystemExit):
            calibrate(root, root / "here", root / "there")
        assert "eve_side" in capsys.readouterr().err
