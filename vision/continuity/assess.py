"""From what was watched and heard to findings in words."""

from typing import Final

import numpy as np

from vision.continuity.jumps import CHANGE_LIMIT, JUMP_LIMIT, Jump
from vision.continuity.keyframes import is_redraw, redraw_times_s
from vision.continuity.leaving import athlete_out, hands_out, is_displaced
from vision.continuity.repeats import LEAST_S, MOVING_LEVEL, find_frozen, find_repeats
from vision.continuity.soundtrack import Background, find_holes
from vision.continuity.speed import find_rate_changes, find_uneven
from vision.continuity.steps import LONG_SIDE_PX
from vision.continuity.types import Continuity, Evidence, Finding, FindingKind
from vision.continuity.watch import Watched, watch_film
from vision.film.types import Film
from vision.sound.reading import HEARD_AFTER_S, Sound, SoundError, sound_of
from vision.times import clock
from vision.track import PoseTrack

_GAP_S: Final = 0.25
_GAP_INTERVALS: Final = 6.0
_BREAKING_GAP_S: Final = 0.5
_SAME_PLACE_S: Final = 0.2
_LENGTHS_DIFFER_S: Final = 0.5
_JOIN_S: Final = 0.3
"""How far from the first picture found again a doubled stretch may begin."""


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
    repeats = _doubled(watched)
    gaps = _missing(film, watched)
    speeds = _speeds(film, watched)
    stretches = [found for found in (*repeats, *gaps, *speeds) if found.breaks]
    cuts = [
        finding
        for finding in _cuts(film, watched, background, track)
        if not any(_covers(stretch, finding.start_s) for stretch in stretches)
    ]
    findings = [
        *repeats,
        *gaps,
        *speeds,
        *cuts,
        *_overlays(watched, track),
        *_frozen(watched),
        *_camera(watched),
        *_sound(film, sound),
    ]
    if track is not None:
        findings += _leaving(track)
    findings.sort(key=lambda finding: (finding.start_s, not finding.breaks))
    return Continuity(tuple(findings), len(watched.time_s), sound is not None)


def _covers(stretch: Finding, time_s: float) -> bool:
    """Whether a jump at a time is a part of a stretch that is reported already."""
    return stretch.start_s - _SAME_PLACE_S <= time_s <= stretch.end_s + _SAME_PLACE_S


def _cuts(
    film: Film, watched: Watched, background: Background | None, track: PoseTrack | None
) -> list[Finding]:
    found: list[Finding] = []
    redraws_s = redraw_times_s(film)
    for jump in watched.jumps:
        if jump.camera_only or is_redraw(jump, redraws_s) or _is_overlay(jump, track):
            continue
        if found and jump.before_s - found[-1].end_s < _SAME_PLACE_S:
            continue
        found.append(
            Finding(
                kind="cut",
                start_s=jump.before_s,
                end_s=jump.after_s,
                breaks=True,
                evidence=_jump_evidence(jump, background),
            )
        )
    return found


def _is_overlay(jump: Jump, track: PoseTrack | None) -> bool:
    """Whether a jump in a still part of the picture leaves a resting athlete where they were."""
    return jump.in_still_part and not (track and is_displaced(track, jump.before_s, jump.after_s))


def _overlays(watched: Watched, track: PoseTrack | None) -> list[Finding]:
    """Tell of captions and clocks in one finding: a running clock changes every second."""
    jumps = [jump for jump in watched.jumps if not jump.camera_only and _is_overlay(jump, track)]
    if not jumps:
        return []
    often = "once" if len(jumps) == 1 else f"{len(jumps)} times"
    words = f"what stands still changes at once, {often}, as with captions, clocks and lamps"
    most = max(jump.change_ratio for jump in jumps)
    evidence = Evidence("picture", words, most, float(np.exp(CHANGE_LIMIT)), "times")
    return [Finding("overlay change", jumps[0].before_s, jumps[-1].after_s, False, (evidence,))]


def _jump_evidence(jump: Jump, background: Background | None) -> tuple[Evidence, ...]:
    evidence = [
        Evidence(
            "picture",
            f"the picture changes {jump.change_ratio:.1f} times as much as around it",
            jump.change_ratio,
            float(np.exp(CHANGE_LIMIT)),
            "times",
        ),
        Evidence(
            "motion",
            f"no motion explains it ({jump.surprise_ratio:.1f} times the usual is left over)",
            jump.surprise_ratio,
            float(np.exp(JUMP_LIMIT)),
            "times",
        ),
    ]
    heard = background.step(jump.after_s) if background else None
    if heard is not None and heard[0] > heard[1]:
        evidence.append(Evidence("sound", "the sound changes at once", *heard, "dB"))
    return tuple(evidence)


def _doubled(watched: Watched) -> list[Finding]:
    found = []
    for repeat in find_repeats(watched.time_s, watched.signatures):
        start_s, end_s = float(watched.time_s[repeat.first]), float(watched.time_s[repeat.last])
        earlier_s = float(watched.time_s[repeat.first - repeat.lag])
        words = f"the same pictures as from {clock(earlier_s)} on"
        spliced = any(
            abs(jump.after_s - start_s) <= _JOIN_S and not jump.in_still_part
            for jump in watched.jumps
        )
        if not spliced:
            words += ", without a jump where they begin: a very even athlete, or a copy"
        found.append(
            Finding(
                kind="doubled stretch",
                start_s=start_s,
                end_s=end_s,
                breaks=spliced,
                evidence=(Evidence("picture", words, end_s - start_s, LEAST_S, "s"),),
            )
        )
    return found


