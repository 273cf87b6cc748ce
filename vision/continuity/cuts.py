"""Jumps of the picture: cuts, captions that come and go, and moves of the camera."""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.continuity.camera import CameraEvent
from vision.continuity.jumps import CHANGE_LIMIT, JUMP_LIMIT, Jump
from vision.continuity.leaving import is_displaced
from vision.continuity.soundtrack import Background
from vision.continuity.steps import LONG_SIDE_PX
from vision.continuity.types import SAME_PLACE_S, Evidence, Finding, FindingKind
from vision.film.types import Film
from vision.track import PoseTrack

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

REDRAW_LIMIT: Final = 2.0
"""Sum of the log ratios of change and surprise up to which a jump at a regular key frame is the
picture drawn anew. In rendered films of low quality with a key frame a second it came to 1.66 at
most; cuts that show by a clear change of pose come to 2 to 3.8."""
_MOST_FRAMES: Final = 250
"""Frames from key frame to key frame at most, as x264 sets it unless told otherwise."""
_NEARLY: Final = 0.95
"""Share of the longest distance from which another is as long (no source)."""


def cuts(
    film: Film, jumps: Sequence[Jump], background: Background | None, track: PoseTrack | None
) -> list[Finding]:
    """Tell of jumps that neither the camera, an encoder nor a caption explains."""
    found: list[Finding] = []
    redraws_s = redraw_times_s(film)
    for jump in jumps:
        if jump.camera_only or _is_redraw(jump, redraws_s) or _is_overlay(jump, track):
            continue
        if found and jump.before_s - found[-1].end_s < SAME_PLACE_S:
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


def overlays(jumps: Sequence[Jump], track: PoseTrack | None) -> list[Finding]:
    """Tell of captions and clocks in one finding: a running clock changes every second."""
    jumps = [jump for jump in jumps if not jump.camera_only and _is_overlay(jump, track)]
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


def camera_moves(events: Sequence[CameraEvent], jumps: Sequence[Jump]) -> list[Finding]:
    """Tell of bumps and moves of the camera; neither breaks a film."""
    found = []
    for event in events:
        kind: FindingKind = "camera bump" if event.is_bump else "camera move"
        found.append(_camera_finding(kind, event.start_s, event.end_s, event.shift_px))
    for jump in jumps:
        if jump.camera_only and not any(
            other.start_s - SAME_PLACE_S <= jump.after_s <= other.end_s + SAME_PLACE_S
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


def regular_key_frames(key: BoolArray) -> BoolArray:
    """Tell the key frames that came by count from those that a new scene brought.

    An encoder sets a key frame where a new scene begins, and wherever the last one lies as many
    frames back as it allows at most. The longest distance in the film is taken for that number if
    it is met at least twice, or is the usual one.

    Parameters
    ----------
    key
        (N,) which frames are key frames.
    """
    regular = np.zeros(key.shape, dtype=np.bool_)
    places = np.flatnonzero(key)
    distances = np.diff(places)
    if not distances.size:
        return regular
    full = distances >= _NEARLY * distances.max()
    if full.sum() >= 2 or distances.max() == _MOST_FRAMES:
        regular[places[1:][full]] = True
    return regular


def redraw_times_s(film: Film) -> FloatArray:
    """Presentation times at which a film's picture is drawn anew by count alone."""
    if film.key.size != film.frames:
        return np.empty(0)
    times_s: FloatArray = film.time_s[regular_key_frames(film.key)]
    return times_s


def _is_redraw(jump: Jump, redraws_s: FloatArray) -> bool:
    """Whether a jump is no more than the picture drawn anew at a regular key frame.

    Films spliced without encoding them again are cut at key frames, so a larger jump counts there.
    """
    strength = math.log(jump.change_ratio) + math.log(jump.surprise_ratio)
    return strength <= REDRAW_LIMIT and bool(np.isin(jump.after_s, redraws_s))
