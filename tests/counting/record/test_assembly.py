"""What the stages found goes into the record, rounded, with nothing made up."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from counting.checks.types import CheckReading, Judgement, RepVerdict
from counting.decision.conformance import Risk
from counting.record.assembly import Counted, assemble
from counting.record.files import record_json
from counting.record.types import AuditRecord, VersionsPart
from counting.reps.types import Rep
from counting.sets.grouping import Grouped
from counting.sets.types import Break, Pause, RepSet
from counting.signals.types import Signals
from vision.film.types import Film
from vision.track import PoseTrack

RATE_HZ = 30.0
TIME_S = np.arange(300) / RATE_HZ


def film(**changes: object) -> Film:
    made = Film(
        path=Path("/evening/boathouse.mp4"),
        sha256="5" * 64,
        duration_s=10.00004,
        time_s=TIME_S,
        width_px=300,
        height_px=400,
        rotation_deg=0,
        mirrored=False,
        frame_rate_mean_hz=RATE_HZ,
        variable_frame_rate=False,
        codec="h264",
        has_sound=False,
        broken_at_s=None,
        warnings=("dark from 3.0 s on",),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def track(seen: slice = slice(None), shake_px: float = 0.0) -> PoseTrack:
    """Give an athlete who is seen in some frames, by a camera that swings by so much."""
    blank = PoseTrack.unobserved(TIME_S, 300, 400)
    image_px = blank.image_px.copy()
    image_px[seen] = 100.0
    identity = np.full(len(TIME_S), -1)
    identity[seen] = 0
    swing = np.zeros((len(TIME_S), 2))
    swing[::2, 0], swing[1::2, 0] = shake_px, -shake_px
    return replace(blank, image_px=image_px, identity=identity, camera_shift_px=swing)


def signals() -> Signals:
    nothing = np.zeros(len(TIME_S))
    names = ("hip", "shoulder", "head", "elbow", "wrist", "knee", "ankle", "hip_x", "ankle_x")
    more = ("leg_share", "size", "ankle_gap", "wrist_higher", "knee_lower", "wrist_seen")
    sides = ("wrist_lead", "knee_lead", "wrist_spread", "ankle_spread")
    return Signals(
        time_s=TIME_S,
        rate_hz=RATE_HZ,
        stature_px=200.0,
        observed=np.ones(len(TIME_S), dtype=bool),
        **dict.fromkeys((*names, *more, *sides), nothing),
    )


def reading(value: float | None) -> CheckReading:
    return CheckReading(
        name="depth",
        words="hip crease below the top of the knee",
        quantity="hip crease above knee top",
        at_s=None if value is None else 2.00049,
        value=value,
        relation="at most",
        limit=0.0,
        unit="cm",
        uncertainty=None if value is None else 1.2345,
        probability_met=0.5 if value is None else 1.0 + 1e-9,
        verdict="too close" if value is None else "met",
    )


FITTED = Judgement(
    verdicts=(),
    view_deg=41.23,
    view_uncertainty_deg=3.0,
    stature_m=1.75,
    stature_uncertainty_m=float("inf"),
    camera_distance_m=4.321,
    camera_height_m=1.0,
    notes=("the bar hides the hips",),
)
UNFITTED = replace(
    FITTED, view_deg=None, stature_m=None, stature_uncertainty_m=None, notes=FITTED.notes
)


def counted(*judgements: Judgement, driver: object = None) -> Counted:
    reps = tuple(
        Rep(n, "air squat", 0, 0, 0, 2.0 * n - 1.0, 2.0 * n, 2.0 * n + 1.0) for n in (1, 2)
    )
    return Counted(
        reps=reps,
        verdicts=(
            RepVerdict(1, "good", 0.99, 2.9, (reading(-4.567),)),
            RepVerdict(2, "no-rep", -1e-9, None, (reading(None),), "hips stay too high"),
        ),
        grouped=Grouped(
            (RepSet(1, "air squat", 1, 1, 1.0, 3.0), RepSet(2, "air squat", 2, 2, 3.0, 5.0)),
            (Break(1, 3.0, 3.5, "rest"),),
            (Pause(2, 4.0, 4.5, "at the bottom"),),
        ),
        judgements=judgements,
        signals=signals(),
        driver=driver,  # type: ignore[arg-type]
        driver_name="hip height",
    )


def assembled(
    found: Counted, seen: PoseTrack | None = None, shown: Film | None = None
) -> AuditRecord:
    return assemble(
        shown or film(),
        seen or track(),
        found,
        movement="air squat",
        start_s=None,
        risk=Risk(0.95, 0.05),
        versions=VersionsPart(tool="0", model="", model_sha256="", libraries={}),
        landmarks_file="",
    )


def test_reps_sets_breaks_and_pauses_are_those_that_were_found() -> None:
    record = assembled(counted(FITTED))
    assert [(rep.number, rep.set, rep.verdict) for rep in record.reps] == [
        (1, 1, "good"),
        (2, 2, "no-rep"),
    ]
    assert [rep.counted_s for rep in record.reps] == [2.9, None]
    assert [own.first_rep for own in record.sets] == [1, 2]
    assert [gap.kind for gap in record.breaks] == ["rest"]
    assert [wait.where for wait in record.pauses] == ["at the bottom"]
    assert (record.counts.good, record.counts.no_rep, record.counts.too_close) == (1, 1, 0)
    assert record_json(record)


def test_a_film_that_tells_no_time_has_its_reps_judged_and_nothing_timed() -> None:
    record = assembled(counted(FITTED), shown=film(clock="counted"))
    assert not record.film.times_known
    assert [rep.verdict for rep in record.reps] == ["good", "no-rep"]
    assert (record.breaks, record.pauses, record.workout) == ([], [], None)
    assert assembled(counted(FITTED), shown=film(clock="sorted")).film.times_known


def test_values_are_rounded_and_what_could_not_be_read_is_left_open() -> None:
    record = assembled(counted(FITTED))
    known, unknown = (rep.checks[0] for rep in record.reps)
    assert (known.at_s, known.value, known.uncertainty) == (2.0, -4.57, 1.23)
    assert (unknown.at_s, unknown.value, unknown.uncertainty) == (None, None, None)
    assert known.probability_met == 1.0
    assert record.reps[1].probability_good == 0.0
    assert record.film.duration_s == 10.0
    assert record.film.file == "boathouse.mp4"


def test_the_first_fitted_body_and_camera_are_told_and_notes_once() -> None:
    record = assembled(counted(UNFITTED, FITTED))
    assert record.athlete.stature_m == 1.75
    assert record.athlete.stature_uncertainty_m is None
    assert (record.camera.view_deg, record.camera.distance_m) == (41.2, 4.32)
    assert record.film_notes == ["the bar hides the hips"]


def test_without_a_fit_there_is_no_stature_and_no_view() -> None:
    record = assembled(counted(UNFITTED))
    assert (record.athlete.stature_m, record.camera.view_deg) == (None, None)
    assert record.camera.distance_m is None


@pytest.mark.parametrize(("shake_px", "steady"), [(0.0, True), (1.9, True), (2.1, False)])
def test_a_camera_that_moves_by_more_than_0_4_percent_of_the_diagonal_is_unsteady(
    shake_px: float, steady: bool
) -> None:
    record = assembled(counted(FITTED), track(shake_px=shake_px))
    assert (record.camera.shake_px, record.camera.steady) == (shake_px, steady)


def test_losses_of_more_than_half_a_second_are_told() -> None:
    record = assembled(counted(FITTED), track(slice(30, 290)))
    assert record.athlete.lost == [(0.0, 1.0)]
    assert record.athlete.seen_share == round(260 / 300, 4)


@pytest.mark.parametrize(("frames", "is_told"), [(14, False), (17, True)])
def test_shorter_ones_are_not(frames: int, *, is_told: bool) -> None:
    record = assembled(counted(FITTED), track(slice(frames, 300)))
    assert bool(record.athlete.lost) == is_told


def test_a_change_of_identity_is_told_with_its_time() -> None:
    seen = track()
    identity = seen.identity.copy()
    identity[150:] = 1
    assert assembled(
        counted(FITTED), replace(seen, identity=identity)
    ).athlete.identity_breaks_s == [5.0]


def test_a_film_without_a_frame_has_no_athlete_and_no_shake() -> None:
    empty = PoseTrack.unobserved(np.zeros(0), 300, 400)
    record = assembled(counted(FITTED), empty)
    assert (record.athlete.seen_share, record.athlete.lost) == (0.0, [])
    assert record.camera.shake_px == 0.0


def test_where_a_film_breaks_off_is_told() -> None:
    assert assembled(counted(FITTED)).film.broken_at_s is None
    assert assembled(counted(FITTED), shown=film(broken_at_s=3.14159)).film.broken_at_s == 3.142


def test_the_driving_signal_is_thinned_to_ten_values_a_second_with_gaps_left_open() -> None:
    driver = np.linspace(0.0, 1.0, len(TIME_S))
    driver[0] = np.nan
    series = assembled(counted(FITTED, driver=driver)).series
    assert series is not None
    assert (series.name, series.unit) == ("hip height", "statures")
    assert series.time_s[:3] == [0.0, 0.1, 0.2]
    assert series.value[0] is None
    assert len(series.value) == 100
    assert assembled(counted(FITTED)).series is None
    assert assembled(counted(FITTED, driver=np.zeros(0))).series is None
