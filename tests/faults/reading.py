"""Reads films named on its input, one a line, each to its end: the process that may crash.

    python -m tests.faults.reading

Answers each with one line: ``read N``, ``refused SENTENCE`` or ``fault WHAT``.
"""

import json
import sys
import traceback
from pathlib import Path

from counting.workout.countdown import find_start_signal
from vision.continuity.assess import assess_continuity
from vision.film.errors import FilmError
from vision.film.frames import frames
from vision.film.reading import read_film
from vision.film.types import Film
from vision.sound.reading import SoundError, sound_of


def answer(path: Path) -> str:
    """Read one film whole, picture and sound."""
    try:
        film = read_film(path)
        seen = sum(1 for _ in frames(film, long_side_px=64, threads=1))
        assess_continuity(film)
        if seen > film.frames:
            return f"fault {seen} pictures of {film.frames} frames"
        listen(film)
        return f"read {seen}"
    except FilmError as error:
        return f"refused {' '.join(str(error).split())}"
    except Exception:
        return f"fault {' | '.join(traceback.format_exc().split(chr(10))[-6:])}"


def listen(film: Film) -> None:
    """Look for a countdown in the sound, where there is any."""
    try:
        sound = sound_of(film)
    except SoundError:
        return
    if sound is not None:
        find_start_signal(sound)


def main() -> None:
    """Answer line by line."""
    for line in sys.stdin:
        print(answer(Path(json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
