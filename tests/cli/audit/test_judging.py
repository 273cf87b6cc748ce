"""What people's calls taught reaches the verdicts and is named in the record."""

from dataclasses import replace
from pathlib import Path

import pytest

from cli.audit.judging import judging_of
from cli.audit.request import AuditRequest
from cli.audit.run import what_is_asked
from cli.errors import UserError
from cli.wording import tuned_words
from counting.checks.table import packaged_digest
from counting.checks.tuning import TunedError, TunedGroup, Tuning, load_tuning, write_tuning
from counting.movements.loader import find_movement
from counting.record.assembly import Counted
from counting.record.types import TunedPart, VersionsPart
from counting.sets.grouping import Grouped
from counting.timeline import find_reps
from tests.golden.compact import unpack
from tests.golden.reference import FOLDER

DEPTH = "hip crease above knee top / standing"


def request_with(folder: Path, tuned: Path | None) -> AuditRequest:
    return AuditRequest(folder / "film.mp4", "air squat", None, (), folder / "out", tuned=tuned)


def test_a_taught_offset_decides_otherwise_and_the_record_names_it(tmp_path: Path) -> None:
    """Good squats from the side; people's calls say that depth is read 15 cm too low."""
    file = tmp_path / "calls.json"
    group = TunedGroup("air squat", "side", 212, 31, 0.03, (TunedError(DEPTH, -15.0, 0.5),))
    write_tuning(Tuning(calibration=packaged_digest(), groups=(group,)), file)
    track, facts = unpack(FOLDER / "landmarks" / "air_squat_1.xz")
    movement = find_movement(facts["movement"])
    timeline = find_reps(track, movement)
    plain = judging_of(request_with(tmp_path, None))
    taught = judging_of(request_with(tmp_path, file), load_tuning(file))
    first = plain.judge(track, timeline.reps, movement)
    second = taught.judge(track, timeline.reps, movement)
    assert {rep.verdict for rep in first.verdicts} == {"good"}
    assert {rep.verdict for rep in second.verdicts} == {"no-rep"}
    # What was read stays what it was: calls are learnt from readings, not from what they taught.
    assert [rep.checks[0].reading for rep in first.verdicts] == [
        rep.checks[0].reading for rep in second.verdicts
    ]
    counted = Counted(
        reps=timeline.reps,
        verdicts=second.verdicts,
        grouped=Grouped((), (), ()),
        judgements=(second,),
        signals=timeline.signals,
        driver=None,
        driver_name="hip height",
    )
    part = taught.tuned_part(counted)
    assert part is not None
    assert part.reps == 212
    assert plain.tuned_part(counted) is None
    unseen = taught.tuned_part(replace(counted, judgements=(replace(second, view_deg=3.0),)))
    assert unseen is not None
    assert unseen.reps == 0


def test_a_file_that_is_no_tuning_ends_the_audit_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be read"):
        what_is_asked(request_with(tmp_path, tmp_path / "nowhere.json"))


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (None, None),
        (TunedPart(sha256="0" * 64, reps=212), "tuned on 212 reps decided by people"),
        (
            TunedPart(sha256="0" * 64, reps=0),
            "not tuned: people have decided too few reps of this movement from this view",
        ),
    ],
)
def test_whose_calls_tuned_it_is_said_in_words(part: TunedPart | None, words: str | None) -> None:
    versions = VersionsPart(tool="", model="", model_sha256="", libraries={}, tuned=part)
    assert tuned_words(versions) == words


def test_a_height_that_is_told_reaches_the_record_and_only_then(tmp_path: Path) -> None:
    track, facts = unpack(FOLDER / "landmarks" / "air_squat_1.xz")
    movement = find_movement(facts["movement"])
    timeline = find_reps(track, movement)
    plain = judging_of(request_with(tmp_path, None))
    told = judging_of(replace(request_with(tmp_path, None), height_m=1.9))
    one, other = (each.judge(track, timeline.reps, movement) for each in (plain, told))
    assert (one.stature_source, other.stature_source) == ("assumed", "given")
    assert (one.stature_m, other.stature_m) == (1.73, 1.9)
    assert other.stature_uncertainty_m < one.stature_uncertainty_m
