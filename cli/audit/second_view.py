"""Further films of the same attempt: looked at like the first, and put on its clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import replace as replaced

import numpy as np

from cli.audit.request import AuditRequest, Progress
from cli.audit.seen import Seen, seen_of
from cli.errors import BAD_INPUT, UserError
from vision.film.types import Film
from vision.synchrony.types import ClockFit
from vision.track import PoseTrack


@dataclass(frozen=True, slots=True, eq=False)
class SecondView:
    """What is seen of a further film, and its clock on that of the first.

    ``until_s`` is when on its own clock one of the two films is cut: from there on nobody knows how
    the clocks run. None where neither is.
    """

    seen: Seen
    clock: ClockFit
    until_s: float | None

    @property
    def track(self) -> PoseTrack:
        """The landmarks up to where the clocks are known."""
        track = self.seen.track
        if self.until_s is None:
            return track
        return before(track, self.until_s)


def second_views_of(
    request: AuditRequest,
    first: Seen,
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
    own = replaced(request, lane=request.second_lane, end_s=None)
    return tuple(_second_view(own, first, film, progress, barbell=barbell) for film in films)


def _second_view(
    request: AuditRequest, first: Seen, film: Film, progress: Progress, *, barbell: bool
) -> SecondView:
    from vision.sound.reading import SoundError
    from vision.synchrony.people import lane_of_athlete
    from vision.synchrony.types import SynchronyError, TwoAthletesError

    seen = seen_of(film, request, progress, barbell=barbell)
    try:
        try:
            return _on_one_clock(first, seen)
        except TwoAthletesError as error:
            # Its own choice was somebody else: where is the first film's athlete?
            lane = None
            if request.lane is None:
                lane = lane_of_athlete(film, first.track, error.clock)
            if lane is None:
                raise
            seen = seen_of(film, replaced(request, lane=lane), progress, barbell=barbell)
            return _on_one_clock(first, seen)
    except (SynchronyError, SoundError) as error:
        raise UserError(
            f"{film.path}: cannot be a second view of {first.film.path.name}: {error}", BAD_INPUT
        ) from error


def _on_one_clock(first: Seen, seen: Seen) -> SecondView:
    from vision.sound.reading import sound_of
    from vision.synchrony.fit import fit_clock

    cuts_s = [
        min((one.start_s for one in film.continuity.findings if one.breaks), default=None)
        for film in (first, seen)
    ]
    one, other = (
        film.track if cut_s is None else before(film.track, cut_s)
        for film, cut_s in zip((first, seen), cuts_s, strict=True)
    )
    clock = fit_clock((one, other), (sound_of(first.film), sound_of(seen.film)))
    of_first = None if cuts_s[0] is None else float(clock.second_s(np.array([cuts_s[0]]))[0])
    ends = [end for end in (of_first, cuts_s[1]) if end is not None]
    return SecondView(seen, clock, min(ends, default=None))


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
        f"{view.seen.film.path.name} is used up to {view.until_s:.1f} s of its own only: there it "
        f"or {first.path.name} is cut, and how their clocks run is not known beyond"
        for view in views
        if view.until_s is not None
    ]
