"""From landmarks to the record: what follows when the film has been looked at.

Its libraries take a second to load, which goes by while the film is looked at.
"""

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from cli.audit.judging import Judging, judging_of
from cli.audit.objects import Objects
from cli.audit.request import Asked, AuditRequest, Progress, silent
from cli.audit.second_view import SecondView, doubts
from cli.audit.seen import Seen, unwatched
from cli.errors import BAD_INPUT, UserError
from cli.versions import library_versions, tool_version
from counting.checks.films import OtherFilm
from counting.checks.table import packaged_digest
from counting.checks.types import Judgement, RepVerdict
from counting.longest_film import find_reps_in_films
from counting.movements.loader import standards_digest
from counting.movements.types import Movement
from counting.record.assembly import Counted, assemble, second_view_part
from counting.record.types import AuditRecord, VersionsPart
from counting.reps.types import Rep
from counting.sets.grouping import Grouped, PlacedRep, merged
from counting.sets.unexplained import unexplained_stretches
from counting.signals.extraction import signals_of
from counting.timeline import Timeline, find_reps
from counting.workout.beyond_film import left_to_judges
from counting.workout.clock import ClockError, clock_zero
from counting.workout.types import Workout
from vision.film.types import Film
from vision.track import PoseTrack

if TYPE_CHECKING:
    from counting.workout.alignment import Following
    from counting.workout.countdown import StartSignal


def record_of(
    seen: Seen,
    asked: Asked,
    request: AuditRequest,
    views: Sequence[SecondView] = (),
    progress: Progress = silent,
) -> AuditRecord:
    """Count, judge and, where there is a workout, score what was seen.

    ``views`` are further films of the same attempt.

    Raises
    ------
    UserError
        The workout's clock cannot be placed, or the film looks like another movement.
    """
    others = [OtherFilm(view.track, view.clock) for view in views]
    films = (seen.film, *(view.seen.film for view in views))
    objects = Objects(seen.film, seen.track, seen.landmarks_file, request, progress)
    judging = judging_of(request, asked.tuned, others, films, objects)
    doubt = None
    if asked.workout is not None:
        record, counted = _whole_workout(seen, asked.movements, asked.workout, request, judging)
    else:
        (movement,) = asked.movements.values()
        doubt = _another_movement(seen.track, movement)
        if doubt is not None and not request.anyway:
            raise UserError(
                f"{request.film}: {doubt}; name the movement with --movement, or insist with "
                "--anyway",
                BAD_INPUT,
            )
        counted = _one_movement(seen.track, movement, judging)
        record = _record(seen, counted, request, movement.name, judging)
    seen_from = next((one.views_deg for one in counted.judgements if one.views_deg), ())
    known = len(seen_from) == len(films)
    parts = [
        second_view_part(
            view.seen.film,
            view.seen.track,
            view.clock,
            view.seen.landmarks_file,
            view.seen.continuity,
            seen_from[index] if known else None,
            request.second_lane,
        )
        for index, view in enumerate(views, start=1)
    ]
    warnings = [
        *record.warnings,
        *doubts(views, seen.film),
        *([] if doubt is None else [doubt]),
        *unwatched(seen.film, seen.continuity),
    ]
    record = replace(record, continuity=seen.continuity, warnings=warnings)
    return replace(record, second_views=parts) if parts else record


def _another_movement(track: PoseTrack, movement: Movement) -> str | None:
    """Say which movement a film looks like, where it clearly is not the one that was named."""
    from counting.workout.likeness import film_likeness

    likeness = film_likeness(track)
    other = None if likeness is None else likeness.looks_like_another(movement.name)
    if likeness is None or other is None:
        return None
    return f"this does not look like the {movement.name} {likeness.like_words(other)}"


def _one_movement(track: PoseTrack, movement: Movement, judging: Judging) -> Counted:
    timeline = find_reps_in_films(track, judging.others, movement)
    judgement = judging.judge(track, timeline.reps, movement)
    grouped = Grouped(timeline.sets, timeline.breaks, timeline.pauses)
    return Counted(
        reps=timeline.reps,
        verdicts=judgement.verdicts,
        grouped=grouped,
        judgements=(judgement,),
        signals=timeline.signals,
        driver=timeline.driver,
        driver_name=movement.driver_name,
        unexplained=unexplained_stretches(timeline.signals, timeline.driver, timeline.reps),
    )


