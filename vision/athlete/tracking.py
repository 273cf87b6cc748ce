"""Who is who over a whole film: one decision over all detections at once.

Every detection is a node of a flow network. A person is a path through it that costs the negative
logarithm of its likelihood: of each detection being somebody, of each step from one detection to
the next in place, size and colour of clothes, of every picture in which the person goes undetected,
and of coming into the picture and leaving it. The cheapest set of paths explains all detections
together: nobody can take over another's detections without that other losing theirs. It is a
minimum-cost flow (Zhang, Li and Nevatia 2008), solved as a linear program, whose corners are whole
paths.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.optimize import linprog

from vision.athlete.detection import EVEN_SCORE, Detection, Sample
from vision.pose.movenet import separation

FloatArray = npt.NDArray[np.float64]

STRAY: Final = 0.03
"""Standard deviation of a still body's joints between two detections, over its size."""
SPEED: Final = 0.7
"""Standard deviation of a body's median joint speed, sizes a second. Bodies that fold, as in
sit-ups, get small while they move. On 63 labelled films, colours left out, 0.45, 0.7 and 1 followed
somebody else in 1.4, 1.0 and 2.3 % of detections and lost the athlete in 4.4, 1.7 and 1.7 %."""
SIZE_SPREAD: Final = 0.15
"""Standard deviation of the logarithm of its size between two detections."""
SIZE_RATE: Final = 1.5
"""Growth of that a second, up to a second: bodies fold and lie down."""
CLOTHES_SPREAD: Final = 20.0
"""Standard deviation of a trunk's median colour, steps, under light, shadow and crossing arms."""
MISREAD: Final = 0.1
"""Share of steps at which a trunk's colour is not that of the clothes: arms, plates or the ground
show instead. Of 2,400 steps of one person, 5 in 100 are further apart than 27, and 1 than 62; a
long tail without this bound lost bodies that fold, and followed 94.1 for 95.9 % of detections."""
UNSEEN: Final = 1.4
"""Cost of the first detection time at which a person who is there is not detected."""
STILL_UNSEEN: Final = 0.5
"""Cost of each that follows: whoever is hidden or lies folded mostly stays so for a while. With 0.9
for every one, 92.3 instead of 97.3 % of detections were followed where 3 in 10 were taken away."""
ENTERING: Final = 4.0
"""Cost of coming into the picture, and of leaving it: people seldom do."""
BRIDGED_S: Final = 2.5
"""Longest time a person may go undetected within a path."""
_CLEAR: Final = 0.5
_ENOUGH_CLEAR: Final = 6
_FURTHEST: Final = 12.0
"""Steps that cost more are left out: leaving and coming again is cheaper."""


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """One person through the film.

    Attributes
    ----------
    place
        (K,) which samples the person is detected in, ascending.
    detections
        (K) the person there.
    """

    place: tuple[int, ...]
    detections: tuple[Detection, ...]


def paths_of_people(samples: Sequence[Sample]) -> list[Path]:
    """Join the detections of a film into the paths of people.

    Parameters
    ----------
    samples
        Everybody in pictures of the film, in order of time.

    Returns
    -------
    list of Path
        Everybody whose detections are likelier a person than nobody; no detection is in two.
    """
    nodes = [(place, one) for place, sample in enumerate(samples) for one in sample.people]
    if not nodes:
        return []
    links = _links(samples, nodes)
    used = _cheapest(np.array([_detection_cost(one) for _, one in nodes]), links)
    following = {int(a): int(b) for (a, b, _), flows in zip(links, used[1], strict=True) if flows}
    begun = set(np.flatnonzero(used[0]).tolist()) - set(following.values())
    paths = []
    for start in sorted(begun):
        chain = [start]
        while chain[-1] in following:
            chain.append(following[chain[-1]])
        place, people = zip(*(nodes[n] for n in chain), strict=True)
        paths.append(Path(place, people))
    return paths


