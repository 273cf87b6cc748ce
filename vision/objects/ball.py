"""Round shapes in front of the scenery, and which of them is a ball in flight.

A thrown ball needs no colour and no network: it leaves the hands, is round, keeps its size and
falls as everything falls. Heads are round and do not fall; shadows fall and do not leave the hands.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import cv2
import numpy as np
import numpy.typing as npt

from vision.objects.scenery import Scenery

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Picture = npt.NDArray[np.uint8]

RADII: Final = (0.045, 0.14)
"""Apparent radius of a ball in statures: 0.115 to 0.18 m (common practice, no source) of a stature
of 1.5 to 2.0 m, and a quarter nearer or farther than the athlete."""
_SIZES: Final = 9
_COARSE: Final = 2
"""Radii that are tried, and pixels a cell that they are tried in: the centre lies between cells."""
_RING: Final = (1.2, 1.6)
_ROUND: Final = 0.55
"""How much more has to have changed within a ball's circle than in the ring around it, of 1: a line
of the ball's colour that crosses it hides a third, an arm beside it fills a part of the ring."""
_FALL_M_S2: Final = 9.81
_STATURE_M: Final = 1.73
_FALLS: Final = (0.55, 1.6)
"""How much faster or slower than at the athlete's distance a ball may seem to fall, for its
distance and the athlete's stature."""
_FEWEST: Final = 6
_SHORTEST_S: Final = 0.18
_LONGEST_S: Final = 1.6
"""Of one flight: a ball that is up for as long rises three metres."""
_OFF_PATH: Final = 0.25
"""Farthest that a ball is seen from its parabola, in its radius."""
_KEEPS_SIZE: Final = 1.5
"""How much larger a ball looks at most where it is nearest than where it is farthest, and as its
radius is told in steps."""
_MOST: Final = 0.6
"""Share of what is seen in the course of a flight that lies on its path."""
_TRIED: Final = 14
_NEXT: Final = 1.6
_SAME_SIZE: Final = 0.3
_SOON_S: Final = 0.12
_LONGEST_GAP_S: Final = 0.3
"""How long a ball may be hidden, on a line of its own colour say, before and after it has shown how
fast it flies."""
_FROM_HANDS: Final = 6.0
"""How far from the hands, in its radius, a flight comes at most where it is nearest to them."""
_CLEAR: Final = 2.5
"""How far from all of the body, in its radius, a ball gets: heads and feet that jump do not."""
_LEAVES: Final = 1.5
"""How much farther from the hands, in its radius, a ball gets: what they hold on to does not."""
_OWN_ERROR: Final = 0.04
"""Error of a ball's centre in its radius that its parabola cannot show: light from above, and a
ball of the scenery's colour on one side."""


@dataclass(frozen=True, slots=True)
class Blob:
    """One round shape in one picture, in the picture's pixels."""

    row: int
    time_s: float
    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class Flight:
    """A ball on its way through the air.

    Attributes
    ----------
    blobs
        Where it was seen, in order of time.
    error_px
        Standard error of a centre.
    """

    blobs: tuple[Blob, ...]
    error_px: float


