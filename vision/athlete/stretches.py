"""Following the athlete, and the background, through one stretch of a film.

From sighting to sighting the athlete is followed in one of two ways. Where both sightings are sure
and all between them is, `vision.athlete.attention` looks where there is something to see. Where
not, `vision.athlete.following` tries several ways through every frame.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.athlete.attention import look_between
from vision.athlete.following import (
    AGREE,
    believable,
    between,
    body_region,
    is_sharp,
    quality,
)
from vision.athlete.sightings import JOINTS, MIN_CONFIDENCE, separation
from vision.athlete.standing import are_of
from vision.camera.background import Background, Shift, shifts_between
from vision.film.frames import FilmFrame, grey
from vision.film.types import Film
from vision.pose.network import Pose, PoseNetwork
from vision.pose.region import Picture, Region

FloatArray = npt.NDArray[np.float64]

AT_HOME: Final = 0.4
"""Quality a pose must have to be the athlete's for no other reason than where it is."""
MAX_PENDING: Final = 180
"""Pictures kept while the athlete is lost, to be searched backward from where they reappear."""
MAX_DECODED_BYTES: Final = 64 * 1024**2
"""Memory for pictures as they were decoded; beyond it they are scaled, whether looked at or not."""
_BYTES_A_PIXEL: Final = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """What the sightings of the whole film say about one moment.

    Attributes
    ----------
    time_s
        When.
    athlete
        The athlete, or None where not sighted.
    others
        Everybody else.
    size_px
        Usual body size of the athlete about then, pixels; NaN if never sighted.
    turns
        Whether the athlete's motion turns there, going by the sightings before and after.
    onlookers
        Those who only stand there: nobody followed up to then may become one of them.
    home
        The athlete where they were clearly seen a little before or after, or None.
    """

    time_s: float
    athlete: Pose | None
    others: Sequence[Pose]
    size_px: float
    turns: bool
    onlookers: Sequence[Pose] = ()
    home: Pose | None = None


@dataclass(slots=True, eq=False)
class Found:
    """What has been found, by film row: a pose, or None where looked for in vain.

    ``looks`` are the joints and region sides, in pixels, of everything looked at on the way to each
    moment: enough to tell whether other onlookers would have changed anything.
    """

    poses: dict[int, Pose | None] = field(default_factory=dict)
    shifts: dict[int, Shift] = field(default_factory=dict)
    looks: list[list[tuple[FloatArray, float]]] = field(default_factory=list)

    def is_same_for(self, before: Sequence[Moment], now: Sequence[Moment]) -> bool:
        """Whether it would be the very same with the onlookers of other moments."""
        for looks, one, other in zip(self.looks, before, now, strict=False):
            if looks and one.onlookers != other.onlookers:
                joints = np.array([joints for joints, _ in looks])
                sides = np.array([side_px for _, side_px in looks])
                refused = are_of(joints, sides, one.onlookers)
                if np.any(refused != are_of(joints, sides, other.onlookers)):
                    return False
        return True


def follow_stretch(
    network: PoseNetwork,
    film: Film,
    pictures: Iterable[FilmFrame],
    moments: Sequence[Moment],
    background: Background | None,
    *,
    thorough: bool,
) -> Found:
    """Follow the athlete and the background through one stretch.

    Parameters
    ----------
    network
        The pose networks.
    film
        The film.
    pictures
        The frames of the stretch, in order.
    moments
        The moments at which people were sighted in it, in order.
    background
        The background of the film's first frame.
    thorough
        Look at every frame.
    """
    if not moments:
        return Found()
    decoded_bytes = _BYTES_A_PIXEL * film.width_px * film.height_px
    walk = _Walk(network, background, thorough, max(1, int(MAX_DECODED_BYTES / decoded_bytes)))
    ahead = list(reversed(moments))
    size_px = moments[0].size_px
    for frame in pictures:
        walk.take(frame)
        if ahead and frame.time_s >= ahead[-1].time_s:
            moment = ahead.pop()
            size_px = moment.size_px
            walk.among(moment.onlookers)
            walk.settle(
                moment.athlete, moment.others, size_px, turns=moment.turns, home=moment.home
            )
    walk.settle(None, (), size_px, turns=False, home=None)
    return walk.found


