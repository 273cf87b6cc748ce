"""A still of the deciding frame, with what was measured and its limit as lines over it.

Heights are two level lines: one at the mark that was measured, one where the limit would have put
that mark. Angles are the limb itself and a ray where the limit would have put it. The picture shows
where to look; the value beside it comes from the fitted body, not from the drawing.
"""

import math
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np

from cli.audit.opening import Audit, audit_track
from cli.errors import BAD_INPUT, UserError
from cli.wording import limit, measured
from counting.record.seal import stamp
from counting.record.types import CheckPart, RepPart
from vision.files import WriteError, write_whole
from vision.film.frames import frames
from vision.film.types import Film
from vision.made_by import marked_png
from vision.marking.skeleton import row_at
from vision.pose.landmarks import Landmark
from vision.track import PoseTrack

_LIMIT: Final = (240, 244, 245)
_CALLED: Final = {
    "met": (184, 203, 116),
    "not met": (141, 147, 255),
    "too close": (104, 190, 232),
    "not judged": (215, 205, 190),
}
"""Colour of what was measured (blue, green, red), by the check's call; the limit is neutral."""
_SHADE: Final = (20, 24, 28)
_STATURES_SEEN: Final = 0.246 + 0.245
_STATURE_CM: Final = 173.0

_MARKS: Final[dict[str, tuple[str, ...]]] = {
    "hip crease above knee top": ("HIP",),
    "chin above bar": ("MOUTH",),
    "chest to bar gap": ("SHOULDER",),
    "shoulders above bar": ("SHOULDER",),
    "chest above floor": ("SHOULDER",),
    "feet clear of floor": ("HEEL",),
    "wrists above shoulders": ("WRIST",),
    "wrists above crown": ("WRIST",),
    "plates on floor": ("WRIST",),
}
_JOINTS: Final[dict[str, tuple[str, str, str]]] = {
    "knee angle": ("HIP", "KNEE", "ANKLE"),
    "hip angle": ("SHOULDER", "HIP", "KNEE"),
    "elbow angle": ("SHOULDER", "ELBOW", "WRIST"),
    "body straightness": ("SHOULDER", "HIP", "ANKLE"),
}


def write_still(audit: Audit, film: Film, rep: RepPart, check: CheckPart, target: Path) -> None:
    """Draw measured line and limit on the deciding frame and write it whole.

    Raises
    ------
    UserError
        There is no such picture, or no landmarks, or it cannot be written.
    """
    assert check.at_s is not None
    track = audit_track(audit)
    shown = next(iter(frames(film, start_s=check.at_s - 1e-3)), None)
    if shown is None:
        raise UserError(f"{film.path}: no picture at {check.at_s:.2f} s", BAD_INPUT)
    picture = cv2.cvtColor(shown.picture, cv2.COLOR_RGB2BGR)
    draw_measured(picture, track, shown.time_s, rep, check, audit.doubt)
    encoded, data = cv2.imencode(".png", picture)
    if not encoded:
        raise UserError(f"{target}: the still could not be encoded", BAD_INPUT)
    try:
        write_whole(target, marked_png(data.tobytes()))
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error


def draw_measured(
    picture: np.ndarray,
    track: PoseTrack,
    time_s: float,
    rep: RepPart,
    check: CheckPart,
    doubt: str | None = None,
) -> None:
    """Draw one check on a BGR picture of the film's own size, in place.

    ``doubt`` is what the seal tells against the record, None where nothing does.

    Nothing but the caption is drawn where the athlete was not seen at that time.
    """
    _caption(picture, rep, check, doubt)
    row = row_at(track, time_s)
    if row is None or check.value is None:
        return
    points = track.image_px[row]
    visibility = track.visibility[row]
    if check.quantity in _JOINTS:
        _draw_angle(picture, points, visibility, check)
    elif check.quantity in _MARKS:
        _draw_height(picture, points, check, _cm_px(track, rep))


def _side(visibility: np.ndarray, joints: tuple[str, ...]) -> str:
    """Choose the side of the body on which a limb is seen better."""
    seen = {
        side: min(float(visibility[Landmark[f"{side}_{joint}"]]) for joint in joints)
        for side in ("LEFT", "RIGHT")
    }
    return max(seen, key=lambda side: seen[side])


