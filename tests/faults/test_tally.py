"""Parts of a campaign, and what is left of one that was ended early."""

import pytest

from tests.faults.tally import Part


def test_all_parts_together_are_the_whole_and_no_two_share_anything() -> None:
    parts = [Part.parse(f"{number}/4") for number in (1, 2, 3, 4)]
    taken = [index for part in parts for index in part.of_all(10)]
    assert sorted(taken) == list(range(10))
    assert parts[1].of_all(10) == [1, 5, 9]


def test_what_was_tried_is_left_out() -> None:
    assert Part(1, 1, after=7).of_all(10) == [7, 8, 9]
    assert Part(2, 4, after=2).of_all(10) == [5, 9]


@pytest.mark.parametrize("text", ["0/4", "5/4", "1", "1/", "/4", "a/b", "-1/4"])
def test_a_part_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        Part.parse(text)
