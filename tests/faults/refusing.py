"""The whole command on hostile films: the right result, or one line and exit status 3."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.faults import hostile
from tests.faults.processor import children_s
from tests.faults.reader import LONGEST_S, SLOWNESS
from tests.faults.tally import Headway, Part, Tally

GIVEN_UP_S = 120.0 * SLOWNESS
SAME_S = 0.5
TENTHS = range(1, 10)
SURE = ("good", "no-rep")

Reps = list[dict[str, Any]]


def audit_hostile(
    folder: Path, film: Path, long_film: Path, movement: str, part: Part, tally: Tally
) -> None:
    """Audit what is no film, and ``film`` in odd shapes, against ``film`` as it is.

    ``long_film`` is cut short in tenths, and each piece held against the whole.
    """
    before_s = children_s()
    true_reps, true_long = (
        reps_of(audited(whole, movement, folder / f"{whole.stem} whole"))
        for whole in (film, long_film)
    )
    good_s = children_s() - before_s
    items = [(item, true_reps) for item in odd(folder, film)]
    count = len(items) + len(TENTHS)
    tenths = ((item, true_long) for item in cut_in_tenths(folder, long_film))
    headway = Headway("audits", count, part)
    for index, (item, true) in enumerate([*items, *tenths]):
        if part.takes(index):
            tally.inputs += 1
            before_s = children_s()
            judge(item, movement, folder / "out", true, tally)
            took_s = children_s() - before_s
            tally.note_time(took_s, item.name)
            if took_s > good_s + LONGEST_S:
                tally.hangs.append(f"takes {took_s:.0f} s of processor time: {item.name}")
            headway.step(tally)


def odd(folder: Path, film: Path) -> Iterator[hostile.Hostile]:
    """Everything that is no film, and the film in every odd shape."""
    places = [folder / name for name in ("none again", "odd again")]
    for place in places:
        place.mkdir()
    yield from hostile.no_films(places[0])
    yield from hostile.odd_films(places[1], film)


def cut_in_tenths(folder: Path, film: Path) -> list[hostile.Hostile]:
    """The film broken off after each tenth of its bytes."""
    content = film.read_bytes()
    made = []
    for part in TENTHS:
        path = folder / f"broken off at {part}{film.suffix}"
        path.write_bytes(content[: len(content) * part // 10])
        made.append(hostile.Hostile(f"audit of {film.name} cut at {part}/10", path))
    return made


def audited(film: Path, movement: str, out: Path) -> subprocess.CompletedProcess[str]:
    """Run the command."""
    command = [sys.executable, "-m", "cli", "audit", "--json", "--movement", movement]
    command += ["--workers", "1", "--out", str(out), "--", str(film)]
    return subprocess.run(command, capture_output=True, text=True, timeout=GIVEN_UP_S, check=False)


def reps_of(done: subprocess.CompletedProcess[str]) -> Reps:
    """Give the reps of an audit that must succeed."""
    assert done.returncode == 0, done.stderr
    reps: Reps = json.loads(done.stdout)["reps"]
    assert any(rep["verdict"] in SURE for rep in reps), "no sure verdict to compare with"
    return reps


def judge(item: hostile.Hostile, movement: str, out: Path, true: Reps, tally: Tally) -> None:
    """Note what is wrong with the command's answer to one input."""
    try:
        done = audited(item.path, movement, out)
    except subprocess.TimeoutExpired:
        tally.hangs.append(f"hang: {item.name}")
        return
    lines = [line for line in done.stderr.splitlines() if line.strip()]
    if done.returncode not in (0, 3) or "Traceback" in done.stderr:
        tally.crashes.append(f"crash: {item.name}: {done.returncode} {done.stderr[-300:]}")
    elif done.returncode == 3 and (len(lines) != 1 or not lines[0].startswith("repwitness: ")):
        tally.crashes.append(f"not one clear line: {item.name}: {done.stderr[-300:]}")
    elif done.returncode == 3 and item.expected == hostile.SAME:
        tally.wrong.append(f"a good film is refused: {item.name}: {done.stderr.strip()}")
    elif done.returncode == 0 and item.expected == hostile.REFUSED:
        tally.wrong.append(f"taken for a film: {item.name}")
    elif done.returncode == 0:
        reps = json.loads(done.stdout)["reps"]
        tally.wrong += [f"{item.name}: {words}" for words in contradictions(reps, true, item)]


def contradictions(reps: Reps, true: Reps, item: hostile.Hostile) -> list[str]:
    """Say where the answer contradicts what is known of the film it was made from.

    A sure verdict must be on a rep that is there and not opposed to the sure verdict on it. A film
    that should be judged the same must have all reps found. Where times tell nothing, there must
    be no more sure verdicts of a kind than there are in the film or left open there.
    """
    found = []
    if item.expected == hostile.SAME and len(reps) != len(true):
        found.append(f"{len(reps)} of {len(true)} reps are found")
    if item.later_s is None:
        for call in SURE:
            most = sum(rep["verdict"] in (call, "too close") for rep in true)
            if sum(rep["verdict"] == call for rep in reps) > most:
                found.append(f"more than {most} are {call}")
        return found
    for rep in reps:
        if rep["verdict"] not in SURE:
            continue
        turn_s = rep["turn_s"] - item.later_s
        near = [other for other in true if abs(turn_s - other["turn_s"]) < SAME_S]
        if not near:
            found.append(f"there is no rep at {turn_s:.1f} s, yet one is {rep['verdict']}")
        elif {rep["verdict"], near[0]["verdict"]} == set(SURE):
            found.append(f"the rep at {turn_s:.1f} s is {rep['verdict']}")
    return found
