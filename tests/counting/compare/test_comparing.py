"""Two attempts laid side by side: every second of difference has a cause."""

from dataclasses import dataclass, replace

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counting.compare.aligning import compare
from counting.record.types import (
    AuditRecord,
    CheckPart,
    PausePart,
    RepPart,
    RiskPart,
    VersionsPart,
)
from counting.reps.types import Rep
from counting.workout.alignment import FollowedRep, Following
from counting.workout.clock import ClockZero
from counting.workout.postures import PostureTrack
from counting.workout.types import Block, Station, Workout
from counting.workout.whole import with_workout
from tests.records import bare_record


@dataclass(frozen=True)
class Stretch:
    """Reps back to back; ``calls`` holds g or n; ``begin_s`` on the clock."""

    calls: str
    begin_s: float
    cycle_s: float = 2.0
    movement: str = "pull-up"


def attempt(
    *stretches: Stretch,
    pauses: tuple[PausePart, ...] = (),
    view_deg: float | None = 40.0,
    limit: float = 165.0,
) -> AuditRecord:
    reps: list[RepPart] = []
    for set_number, stretch in enumerate(stretches, start=1):
        for index, call in enumerate(stretch.calls):
            start_s = stretch.begin_s + index * stretch.cycle_s
            reps.append(
                RepPart(
                    number=len(reps) + 1,
                    set=set_number,
                    movement=stretch.movement,
                    start_s=start_s,
                    turn_s=start_s + stretch.cycle_s / 2,
                    counted_s=None if call == "n" else start_s + stretch.cycle_s,
                    end_s=start_s + stretch.cycle_s,
                    verdict="no-rep" if call == "n" else "good",
                    probability_good=0.0 if call == "n" else 1.0,
                    checks=[lockout(limit)],
                )
            )
    return bare_record(reps, view_deg=view_deg, movement="pull-up", start_s=0.0, pauses=pauses)


def lockout(limit: float) -> CheckPart:
    return CheckPart(
        name="hang",
        words="arms extended in the hang",
        quantity="elbow angle",
        at_s=None,
        value=None,
        relation="at least",
        limit=limit,
        unit="deg",
        uncertainty=None,
        probability_met=0.5,
        verdict="too close",
    )


def test_an_attempt_against_itself_gains_nothing() -> None:
    one = attempt(Stretch("ggng", 1.0), Stretch("gg", 20.0))
    found = compare(one, one)
    assert len(found.pairs) == 5
    assert {pair.ahead_s for pair in found.pairs} == {0.0}
    assert set(found.gained_by_cause_s().values()) == {0.0}
    assert found.warnings == ()


def test_slower_reps_are_named_as_the_cause() -> None:
    found = compare(attempt(Stretch("ggg", 0.0, 2.0)), attempt(Stretch("ggg", 0.0, 2.5)))
    assert [pair.ahead_s for pair in found.pairs] == [-0.5, -1.0, -1.5]
    assert found.gained_by_cause_s()["reps"] == pytest.approx(-1.5)


def test_a_no_rep_a_break_and_a_late_beginning_are_told_apart() -> None:
    first = attempt(Stretch("gg", 1.0), Stretch("gg", 9.0))
    second = attempt(Stretch("gng", 3.0), Stretch("g", 12.0))
    gained = compare(first, second).gained_by_cause_s()
    # begins 2 s later; one no-rep of 2 s; no rep faster; break: 4 s against 3 s, and the fourth
    # good rep of the first attempt comes without another break
    assert gained["transitions"] == pytest.approx(-2.0)
    assert gained["no-reps"] == pytest.approx(-2.0)
    assert gained["breaks"] == pytest.approx(1.0)
    assert gained["reps"] == pytest.approx(0.0)


def test_a_pause_with_the_hands_on_the_bar_is_its_own_cause() -> None:
    pause = PausePart(after_rep=1, start_s=2.0, end_s=3.0, where="in the hang")
    first = attempt(Stretch("gg", 0.0, 2.0))
    second = attempt(Stretch("g", 0.0, 2.0), Stretch("g", 3.0, 2.0), pauses=(pause,))
    gained = compare(first, second).gained_by_cause_s()
    assert gained["pauses"] == pytest.approx(-1.0)
    assert gained["breaks"] == pytest.approx(0.0)


def test_reps_without_a_partner_are_listed() -> None:
    found = compare(attempt(Stretch("gggg", 0.0)), attempt(Stretch("gg", 0.0)))
    assert (found.only_first, found.only_second) == ((3, 4), ())
    assert len(found.pairs) == 2


def test_other_standards_and_other_views_are_warned_about() -> None:
    found = compare(
        attempt(Stretch("g", 0.0), view_deg=10.0, limit=165.0),
        attempt(Stretch("g", 0.0), view_deg=80.0, limit=160.0),
    )
    assert any("standards differ" in line and "165 against 160" in line for line in found.warnings)
    assert any("views differ" in line for line in found.warnings)
    unknown = compare(attempt(Stretch("g", 0.0), view_deg=None), attempt(Stretch("g", 0.0)))
    assert any("view of the first film is unknown" in line for line in unknown.warnings)


