"""The frames that decide flagged reps, with pose and measured line drawn on them, for a page."""

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from cli.audit.opening import Audit, audit_track, checked_film, find_named
from cli.report.page import Still
from cli.summary import decision_s
from cli.wording import deciding_checks
from counting.record.types import RepPart, SecondViewPart

if TYPE_CHECKING:
    import numpy as np

    from vision.film.types import Film
    from vision.marking.planes import Planes
    from vision.track import PoseTrack

MOST_STILLS: Final = 24
WIDTH_PX: Final = 420
JPEG_QUALITY: Final = 74
"""Number, width and quality of the pictures in a page that is to be sent by mail: by eye."""


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
        still = _still(film, track, rep, decision_s(rep), hide_faces=hide_faces)
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
            still = _still(film, track, rep, time_s, hide_faces=hide_faces, lines=False)
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


def _still(
    film: "Film",
    track: "PoseTrack",
    rep: RepPart,
    time_s: float,
    *,
    hide_faces: bool,
    lines: bool = True,
) -> Still | None:
    import cv2
    import numpy as np

    from cli.framing import part_around
    from cli.measured_lines import measured_lines
    from cli.still import cut_out
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
    if row is not None:
        error_px = track.error_px[row]
        draw_skeleton(planes, track.image_px[row], track.visibility[row], error_px)
    picture = cv2.cvtColor(_joined(planes), cv2.COLOR_YUV2BGR_I420).astype(np.uint8)
    timed = [check for check in deciding_checks(rep) if check.at_s is not None]
    check = timed[0] if timed and lines else None
    drawn = [] if check is None else measured_lines(track, rep, check)
    verdict = "not judged" if check is None else check.verdict
    small = cut_out(picture, part_around(track, shown_s, shown_s), WIDTH_PX, drawn, verdict)
    written, jpeg = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not written:
        return None
    address = "data:image/jpeg;base64," + base64.b64encode(jpeg.tobytes()).decode("ascii")
    return Still(address, WIDTH_PX, small.shape[0])


def _joined(planes: "Planes") -> "np.typing.NDArray[np.uint8]":
    """Put planes back into one array, as stored films are."""
    import numpy as np

    parts = [plane.reshape(-1) for plane in (planes.y, planes.u, planes.v)]
    return np.concatenate(parts).reshape(planes.height_px * 3 // 2, planes.width_px)
