"""Which of the known movements a film looks like.

A film is described by a few percentiles of heights within the moving body, in statures, and by
proportions of them: who stops short moves less, but what moves beside what stays the same. Each
movement has its usual description and its own scatter about it, learnt on labelled films
(`likeness.json`); what scatters together is common to all. The likelihood has the long tails of
Student's t: no film is wholly like another.
"""

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

import numpy as np

from counting.signals.apparent import apparent_size
from counting.signals.extraction import signals_of
from counting.workout.postures import travel
from vision.track import FloatArray, PoseTrack

_WINDOW_S: Final = 1.5
"""About a moment, in which it is told how far parts travel: most reps take longer."""
_MOVING_HANDS: Final = 0.12
_MOVING_SHOULDERS: Final = 0.08
"""Statures that hands or shoulders travel in it where something is done."""
_FEWEST_S: Final = 1.0
"""Of motion, from which a film is described at all; all of these are chosen, not measured."""
_FREEDOM: Final = 15.0
"""Degrees of freedom of Student's t, by which films differ from their movement's mean: with longer
tails than normal."""
_LEAST_TRAVEL: Final = 0.03
"""Statures added to both sides of a proportion: what hardly moves has none."""
UNLIKELY: Final = 0.0001
"""A film whose own movement is less likely than this is taken for another, as chosen on 94 films.
Now two of 243 films of bodies left out are, and 2,151 of 2,187 audits as another movement are
noticed (`python -m counting.lab.likeness`)."""
LIKE: Final = 250.0
"""Squared distance from a movement's description up to which a film looks like it: toes to the bar,
which nobody described, lie 850 and more from all movements."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """How much a film looks like each known movement.

    Attributes
    ----------
    probabilities
        By movement, if it is one of them and none is likelier than another before looking.
    distances
        By movement: squared distance from its usual description.
    """

    probabilities: dict[str, float]
    distances: dict[str, float]

    def looks_like_another(self, movement: str) -> str | None:
        """Name the movement that the film looks like, where it clearly is not this one."""
        if self.probabilities.get(movement, 1.0) >= UNLIKELY:
            return None
        likeliest = max(self.probabilities, key=lambda name: self.probabilities[name])
        return likeliest if self.distances[likeliest] <= LIKE else None

    def like_words(self, movement: str) -> str:
        """Say how much it looks like a movement: ``(like the air squat: 98 %)``."""
        share = min(round(100 * self.probabilities[movement]), 99)
        return f"(like the {movement}: {share} %)"


@dataclass(frozen=True, slots=True, eq=False)
class KnownMovements:
    """What is known of each movement.

    Attributes
    ----------
    usual
        Usual descriptions with their proportions, (features,) each by movement.
    scatter
        By movement: (features,) standard deviations of its films about it.
    together
        (features, features) inverse of the correlation of this scatter.
    """

    usual: dict[str, FloatArray]
    scatter: dict[str, FloatArray]
    together: FloatArray

    def likeness(self, description: FloatArray) -> Likeness:
        """Compare a film's description with those of all movements."""
        whole = with_proportions(description)
        off = {name: (whole - mean) / self.scatter[name] for name, mean in self.usual.items()}
        distances = {name: float(z @ self.together @ z) for name, z in off.items()}
        power = -0.5 * (_FREEDOM + len(whole))
        log_density = {
            name: power * np.log1p(distance / _FREEDOM) - np.log(self.scatter[name]).sum()
            for name, distance in distances.items()
        }
        best = max(log_density.values())
        density = {name: float(np.exp(value - best)) for name, value in log_density.items()}
        total = sum(density.values())
        return Likeness({name: value / total for name, value in density.items()}, distances)


def film_likeness(track: PoseTrack) -> Likeness | None:
    """Compare a film with the known movements; None where hardly anything moves in it."""
    description = describe_film(track)
    return None if description is None else packaged_movements().likeness(description)


def describe_film(track: PoseTrack) -> FloatArray | None:
    """Describe how an athlete moves, (features,); None where they move for less than a second.

    Differences of heights within the body over its apparent size, in the 1.5 s windows in which
    hands or shoulders travel: those of hips over feet, shoulders over hips, hands over shoulders,
    hands and shoulders over feet, feet over the floor, and travels.
    """
    signals = signals_of(track)
    size = apparent_size(track, signals)
    window = max(3, round(_WINDOW_S * signals.rate_hz) | 1)
    hip, trunk, hands, reach, top, feet = (
        series / size
        for series in (
            signals.hip - signals.ankle,
            signals.shoulder - signals.hip,
            signals.wrist - signals.shoulder,
            signals.wrist - signals.ankle,
            signals.shoulder - signals.ankle,
            signals.ankle,
        )
    )
    hands_go, shoulders_go, hips_go = (
        travel(series, window) / size for series in (signals.wrist, signals.shoulder, signals.hip)
    )
    moving = (hands_go > _MOVING_HANDS) | (shoulders_go > _MOVING_SHOULDERS)
    moving &= np.isfinite(hip + trunk + hands) & np.isfinite(signals.leg_share)
    if moving.sum() < _FEWEST_S * signals.rate_hz:
        return None

    def at(series: FloatArray, *shares: float) -> list[float]:
        return [float(value) for value in np.percentile(series[moving], shares)]

    low_hip, middle_hip, high_hip = at(hip, 5, 50, 95)
    low_hands, middle_hands, high_hands = at(hands, 5, 50, 95)
    return np.array(
        [
            *(low_hip, middle_hip, high_hip, high_hip - low_hip),
            *at(trunk, 5, 50),
            *(low_hands, middle_hands, high_hands, high_hands - low_hands),
            *(at(hands_go, 50) + at(shoulders_go, 50) + at(hips_go, 50)),
            *at(feet, 50, 95),
            *at(signals.leg_share, 5),
            *at(reach, 5, 95),
            *at(top, 5),
        ]
    )


def with_proportions(description: FloatArray) -> FloatArray:
    """Append to a description its proportions, logarithms of one travel over another.

    Those of hips over shoulders and hands over shoulders in a window, and of the range of trunk,
    hands, hands over the feet and bend of the legs over that of the hips.
    """
    hip_range, trunk_low, trunk = description[3:6]
    hands_range, hands_go, shoulders_go, hips_go = description[9:13]
    leg, reach_low, reach_high = description[15:18]
    of = np.array(
        [hips_go, hands_go, trunk - trunk_low, hands_range, reach_high - reach_low, 1.0 - leg]
    )
    over = np.array([shoulders_go, shoulders_go, *[hip_range] * 4])
    parts = [np.log(np.maximum(travels, 0.0) + _LEAST_TRAVEL) for travels in (of, over)]
    return np.concatenate([description, parts[0] - parts[1]])


@cache
def packaged_movements() -> KnownMovements:
    """Read what is known of the built-in movements."""
    text = files("counting.workout").joinpath("likeness.json").read_text(encoding="utf-8")
    document = json.loads(text)
    return KnownMovements(
        usual={name: np.array(mean) for name, mean in document["usual"].items()},
        scatter={name: np.array(size) for name, size in document["scatter"].items()},
        together=np.array(document["together"]),
    )
