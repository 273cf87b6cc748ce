"""The frames that decide flagged reps, with the pose drawn on them, ready to put into a page."""

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from cli.audit.opening import Audit, audit_track, checked_film, find_named
from cli.report.page import Still
from cli.summary import decision_s
from counting.record.types import RepPart, SecondViewPart

if TYPE_CHECKING:
    import numpy as np

    from vision.film.types import Film
    from vision.marking.planes import Planes
    from vision.track import FloatArray, PoseTrack

MOST_STILLS: Final = 24
WIDTH_PX: Final = 420
TALLEST: Final = 1.1
AROUND_BODY: Final = 1.35
JPEG_QUALITY: Final = 74


def deciding_stills(
    path: Path, audit: Audit, reps: Sequence[RepPart], *, hide_faces: bool
) -> dict[int, Still]:
    """Take the deciding frame of each rep, at most `MOST_STILLS`, by rep number.

    Raises
    ------
    UserError
        The film cannot be read or is not the one audited, or the landmark file is missing.
    """
    film = checked_film(path, audit)
    track = audit_track(audit)
    stills = {}
    for rep in reps[:MOST_STILLS]:
        still = _still(film, track, decision_s(rep), hide_faces=hide_faces)
        if still is not None:
            stills[rep.number] = still
    return stills


def second_stills(
    audit: Audit, reps: Sequence[RepPart], *, hide_faces: bool
) -> dict[int, tuple[Still, ...]]:
    """Take the same moments from the further films that were audited with it, by rep number.

    A film that is not beside the audit's folder or in it, or is not the one audited, is left out.
    """
    stills: dict[int, tuple[Still, ...]] = {}
    for view in audit.record.further_films:
        seen = _second_view(audit, view)
        if seen is None:
            continue
        film, track = seen
        for rep in reps[:MOST_STILLS]:
            time_s = (decision_s(rep) - view.offset_s) / (1.0 + view.drift_ppm * 1e-6)
            if not track.time_s[0] <= time_s <= track.time_s[-1]:
                continue
            still = _still(film, track, time_s, hide_faces=hide_faces)
            if still is not None:
                stills[rep.number] = (*stills.get(rep.number, ()), still)
    return stills


def _second_view(audit: Audit, view: SecondViewPart) -> "tuple[Film, PoseTrack] | None":
    from cli.film_limits import limits_of
    from vision.film.errors import FilmError
    from vision.film.reading import read_film
    from vision.track import TrackError, load_track

    path = find_named(view.film.file, audit.folder)
    try:
        if path is None:
            return None
        film = read_film(path, limits_of(audit.record))
        track = load_track(audit.folder / Path(view.landmarks_file).name)
    except (FilmError, TrackError):
        return None
    return (film, track) if film.sha256 == view.film.sha256 and track.frames else None


def _still(film: "Film", track: "PoseTrack", time_s: float, *, hide_faces: bool) -> Still | None:
    import cv2
    import numpy as np

    from vision.marking.faces import FaceCover
    from vision.marking.people import faces_in
    from vision.marking.skeleton import draw_skeleton, row_at
    from vision.marking.writer import grab

    grabbed = grab(film, time_s)
    if grabbed is None:
        return None
    planes, shown_s = grabbed
    if hide_faces:
        rgb = cv2.cvtColor(_joined(planes), cv2.COLOR_YUV2RGB_I420).astype(np.uint8)
        look = faces_in(rgb, shown_s)
        FaceCover([look], track).cover(planes, shown_s)
    row = row_at(track, shown_s)
    body = None if row is None else track.image_px[row]
    if row is not None:
        error_px = track.error_px[row]
        draw_skeleton(planes, track.image_px[row], track.visibility[row], error_px)
    picture = cv2.cvtColor(_joined(planes), cv2.COLOR_YUV2BGR_I420)
    left, top, right, bottom = _crop(body, planes.width_px, planes.height_px)
    cut = np.ascontiguousarray(picture[top:bottom, left:right])
    height = max(round(WIDTH_PX * cut.shape[0] / cut.shape[1]), 1)
    small = cv2.resize(cut, (WIDTH_PX, height), interpolation=cv2.INTER_AREA)
    written, jpeg = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not written:
        return None
    address = "data:image/jpeg;base64," + base64.b64encode(jpeg.tobytes()).decode("ascii")
    return Still(address, WIDTH_PX, height)


def _joined(planes: "Planes") -> "np.typing.NDArray[np.uint8]":
    """Put planes back into one array, as stored films are."""
    import numpy as np

    parts = [plane.reshape(-1) for plane in (planes.y, planes.u, planes.v)]
    return np.concatenate(parts).reshape(planes.height_px * 3 // 2, planes.width_px)


def _crop(body: "FloatArray | None", width_px: int, height_px: int) -> tuple[int, int, int, int]:
    """Choose the part of the picture around the body, no taller than `TALLEST` times its width."""
    import numpy as np

    if body is None or not np.isfinite(body).any():
        middle_x, middle_y, reach = width_px / 2, height_px / 2, float(min(width_px, height_px))
    else:
        low, high = np.nanmin(body, axis=0), np.nanmax(body, axis=0)
        middle_x, middle_y = (float(value) for value in (low + high) / 2)
        reach = AROUND_BODY * float(np.max(high - low))
    height = min(reach, float(height_px), TALLEST * width_px)
    width = min(max(height / TALLEST, reach * 0.75), float(width_px))
    left = min(max(middle_x - width / 2, 0.0), width_px - width)
    top = min(max(middle_y - height / 2, 0.0), height_px - height)
    return round(left), round(top), round(left + width), round(top + height)
