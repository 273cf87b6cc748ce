"""Records that a careless or a hostile hand has been at, and all that is made from a record.

A record is either refused when it is read, in one line, or everything can be made from it, in a
time that fits its length; it never stops the desk that shows it beside good ones. Where a value
was edited, everything that comes out says so.
"""

import contextlib
import copy
import io
import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import msgspec
import numpy as np
from rich.console import Console
from typer.testing import CliRunner

from cli.audit.opening import Audit
from cli.commands.explain import _lines as explanation
from cli.commands.score import print_score
from cli.errors import UserError
from cli.main import app
from cli.marking import captions_of
from cli.report.page import report_html
from cli.review import pages
from cli.review.desk import Desk, csv_of, json_of, state_of
from cli.review.library import Library
from cli.review.log import LOG_NAME, DecisionLog
from cli.tables.audit import print_audit
from counting.compare.aligning import compare
from counting.pacing.model.attempt import attempt_of
from counting.pacing.model.loads import PacingError
from counting.record.files import RecordError, parse_record, record_json
from counting.record.seal import EDITED, seal_doubt, sealed, stamp
from counting.record.tables import reps_csv, sets_csv
from counting.record.types import AuditRecord
from counting.workout.splits import splits_csv
from counting.workout.whole import scored_again
from tests.conftest import make_attempt
from tests.faults.tally import Headway, Part, Tally
from tests.followed import followed_attempt
from tests.records import continuity

LONGEST_S: Final = 5.0
"""Processor time for everything that is made from one small record."""

Where = tuple[str | int, ...]

ODD: Final[tuple[Any, ...]] = (
    *(None, True, 0, -1, 1, 2, 7, 10**6, 10**12, 10**30, 0.0, -0.5, 0.5, 1e-9, 1e5, 1e9, 1e300),
    *("", "x", "good", "\x1b[31m", "../../x", "a\0b", "=1+1", "y" * 300, "ü\u202e", [], {}, [[]]),
)


def whole_records() -> list[dict[str, Any]]:
    """Give records to start from: of one movement, and of a workout."""
    one = msgspec.structs.replace(
        make_attempt(sets=(6, 2), no_reps=(4,), too_close=(2, 7), series_hz=1.0),
        continuity=continuity("looks continuous", continuous=True),
    )
    other = followed_attempt("g?gn", "gg")
    return [json.loads(record_json(sealed(record))) for record in (one, other)]


