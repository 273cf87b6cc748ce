"""Changes of speed and gaps: pictures left out or doubled, and intervals that change."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from vision.continuity.repeats import MOVING_LEVEL
from vision.continuity.types import BREAKING_GAP_S, GAP_S, Evidence, Finding, FindingKind

FloatArray = npt.NDArray[np.float64]

_GAP_INTERVALS: Final = 6.0
"""Usual intervals between pictures without one that are no gap: cameras drop a few (no source)."""
_WINDOW_S: Final = 1.5
"""Of film that is judged at a time: a rep or so."""
_MOVING: Final = 2.5
"""Grey levels of usual change from which there is motion in a window (chosen, not measured)."""
_ROUGH: Final = 0.14
"""Roughness of a film played at 1.25 times its speed or more is above this in every window with
motion (measured 0.15 to 0.5), that of labelled films as filmed below (at most 0.115), at
`_ROUGH_AT_HZ`. What bends by itself from picture to picture does so with the square of the
interval: of a burpee at 24 frames a second up to 0.17."""
_ROUGH_AT_HZ: Final = 30.0
"""Pictures a second that roughness is told for."""
_OVER_USUAL: Final = 2.0
_USUAL_QUANTILE: Final = 0.25
"""A film of low quality is rougher throughout: what counts must be this much over its calmer
quarter."""
_FLOOR: Final = 1.5
"""Grey levels added to each change, so that the bend of hardly any motion is none."""
_FORGIVEN: Final = 3
"""Largest bends of a window that are left out: a bump or a cut, no beat."""
_FASTEST_FRAMES_HZ: Final = 20.0
"""Rate below which motion itself is uneven from picture to picture."""
_INTERVAL_S: Final = 1.0
_INTERVAL_RATIO: Final = 1.15
"""A rate changes where the usual interval of a second before and that of a second after differ by
this: the nearest rates that phones go between by themselves, below, are 1.25 apart."""
_SHORTEST: Final = 0.1
"""Quantile of the intervals that is the shortest usual one."""
_WHOLE: Final = 0.1
_NEARLY_ALL: Final = 0.9
"""Pictures were dropped where nearly all intervals are whole numbers of the shortest tenth, to a
tenth of it."""
_LOW_LIGHT_HZ: Final = ((30.0, 24.0), (30.0, 15.0), (60.0, 24.0), (60.0, 30.0), (25.0, 12.5))
"""Rates that phones go between by themselves as the light changes (common practice, no source)."""


def missing_stretches(film_s: FloatArray, time_s: FloatArray, change: FloatArray) -> list[Finding]:
    """Tell of gaps between pictures; those in which nothing moves are how encoders save.

    Parameters
    ----------
    film_s
        Presentation times of all of the film's pictures.
    time_s, change
        (N,) times of the pictures that were watched, and the grey levels each changes by.
    """
    intervals = np.diff(film_s)
    if not intervals.size:
        return []
    limit_s = max(GAP_S, _GAP_INTERVALS * float(np.median(intervals)))
    found = []
    for index in np.flatnonzero(intervals > limit_s):
        length_s = float(intervals[index])
        words = f"no pictures for {length_s:.2f} s"
        found.append(
            Finding(
                kind="missing stretch",
                start_s=float(film_s[index]),
                end_s=float(film_s[index + 1]),
                breaks=length_s >= BREAKING_GAP_S
                and _moves_around(time_s, change, float(film_s[index + 1])),
                evidence=(Evidence("timestamps", words, length_s, limit_s, "s"),),
            )
        )
    return found


def _moves_around(time_s: FloatArray, change: FloatArray, at_s: float) -> bool:
    """Whether the first picture after a gap shows motion, or those on both sides of it do."""
    at = int(np.searchsorted(time_s, at_s - 1e-6))
    before, after = change[max(1, at - 3) : at], change[at + 1 : at + 4]
    if at < len(change) and change[at] > MOVING_LEVEL:
        return True
    lively = [float(np.median(part)) > MOVING_LEVEL for part in (before, after) if part.size]
    return bool(lively) and all(lively)


def speed_changes(film_s: FloatArray, time_s: FloatArray, change: FloatArray) -> list[Finding]:
    """Tell of motion that stutters and of frame rates that change; parameters as above."""
    found = []
    for stretch in find_uneven(time_s, change):
        words = "the motion stutters as if played at another speed"
        if stretch.throughout:
            words = "the motion stutters throughout, as after a conversion to another frame rate"
        evidence = Evidence("motion", words, stretch.roughness, _ROUGH, "log ratio")
        breaks = not stretch.throughout
        found.append(Finding("speed change", stretch.start_s, stretch.end_s, breaks, (evidence,)))
    for rate in find_rate_changes(film_s):
        words = f"frames come at {rate.after_hz:.1f} a second after {rate.before_hz:.1f}"
        if rate.of_a_camera:
            words += ", as where the light changes or pictures are dropped"
        kind: FindingKind = "timestamp jump" if rate.of_a_camera else "speed change"
        evidence = Evidence("timestamps", words, rate.after_hz, rate.before_hz, "Hz")
        found.append(Finding(kind, rate.time_s, rate.time_s, not rate.of_a_camera, (evidence,)))
    return found


@dataclass(frozen=True, slots=True)
class Uneven:
    """A stretch whose motion stutters from picture to picture.

    Attributes
    ----------
    start_s, end_s
        Presentation times.
    roughness
        Median over its windows.
    throughout
        Whether all of the film that moves is like this: converted as a whole.
    """

    start_s: float
    end_s: float
    roughness: float
    throughout: bool


def find_uneven(time_s: FloatArray, change: FloatArray) -> list[Uneven]:
    """Find stretches played at a changed speed by the stutter of left-out or doubled pictures.

    A speed changed by a whole number leaves no stutter and is not found. Below 20 frames a second
    motion itself is too uneven.
    """
    if len(time_s) < 8:
        return []
    step_s = float(np.median(np.diff(time_s)))
    size = round(_WINDOW_S / step_s)
    if step_s > 1.0 / _FASTEST_FRAMES_HZ or len(time_s) < 2 * size:
        return []
    rough_from = _ROUGH * max(1.0, (step_s * _ROUGH_AT_HZ) ** 2)
    # Over a dropped picture motion goes further: what counts is the change in a usual interval.
    intervals = np.concatenate(([step_s], np.diff(time_s)))
    level = np.log(change / np.maximum(1.0, intervals / step_s) + _FLOOR)
    bend = np.zeros(len(level))
    bend[1:-1] = np.abs(level[1:-1] - 0.5 * (level[:-2] + level[2:]))
    starts = np.arange(0, len(level) - size + 1, max(1, size // 4))
    moving = np.array([float(np.median(change[s : s + size])) > _MOVING for s in starts])
    rough = np.array([_typical(bend[s : s + size]) for s in starts])
    if not moving.any():
        return []
    usual = float(np.quantile(rough[moving], _USUAL_QUANTILE))
    throughout = usual > rough_from
    marked = moving & (rough > max(rough_from, 0.0 if throughout else _OVER_USUAL * usual))
    found: list[Uneven] = []
    for first, last in _runs(marked):
        if last - first < 2:
            continue
        # The outermost windows reach over the edge of the stretch by up to half of their length.
        begin = starts[first] + (size // 2 if first else 0)
        end = min(len(time_s) - 1, starts[last] + size // 2)
        found.append(
            Uneven(
                start_s=float(time_s[min(begin, end)]),
                end_s=float(time_s[end]),
                roughness=float(np.median(rough[first : last + 1])),
                throughout=throughout,
            )
        )
    return found


def _typical(bend: FloatArray) -> float:
    """Mean without the few largest: a single bump or cut is no beat."""
    return float(np.sort(bend)[:-_FORGIVEN].mean())


def _runs(marked: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], marked, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


@dataclass(frozen=True, slots=True)
class RateChange:
    """The usual interval between frames changes.

    Attributes
    ----------
    time_s
        Time of the change.
    before_hz, after_hz
        Frame rates on either side.
    of_a_camera
        Whether cameras do this by themselves: when the light changes, or by dropping pictures.
    """

    time_s: float
    before_hz: float
    after_hz: float
    of_a_camera: bool


def find_rate_changes(time_s: FloatArray) -> list[RateChange]:
    """Find lasting changes (a second and more on both sides) of the interval between frames."""
    intervals = np.diff(time_s)
    if len(intervals) < 8:
        return []
    half = max(4, round(_INTERVAL_S / float(np.median(intervals))))
    if len(intervals) < 2 * half:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(intervals, half)
    typical = np.median(windows, axis=1)
    before, after = typical[:-half], typical[half:]
    ratio = np.abs(np.log(after / before))
    found: list[RateChange] = []
    index = 0
    while index < len(ratio):
        if ratio[index] < np.log(_INTERVAL_RATIO):
            index += 1
            continue
        peak = index + int(np.argmax(ratio[index : index + half]))
        rates = 1.0 / float(before[peak]), 1.0 / float(after[peak])
        around = intervals[peak : peak + 2 * half]
        place = peak + _split(around, *rates)
        explained = _is_of_a_camera(*rates) or _are_drops(around)
        found.append(RateChange(float(time_s[place]), *rates, explained))
        index = peak + half
    return found


def _split(intervals: FloatArray, before_hz: float, after_hz: float) -> int:
    """Return the place that best parts intervals of the one rate from those of the other."""
    late = np.abs(np.log(intervals * after_hz)) < np.abs(np.log(intervals * before_hz))
    wrong_before = np.concatenate(([0], np.cumsum(late)))
    wrong_after = np.concatenate((np.cumsum(~late[::-1])[::-1], [0]))
    return int(np.argmin(wrong_before + wrong_after))


def _are_drops(intervals: FloatArray) -> bool:
    """Whether intervals are whole numbers of the shortest usual one: pictures that were dropped."""
    base_s = float(np.quantile(intervals, _SHORTEST))
    steps = intervals / base_s
    return bool(np.mean(np.abs(steps - np.rint(steps)) < _WHOLE) >= _NEARLY_ALL)


def _is_of_a_camera(first_hz: float, second_hz: float) -> bool:
    fast, slow = max(first_hz, second_hz), min(first_hz, second_hz)
    return any(
        abs(fast / usual_fast - 1) < 0.02 and abs(slow / usual_slow - 1) < 0.02
        for usual_fast, usual_slow in _LOW_LIGHT_HZ
    )
