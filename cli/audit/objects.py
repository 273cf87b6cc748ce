"""The objects that a movement's standard asks for: looked for once, then kept.

What looks at pictures and sound is loaded only where a standard asks for it.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from cli.audit.kept import OBJECTS, Kept
from cli.audit.request import AuditRequest, Progress
from counting.checks.stature import ASSUMED
from counting.checks.types import Judgement
from counting.decision.conformance import Risk
from counting.movements.types import Movement, ObjectCheck
from counting.objects.readings import Found, reading, with_objects
from counting.objects.target import balls_over_target, flights_of
from counting.reps.types import Rep
from counting.signals.body import stature_px, steadied_px
from vision.film.types import Film
from vision.objects.types import ObjectTrack
from vision.track import FloatArray, PoseTrack

_BOX_STAGE: Final = "looking for the box"


class Objects:
    """What beside the body decides reps in one film.

    Parameters
    ----------
    film, track
        The film and its athlete's track.
    landmarks_file
        The landmark file, whose name stands for film, model and settings.
    request
        What the user asks.
    progress
        Told how far the film has been looked through again.
    """

    def __init__(
        self,
        film: Film,
        track: PoseTrack,
        landmarks_file: str,
        request: AuditRequest,
        progress: Progress,
    ) -> None:
        self._film, self._track, self._request = film, track, request
        self._made_from = Path(landmarks_file).stem
        self._progress = progress

    def judged(
        self, judgement: Judgement, reps: Sequence[Rep], movement: Movement, risk: Risk
    ) -> Judgement:
        """Add what objects say of the reps of one movement.

        Raises
        ------
        vision.film.errors.FilmError, vision.files.WriteError
            The film cannot be read again, or what was found cannot be kept.
        """
        if not movement.objects or not reps:
            return judgement
        found: list[tuple[ObjectCheck, list[Found]]] = []
        notes = []
        for check in movement.objects:
            own = self._found(check, reps, judgement)
            if isinstance(own, str):
                notes.append(own)
            else:
                found.append((check, own))
        readings = [
            [reading(check, own[place], risk) for check, own in found] for place in range(len(reps))
        ]
        return with_objects(judgement, readings, notes)

    def _found(
        self, check: ObjectCheck, reps: Sequence[Rep], judgement: Judgement
    ) -> list[Found] | str:
        """Give what was found for each rep, or why nothing was looked for."""
        if check.object == "rope":
            return self._rope(reps, check)
        stature_m = judgement.stature_m or self._request.height_m or ASSUMED.height_m
        if check.object == "box":
            return self._feet(reps, stature_m)
        if self._request.target is None:
            return (
                f"not judged: the target ({check.name}); say with --target where its line is in "
                "the film's first picture"
            )
        ball = self._ball(flights_of(reps))
        return balls_over_target(
            ball, reps, self._request.target, self._track, stature_m, judgement.camera_height_m
        )

    def _rope(self, reps: Sequence[Rep], check: ObjectCheck) -> list[Found] | str:
        from counting.objects.rope import rope_passes
        from vision.sound.clicks import find_clicks
        from vision.sound.reading import SoundError, sound_of

        try:
            sound = sound_of(self._film)
        except SoundError as error:
            return f"not judged: the rope ({check.name}); {error}"
        if sound is None:
            return f"not judged: the rope ({check.name}); the film has no sound"
        return rope_passes(find_clicks(sound), reps, check)

    def _feet(self, reps: Sequence[Rep], stature_m: float) -> list[Found]:
        from counting.objects.box import box_top, feet_above_box, soles

        stands = soles(self._track, reps)
        top = box_top(stands)
        seen = top is not None and self._box_seen(top, reps)
        return feet_above_box(stands, reps, self._track, stature_m, seen=seen)

    def _box_seen(self, top: FloatArray, reps: Sequence[Rep]) -> bool:
        kept = Kept(self._request.out, OBJECTS)
        made_from = [self._made_from, "box", top.round(2).tolist()]
        arrays = kept.take(made_from, ("seen",))
        if arrays:
            return bool(arrays["seen"])
        from vision.film.frames import size_within
        from vision.objects.box import box_edge
        from vision.objects.scenery import LONG_SIDE_PX, scenery_in

        within = np.zeros(self._film.frames, dtype=np.bool_)
        for rep in reps:
            within |= (self._film.time_s >= rep.start_s) & (self._film.time_s <= rep.end_s)
        within[self._track.frames :] = False
        self._progress(_BOX_STAGE, 0.0, self._film.duration_s)
        scenery = scenery_in(self._film, self._track, within)
        scale = size_within(self._film, LONG_SIDE_PX)[0]
        tall_px = stature_px(steadied_px(self._track)) * scale
        edge = None if scenery is None else box_edge(scenery.picture, top * scale, tall_px)
        self._progress(_BOX_STAGE, self._film.duration_s, self._film.duration_s)
        kept.put(made_from, {"seen": np.array(edge is not None)})
        return edge is not None

    def _ball(self, stretches: Sequence[tuple[float, float]]) -> ObjectTrack:
        kept = Kept(self._request.out, OBJECTS)
        made_from = [self._made_from, "ball", [list(stretch) for stretch in stretches]]
        names = ("centre_px", "radius_px", "covariance_px2", "looked")
        arrays = kept.take(made_from, names)
        if arrays is not None and set(arrays) == set(names):
            return ObjectTrack(self._track.time_s, **arrays)
        from vision.objects.following import follow_ball

        steady = steadied_px(self._track)
        ball = follow_ball(
            self._film,
            self._track,
            steady,
            stature_px(steady),
            stretches,
            lambda done_s, total_s: self._progress("following the ball", done_s, total_s),
        )
        kept.put(made_from, {name: np.asarray(getattr(ball, name)) for name in names})
        return ball
