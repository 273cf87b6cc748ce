"""Explaining a rep, with a still of the frame that decided."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from cli.commands import explain
from cli.errors import UserError
from cli.framing import part_around
from cli.measured_lines import measured_lines
from cli.still import CALLED_BGR, LIMIT_BGR, caption_height, still_caption, still_picture
from cli.wording import measured
from counting.record.files import record_json
from tests.cli.filmed import filmed_audit, squat_track
from vision.made_by import is_marked
from vision.pose.landmarks import Landmark

app = typer.Typer()
app.command()(explain.explain)


@app.callback()
def program() -> None:
    """Keep the command a command."""


def run(*arguments):
    return CliRunner().invoke(app, ["explain", *map(str, arguments)])


@pytest.fixture
def audit(attempt, tmp_path):
    """An audit folder with the invented attempt, without film."""
    folder = tmp_path / "attempt.audit"
    folder.mkdir()
    (folder / "audit.json").write_text(record_json(attempt), encoding="utf-8")
    return folder


UNITS = {"deg": "°", "cm": " cm"}
SIDES = {"at least": "or more", "at most": "or less"}


def test_every_check_is_shown_with_value_limit_and_probability(audit, attempt):
    rep = attempt.reps[0]
    result = run(audit, "--rep", rep.number, "--no-still")
    assert result.exit_code == 0, result.output
    assert f"rep {rep.number}" in result.output
    for check in rep.checks:
        assert check.words in result.output
        unit, side = UNITS[check.unit], SIDES[check.relation]
        assert f"standard: {check.limit:g}{unit} {side}" in result.output
        assert f"{check.probability_met:.3f}" in result.output
        if check.value is not None:
            assert f"{check.quantity} {measured(check)}" in result.output


def test_a_rep_that_is_not_there_is_refused(audit, attempt):
    result = run(audit, "--rep", len(attempt.reps) + 1, "--no-still")
    assert isinstance(result.exception, UserError)
    assert result.exception.exit_status == 2
    assert f"1 to {len(attempt.reps)}" in str(result.exception)


def test_a_check_that_is_not_there_is_refused_with_those_that_are(audit, attempt):
    rep = attempt.reps[0]
    result = run(audit, "--rep", rep.number, "--check", "somersault")
    assert isinstance(result.exception, UserError)
    assert rep.checks[0].name in str(result.exception)


def test_a_film_that_is_elsewhere_is_asked_for(audit, attempt):
    rep = next(r for r in attempt.reps if any(c.at_s is not None for c in r.checks))
    result = run(audit, "--rep", rep.number)
    assert isinstance(result.exception, UserError)
    assert "--film" in str(result.exception)


def test_the_still_of_the_audited_film_is_written(attempt, tmp_path):
    folder, record = filmed_audit(tmp_path, attempt)
    (rep,) = record.reps
    result = run(folder, "--rep", rep.number)
    assert result.exit_code == 0, result.output
    file = folder / f"rep-{rep.number}-{rep.checks[0].name}.png"
    still = cv2.imread(str(file))
    assert still.shape[1] == 720
    assert np.any(still[200:] != still[200, 0])
    assert is_marked(file)


@pytest.mark.parametrize(
    "name", ["x/../../../T", "/etc/T", "..", "x" * 400, "name\nof two lines", "a\\b", "T\0"]
)
def test_a_check_of_any_name_has_its_still_in_the_folder(attempt, tmp_path, name):
    """A standard that a stranger wrote may name its checks as it likes."""
    inside = tmp_path / "a" / "b" / "c"
    inside.mkdir(parents=True)
    folder, record = filmed_audit(inside, attempt, name=name)
    before = {path for path in tmp_path.rglob("*") if path.parent != folder}
    result = run(folder, "--rep", record.reps[0].number, "--check", name)
    assert result.exit_code == 0, (result.output, result.exception)
    assert {path for path in tmp_path.rglob("*") if path.parent != folder} == before
    (still,) = folder.glob("rep-*.png")
    assert is_marked(still)


def replace_struct(struct, **changes):
    import msgspec

    return msgspec.structs.replace(struct, **changes)


def test_measured_and_limit_line_are_as_far_apart_as_value_and_limit(attempt):
    """10 cm over the limit at a leg of 0.491 statures seen as so many pixels."""
    track = squat_track()
    check = replace_struct(attempt.reps[0].checks[0], at_s=1.0, value=10.0, limit=0.0)
    rep = replace_struct(attempt.reps[0], start_s=0.0, turn_s=1.0, end_s=2.0)
    limit, measured_at = measured_lines(track, rep, check)
    assert (limit.kind, measured_at.kind) == ("limit", "measured")
    legs = [
        np.linalg.norm(
            track.image_px[:, Landmark[f"{side}_HIP"]]
            - track.image_px[:, Landmark[f"{side}_ANKLE"]],
            axis=1,
        ).max()
        for side in ("LEFT", "RIGHT")
    ]
    expected = 10.0 * np.mean(legs) / (0.491 * 173.0)
    assert limit.y1 - measured_at.y1 == pytest.approx(expected, rel=0.1)


def test_nothing_is_drawn_where_nobody_was_seen(attempt):
    track = squat_track()
    unseen = replace(track, image_px=np.full_like(track.image_px, np.nan))
    rep = attempt.reps[0]
    check = replace_struct(rep.checks[0], at_s=1.0)
    assert measured_lines(unseen, rep, check) == []
    picture = still_picture(np.zeros((640, 360, 3), np.uint8), unseen, rep, check)
    caption = still_caption(rep, check)
    assert not picture[caption_height(caption) :].any()


def test_the_still_is_cut_to_the_athlete_and_shows_limit_and_measured_in_their_colours(attempt):
    track = squat_track()
    rep = replace_struct(attempt.reps[0], start_s=0.3, turn_s=1.0, end_s=2.0)
    check = replace_struct(rep.checks[0], at_s=1.0, value=10.0, verdict="not met")
    grey = np.full((640, 360, 3), 60, np.uint8)
    picture = still_picture(grey, track, rep, check)
    body = picture[caption_height(still_caption(rep, check)) :]
    assert picture.shape[1] == 720
    assert (body == np.array(LIMIT_BGR, np.uint8)).all(axis=2).any()
    assert (body == np.array(CALLED_BGR["not met"], np.uint8)).all(axis=2).any()
    part = part_around(track, 1.0, 1.0)
    assert part.right - part.left < 360


def test_a_caption_gives_the_value_with_its_range_and_no_negative_nothing(attempt):
    rep = attempt.reps[0]
    small, other = (
        still_caption(rep, replace_struct(rep.checks[0], value=value)) for value in (-0.03, 0.03)
    )
    assert small == other
    assert " to " in small[1][0]