def _detection_cost(one: Detection) -> float:
    """Log odds of nobody against somebody."""
    odds = np.log(one.score / (1 - one.score)) - np.log(EVEN_SCORE / (1 - EVEN_SCORE))
    return -float(odds)


def step_cost(one: Detection, other: Detection, apart_s: float) -> float:
    """Negative log likelihood of two detections being one person; 0 for the likeliest step."""
    return motion_cost(one, other, apart_s) + clothes_cost(one.clothes, other.clothes)


def motion_cost(one: Detection, other: Detection, apart_s: float) -> float:
    """Give the same by place and size alone."""
    place = separation(one.image_px, other.image_px) / (STRAY + SPEED * apart_s)
    size = np.log(other.size_px / one.size_px) / (SIZE_SPREAD + SIZE_RATE * min(apart_s, 1.0))
    return 0.5 * float(place**2 + size**2)


def unseen_cost(times: int) -> float:
    """Negative log likelihood of a person going undetected so many times in a row."""
    return UNSEEN + STILL_UNSEEN * (times - 1) if times else 0.0


def clothes_cost(
    one: FloatArray, other: FloatArray, spread: float = CLOTHES_SPREAD, misread: float = MISREAD
) -> float:
    """Negative log likelihood of two colours being the same clothes; 0 where unknown.

    ``spread`` is the standard deviation of the same clothes' colour, ``misread`` the chance that a
    colour is not that of the clothes and tells nothing.
    """
    if not (np.isfinite(one).all() and np.isfinite(other).all()):
        return 0.0
    square = float(np.sum((one - other) ** 2)) / spread**2
    return -float(np.log((1.0 - misread) * np.exp(-0.5 * square) + misread))


def _links(
    samples: Sequence[Sample], nodes: Sequence[tuple[int, Detection]]
) -> list[tuple[int, int, float]]:
    """List the steps that a person may make: from node, to node, cost.

    Skipping pictures serves who goes undetected in them. Past several in which somebody stands just
    where this person would, it serves nobody.
    """
    first = np.searchsorted([place for place, _ in nodes], np.arange(len(samples) + 1))
    links = []
    for number, (place, one) in enumerate(nodes):
        clear = 0
        for later in range(place + 1, len(samples)):
            apart_s = samples[later].time_s - samples[place].time_s
            if apart_s > BRIDGED_S:
                break
            missed = unseen_cost(later - place - 1)
            costs = [
                (step_cost(one, nodes[other][1], apart_s) + missed, other)
                for other in range(first[later], first[later + 1])
            ]
            links += [(number, other, cost) for cost, other in costs if cost < _FURTHEST]
            clear += min(costs, default=(_FURTHEST, 0))[0] < missed + _CLEAR
            if clear == _ENOUGH_CLEAR:
                break
    return links


def _cheapest(
    node_cost: FloatArray, links: Sequence[tuple[int, int, float]]
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Which nodes and links the cheapest paths use.

    Unknowns are the flow through each node, along each link, and into and out of each node; what
    goes into a node goes through it and out.
    """
    count, steps = len(node_cost), len(links)
    start = np.array([a for a, _, _ in links], dtype=np.int64)
    end = np.array([b for _, b, _ in links], dtype=np.int64)
    one = np.ones(count)
    identity = sparse.diags_array(one)
    column = np.arange(steps)
    into = sparse.csr_array((np.ones(steps), (end, column)), shape=(count, steps))
    out_of = sparse.csr_array((np.ones(steps), (start, column)), shape=(count, steps))
    nothing = sparse.csr_array((count, count))
    balance = sparse.vstack(
        [
            sparse.hstack([-identity, into, identity, nothing]),
            sparse.hstack([-identity, out_of, nothing, identity]),
        ]
    )
    cost = np.concatenate([node_cost, [c for *_, c in links], ENTERING * one, ENTERING * one])
    flow = linprog(cost, A_eq=balance.tocsc(), b_eq=np.zeros(2 * count), bounds=(0, 1)).x
    return flow[:count] > 0.5, flow[count : count + steps] > 0.5
