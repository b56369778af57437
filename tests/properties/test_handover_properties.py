"""Whatever lies in the target already and whatever is handed over: taken back, the target is as it was."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.errors import LogbookError
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import plan
from auditor.keepers.undo import take_back
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.receipts import Way
from tests.keepers.places import listing
from tests.share import cases

# Few names and few contents, so that they meet: in case alone, in their numbers, in their bytes.
names = st.sampled_from(
    ["A.JPG", "a.jpg", "A.xmp", "A-2.JPG", "a-2.jpg", "B.JPG", "é.JPG", "B", "B.before-1"]
)
contents = st.sampled_from([b"", b"one", b"two", b"six"])
cards = st.lists(st.dictionaries(names, contents, min_size=1, max_size=3), min_size=1, max_size=4)


@pytest.fixture(scope="module")
def handed_over(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("handed_over")


@pytest.fixture(scope="module")
def book(handed_over: Path) -> Iterator[Logbook]:
    with open_logbook(handed_over / "logbook.sqlite", create=True) as book:
        yield book


@pytest.mark.long
@settings(deadline=None, max_examples=cases(600, share=50))
@given(
    cards=cards,
    there=st.none() | st.dictionaries(names, contents, max_size=4),
    ways=st.lists(
        st.sampled_from([way for way in get_args(Way) if way != "sidecar"]), min_size=1, max_size=3
    ),
)
def test_taken_back_the_target_is_as_it_was(
    handed_over: Path,
    book: Logbook,
    cards: list[dict[str, bytes]],
    there: dict[str, bytes] | None,
    ways: list[Way],
) -> None:
    place, target = handed_over / "place", handed_over / "place" / "keepers"
    shutil.rmtree(place, ignore_errors=True)
    frames = []
    for number, files in enumerate(cards):
        folder = place / f"card{number}"
        folder.mkdir(parents=True)
        for name, content in files.items():
            (folder / name).write_bytes(content)
        frames.append([folder / name for name in files])
    if there is not None:
        target.mkdir()
        for name, content in there.items():
            (target / name).write_bytes(content)
    before = listing(place)
    made = []
    for way in ways:
        done = hand_over(book, plan(frames, target, way=way))
        assert done.failed == []
        if done.receipt_id is not None:
            made.append(done.receipt_id)
        # Every file is there under some name, and nothing that lay there was touched.
        found = {path.name: path.read_bytes() for path in target.iterdir()}
        wanted = {content for files in cards for content in files.values()}
        assert wanted <= set(found.values())
        assert (there or {}).items() <= found.items()
        # A second run makes nothing.
        assert hand_over(book, plan(frames, target, way=way)).made == []
    for receipt_id in reversed(made):
        assert take_back(book, receipt_id).left == []
    assert listing(place) == before
    for receipt_id in made:
        with pytest.raises(LogbookError, match="taken back"):
            take_back(book, receipt_id)
