"""Times as people type them."""

import pytest

from cli.errors import WRONG_USAGE, UserError
from cli.times import parse_time_s


@pytest.mark.parametrize(
    ("text", "time_s"),
    [("0", 0.0), ("83.5", 83.5), ("1:23.5", 83.5), ("0:01:23.5", 83.5), ("75:00", 4500.0)],
)
def test_seconds_and_clock_times_mean_the_same(text: str, time_s: float) -> None:
    assert parse_time_s(text, "--start") == time_s


@pytest.mark.parametrize("text", ["", "abc", "-3", "1:75", "1:60:00", "1e3", "nan", "1::2"])
def test_anything_else_is_wrong_usage_that_names_the_option(text: str) -> None:
    with pytest.raises(UserError, match="--start") as caught:
        parse_time_s(text, "--start")
    assert caught.value.exit_status == WRONG_USAGE
