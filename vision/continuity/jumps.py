"""Finding the places where the picture does not follow from the one before."""

import math
from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from vision.continuity.camera import background_shift
from vision.continuity.region import (
    WHOLE_SHARE,
    BoolPicture,
    largest_within,
    motion_goes_on,
    moving_parts,
    new_share,
    relit,
    still_share,
)
from vision.continuity.steps import (
    FloatPicture,
    Flow,
    Grey,
    Step,
    differences,
    largest,
)

REACH: Final = 8
"""Steps kept on either side of the one that is judged."""
_NEIGHBOURS: Final = 6
"""Steps to either side that one is compared with: a fifth of a second at 30 Hz."""
_LEAST_NEIGHBOURS: Final = 4
"""Fewer say nothing of what is usual."""
CHANGE_LIMIT: Final = 0.1
"""Log ratio of plain change that is worth a closer look."""
JUMP_LIMIT: Final = 0.8
"""Log ratio of what no possible motion explains, and the most of it in steps near by, beyond
which a step is a jump. Uncut training films, very even athletes among them, come to 0.77."""
_FLOOR: Final = 1.5
"""Grey levels added on both sides of a ratio. Encoders hold a still picture back and let go when
it has moved by a fraction of a pixel: steps of two grey levels after none at all."""
_FLOOR_SHARE: Final = 0.1
_LIVELY: Final = 0.9
"""Likewise in pictures of high contrast: a tenth of the change that lively motion gives here."""
_FLOOR_EVERY: Final = 64
"""Pictures after which that tenth is taken anew: it changes slowly."""
_REFRESH: Final = 4.0
"""A key frame redraws the whole picture a little; this many times the median change is its."""
_REFRESH_MOST: Final = 6.0
"""Grey levels of it at most (chosen, not measured)."""
_MOSTLY: Final = 0.5
"""Of what is most surprising at a caption, at least this share stands still before and after."""
_LEAST_SHIFT_PX: Final = 0.5
"""Small pixels below which a shift of the background explains nothing."""
_LONGEST: Final = 4.0
"""Usual intervals over which a motion is carried on at most."""


@dataclass(frozen=True, slots=True)
class Jump:
    """A step that does not follow.

    Attributes
    ----------
    index
        Number of the picture after the jump.
    before_s, after_s
        Presentation times of the pictures on either side.
    change_ratio, surprise_ratio
        Change, and what no possible motion explains, over the largest among the neighbouring steps.
    camera_px
        How far the whole picture shifted at the jump, in small pixels; 0 where it stayed.
    camera_only
        Whether that shift explains the jump.
    in_still_part
        Whether only a part of the picture changes that stands still before and after, as a caption
        does that comes or goes: what moves goes on.
    """

    index: int
    before_s: float
    after_s: float
    change_ratio: float
    surprise_ratio: float
    camera_px: float
    camera_only: bool
    in_still_part: bool = False


