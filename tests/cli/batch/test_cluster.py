import os
import signal
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import av
import pytest

distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster'")

from cli.audit.request import AuditRequest  # noqa: E402
from cli.batch import cluster  # noqa: E402
from cli.batch.film_process import Limits  # noqa: E402
from cli.batch.films import find_films  # noqa: E402
from cli.batch.local import here  # noqa: E402
from cli.batch.place import Place  # noqa: E402
from cli.batch.run import run_batch  # noqa: E402
from cli.batch.table import BatchRow  # noqa: E402
from cli.errors import UserError  # noqa: E402
from cli.versions import installed_versions  # noqa: E402
from tests.cli.batch.fakes import audit, begun, film, noted_audit  # noqa: E402

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def two_workers() -> Iterator[Any]:
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as local:
        yield local


LIMITS = Limits(stalled_s=30.0, memory_bytes=2**30)


def batch(films_at: Path, address: str) -> dict[str, BatchRow]:
    out = (films_at if films_at.is_dir() else films_at.parent) / "out"
    template = AuditRequest(Path(), movement="thruster", workout=None, standards=(), out=out)
    films, _ = find_films(str(films_at), besides=out)
    place = cluster.on_cluster(address, audit, LIMITS)
    return {row.film.name: row for row in run_batch(films, template, place)}


def test_results_come_back_and_a_failed_film_fails_alone(tmp_path: Path, two_workers: Any) -> None:
    film(tmp_path / "a.mp4", "ok 2")
    film(tmp_path / "bad.mp4", "bad")
    film(tmp_path / "crash.mp4", "crash")
    rows = batch(tmp_path, two_workers.scheduler_address)
    assert rows["a.mp4"].undecided == 2
    assert (tmp_path / "out" / "a.mp4.audit" / "audit.json").exists()
    assert "no athlete" in (rows["bad.mp4"].error or "")
    assert "SIGSEGV" in (rows["crash.mp4"].error or "")
    assert begun(tmp_path).keys() == {"a", "bad", "crash"}
    assert batch(tmp_path, two_workers.scheduler_address)["a.mp4"].undecided == 2
    assert begun(tmp_path).keys() == {"bad", "crash"}


def test_a_worker_killed_in_a_film_costs_the_repeat_of_that_film_only(
    tmp_path: Path, two_workers: Any
) -> None:
    slow = film(tmp_path / "slow.mp4", "slow 4", 1000)
    film(tmp_path / "other.mp4", "slow 1")
    with ThreadPoolExecutor(1) as beside:
        rows = beside.submit(batch, tmp_path, two_workers.scheduler_address)
        note = slow.with_suffix(".begun")
        deadline = time.monotonic() + 120
        while not note.exists() or not note.read_text():
            assert time.monotonic() < deadline
            time.sleep(0.01)
        os.kill(int(note.read_text()), signal.SIGKILL)
        assert all(row.record for row in rows.result().values())
    began = begun(tmp_path)
    assert len(began["slow"]) == 2
    assert len(set(began["slow"])) == 2
    assert len(began["other"]) == 1


SQUATS = Path(__file__).parents[3] / "sample_clips" / "boathouse_air_squats.mp4"


def cut(target: Path, begin_s: float, end_s: float) -> Path:
    """Cut a piece out of a sample clip without coding it anew; it begins at a key frame."""
    target.parent.mkdir(exist_ok=True)
    with av.open(str(SQUATS)) as whole, av.open(str(target), "w") as piece:
        source = whole.streams.video[0]
        copied = piece.add_stream_from_template(source)
        whole.seek(int(begin_s / source.time_base), stream=source)
        for packet in whole.demux(source):
            if packet.pts is not None and packet.pts * source.time_base < end_s:
                packet.stream = copied
                piece.mux(packet)
    return target