def test_opposite_sides_of_the_circle_are_close_views() -> None:
    one, other = (attempt(Stretch("g", 0.0), view_deg=view) for view in (355.0, 5.0))
    assert compare(one, other).warnings == ()


def test_the_difference_of_two_clocks_is_no_better_than_two_frames_allow() -> None:
    # Uniform quantisation: one event at 30 frames a second is good to 9.6 ms, a difference of two
    # splits to 2 sigma = 38 ms at the very best.
    found = compare(attempt(Stretch("g", 0.0)), attempt(Stretch("g", 0.0)))
    assert 2.0 * found.uncertainty_s > 0.038


stretches = st.lists(
    st.tuples(st.text(alphabet="gn", min_size=1, max_size=4), st.floats(0.0, 9.0)),
    min_size=1,
    max_size=4,
)


def laid_out(parts: list[tuple[str, float]], cycle_s: float) -> AuditRecord:
    at_s, found = 0.0, []
    for calls, gap_s in parts:
        at_s += gap_s
        found.append(replace(Stretch(calls, at_s), cycle_s=cycle_s))
        at_s += cycle_s * len(calls)
    return attempt(*found)


@settings(deadline=None)
@given(stretches, stretches, st.floats(1.0, 4.0), st.floats(1.0, 4.0))
def test_the_causes_add_up_to_the_lead(
    one: list[tuple[str, float]], other: list[tuple[str, float]], slow_s: float, fast_s: float
) -> None:
    first, second = laid_out(one, slow_s), laid_out(other, fast_s)
    found = compare(first, second)
    lead_s = 0.0
    for pair in found.pairs:
        lead_s += sum(pair.gained_s.values())
        assert lead_s == pytest.approx(pair.ahead_s, abs=1e-6)
    back = compare(second, first)
    for pair, turned in zip(found.pairs, back.pairs, strict=True):
        assert pair.ahead_s == pytest.approx(-turned.ahead_s, abs=1e-6)


def test_a_comparison_can_be_written_as_json() -> None:
    found = compare(attempt(Stretch("gg", 0.0)), attempt(Stretch("gg", 1.0)))
    read = msgspec.json.decode(msgspec.json.encode(found))
    assert len(read["pairs"]) == 2


def followed(
    record: AuditRecord, name: str, reps: int, source: str = "start signal"
) -> AuditRecord:
    """Put the reps of a record into a workout of one station."""
    workout = Workout(
        name=name,
        scoring="for time",
        missing_reps="deducted",
        blocks=[Block(stations=[Station(movement="pull-up", reps=reps)])],
    )
    found = tuple(
        FollowedRep(Rep(r.number, r.movement, 0, 0, 0, r.start_s, r.turn_s, r.end_s), 0)
        for r in record.reps
    )
    nothing = np.zeros(0)
    postures = PostureTrack(nothing, nothing.astype(np.int64), nothing, nothing)
    zero = ClockZero(0.0, 0.01, source, 0.9, source)  # type: ignore[arg-type]
    return with_workout(record, workout, Following((), found, {}, postures, 1), zero)


def test_followed_workouts_are_aligned_by_their_places() -> None:
    one = followed(attempt(Stretch("ggg", 1.0)), "three", 3)
    other = followed(attempt(Stretch("ggg", 2.0)), "three", 3)
    found = compare(one, other)
    assert [pair.block for pair in found.pairs] == [1, 1, 1]
    assert found.gained_by_cause_s()["transitions"] == pytest.approx(-1.0)
    assert found.warnings == ()


def test_other_workouts_clocks_and_settings_are_warned_about() -> None:
    one = followed(attempt(Stretch("ggg", 1.0)), "three", 3)
    other = followed(attempt(Stretch("ggg", 1.0)), "four", 4, "first movement")
    other = msgspec.structs.replace(
        other,
        risk=RiskPart(met_at_least=0.9, not_met_at_most=0.1),
        versions=VersionsPart(tool="1", model="y", model_sha256="1", libraries={}),
        film=msgspec.structs.replace(other.film, frame_rate_mean_hz=60.0),
    )
    text = " | ".join(compare(one, other).warnings)
    for words in ("workouts differ", "clocks start", "decision rules", "versions", "pose models"):
        assert words in text
    assert "frame rates differ: 30 against 60" in text
    bare = attempt(Stretch("ggg", 1.0))
    assert any("only one of the audits" in line for line in compare(one, bare).warnings)


@pytest.mark.parametrize(("rate_hz", "told"), [(29.97, False), (25.0, False), (24.0, True)])
def test_frame_rates_are_told_where_they_differ_by_more_than_phones_of_two_countries_do(
    rate_hz: float, told: bool
) -> None:
    """Mains of 50 and 60 Hz: 25 and 30 pictures a second."""
    one = attempt(Stretch("ggg", 1.0))
    film = msgspec.structs.replace(one.film, frame_rate_mean_hz=rate_hz)
    found = compare(one, msgspec.structs.replace(one, film=film))
    assert any("frame rates differ" in line for line in found.warnings) == told


def test_attempts_at_different_movements_share_nothing() -> None:
    found = compare(attempt(Stretch("gg", 0.0)), attempt(Stretch("gg", 0.0, movement="push-up")))
    assert found.pairs == ()
    assert found.only_first == (1, 2)
    assert "the attempts share no movement" in found.warnings