def _whole_workout(
    seen: Seen,
    movements: dict[str, Movement],
    workout: Workout,
    request: AuditRequest,
    judging: Judging,
) -> tuple[AuditRecord, Counted]:
    from counting.workout.alignment import follow
    from counting.workout.whole import with_workout

    timelines: dict[str, Timeline] = {}

    def cut(track: PoseTrack, movement: Movement) -> Sequence[Rep]:
        timelines[movement.name] = find_reps(track, movement)
        return timelines[movement.name].reps

    signal, warnings = (None, []) if request.start_s is not None else _heard_start(seen.film)
    start_s = request.start_s if signal is None else signal.time_s
    following = follow(seen.track, workout, movements, cut, start_s)
    counted = _followed(seen.track, following, movements, timelines, judging)
    record = _record(seen, counted, request, None, judging)
    record = replace(record, warnings=[*record.warnings, *warnings, *left_to_judges(workout)])
    if not seen.film.times_known:
        return record, counted
    first_s = following.reps[0].rep.start_s if following.reps else None
    try:
        clock = clock_zero(request.start_s, signal, first_s)
    except ClockError as error:
        raise UserError(
            f"{request.film}: {error}; give the start by hand with --start", BAD_INPUT
        ) from error
    return with_workout(record, workout, following, clock), counted


def _heard_start(film: Film) -> tuple["StartSignal | None", list[str]]:
    """Listen for the start signal; warnings where the sound cannot be read."""
    from counting.workout.countdown import find_start_signal
    from vision.sound.reading import SoundError, sound_of

    try:
        sound = sound_of(film)
    except SoundError as error:
        return None, [str(error)]
    return None if sound is None else find_start_signal(sound), []


def _followed(
    track: PoseTrack,
    following: "Following",
    movements: dict[str, Movement],
    timelines: dict[str, Timeline],
    judging: Judging,
) -> Counted:
    """Judge each movement's reps on that movement's part of the track, then put them in order."""
    reps = tuple(item.rep for item in following.reps)
    verdicts: dict[int, RepVerdict] = {}
    judgements: list[Judgement] = []
    for name in dict.fromkeys(rep.movement for rep in reps):
        own = tuple(rep for rep in reps if rep.movement == name)
        judgement = judging.judge(following.tracks[name], own, movements[name])
        judgements.append(judgement)
        verdicts.update({verdict.number: verdict for verdict in judgement.verdicts})
    own_number = {
        (name, rep.turn_index): rep.number
        for name, timeline in timelines.items()
        for rep in timeline.reps
    }
    placed = [
        PlacedRep(item.rep, own_number[item.rep.movement, item.rep.turn_index], item.run)
        for item in following.reps
    ]
    grouped = merged(
        placed, {name: Grouped(t.sets, t.breaks, t.pauses) for name, t in timelines.items()}
    )
    return Counted(
        reps=reps,
        verdicts=tuple(verdicts[rep.number] for rep in reps),
        grouped=grouped,
        judgements=tuple(judgements),
        signals=signals_of(track),
        driver=None,
        driver_name="hip height",
    )


def _record(
    seen: Seen,
    counted: Counted,
    request: AuditRequest,
    movement: str | None,
    judging: Judging,
) -> AuditRecord:
    digest = standards_digest(request.standards)
    standards = {} if digest is None else {"standards": digest}
    told: dict[str, object] = {} if request.height_m is None else {"height_m": request.height_m}
    if request.target is not None:
        told["target"] = [*request.target.left, *request.target.right]
    workout = {} if request.workout is None else {"workout": _digest(request.workout)}
    return assemble(
        seen.film,
        seen.track,
        counted,
        movement=movement,
        start_s=request.start_s,
        risk=judging.risk,
        versions=VersionsPart(
            tool=tool_version(),
            model=Path(seen.model).name,
            model_sha256=seen.model_sha256,
            libraries=library_versions(),
            standards=standards | workout,
            extraction=seen.settings | told,
            calibration=packaged_digest(),
            tuned=judging.tuned_part(counted),
        ),
        landmarks_file=seen.landmarks_file,
    )


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
