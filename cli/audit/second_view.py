"""Further films of the same attempt: looked at like the first, and put on its clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import replace as replaced
from typing import Final

import numpy as np

from cli.audit.continuity import continuity_of
from cli.audit.film_facts import film_of
from cli.audit.landmarks import Landmarks, landmarks_of
from cli.audit.request import AuditRequest, Progress
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from counting.record.types import ContinuityPart
from vision.film.types import Film
from vision.synchrony.types import ClockFit
from vision.track import PoseTrack

MOST_VIEWS: Final = 3


@dataclass(frozen=True, slots=True, eq=False)
class SecondView:
    """A further film, its landmarks, and its clock on that of the first.

    ``until_s`` is when on its own clock one of the two films is cut: from there on nobody knows how
    the clocks run. None where neither is.
    """

    film: Film
    landmarks: Landmarks
    continuity: ContinuityPart
    clock: ClockFit
    until_s: float | None

    @property
    def track(self) -> PoseTrack:
        """The landmarks up to where the clocks are known."""
        track = self.landmarks.track
        if self.until_s is None:
            return track
        return before(track, self.until_s)


def further_films_of(request: AuditRequest, first: Film) -> tuple[Film, ...]:
    """Read the further films that were asked for, before any film is looked at.

    Raises
    ------
    UserError
        There are too many, one is the first film itself or tells no times, or what people's calls
        taught of single films is asked for.
    vision.film.errors.FilmError, vision.files.WriteError
        One cannot be read, or its facts cannot be kept.
    """
    if not request.second_views:
        return ()
    if len(request.second_views) > MOST_VIEWS:
        raise UserError(f"--second-view: {MOST_VIEWS} further films at most", WRONG_USAGE)
    if request.tuned is not None:
        raise UserError(
            "give --tuned or --second-view, not both: people's calls teach the error of one film",
            WRONG_USAGE,
        )
    if not first.times_known:
        raise UserError(
            f"{request.film}: its frame times are missing or in disorder, so that no second film "
            "can be put on its clock; audit it alone",
            BAD_INPUT,
        )
    films = tuple(film_of(replaced(request, film=path)) for path in request.second_views)
    for film in films:
        if film.sha256 == first.sha256:
            raise UserError(f"{film.path}: is the same film as the first", WRONG_USAGE)
        if not film.times_known:
            raise UserError(
                f"{film.path}: its frame times are missing or in disorder; leave it out", BAD_INPUT
            )
    return films


def second_views_of(
    request: AuditRequest,
    first: tuple[Film, Landmarks, ContinuityPart],
    films: Sequence[Film],
    progress: Progress,
    *,
    barbell: bool,
) -> tuple[SecondView, ...]:
    """Look at further films, and put each on the clock of the first.

    Raises
    ------
    UserError
        A film does not belong to the first one.
    vision.film.errors.FilmError, vision.pose.bundle.ModelError, vision.files.WriteError
        As the stages raise them.
    """
    views = []
    for path, film in zip(request.second_views, films, strict=True):
        own = replaced(request, film=path, lane=request.second_lane, end_s=None)
        views.append(_second_view(own, first, film, progress, barbell=barbell))
    return tuple(views)


def _second_view(
    request: AuditRequest,
    first: tuple[Film, Landmarks, ContinuityPart],
    film: Film,
    progress: Progress,
    *,
    barbell: bool,
) -> SecondView:
    from vision.sound.reading import SoundError
    from vision.synchrony.types import SynchronyError, TwoAthletesError

    landmarks = landmarks_of(film, request, progress, barbell=barbell)
    try:
        try:
            return _on_one_clock(first, film, landmarks, progress)
        except TwoAthletesError as error:
            lane = None if request.lane is not None else _lane(film, first[1].track, error.clock)
            if lane is None:
                raise
            own = replaced(request, lane=lane)
            landmarks = landmarks_of(film, own, progress, barbell=barbell)
            return _on_one_clock(first, film, landmarks, progress)
    except (SynchronyError, SoundError) as error:
        raise UserError(
            f"{request.film}: cannot be a second view of {first[0].path.name}: {error}", BAD_INPUT
        ) from error


def _lane(film: Film, first: PoseTrack, clock: ClockFit) -> tuple[float, float] | None:
    """Where in a further film the first one's athlete is; its own choice was somebody else."""
    from vision.synchrony.people import lane_of_athlete

    return lane_of_athlete(film, first, clock)


def _on_one_clock(
    first: tuple[Film, Landmarks, ContinuityPart],
    film: Film,
    landmarks: Landmarks,
    progress: Progress,
) -> SecondView:
    from vision.sound.reading import sound_of
    from vision.synchrony.fit import fit_clock

    continuity = continuity_of(film, landmarks, progress)
    cuts_s = (_first_break_s(first[2]), _first_break_s(continuity))
    tracks = tuple(
        one if cut_s is None else before(one, cut_s)
        for one, cut_s in zip((first[1].track, landmarks.track), cuts_s, strict=True)
    )
    clock = fit_clock((tracks[0], tracks[1]), (sound_of(first[0]), sound_of(film)))
    of_first = None if cuts_s[0] is None else float(clock.second_s(np.array([cuts_s[0]]))[0])
    ends = [end for end in (of_first, cuts_s[1]) if end is not None]
    return SecondView(film, landmarks, continuity, clock, min(ends, default=None))


def _first_break_s(continuity: ContinuityPart) -> float | None:
    return min((one.start_s for one in continuity.findings if one.breaks), default=None)


def before(track: PoseTrack, end_s: float) -> PoseTrack:
    """Give the part of a track before a time; all of it if that leaves no frame."""
    count = int(np.searchsorted(track.time_s, end_s))
    if count == 0 or count == track.frames:
        return track
    rows = {
        name: getattr(track, name)[:count]
        for name in track.__slots__
        if isinstance(getattr(track, name), np.ndarray)
    }
    return replaced(track, **rows)


def doubts(views: Sequence[SecondView], first: Film) -> list[str]:
    """Say what of a further film cannot be used."""
    return [
        f"{view.film.path.name} is used up to {view.until_s:.1f} s of its own only: there it or "
        f"{first.path.name} is cut, and how their clocks run is not known beyond"
        for view in views
        if view.until_s is not None
    ]
