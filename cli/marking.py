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
    from cli.measured_lines import MeasuredLine
    from vision.film.types import Film
    from vision.marking.captions import Call, Captions, Stage
    from vision.marking.planes import Colour, Planes
    from vision.marking.writer import Stretch
    from vision.track import PoseTrack

AROUND_S = 1.5
DRAWN_S = 0.5
"""How long a measured line and its limit are on screen, about the moment that decides."""
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
    targets = _targets(audit, out, reps, film)
    for target, stretch in targets:
        with film_progress() as progress:
            _write(film, track, audit, target, stretch, hide_faces, progress)
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

    calls, good, no_reps, to_call = [], 0, 0, 0
    for rep in sorted(record.reps, key=called_s):
        good += rep.verdict == "good"
        no_reps += rep.verdict == "no-rep"
        to_call += rep.verdict in ("too close", "only counted")
        calls.append(
            Call(
                time_s=called_s(rep),
                title=f"rep {rep.number}: {rep.verdict}",
                reason=reason_words(rep),
                verdict=rep.verdict,
                good_so_far=good,
                no_rep_so_far=no_reps,
                open_so_far=to_call,
            )
        )
    return calls


def _stages(record: AuditRecord, doubt: str | None) -> "list[Stage]":
    from vision.marking.captions import Stage

    stages = _station_stages(record) or [
        Stage(part.start_s, f"set {part.number}, {part.movement}") for part in record.sets
    ]
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


def _station_stages(record: AuditRecord) -> "list[Stage]":
    """Say where in the workout the athlete is: the round, and how many of the station are made."""
    from vision.marking.captions import Stage

    if record.workout is None:
        return []
    stations = record.workout.stations
    first_of_sets = {part.first_rep for part in record.sets}
    rounds = {part.block: part.round for part in stations}
    reps = {rep.number: rep for rep in record.reps}
    stages = []
    for station in stations:
        place = f"round {station.round}, " if rounds[station.block] > 1 else ""
        of = "" if station.asked is None else f" of {station.asked}"
        good = 0
        for number in station.reps:
            rep = reps[number]
            if number in first_of_sets or number == station.reps[0]:
                # A hang that falls short is called before the pull from it begins.
                begins_s = min(rep.start_s, called_s(rep))
                stages.append(Stage(begins_s, f"{place}{station.movement} {good}{of}"))
            if rep.verdict == "good":
                good += station.asked is None or good < station.asked
                stages.append(Stage(called_s(rep), f"{place}{station.movement} {good}{of}"))
    return stages


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
    audit: Audit,
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
    deciding = _deciding_lines(audit.record, track)
    painter = CaptionPainter(captions_of(audit.record, audit.doubt), film.width_px, film.height_px)

    error_px = track.error_px

    def paint(planes: "Planes", time_s: float) -> None:
        if cover is not None:
            cover.cover(planes, time_s)
        row = row_at(track, time_s)
        if row is not None:
            draw_skeleton(planes, track.image_px[row], track.visibility[row], error_px[row])
        for at_s, lines in deciding:
            if abs(time_s - at_s) <= DRAWN_S / 2:
                for measured_line, colour in lines:
                    _draw_line(planes, measured_line, colour)
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


def _deciding_lines(
    record: AuditRecord, track: "PoseTrack"
) -> "list[tuple[float, list[tuple[MeasuredLine, Colour]]]]":
    """Place the lines of each rep's least sure check, with the time about which they are shown."""
    from cli.measured_lines import measured_lines
    from cli.still import CALLED_BGR, LIMIT_BGR
    from vision.marking.planes import yuv

    deciding = []
    for rep in record.reps:
        timed = [check for check in rep.checks if check.at_s is not None]
        check = min(timed, key=lambda one: one.probability_met, default=None)
        if check is None or check.at_s is None:
            continue
        lines = []
        for one in measured_lines(track, rep, check):
            blue, green, red = LIMIT_BGR if one.kind == "limit" else CALLED_BGR[check.verdict]
            lines.append((one, yuv(red, green, blue)))
        deciding.append((check.at_s, lines))
    return deciding


def _draw_line(planes: "Planes", one: "MeasuredLine", colour: "Colour") -> None:
    from vision.marking.planes import line, yuv

    thick_px = max(planes.height_px / 240, 2.0)
    for ink, width_px in ((yuv(20, 24, 28), 2 * thick_px), (colour, thick_px)):
        line(planes, (one.x1, one.y1), (one.x2, one.y2), ink, width_px)
