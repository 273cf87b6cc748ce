"""The fault campaign: hostile films, kills and write faults, and what they cost.

    python -m tests.faults.campaign [--part 1/20] [--only CLASS] [--after N] [--seed 1]

Crashes, hangs, wrong confident answers and outputs lost must be 0. The whole takes more than an
hour of one core: ``--part 1/20`` runs the first of twenty parts, evenly spread over every class,
and all twenty make the whole; ``--only`` runs one class, and ``--after N`` leaves out its first N
things, for a class that was ended early. Ctrl-C or SIGTERM end it and print what was tried. A hang
is ten seconds of processor time, or of the clock; on a busy machine ``FAULTS_SLOWNESS=5`` allows
five times that of the clock. ``TMPDIR`` on a disk in memory makes it cheaper.
"""

import argparse
import itertools
import signal
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from tests.faults import hostile
from tests.faults.disks import fill_disks
from tests.faults.killing import kill_audits
from tests.faults.killing_review import kill_reviews
from tests.faults.losing_log import lose_logs
from tests.faults.reader import Reader
from tests.faults.records import edit_records, read_bad_records
from tests.faults.refusing import audit_hostile
from tests.faults.streams import tell_everything
from tests.faults.tally import Headway, Part, Tally
from tests.faults.timing import time_copies
from tests.faults.writing import fail_writes

CLASSES = ("reading", "timing", "auditing", "writing", "disks", "killing", "reviewing", "telling")
CLASSES += ("records", "edits", "logs")
BAD_RECORDS, LOST_LOGS = 20_000, 240
CUTS, FLIPS, AUDIT_KILLS, REVIEW_KILLS = 100, 1000, 140, 60
SAMPLES = sorted((Path(__file__).parents[2] / "sample_clips").glob("*.mp4"))
SQUATS = next(film for film in SAMPLES if film.stem.endswith("squats"))
MOVEMENT = "air_squat"


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--part", type=Part.parse, default=Part(1, 1))
    parser.add_argument("--only", choices=CLASSES, action="append")
    parser.add_argument("--after", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    if options.after and len(options.only or CLASSES) != 1:
        parser.error("--after needs --only")
    part = replace(options.part, after=options.after)
    tally = Tally()
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        run_classes(options.only or CLASSES, part, options.seed, tally)
    except KeyboardInterrupt:
        print("ended early; up to here:")
    sys.exit(told(tally))


def run_classes(asked: list[str], part: Part, seed: int, tally: Tally) -> None:
    """Run the asked part of each asked class."""
    with tempfile.TemporaryDirectory(prefix="repwitness-faults-") as name:
        folder = Path(name)
        film = hostile.piece(folder, SQUATS, 4.5)
        if "reading" in asked:
            read_hostile(folder, part, seed, tally)
        if "timing" in asked:
            time_copies(folder, SQUATS, part, tally)
        if "auditing" in asked:
            audit_hostile(folder, film, SQUATS, MOVEMENT, part, tally)
        if "writing" in asked:
            fail_writes(folder, film, MOVEMENT, part, tally)
        if "disks" in asked:
            fill_disks(folder, film, MOVEMENT, part, tally)
        if "killing" in asked:
            kill_audits(folder, film, MOVEMENT, part.of_all(AUDIT_KILLS), seed, tally)
        if "reviewing" in asked:
            kill_reviews(folder, part.of_all(REVIEW_KILLS), seed, tally)
        if "telling" in asked:
            tell_everything(folder, part, tally)
        if "records" in asked:
            read_bad_records(folder, part.of_all(BAD_RECORDS), seed, tally)
        if "edits" in asked:
            edit_records(folder, part, tally)
        if "logs" in asked:
            lose_logs(folder, part.of_all(LOST_LOGS), seed, tally)


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
    print("slowest input            {:.1f} s of processor time: {}".format(*tally.slowest))
    print("".join(f"{problem}\n" for problem in tally.problems), end="")
    return 1 if tally.problems else 0


def read_hostile(folder: Path, part: Part, seed: int, tally: Tally) -> None:
    """Read every hostile film to its end, in a process that may die."""
    places = [folder / name for name in ("none", "odd", "damaged")]
    for place in places:
        place.mkdir()
    shorts = hostile.containers(places[2], SQUATS)
    odd = [*hostile.no_films(places[0]), *hostile.odd_films(places[1], shorts[0])]
    for film in SAMPLES:
        if film != SQUATS:
            shorts += hostile.containers(places[2], film, ("mp4",), start_s=5.0)
    headway = Headway("inputs", len(odd) + len(shorts) * (CUTS - 1 + FLIPS), part)
    with Reader() as reader:
        for index, item in enumerate(itertools.chain(odd, damaged(places[2], shorts, seed))):
            if not part.takes(index):
                continue
            tally.inputs += 1
            answer = reader.ask(item.path)
            tally.note_time(reader.took_s, item.name)
            if answer == "hang":
                tally.hangs.append(f"hang: {item.name}")
            elif answer.startswith(("fault", "died")):
                tally.crashes.append(f"crash: {item.name}: {answer}")
            elif item.expected == hostile.REFUSED and not answer.startswith("refused"):
                tally.wrong.append(f"taken for a film: {item.name}: {answer}")
            headway.step(tally)


def damaged(folder: Path, shorts: list[Path], seed: int) -> Iterator[hostile.Hostile]:
    """Cut every film off everywhere, and flip bits of it."""
    for short in shorts:
        yield from hostile.cut_short(folder, short, CUTS)
        yield from hostile.flipped(folder, short, FLIPS, seed)


if __name__ == "__main__":
    main()
