"""From landmarks to a record, and the records that are kept."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np

from counting.checks.coverage import judge_or_count
from counting.decision.conformance import Risk
from counting.movements.loader import find_movement
from counting.record.assembly import Counted, assemble
from counting.record.types import AuditRecord, VersionsPart
from counting.sets.grouping import Grouped
from counting.timeline import find_reps
from vision.film.types import Film
from vision.track import PoseTrack

FOLDER: Final = Path(__file__).parent
RECORDS: Final = FOLDER / "records"
LANDMARKS: Final = sorted((FOLDER / "landmarks").glob("*.xz"))


def record_of(track: PoseTrack, movement: str) -> AuditRecord:
    """Count and judge a track as an audit of one movement does."""
    standard = find_movement(movement)
    risk = Risk(0.95, 0.05)
    timeline = find_reps(track, standard)
    judgement = judge_or_count(track, timeline.reps, standard, risk)
    counted = Counted(
        reps=timeline.reps,
        verdicts=judgement.verdicts,
        grouped=Grouped(timeline.sets, timeline.breaks, timeline.pauses),
        judgements=(judgement,),
        signals=timeline.signals,
        driver=timeline.driver,
        driver_name=standard.driver_name,
    )
    return assemble(
        film_of(track),
        track,
        counted,
        movement=standard.name,
        start_s=None,
        risk=risk,
        versions=VersionsPart(tool="", model="", model_sha256="", libraries={}),
        landmarks_file="",
    )


def film_of(track: PoseTrack) -> Film:
    """Facts of the film that the landmarks could come from."""
    step_s = float(np.median(np.diff(track.time_s)))
    duration_s = float(track.time_s[-1] - track.time_s[0]) + step_s
    return Film(
        path=Path("landmarks"),
        sha256="0" * 64,
        duration_s=duration_s,
        time_s=track.time_s,
        width_px=track.width_px,
        height_px=track.height_px,
        rotation_deg=0,
        mirrored=False,
        frame_rate_mean_hz=track.frames / duration_s,
        variable_frame_rate=False,
        codec="",
        has_sound=False,
        broken_at_s=None,
        warnings=(),
    )


def kept_json(record: AuditRecord) -> str:
    """The record as it is kept: one line a rep, without the thinned signal for drawings.

    Landmarks are all that is kept of these films, so that their clock goes without saying.
    """
    document: dict[str, Any] = msgspec.to_builtins(record)
    document.pop("series")
    document["film"].pop("times_known")
    reps = document.pop("reps")
    lines = ",\n".join("  " + json.dumps(rep, separators=(",", ":")) for rep in reps)
    head = json.dumps(document, separators=(",", ":"))
    return head[:-1] + ',"reps":[\n' + lines + "]}\n"


def moved(kept: str, found: str) -> list[str]:
    """Name each field of two records that is not the same, with what it was and what it is."""
    before, after = (dict(_fields(json.loads(text), "")) for text in (kept, found))
    return [
        f"{place}: {before.get(place, 'nothing')}, now {after.get(place, 'nothing')}"
        for place in dict.fromkeys([*before, *after])
        if before.get(place, "nothing") != after.get(place, "nothing")
    ]


def _fields(value: Any, place: str) -> Iterator[tuple[str, Any]]:
    """Walk a document down to its single values, each with where it stands."""
    if isinstance(value, dict) and value:
        for key, part in value.items():
            yield from _fields(part, f"{place}.{key}" if place else key)
    elif isinstance(value, list) and value:
        for number, part in enumerate(value):
            yield from _fields(part, f"{place}[{number}]")
    else:
        yield place, value


def record_file(landmarks: Path) -> Path:
    """Where the record of a landmark file is kept."""
    return RECORDS / f"{landmarks.stem}.json"
