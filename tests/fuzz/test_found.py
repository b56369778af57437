"""What fuzzing found worth keeping, and changes of it: AuditorError or a result, and never much memory.

Coverage-guided fuzzing itself is `make fuzz`; the inputs in found/ are its own, none is of a camera.
"""

from __future__ import annotations

import tracemalloc
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fuzz import fuzz
from tests.fuzz.fuzz import LONGEST_BYTES, NAMES, found
from tests.fuzz.targets import TARGETS, Target
from tests.share import WHOLE, cases

MOST_MIB = 64
EVERY = 1 if WHOLE else 3
"""A share of what was found each time: some of it takes long, as files made to do so."""


@cache
def inputs_of(name: str) -> tuple[bytes, ...]:
    return (*TARGETS[name].seeds(), *found(name))


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_what_was_found_gives_a_result_or_an_auditor_error(name: str) -> None:
    assert found(name), "nothing was kept"
    for data in inputs_of(name)[::EVERY]:
        TARGETS[name].run(data)


@pytest.mark.long
@pytest.mark.parametrize("name", [name for name in NAMES if name != "pictures"])
def test_what_was_found_takes_little_memory(name: str) -> None:
    """As Python counts it; decoders take theirs past Python, and have limits of their own."""
    tracemalloc.start()
    try:
        for data in found(name)[:: 3 * EVERY]:
            TARGETS[name].run(data)
        assert tracemalloc.get_traced_memory()[1] < MOST_MIB * 2**20
    finally:
        tracemalloc.stop()


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=cases(3000, share=40), deadline=None)
@given(data=st.data())
def test_changes_of_what_was_found_do_so_too(name: str, data: st.DataObject) -> None:
    """Two of them joined, and some bytes of that changed."""
    inputs = inputs_of(name)
    one, other = (data.draw(st.sampled_from(inputs)) for _ in range(2))
    cut = data.draw(st.integers(0, len(one)))
    joined = bytearray((one[:cut] + other[cut:])[: LONGEST_BYTES[name]])
    for place, value in data.draw(
        st.lists(st.tuples(st.integers(0, 2**16), st.integers(0, 255)), max_size=8)
    ):
        if joined:
            joined[place % len(joined)] = value
    TARGETS[name].run(bytes(joined))


def test_what_brings_about_another_error_is_kept_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty(data: bytes) -> None:
        TARGETS["packets"].run(data)
        raise RuntimeError("a fault")

    monkeypatch.setitem(TARGETS, "faulty", Target(list, faulty))
    monkeypatch.setattr(fuzz, "FOUND", tmp_path / "found")
    (tmp_path / "corpus").mkdir()
    (tmp_path / "corpus" / "1").write_bytes(b"<x/>")
    assert fuzz.keep("faulty", tmp_path / "corpus") == 1
    assert found("faulty") == (b"<x/>",)
