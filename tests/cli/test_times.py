"""Times as people type them."""

import pytest

from cli.errors import WRONG_USAGE, UserError
from cli.times import parse_time_s


@pytest.mark.parametrize(
    ("text", "time_s"),
    [
        ("0", 0.0),
        ("60", 60.0),
        ("83.5", 83.5),
        (" 83.5 ", 83.5),
        ("1:23.5", 83.5),
        ("0:01:23.5", 83.5),
        ("0:59.9", 59.9),
        ("75:00", 4500.0),
        ("1:59:59", 7199.0),
        ("2:00:00.25", 7200.25),
    ],
)
def test_seconds_and_clock_times_mean_the_same(text: str, time_s: float) -> None:
    assert parse_time_s(text, "--start") == time_s


@pytest.mark.parametrize(
    "text", ["", "abc", "-3", "1:60", "1:75", "1:60:00", "0:0:60", "1e3", "nan", "1::2"]
)
def test_anything_else_is_wrong_usage_that_names_the_option(text: str) -> None:
    with pytest.raises(UserError, match="--start") as caught:
        parse_time_s(text, "--start")
    assert caught.value.exit_status == WRONG_USAGE


def test_what_is_wrong_with_a_time_is_said() -> None:
    for text, words in (
        ("soon", "--end: 'soon' is not a valid time; write 83.5, 1:23.5 or 0:01:23.5"),
        ("1:75", "--end: '1:75' has more than 59 minutes or seconds after a colon"),
        ("9" * 400, f"--end: '{'9' * 400}' is too long"),
    ):
        with pytest.raises(UserError) as caught:
            parse_time_s(text, "--end")
        assert str(caught.value) == words
        assert caught.value.exit_status == WRONG_USAGE
