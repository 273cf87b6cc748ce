"""Every parser of ours, with the errors it may raise and inputs to start from."""

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from starlette.exceptions import HTTPException

from cli.errors import UserError
from cli.review.app import ActionBody, DecisionBody
from cli.review.app import _parsed as parsed_body
from cli.review.log import DecisionLog, LogError, NewDecision
from cli.times import parse_time_s
from counting.movements.loader import StandardsError, built_in_movements, parse_movement
from counting.pacing.card.document import load_plan
from counting.pacing.model.loads import PacingError
from counting.record.files import RecordError, parse_record, record_json
from counting.workout.file import WorkoutError, parse_workout
from tests.conftest import make_attempt
from tests.vision.test_track import BYTES as TRACK_BYTES
from vision.film.limits import changed_limits
from vision.track import TrackError, load_track

ROOT = Path(__file__).parents[2]
SEEDS = Path(__file__).parent / "seeds"
MEMORY = Path("/dev/shm")
PLACE = Path(tempfile.mkdtemp(prefix="repwitness-fuzz-", dir=MEMORY if MEMORY.is_dir() else None))
"""Where parsers of files get theirs: in memory where there is such a place, as each is synced."""


@dataclass(frozen=True)
class Parser:
    """One parser.

    ``refusals`` are the errors that say the input is refused; any other is a fault.
    """

    parse: Callable[[bytes], object]
    refusals: tuple[type[Exception], ...]
    starts: Callable[[], list[bytes]]


@cache
def known_movements() -> frozenset[str]:
    return frozenset(movement.name for movement in built_in_movements())


def workout(data: bytes) -> object:
    return parse_workout(data.decode("utf-8", "replace"), "workout.toml", known_movements())


def standards(data: bytes) -> object:
    return parse_movement(data, "standard.toml")


def record(data: bytes) -> object:
    return parse_record(data, "audit.json")


def landmarks(data: bytes) -> object:
    file = PLACE / "landmarks.npz"
    file.write_bytes(data)
    return load_track(file)


def plan(data: bytes) -> object:
    file = PLACE / "plan.json"
    file.write_bytes(data)
    return load_plan(file)


def review_log(data: bytes) -> object:
    for leftover in PLACE.glob("review.sqlite*"):
        # SQLite removes its own when an earlier log is let go.
        leftover.unlink(missing_ok=True)
    file = PLACE / "review.sqlite"
    file.write_bytes(data)
    log = DecisionLog(file)
    log.decisions()
    log.signatures()
    return log.add(NewDecision("f" * 64, 1, "thruster", 1.0, "Ada", "good", "", "once"))


def requests(data: bytes) -> object:
    kind = DecisionBody if data[:1] == b"{" else ActionBody
    return parsed_body(data, kind)


def options(data: bytes) -> object:
    text = data.decode("utf-8", "replace")
    return changed_limits([text]) if "=" in text else parse_time_s(text, "--start")


def a_log() -> list[bytes]:
    file = PLACE / "start.sqlite"
    log = DecisionLog(file)
    log.add(NewDecision("f" * 64, 1, "thruster", 1.0, "Ada", "good", "", "first"))
    with log._connection() as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return [file.read_bytes()]


def files(pattern: str) -> list[bytes]:
    return [file.read_bytes() for file in sorted(ROOT.glob(pattern))]


def small_record() -> bytes:
    return record_json(
        make_attempt(sets=(1, 1), no_reps=(), too_close=(2,), series_hz=0.1)
    ).encode()


PARSERS = {
    "workout": Parser(workout, (WorkoutError,), lambda: files("sample_clips/*.toml")),
    "standards": Parser(
        standards, (StandardsError,), lambda: files("counting/movements/standards/*.toml")
    ),
    "record": Parser(record, (RecordError,), lambda: [small_record()]),
    "landmarks": Parser(landmarks, (TrackError,), lambda: [TRACK_BYTES]),
    "plan": Parser(plan, (PacingError,), lambda: [b'{"seed": 1, "levels": []}']),
    "review log": Parser(review_log, (LogError,), a_log),
    "requests": Parser(
        requests,
        (HTTPException,),
        lambda: [
            json.dumps(
                {"request": "r", "rep": 1, "call": "good", "reviewer": "Ada", "note": ""}
            ).encode()
        ],
    ),
    "options": Parser(options, (UserError, ValueError), lambda: [b"1:23.5", b"frames=3"]),
}


def kept_seeds(name: str) -> list[Path]:
    """Inputs that once were a fault."""
    return sorted((SEEDS / name.replace(" ", "_")).glob("*"))


def try_one(parser: Parser, data: bytes) -> None:
    """Parse, letting through all but the refusals; a refusal is one line."""
    try:
        parser.parse(data)
    except parser.refusals as error:
        if not str(error):
            raise AssertionError("an empty refusal") from error
