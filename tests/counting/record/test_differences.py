"""Two records of one film are compared value by value, and each difference is named."""

from msgspec.structs import replace

from counting.record.differences import Difference, record_differences, version_differences
from counting.record.types import AuditRecord
from tests.conftest import make_attempt


def attempt() -> AuditRecord:
    return make_attempt(sets=(2, 1), no_reps=(2,), too_close=())


def words(first: AuditRecord, second: AuditRecord) -> list[str]:
    return [difference.words for difference in record_differences(first, second)]


def test_equal_records_differ_in_nothing_whatever_the_film_is_called() -> None:
    first = attempt()
    renamed = replace(first, film=replace(first.film, file="other.mp4"), digest="0" * 64)
    assert record_differences(first, renamed) == []


def test_a_changed_call_is_named_with_both_values() -> None:
    first = attempt()
    reps = [replace(first.reps[0], verdict="no-rep"), *first.reps[1:]]
    assert words(first, replace(first, reps=reps)) == ["reps[0].verdict: good, now no-rep"]


def test_a_rep_fewer_is_named_by_number_and_not_rep_by_rep() -> None:
    first = attempt()
    assert words(first, replace(first, reps=first.reps[:2])) == ["number of reps: 3, now 2"]


def test_what_only_one_record_holds_is_nothing_in_the_other() -> None:
    first = attempt()
    settings = [replace(first.versions, extraction={name: 1}) for name in ("a", "b")]
    found = version_differences(*(replace(first, versions=made) for made in settings))
    assert [difference.words for difference in found] == [
        "versions.extraction.a: 1, now nothing",
        "versions.extraction.b: nothing, now 1",
    ]


def test_long_values_are_cut() -> None:
    first = attempt()
    (found,) = words(first, replace(first, film_notes=["x" * 100]))
    assert found.endswith("now " + "x" * 57 + "...")


def test_numbers_that_agree_to_a_millionth_are_rounding() -> None:
    assert Difference("a", 1.0, 1.0 + 1e-7).is_rounding
    assert not Difference("a", 1.0, 1.0 + 1e-5).is_rounding
    assert not Difference("a", True, 1).is_rounding
    assert not Difference("a", "1", 1.0).is_rounding


def test_versions_are_compared_on_their_own() -> None:
    first = attempt()
    later = replace(first, versions=replace(first.versions, tool="99"))
    assert record_differences(first, later) == []
    (found,) = version_differences(first, later)
    assert (found.place, found.second) == ("versions.tool", "99")
