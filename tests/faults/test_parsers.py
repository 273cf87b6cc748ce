"""Every parser reads or refuses whatever it is given, in one line and at once."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.faults.parsers import PARSERS, kept_seeds, try_one

STARTS = {name: parser.starts() for name, parser in PARSERS.items()}


@pytest.mark.parametrize("name", PARSERS)
def test_what_it_is_for_is_read(name: str) -> None:
    if name == "plan":
        pytest.skip("a whole plan is read in the tests of pacing")
    for start in STARTS[name]:
        PARSERS[name].parse(start)


@pytest.mark.parametrize(
    ("name", "seed"),
    [(name, seed) for name in PARSERS for seed in kept_seeds(name)],
    ids=lambda value: getattr(value, "name", value),
)
def test_what_was_a_fault_once_is_none_now(name: str, seed: object) -> None:
    try_one(PARSERS[name], seed.read_bytes())  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", PARSERS)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_changed_inputs_are_read_or_refused(name: str, data: st.DataObject) -> None:
    content = bytearray(data.draw(st.sampled_from(STARTS[name])))
    for _ in range(data.draw(st.integers(1, 6))):
        if not content:
            break
        place = data.draw(st.integers(0, len(content) - 1))
        kind = data.draw(st.sampled_from(["flip", "cut", "repeat", "put"]))
        if kind == "flip":
            content[place] ^= 1 << data.draw(st.integers(0, 7))
        elif kind == "cut":
            del content[place : place + data.draw(st.integers(1, 40))]
        elif kind == "repeat":
            content[place:place] = content[place : place + data.draw(st.integers(1, 40))] * 3
        else:
            content[place:place] = data.draw(st.binary(max_size=12))
    try_one(PARSERS[name], bytes(content))


@pytest.mark.parametrize("name", PARSERS)
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.binary(max_size=300))
def test_noise_is_read_or_refused(name: str, data: bytes) -> None:
    try_one(PARSERS[name], data)


@pytest.mark.parametrize("name", ["workout", "standards", "record", "plan", "requests"])
@pytest.mark.parametrize("opening", [b"[", b'{"a":', b"a = [", b"[[a."])
def test_deep_nesting_is_refused(name: str, opening: bytes) -> None:
    try_one(PARSERS[name], opening * 50_000)
