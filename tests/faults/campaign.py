"""The fault campaign: hostile films, kills and write faults, and what they cost.

    python -m tests.faults.campaign [FILM] [--movement NAME] [--flips 1000] [--kills 200] [--seed 1]

FILM is an uncut film of one movement, by default a sample clip. What is printed last must all be 0.
"""

import argparse
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults import hostile
from tests.faults.killing import kill_audits
from tests.faults.reader import Reader
from tests.faults.refusing import audit_hostile
from tests.faults.writing import fail_writes

SAMPLE = Path(__file__).parents[2] / "sample_clips" / "boathouse_thrusters.mp4"


@dataclass
class Tally:
    """What was tried and what went wrong."""

    inputs: int = 0
    faults: int = 0
    kills: int = 0
    crashes: list[str] = field(default_factory=list)
    hangs: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("film", nargs="?", type=Path, default=SAMPLE)
    parser.add_argument("--movement", default="thruster")
    parser.add_argument("--flips", type=int, default=1000)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="repwitness-faults-") as name:
        folder = Path(name)
        read_hostile(folder, options.film, options.flips, options.seed, tally)
        audit_hostile(folder, options.film, options.movement, tally)
        fail_writes(folder, options.film, options.movement, tally)
        kill_audits(folder, options.film, options.movement, options.kills, options.seed, tally)
    for words, count in (
        ("inputs tried", tally.inputs),
        ("faults injected", tally.faults),
        ("kills", tally.kills),
        ("crashes", len(tally.crashes)),
        ("hangs", len(tally.hangs)),
        ("wrong confident answers", len(tally.wrong)),
        ("outputs lost", len(tally.lost)),
    ):
        print(f"{words:24} {count}")
    problems = [*tally.crashes, *tally.hangs, *tally.wrong, *tally.lost]
    print(*problems, sep="\n", end="\n" if problems else "")
    sys.exit(1 if problems else 0)


def read_hostile(folder: Path, film: Path, flips: int, seed: int, tally: Tally) -> None:
    """Read every hostile film to its end, in a process that may die."""
    places = [folder / name for name in ("none", "odd", "damaged")]
    for place in places:
        place.mkdir()
    with Reader() as reader:
        shorts = hostile.containers(places[2], film)
        groups = [hostile.no_films(places[0]), hostile.odd_films(places[1], shorts[0])]
        for short in shorts:
            groups.append(hostile.cut_short(places[2], short))
            groups.append(hostile.flipped(places[2], short, flips, seed))
        for group in groups:
            for item in group:
                tally.inputs += 1
                answer = reader.ask(item.path)
                if answer == "hang":
                    tally.hangs.append(f"hang: {item.name}")
                elif answer.startswith(("fault", "died")):
                    tally.crashes.append(f"crash: {item.name}: {answer}")
                elif item.expected == hostile.REFUSED and not answer.startswith("refused"):
                    tally.wrong.append(f"taken for a film: {item.name}: {answer}")
            print(f"{tally.inputs} inputs read or refused", flush=True)


if __name__ == "__main__":
    main()
