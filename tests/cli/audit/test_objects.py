"""Objects are looked for where a standard asks for them, once, and said to be open elsewhere."""

from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.audit.objects import Objects
from cli.audit.request import AuditRequest, silent
from cli.errors import WRONG_USAGE, UserError
from cli.main import app
from counting.checks.types import Judgement, RepVerdict
from counting.decision.conformance import Risk
from counting.movements.loader import known_movements
from counting.objects.line import Target
from counting.reps.types import PhaseSeen, Rep
from tests.vision.objects.thrown import HEIGHT, REP_S, WIDTH, Scene, film_of, line_px
from vision.film.types import Film
from vision.track import PoseTrack

pytestmark = pytest.mark.slow

LINE = line_px() / [WIDTH, HEIGHT]
TARGET = Target((LINE[0, 0], LINE[0, 1]), (LINE[1, 0], LINE[1, 1]))
SCENE = Scene(tops_m=(3.1, 2.55))
REPS = [
    Rep(k + 1, "wall ball", 0, 0, 0, REP_S * k, REP_S * k + 0.5, REP_S * (k + 1) - 0.1)
    for k in range(len(SCENE.tops_m))
]
GOOD = Judgement(
    tuple(RepVerdict(rep.number, "good", 0.97, rep.end_s, ()) for rep in REPS),
    *(None,) * 6,
)


@pytest.fixture(scope="module")
def filmed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Film, PoseTrack]:
    return film_of(tmp_path_factory.mktemp("thrown") / "thrown.mp4", SCENE)


def objects(filmed: tuple[Film, PoseTrack], out: Path, target: Target | None) -> Objects:
    film, track = filmed
    request = AuditRequest(film.path, "wall ball", None, (), out, target=target)
    return Objects(film, track, Path("landmarks-1.npz"), request, silent)


def judged(
    filmed: tuple[Film, PoseTrack], out: Path, target: Target | None, movement: str = "wall ball"
) -> Judgement:
    asked = known_movements(())[movement]
    return objects(filmed, out, target).judged(GOOD, REPS, asked, Risk())


def test_a_ball_that_reaches_the_target_leaves_a_good_rep_good(
    filmed: tuple[Film, PoseTrack], tmp_path: Path
) -> None:
    reached, short = judged(filmed, tmp_path, TARGET).verdicts
    assert reached.verdict == "good"
    assert reached.checks[0].verdict == "met"
    assert short.verdict == "no-rep"
    assert short.counted_s is None
    assert str(short.reason).startswith("target: the ball's middle came ")
    assert str(short.reason).endswith(" cm under the target")


def test_it_is_looked_for_once(
    filmed: tuple[Film, PoseTrack], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = judged(filmed, tmp_path, TARGET)
    monkeypatch.setattr("vision.objects.following.follow_ball", None)
    assert judged(filmed, tmp_path, TARGET) == first


def test_without_the_targets_place_nothing_is_looked_for(
    filmed: tuple[Film, PoseTrack], tmp_path: Path
) -> None:
    found = judged(filmed, tmp_path, None)
    assert found.verdicts == GOOD.verdicts
    assert found.notes == (
        "not judged: the target (target); say with --target where its line is in the film's first "
        "picture",
    )
    assert not list(tmp_path.iterdir())


def test_a_rep_whose_ball_was_not_seen_is_only_counted(
    tmp_path_factory: pytest.TempPathFactory, tmp_path: Path
) -> None:
    bare = film_of(tmp_path_factory.mktemp("bare") / "bare.mp4", replace(SCENE, colour=None))
    found = judged(bare, tmp_path, TARGET)
    assert {one.verdict for one in found.verdicts} == {"only counted"}
    assert found.verdicts[0].reason == "only counted: target not judged: the ball was not seen"
    assert found.shared_error > 0.0


def test_a_film_without_sound_says_so_of_the_rope(
    filmed: tuple[Film, PoseTrack], tmp_path: Path
) -> None:
    found = judged(filmed, tmp_path, None, "rope skip")
    assert found.verdicts == GOOD.verdicts
    assert found.notes == ("not judged: the rope (rope); the film has no sound",)


def test_a_box_that_is_not_there_is_not_judged(
    filmed: tuple[Film, PoseTrack], tmp_path: Path
) -> None:
    asked = known_movements(())["box jump"]
    reps = [
        replace(rep, phases=(PhaseSeen("on the box", rep.start_s + 0.5, rep.end_s - 0.5),))
        for rep in REPS
    ]
    found = objects(filmed, tmp_path, None).judged(GOOD, reps, asked, Risk())
    assert {one.checks[0].reason for one in found.verdicts} == {"not judged: the box was not seen"}


def test_a_movement_without_objects_is_left_alone(
    filmed: tuple[Film, PoseTrack], tmp_path: Path
) -> None:
    assert judged(filmed, tmp_path, TARGET, "air squat") is GOOD


@pytest.mark.parametrize("numbers", [("0.6", "0.2", "0.4", "0.2"), ("40", "20", "60", "20")])
def test_a_target_that_is_no_line_in_the_picture_is_wrong_usage(
    numbers: tuple[str, ...], filmed: tuple[Film, PoseTrack]
) -> None:
    asked = ["audit", str(filmed[0].path), "-m", "wall ball", "--target", *numbers]
    found = CliRunner().invoke(app, asked)
    assert isinstance(found.exception, UserError)
    assert found.exception.exit_status == WRONG_USAGE
    assert str(found.exception).startswith("--target: ")