class _Walk:
    """The way through a stretch so far."""

    def __init__(
        self,
        network: PoseNetwork,
        background: Background | None,
        thorough: bool,
        most_decoded: int,
    ) -> None:
        self.found = Found()
        self._onlookers: Sequence[Pose] = ()
        self._network = network
        self._background = background
        self._thorough = thorough
        self._most_decoded = most_decoded
        self._pending: list[FilmFrame] = []
        self._strangers: dict[int, Sequence[Pose]] = {}
        self._home: Pose | None = None
        self._last: tuple[FilmFrame, Pose, bool] | None = None
        self._shift: tuple[float, Shift] | None = None

    def among(self, onlookers: Sequence[Pose]) -> None:
        """Tell who only stands there up to the next moment."""
        self._onlookers = onlookers
        self.found.looks.append([])

    def take(self, frame: FilmFrame) -> None:
        """Keep a frame until it is settled who is where in it."""
        self._pending.append(frame)
        if len(self._pending) > self._most_decoded:
            _ = self._pending[-1 - self._most_decoded].picture
        if len(self._pending) > MAX_PENDING:
            del self._pending[0]

    def settle(
        self,
        sighting: Pose | None,
        others: Sequence[Pose],
        size_px: float,
        *,
        turns: bool,
        home: Pose | None,
    ) -> None:
        """Find the athlete in the frames kept, the last of which is the one of the sighting."""
        if not self._pending or not np.isfinite(size_px):
            return
        if sighting is not None and not believable(sighting, size_px):
            sighting = None
        poses = self._easily(sighting, size_px, turns)
        if poses is None:
            sighting = self._at_home(sighting, others, size_px, home)
            poses = self._with_care(sighting, others, size_px)
        end = self._pending[-1]
        self._strangers[end.index] = others
        poses = without_strangers(poses, self._strangers)
        looked_at = {frame.index: frame for frame in self._pending}
        shift = self._follow_background(
            [looked_at[row] for row in sorted(poses.keys() & looked_at.keys())]
        )
        # A pose that cannot be kept still leads on to better ones.
        self.found.poses.update(
            (row, pose if pose is not None and believable(pose, size_px) else None)
            for row, pose in poses.items()
        )
        here = poses[end.index]
        if here is not None and is_sharp(here) and believable(here, size_px):
            self._home = here
        self._last = None if here is None else (end, here, turns)
        if here is not None:
            self._shift = None if shift is None else (end.time_s, shift)
            self._pending.clear()
            self._strangers.clear()

    def _easily(
        self, sighting: Pose | None, size_px: float, turns: bool
    ) -> dict[int, Pose | None] | None:
        if self._last is None or sighting is None:
            return None
        first, start, turned = self._last
        stretch = [first, *self._pending]
        poses = look_between(
            lambda frame, region: self._look(frame.picture, region),
            stretch,
            [frame.time_s for frame in stretch],
            start,
            sighting,
            size_px,
            turning=(turned, turns),
            thorough=self._thorough,
        )
        if poses is None:
            return None
        return {stretch[index].index: pose for index, pose in poses.items()}

    def _at_home(
        self, sighting: Pose | None, others: Sequence[Pose], size_px: float, home: Pose | None
    ) -> Pose | None:
        """Look where the athlete was clearly seen, unless the sighting is clear.

        Whoever works behind a plate mostly stays in place, and shows there now and then: in the
        frames just followed, or in a sighting some seconds before or after.
        """
        if sighting is not None and is_sharp(sighting):
            return sighting
        picture = self._pending[-1].picture
        best = sighting
        for place in (self._home, home):
            if place is None:
                continue
            pose = self._look(picture, body_region(place, size_px))
            if (
                pose.confidence < MIN_CONFIDENCE
                or not believable(pose, size_px)
                or any(separation(pose, other) < AGREE for other in others)
            ):
                continue
            worth = quality(pose, size_px)
            if worth > (AT_HOME if best is None else quality(best, size_px)):
                best = pose
        return best

    def _with_care(
        self, sighting: Pose | None, others: Sequence[Pose], size_px: float
    ) -> dict[int, Pose | None]:
        start = None if self._last is None else self._last[1]
        pictures = [frame.picture for frame in self._pending]
        poses = between(self._look, pictures, start, sighting, others, size_px)
        return {frame.index: pose for frame, pose in zip(self._pending, poses, strict=True)}

    def _look(self, picture: Picture, region: Region) -> Pose:
        """Look at a region; an onlooker found in it is no person to be followed."""
        pose = self._network.look(picture, region)
        joints, side_px = pose.image_px[JOINTS], pose.region.side_px
        self.found.looks[-1].append((joints, side_px))
        if are_of(joints[None], np.array([side_px]), self._onlookers)[0]:
            return replace(pose, confidence=0.0)
        return pose

    def _follow_background(self, frames: Sequence[FilmFrame]) -> Shift | None:
        """Follow the background through the frames looked at, and give where it is in the last."""
        background = self._background
        if background is None or not frames:
            return None
        shifts = shifts_between(
            lambda place, near: background.shift_in(grey(frames[place].picture), near),
            [frame.time_s for frame in frames],
            self._shift,
            background.edge_px,
        )
        for frame, shift in zip(frames, shifts, strict=True):
            if shift is not None:
                self.found.shifts[frame.index] = shift
        return shifts[-1]


def without_strangers(
    poses: Mapping[int, Pose | None], strangers: Mapping[int, Sequence[Pose]]
) -> dict[int, Pose | None]:
    """Take away the poses of a way that strayed onto somebody else.

    Parameters
    ----------
    poses
        Poses by film row.
    strangers
        Other people by film row, where known. From the row before to the row after one on which a
        pose is somebody else's, nothing on the way can be trusted.
    """
    rows = sorted(strangers)
    kept = dict(poses)
    for place, row in enumerate(rows):
        pose = poses.get(row)
        if pose is None or all(separation(pose, other) > AGREE for other in strangers[row]):
            continue
        first = rows[place - 1] if place else min(kept)
        last = rows[place + 1] if place + 1 < len(rows) else row
        kept.update((k, None) for k in poses if first <= k <= last)
    return kept
