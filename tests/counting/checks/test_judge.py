"""Judging whole films of a figure whose reps are known."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from synthetic.figure import Camera
from synthetic.films import squat, standing
from synthetic.script import Script
from synthetic.world import play_in_metres

from counting.checks.errors import infer_readings, with_errors
from counting.checks.judge import judge
from counting.checks.phases import Stay
from counting.checks.reading import stay_features
from counting.checks.table import Values, packaged_table
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.quantities.features import Features
from counting.reps.types import Rep

SQUAT = find_movement("air squat")
HALF = 0.45


def squats(depths, view_deg=20.0):
    """A film of squats and its reps."""
    script, moments = Script(standing()), []
    script.hold(0.6)
    for depth in depths:
        start = script.now_s
        script.move(squat(depth), 0.8).hold(0.2)
        turn = script.now_s - 0.1
        script.move(standing(), 0.8).hold(0.3)
        moments.append((start, turn, script.now_s - 0.1))
    script.hold(0.4)
    track = play_in_metres(script, Camera(view_deg=view_deg), rate_hz=12.0, noise=0.001)
    reps = [
        replace_rep(number, track.time_s, moment) for number, moment in enumerate(moments, start=1)
    ]
    return track, reps


def replace_rep(number, time_s, moments):
    rows = [int(np.argmin(np.abs(time_s - moment))) for moment in moments]
    return Rep(number, "air squat", *rows, *moments)


@pytest.fixture(scope="module")
def one_shallow():
    track, reps = squats([1.0, 1.0, HALF, 1.0])
    return track, reps, judge(track, reps, SQUAT, Risk())


def test_every_rep_has_every_check_in_order(one_shallow):
    _, reps, judgement = one_shallow
    assert [v.number for v in judgement.verdicts] == [rep.number for rep in reps]
    for verdict in judgement.verdicts:
        assert [c.name for c in verdict.checks] == [c.name for c in SQUAT.checks]


def test_the_shallow_rep_is_refused_and_says_why(one_shallow):
    *_, judgement = one_shallow
    shallow = judgement.verdicts[2]
    assert shallow.verdict == "no-rep"
    assert shallow.checks[0].probability_met < 0.05
    assert "hip crease" in shallow.reason
    assert "above the top of the knee" in shallow.reason


def test_who_is_shallow_in_every_rep_is_refused_like_who_is_in_one(one_shallow):
    """The other reps are no excuse: the same squat reads the same in other company."""
    *_, one = one_shallow
    track, reps = squats([HALF] * 4)
    every = judge(track, reps, SQUAT, Risk())
    assert {v.verdict for v in every.verdicts} == {"no-rep"}
    alone = one.verdicts[2].checks[0]
    for verdict in every.verdicts:
        assert verdict.checks[0].value == pytest.approx(alone.value, abs=2.0)


def test_reps_of_one_film_share_its_error(one_shallow):
    *_, judgement = one_shallow
    assert 0.0 <= judgement.shared_error < 1.0


def test_a_no_rep_is_never_counted_others_after_their_turn(one_shallow):
    _, reps, judgement = one_shallow
    for rep, verdict in zip(reps, judgement.verdicts, strict=True):
        if verdict.verdict == "no-rep":
            assert verdict.counted_s is None
        else:
            assert rep.turn_s <= verdict.counted_s <= rep.end_s


def test_a_rep_counts_when_its_finish_is_reached_not_while_it_is_held(one_shallow):
    _, reps, judgement = one_shallow
    for rep, verdict in zip(reps, judgement.verdicts, strict=True):
        if verdict.counted_s is not None:
            way_up_s = 0.1 + 0.8
            assert 0.6 * way_up_s < verdict.counted_s - rep.turn_s <= way_up_s + 1 / 12


def test_the_deciding_frame_lies_in_its_phase(one_shallow):
    _, reps, judgement = one_shallow
    for rep, verdict in zip(reps, judgement.verdicts, strict=True):
        depth, *extensions = verdict.checks
        assert abs(depth.at_s - rep.turn_s) < 0.4
        assert all(rep.turn_s < c.at_s <= rep.end_s for c in extensions)


def test_view_and_camera_are_told(one_shallow):
    *_, judgement = one_shallow
    assert judgement.view_deg == pytest.approx(20.0, abs=7.0)
    assert judgement.camera_distance_m == pytest.approx(3.0 * 1.73, rel=0.25)
    assert judgement.stature_uncertainty_m > 0.05


def test_tighter_risks_make_no_verdict_more_definite(one_shallow):
    track, reps, usual = one_shallow
    strict = judge(track, reps, SQUAT, Risk(0.999, 0.001))
    for before, after in zip(usual.verdicts, strict.verdicts, strict=True):
        assert after.probability_good == pytest.approx(before.probability_good)
        assert after.verdict in (before.verdict, "too close")


def test_from_behind_nothing_is_guessed():
    track, reps = squats([1.0, HALF], view_deg=180.0)
    judgement = judge(track, reps, SQUAT, Risk())
    for verdict in judgement.verdicts:
        assert verdict.verdict == "too close"
        assert all(c.value is None for c in verdict.checks)
        assert all("cannot be judged from this view" in c.reason for c in verdict.checks)


def test_a_rep_whose_end_is_hidden_stays_open(one_shallow):
    track, reps, _ = one_shallow
    image = track.image_px.copy()
    image[(track.time_s > reps[1].turn_s + 0.2) & (track.time_s <= reps[1].end_s)] = np.nan
    verdict = judge(replace(track, image_px=image), reps, SQUAT, Risk()).verdicts[1]
    assert verdict.verdict == "too close"
    assert any(c.value is None and "hidden or lost" in c.reason for c in verdict.checks)


def test_a_film_without_athlete_is_judged_as_undecided(one_shallow):
    track, reps, _ = one_shallow
    empty = replace(track, image_px=np.full_like(track.image_px, np.nan))
    judgement = judge(empty, reps, SQUAT, Risk())
    assert {v.verdict for v in judgement.verdicts} == {"too close"}
    assert judgement.view_deg is None
    assert "seen in 0 frames" in judgement.notes[0]


def test_no_reps_no_verdicts(one_shallow):
    track, *_ = one_shallow
    assert judge(track, [], SQUAT, Risk()).verdicts == ()


def test_two_reps_are_too_few_to_learn_a_scatter_from(one_shallow):
    track, reps, _ = one_shallow
    judgement = judge(track, reps[:2], SQUAT, Risk())
    assert {v.verdict for v in judgement.verdicts} <= {"good", "too close"}
    assert all(c.value is not None for v in judgement.verdicts for c in v.checks)


def read_badly(depth_cm, unsure_cm):
    """Probabilities that reps are deep enough, each less sure by so much than usual."""
    readings = np.asarray(depth_cm, float)
    n = len(readings)
    values = Values(readings, np.full(n, unsure_cm), 0.0, np.ones(n), 1.0)
    check = SQUAT.checks[0]
    depth = packaged_table().find(check.quantity, SQUAT.base, check.phase)
    return infer_readings(with_errors(values, depth, "side"), depth.before, check).probability_met


def test_where_the_body_is_badly_seen_the_films_own_scatter_tells_a_miss():
    """Seven reps a few millimetres apart and one 12 cm off, each unsure by 7 cm by the table."""
    alike = [-5.0, -5.3, -4.8, -5.1, -4.9, -5.2, -5.0]
    steady = read_badly([*alike, 7.0], unsure_cm=7.0)
    scattered = read_badly([*(20.0 * (x + 5.0) - 5.0 for x in alike), 7.0], unsure_cm=7.0)
    assert steady[-1] < 0.05
    assert scattered[-1] > steady[-1] + 0.03


def test_two_badly_seen_reps_tell_nothing_of_their_own_scatter():
    assert read_badly([-5.0, 7.0], unsure_cm=7.0)[-1] > 0.05


def test_what_was_not_seen_is_never_good_however_lax_the_rule(one_shallow):
    track, reps, _ = one_shallow
    image = track.image_px.copy()
    image[(track.time_s > reps[1].turn_s + 0.2) & (track.time_s <= reps[1].end_s)] = np.nan
    lax = judge(replace(track, image_px=image), reps, SQUAT, Risk(0.51, 0.01)).verdicts[1]
    assert any(c.value is None for c in lax.checks)
    assert lax.verdict == "too close"


@dataclass(frozen=True)
class Misfits:
    """Stands for a fitted body: how badly it fits each joint, in every frame alike."""

    by_joint: dict[str, float]

    def misfit_of(self, joints, rows):
        return np.full(len(rows), max(self.by_joint[joint] for joint in joints))


def test_the_bend_of_a_joint_that_is_not_seen_is_no_reading_but_what_it_moves_is():
    features = Features(
        values=np.array([[170.0, 160.0]] * 3),
        joints=(("shoulder", "elbow", "wrist"), ("shoulder", "wrist")),
        bends=(True, False),
    )
    stay = Stay(rows=np.arange(3), reached_s=1.0)
    clear = dict.fromkeys(("shoulder", "elbow", "wrist"), 0.3)
    for misfit, read in ((0.3, [170.0, 160.0]), (2.0, [np.nan, 160.0])):
        body = Misfits({**clear, "elbow": misfit})
        at_stay, factors = stay_features(body, [stay, None], features)
        assert at_stay[0] == pytest.approx(read, nan_ok=True)
        assert np.isnan(at_stay[1]).all()
        assert factors[0, 1] == 1.0


def test_where_no_stay_was_found_nothing_is_read():
    features = Features(np.array([[170.0]]), (("elbow",),), (True,))
    for unread in stay_features(Misfits({"elbow": 0.3}), [None, None], features):
        assert unread.shape == (2, 1)
        assert np.isnan(unread).all()
