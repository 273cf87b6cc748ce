"""The mark stands where a format has a place for it, and what others made does not carry it."""

import json
import os
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from vision.arrays import ArraysError, packed, read_arrays, seal_words
from vision.made_by import DRAWING_MARK, FILM_COMMENT, PAGE_MARK, is_marked, marked_png

PICTURE = np.arange(48, dtype=np.uint8).reshape(4, 4, 3)


def png() -> bytes:
    return bytes(cv2.imencode(".png", PICTURE)[1])


def test_a_marked_picture_is_read_by_others_as_before() -> None:
    """OpenCV checks the sum of every chunk and refuses a file where one does not fit."""
    marked = np.frombuffer(marked_png(png()), np.uint8)
    assert np.array_equal(cv2.imdecode(marked, cv2.IMREAD_COLOR), PICTURE)


def test_the_mark_is_the_text_chunk_that_the_standard_names() -> None:
    """PNG third edition: 11.3.3.2 names the keyword Software, 5.3 the layout of a chunk."""
    chunks, rest = {}, marked_png(png())[8:]
    while rest:
        length = int.from_bytes(rest[:4])
        chunks[rest[4:8]] = rest[8 : 8 + length]
        rest = rest[12 + length :]
    assert next(iter(chunks)) == b"IHDR"
    assert chunks[b"tEXt"] == b"Software\0repwitness"
    assert list(chunks)[-1] == b"IEND"


@pytest.mark.parametrize(
    ("name", "content", "marked"),
    [
        ("still.png", marked_png(png()), True),
        ("holiday.png", png(), False),
        ("renamed", marked_png(png()), True),
        ("report.html", f"<!doctype html><head>{PAGE_MARK}".encode(), True),
        ("mine.html", b"<!doctype html><p>made with repwitness</p>", False),
        ("plan.svg", f"<svg>{DRAWING_MARK}</svg>".encode(), True),
        ("kept.npz", packed({"a": np.zeros(3)}, "repwitness fit-0 code"), True),
        ("mine.npz", packed({"a": np.zeros(3)}, "another tool"), False),
        ("audit.json", json.dumps({"schema": "repwitness.audit/1"}).encode(), True),
        ("mine.json", json.dumps({"schema": "boathouse.log/1"}).encode(), False),
        ("list.json", b"[1, 2]", False),
        ("broken.json", b'{"schema": "repwitness.audit/1"', False),
        ("notes.txt", b"repwitness said no-rep", False),
        ("empty", b"", False),
        ("broken.mp4", b"\0\0\0\x18ftypmp42" + b"\0" * 40, False),
    ],
)
def test_what_this_tool_made_is_known_by_content_alone(
    tmp_path: Path, name: str, content: bytes, marked: bool
) -> None:
    (tmp_path / name).write_bytes(content)
    assert is_marked(tmp_path / name) is marked


@pytest.mark.parametrize("comment", [FILM_COMMENT, "an evening at the boathouse", None])
def test_a_film_is_known_by_its_comment(tmp_path: Path, comment: str | None) -> None:
    with av.open(str(tmp_path / "film.mp4"), "w") as film:
        if comment is not None:
            film.metadata["comment"] = comment
        stream = film.add_stream("mpeg4", rate=20)
        stream.width, stream.height, stream.pix_fmt = 32, 32, "yuv420p"
        picture = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), "rgb24")
        film.mux(stream.encode(picture))
        film.mux(stream.encode())
    assert is_marked(tmp_path / "film.mp4") is (comment == FILM_COMMENT)


def test_what_is_no_file_carries_no_mark_and_nobody_waits_for_it(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.npz")
    for path in (tmp_path / "missing", tmp_path, tmp_path / "pipe.npz"):
        assert not is_marked(path)
        assert seal_words(path) is None
        with pytest.raises(ArraysError):
            read_arrays(path, ["a"])
