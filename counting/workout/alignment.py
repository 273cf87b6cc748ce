"""Following an athlete through a workout: which movement, where in the script, at each moment."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from counting.movements.types import Movement
from counting.reps.types import Rep
from counting.signals.extraction import signals_of
from counting.workout.postures import (
    Posture,
    PostureTrack,
    mixture_of,
    postures_of,
)
from counting.workout.types import Run, Slot, Workout, runs, script
from counting.workout.viterbi import ScriptPath, Stretch, most_likely_path
from vision.track import BoolArray, PoseTrack

FindReps = Callable[[PoseTrack, Movement], Sequence[Rep]]

MARGIN_S: Final = 1.6
"""Motion on either side of a stretch that may belong to its first or last rep."""

MISSING_REP: Final = -4.0
"""Log probability of leaving a station with one rep untried."""

MOST_OF_MISSING: Final = 4
"""Missing reps beyond this number make a station no less likely."""

NOTHING_DONE: Final = -12.0
"""Log probability of being at a station, in full view, without one attempt."""

HARDLY_DONE: Final = 0.6
"""Share of a station's reps under which it is asked whether it was done at all."""

SEEN_WELL: Final = 0.95
"""Share of a stretch that has to be seen for its missing reps to mean anything."""

MOST_DOUBTS: Final = 8
"""Stations that are ruled out one after the other at most, each a search of its own: a bound on the
time it takes."""

FIRST_ROUNDS: Final = 16
"""Rounds of a block without end that are tried first; twice as many when they do not do."""


@dataclass(frozen=True, slots=True)
class FollowedRep:
    """An attempted rep and the run of the script in which it was done."""

    rep: Rep
    run: int | None


@dataclass(frozen=True, slots=True)
class Following:
    """The athlete's path through the workout.

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
    on_the_bar
        Names of the movements that are done on the pull-up bar.
    """

    stretches: tuple[Stretch, ...]
    reps: tuple[FollowedRep, ...]
    tracks: dict[str, PoseTrack]
    postures: PostureTrack
    rounds_without_end: int
    on_the_bar: frozenset[str] = frozenset()


def follow(
    track: PoseTrack,
    workout: Workout,
    movements: Mapping[str, Movement],
    find_reps: FindReps,
    not_before_s: float | None = None,
) -> Following:
    """Find what was done when, and cut it into reps.

    The most likely path through the script given the postures, in which going on to the next
    station is usual and anything else is possible but needs strong evidence; then the reps of each
    movement, looked for only where that movement was done. Where hardly a rep of a station is
    found, ways without it are tried, too, and the likeliest of all is taken.

    Parameters
    ----------
    track
        Landmarks of the athlete over the whole film.
    workout
        What was to be done.
    movements
        All known movements by name, those of the workout among them.
    find_reps
        Cuts one movement's track into attempted reps. The last call for a movement is the one that
        the result is made of.
    not_before_s
        Nothing before this time of the film belongs to the workout.
    """
    done = workout.counted_movements
    upside_down = any(movements[name].upside_down for name in done)
    signals = signals_of(track, upside_down=upside_down)
    postures = postures_of(track, signals, upside_down=upside_down)
    if not_before_s is not None:
        early = postures.time_s < not_before_s - MARGIN_S
        postures = replace(postures, posture=np.where(early, int(Posture.UNSEEN), postures.posture))
    told = {name: one.recognised for name, one in movements.items() if one.recognised is not None}
    parts = {part for name in done & told.keys() for part in told[name].falls_short_as}
    others = [
        name
        for name in movements
        if name in done or (name in told and told[name].off_script and name not in parts)
    ]
    mixtures = {name: mixture_of(movements[name]) for name in others}
    rounds_without_end, all_runs, first_way = _first_way(
        workout, lambda all_runs: most_likely_path(postures, all_runs, mixtures, others)
    )
    asked = _asked(workout, script(workout, rounds_without_end), all_runs)

    def path_without(ruled_out: Sequence[Stretch]) -> ScriptPath:
        return most_likely_path(postures, all_runs, mixtures, others, ruled_out)

    best = _attempted(track, first_way, movements, find_reps)
    best_score = _log_likelihood(best, postures, asked)
    ruled_out: list[Stretch] = []
    last = best
    while len(ruled_out) < MOST_DOUBTS:
        doubtful = _hardly_done(last, postures, asked)
        if not doubtful:
            break
        ruled_out.append(min(doubtful, key=lambda stretch: _share_done(last, stretch, asked)))
        last = _attempted(track, path_without(ruled_out), movements, find_reps)
        score = _log_likelihood(last, postures, asked)
        if score > best_score:
            best, best_score = last, score
    if last is not best:
        best = _attempted(track, best.path, movements, find_reps)
    return Following(
        best.path.stretches,
        best.reps,
        best.tracks,
        postures,
        rounds_without_end,
        frozenset(name for name, movement in movements.items() if movement.base == "hanging"),
    )


