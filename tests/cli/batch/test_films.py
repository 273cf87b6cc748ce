import os
import wave
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image

from cli.batch import films as batch_films
from cli.batch.films import BatchFilm, find_films
from cli.errors import WRONG_USAGE, UserError
from counting.objects.line import Target
from tests.cli.batch.fakes import fall_over, film
from tests.vision.film.films import write_film


def films_at(place: Path, besides: Path) -> list[BatchFilm]:
    return find_films(str(place), besides=besides)[0]


TICK = Fraction(1, 30)


def names(films: list[BatchFilm]) -> list[str]:
    return [film.name for film in films]


def test_a_folder_gives_its_films_largest_first_with_those_of_its_subfolders(
    tmp_path: Path,
) -> None:
    film(tmp_path / "small.mp4", "", 10)
    film(tmp_path / "heat 2" / "large.MOV", "", 1000)
    film(tmp_path / "middle.webm", "", 100)
    film(tmp_path / "notes.txt", "")
    found = films_at(tmp_path, tmp_path / "out")
    assert names(found) == ["heat 2/large.MOV", "middle.webm", "small.mp4"]
    assert [f.size_bytes for f in found] == [1000, 100, 10]


def test_what_can_be_read_as_a_film_is_one_whatever_its_name(tmp_path: Path) -> None:
    kinds = {
        "windows.wmv": ("asf", "mpeg4"),
        "flash.flv": ("flv", "libx264"),
        "disc.mpeg": ("mpeg", "mpeg1video"),
        "phone.m4v": ("mp4", "libx264"),
        "camera.vob": ("vob", "mpeg2video"),
        "no ending": ("matroska", "libx264"),
        "misnamed.txt": ("mov", "libx264"),
    }
    for name, (container, codec) in kinds.items():
        write_film(tmp_path / name, list(range(12)), container=container, codec=codec, tick=TICK)
    found, left_out = find_films(str(tmp_path), besides=tmp_path / "out")
    assert (sorted(names(found)), left_out) == (sorted(kinds), [])
    at_url, _ = find_films(f"file://{tmp_path}", besides=tmp_path / "out")
    assert sorted(names(at_url)) == sorted(kinds)


def test_all_that_is_left_out_is_named_with_the_reason(tmp_path: Path) -> None:
    folder, out = tmp_path / "films", tmp_path / "out"
    film(folder / "a.mp4", "")
    film(folder / "heat 2" / "notes.txt", "who came when")
    (folder / "table.pdf").write_bytes(b"%PDF-1.7 of no use")
    Image.new("RGB", (8, 8)).save(folder / "poster.png")
    with wave.open(str(folder / "music.wav"), "wb") as sound:
        sound.setparams((1, 2, 8000, 0, "NONE", ""))
        sound.writeframes(bytes(16000))
    os.mkfifo(folder / "pipe.mp4")
    (tmp_path / "elsewhere").mkdir()
    (folder / "linked").symlink_to(tmp_path / "elsewhere")
    found, left_out = find_films(str(folder), besides=out)
    assert names(found) == ["a.mp4"]
    reasons = {file.name: file.reason for file in left_out}
    unreadable = "cannot be read as a film (damaged, cut off or another kind of file)"
    assert reasons == {
        "heat 2/notes.txt": unreadable,
        "linked": "is a link to a folder",
        "music.wav": "holds WAV / WAVE (Waveform Audio)",
        "pipe.mp4": "is not an ordinary file",
        "poster.png": "holds piped png sequence",
        "table.pdf": unreadable,
    }
    over_url = {file.name for file in find_films(f"file://{folder}", besides=out)[1]}
    assert {"heat 2/notes.txt", "music.wav", "pipe.mp4", "table.pdf"} <= over_url


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is closed to the superuser")
def test_a_folder_that_cannot_be_opened_is_named(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "")
    (tmp_path / "closed").mkdir(mode=0)
    _, (closed,) = find_films(str(tmp_path), besides=tmp_path / "out")
    assert (closed.name, closed.reason) == ("closed", "cannot be opened (Permission denied)")


@pytest.mark.parametrize("killers", [{1}, {0, 3}, {0, 1, 2, 3}, set()])
def test_a_file_that_ends_its_reader_stays_in_the_batch_to_fail_alone(
    monkeypatch: pytest.MonkeyPatch, killers: set[int]
) -> None:
    monkeypatch.setattr(batch_films, "look", fall_over)
    sources = ["/a film", "/notes", "/b film", "/table"]
    sources = [f"{source} killer" if n in killers else source for n, source in enumerate(sources)]
    expected = {source for n, source in enumerate(sources) if n in {1, 3} - killers}
    assert batch_films.not_films(sources) == dict.fromkeys(expected, "is something else")


def test_films_among_the_results_are_no_submissions(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "")
    film(tmp_path / "out" / "a.mp4.audit" / "marked.mp4", "")
    assert names(films_at(tmp_path, tmp_path / "out")) == ["a.mp4"]


