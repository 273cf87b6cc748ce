"""One bad record never keeps the desk from the good ones: it is listed with its reason."""

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from cli.review.desk import Desk
from counting.record.files import name_as_text, record_json
from counting.record.seal import EDITED, sealed
from counting.record.types import AuditRecord


@pytest.fixture
def bad(folder: Path) -> Path:
    """A folder beside the good ones, for a record that is not whole."""
    place = folder / "lane_9.audit"
    place.mkdir()
    return place / "audit.json"


def document(attempt: AuditRecord) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(record_json(attempt))
    return found


def assert_listed_beside_the_good_ones(client: Any, reason: str) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "lane_1.mp4" in page.text
    assert "lane_9.audit" in page.text
    assert reason in page.text


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"continuity": {}}, "continuity"),
        ({"workout": {"clock": 1}}, "workout"),
        ({"film": {"duration_s": 1e9}}, "duration_s"),
        ({"series": {"name": "hip", "unit": "m", "time_s": [0.0, 1.0], "value": [1.0]}}, "series"),
    ],
)
def test_a_record_that_contradicts_itself(
    client: Any, bad: Path, attempt: AuditRecord, change: dict[str, Any], reason: str
) -> None:
    whole = document(attempt)
    merged = {key: whole[key] | value if key == "film" else value for key, value in change.items()}
    bad.write_text(json.dumps(whole | merged), encoding="utf-8")
    assert_listed_beside_the_good_ones(client, reason)


def test_doubled_numbers_of_reps(client: Any, bad: Path, attempt: AuditRecord) -> None:
    whole = document(attempt)
    whole["reps"][1]["number"] = 1
    bad.write_text(json.dumps(whole), encoding="utf-8")
    assert_listed_beside_the_good_ones(client, "reps[1].number is 1, not 2")


@pytest.mark.parametrize(
    "make",
    [
        os.mkfifo,
        lambda file: file.symlink_to("/dev/zero"),
        lambda file: file.symlink_to(file),
        lambda file: file.symlink_to(file.parent / "nowhere"),
        lambda file: file.write_bytes(b""),
        lambda file: file.touch() or os.truncate(file, 1 << 40),
    ],
    ids=["pipe", "device", "loop", "dangling link", "empty", "terabyte"],
)
def test_a_file_that_is_no_record(client: Any, bad: Path, make: Callable[[Path], None]) -> None:
    make(bad)
    assert_listed_beside_the_good_ones(client, "Audit its film again")


def test_landmarks_that_are_a_pipe_hold_nobody_up(
    client: Any, folder: Path, attempt_of: Callable[..., AuditRecord], desk: Desk
) -> None:
    made = attempt_of((4,), (), (), file="lane_2.mp4", sha256="2" * 64)
    made = replace(made, landmarks_file="landmarks.npz")
    place = folder / "lane_2.audit"
    (place / "audit.json").write_text(record_json(made), encoding="utf-8")
    os.mkfifo(place / "landmarks.npz")
    (key,) = (item.key for item in desk.library.attempts() if item.place == "lane_2.audit")
    assert client.get(f"/attempt/{key}/frames").json() == []


def test_a_folder_that_may_not_be_looked_into(client: Any, bad: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may look into every folder")
    bad.parent.chmod(0)
    try:
        assert_listed_beside_the_good_ones(client, "the folder cannot be read")
    finally:
        bad.parent.chmod(0o755)


def test_a_folder_whose_name_is_no_text(
    client: Any, desk: Desk, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    place = Path(os.fsdecode(os.fsencode(folder) + b"/caf\xe9 \x1b[31m.audit"))
    place.mkdir()
    made = attempt_of((2,), (), (), file="harbour.mp4", sha256="7" * 64)
    (place / "audit.json").write_text(record_json(made), encoding="utf-8")
    assert "caf\\xe9 \\x1b[31m.audit" in client.get("/").text
    files = {item.record.film.file: item.key for item in desk.library.attempts()}
    assert client.get(f"/attempt/{files['harbour.mp4']}").status_code == 200


def test_a_film_name_of_three_hundred_characters(
    client: Any, desk: Desk, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    made = attempt_of((2,), (), (), file="x" * 300 + ".mp4", sha256="7" * 64)
    (folder / "long.audit").mkdir()
    (folder / "long.audit" / "audit.json").write_text(record_json(made), encoding="utf-8")
    (key,) = (item.key for item in desk.library.attempts() if item.place == "long.audit")
    for page in ("", "/state", "/frames", "/film-check", "/sheet/csv", "/sheet/report"):
        assert client.get(f"/attempt/{key}{page}").status_code == 200
    assert client.get(f"/attempt/{key}/film/original").status_code == 404


def test_a_record_edited_by_hand_is_stamped_on_every_page_and_sheet(
    client: Any, desk: Desk, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    file = folder / "lane_2.audit" / "audit.json"
    made = sealed(attempt_of((4,), (), (), file="lane_2.mp4", sha256="2" * 64))
    file.write_text(record_json(made), encoding="utf-8")
    (key,) = (item.key for item in desk.library.attempts() if item.place == "lane_2.audit")
    clean = client.get(f"/attempt/{key}").text
    assert "by hand" not in clean.partition('id="cards"')[0]
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"verdict": "good"', '"verdict": "no-rep"', 1), encoding="utf-8")
    row = client.get("/").text.partition(">lane_2.mp4<")[2].partition("</tr>")[0]
    assert "edited by hand" in row
    assert "Edited by hand" in client.get(f"/attempt/{key}").text
    assert EDITED in client.get(f"/attempt/{key}/sheet/csv").text
    assert client.get(f"/attempt/{key}/sheet/json").json()["doubt"] == EDITED
    assert "Edited by hand" in client.get(f"/attempt/{key}/sheet/report").text


def test_a_film_whose_name_is_no_text_is_found_beside_its_audit(
    desk: Desk, folder: Path, attempt_of: Callable[..., AuditRecord]
) -> None:
    film = Path(os.fsdecode(os.fsencode(folder) + b"/caf\xe9.mp4"))
    film.write_bytes(b"film")
    made = attempt_of((2,), (), (), file=name_as_text(film.name), sha256="7" * 64)
    (folder / "odd.audit").mkdir()
    (folder / "odd.audit" / "audit.json").write_text(record_json(made), encoding="utf-8")
    (attempt,) = (item for item in desk.library.attempts() if item.place == "odd.audit")
    assert desk.library.film(attempt) == film
