"""The bench: how fast Repwitness is beside the bare pose loop, in one run on one machine.

    python -m tests.bench [--json FILE] [--only NAME ...] [--seconds 60] [--clip FILE]

Ratios are taken within the run: other machines and busy ones give other seconds, but much the same
ratios. ``--json`` keeps the figures; ``--beside`` prints those of an earlier run in a column.
"""

import argparse
import json
import os
import platform
import sys
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from rich.console import Console
from rich.table import Table

from cli.audit.request import AuditRequest
from counting.record.types import AuditRecord
from tests.bench.films import HD, LAP_S, UHD, Make, make_film
from tests.bench.running import ROOT, Run, run
from vision.cores import core_count

SAMPLES: Final = ROOT / "sample_clips"
CLIP: Final = SAMPLES / "boathouse_thrusters.mp4"
MOVEMENT: Final = "thruster"
MIB: Final = 1024**2
COUNTING_MINUTES: Final = (1.0, 5.0, 15.0, 30.0, 60.0)
AGAIN_S: Final = 900.0
SPARING: Final = {
    "boathouse_air_squats.mp4": "air squat",
    "boathouse_chest_to_bar.mp4": "chest-to-bar pull-up",
    "boathouse_thrusters.mp4": "thruster",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table: a measured figure, and what is asked of it where something is."""

    name: str
    value: float
    unit: str
    asked: str = ""


class Bench:
    """Films, runs and figures of one bench; runs that several parts need are made once."""

    def __init__(self, clip: Path, movement: str, seconds: float, minutes: float) -> None:
        self.clip, self.movement, self.seconds, self.minutes = clip, movement, seconds, minutes
        self.folder = Path(tempfile.gettempdir()) / "repwitness-bench"
        self.figures: list[Figure] = []
        self.shares: dict[str, float] = {}
        self.scale: dict[str, float] = {}
        self._runs: dict[str, Run] = {}

    def add(self, name: str, value: float, unit: str, asked: str = "") -> None:
        """Keep a figure and say it at once on the error stream."""
        self.figures.append(Figure(name, value, unit, asked))
        print(f"{name}: {value:.4g} {unit}", file=sys.stderr, flush=True)

    def film(self, kind: tuple[str, int, int], seconds: float) -> Path:
        """Give the clip as a longer film of another size."""
        encoder, short_side_px, rate_hz = kind
        return make_film(self.clip, self.folder, Make(seconds, short_side_px, rate_hz, encoder))

    def audited(self, film: Path, *options: str) -> Run:
        """Audit a film in a process of its own, from nothing."""
        with tempfile.TemporaryDirectory() as out:
            asked = ["audit", str(film), "--movement", self.movement, "--out", out, *options]
            return checked(run(["-c", "from cli.main import run; run()", *asked]))

    def bare(self) -> Run:
        """Run the bare loop on the 1080p30 film, once."""
        if "bare" not in self._runs:
            model = ROOT / "vision" / "models" / "pose_landmarker_full.task"
            film = self.film(HD, self.seconds)
            self._runs["bare"] = checked(run(["-m", "tests.bench.bare", str(film), str(model)]))
        return self._runs["bare"]

    def request(self, film: Path, out: Path = Path()) -> AuditRequest:
        """Ask for an audit of a film as the command line does."""
        return AuditRequest(film, self.movement, None, (), out)


def checked(made: Run) -> Run:
    """Refuse figures of a run that failed."""
    if made.status:
        raise RuntimeError(f"a run ended with status {made.status}: {made.said}")
    return made


def speed(bench: Bench) -> None:
    """Measure default and thorough audits of a 1080p30 film beside the bare loop."""
    film, bare = bench.film(HD, bench.seconds), bench.bare()
    bench.add("bare loop, 1080p30", bench.seconds / bare.wall_s, "× real time")
    bench.add("bare loop, processor time", bare.processor_s / bench.seconds, "s per film s")
    for name, options, ratio, real in (
        ("default", (), "≥ 4", "≥ 6"),
        ("every frame", ("--thorough",), "≥ 1.9", ""),
    ):
        made = bench.audited(film, *options)
        bench.add(f"{name}, 1080p30", bench.seconds / made.wall_s, "× real time", real)
        bench.add(f"{name}, 1080p30", bare.wall_s / made.wall_s, "× bare loop", ratio)
        bench.add(f"{name}, processor time", made.processor_s / bench.seconds, "s per film s")
        # On a machine that others use, processor time tells more than wall time.
        less = bare.processor_s / made.processor_s
        bench.add(f"{name}, processor time", less, "× less than bare loop")
        bench.add(f"{name}, peak memory", made.peak_bytes / MIB, "MiB", "≤ 1536")
        if name == "default":
            bench.scale["film_s_per_core_s"] = bench.seconds / made.processor_s


def large(bench: Bench) -> None:
    """Measure a 2160p60 HEVC film with default settings."""
    seconds = min(bench.seconds, 20.0)
    made = bench.audited(bench.film(UHD, seconds))
    bench.add("default, 2160p60 HEVC", seconds / made.wall_s, "× real time", "≥ 1")
    bench.add("default, 2160p60, peak memory", made.peak_bytes / MIB, "MiB")


def stages(bench: Bench) -> None:
    """Measure the share of each stage."""
    from tests.bench.stages import stage_shares

    bench.shares = stage_shares(bench.request(bench.film(HD, bench.seconds)))


def memory(bench: Bench) -> None:
    """Measure how memory grows over a long film."""
    import numpy as np

    seconds = 60.0 * bench.minutes
    made = bench.audited(bench.film(HD, seconds))
    time_s, size = np.array(made.memory, dtype=float).T
    # The start, with its imports and models, and the end, with its tables, are no growth.
    steady = (time_s > 0.2 * made.wall_s) & (time_s < 0.9 * made.wall_s)
    slope = np.polyfit(time_s[steady], size[steady] / MIB, 1)[0]
    frames_per_s = seconds * HD[2] / made.wall_s
    bench.add(
        f"growth of memory over {bench.minutes:g} minutes",
        float(slope) / frames_per_s * 10_000,
        "MiB per 10 000 frames",
        "< 1",
    )
    bench.add("peak memory, long film", made.peak_bytes / MIB, "MiB", "≤ 1536")


def counting(bench: Bench) -> None:
    """Measure the way from landmarks to record, and its growth with the film's length."""
    from cli.audit.run import audit_film
    from tests.bench.from_landmarks import growth
    from vision.track import load_track

    with tempfile.TemporaryDirectory() as out:
        record = audit_film(bench.request(bench.clip, Path(out)), lambda *_progress: None)
        assert record.landmarks_file is not None
        file = Path(out) / record.landmarks_file
        bench.scale["landmark_bytes_per_s"] = file.stat().st_size / record.film.duration_s
        bench.scale["record_bytes"] = float((Path(out) / "audit.json").stat().st_size)
        grown = growth(load_track(file), bench.movement, COUNTING_MINUTES)
    each = zip(grown.minutes, grown.processor_s, grown.wall_s, strict=True)
    for minutes, spent_s, waited_s in each:
        name, asked = f"landmarks to verdicts, {minutes:.0f} minutes", round(minutes) == 15
        bench.add(name, waited_s, "s", "< 1" if asked else "")
        bench.add(f"{name}, processor time", spent_s, "s")
    bench.add("growth with length", grown.exponent, "exponent", "≈ 1")


def batch(bench: Bench) -> None:
    """Measure a batch of 20 clips with one worker and with one a core."""
    with tempfile.TemporaryDirectory() as folder:
        films = Path(folder) / "films"
        films.mkdir()
        for number in range(20):
            (films / f"{number:02}.mp4").symlink_to(bench.film(("libx264", 720, 30), 6.0))
        wall_s = []
        for workers in (1, core_count()):
            asked = ["batch", str(films), "--movement", bench.movement]
            asked += ["--out", f"{folder}/out{workers}", "--workers", str(workers)]
            wall_s.append(checked(run(["-c", "from cli.main import run; run()", *asked])).wall_s)
    bench.add(f"batch of 20, {core_count()} workers", wall_s[0] / wall_s[1], "× one", "≥ 1.8")


def start(bench: Bench) -> None:
    """Measure the time of ``--help``, least of five, and of a re-audit, least of three."""
    from cli.audit.run import audit_film
    from tests.bench.again import keep_results
    from vision.track import load_track

    helps = [checked(run(["-c", "from cli.main import run; run()", "--help"])) for _ in range(5)]
    bench.add("repwitness --help", min(made.wall_s for made in helps), "s", "< 0.3")
    least_s = min(made.processor_s for made in helps)
    bench.add("repwitness --help, processor time", least_s, "s")
    lap, film = bench.film(HD, LAP_S), bench.film(HD, AGAIN_S)
    with tempfile.TemporaryDirectory() as out:
        # One lap is looked at; the long film's landmarks are its own, over and over.
        first = audit_film(bench.request(lap, Path(out) / "lap"), lambda *_progress: None)
        assert first.landmarks_file is not None
        track = load_track(Path(out) / "lap" / first.landmarks_file)
        keep_results(lap, track, bench.request(film, Path(out) / "film"))
        command = ["-c", "from cli.main import run; run()", "audit", str(film)]
        command += ["--movement", bench.movement, "--out", str(Path(out) / "film")]
        again = min((checked(run(command)) for _ in range(3)), key=lambda made: made.wall_s)
    bench.add("audit again, 15 minutes", again.wall_s, "s", "< 2")
    bench.add("audit again, 15 minutes, processor time", again.processor_s, "s")


def sparing(bench: Bench) -> None:
    """Compare default audits with those that look at every frame, on the sample clips."""
    from tests.bench.looking import audit_record
    from tests.bench.sparing import Compared, compared

    total = Compared()
    for clip, movement in SPARING.items():
        found = []
        for options in ((), ("--thorough",)):
            with tempfile.TemporaryDirectory() as out:
                asked = ["audit", str(SAMPLES / clip), "--movement", movement, "--out", out]
                checked(run(["-c", "from cli.main import run; run()", *asked, *options]))
                found.append([rep.verdict for rep in audit_record(Path(out)).reps])
        total += compared(*found)
    bench.add("sparing against every frame, reps", total.reps, "")
    bench.add("counted otherwise", total.counted_otherwise, "reps", "0")
    bench.add("good against no-rep", total.opposite, "reps", "0")
    bench.add("too close in one only", total.moved / total.reps, "of all", "≤ 0.01")


def looking_record(bench: Bench) -> AuditRecord:
    """Audit the clip once, for the parts that show it."""
    from tests.bench.looking import audit_record

    with tempfile.TemporaryDirectory() as out:
        asked = ["audit", str(bench.clip), "--movement", bench.movement, "--out", out]
        checked(run(["-c", "from cli.main import run; run()", *asked]))
        return audit_record(Path(out))


def desk(bench: Bench) -> None:
    """Measure the review desk over 500 audits, and four writers at once."""
    from tests.bench.looking import AUDITS, EACH, WRITERS, desk_figures

    got = desk_figures(looking_record(bench))
    bench.add(f"desk, list of {AUDITS}, first paint", got["list_paint_s"], "s", "< 0.5")
    bench.add(f"desk, list of {AUDITS}, processor time", got["list_processor_s"], "s")
    bench.add("desk, attempt, first paint", got["attempt_paint_s"], "s", "< 0.5")
    bench.add("desk, call to screen", got["call_s"], "s", "< 0.1")
    bench.add(f"desk, {WRITERS} writers, kept", got["kept"], f"of {WRITERS * EACH}")
    bench.add(f"desk, {WRITERS} writers", got["writers_s"], "s")


def report(bench: Bench) -> None:
    """Measure the report of a 15-minute film."""
    from tests.bench.looking import report_figures

    got = report_figures(looking_record(bench), 15.0)
    bench.add("report, 15 minutes, size", got["bytes"] / MIB, "MiB", "≤ 2.86 (3 MB)")
    bench.add("report, 15 minutes, opens", got["open_s"], "s", "< 1")
    bench.add("report, 15 minutes, printed", got["pages"], "pages", "2")


def mark(bench: Bench) -> None:
    """Measure the marked film from 1080p30, without and with faces hidden."""
    film = bench.film(HD, bench.seconds)
    with tempfile.TemporaryDirectory() as out:
        command = ["-c", "from cli.main import run; run()"]
        asked = ["audit", str(film), "--movement", bench.movement, "--out", out]
        checked(run([*command, *asked]))
        for name, options in (("mark", ()), ("mark, faces hidden", ("--hide-faces",))):
            made = checked(run([*command, "mark", str(film), out, *options]))
            bench.add(f"{name}, 1080p30", bench.seconds / made.wall_s, "× real time", "≥ 2")
            bench.add(f"{name}, processor time", made.processor_s / bench.seconds, "s per film s")


PARTS: Final[dict[str, Callable[[Bench], None]]] = {
    "start": start,
    "speed": speed,
    "stages": stages,
    "counting": counting,
    "sparing": sparing,
    "batch": batch,
    "large": large,
    "memory": memory,
    "desk": desk,
    "report": report,
    "mark": mark,
}


def document(bench: Bench) -> dict[str, Any]:
    """Give all figures in types that JSON knows."""
    return {
        "schema": "repwitness.bench/1",
        "machine": {"processor": platform.processor(), "cores": core_count()},
        "figures": [asdict(figure) for figure in bench.figures],
        "stages_processor_s": bench.shares,
        "scale": bench.scale,
    }


def print_figures(bench: Bench, beside: dict[tuple[str, str], float]) -> None:
    """Print the table of figures and that of stages."""
    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = 120
    table = Table(box=None)
    for heading in ("figure", "value", "unit", "asked", *(["before"] if beside else [])):
        table.add_column(heading, justify="right" if heading in ("value", "before") else "left")
    for figure in bench.figures:
        cells = [figure.name, f"{figure.value:.3g}", figure.unit, figure.asked]
        if beside:
            before = beside.get((figure.name, figure.unit))
            cells.append("" if before is None else f"{before:.3g}")
        table.add_row(*cells)
    console.print(table)
    if bench.shares:
        total = sum(bench.shares.values())
        table = Table(box=None)
        table.add_column("stage")
        table.add_column("processor time, s", justify="right")
        table.add_column("share", justify="right")
        for stage, spent_s in sorted(bench.shares.items(), key=lambda item: -item[1]):
            table.add_row(stage, f"{spent_s:.2f}", f"{spent_s / total:.1%}")
        console.print(table)


def main() -> None:
    """Run the parts asked for, print the figures and keep them."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench")
    parser.add_argument("--only", nargs="+", choices=list(PARTS), default=list(PARTS))
    parser.add_argument("--clip", type=Path, default=CLIP)
    parser.add_argument("--movement", default=MOVEMENT)
    parser.add_argument("--seconds", type=float, default=60.0, help="length of the film")
    parser.add_argument("--minutes", type=float, default=60.0, help="length of the long film")
    parser.add_argument("--json", type=Path, help="keep the figures in this file")
    parser.add_argument("--beside", type=Path, help="JSON of an earlier run")
    asked = parser.parse_args()
    # As the command does before any library is loaded: threads that wait for work use the cores.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    bench = Bench(asked.clip, asked.movement, asked.seconds, asked.minutes)
    for name in asked.only:
        PARTS[name](bench)
    beside = {}
    if asked.beside:
        kept = json.loads(asked.beside.read_text())["figures"]
        beside = {(figure["name"], figure["unit"]): figure["value"] for figure in kept}
    print_figures(bench, beside)
    if asked.json:
        asked.json.write_text(json.dumps(document(bench), indent=1, ensure_ascii=False) + "\n")


if __name__ == "__main__":
    main()
