"""Stretches that were shown before, and pictures that stand still in mid-motion."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.continuity.jumps import Jump
from vision.continuity.steps import FloatPicture
from vision.continuity.types import BREAKING_GAP_S, GAP_S, Evidence, Finding
from vision.times import clock

FloatArray = npt.NDArray[np.float64]

_SIGNATURE: Final = 32
"""Numbers that stand for a picture: random projections keep distances to an eighth (Johnson and
Lindenstrauss 1984)."""
_SEED: Final = 20
"""The same projections every time."""
_SCALE: Final = 4.0
"""So that numbers fit into two bytes."""
_LEAST_S: Final = 0.5
"""Shortest stretch that is looked for."""
_LEAST_FRAMES: Final = 12
"""Pictures in one at least, where they are slow."""
_SAME_NOISE: Final = 2.0
_SAME_MOTION: Final = 0.03
"""Two pictures are the same within this many times the noise of a still picture and this share of
the energy of one step's motion. No athlete repeats a motion that closely over half a second:
rendered repetitions of one another stay above 0.08 of it."""
_NOISE_QUANTILE: Final = 0.05
"""The twentieth of all steps with least change shows what is noise."""
_CLEAR_MOTION: Final = 6.0
"""Times the noise from which motion is enough to tell one stretch from another."""
_EVERY_S: Final = 0.25
"""Half of the shortest stretch that is looked for: one picture of it at least is asked about."""
_ROWS_AT_ONCE: Final = 64
"""Pictures compared at once: memory, not the result, depends on it."""
_STILL_S: Final = 0.25
_STILL_LEVEL: Final = 0.25
_STILL_SHARE: Final = 0.02
_LIVELY: Final = 0.75
"""A picture stands still for so long, where it changes by less than so many grey levels or this
share of what the livelier quarter of the steps does."""
MOVING_LEVEL: Final = 2.5
"""Grey levels by which a picture of an athlete in motion changes at least in a step."""

_JOIN_S: Final = 0.3
"""How far from the first picture found again a doubled stretch may begin."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """Pictures ``first`` to ``last`` are those of ``lag`` frames before once more."""

    first: int
    last: int
    lag: int


class SignatureWatch:
    """Keeps 64 bytes a picture: random projections, which preserve distances (Johnson 1984)."""

    def __init__(self) -> None:
        self._rows: list[npt.NDArray[np.int16]] = []
        self._reference: npt.NDArray[np.float32] | None = None
        self._projection: npt.NDArray[np.float32] | None = None

    def push(self, smoothed: FloatPicture) -> None:
        """Take the next picture, smooth; all must have one size."""
        picture = smoothed.ravel()[::2]
        if self._reference is None or self._projection is None:
            self._reference = picture
            signs = np.random.default_rng(_SEED).choice([-1.0, 1.0], (_SIGNATURE, picture.size))
            self._projection = (signs * _SCALE / np.sqrt(picture.size)).astype(np.float32)
        row = self._projection @ (picture - self._reference)
        self._rows.append(np.clip(np.rint(row * 8.0), -32767, 32767).astype(np.int16))

    def finish(self) -> npt.NDArray[np.int16]:
        """(frames, 32) signatures."""
        return np.array(self._rows, dtype=np.int16).reshape(-1, _SIGNATURE)


def doubled_stretches(
    time_s: FloatArray, signatures: npt.NDArray[np.int16], jumps: Sequence[Jump]
) -> list[Finding]:
    """Tell of what was shown before; it breaks the film where it begins with a jump."""
    found = []
    for repeat in find_repeats(time_s, signatures):
        start_s, end_s = float(time_s[repeat.first]), float(time_s[repeat.last])
        earlier_s = float(time_s[repeat.first - repeat.lag])
        words = f"the same pictures as from {clock(earlier_s)} on"
        spliced = any(
            abs(jump.after_s - start_s) <= _JOIN_S and not jump.in_still_part for jump in jumps
        )
        if not spliced:
            words += ", without a jump where they begin: a very even athlete, or a copy"
        found.append(
            Finding(
                kind="doubled stretch",
                start_s=start_s,
                end_s=end_s,
                breaks=spliced,
                evidence=(Evidence("picture", words, end_s - start_s, _LEAST_S, "s"),),
            )
        )
    return found


def find_repeats(time_s: FloatArray, signatures: npt.NDArray[np.int16]) -> list[Repeat]:
    """Find stretches of half a second and more that repeat an earlier stretch with motion in it.

    Parameters
    ----------
    time_s
        (N,) presentation times.
    signatures
        (N, 32) signatures of the pictures.
    """
    count = len(time_s)
    if count < 3 * _LEAST_FRAMES:
        return []
    rows = signatures.astype(np.float32)
    motion = np.zeros(count)
    motion[1:] = ((rows[1:] - rows[:-1]) ** 2).sum(axis=1)
    step_s = float(np.median(np.diff(time_s)))
    window = max(_LEAST_FRAMES, round(_LEAST_S / step_s))
    # The usual motion around a picture: one that stands still is like any other still one.
    around = np.convolve(motion, np.ones(window) / window, mode="same")
    noise = float(np.quantile(motion[1:], _NOISE_QUANTILE))
    limit = _SAME_NOISE * noise + _SAME_MOTION * around
    limit[around < _CLEAR_MOTION * noise] = 0.0
    queries = np.arange(window, count, max(1, round(_EVERY_S / step_s)))
    energy = (rows**2).sum(axis=1)
    found: list[Repeat] = []
    for start in range(0, len(queries), _ROWS_AT_ONCE):
        part = queries[start : start + _ROWS_AT_ONCE]
        distance = energy[part, None] + energy[None, :] - 2.0 * (rows[part] @ rows.T)
        for query, row in zip(part, distance, strict=True):
            if found and query <= found[-1].last:
                continue
            near = np.flatnonzero(row[: query - window] < limit[query])
            if near.size:
                repeat = _grown(rows, limit, int(query), near)
                if repeat.last - repeat.first + 1 >= window:
                    found.append(repeat)
    return found


def _grown(
    rows: npt.NDArray[np.float32],
    limit: FloatArray,
    query: int,
    earlier: npt.NDArray[np.int64],
) -> Repeat:
    """Return the longest stretch around ``query`` that repeats one around any of ``earlier``."""
    repeats = []
    for other in earlier:
        lag = query - int(other)
        first = last = query
        while first - 1 >= lag and _apart(rows, first - 1, lag) < limit[first - 1]:
            first -= 1
        while last + 1 < len(rows) and _apart(rows, last + 1, lag) < limit[last + 1]:
            last += 1
        repeats.append(Repeat(first, last, lag))
    return max(repeats, key=lambda repeat: repeat.last - repeat.first)


def _apart(rows: npt.NDArray[np.float32], index: int, lag: int) -> float:
    return float(((rows[index] - rows[index - lag]) ** 2).sum())


def frozen_stretches(time_s: FloatArray, change: FloatArray) -> list[Finding]:
    """Tell of pictures that stand still in mid-motion."""
    found = []
    for first, last in find_frozen(time_s, change):
        start_s, end_s = float(time_s[first - 1]), float(time_s[last])
        words = f"one picture stands for {end_s - start_s:.2f} s in mid-motion"
        evidence = Evidence("picture", words, end_s - start_s, GAP_S, "s")
        breaks = end_s - start_s >= BREAKING_GAP_S
        found.append(Finding("frozen stretch", start_s, end_s, breaks, (evidence,)))
    return found


def find_frozen(time_s: FloatArray, change: FloatArray) -> list[tuple[int, int]]:
    """Find runs of one and the same picture between pictures in motion.

    Returns
    -------
    Pairs of the first and last frame that equal the one before them.
    """
    if change.size == 0:
        return []
    still = change < max(_STILL_LEVEL, _STILL_SHARE * float(np.quantile(change, _LIVELY)))
    still[:1] = False
    edges = np.flatnonzero(np.diff(np.concatenate(([False], still, [False])).astype(np.int8)))
    runs = []
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        last = int(end) - 1
        lasts = time_s[last] - time_s[first - 1] >= _STILL_S
        before, after = change[max(1, first - 3) : first], change[end : end + 1]
        moving = (
            before.size > 0 and after.size > 0 and min(before.min(), after.min()) > MOVING_LEVEL
        )
        if lasts and moving:
            runs.append((int(first), last))
    return runs
