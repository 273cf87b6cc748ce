"""Measure what is found of edits that FFmpeg makes, and what is invented in films without.

    python -m tests.faults.continuity FILM... [--long-side 640] [--seed 1] [--part 2/5]

Each film is scaled once, at a high quality, and that re-encoded five times: as it is, at a low
quality, with stretches of 0.5 to 2 s cut out, and with one stretch doubled and one played at 1.25
times its speed. The films given must be uncut. A cut counts as visible where the picture before
and the picture after it differ by more than two usual steps of motion near by; a cut in a pause
leaves nothing to see. Edits depend on the seed and the film's place in the list alone: parts add
up to the whole.
"""

import argparse
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tests.faults.edits import Piece, edited
from vision.continuity.assess import assess_continuity
from vision.continuity.steps import (
    LONG_SIDE_PX,
    FloatPicture,
    differences,
    largest,
    small_grey,
    smooth,
)
from vision.continuity.types import Continuity
from vision.continuity.watch import PictureWatch
from vision.film.frames import frames
from vision.film.reading import read_film

FloatArray = npt.NDArray[np.float64]

SMALL_QUALITY = 14
NEAR_S = 0.15
VISIBLE_STEPS = 2.0
NEIGHBOURS_S = 0.3


@dataclass
class Tally:
    """Counts over all films."""

    films: int = 0
    invented: list[str] = field(default_factory=list)
    cuts: int = 0
    cuts_found: int = 0
    visible: int = 0
    visible_found: int = 0
    doubled: int = 0
    doubled_found: int = 0
    doubled_named: int = 0
    speeds: int = 0
    speeds_found: int = 0
    missed: list[str] = field(default_factory=list)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("films", nargs="+", type=Path)
    parser.add_argument("--long-side", type=int, default=640)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", default="1/1", help="every Nth film, from the Kth on: K/N")
    arguments = parser.parse_args()
    part, parts = (int(number) for number in arguments.part.split("/"))
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        for number, film in list(enumerate(arguments.films))[part - 1 :: parts]:
            rng = np.random.default_rng([arguments.seed, number])
            try:
                measure(film, Path(folder), arguments.long_side, rng, tally)
            except subprocess.CalledProcessError as error:
                print(f"{film}: FFmpeg failed: {error.stderr.decode(errors='replace')[-300:]}")
            print(
                f"{film}: so far {tally.cuts_found} of {tally.cuts} cuts, {tally.visible_found} of "
                f"{tally.visible} visible ones; {len(tally.invented)} breaks invented",
                flush=True,
            )
    print(f"films                  {tally.films}")
    print(f"invented breaks        {len(tally.invented)}")
    print(f"cuts found             {tally.cuts_found} of {tally.cuts}")
    print(f"  of visible ones      {tally.visible_found} of {tally.visible}")
    print(f"doubled found          {tally.doubled_found} of {tally.doubled}")
    print(f"  and named so         {tally.doubled_named}")
    print(f"1.25 x speed found     {tally.speeds_found} of {tally.speeds}")
    for line in [*tally.invented, *tally.missed]:
        print(line)


