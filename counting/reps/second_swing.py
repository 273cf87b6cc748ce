"""The second swing of a repetition that has two, e.g. the press of a thruster."""

import math
from dataclasses import replace
from typing import Final

import numpy as np

from counting.movements.types import Movement
from counting.reps.candidates import AWAY, LONGEST_CYCLE_S, swings, typical, without_gaps
from counting.reps.evidence import driver_of, hands_fit
from counting.reps.strokes import stroke_to_halt
from counting.reps.types import Cycle
from counting.signals.types import Signals
from vision.track import FloatArray

_PRESS: Final = 0.5
"""A second swing that comes so far up the usual one's way is an attempt even without a first."""
_DIP_S: Final = 1.0
"""The dip before a press begins so long before it at most."""


def with_second_swing(
    signals: Signals, movement: Movement, driver: FloatArray, found: list[Cycle]
) -> list[Cycle]:
    """Let each cycle end when its second swing, e.g. a thruster's press, has halted.

    A press from the shoulders without a squat is an attempt, too, and a cycle of its own.
    """
    assert movement.swing.then is not None
    second = without_gaps(driver_of(signals, movement.swing.then))
    if not second.size:
        return found
    longest = int(LONGEST_CYCLE_S * signals.rate_hz)
    tops, sizes = swings(second, signals.rate_hz, movement.swing.smallest_swing)
    usual = typical(sizes)
    tops = tops[sizes >= movement.swing.smallest_share * usual]
    done: list[Cycle] = []
    tops_before = [0] * (len(found) + 1)
    for k, f in enumerate(found):
        limit = found[k + 1].turn if k + 1 < len(found) else min(second.size - 1, f.turn + longest)
        inside = tops[(tops > f.turn) & (tops < min(limit, f.end + f.end - f.start))]
        if not inside.size:
            done.append(f)
            continue
        top = int(inside[np.argmax(second[inside])])
        come = stroke_to_halt(second[top : limit + 1], signals.rate_hz, AWAY * usual)
        end_s = float(signals.time_s[top]) + come.onset_s
        done.append(replace(f, end=top + come.halt_index, end_s=end_s, pressed=True))
        tops_before[k + 1] = top
    done = [_begun_after(signals, f, top) for f, top in zip(done, tops_before, strict=False)]
    if movement.swing.hands != "at the shoulders":
        return done
    pressed = [top for top in tops_before if top]
    overhead = float(np.median(second[pressed])) if pressed else math.inf
    alone = []
    for top in tops[second[tops] > overhead - (1 - _PRESS) * usual].tolist():
        press = _press_alone(signals, driver, second, top, AWAY * usual)
        apart = all(press.end < f.start or press.start > f.end for f in done)
        # At the film's first picture a squat may have gone before.
        seen = press.start > 0
        if apart and seen and hands_fit(signals, movement, press.start, press.turn, press.end):
            alone.append(press)
    return sorted([*done, *alone], key=lambda f: f.turn)


def _press_alone(
    signals: Signals, driver: FloatArray, second: FloatArray, top: int, away: float
) -> Cycle:
    """Make a cycle of a second swing before which the first was hardly begun: a dip and a press."""
    rate_hz = signals.rate_hz
    reach = int(LONGEST_CYCLE_S * rate_hz)
    rise = stroke_to_halt(second[max(0, top - reach) : top + 1][::-1], rate_hz, away)
    fall = stroke_to_halt(second[top : top + reach], rate_hz, away)
    dip = max(0, top - rise.halt_index - round(_DIP_S * rate_hz))
    turn = dip + int(np.argmax(driver[dip : top + 1]))
    start = dip + int(np.argmin(driver[dip : turn + 1]))
    return Cycle(
        turn=turn,
        start=start,
        end=top + fall.halt_index,
        start_s=float(signals.time_s[start]),
        turn_s=float(signals.time_s[turn]),
        end_s=float(signals.time_s[top]) + fall.onset_s,
        size=float(driver[turn] - driver[start]),
        pressed=True,
    )


def _begun_after(signals: Signals, cycle: Cycle, top: int) -> Cycle:
    """Let a cycle begin only when the second swing of the one before has turned."""
    return replace(
        cycle,
        start=max(cycle.start, top),
        start_s=max(cycle.start_s, float(signals.time_s[top])),
    )