def round_shapes(
    picture: Picture, scenery: Scenery, stature_px: float, lowest_px: float
) -> list[tuple[float, float, float]]:
    """Find round shapes of a ball's size above a height in a steadied picture.

    A round shape differs from the scenery inside a circle and does not in a ring around it. What
    crosses the ball in the scenery with its own colour, such as a line on the wall, hides a part.

    Parameters
    ----------
    picture
        (height, width, 3) RGB.
    scenery
        The room without what moves.
    stature_px
        Apparent body height.
    lowest_px
        Only shapes whose centre is above this row are given.

    Returns
    -------
    list
        x and y of the centre and radius, pixels.
    """
    bottom = int(np.clip(lowest_px + 2 * RADII[1] * stature_px, 0, len(picture)))
    speckled = scenery.changed(picture, bottom)
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    changed = cv2.morphologyEx(speckled, cv2.MORPH_OPEN, cross)
    if not changed.any():
        return []
    height, width = changed.shape
    size = (-(-width // _COARSE), -(-height // _COARSE))
    coarse = np.asarray(
        cv2.resize(changed.astype(np.float32) / 255.0, size, interpolation=cv2.INTER_AREA),
        dtype=np.float32,
    )
    radii = np.geomspace(*RADII, _SIZES) * stature_px / _COARSE
    scores = np.stack([_contrast(coarse, radius) for radius in radii])
    best = scores.max(axis=0)
    apart = 2 * int(radii[0]) + 1
    peak = (best >= cv2.dilate(best, np.ones((apart, apart), np.uint8))) & (best >= _ROUND)
    shapes = []
    for row, column in zip(*np.nonzero(peak), strict=True):
        which = int(scores[:, row, column].argmax())
        radius = float(radii[which]) * _COARSE
        x = (column + _offset(best[row, column - 1 : column + 2]) + 0.5) * _COARSE - 0.5
        y = (row + _offset(best[row - 1 : row + 2, column]) + 0.5) * _COARSE - 0.5
        # what reaches the upper edge or a side may go on beyond
        inside = radius <= x <= width - radius and radius <= y <= lowest_px
        if inside and 0 < which < _SIZES - 1:
            shapes.append((float(x), float(y), radius))
    return shapes


def _contrast(changed: npt.NDArray[np.float32], radius: float) -> npt.NDArray[np.float32]:
    """How much more has changed within a circle about each place than in a ring around it."""
    reach = int(np.ceil(_RING[1] * radius))
    away = np.hypot(*np.mgrid[-reach : reach + 1, -reach : reach + 1])
    disc = np.clip(radius + 0.5 - away, 0.0, 1.0)
    ring = ((away >= _RING[0] * radius) & (away <= _RING[1] * radius)).astype(np.float64)
    kernel = (disc / disc.sum() - ring / ring.sum()).astype(np.float32)
    found = cv2.filter2D(changed, cv2.CV_32F, kernel, borderType=cv2.BORDER_CONSTANT)
    return np.asarray(found, dtype=np.float32)


def _offset(three: npt.NDArray[np.float32]) -> float:
    """Where a parabola through three neighbouring scores is highest, from the middle one."""
    if len(three) < 3:
        return 0.0
    before, here, after = (float(score) for score in three)
    bend = before - 2.0 * here + after
    return 0.0 if bend >= 0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))


def flights(
    blobs: Sequence[Sequence[Blob]],
    hands_px: Sequence[FloatArray],
    body_px: Sequence[FloatArray],
    stature_px: float,
) -> list[Flight]:
    """Join round shapes of pictures that follow each other into flights.

    Parameters
    ----------
    blobs
        Round shapes of each picture, in order of time.
    hands_px, body_px
        For each picture (n, 2) hands and all of the body's landmarks, NaN where unseen.
    stature_px
        Apparent body height.

    Returns
    -------
    list
        Flights in order of time that do not overlap: of several at one time, the one that comes
        nearest to the hands.
    """
    found: list[tuple[float, Flight]] = []
    places = {shapes[0].row: place for place, shapes in enumerate(blobs) if shapes}
    fall_px = _FALL_M_S2 / _STATURE_M * stature_px
    for chain in _chains(blobs, fall_px):
        for flight in _falling(chain, fall_px):
            hands = np.array([_from(hands_px[places[blob.row]], blob) for blob in flight.blobs])
            body = np.array([_from(body_px[places[blob.row]], blob) for blob in flight.blobs])
            if _thrown(hands, body):
                found.append((float(np.nanmin(hands)), flight))
    chosen: list[Flight] = []
    for _, flight in sorted(found, key=lambda pair: (pair[0], pair[1].blobs[0].time_s)):
        first, last = flight.blobs[0].time_s, flight.blobs[-1].time_s
        if all(last < one.blobs[0].time_s or first > one.blobs[-1].time_s for one in chosen):
            chosen.append(flight)
    return sorted(chosen, key=lambda flight: flight.blobs[0].time_s)


def _thrown(from_hands: FloatArray, from_body: FloatArray) -> bool:
    """Whether something leaves the hands and gets clear of the body; NaN where unseen."""
    if not np.isfinite(from_hands).any():
        return False
    nearest, farthest = np.nanmin(from_hands), np.nanmax(from_hands)
    leaves = nearest <= _FROM_HANDS and farthest - nearest >= _LEAVES
    return bool(leaves and np.nanmax(from_body) >= _CLEAR)


def _from(points_px: FloatArray, blob: Blob) -> float:
    """How far a shape is from the nearest of some points, in its radius; NaN where unseen."""
    away = np.hypot(*(points_px - [blob.x, blob.y]).T) / blob.radius
    return float(np.nanmin(away)) if np.isfinite(away).any() else np.nan


def _chains(blobs: Sequence[Sequence[Blob]], fall_px: float) -> list[list[Blob]]:
    """Join each shape to the nearest of the next pictures that goes on as it went, if any."""
    chains: list[list[Blob]] = []
    for shapes in blobs:
        free = list(shapes)
        for chain in sorted(chains, key=len, reverse=True):
            last = chain[-1]
            patience_s = _LONGEST_GAP_S if len(chain) > 2 else _SOON_S
            after = [
                (_miss(chain, blob, fall_px), blob)
                for blob in free
                if 0.0 < blob.time_s - last.time_s <= patience_s
                and abs(blob.radius - last.radius) <= _SAME_SIZE * last.radius
            ]
            miss, blob = min(after, key=lambda pair: pair[0], default=(np.inf, last))
            if miss <= _NEXT:
                chain.append(blob)
                free.remove(blob)
        chains += [[blob] for blob in free]
    return chains


