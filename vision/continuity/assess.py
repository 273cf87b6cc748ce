"""Everything that breaks a film, or only disturbs it, in film order."""

from vision.continuity.cuts import camera_moves, cuts, overlays
from vision.continuity.leaving import leaving
from vision.continuity.repeats import doubled_stretches, frozen_stretches
from vision.continuity.soundtrack import Background, sound_breaks
from vision.continuity.speed import missing_stretches, speed_changes
from vision.continuity.types import SAME_PLACE_S, Continuity
from vision.continuity.watch import Watched, watch_film
from vision.film.types import Film
from vision.sound.reading import SoundError, sound_of
from vision.track import PoseTrack


def assess_continuity(
    film: Film, track: PoseTrack | None = None, watched: Watched | None = None
) -> Continuity:
    """Look for everything that breaks a film, and for what only disturbs it.

    Parameters
    ----------
    film
        The film, as read by `read_film`.
    track
        The athlete's landmarks, to say when athlete or hands leave the picture.
    watched
        What a `PictureWatch` made of the film's pictures; the film is decoded for it if None.
    """
    watched = watched or watch_film(film)
    try:
        sound = sound_of(film)
    except SoundError:
        sound = None
    background = Background(sound) if sound is not None else None
    time_s, jumps = watched.time_s, watched.jumps
    findings = [
        *doubled_stretches(time_s, watched.signatures, jumps),
        *missing_stretches(film.time_s, time_s, watched.change),
        *speed_changes(film.time_s, time_s, watched.change),
    ]
    # A jump in a stretch that is reported already is a part of it.
    reported_s = [
        (found.start_s - SAME_PLACE_S, found.end_s + SAME_PLACE_S)
        for found in findings
        if found.breaks
    ]
    findings += [
        cut
        for cut in cuts(film, jumps, background, track)
        if not any(start_s <= cut.start_s <= end_s for start_s, end_s in reported_s)
    ]
    findings += overlays(jumps, track)
    findings += frozen_stretches(time_s, watched.change)
    findings += camera_moves(watched.camera, jumps)
    if sound is not None:
        findings += sound_breaks(sound, float(film.time_s[0]) + film.duration_s)
    if track is not None:
        findings += leaving(track)
    findings.sort(key=lambda finding: (finding.start_s, not finding.breaks))
    return Continuity(tuple(findings), len(time_s), sound is not None)