def _draw_angle(
    picture: np.ndarray, points: np.ndarray, visibility: np.ndarray, check: CheckPart
) -> None:
    joints = _JOINTS[check.quantity]
    side = _side(visibility, joints)
    a, b, c = (points[Landmark[f"{side}_{joint}"]] for joint in joints)
    if check.value is None or not np.isfinite([a, b, c]).all():
        return
    first, second = a - b, c - b
    turn = math.copysign(1.0, float(first[0] * second[1] - first[1] * second[0]))
    spread = turn * math.radians(check.limit - check.value)
    cos, sin = math.cos(spread), math.sin(spread)
    bound = b + np.array([cos * second[0] - sin * second[1], sin * second[0] + cos * second[1]])
    _stroke(picture, b, bound, _LIMIT)
    _stroke(picture, a, b, _CALLED[check.verdict])
    _stroke(picture, b, c, _CALLED[check.verdict])


def _draw_height(
    picture: np.ndarray, points: np.ndarray, check: CheckPart, cm_px: float | None
) -> None:
    (mark,) = _MARKS[check.quantity]
    names = ("MOUTH_LEFT", "MOUTH_RIGHT") if mark == "MOUTH" else (f"LEFT_{mark}", f"RIGHT_{mark}")
    pair = points[[Landmark[name] for name in names]]
    if check.value is None or cm_px is None or not np.isfinite(pair).all():
        return
    middle = pair.mean(axis=0)
    below = (check.value - check.limit) * cm_px
    sign = -1.0 if check.quantity == "chest to bar gap" else 1.0
    reach = 0.12 * picture.shape[1]
    for height, colour in ((middle[1] + sign * below, _LIMIT), (middle[1], _CALLED[check.verdict])):
        ends = np.array([[middle[0] - reach, height], [middle[0] + reach, height]])
        _stroke(picture, ends[0], ends[1], colour)


def _cm_px(track: PoseTrack, rep: RepPart) -> float | None:
    """Pixels a centimetre: the longest leg seen in the rep against the proportions of a body."""
    rows = (track.time_s >= rep.start_s) & (track.time_s <= rep.end_s)
    lengths = [
        np.linalg.norm(
            track.image_px[rows, Landmark[f"{side}_HIP"]]
            - track.image_px[rows, Landmark[f"{side}_ANKLE"]],
            axis=1,
        )
        for side in ("LEFT", "RIGHT")
    ]
    known = np.concatenate(lengths)
    known = known[np.isfinite(known)]
    if not len(known):
        return None
    return float(np.percentile(known, 95)) / (_STATURES_SEEN * _STATURE_CM)


def _stroke(picture: np.ndarray, start: Any, end: Any, colour: tuple[int, int, int]) -> None:
    ends = [tuple(round(float(v)) for v in point) for point in (start, end)]
    width = max(2, round(picture.shape[1] / 240))
    cv2.line(picture, ends[0], ends[1], _SHADE, width + 3, cv2.LINE_AA)
    cv2.line(picture, ends[0], ends[1], colour, width, cv2.LINE_AA)


def _drawable(text: str) -> str:
    """Spell the signs out that OpenCV's letters lack."""
    for sign, spelt in (("±", "+/-"), ("°", " deg"), ("−", "-")):
        text = text.replace(sign, spelt)
    return text


def _caption(picture: np.ndarray, rep: RepPart, check: CheckPart, doubt: str | None) -> None:
    scale = picture.shape[1] / 1100
    value = _drawable(measured(check))
    lines = [
        (f"rep {rep.number}: {rep.verdict}", (240, 240, 240)),
        (f"{check.name}: measured {value}", _CALLED[check.verdict]),
        (f"standard: {_drawable(limit(check))}", _LIMIT),
    ]
    if doubt is not None:
        lines.insert(0, (stamp(doubt), _LIMIT))
    step = round(34 * scale) + 8
    height = step * len(lines) + 14
    picture[:height] = (picture[:height] * 0.35).astype(picture.dtype)
    for index, (text, colour) in enumerate(lines):
        cv2.putText(
            picture,
            text,
            (14, step * (index + 1)),
            cv2.FONT_HERSHEY_SIMPLEX,
            scale,
            colour,
            max(1, round(2 * scale)),
            cv2.LINE_AA,
        )
