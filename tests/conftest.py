"""An invented attempt at the boathouse, with every part that a record can hold."""

import gc
import math
import os
from collections.abc import Callable, Iterator

import pytest

from counting.record.types import (
    AthletePart,
    AuditRecord,
    BreakPart,
    CameraPart,
    CheckPart,
    CountProbability,
    CountsPart,
    FilmPart,
    PausePart,
    RepPart,
    RepVerdict,
    RiskPart,
    SeriesPart,
    SetPart,
    VersionsPart,
)
from tests.offline import WITH_SERVER, blocked

SETTLE_S = 6.0


def pytest_configure(config: pytest.Config) -> None:
    """As in the command: threads inside the algebra of small matrices cost more than they save.

    Workers take files in their order, not those with most tests first: audits of whole films are
    few tests that take minutes, and come early, so that no worker is left alone with one.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if hasattr(config.option, "loadscopereorder"):  # without pytest-xdist there are no workers
        config.option.loadscopereorder = False


def pytest_collection() -> None:
    """What is loaded now stays: looking for garbage among it costs a tenth of the quick part."""
    gc.disable()


def pytest_collection_finish() -> None:
    """Look for garbage only among what tests make, and not after every few hundred objects."""
    gc.freeze()
    gc.set_threshold(10_000)
    gc.enable()


def depth_check(at_s: float, value_cm: float, probability_met: float) -> CheckPart:
    verdict = "met" if probability_met >= 0.95 else "not met" if probability_met <= 0.05 else None
    return CheckPart(
        name="depth",
        words="hip crease below the top of the knee at the bottom",
        quantity="hip crease above knee top",
        at_s=at_s,
        value=value_cm,
        relation="at most",
        limit=0.0,
        unit="cm",
        uncertainty=1.2,
        probability_met=probability_met,
        verdict=verdict or "too close",
        low=value_cm - 1.645 * 1.2,
        high=value_cm + 1.645 * 1.2,
    )


def lockout_check(at_s: float, value_deg: float | None) -> CheckPart:
    return CheckPart(
        name="lockout",
        words="elbows straight overhead at the end",
        quantity="elbow angle",
        at_s=None if value_deg is None else at_s,
        value=value_deg,
        relation="at least",
        limit=165.0,
        unit="deg",
        uncertainty=None if value_deg is None else 3.1,
        probability_met=0.5 if value_deg is None else 0.999,
        verdict="too close" if value_deg is None else "met",
        reason="wrist out of the picture" if value_deg is None else None,
        low=None if value_deg is None else value_deg - 1.645 * 3.1,
        high=None if value_deg is None else value_deg + 1.645 * 3.1,
    )


def make_rep(number: int, in_set: int, start_s: float, cycle_s: float, call: RepVerdict) -> RepPart:
    turn_s = start_s + 0.45 * cycle_s
    counted_s = start_s + 0.9 * cycle_s
    depth = {"good": (-5.1, 0.9999), "no-rep": (4.4, 0.0002), "too close": (0.6, 0.31)}[call]
    return RepPart(
        number=number,
        set=in_set,
        movement="thruster",
        start_s=start_s,
        turn_s=turn_s,
        counted_s=None if call == "no-rep" else counted_s,
        end_s=start_s + cycle_s,
        verdict=call,
        probability_good=depth[1],
        checks=[depth_check(turn_s, *depth), lockout_check(counted_s, 174.0)],
    )


def make_attempt(
    sets: tuple[int, ...] = (8, 6, 5),
    no_reps: tuple[int, ...] = (4, 17),
    too_close: tuple[int, ...] = (7, 12, 18),
    *,
    file: str = "boathouse_evening.mp4",
    cycle_s: float = 2.0,
    rest_s: float = 9.0,
    sha256: str = "5" * 64,
    series_hz: float = 10.0,
) -> AuditRecord:
    """Make a record: cycles slow down by 3 % a rep, rests are alike, the film is 30 Hz."""
    reps: list[RepPart] = []
    set_parts: list[SetPart] = []
    breaks: list[BreakPart] = []
    time_s = SETTLE_S
    for set_number, size in enumerate(sets, start=1):
        first, set_start_s = len(reps) + 1, time_s
        for _ in range(size):
            number = len(reps) + 1
            call: RepVerdict = "good"
            if number in no_reps:
                call = "no-rep"
            elif number in too_close:
                call = "too close"
            length_s = cycle_s * (1.0 + 0.03 * (number - first))
            reps.append(make_rep(number, set_number, time_s, length_s, call))
            time_s += length_s
        set_parts.append(
            SetPart(
                number=set_number,
                movement="thruster",
                first_rep=first,
                last_rep=len(reps),
                start_s=set_start_s,
                end_s=time_s,
            )
        )
        if set_number < len(sets):
            breaks.append(
                BreakPart(
                    after_set=set_number, start_s=time_s, end_s=time_s + rest_s, kind="bar down"
                )
            )
            time_s += rest_s
    duration_s = time_s + 3.0
    counts = [sum(rep.verdict == call for rep in reps) for call in ("good", "no-rep", "too close")]
    return AuditRecord(
        film=FilmPart(
            file=file,
            sha256=sha256,
            duration_s=duration_s,
            frames=round(30 * duration_s),
            width=1080,
            height=1920,
            rotation_deg=270,
            frame_rate_mean_hz=29.97,
            variable_frame_rate=True,
        ),
        athlete=AthletePart(seen_share=0.987, stature_m=1.74, stature_uncertainty_m=0.02),
        camera=CameraPart(view_deg=38.0, view_uncertainty_deg=3.0, steady=True, shake_px=0.8),
        movement="thruster",
        start_s=5.0,
        risk=RiskPart(met_at_least=0.95, not_met_at_most=0.05),
        reps=reps,
        sets=set_parts,
        breaks=breaks,
        pauses=[PausePart(after_rep=6, start_s=17.5, end_s=18.6, where="in the front rack")]
        if len(reps) >= 6 and reps[5].end_s > 18.6
        else [],
        counts=CountsPart(
            good=counts[0],
            no_rep=counts[1],
            too_close=counts[2],
            lowest=counts[0],
            highest=counts[0] + counts[2],
            distribution=binomial_counts(counts[0], counts[2], 0.31),
        ),
        series=series_of(reps, duration_s, series_hz),
        warnings=["the athlete's feet leave the picture at 0:41.2"],
        versions=VersionsPart(
            tool="0.1.0", model="full", model_sha256="a" * 64, libraries={"mediapipe": "1.2.3"}
        ),
        film_notes=["A view closer to the side would decide reps 7 and 12."],
    )


def binomial_counts(sure: int, unsure: int, probability: float) -> list[CountProbability]:
    return [
        CountProbability(
            good=sure + k,
            probability=math.comb(unsure, k) * probability**k * (1 - probability) ** (unsure - k),
        )
        for k in range(unsure + 1)
    ]


def series_of(reps: list[RepPart], duration_s: float, rate_hz: float) -> SeriesPart:
    times_s = [index / rate_hz for index in range(int(duration_s * rate_hz))]
    heights: list[float | None] = []
    for time_s in times_s:
        rep = next((rep for rep in reps if rep.start_s <= time_s < rep.end_s), None)
        if rep is None:
            heights.append(None if 1.0 < time_s < 2.0 else 0.95)
            continue
        phase = (time_s - rep.start_s) / (rep.end_s - rep.start_s)
        depth = 0.42 if rep.verdict == "no-rep" else 0.52
        heights.append(0.95 - depth * math.sin(math.pi * phase) ** 2)
    return SeriesPart(name="hip height", unit="m", time_s=times_s, value=heights)


@pytest.fixture(scope="session")
def attempt() -> AuditRecord:
    """Nineteen thrusters in three sets: 14 good, 2 no-reps, 3 too close to call."""
    return make_attempt()


@pytest.fixture(scope="session")
def attempt_of() -> Callable[..., AuditRecord]:
    """A maker of other attempts; see `make_attempt`."""
    return make_attempt


@pytest.fixture(autouse=True)
def _offline(request: pytest.FixtureRequest) -> Iterator[None]:
    place = request.node.nodeid.replace("\\", "/")
    loopback = place.startswith(WITH_SERVER)
    with pytest.MonkeyPatch.context() as patch, blocked(patch, loopback=loopback):
        yield