@dataclass(frozen=True, slots=True)
class _Attempted:
    """A path with the reps found along it."""

    path: ScriptPath
    reps: tuple[FollowedRep, ...]
    tracks: dict[str, PoseTrack]


def _attempted(
    track: PoseTrack, path: ScriptPath, movements: Mapping[str, Movement], find_reps: FindReps
) -> _Attempted:
    """Look for the reps of every movement where it was done, and number them in film order."""
    tracks: dict[str, PoseTrack] = {}
    found: list[FollowedRep] = []
    for movement in dict.fromkeys(stretch.movement for stretch in path.stretches):
        own = [stretch for stretch in path.stretches if stretch.movement == movement]
        tracks[movement] = _only(track, own, path.stretches)
        for rep in find_reps(tracks[movement], movements[movement]):
            stretch = _stretch_of(rep, own)
            if stretch is not None:
                found.append(FollowedRep(rep, stretch.run))
    found.sort(key=lambda item: item.rep.turn_s)
    reps = tuple(
        FollowedRep(replace(item.rep, number=number), item.run)
        for number, item in enumerate(found, start=1)
    )
    return _Attempted(path, reps, tracks)


def _log_likelihood(attempted: _Attempted, postures: PostureTrack, asked: Sequence[int]) -> float:
    """Weigh a path by what was seen along it and by the reps missing at each station it left."""
    visited = [stretch for stretch in attempted.path.stretches if stretch.run is not None]
    missing = {
        stretch.run: min(
            MOST_OF_MISSING,
            max(0, asked[stretch.run] - _tried(attempted, stretch.run)),
        )
        for stretch in visited[:-1]
        if stretch.run is not None and _seen_well(postures, stretch)
    }
    idle = sum(_tried(attempted, run) == 0 for run in missing)
    return attempted.path.log_likelihood + sum(missing.values()) * MISSING_REP + idle * NOTHING_DONE


def _hardly_done(
    attempted: _Attempted, postures: PostureTrack, asked: Sequence[int]
) -> list[Stretch]:
    return [
        stretch
        for stretch in attempted.path.stretches
        if _seen_well(postures, stretch) and _share_done(attempted, stretch, asked) < HARDLY_DONE
    ]


def _share_done(attempted: _Attempted, stretch: Stretch, asked: Sequence[int]) -> float:
    """Reps tried over reps asked for; off the script 1 with any rep and 0 without."""
    if stretch.run is None:
        return float(
            any(stretch.start_s <= item.rep.turn_s <= stretch.end_s for item in attempted.reps)
        )
    return _tried(attempted, stretch.run) / max(1, asked[stretch.run])


def _seen_well(postures: PostureTrack, stretch: Stretch) -> bool:
    inside = (postures.time_s >= stretch.start_s) & (postures.time_s <= stretch.end_s)
    return bool(np.mean(postures.posture[inside] != int(Posture.UNSEEN)) >= SEEN_WELL)


def _asked(workout: Workout, slots: tuple[Slot, ...], all_runs: tuple[Run, ...]) -> list[int]:
    """Reps asked for in each run; none in the last of a workout that goes on until time is up."""
    asked = [
        sum(slots[index].reps or 0 for index in range(run.first, run.last + 1)) for run in all_runs
    ]
    if workout.blocks[-1].fixed_rounds is None:
        asked[-1] = 0
    return asked


def _tried(attempted: _Attempted, run: int) -> int:
    return sum(item.run == run for item in attempted.reps)


def _first_way(
    workout: Workout, path_through: Callable[[tuple[Run, ...]], ScriptPath]
) -> tuple[int, tuple[Run, ...], ScriptPath]:
    """Write a block without end out until the path stays clear of its last round.

    Returns the rounds written out, the script's runs and the path through them.
    """
    last = workout.blocks[-1]
    stations = last.counted_stations
    # Rounds of a single movement are one run, however many there are.
    alternates = len({station.movement for station in stations}) > 1
    rounds = FIRST_ROUNDS
    while True:
        all_runs = runs(workout, script(workout, rounds))
        path = path_through(all_runs)
        reached = max((s.run for s in path.stretches if s.run is not None), default=0)
        clear = reached < len(all_runs) - len(stations)
        if clear or last.fixed_rounds is not None or not alternates:
            return rounds, all_runs, path
        rounds *= 2


def _only(track: PoseTrack, own: Sequence[Stretch], stretches: Sequence[Stretch]) -> PoseTrack:
    """Blank the track outside some stretches and a margin that keeps off the neighbours."""
    kept: BoolArray = np.zeros(track.frames, dtype=bool)
    for stretch in own:
        begin_s, end_s = _reach(stretch, stretches)
        kept |= (track.time_s >= begin_s) & (track.time_s <= end_s)
    return blanked(track, kept)


def blanked(track: PoseTrack, kept: BoolArray) -> PoseTrack:
    """Blank the track outside (N,) frames: there nobody was seen."""
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
