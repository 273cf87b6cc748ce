import math
from collections.abc import Callable
from pathlib import Path

import msgspec
import numpy as np
import pytest
import typer
from synthetic.labelled import landmark_file
from typer.testing import CliRunner

from cli import marking
from cli.commands import mark
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.record.files import record_json
from counting.record.seal import EDITED, sealed
from counting.record.types import AuditRecord
from tests.followed import followed_attempt
from vision.film.reading import read_film
from vision.pose.landmarks import LANDMARK_COUNT
from vision.track import PoseTrack

CLIP = Path(__file__).parents[3] / "sample_clips" / "boathouse_air_squats.mp4"


@pytest.fixture(scope="module")
def audited(
    tmp_path_factory: pytest.TempPathFactory, attempt_of: Callable[..., AuditRecord]
) -> Path:
    """A sample clip's audit in a folder: six reps of which two are flagged, landmarks unseen."""
    film = read_film(CLIP)
    made = attempt_of((6,), (2,), (5,), file=CLIP.name, cycle_s=1.0)
    record = msgspec.structs.replace(
        made,
        film=msgspec.structs.replace(made.film, sha256=film.sha256, duration_s=film.duration_s),
        landmarks_file="landmarks.npz",
    )
    n = film.frames
    track = PoseTrack(
        time_s=film.time_s,
        image_px=np.full((n, LANDMARK_COUNT, 2), np.nan),
        depth_px=np.full((n, LANDMARK_COUNT), np.nan),
        world_m=np.full((n, LANDMARK_COUNT, 3), np.nan),
        visibility=np.zeros((n, LANDMARK_COUNT)),
        filled=np.zeros(n, bool),
        identity=np.full(n, -1),
        camera_shift_px=np.zeros((n, 2)),
        camera_roll_rad=np.zeros(n),
        width_px=film.width_px,
        height_px=film.height_px,
    )
    folder = tmp_path_factory.mktemp("marked") / "clip.audit"
    folder.mkdir()
    (folder / "audit.json").write_text(record_json(sealed(record)), encoding="utf-8")
    (folder / "landmarks.npz").write_bytes(landmark_file(track))
    return folder


@pytest.fixture
def run() -> Callable[..., list[Path]]:
    """Runs the command and gives the files it names."""
    app = typer.Typer(pretty_exceptions_enable=False)
    app.command()(mark.mark)
    app.command("other")(lambda: None)

    def ran(*arguments: object) -> list[Path]:
        result = CliRunner().invoke(app, ["mark", *map(str, arguments)])
        if result.exception is not None:
            raise result.exception
        return [Path(line) for line in result.stdout.splitlines()]

    return ran


def test_calls_are_in_order_of_time_and_count_up(attempt: AuditRecord) -> None:
    calls = marking.captions_of(attempt).calls
    assert [call.time_s for call in calls] == sorted(call.time_s for call in calls)
    assert (calls[-1].good_so_far, calls[-1].no_rep_so_far, calls[-1].open_so_far) == (14, 2, 3)
    fourth = next(call for call in calls if call.title.startswith("rep 4:"))
    assert fourth.reason == "hip crease above knee top 4.4 cm (2.4 to 6.4), standard: 0 cm or less"
    assert fourth.time_s == attempt.reps[3].turn_s


def test_a_good_rep_is_called_when_it_counts(attempt: AuditRecord) -> None:
    first = marking.captions_of(attempt).calls[0]
    assert first.time_s == attempt.reps[0].counted_s
    assert first.reason == ""


def test_the_current_set_and_every_break_are_named(attempt: AuditRecord) -> None:
    stages = marking.captions_of(attempt).stages
    assert [stage.words for stage in stages][:3] == [
        "set 1, thruster",
        "break, 9.0 s",
        "set 2, thruster",
    ]


def test_in_a_workout_the_round_and_the_reps_of_the_station_are_told() -> None:
    stages = marking.captions_of(followed_attempt("ggn?g", "gg")).stages
    assert [stage.words for stage in stages] == [
        *(f"thruster {made} of 3" for made in range(4)),
        *(f"pull-up {made} of 2" for made in range(3)),
    ]
    assert [stage.time_s for stage in stages] == sorted(stage.time_s for stage in stages)


def test_a_call_on_the_hang_before_a_pull_belongs_to_the_pull(attempt: AuditRecord) -> None:
    """The first pull-up's hang is decided half a second before the pull begins."""
    record = followed_attempt("ggn?g", "?g")
    rep = next(rep for rep in record.reps if rep.movement == "pull-up")
    hang_s = rep.start_s - 0.5
    check = next(check for other in attempt.reps for check in other.checks)
    check = msgspec.structs.replace(check, verdict="too close", at_s=hang_s)
    early = msgspec.structs.replace(rep, checks=[check])
    record = msgspec.structs.replace(
        record, reps=[early if one is rep else one for one in record.reps]
    )
    captions = marking.captions_of(record)
    call = next(call for call in captions.calls if call.time_s == hang_s)
    station = [stage for stage in captions.stages if stage.time_s <= call.time_s][-1]
    assert station.words == "pull-up 0 of 2"


def test_a_record_edited_by_hand_says_so_on_every_picture(attempt: AuditRecord) -> None:
    words = [stage.words for stage in marking.captions_of(attempt, EDITED).stages]
    assert words[:2] == ["edited by hand", "edited by hand; set 1, thruster"]
    assert all(line.startswith("edited by hand") for line in words)
    assert marking.captions_of(attempt, EDITED).stages[0].time_s == -math.inf


@pytest.mark.slow
def test_flagged_reps_become_short_clips_named_after_their_call(
    run: Callable[..., list[Path]], audited: Path, tmp_path: Path
) -> None:
    clips = run(CLIP, audited, "--flagged", "--out", tmp_path)
    assert [clip.name for clip in clips] == ["rep_002_no-rep.mp4", "rep_005_too_close.mp4"]
    for clip in clips:
        assert read_film(clip).duration_s == pytest.approx(1.03 + 3.0, abs=0.2)


@pytest.mark.slow
def test_the_whole_film_keeps_every_frame_time(
    run: Callable[..., list[Path]], audited: Path, tmp_path: Path
) -> None:
    (marked,) = run(CLIP, audited, "--out", tmp_path / "whole.mp4")
    assert read_film(marked).time_s == pytest.approx(read_film(CLIP).time_s)


def test_an_unknown_rep_is_refused_with_those_there_are(
    run: Callable[..., list[Path]], audited: Path
) -> None:
    with pytest.raises(UserError, match="no rep 9; this audit holds reps 1 to 6") as refused:
        run(CLIP, audited, "--clip", 9)
    assert refused.value.exit_status == WRONG_USAGE


def test_another_film_is_refused(
    run: Callable[..., list[Path]], audited: Path, tmp_path: Path
) -> None:
    other = CLIP.with_name("boathouse_thrusters.mp4")
    with pytest.raises(UserError, match="is not the film") as refused:
        run(other, audited, "--out", tmp_path / "x.mp4")
    assert refused.value.exit_status == BAD_INPUT
    assert not (tmp_path / "x.mp4").exists()


def test_the_film_itself_is_never_written_over(
    run: Callable[..., list[Path]], audited: Path
) -> None:
    with pytest.raises(UserError, match="is the film itself"):
        run(CLIP, audited, "--out", CLIP)


def test_a_film_without_audit_says_how_to_make_one(
    run: Callable[..., list[Path]], tmp_path: Path
) -> None:
    with pytest.raises(UserError, match="repwitness audit"):
        run(tmp_path / "film.mp4")