def measure(
    film: Path, folder: Path, long_side: int, rng: np.random.Generator, tally: Tally
) -> None:
    """Make the edits of one film and add what was found to the tally."""
    facts = read_film(film)
    length_s = facts.duration_s
    tally.films += 1
    small = edited(film, folder / "small.mp4", [Piece(0.0, length_s)], long_side, SMALL_QUALITY)
    for name, quality in (("re-encoded", 24), ("low quality", 36)):
        whole = edited(small, folder / "a.mp4", [Piece(0.0, length_s)], long_side, quality)
        _note_invented(tally, film, name, _assess(whole), [])
    pieces, cuts = _with_cuts(length_s, rng)
    found, times_s, pictures = _assess_and_keep(edited(small, folder / "b.mp4", pieces, long_side))
    for cut_s, lost_s in cuts:
        visible = _steps_across(times_s, pictures, cut_s) > VISIBLE_STEPS
        hit = _break_near(found, cut_s, cut_s)
        tally.cuts += 1
        tally.cuts_found += hit
        tally.visible += visible
        tally.visible_found += hit and visible
        if not hit:
            seen = "visible" if visible else "nothing to see"
            tally.missed.append(f"{film}: cut of {lost_s:.2f} s at {cut_s:.2f} s not found, {seen}")
    _note_invented(tally, film, "cut", found, [(t, t) for t, _ in cuts])
    if length_s < 14:
        return
    start_s = float(rng.uniform(2.0, length_s / 2 - 3.0))
    pieces = [Piece(0.0, start_s + 1.5), Piece(start_s, length_s)]
    found = _assess(edited(small, folder / "c.mp4", pieces, long_side, 26))
    tally.doubled += 1
    if _break_near(found, start_s + 1.5, start_s + 1.5):
        tally.doubled_found += 1
        tally.doubled_named += any(f.kind == "doubled stretch" for f in found.findings)
    else:
        tally.missed.append(f"{film}: doubled {start_s:.2f} to {start_s + 1.5:.2f}: {found.words}")
    pieces = [
        Piece(0.0, start_s),
        Piece(start_s, start_s + 5.0, 1.25),
        Piece(start_s + 5.0, length_s),
    ]
    found = _assess(edited(small, folder / "d.mp4", pieces, long_side, 26))
    tally.speeds += 1
    if any(f.kind == "speed change" and f.breaks for f in found.findings):
        tally.speeds_found += 1
    else:
        tally.missed.append(
            f"{film}: 1.25 x from {start_s:.2f} to {start_s + 4:.2f}: {found.words}"
        )
    _note_invented(tally, film, "speed", found, [(start_s, start_s + 4.0)])


def _assess(path: Path) -> Continuity:
    return assess_continuity(read_film(path))


def _assess_and_keep(path: Path) -> tuple[Continuity, FloatArray, list[FloatPicture]]:
    """Assess a film; keep its presentation times and small smooth pictures, too."""
    film, watch = read_film(path), PictureWatch()
    times_s, pictures = [], []
    for frame in frames(film, long_side_px=LONG_SIDE_PX):
        watch.push(frame.time_s, frame.picture)
        times_s.append(frame.time_s)
        pictures.append(smooth(small_grey(frame.picture)))
    return assess_continuity(film, watched=watch.finish()), np.array(times_s), pictures


def _steps_across(times_s: FloatArray, pictures: list[FloatPicture], cut_s: float) -> float:
    """Change of the picture across a cut, in usual steps near by."""
    at = int(np.searchsorted(times_s, cut_s - 1e-3))
    near = np.flatnonzero(np.abs(times_s - times_s[at]) <= NEIGHBOURS_S)
    steps = [largest(differences(pictures[k - 1], pictures[k])) for k in near if k >= 1 and k != at]
    return largest(differences(pictures[at - 1], pictures[at])) / float(np.median(steps))


def _with_cuts(
    length_s: float, rng: np.random.Generator
) -> tuple[list[Piece], list[tuple[float, float]]]:
    pieces: list[Piece] = []
    cuts: list[tuple[float, float]] = []
    source_s = film_s = 0.0
    while source_s + 6.0 < length_s:
        kept_s, lost_s = float(rng.uniform(2.0, 4.0)), float(rng.uniform(0.5, 2.0))
        pieces.append(Piece(source_s, source_s + kept_s))
        film_s += kept_s
        source_s += kept_s + lost_s
        cuts.append((film_s, lost_s))
    return [*pieces, Piece(source_s, length_s)], cuts


def _break_near(found: Continuity, start_s: float, end_s: float) -> bool:
    return any(
        f.breaks and f.start_s - NEAR_S <= end_s and f.end_s + NEAR_S >= start_s
        for f in found.findings
    )


def _note_invented(
    tally: Tally,
    film: Path,
    name: str,
    found: Continuity,
    real: list[tuple[float, float]],
) -> None:
    for finding in found.findings:
        if finding.breaks and not any(
            finding.start_s - 0.7 <= end and finding.end_s + 0.7 >= start for start, end in real
        ):
            tally.invented.append(f"{film} ({name}): {finding.words}")


if __name__ == "__main__":
    main()
