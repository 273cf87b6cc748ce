"""Learning what each movement usually looks like, and how often a wrong one is noticed.

    python -m counting.lab.likeness [READINGS]

learns from the readings that are kept and writes the packaged file; prints, for films whose body
was left out, how many audits as another movement are noticed and how many right ones are not taken.
"""

import argparse
import json
from collections import Counter
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Final

import numpy as np

from counting.lab.calibrate import READINGS
from counting.lab.readings import FilmSamples, load_readings
from counting.workout.likeness import KnownMovements

FILE: Final = Path(str(files("counting.workout"))) / "likeness.json"
_APART = 0.3
"""How far correlations of the scatter are drawn towards none."""


def learn_movements(films: Sequence[FilmSamples]) -> KnownMovements:
    """Mean description of each movement, and the precision of the scatter common to all."""
    described = [film for film in films if film.description is not None]
    by_name = {
        name: np.array([f.description for f in described if f.movement == name])
        for name in sorted({film.movement for film in described})
    }
    usual = {name: rows.mean(axis=0) for name, rows in by_name.items()}
    scatter = np.concatenate([rows - usual[name] for name, rows in by_name.items()])
    covariance = scatter.T @ scatter / len(scatter)
    drawn = (1 - _APART) * covariance + _APART * np.diag(np.diag(covariance))
    return KnownMovements(usual, np.linalg.inv(drawn + 1e-8 * np.eye(len(drawn))))


def write_movements(known: KnownMovements, file: Path) -> None:
    """Write what is known of movements, as JSON."""
    document = {
        "usual": {n: [round(float(v), 4) for v in mean] for n, mean in known.usual.items()},
        "precision": [[round(float(v), 3) for v in row] for row in known.precision],
    }
    file.write_text(json.dumps(document) + "\n", encoding="utf-8")


def tried_on_bodies_left_out(films: Sequence[FilmSamples]) -> tuple[Counter[str], list[str]]:
    """Count what becomes of audits as each movement; name the films and movements gone wrong."""
    counts: Counter[str] = Counter()
    wrong: list[str] = []
    for body in sorted({film.body for film in films}):
        known = learn_movements([film for film in films if film.body != body])
        for film in films:
            if film.body != body or film.description is None:
                continue
            likeness = known.likeness(np.array(film.description))
            for name in known.usual:
                taken_for = likeness.looks_like_another(name)
                kind = "right" if name == film.movement else "wrong"
                counts[f"{kind}, {'noticed' if taken_for else 'taken'}"] += 1
                if (kind == "right") == (taken_for is not None):
                    wrong.append(f"{film.name} as {name}: {taken_for}")
    return counts, wrong


def main(arguments: Sequence[str] | None = None) -> None:
    """Learn, print what it is worth, write."""
    parser = argparse.ArgumentParser(prog="python -m counting.lab.likeness", description=__doc__)
    parser.add_argument("readings", nargs="?", type=Path, default=READINGS)
    parser.add_argument("--out", type=Path, default=FILE, help="where to write")
    options = parser.parse_args(arguments)
    films = load_readings(options.readings)
    counts, wrong = tried_on_bodies_left_out(films)
    for kind, count in sorted(counts.items()):
        print(f"movement {kind}: {count}")
    print("\n".join(wrong))
    write_movements(learn_movements(films), options.out)


if __name__ == "__main__":
    main()
