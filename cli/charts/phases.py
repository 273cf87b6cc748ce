"""The phases of a movement as a row of figures, as its standard describes them."""

import math
from typing import Final

from markupsafe import Markup

from cli.charts.svg import element, number, picture, words
from counting.movements.types import Base, Measure, Movement, Phase

_FIGURE_PX: Final = 150.0
_PX_A_STATURE: Final = 110.0
_GROUND_PX: Final = 190.0
_WORDS_PX: Final = 215.0
_HEIGHT_PX: Final = 232.0
_INSIDE: Final = 0.04
"""Statures by which a figure stays inside the ranges, so that they are seen to hold."""

_ROUNDS: Final = 300
"""Until all is at rest: half as many leave no joint off by more than a thousandth of stature, which
is a tenth of a pixel."""
_EASE: Final = 0.03
"""Share of the way back to the usual pose that each joint takes in each round."""

_LEVEL: Final = 0.2
"""Statures: shoulders, hips and feet that differ by less lie behind each other, in a plank."""

_ON_THE_WAY: Final[dict[Base, Base]] = {
    "standing": "floor",
    "inverted": "floor",
    "supported": "hanging",
}
_FAR: Final = 0.35
"""Statures: bending down to a bar or into a squat moves joints by half of that."""

_LENGTHS: Final = {
    ("ankle", "knee"): 0.246,
    ("knee", "hip"): 0.245,
    ("hip", "shoulder"): 0.288,
    ("shoulder", "head"): 0.15,
    ("shoulder", "elbow"): 0.186,
    ("elbow", "wrist"): 0.146,
}
"""Shares of stature (Drillis and Contini 1966, in Winter 2009, fig. 4.1); the head by eye."""

_AHEAD: Final = {limb: -1 if limb == ("knee", "hip") else 1 for limb in _LENGTHS}
"""To which side each limb leans where it is not upright."""

_STANDING: Final = {
    "ankle": 0.04, "knee": 0.285, "hip": 0.53, "shoulder": 0.815, "head": 0.94, "elbow": 0.64,
    "wrist": 0.5,
}  # fmt: skip
_PRONE: Final = {
    "ankle": 0.05, "knee": 0.1, "hip": 0.2, "shoulder": 0.3, "head": 0.36, "elbow": 0.15,
    "wrist": 0.02,
}  # fmt: skip
_POSES: Final[dict[Base, dict[str, float]]] = {
    "standing": _STANDING,
    "hanging": {
        "ankle": 0.15, "knee": 0.4, "hip": 0.64, "shoulder": 0.93, "head": 1.05, "elbow": 1.08,
        "wrist": 1.22,
    },
    "floor": _PRONE,
    "supported": {**_STANDING, "elbow": 0.65, "wrist": 0.52},
    "lying": {**_PRONE, "knee": 0.24, "hip": 0.06, "shoulder": 0.1, "head": 0.12, "elbow": 0.08},
    "inverted": {
        "ankle": 1.05, "knee": 0.81, "hip": 0.57, "shoulder": 0.29, "head": 0.17, "elbow": 0.15,
        "wrist": 0.02,
    },
}  # fmt: skip
_JOINT: Final = {
    "hips": "hip", "feet": "ankle", "foot": "ankle", "hands": "wrist", "hand": "wrist",
    "shoulders": "shoulder", "knees": "knee", "knee": "knee", "elbows": "elbow", "head": "head",
}  # fmt: skip


NOT_DRAWN: Final[frozenset[Measure]] = frozenset(
    {
        "hands above hang",
        "body above its level",
        "higher hand above lower hand",
        "higher foot above lower foot",
        "hands apart",
        "feet apart",
    }
)
"""What a figure whose sides do the same cannot show, or only a film tells."""


def phases_picture(movement: Movement) -> Markup:
    """Draw the phases in their order; heights hold to the ranges, the rest is a sketch."""
    drawn = [
        element("line", x1=0, y1=_GROUND_PX, x2=_width(movement), y2=_GROUND_PX, stroke="#888")
    ]
    for place, phase in enumerate(movement.phases):
        middle = (place + 0.5) * _FIGURE_PX
        drawn.append(_figure(pose_of(phase, movement.base), middle))
        drawn.append(
            words(
                f"{place + 1} {phase.name}",
                middle,
                _WORDS_PX,
                text_anchor="middle",
                font_size=13,
                font_family="sans-serif",
            )
        )
    label = f"{movement.name}: " + ", ".join(phase.name for phase in movement.phases)
    return Markup(_standing_alone(picture(_width(movement), _HEIGHT_PX, *drawn, label=label)))