class JumpWatch:
    """Looks at a stream of small grey pictures, holding only the last few.

    A step is judged against its neighbours in time, so that an athlete's own speed, the
    camera's noise and its shaking set the measure: a cut stands out from the steps before and
    after, motion does not. Steps over a longer interval may be larger in proportion.
    """

    def __init__(self) -> None:
        self.jumps: list[Jump] = []
        self.change: list[float] = []
        self._background: list[float] = []
        self._times: list[float] = []
        self._held: deque[tuple[Grey, FloatPicture]] = deque(maxlen=2 * REACH + 3)
        self._differences: deque[FloatPicture] = deque(maxlen=2 * REACH + 3)
        self._flow = Flow()
        self._flows: dict[int, FloatPicture] = {}
        self._aheads: dict[int, FloatPicture] = {}
        self._steps: dict[int, Step] = {}
        self._usual_s: dict[int, float] = {}
        self._judged = 1
        self._floor = _FLOOR

    def push(self, time_s: float, grey: Grey, picture: FloatPicture) -> None:
        """Take the next picture, as it is and smooth."""
        if self._held:
            difference = differences(self._held[-1][1], picture)
            self._differences.append(difference)
            self.change.append(largest(difference))
            # Differences are averaged over patches: every other tells as much.
            self._background.append(float(np.median(difference[::2, ::2])))
        else:
            self._differences.append(np.zeros_like(picture))
            self.change.append(0.0)
            self._background.append(0.0)
        self._times.append(time_s)
        self._held.append((grey, picture))
        while self._judged + REACH < len(self._times):
            self._judge(self._judged)
            self._judged += 1

    def finish(self) -> list[Jump]:
        """Judge the last steps and return all jumps."""
        while self._judged < len(self._times):
            self._judge(self._judged)
            self._judged += 1
        return self.jumps

    def _judge(self, index: int) -> None:
        if index % _FLOOR_EVERY == 1:
            lively = float(np.quantile(self.change, _LIVELY))
            self._floor = max(_FLOOR, _FLOOR_SHARE * lively)
        near = self._near(index, 1)
        if len(near) < _LEAST_NEIGHBOURS:
            return
        change = self._ratio(self._rate(index, self.change[index]), self._rates(near))
        if change < CHANGE_LIMIT:
            return
        refresh = self._refresh(index, near)
        change = self._ratio(
            self._rate(index, max(0.0, self.change[index] - refresh)), self._rates(near)
        )
        # The step after a jump is a surprise too: its flow goes by the jump.
        apart = self._near(index, 2)
        surprise = self._surprise(index, refresh, apart)
        if surprise is None:
            return
        shift_px, left = self._without_camera(index)
        rest = self._ratio(max(0.0, left - refresh), [self._step(n).unexplained for n in apart])
        self.jumps.append(
            Jump(
                index=index,
                before_s=self._times[index - 1],
                after_s=self._times[index],
                change_ratio=math.exp(change),
                surprise_ratio=math.exp(surprise),
                camera_px=shift_px,
                camera_only=shift_px > 0 and rest <= JUMP_LIMIT,
                in_still_part=self._is_in_still_part(index, near, apart, refresh),
            )
        )

    def _is_in_still_part(
        self, index: int, near: list[int], apart: list[int], refresh: float
    ) -> bool:
        """Whether what moves before or after a jump goes on, and not all of the picture jumps.

        The steps on either side tell best: what lies over the picture is in neither of them.
        A caption that goes uncovers motion that could not be seen before, one that comes covers it;
        a side on which nothing moves tells nothing. Nor is a lamp a jump, all but for the light.
        """
        if self._motion_goes_on(index):
            return True
        before, picture = self._at(index - 1)[1], self._at(index)[1]
        lit = relit(before, picture)
        others = [self._differences[self._place(n)] for n in near]
        change = differences(lit, picture)
        if new_share(change, others) > WHOLE_SHARE:
            return False
        surprise = self._flow.unexplained(lit, picture, self._expected(index))
        usual = self._rates(near), [self._step(n).unexplained for n in apart]

        def goes_on(where: BoolPicture) -> bool:
            change_there, left_there = (
                max(0.0, largest_within(values, where) - refresh) for values in (change, surprise)
            )
            ratio = self._ratio(self._rate(index, change_there), usual[0])
            return ratio + self._ratio(left_there, usual[1]) <= JUMP_LIMIT

        sides = [
            moving_parts([self._differences[self._place(n)] for n in side])
            for side in ([n for n in near if n < index], [n for n in near if n > index])
        ]
        moving = [side for side in sides if side.any()]
        if not moving or goes_on(np.ones(lit.shape, dtype=np.bool_)):
            return True
        return still_share(surprise, moving) >= _MOSTLY and any(goes_on(side) for side in moving)

    def _motion_goes_on(self, index: int) -> bool:
        """Whether the step after one shows the motion of the step before it."""
        if not 3 <= index < len(self._times) - 1:
            return False
        one, two, three, four = (self._at(index + n)[1] for n in (-2, -1, 0, 1))
        before, after = two - one, four - three
        back, ahead = self._back(index - 1), -self._ahead(index)
        moved = self._flow.moved
        return motion_goes_on(moved(moved(before, back), back), after) or motion_goes_on(
            before, moved(moved(after, ahead), ahead)
        )

    def _surprise(self, index: int, refresh: float, others: list[int]) -> float | None:
        """Log ratio of what is unexplained in a step and in others; None where within the limit.

        Flow is dear: no more of the others are looked at than it takes.
        """
        own = max(0.0, self._step(index).unexplained - refresh)
        seen: list[float] = []
        for other in sorted(others, key=lambda n: abs(n - index)):
            seen.append(self._step(other).unexplained)
            if self._ratio(own, seen) <= JUMP_LIMIT:
                return None
        return self._ratio(own, seen)

    def _near(self, index: int, least: int) -> list[int]:
        last = len(self._times)
        return [
            n
            for n in range(index - _NEIGHBOURS, index + _NEIGHBOURS + 1)
            if 1 <= n < last and abs(n - index) >= least
        ]

    def _rates(self, near: list[int]) -> list[float]:
        return [self._rate(n, self.change[n]) for n in near]

    def _rate(self, index: int, change: float) -> float:
        """Change per usual interval: a step over a dropped frame may be twice as large."""
        interval_s = self._times[index] - self._times[index - 1]
        return change / max(1.0, interval_s / self._usual_interval_s(index))

    def _usual_interval_s(self, index: int) -> float:
        known_s = self._usual_s.get(index)
        if known_s is not None:
            return known_s
        near = self._times[max(0, index - REACH - 1) : index + REACH]
        intervals = sorted(after - before for before, after in pairwise(near))
        middle = len(intervals) // 2
        usual_s = (intervals[middle] + intervals[-1 - middle]) / 2
        if len(self._times) >= index + REACH:
            self._usual_s[index] = usual_s
            self._usual_s.pop(index - 3 * REACH, None)
        return usual_s

    def _ratio(self, value: float, others: list[float]) -> float:
        return math.log((value + self._floor) / (max(others) + self._floor))

    def _refresh(self, index: int, near: list[int]) -> float:
        usual = max(self._background[n] for n in near)
        return min(_REFRESH_MOST, _REFRESH * max(0.0, self._background[index] - usual))

    def _at(self, index: int) -> tuple[Grey, FloatPicture]:
        return self._held[self._place(index)]

    def _place(self, index: int) -> int:
        return index - (len(self._times) - len(self._held))

    def _step(self, index: int) -> Step:
        if index not in self._steps:
            (_, before), (_, picture) = self._at(index - 1), self._at(index)
            left = self._flow.unexplained(before, picture, self._expected(index))
            self._steps[index] = Step(largest(differences(before, picture)), largest(left))
            for old in [n for n in self._steps if n < index - 3 * REACH]:
                del self._steps[old]
        return self._steps[index]

    def _expected(self, index: int) -> list[FloatPicture]:
        """Flows back over a step as the motion before it, and after it, has them."""
        times = self._times
        interval_s = times[index] - times[index - 1]
        flows = []
        if self._place(index - 2) >= 0 and index >= 2:
            share = interval_s / (times[index - 1] - times[index - 2])
            flows.append(self._back(index - 1) * np.float32(min(_LONGEST, share)))
        if index + 1 < len(times):
            share = interval_s / (times[index + 1] - times[index])
            flows.append(self._ahead(index) * np.float32(min(_LONGEST, share)))
        return flows

    def _ahead(self, index: int) -> FloatPicture:
        """Flow back over a step if each point moved as it does after it."""
        if index not in self._aheads:
            self._aheads[index] = -self._flow.back(self._at(index)[0], self._at(index + 1)[0])
            for old in [n for n in self._aheads if n < index - 3 * REACH]:
                del self._aheads[old]
        return self._aheads[index]

    def _back(self, index: int) -> FloatPicture:
        if index not in self._flows:
            self._flows[index] = self._flow.back(self._at(index)[0], self._at(index - 1)[0])
            for old in [n for n in self._flows if n < index - 3 * REACH]:
                del self._flows[old]
        return self._flows[index]

    def _without_camera(self, index: int) -> tuple[float, float]:
        """Length of the camera's shift at a step, and what is unexplained without it."""
        before, picture = self._at(index - 1)[1], self._at(index)[1]
        shift = background_shift(before, picture)
        if shift is None or math.hypot(*shift) < _LEAST_SHIFT_PX:
            return 0.0, self._step(index).unexplained
        border = math.ceil(max(abs(shift[0]), abs(shift[1]))) + 1
        expected = [flow - np.array(shift, dtype=np.float32) for flow in self._expected(index)]
        left = self._flow.unexplained(before, picture, expected)
        inner = left[border:-border, border:-border]
        return (math.hypot(*shift), largest(inner)) if inner.size else (0.0, largest(left))
