"""What the bench says of two audits of one film."""

import pytest

from tests.bench.sparing import Compared, compared


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (["good", "no-rep"], ["good", "no-rep"], Compared(2)),
        (["good", "too close"], ["too close", "too close"], Compared(2, moved=1)),
        (["good", "no-rep"], ["no-rep", "no-rep"], Compared(2, opposite=1)),
        (["good"], ["good", "good", "good"], Compared(3, counted_otherwise=2)),
    ],
)
def test_what_differs_between_two_audits(
    one: list[str], other: list[str], expected: Compared
) -> None:
    assert compared(one, other) == expected


def test_films_add_up() -> None:
    assert Compared(3, 1, 0, 2) + Compared(4, 0, 1, 0) == Compared(7, 1, 1, 2)
