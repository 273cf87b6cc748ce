import pytest
from msgspec.structs import replace

from cli.wording import height_words, measured, percent, seconds, some_times, view_words
from counting.record.types import AthletePart
from tests.conftest import depth_check
from vision.times import clock


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (0.0, "0:00.0"),
        (59.94, "0:59.9"),
        (59.97, "1:00.0"),
        (754.26, "12:34.3"),
        (3599.99, "1:00:00.0"),
        (-0.01, "0:00.0"),
        (-3.2, "−0:03.2"),
    ],
)
def test_times_round_before_they_are_split_into_minutes(time_s: float, text: str) -> None:
    assert clock(time_s) == text


def test_of_many_times_the_first_are_listed_and_the_rest_counted() -> None:
    assert some_times([1.0, 62.0]) == "0:01.0, 1:02.0"
    assert some_times([float(n) for n in range(8)]).endswith("0:04.0 and 3 more")


def test_durations_stay_in_seconds_below_a_minute() -> None:
    assert seconds(8.44) == "8.4 s"
    assert seconds(59.96) == "1:00.0"


def test_no_digit_is_printed_that_the_uncertainty_does_not_carry() -> None:
    def said(value: float | None, low: float | None, high: float | None, unit: str) -> str:
        return measured(
            replace(depth_check(1.0, 0, 0.5), value=value, low=low, high=high, unit=unit)
        )

    assert said(4.44, 2.46, 6.42, "cm") == "4.4 cm (2.5 to 6.4)"
    assert said(161.7, 156.6, 166.8, "deg") == "162° (157 to 167)"
    assert said(-0.01, -0.7, 0.7, "cm") == "0.0 cm (−0.7 to 0.7)"
    assert said(-0.2, -0.3, -0.1, "share") == "−20 % (−30 to −10)"
    assert said(-2.5, None, None, "cm") == "−2.5 cm"
    assert said(None, None, None, "cm") == "not read"


def test_a_probability_short_of_certainty_never_reads_as_certain() -> None:
    assert percent(0.9999) == "> 99 %"
    assert percent(0.0002) == "< 1 %"
    assert percent(1.0) == "100 %"
    assert percent(0.31) == "31 %"


@pytest.mark.parametrize(
    ("view_deg", "words"),
    [(0, "front"), (-40, "between front and side"), (270, "side"), (180, "behind"), (140, "back")],
)
def test_views_are_named_by_the_side_they_see(view_deg: float, words: str) -> None:
    assert words in view_words(view_deg)


def test_a_height_is_said_only_where_somebody_or_something_tells_it() -> None:
    assumed = AthletePart(seen_share=1.0, stature_m=1.73, stature_uncertainty_m=0.095)
    assert height_words(assumed) is None
    told = AthletePart(
        seen_share=1.0, stature_m=1.82, stature_uncertainty_m=0.05, stature_source="given"
    )
    assert height_words(told) == "1.82 m tall as was told (± 0.10 m)"
