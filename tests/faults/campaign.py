"""The fault campaign: hostile films, kills and write faults, and what they cost.

    python -m tests.faults.campaign [FILM] [--movement NAME] [--share 1] [--only CLASS] [--seed 1]

FILM is an uncut film of one movement, by default a sample clip. The last four numbers printed must
be 0. The whole campaign takes hours: ``--share 0.05`` runs a twentieth of every class, evenly
spread, and ``--only`` one class. Ctrl-C or SIGTERM end it early and print what was tried. On a busy
machine ``FAULTS_SLOWNESS=5`` allows five times the time before something is called a hang.
"""

import argparse
import math
import signal
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults import hostile
from tests.faults.killing import kill_audits
from tests.faults.reader import Reader
from tests.faults.refusing import audit_hostile
from tests.faults.writing import fail_writes

CLASSES = ("reading", "auditing", "writing", "killing")
CUTS, FLIPS, KILLS = 100, 1000, 200
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
    parser.add_argument("--share", type=float, default=1.0)
    parser.add_argument("--only", choices=CLASSES, action="append")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if not 0 < options.share <= 1:
        parser.error("--share is above 0 and at most 1")
    tally = Tally()
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        run_classes(options, tally)
    except KeyboardInterrupt:
        print("ended early; up to here:")
    sys.exit(told(tally))


def run_classes(options: argparse.Namespace, tally: Tally) -> None:
    """Run the asked share of each asked class."""
    film, movement, share, seed = options.film, options.movement, options.share, options.seed
    asked = options.only or CLASSES
    with tempfile.TemporaryDirectory(prefix="repwitness-faults-") as name:
        folder = Path(name)
        if "reading" in asked:
            read_hostile(folder, film, share, seed, tally)
        if "auditing" in asked:
            audit_hostile(folder, film, movement, share, tally)
        if "writing" in asked:
            fail_writes(folder, film, movement, share, tally)
        if "killing" in asked:
            kills = math.ceil(KILLS * share)
            kill_audits(folder, film, movement, kills, seed, tally)


def told(tally: Tally) -> int:
    """Print the numbers and every problem; give the exit status."""
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
    return 1 if problems else 0


def read_hostile(folder: Path, film: Path, share: float, seed: int, tally: Tally) -> None:
    """Read every hostile film to its end, in a process that may die."""
    places = [folder / name for name in ("none", "odd", "damaged")]
    for place in places:
        place.mkdir()
    with Reader() as reader:
        shorts = hostile.containers(places[2], film)
        groups = [hostile.no_films(places[0]), hostile.odd_films(places[1], shorts[0])]
        for short in shorts:
            groups.append(hostile.cut_short(places[2], short, math.ceil(CUTS * share)))
            groups.append(hostile.flipped(places[2], short, math.ceil(FLIPS * share), seed))
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
