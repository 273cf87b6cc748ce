"""A record is checked whole when it is read: what it is, how large, its types, its relations."""

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from counting.record.files import (
    MOST_RECORD_BYTES,
    RecordError,
    parse_record,
    read_record,
    record_json,
)
from counting.record.relations import first_contradiction
from counting.record.seal import EDITED, UNSEALED, sealed
from counting.record.types import AuditRecord
from tests.conftest import make_attempt

Change = Callable[[dict[str, Any]], object]


def changed(change: Change) -> bytes:
    document = json.loads(record_json(sealed(make_attempt(sets=(3, 2)))))
    change(document)
    return json.dumps(document).encode()


CONTRADICTIONS: dict[str, Change] = {
    "series": lambda d: d["series"]["time_s"].pop(),
    "series.time_s": lambda d: d["series"]["time_s"].reverse(),
    r"reps\[1\].number": lambda d: d["reps"][1].update(number=1),
    r"reps\[0\].number": lambda d: d["reps"][0].update(number=7),
    r"reps\[2\]: its start": lambda d: d["reps"][2].update(turn_s=0.0),
    r"reps\[0\]: its place": lambda d: d["reps"][0].update(block=1),
    r"sets\[1\]: it holds reps 4 to 9 of 5": lambda d: d["sets"][1].update(last_rep=9),
    r"sets\[0\].number": lambda d: d["sets"][0].update(number=3),
    r"breaks\[0\].after_set": lambda d: d["breaks"][0].update(after_set=5),
    r"breaks\[0\]: it ends before": lambda d: d["breaks"][0].update(end_s=1.0),
    r"pauses\[0\].after_rep": lambda d: d["pauses"].append(
        {"after_rep": 6, "start_s": 8.0, "end_s": 9.0, "where": "in the rack"}
    ),
    "film.duration_s: its times": lambda d: d["reps"][4].update(end_s=9000.0),
    "film.duration_s`": lambda d: d["film"].update(duration_s=1e9),
    r"\$.start_s`": lambda d: d.update(start_s=1e300),
    r"frames`": lambda d: d["film"].update(frames=10**30),
    r"\$.continuity`": lambda d: d.update(continuity={}),
    r"\$.workout.score`": lambda d: d.update(workout={"score": 3}),
}


@pytest.mark.parametrize("named", CONTRADICTIONS)
def test_what_contradicts_itself_is_refused_with_its_key(named: str) -> None:
    with pytest.raises(RecordError, match=named):
        parse_record(changed(CONTRADICTIONS[named]), "audit.json")


def test_what_audits_write_contradicts_nothing(attempt: AuditRecord) -> None:
    assert first_contradiction(attempt) is None


def test_a_films_clock_may_begin_anywhere() -> None:
    """MPEG-TS counts 2 ** 33 ticks of 90 kHz, 26.5 hours, from any start (ISO/IEC 13818-1)."""
    record = make_attempt(sets=(2,))
    late_s = 95_000.0
    reps = [
        msgspec.structs.replace(
            rep,
            start_s=rep.start_s + late_s,
            turn_s=rep.turn_s + late_s,
            end_s=rep.end_s + late_s,
            counted_s=None if rep.counted_s is None else rep.counted_s + late_s,
            checks=[],
        )
        for rep in record.reps
    ]
    late = msgspec.structs.replace(record, reps=reps, sets=[], series=None)
    assert first_contradiction(late) is None


@pytest.mark.parametrize(("beyond_s", "sound"), [(4.0, True), (6.0, False)])
def test_a_cycle_is_followed_a_few_seconds_past_the_films_end_and_no_further(
    beyond_s: float, sound: bool
) -> None:
    record = make_attempt(sets=(2,))
    first_s = min(record.reps[0].start_s, record.sets[0].start_s)
    last = msgspec.structs.replace(
        record.reps[-1], end_s=first_s + record.film.duration_s + beyond_s
    )
    longer = msgspec.structs.replace(record, reps=[*record.reps[:-1], last], series=None)
    assert (first_contradiction(longer) is None) == sound


def write(folder: Path, data: bytes) -> Path:
    (folder / "audit.json").write_bytes(data)
    return folder


def test_the_seal_is_checked_wherever_a_record_is_read(tmp_path: Path) -> None:
    assert read_record(write(tmp_path, changed(dict))).doubt is None
    edit = changed(lambda d: d["reps"][2].update(verdict="no-rep"))
    assert read_record(write(tmp_path, edit)).doubt == EDITED
    bare = changed(lambda d: d.pop("digest"))
    assert read_record(write(tmp_path, bare)).doubt == UNSEALED


@pytest.mark.parametrize("make", [os.mkfifo, lambda path: path.symlink_to("/dev/zero")])
def test_a_pipe_or_a_device_is_refused_and_not_waited_for(
    tmp_path: Path, make: Callable[[Path], None]
) -> None:
    make(tmp_path / "audit.json")
    with pytest.raises(RecordError, match=r"audit\.json: cannot be read \(it is a pipe, a device"):
        read_record(tmp_path)


def test_a_file_larger_than_any_record_is_refused_before_it_is_read(tmp_path: Path) -> None:
    with (tmp_path / "audit.json").open("wb") as file:
        file.truncate(MOST_RECORD_BYTES + 1)
    with pytest.raises(RecordError, match="larger than 67,108,864 bytes"):
        read_record(tmp_path)


def test_a_name_no_file_can_have_is_refused() -> None:
    for name in ("x" * 300, "a\0b"):
        with pytest.raises(RecordError, match="cannot be read"):
            read_record(Path(name))