def test_a_killed_worker_changes_no_record_of_six_films_of_which_two_are_broken(
    tmp_path: Path, two_workers: Any
) -> None:
    for number in range(4):
        # The last is the largest, so the first that is begun, and holds a rep.
        cut(tmp_path / "films" / f"{number}.mp4", 0.0, (1.4, 1.6, 1.8, 4.2)[number])
    whole = SQUATS.read_bytes()
    (tmp_path / "films" / "cut off.mp4").write_bytes(whole[:-20_000])
    film(tmp_path / "films" / "text.mp4", "no film")
    films, _ = find_films(str(tmp_path / "films"), besides=tmp_path)
    limits = Limits(stalled_s=300.0, memory_bytes=2**32)

    def rows_in(out: Path, place: Place) -> dict[str, BatchRow]:
        template = AuditRequest(Path(), movement="air squat", workout=None, standards=(), out=out)
        return {row.film.name: row for row in run_batch(films, template, place)}

    with ThreadPoolExecutor(1) as beside:
        place = cluster.on_cluster(two_workers.scheduler_address, noted_audit, limits)
        rows = beside.submit(rows_in, tmp_path / "cluster", place)
        note = tmp_path / "films" / "3.begun"
        deadline = time.monotonic() + 120
        while not note.exists() or not note.read_text():
            assert time.monotonic() < deadline
            time.sleep(0.01)
        os.kill(int(note.read_text()), signal.SIGKILL)
        there = rows.result()
    began = begun(tmp_path / "films")
    assert len(set(began["3"])) == 2, "the killed worker's film was begun anew by another"
    here_rows = rows_in(tmp_path / "here", here(2, noted_audit, limits))
    assert sorted(name for name, row in there.items() if row.error) == ["cut off.mp4", "text.mp4"]
    assert {name: row.error for name, row in there.items()} == {
        name: row.error for name, row in here_rows.items()
    }
    assert there["3.mp4"].record is not None
    assert there["3.mp4"].record.reps
    for number in range(4):
        record = f"{number}.mp4.audit/audit.json"
        assert (tmp_path / "cluster" / record).read_bytes() == (
            tmp_path / "here" / record
        ).read_bytes()
        assert there[f"{number}.mp4"].record == here_rows[f"{number}.mp4"].record


def test_a_film_nobody_waits_for_any_more_is_given_up(tmp_path: Path, two_workers: Any) -> None:
    film(tmp_path / "a.mp4", "steps 60")
    template = AuditRequest(
        Path(), movement="thruster", workout=None, standards=(), out=tmp_path / "out"
    )
    place = cluster.on_cluster(two_workers.scheduler_address, audit, LIMITS)
    heard = threading.Event()
    outcomes = place(
        find_films(str(tmp_path), besides=tmp_path / "out")[0],
        template,
        lambda _film: tmp_path / "out",
        lambda _film, _share: heard.set(),
    )
    with ThreadPoolExecutor(1) as beside:
        waiting = beside.submit(next, outcomes)
        assert heard.wait(120)
        stop = tmp_path / "a.alive"
        begun_by = time.monotonic() + 120
        while not stop.exists():
            assert time.monotonic() < begun_by, "the film's process did not begin"
            time.sleep(0.1)
        with distributed.Client(two_workers.scheduler_address, set_as_default=False) as client:
            keys = [key for keys in client.processing().values() for key in keys]
            client.cancel([distributed.Future(key, client) for key in keys], force=True)
        with pytest.raises(UserError, match="run the same command again"):
            waiting.result()
    deadline = time.monotonic() + 50
    while time.time() - stop.stat().st_mtime < 3:
        assert time.monotonic() < deadline, "the film's process goes on"
        time.sleep(0.1)


def test_workers_with_other_versions_are_refused_in_words(
    tmp_path: Path, two_workers: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    film(tmp_path / "a.mp4", "ok")
    monkeypatch.setattr(
        cluster, "installed_versions", lambda: {**installed_versions(), "ai-edge-litert": "0.0"}
    )
    with pytest.raises(UserError, match=r"worker tcp.*ai-edge-litert is .* there and 0\.0 here"):
        batch(tmp_path, two_workers.scheduler_address)
    assert begun(tmp_path) == {}


def test_a_worker_that_joins_later_with_other_versions_is_refused_too(
    tmp_path: Path, two_workers: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    film(tmp_path / "a.mp4", "ok")
    monkeypatch.setattr(cluster, "_refuse_other_versions", lambda _client, _here: None)
    monkeypatch.setattr(
        cluster, "installed_versions", lambda: {**installed_versions(), "numpy": "0.0"}
    )
    with pytest.raises(UserError, match=r"joined: numpy is .* there and 0\.0 here"):
        batch(tmp_path, two_workers.scheduler_address)
    assert begun(tmp_path) == {}


def test_a_scheduler_that_does_not_answer_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    film(tmp_path / "a.mp4", "ok")
    monkeypatch.setattr(cluster, "_CONNECT_S", 0.5)
    with pytest.raises(UserError, match=r"tcp://127\.0\.0\.1:9: no Dask scheduler answers"):
        batch(tmp_path, "tcp://127.0.0.1:9")


def test_films_at_urls_are_fetched_where_the_worker_is(tmp_path: Path, two_workers: Any) -> None:
    kept = film(tmp_path / "kept" / "a film.mp4", "ok 1")
    (tmp_path / "list.txt").write_text(f"file://{kept}\nfile://{tmp_path}/gone.mp4\n")
    rows = batch(tmp_path / "list.txt", two_workers.scheduler_address)
    made = {Path(name).name: row for name, row in rows.items()}
    assert made["a film.mp4"].undecided == 1
    assert "cannot be fetched" in (made["gone.mp4"].error or "")
