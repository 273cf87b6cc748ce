"""Following an athlete through a workout: which movement, where in the script, at each moment."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.movements.types import Movement
from counting.reps.types import Rep
from counting.signals.extraction import signals_of
from counting.workout.postures import (
    BETWEEN,
    MIXTURES,
    RATE_HZ,
    Posture,
    PostureTrack,
    log_likelihoods,
    postures_of,
)
from counting.workout.types import Run, Workout, runs, script
from vision.track import BoolArray, FloatArray, IntArray, PoseTrack

FindReps = Callable[[PoseTrack, Movement], Sequence[Rep]]

INDEPENDENT_PER_S: Final = 3.0
"""Postures closer together than a third of a second tell the same thing."""

BEGIN_OR_STOP: Final = -4.0
"""Log probability of beginning or ending work at a given moment."""

OUT_OF_ORDER: Final = -16.0
"""Log probability of going anywhere but to the next station: the script is a strong prior."""

OFF_SCRIPT: Final = -20.0
"""Log probability of beginning a movement that is not due."""

SHORTEST_STRETCH_S: Final = 0.8
MARGIN_S: Final = 1.6
"""Motion on either side of a stretch that may belong to its first or last rep."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Time in which one movement was done; ``run`` is None where the script has no place for it."""

    movement: str
    run: int | None
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class FollowedRep:
    """An attempted rep and the run of the script in which it was done."""

    rep: Rep
    run: int | None


@dataclass(frozen=True, slots=True)
class Following:
    """The athlete's way through the workout.

    Attributes
    ----------
    stretches, reps
        In film order; reps are numbered from 1 over the whole film.
    tracks
        By movement, the track with everything else blanked: what its checks should look at.
    postures
        What the athlete was seen doing, for the start position.
    rounds_without_end
        How far a block that repeats until time is up was written out.
    """

    stretches: tuple[Stretch, ...]
    reps: tuple[FollowedRep, ...]
    tracks: dict[str, PoseTrack]
    postures: PostureTrack
    rounds_without_end: int


def follow(
    track: PoseTrack,
    workout: Workout,
    movements: Mapping[str, Movement],
    find_reps: FindReps,
    not_before_s: float | None = None,
) -> Following:
    """Find what was done when, and cut it into reps.

    The most likely way through the script given the postures (Viterbi), in which going on to the
    next station is usual and anything else is possible but needs strong evidence; then the reps of
    each movement, looked for only where that movement was done.

    Parameters
    ----------
    track
        Landmarks of the athlete over the whole film.
    workout
        What was to be done.
    movements
        All known movements by name, those of the workout among them.
    find_reps
        Cuts one movement's track into attempted reps.
    not_before_s
        Nothing before this time of the film belongs to the workout.
    """
    postures = postures_of(signals_of(track))
    if not_before_s is not None:
        early = postures.time_s < not_before_s - MARGIN_S
        postures = replace(postures, posture=np.where(early, int(Posture.UNSEEN), postures.posture))
    rounds_without_end = _rounds_worth(track, workout)
    all_runs = runs(workout, script(workout, rounds_without_end))
    others = [name for name in MIXTURES if name in movements]
    stretches = tuple(_most_likely_way(postures, all_runs, others))
    tracks: dict[str, PoseTrack] = {}
    found: list[FollowedRep] = []
    for movement in dict.fromkeys(stretch.movement for stretch in stretches):
        own = [stretch for stretch in stretches if stretch.movement == movement]
        tracks[movement] = _only(track, own, stretches)
        for rep in find_reps(tracks[movement], movements[movement]):
            stretch = _stretch_of(rep, own)
            if stretch is not None:
                found.append(FollowedRep(rep, stretch.run))
    found.sort(key=lambda item: item.rep.turn_s)
    reps = tuple(
        FollowedRep(replace(item.rep, number=number), item.run)
        for number, item in enumerate(found, start=1)
    )
    return Following(stretches, reps, tracks, postures, rounds_without_end)


