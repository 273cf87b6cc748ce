"""Sighting everybody in one picture after another, some of them without a search.

Searching is dear: two squares for each picture. Who is alone, clearly seen, and found again where
they were half a second ago need not be searched for every time.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from vision.athlete.choosing import Sighted
from vision.athlete.following import is_sharp
from vision.athlete.people import MEMORY_S, NEAR
from vision.athlete.sightings import JOINTS, MIN_CONFIDENCE, separation, sightings
from vision.film.frames import FilmFrame
from vision.pose.network import Pose, PoseNetwork

CLEAR: Final = 0.7
"""Mean peak height of the joints from which somebody is so clearly seen that a second opinion by a
search adds nothing. On labelled films from the front or askew half to all poses reach it, behind
plates and in the hang from the side none to a fifth: a press searched for every other time at 0.5
was lost in a tenth of its reps' frames and one rep with them."""
SHARP_MEMORY_S: Final = 10.0
"""A person clearly seen is looked for in the same place for this long, others for `MEMORY_S`."""


@dataclass(slots=True, eq=False)
class Memory:
    """What is kept of the pictures looked at so far.

    Attributes
    ----------
    people
        Who was seen, and when last.
    searches
        How many pictures were searched.
    rested
        Whether the last picture was not.
    """

    people: list[tuple[float, Pose]] = field(default_factory=list)
    searches: int = 0
    rested: bool = False


def sight(network: PoseNetwork, pictures: Sequence[FilmFrame], memory: Memory) -> list[Sighted]:
    """Sight everybody; who is missing is looked for where they were, for a while.

    Parameters
    ----------
    network
        The pose networks.
    pictures
        Pictures in order, about half a second apart.
    memory
        Of the pictures before these; carried on.
    """
    seen: list[Sighted] = []
    for frame in pictures:
        people = _alone_again(network, frame, memory)
        memory.rested = people is not None
        if people is None:
            known = [pose for _, pose in memory.people]
            people = sightings(network, frame.picture, known, memory.searches)
            memory.searches += 1
        seen.append(Sighted(frame.time_s, people))
        memory.people = [(frame.time_s, pose) for pose in people] + [
            (since_s, pose)
            for since_s, pose in memory.people
            if frame.time_s - since_s <= (SHARP_MEMORY_S if is_sharp(pose) else MEMORY_S)
            and not any(
                separation(pose, newer) <= NEAR and (is_sharp(newer) or not is_sharp(pose))
                for newer in people
            )
        ]
    return seen


def _alone_again(network: PoseNetwork, frame: FilmFrame, memory: Memory) -> list[Pose] | None:
    """Look again for the only person known; None where a search is due or they are not clear."""
    if memory.rested or len(memory.people) != 1:
        return None
    _, known = memory.people[0]
    if not _is_clear(known):
        return None
    pose = network.look(frame.picture, known.region)
    # From where they went half a second ago, a second look finds the body in its middle.
    if pose.confidence >= MIN_CONFIDENCE:
        pose = network.look(frame.picture, pose.region)
    same = pose.confidence >= MIN_CONFIDENCE and separation(pose, known) < NEAR
    return [pose] if same and _is_clear(pose) else None


def _is_clear(pose: Pose) -> bool:
    return float(pose.sharpness[JOINTS].mean()) >= CLEAR