def _standing_alone(svg: str) -> str:
    return svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)


def _width(movement: Movement) -> float:
    return max(len(movement.phases), 1) * _FIGURE_PX


def pose_of(phase: Phase, base: Base) -> dict[str, float]:
    """Heights of the joints in statures that hold to a phase's ranges, near the base's usual ones.

    A phase that is far from them is drawn from where the body has been, if that is nearer: a burpee
    goes down to the floor, a muscle-up on rings starts in the hang.
    """
    own = _near(phase, base)
    if base not in _ON_THE_WAY:
        return own[0]
    other = _near(phase, _ON_THE_WAY[base])
    return other[0] if own[1] - other[1] > _FAR else own[0]


def _near(phase: Phase, base: Base) -> tuple[dict[str, float], float]:
    """Give a pose near a base's usual one, and how far its joints moved about the hips at most.

    Each range that does not hold moves its two joints towards each other or apart, and limbs that
    were stretched pull their ends back, until all is at rest (projections onto the ranges in turn).
    """
    usual = _POSES[base]
    held = "wrist" if base in ("hanging", "inverted", "supported") else "ankle"
    pose = dict(usual)
    for _ in range(_ROUNDS):
        for joint, height in usual.items():
            pose[joint] += _EASE * (height - pose[joint])
        for (one, other), length in _LENGTHS.items():
            apart = pose[one] - pose[other]
            if abs(apart) > length:
                _move(pose, held, one, other, math.copysign(length, apart) - apart)
        for measure, span in phase.where.items():
            if measure in NOT_DRAWN:
                continue
            upper, lower = _joints(measure)
            apart = pose[upper] - (0.0 if lower is None else pose[lower])
            # Hands go where they have to; the body stays for them where it is.
            fixed = lower if upper == "wrist" and held != "wrist" else held
            fixed = upper if lower == "wrist" and held != "wrist" else fixed
            if span.above is not None and apart < span.above + _INSIDE:
                _move(pose, fixed, upper, lower, span.above + _INSIDE - apart)
            elif span.below is not None and apart > span.below - _INSIDE:
                _move(pose, fixed, upper, lower, span.below - _INSIDE - apart)
    raised = _POSES[base][held] - pose[held] if base == "hanging" else 0.02 - min(pose.values())
    moved = max(abs(pose[k] - pose["hip"] - usual[k] + usual["hip"]) for k in usual)
    return {joint: height + raised for joint, height in pose.items()}, moved


def _joints(measure: Measure) -> tuple[str, str | None]:
    upper, _, lower = measure.partition(" above ")
    return _JOINT[upper.split()[-1]], _JOINT.get(lower.split()[-1])


def _move(
    pose: dict[str, float], held: str | None, upper: str, lower: str | None, by: float
) -> None:
    """Change the height between two joints; the one that holds the body stays where it is."""
    if lower is None or lower == held:
        pose[upper] += by
    elif upper == held:
        pose[lower] -= by
    else:
        pose[upper] += by / 2
        pose[lower] -= by / 2


def _figure(pose: dict[str, float], middle: float) -> str:
    """Draw limbs of their true length, bent forward or back as a body seen from its right side."""
    across = {"ankle": 0.0}
    level, low = pose["shoulder"] - pose["hip"], pose["hip"] - pose["ankle"]
    stretched = abs(level) < _LEVEL and abs(low) < _LEVEL
    for (one, other), length in _LENGTHS.items():
        rise = min(abs(pose[other] - pose[one]), length)
        ahead = 1 if stretched else _AHEAD[one, other]
        across[other] = across[one] + ahead * math.sqrt(length**2 - rise**2)
    centre = (max(across.values()) + min(across.values())) / 2

    def at(joint: str) -> tuple[str, str]:
        x = middle + (across[joint] - centre) * _PX_A_STATURE
        return number(x), number(_GROUND_PX - pose[joint] * _PX_A_STATURE)

    limbs = "".join(
        f"M{' '.join(at(one))}L{' '.join(at(other))}" for one, other in _LENGTHS if other != "head"
    )
    x, y = at("head")
    return element(
        "g",
        element(
            "path", d=limbs, stroke="#14655a", stroke_width=5, stroke_linecap="round", fill="none"
        ),
        f'<circle cx="{x}" cy="{y}" r="9" fill="#14655a"/>',
        f'<circle cx="{at("wrist")[0]}" cy="{at("wrist")[1]}" r="4.5" fill="#b4541a"/>',
    )
