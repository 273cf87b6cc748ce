"""A marked film: pose, counter, calls with their reason and the clock drawn on every picture."""

import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cli.audit.opening import Audit, audit_track, checked_film
from cli.errors import BAD_INPUT, WRONG_USAGE, UserError
from cli.scores import clock_stop_s
from cli.summary import decision_s
from cli.wording import deciding_checks, limit, measured, seconds
from counting.record.seal import stamp
from counting.record.types import AuditRecord, RepPart
from vision.cores import core_count

if TYPE_CHECKING:
    from cli.audit.request import Progress
    from vision.film.types import Film
    from vision.marking.captions import Call, Captions, Stage
    from vision.marking.planes import Planes
    from vision.marking.writer import Stretch
    from vision.track import PoseTrack

AROUND_S = 1.5
MARKED_NAME = "marked.mp4"


def mark_film(
    path: Path, audit: Audit, out: Path | None, reps: Sequence[RepPart], *, hide_faces: bool
) -> list[Path]:
    """Write the whole marked film, or one clip for each of ``reps``; return what was written.

    Raises
    ------
    UserError
        The film cannot be read, is not the one audited, or its landmarks are missing.
    """
    from cli.progress import film_progress

    film = checked_film(path, audit)
    track = audit_track(audit)
    captions = captions_of(audit.record, audit.doubt)
    targets = _targets(audit, out, reps, film)
    for target, stretch in targets:
        with film_progress() as progress:
            _write(film, track, captions, target, stretch, hide_faces, progress)
    return [target for target, _ in targets]


def captions_of(record: AuditRecord, doubt: str | None = None) -> "Captions":
    """Turn a record into the texts that a marked film shows.

    What the seal tells against the record, ``doubt``, stands on every picture.
    """
    from vision.marking.captions import Captions

    stop_s = clock_stop_s(record)
    return Captions(
        calls=_calls(record),
        stages=_stages(record, doubt),
        clock_zero_s=record.start_s or 0.0,
        duration_s=record.film.duration_s,
        clock_stop_s=math.inf if stop_s is None else stop_s,
    )


def reason_words(rep: RepPart) -> str:
    """Say in one breath what decided a rep against being good."""
    checks = deciding_checks(rep)
    if not checks:
        return rep.reason or ""
    check = checks[0]
    if check.value is None:
        return f"{check.name}: {check.reason or 'could not be measured'}"
    value = measured(check)
    return f"{check.quantity} {value}, standard: {limit(check)}"


def called_s(rep: RepPart) -> float:
    """Film time at which a judge would call a rep: when it counts, or when it is decided."""
    if rep.verdict == "good" and rep.counted_s is not None:
        return rep.counted_s
    return decision_s(rep)


def _calls(record: AuditRecord) -> "list[Call]":
    from vision.marking.captions import Call

    calls, good, unsure = [], 0, 0
    for rep in sorted(record.reps, key=called_s):
        good += rep.verdict == "good"
        unsure += rep.verdict in ("too close", "only counted")
        calls.append(
            Call(
                time_s=called_s(rep),
                title=f"rep {rep.number}: {rep.verdict}",
                reason=reason_words(rep),
                verdict=rep.verdict,
                good_so_far=good,
                open_so_far=unsure,
            )
        )
    return calls


def _stages(record: AuditRecord, doubt: str | None) -> "list[Stage]":
    from vision.marking.captions import Stage

    stages = [Stage(part.start_s, f"set {part.number}, {part.movement}") for part in record.sets]
    stages += [
        Stage(part.start_s, f"break, {seconds(part.end_s - part.start_s)}")
        for part in record.breaks
    ]
    stages.sort(key=lambda stage: stage.time_s)
    if doubt is None:
        return stages
    # From before the first picture, whatever time the film's clock begins at.
    stages.insert(0, Stage(-math.inf, ""))
    return [Stage(part.time_s, f"{stamp(doubt)}; {part.words}".rstrip("; ")) for part in stages]


def _targets(
    audit: Audit, out: Path | None, reps: Sequence[RepPart], film: "Film"
) -> "list[tuple[Path, Stretch | None]]":
    from vision.marking.writer import Stretch

    if not reps:
        target = out or audit.folder / MARKED_NAME
        target = target if target.suffix.lower() == ".mp4" else target / MARKED_NAME
        if os.path.realpath(target) == os.path.realpath(film.path):
            raise UserError(f"{target}: is the film itself; name another file", WRONG_USAGE)
        return [(target, None)]
    folder = out or audit.folder / "clips"
    single = len(reps) == 1 and folder.suffix.lower() == ".mp4"
    targets: list[tuple[Path, Stretch | None]] = []
    for rep in reps:
        name = f"rep_{rep.number:03d}_{rep.verdict.replace(' ', '_')}.mp4"
        stretch = Stretch(max(rep.start_s - AROUND_S, 0.0), rep.end_s + AROUND_S)
        targets.append((folder if single else folder / name, stretch))
    return targets


def _write(
    film: "Film",
    track: "PoseTrack",
    captions: "Captions",
    target: Path,
    stretch: "Stretch | None",
    hide_faces: bool,
    progress: "Progress",
) -> None:
    from vision.files import WriteError, whole_file
    from vision.marking.captions import CaptionPainter
    from vision.marking.faces import FaceCover
    from vision.marking.people import look_for_faces
    from vision.marking.skeleton import draw_skeleton, row_at
    from vision.marking.writer import write_marked

    start_s = float(film.time_s[0]) if stretch is None else stretch.start_s
    end_s = float(film.time_s[-1]) if stretch is None else stretch.end_s
    cover = None
    if hide_faces:
        looks = look_for_faces(
            film,
            start_s,
            end_s,
            lambda now_s: progress("faces", now_s - start_s, end_s - start_s),
            core_count(),
        )
        cover = FaceCover(looks, track)
    painter = CaptionPainter(captions, film.width_px, film.height_px)

    error_px = track.error_px

    def paint(planes: "Planes", time_s: float) -> None:
        if cover is not None:
            cover.cover(planes, time_s)
        row = row_at(track, time_s)
        if row is not None:
            draw_skeleton(planes, track.image_px[row], track.visibility[row], error_px[row])
        painter.paint(planes, time_s)

    try:
        with whole_file(target) as part:
            written = write_marked(
                film,
                part,
                paint,
                stretch,
                lambda now_s: progress("drawing", now_s - start_s, end_s - start_s),
            )
            if not written:
                raise UserError(f"{film.path}: no frame to draw on", BAD_INPUT)
    except WriteError as error:
        raise UserError(str(error), BAD_INPUT) from error