def _rounds_worth(track: PoseTrack, workout: Workout) -> int:
    """Count the rounds that could be done in the film at a rep a second, 60 at most."""
    if workout.blocks[-1].fixed_rounds is not None or not track.frames:
        return 1
    length_s = float(track.time_s[-1] - track.time_s[0])
    reps = sum(station.reps_in(1) or 1 for station in workout.blocks[-1].stations)
    return int(min(60, length_s // reps + 2))


def _most_likely_way(
    postures: PostureTrack, all_runs: tuple[Run, ...], others: Sequence[str]
) -> list[Stretch]:
    """Viterbi over (run, what is done): between reps, the run's movement, or another one.

    At most `counting.workout.types.LONGEST_SCRIPT` runs: a state's number fits 16 bits.
    States are laid out as (R, 2 + M): column 0 is waiting at or before the run, column 1 its work,
    the rest other movements done while the run is due.
    """
    count, kinds = len(all_runs), 2 + len(others)
    table = np.array([log_likelihoods(MIXTURES[name]) for name in others])
    between = log_likelihoods(BETWEEN)
    row_of = {name: row for row, name in enumerate(others)}
    weight = INDEPENDENT_PER_S / RATE_HZ
    emission = np.empty((len(Posture), count, kinds))
    emission[:, :, 0] = between[:, None]
    emission[:, :, 2:] = table.T[:, None, :]
    for index, run in enumerate(all_runs):
        emission[:, index, 1] = table[row_of[run.movement]]
    emission *= weight

    best = np.full((count, kinds), -np.inf)
    best[0, 0] = 0.0
    best[1:, 0] = OUT_OF_ORDER
    came_from = np.empty((len(postures.time_s), count, kinds), dtype=np.int16)
    for moment, posture in enumerate(postures.posture):
        best, came_from[moment] = _step(best)
        best = best + emission[posture]
    state = int(np.argmax(best))
    path = np.empty(len(postures.time_s), dtype=np.int64)
    for moment in range(len(path) - 1, -1, -1):
        path[moment] = state
        state = int(came_from[moment].reshape(-1)[state])
    return _stretches(postures.time_s, path, all_runs, others)


def _step(best: FloatArray) -> tuple[FloatArray, IntArray]:
    """One moment on: the best predecessor of every state."""
    count, kinds = best.shape
    stay = np.arange(count * kinds).reshape(count, kinds)
    score, source = best.copy(), stay.copy()
    anywhere = int(np.argmax(best))

    def offer(target: tuple[slice, int | slice], value: FloatArray, origin: IntArray) -> None:
        better = value > score[target]
        score[target] = np.where(better, value, score[target])
        source[target] = np.where(better, origin, source[target])

    every = slice(None)
    offer((every, 0), best[:, 1] + BEGIN_OR_STOP, stay[:, 1])
    offer((every, 1), best[:, 0] + BEGIN_OR_STOP, stay[:, 0])
    offer((slice(1, None), 0), best[:-1, 1] + BEGIN_OR_STOP, stay[:-1, 1])
    offer((slice(1, None), 1), best[:-1, 1] + 2 * BEGIN_OR_STOP, stay[:-1, 1])
    other = best[:, 2:].max(axis=1)
    from_other = stay[:, 2:][np.arange(count), best[:, 2:].argmax(axis=1)]
    offer((every, 0), other + BEGIN_OR_STOP, from_other)
    leave = np.broadcast_to(best[:, :1] + OFF_SCRIPT, (count, kinds - 2))
    offer((every, slice(2, None)), leave, np.broadcast_to(stay[:, :1], (count, kinds - 2)))
    jump = np.full(count, best.reshape(-1)[anywhere] + OUT_OF_ORDER)
    offer((every, 0), jump, np.full(count, anywhere))
    return score, source


def _stretches(
    time_s: FloatArray, path: IntArray, all_runs: tuple[Run, ...], others: Sequence[str]
) -> list[Stretch]:
    """Join the work of one run, breaks included, as long as nothing else was done between."""
    kinds = 2 + len(others)
    found: list[Stretch] = []
    changes = np.flatnonzero(np.diff(path)) + 1
    for first, last in zip(
        np.concatenate(([0], changes)), np.concatenate((changes, [len(path)])), strict=True
    ):
        run, kind = divmod(int(path[first]), kinds)
        if kind == 0:
            continue
        movement = all_runs[run].movement if kind == 1 else others[kind - 2]
        start_s, end_s = float(time_s[first]), float(time_s[last - 1])
        due = run if kind == 1 else None
        before = found[-1] if found else None
        if before is not None and (before.movement, before.run) == (movement, due):
            found[-1] = replace(before, end_s=end_s)
        elif end_s - start_s >= SHORTEST_STRETCH_S:
            found.append(Stretch(movement, due, start_s, end_s))
    return found


def _only(track: PoseTrack, own: Sequence[Stretch], stretches: Sequence[Stretch]) -> PoseTrack:
    """Blank the track outside some stretches and a margin that keeps off the neighbours."""
    kept: BoolArray = np.zeros(track.frames, dtype=bool)
    for stretch in own:
        begin_s, end_s = _reach(stretch, stretches)
        kept |= (track.time_s >= begin_s) & (track.time_s <= end_s)
    gone = ~kept
    image_px, depth_px, world_m = track.image_px.copy(), track.depth_px.copy(), track.world_m.copy()
    visibility, identity = track.visibility.copy(), track.identity.copy()
    image_px[gone], depth_px[gone], world_m[gone] = np.nan, np.nan, np.nan
    visibility[gone], identity[gone] = 0.0, -1
    return replace(
        track,
        image_px=image_px,
        depth_px=depth_px,
        world_m=world_m,
        visibility=visibility,
        identity=identity,
        filled=track.filled & kept,
    )


def _reach(stretch: Stretch, stretches: Sequence[Stretch]) -> tuple[float, float]:
    """Begin and end of a stretch with its margin, half-way to a neighbour at most."""
    before = [other.end_s for other in stretches if other.end_s <= stretch.start_s]
    after = [other.start_s for other in stretches if other.start_s >= stretch.end_s]
    begin_s, end_s = stretch.start_s - MARGIN_S, stretch.end_s + MARGIN_S
    if before:
        begin_s = max(begin_s, (max(before) + stretch.start_s) / 2.0)
    if after:
        end_s = min(end_s, (min(after) + stretch.end_s) / 2.0)
    return begin_s, end_s


def _stretch_of(rep: Rep, own: Sequence[Stretch]) -> Stretch | None:
    """Stretch in which the rep turned, None where it turned outside all of them."""
    near = min(own, key=lambda s: max(s.start_s - rep.turn_s, rep.turn_s - s.end_s))
    outside_s = max(near.start_s - rep.turn_s, rep.turn_s - near.end_s)
    return near if outside_s <= MARGIN_S / 2.0 else None