def places(value: Any, at: Where = ()) -> Iterator[Where]:
    """Give every place in a document, branches before their leaves."""
    if at:
        yield at
    if isinstance(value, dict):
        for key, item in value.items():
            yield from places(item, (*at, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from places(item, (*at, index))


def mutated(start: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    """Change a record at one to three places: another value, gone, doubled, or moved."""
    document = copy.deepcopy(start)
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        found = list(places(document))
        if not found:
            break
        *before, last = found[rng.integers(len(found))]
        holder: Any = document
        for key in before:
            holder = holder[key]
        kind = rng.integers(5)
        if kind == 0:
            del holder[last]
        elif kind == 1 and isinstance(holder, list):
            holder.insert(int(rng.integers(len(holder) + 1)), copy.deepcopy(holder[last]))
        elif kind == 2:
            holder[last] = copy.deepcopy(ODD[rng.integers(len(ODD))])
        else:
            holder[last] = _alike(holder[last], rng)
    return document


def _alike(value: Any, rng: np.random.Generator) -> Any:
    """Give another value of the same kind, so that types alone do not refuse it."""
    if isinstance(value, float):
        return value * float(rng.choice([-1.0, 0.0, 0.5, 1.01, 3.0, 1e3, 1e8]))
    alike = [odd for odd in ODD if type(odd) is type(value)]
    return copy.deepcopy(alike[rng.integers(len(alike))]) if alike else not value


def make_everything(record: AuditRecord, doubt: str | None) -> None:
    """Make what the commands make of a record."""
    report_html(record, doubt=doubt)
    print_audit(record, Console(file=io.StringIO(), width=120))
    reps_csv(record)
    sets_csv(record)
    captions_of(record, doubt)
    for rep in record.reps:
        explanation(Audit(record, Path(), None, doubt), rep)
    compare(record, record)
    with contextlib.suppress(PacingError):
        attempt_of(record)
    record_json(record)
    if record.workout is not None:
        again = scored_again(record)
        assert again.workout is not None
        splits_csv(again)
        print_score(again, again.workout, Console(file=io.StringIO(), width=120), sets=True)


class DeskOver:
    """A desk over one good record and one that changes."""

    def __init__(self, root: Path, good: AuditRecord) -> None:
        self.file = root / "lane_2.audit" / "audit.json"
        self.file.parent.mkdir(parents=True)
        (root / "lane_1.audit").mkdir()
        (root / "lane_1.audit" / "audit.json").write_text(record_json(good), encoding="utf-8")
        self.desk = Desk(Library(root), DecisionLog(root / LOG_NAME))

    def ask(self, good_file: str) -> bool:
        """Ask for every page; give whether the good record is in the list."""
        page = pages.listing(self.desk, only_open=False)
        pages.agreement_page(self.desk)
        for line in self.desk.lines():
            opened = self.desk.open(line.attempt.key)
            assert opened is not None
            pages.attempt(self.desk, opened)
            pages.signed_report(opened)
            state_of(opened, "Ada")
            csv_of(opened)
            json_of(opened)
        return good_file in page


def read_bad_records(folder: Path, count: list[int], seed: int, tally: Tally) -> None:
    """Put changed records beside a good one, ask the desk for all, and make everything of each."""
    starts = whole_records()
    good = sealed(make_attempt(file="lane_1.mp4"))
    over = DeskOver(folder / "bad records", good)
    headway = Headway("records", len(count), Part(1, 1))
    for number in count:
        rng = np.random.default_rng([seed, 9, number])
        data = json.dumps(mutated(starts[number % len(starts)], rng)).encode()
        over.file.write_bytes(data)
        tally.inputs += 1
        begun_s = time.process_time()
        name = f"record {number}"
        try:
            if not over.ask("lane_1.mp4"):
                tally.lost.append(f"the good record is not listed: {name}")
            record = parse_record(data, "audit.json")
            make_everything(record, seal_doubt(json.loads(data)))
        except RecordError as error:
            if "\n" in str(error):
                tally.crashes.append(f"a refusal of several lines: {name}")
        except Exception as error:
            tally.crashes.append(f"crash: {name}: {type(error).__name__}: {error}")
        took_s = time.process_time() - begun_s
        tally.note_time(took_s, name)
        if took_s > LONGEST_S:
            tally.hangs.append(f"takes {took_s:.0f} s of processor time: {name}")
        headway.step(tally)


READERS: Final[tuple[Callable[[str], list[str]], ...]] = (
    lambda folder: ["score", folder],
    lambda folder: ["score", folder, "--json"],
    lambda folder: ["score", folder, "--csv"],
    lambda folder: ["explain", folder, "--rep", "1", "--no-still"],
    lambda folder: ["compare", folder, folder],
    lambda folder: ["compare", folder, folder, "--json"],
    lambda folder: ["report", folder, "--no-stills"],
)


def edit_records(folder: Path, part: Part, tally: Tally) -> None:
    """Edit each value of a record alone: whatever comes out says so, or nothing comes out."""
    start = whole_records()[1]
    leaves = [at for at in places(start) if at != ("digest",) and _is_leaf(start, at)]
    headway = Headway("edits", len(leaves), part)
    place = folder / "edited.audit"
    place.mkdir()
    for index, at in enumerate(leaves):
        if not part.takes(index):
            continue
        document = copy.deepcopy(start)
        *before, last = at
        holder: Any = document
        for key in before:
            holder = holder[key]
        holder[last] = _other(holder[last])
        (place / "audit.json").write_text(json.dumps(document), encoding="utf-8")
        tally.inputs += 1
        name = "edited " + ".".join(map(str, at))
        for reader in READERS:
            done = CliRunner().invoke(app, reader(str(place)))
            command = reader("")[0]
            if done.exception is None:
                if stamp(EDITED) not in _said(done.stdout, place):
                    tally.wrong.append(f"not stamped: {command} of a record with {name}")
            elif not isinstance(done.exception, UserError):
                tally.crashes.append(f"crash: {command}: {name}: {done.exception!r}")
        headway.step(tally)


def _said(stdout: str, place: Path) -> str:
    """Give what a command printed, or wrote where it printed the name of what it wrote."""
    report = place / "report.html"
    said = report.read_text(encoding="utf-8") if str(report) in stdout else stdout
    return " ".join(said.lower().split())


def _is_leaf(document: Any, at: Where) -> bool:
    for key in at:
        document = document[key]
    return not isinstance(document, dict | list)


def _other(value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return value * 0.99 + 0.001
    return f"{value}." if isinstance(value, str) else 1
