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
from counting.workout.likeness import KnownMovements, with_proportions
from vision.track import FloatArray

FILE: Final = Path(str(files("counting.workout"))) / "likeness.json"
_APART: Final = 0.3
"""How far correlations of the scatter are drawn towards none."""
_ALIKE: Final = 10.0
"""Films by which a movement's own scatter is drawn to that of all movements (regularised
discriminant analysis, Friedman 1989). 5 to 20 were tried, with little between them."""


_FEWEST_BODIES: Final = 6
"""Bodies by which a movement is learnt. Of films of bodies left out 5.9, 4.3, 3.1, 1.5 and 0.8 %
were taken for another movement where their own was learnt by 1, 2, 3, 4 and 6."""


def learn_movements(
    films: Sequence[FilmSamples], fewest_bodies: int = _FEWEST_BODIES
) -> KnownMovements:
    """Learn the mean description of each movement, its own scatter, and what scatters together.

    Of movements whose films show so many bodies: no film is taken for another than the rest.
    """
    described = [film for film in films if film.description is not None]
    bodies = {(film.movement, film.body) for film in described}
    shown = Counter(movement for movement, _ in bodies)
    by_name = {
        name: np.array([_described(f) for f in described if f.movement == name])
        for name in sorted(shown)
        if shown[name] >= fewest_bodies
    }
    usual = {name: rows.mean(axis=0) for name, rows in by_name.items()}
    off = {name: rows - usual[name] for name, rows in by_name.items()}
    every = np.concatenate(list(off.values()))
    covariance = every.T @ every / len(every)
    size = np.sqrt(np.diag(covariance))
    together = (1 - _APART) * covariance / np.outer(size, size) + _APART * np.eye(len(size))
    scatter = {
        name: np.sqrt(
            (_unbiased(len(rows)) * (rows**2).sum(axis=0) + _ALIKE * size**2) / (len(rows) + _ALIKE)
        )
        for name, rows in off.items()
    }
    return KnownMovements(usual, scatter, np.linalg.inv(together))


def _described(film: FilmSamples) -> FloatArray:
    return with_proportions(np.array(film.description))


def _unbiased(films: int) -> float:
    """Squares about a mean of as many films are too small by the mean's own share."""
    return films / max(films - 1, 1)


def write_movements(known: KnownMovements, file: Path) -> None:
    """Write what is known of movements, as JSON."""
    document = {
        "usual": _rounded(known.usual),
        "scatter": _rounded(known.scatter),
        "together": [[round(float(v), 4) for v in row] for row in known.together],
    }
    file.write_text(json.dumps(document) + "\n", encoding="utf-8")


def _rounded(by_name: dict[str, FloatArray]) -> dict[str, list[float]]:
    return {name: [round(float(v), 4) for v in values] for name, values in by_name.items()}


def tried_on_bodies_left_out(films: Sequence[FilmSamples]) -> tuple[Counter[str], list[str]]:
    """Count what becomes of audits as each movement; name the films and movements gone wrong."""
    counts: Counter[str] = Counter()
    wrong: list[str] = []
    for body in sorted({film.body for film in films}):
        others = [film for film in films if film.body != body]
        known = learn_movements(others, _FEWEST_BODIES - 1)
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