def test_a_list_takes_paths_from_its_own_folder_and_skips_remarks(tmp_path: Path) -> None:
    film(tmp_path / "day" / "a.mp4", "")
    film(tmp_path / "elsewhere" / "b.mp4", "")
    text = tmp_path / "day" / "list.txt"
    text.write_bytes(b"\xef\xbb\xbf# heat one\r\n\r\na.mp4\r\n ../elsewhere/b.mp4 \n")
    found = films_at(text, tmp_path / "out")
    assert {Path(f.source).name for f in found} == {"a.mp4", "b.mp4"}
    inside, outside = sorted(names(found), key=len)
    assert inside == "a.mp4"
    assert outside.endswith("/b.mp4")
    assert ".." not in outside


def test_names_do_not_depend_on_what_else_is_in_the_list(tmp_path: Path) -> None:
    for folder in ("x", "y"):
        film(tmp_path / folder / "same.mp4", "")
    (tmp_path / "l").mkdir()
    text = tmp_path / "l" / "list.txt"
    text.write_text("../x/same.mp4\n")
    alone = names(films_at(text, tmp_path / "out"))
    text.write_text("../y/same.mp4\n../x/same.mp4\n../x/same.mp4\n")
    both = names(films_at(text, tmp_path / "out"))
    assert len(set(both)) == 2
    assert alone[0] in both


def test_a_missing_film_of_a_list_is_left_to_fail_alone(tmp_path: Path) -> None:
    (tmp_path / "list.txt").write_text("gone.mp4\n")
    (only,) = films_at(tmp_path / "list.txt", tmp_path / "out")
    assert only.source == str(tmp_path / "gone.mp4")


def test_finds_films_of_any_name(tmp_path: Path) -> None:
    odd = [b"caf\xe9.mp4", b"new\nline.mp4", b"-rf.mp4", "é中.mp4".encode()]
    paths = [os.fsencode(tmp_path) + b"/" + name for name in odd]
    for path in paths:
        Path(os.fsdecode(path)).write_bytes(b"film")
    found = films_at(tmp_path, tmp_path / "out")
    assert sorted(os.fsencode(one.source) for one in found) == sorted(paths)


@pytest.mark.parametrize("content", [b"\0\1\2", b"", b"# nothing\n"])
def test_what_is_no_list_is_refused_with_one_line(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "list").write_bytes(content)
    with pytest.raises(UserError, match="list") as caught:
        films_at(tmp_path / "list", tmp_path / "out")
    assert caught.value.exit_status == WRONG_USAGE


def test_a_place_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"nowhere.*No such file"):
        films_at(tmp_path / "nowhere", tmp_path / "out")


def test_a_line_names_further_films_of_the_attempt(tmp_path: Path) -> None:
    for name in ("one.mp4", "two.mp4", "three.mp4"):
        film(tmp_path / name, "", 10)
        os.utime(tmp_path / name, (1, 1))
    place = tmp_path / "films.txt"
    place.write_text("one.mp4\tsecond_view=two.mp4\tsecond_view=three.mp4\n")
    (found,) = films_at(place, tmp_path / "out")
    assert found.name == "one.mp4"
    assert found.second_views == (str(tmp_path / "two.mp4"), str(tmp_path / "three.mp4"))
    place.write_text("one.mp4\n")
    (alone,) = films_at(place, tmp_path / "out")
    assert alone.second_views == ()
    assert alone.stamp != found.stamp or not alone.stamp


def test_a_line_says_where_the_target_of_its_film_is(tmp_path: Path) -> None:
    for name in ("one.mp4", "two.mp4"):
        film(tmp_path / name, "")
    place = tmp_path / "films.txt"
    place.write_text("one.mp4\ttarget=0.4 0.2 0.6 0.21\tsecond_view=three.mp4\ntwo.mp4\n")
    one, two = sorted(films_at(place, tmp_path / "out"), key=lambda found: found.name)
    assert one.target == Target((0.4, 0.2), (0.6, 0.21))
    assert one.second_views == (str(tmp_path / "three.mp4"),)
    assert two.target is None
    at_url, _ = find_films(f"file://{place}", besides=tmp_path / "out")
    assert {found.target for found in at_url} == {one.target, None}


@pytest.mark.parametrize(
    ("said", "error"),
    [
        ("target=0.4 0.2 0.6", "target: two points, each x and y"),
        ("target=0.4 0.2 1.6 0.2", "target: two points, each x and y"),
        ("target=0.4 0.2 nan 0.2", "target: two points, each x and y"),
        ("target=0.6 0.2 0.4 0.2", "target: the left point first"),
        ("target=left right", "target: 'left right' is not four numbers"),
        ("target=", "target: two points"),
        ("target=0 0 1 0\ttarget=0 0 1 0", "target: is given 2 times"),
    ],
)
def test_a_target_that_is_none_is_told_with_its_line(tmp_path: Path, said: str, error: str) -> None:
    (tmp_path / "films.txt").write_text(f"# heat one\none.mp4\ntwo.mp4\t{said}\n")
    with pytest.raises(UserError, match=rf"films.txt, line 3: {error}") as caught:
        films_at(tmp_path / "films.txt", tmp_path / "out")
    assert caught.value.exit_status == WRONG_USAGE