def _frozen(watched: Watched) -> list[Finding]:
    found = []
    for first, last in find_frozen(watched.time_s, watched.change):
        start_s, end_s = float(watched.time_s[first - 1]), float(watched.time_s[last])
        words = f"one picture stands for {end_s - start_s:.2f} s in mid-motion"
        evidence = Evidence("picture", words, end_s - start_s, _GAP_S, "s")
        breaks = end_s - start_s >= _BREAKING_GAP_S
        found.append(Finding("frozen stretch", start_s, end_s, breaks, (evidence,)))
    return found


def _missing(film: Film, watched: Watched) -> list[Finding]:
    """Gaps between pictures; those in which nothing moves are how encoders save."""
    intervals = np.diff(film.time_s)
    if not intervals.size:
        return []
    limit_s = max(_GAP_S, _GAP_INTERVALS * float(np.median(intervals)))
    found = []
    for index in np.flatnonzero(intervals > limit_s):
        length_s = float(intervals[index])
        words = f"no pictures for {length_s:.2f} s"
        found.append(
            Finding(
                kind="missing stretch",
                start_s=float(film.time_s[index]),
                end_s=float(film.time_s[index + 1]),
                breaks=length_s >= _BREAKING_GAP_S
                and _moves_around(watched, float(film.time_s[index + 1])),
                evidence=(Evidence("timestamps", words, length_s, limit_s, "s"),),
            )
        )
    return found


def _moves_around(watched: Watched, time_s: float) -> bool:
    """Whether the first picture after a gap shows motion, or those on both sides of it do."""
    at = int(np.searchsorted(watched.time_s, time_s - 1e-6))
    before, after = watched.change[max(1, at - 3) : at], watched.change[at + 1 : at + 4]
    if at < len(watched.change) and watched.change[at] > MOVING_LEVEL:
        return True
    lively = [float(np.median(part)) > MOVING_LEVEL for part in (before, after) if part.size]
    return bool(lively) and all(lively)


def _speeds(film: Film, watched: Watched) -> list[Finding]:
    found = []
    for stretch in find_uneven(watched.time_s, watched.change):
        words = "the motion stutters as if played at another speed"
        if stretch.throughout:
            words = "the motion stutters throughout, as after a conversion to another frame rate"
        evidence = Evidence("motion", words, stretch.roughness, 0.14, "log ratio")
        breaks = not stretch.throughout
        found.append(Finding("speed change", stretch.start_s, stretch.end_s, breaks, (evidence,)))
    for change in find_rate_changes(film.time_s):
        words = f"frames come at {change.after_hz:.1f} a second after {change.before_hz:.1f}"
        if change.of_a_camera:
            words += ", as where the light changes or pictures are dropped"
        kind: FindingKind = "timestamp jump" if change.of_a_camera else "speed change"
        evidence = Evidence("timestamps", words, change.after_hz, change.before_hz, "Hz")
        found.append(
            Finding(kind, change.time_s, change.time_s, not change.of_a_camera, (evidence,))
        )
    return found


def _camera(watched: Watched) -> list[Finding]:
    found = []
    for event in watched.camera:
        kind: FindingKind = "camera bump" if event.is_bump else "camera move"
        found.append(_camera_finding(kind, event.start_s, event.end_s, event.shift_px))
    for jump in watched.jumps:
        if jump.camera_only and not any(
            other.start_s - _SAME_PLACE_S <= jump.after_s <= other.end_s + _SAME_PLACE_S
            for other in found
        ):
            found.append(
                _camera_finding("camera move", jump.before_s, jump.after_s, jump.camera_px)
            )
    return found


def _camera_finding(kind: FindingKind, start_s: float, end_s: float, shift_px: float) -> Finding:
    share = 100.0 * shift_px / LONG_SIDE_PX
    words = f"the background shifts by {share:.1f} % of the picture"
    return Finding(kind, start_s, end_s, False, (Evidence("picture", words, share, 1.0, "%"),))


def _sound(film: Film, sound: Sound | None) -> list[Finding]:
    if sound is None:
        return []
    found = []
    for start_s, end_s in find_holes(sound):
        words = f"the sound is missing for {end_s - start_s:.2f} s"
        evidence = Evidence("sound", words, end_s - start_s, 0.02, "s")
        found.append(Finding("sound break", start_s, end_s, False, (evidence,)))
    ends_s = sound.start_s + len(sound.samples) / sound.rate_hz
    film_ends_s = float(film.time_s[0]) + film.duration_s
    if abs(ends_s - film_ends_s) > _LENGTHS_DIFFER_S:
        differ_s = abs(ends_s - film_ends_s)
        unread = " or more" if differ_s > HEARD_AFTER_S - _LENGTHS_DIFFER_S else ""
        words = f"sound and pictures differ in length by {differ_s:.1f} s{unread}"
        evidence = Evidence("sound", words, differ_s, _LENGTHS_DIFFER_S, "s")
        first, last = sorted((ends_s, film_ends_s))
        found.append(Finding("sound break", first, last, False, (evidence,)))
    return found


def _leaving(track: PoseTrack) -> list[Finding]:
    found = []
    for kind, words, stretches in (
        (
            "athlete out of the picture",
            "a third of the body or more is outside",
            athlete_out(track),
        ),
        ("hands out of the picture", "both hands are outside", hands_out(track)),
    ):
        for start_s, end_s in stretches:
            evidence = Evidence("picture", words, end_s - start_s, 0.5, "s")
            found.append(Finding(kind, start_s, end_s, False, (evidence,)))  # type: ignore[arg-type]
    return found
