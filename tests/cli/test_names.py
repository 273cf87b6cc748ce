"""Whatever words a file is named after, it stays in its folder and can be written."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cli.names import LONGEST_BYTES, file_name, within_limit


@given(st.text())
def test_a_name_is_one_part_of_a_path_and_not_too_long(words: str) -> None:
    name = file_name(words, ".png")
    assert Path(name).name == name
    assert Path("folder", name).resolve().parent == Path("folder").resolve()
    assert name.endswith(".png")
    assert not name.startswith((".", "-"))
    assert len(name.encode()) <= LONGEST_BYTES
    assert name.isprintable()


@given(st.lists(st.text(alphabet="ab/\\.-_é\n", max_size=6), min_size=2, max_size=2, unique=True))
def test_different_words_have_different_names(words: list[str]) -> None:
    one, other = words
    assert file_name(one) != file_name(other)


def test_plain_words_are_left_as_they_are() -> None:
    assert file_name("rep-3-full hang", ".png") == "rep-3-full-hang.png"
    assert file_name("rep-3-Tiefe über Knie", ".png") == "rep-3-Tiefe-über-Knie.png"


@pytest.mark.parametrize(
    "words", ["", ".", "..", "x/../../../T", "/T", "a\\..\\T", "T\0", "é" * 300, "-rf"]
)
def test_what_could_leave_the_folder_cannot(tmp_path: Path, words: str) -> None:
    (tmp_path / file_name(words)).write_bytes(b"")
    assert len(list(tmp_path.iterdir())) == 1


def test_a_name_is_kept_as_long_as_the_file_system_takes_it(tmp_path: Path) -> None:
    """The file system itself tells: one more byte is refused."""
    longest = within_limit("x" * (LONGEST_BYTES - 4), ".png")
    assert longest == "x" * (LONGEST_BYTES - 4) + ".png"
    assert file_name("x" * (LONGEST_BYTES - 4), ".png") == longest
    (tmp_path / longest).touch()
    with pytest.raises(OSError, match="too long"):
        (tmp_path / f"x{longest}").touch()


def test_a_name_too_long_is_a_digest_that_is_the_same_every_time() -> None:
    assert within_limit("film.mp4", ".audit") == "film.mp4.audit"
    long = within_limit("x" * 250, ".audit")
    assert long == within_limit("x" * 250, ".audit") != within_limit("x" * 251, ".audit")
    assert len(long) <= LONGEST_BYTES
