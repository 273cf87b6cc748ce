import os
from pathlib import Path

import pytest

from cli.batch.films import BatchFilm, find_films
from cli.errors import WRONG_USAGE, UserError
from tests.cli.batch.fakes import film


def names(films: list[BatchFilm]) -> list[str]:
    return [film.name for film in films]


def test_a_folder_gives_its_films_largest_first_with_those_of_its_subfolders(
    tmp_path: Path,
) -> None:
    film(tmp_path / "small.mp4", "", 10)
    film(tmp_path / "heat 2" / "large.MOV", "", 1000)
    film(tmp_path / "middle.webm", "", 100)
    film(tmp_path / "notes.txt", "")
    found = find_films(str(tmp_path), besides=tmp_path / "out")
    assert names(found) == ["heat 2/large.MOV", "middle.webm", "small.mp4"]
    assert [f.size_bytes for f in found] == [1000, 100, 10]


def test_films_among_the_results_are_no_submissions(tmp_path: Path) -> None:
    film(tmp_path / "a.mp4", "")
    film(tmp_path / "out" / "a.mp4.audit" / "marked.mp4", "")
    assert names(find_films(str(tmp_path), besides=tmp_path / "out")) == ["a.mp4"]


def test_a_list_takes_paths_from_its_own_folder_and_skips_remarks(tmp_path: Path) -> None:
    film(tmp_path / "day" / "a.mp4", "")
    film(tmp_path / "elsewhere" / "b.mp4", "")
    text = tmp_path / "day" / "list.txt"
    text.write_bytes(b"\xef\xbb\xbf# heat one\r\n\r\na.mp4\r\n ../elsewhere/b.mp4 \n")
    found = find_films(str(text), besides=tmp_path / "out")
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
    alone = names(find_films(str(text), besides=tmp_path / "out"))
    text.write_text("../y/same.mp4\n../x/same.mp4\n../x/same.mp4\n")
    both = names(find_films(str(text), besides=tmp_path / "out"))
    assert len(set(both)) == 2
    assert alone[0] in both


def test_a_missing_film_of_a_list_is_left_to_fail_alone(tmp_path: Path) -> None:
    (tmp_path / "list.txt").write_text("gone.mp4\n")
    (only,) = find_films(str(tmp_path / "list.txt"), besides=tmp_path / "out")
    assert only.source == str(tmp_path / "gone.mp4")


@pytest.mark.parametrize("name", [b"caf\xe9.mp4", b"new\nline.mp4", b"-rf.mp4", "é中.mp4".encode()])
def test_finds_films_of_any_name(tmp_path: Path, name: bytes) -> None:
    path = os.fsencode(tmp_path) + b"/" + name
    Path(os.fsdecode(path)).write_bytes(b"film")
    (only,) = find_films(str(tmp_path), besides=tmp_path / "out")
    assert os.fsencode(only.source) == path


@pytest.mark.parametrize("content", [b"\0\1\2", b"", b"# nothing\n"])
def test_what_is_no_list_is_refused_with_one_line(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "list").write_bytes(content)
    with pytest.raises(UserError, match="list") as caught:
        find_films(str(tmp_path / "list"), besides=tmp_path / "out")
    assert caught.value.exit_status == WRONG_USAGE


def test_a_place_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"nowhere.*No such file"):
        find_films(str(tmp_path / "nowhere"), besides=tmp_path / "out")
