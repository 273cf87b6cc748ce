"""How well stations of a workout are recognised: any shipped movements, as the figure does them.

    PYTHONPATH=tests python -m tests.stations [WORKOUTS [SEED]]

follows workouts of five different movements drawn at random, from random views, and prints for each
how many reps were placed at their station, and for each movement where its reps went.

    PYTHONPATH=tests python -m tests.stations --postures NAME

prints how an attempt at a movement is spread over the postures, for ``[recognised.postures]``.
"""

import sys
from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np
from synthetic.figure import Camera
from synthetic.films import standing
from synthetic.moves import MOVES
from synthetic.script import Script

from counting.movements.loader import find_movement, known_movements
from counting.movements.types import Movement
from counting.signals.extraction import signals_of
from counting.timeline import find_reps
from counting.workout.alignment import follow
from counting.workout.file import parse_workout
from counting.workout.postures import Posture, postures_of
from vision.track import PoseTrack

REPS = 4
NOISE = 0.005


def workout_of(names: Sequence[str]) -> str:
    """The workout's file."""
    head = 'name = "five"\nscoring = "for time"\nmissing_reps = "deducted"\ntime_cap_s = 600\n'
    stations = [f'[[blocks.stations]]\nmovement = "{name}"\nreps = {REPS}\n' for name in names]
    return head + "[[blocks]]\n" + "".join(stations)


def filmed(names: Sequence[str], camera: Camera, seed: int) -> tuple[PoseTrack, list[list[float]]]:
    """Film the stations one after the other; the turning times of each one's reps."""
    rng = np.random.default_rng(seed)
    script = Script(standing()).hold(2.0)
    turns: list[list[float]] = []
    for name in names:
        exercise, load = MOVES[name], find_movement(name).load
        assert load is not None
        for posture, seconds in exercise.into:
            script.move(posture, seconds)
        script.hold(0.5)
        cycle_s = load.cycle_s * rng.uniform(0.9, 1.25)
        turns.append([exercise.rep(script, cycle_s, 1.0) for _ in range(REPS)])
        script.hold(0.4)
        for posture, seconds in exercise.out_of() if exercise.into else ():
            script.move(posture, seconds)
        script.move(standing(script.posture.ankle[0]), 0.6)
        script.move(standing(-0.5), max(1.2, 2.4 * abs(script.posture.ankle[0] + 0.5)))
        script.hold(2.0).move(standing(), 1.2).hold(0.3)
    return script.hold(1.0).play(camera, noise=NOISE, seed=seed), turns


def placed(names: Sequence[str], camera: Camera, seed: int) -> list[tuple[str, str]]:
    """For each true rep its movement and what was found: ``right``, or what it was taken for."""
    movements = known_movements()
    track, turns = filmed(names, camera, seed)
    followed = follow(
        track,
        parse_workout(workout_of(names), "own", movements),
        movements,
        lambda part, movement: find_reps(part, movement).reps,
    )
    free = list(followed.reps)
    said = []
    for run, (name, own) in enumerate(zip(names, turns, strict=True)):
        for turn_s in own:
            near = [one for one in free if one.rep.start_s - 0.2 <= turn_s <= one.rep.end_s + 0.2]
            if not near:
                said.append((name, "not found"))
                continue
            best = min(near, key=lambda one: abs(one.rep.turn_s - turn_s))
            free.remove(best)
            right = best.rep.movement == name and best.run == run
            said.append((name, "right" if right else f"{best.rep.movement} at {best.run}"))
    said += [(one.rep.movement, "invented") for one in free]
    return said


def main(workouts: int, seed: int) -> None:
    """Print the figures."""
    rng = np.random.default_rng(seed)
    every: dict[str, Counter[str]] = defaultdict(Counter)
    for number in range(workouts):
        names = [str(name) for name in rng.choice(sorted(MOVES), 5, replace=False)]
        camera = Camera(
            float(rng.uniform(15.0, 85.0)), rng.uniform(3.2, 4.2), rng.uniform(0.5, 0.8)
        )
        said = placed(names, camera, seed + number)
        right = sum(what == "right" for _, what in said)
        print(
            f"{right:3} of {5 * REPS}  {camera.view_deg:3.0f} deg  {', '.join(names)}", flush=True
        )
        for name, what in said:
            every[name][what] += 1
    total = sum(every.values(), Counter())
    for name, found in sorted(every.items()):
        if found["right"] < found.total():
            print(f"{name}: {dict(found)}")
    true = total.total() - total["invented"]
    print(
        f"{workouts} workouts, {true} reps: {100 * total['right'] / true:.1f} % at their station, "
        f"{total['invented']} invented"
    )


def shares(movement: Movement) -> dict[str, int]:
    """Hundredths of each posture in a movement's reps between two other stations, over three views.

    Of a hundred, 92: what is read of films holds more than what figures do.
    """
    found: Counter[Posture] = Counter()
    for seed, view_deg in enumerate((20.0, 45.0, 75.0)):
        names = ["air squat", movement.name, "deadlift"]
        film, turns = filmed(names, Camera(view_deg, 3.6, 0.7), seed)
        signals = signals_of(film, upside_down=movement.upside_down)
        track = postures_of(film, signals, upside_down=movement.upside_down)
        half_s = (turns[1][-1] - turns[1][0]) / (REPS - 1) / 2
        inside = (track.time_s > turns[1][0] - half_s) & (track.time_s < turns[1][-1] + half_s)
        found.update(Posture(int(one)) for one in track.posture[inside])
    seen = found.total() - found[Posture.UNSEEN]
    return {
        posture.words: round(92 * count / seen)
        for posture, count in found.most_common()
        if posture is not Posture.UNSEEN and 92 * count >= 2 * seen
    }


if __name__ == "__main__":
    if sys.argv[1:2] == ["--postures"]:
        for posture, share in shares(find_movement(sys.argv[2])).items():
            print(f'"{posture}" = {share}' if not posture.isalpha() else f"{posture} = {share}")
    else:
        asked = [int(argument) for argument in sys.argv[1:]]
        main(*(asked + [20, 1][len(asked) :]))