def _miss(chain: Sequence[Blob], blob: Blob, fall_px: float) -> float:
    """How far a shape is from where a chain goes on as things fall, in its radius."""
    last = chain[-1]
    ahead_s = blob.time_s - last.time_s
    if len(chain) == 1:
        return 0.5 * float(np.hypot(blob.x - last.x, blob.y - last.y)) / last.radius
    before = chain[-min(len(chain), 4)]
    past_s = last.time_s - before.time_s
    x = last.x + (last.x - before.x) * ahead_s / past_s
    speed = (last.y - before.y) / past_s + fall_px * past_s / 2.0
    y = last.y + speed * ahead_s + fall_px * ahead_s**2 / 2.0
    return float(np.hypot(blob.x - x, blob.y - y)) / last.radius


def _falling(chain: Sequence[Blob], fall_px: float) -> Iterator[Flight]:
    """Give the parts of a chain that fall as a ball does; between them it is in the hands."""
    best: list[int] = []
    time_s = np.array([blob.time_s for blob in chain])
    for start_s in np.arange(time_s[0], time_s[-1], _LONGEST_S / 4):
        within = np.flatnonzero((time_s >= start_s) & (time_s <= start_s + _LONGEST_S))
        agreeing = _on_parabola([chain[int(place)] for place in within], fall_px)
        if len(agreeing) > len(best):
            best = [int(within[place]) for place in agreeing]
    if len(best) < _FEWEST or time_s[best[-1]] - time_s[best[0]] < _SHORTEST_S:
        return
    if len(best) < _MOST * (best[-1] - best[0] + 1):
        return
    if best[0] > 0:
        yield from _falling(chain[: best[0]], fall_px)
    blobs = tuple(chain[place] for place in best)
    small, radius, large = np.percentile([blob.radius for blob in blobs], [10.0, 50.0, 90.0])
    if large > _KEEPS_SIZE * small:
        return
    flown_s = np.array([blob.time_s for blob in blobs]) - blobs[0].time_s
    y = np.array([blob.y for blob in blobs])
    off = y - np.polyval(np.polyfit(flown_s, y, 2), flown_s)
    error = float(np.sqrt(np.sum(off**2) / (len(blobs) - 3)))
    yield Flight(blobs, float(np.hypot(error, _OWN_ERROR * radius)))
    if best[-1] < len(chain) - 1:
        yield from _falling(chain[best[-1] + 1 :], fall_px)


def _on_parabola(blobs: Sequence[Blob], fall_px: float) -> list[int]:
    """Places of the most blobs that lie on one path of something that falls.

    Parabolas through three blobs each are tried (Fischler and Bolles 1981), then the one that most
    agree with is fitted to these.
    """
    if len(blobs) < _FEWEST:
        return []
    time_s = np.array([blob.time_s for blob in blobs]) - blobs[0].time_s
    y = np.array([blob.y for blob in blobs])
    near = _OFF_PATH * float(np.median([blob.radius for blob in blobs]))
    few = np.unique(np.linspace(0, len(blobs) - 1, min(len(blobs), _TRIED)).astype(int))
    threes = np.array(list(combinations(few, 3)), dtype=np.int64).reshape(-1, 3)
    threes = threes[time_s[threes[:, 2]] - time_s[threes[:, 0]] >= _SHORTEST_S]
    powers = np.vander(time_s, 3)
    paths = np.linalg.solve(powers[threes], y[threes][:, :, None])[:, :, 0]
    paths = paths[_falls(paths[:, 0], fall_px)]
    if not len(paths):
        return []
    agree = np.abs(y - paths @ powers.T) <= near
    chosen = agree[agree.sum(axis=1).argmax()]
    for _ in range(2):
        path = np.polyfit(time_s[chosen], y[chosen], 2)
        if not _falls(path[0], fall_px):
            return []
        again = np.abs(y - np.polyval(path, time_s)) <= near
        if again.sum() < chosen.sum():
            break
        chosen = again
    return [int(place) for place in np.flatnonzero(chosen)]


def _falls(bend: FloatArray, fall_px: float) -> BoolArray:
    """Whether a path bends as that of something that falls."""
    least, most = _FALLS
    fast: BoolArray = (least * fall_px <= 2.0 * bend) & (2.0 * bend <= most * fall_px)
    return fast
