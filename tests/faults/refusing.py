"""The whole command on hostile films: the right result, or one line and exit status 3."""

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.faults import hostile
from tests.faults.reader import SLOWNESS

if TYPE_CHECKING:
    from tests.faults.campaign import Tally

LONGEST_S = 120.0 * SLOWNESS
SAME_S = 0.5


def audit_hostile(folder: Path, film: Path, movement: str, share: float, tally: "Tally") -> None:
    """Audit what is no film and what is odd; then the film cut short, against the whole one.

    With ``share`` below 1, that part of each is tried, evenly spread.
    """
    places = [folder / name for name in ("none again", "odd again", "cut")]
    for place in places:
        place.mkdir()
    whole = audited(film, movement, folder / "whole")
    assert whole.returncode == 0, whole.stderr
    true_reps = json.loads(whole.stdout)["reps"]
    (short,) = hostile.containers(folder, film, ("mp4",))
    items = [*hostile.no_films(places[0]), *hostile.odd_films(places[1], short)]
    step = round(1 / share)
    for item in items[::step]:
        tally.inputs += 1
        judged(item, movement, folder / "out", [], tally)
    content = film.read_bytes()
    for part in [*range(2, 10)][:: min(step, 4)]:
        path = places[2] / f"cut{film.suffix}"
        path.write_bytes(content[: len(content) * part // 10])
        tally.inputs += 1
        item = hostile.Hostile(f"audit of {film.name} cut at {part}/10", path)
        judged(item, movement, folder / "out", true_reps, tally)
    print(f"{tally.inputs} inputs, audited ones among them", flush=True)


def audited(film: Path, movement: str, out: Path) -> subprocess.CompletedProcess[str]:
    """Run the command."""
    command = [sys.executable, "-m", "cli", "audit", "--json", "--movement", movement]
    command += ["--workers", "1", "--out", str(out), "--", str(film)]
    return subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_S, check=False)


def judged(
    item: hostile.Hostile,
    movement: str,
    out: Path,
    true_reps: list[dict[str, Any]],
    tally: "Tally",
) -> None:
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
    elif done.returncode == 0 and item.expected == hostile.REFUSED:
        tally.wrong.append(f"taken for a film: {item.name}")
    elif done.returncode == 0:
        record = json.loads(done.stdout)
        tally.wrong += [f"{item.name}: {words}" for words in contradictions(record, true_reps)]


def contradictions(record: dict[str, Any], true_reps: list[dict[str, Any]]) -> list[str]:
    """Say where a sure call contradicts the whole film's: a rep turned from good to no-rep."""
    found = []
    for rep in record["reps"]:
        for true in true_reps:
            same = abs(rep["turn_s"] - true["turn_s"]) < SAME_S
            if same and {rep["verdict"], true["verdict"]} == {"good", "no-rep"}:
                found.append(f"rep at {rep['turn_s']:.1f} s is {rep['verdict']}")
    return found
