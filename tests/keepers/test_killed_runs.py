"""A hand-over killed at every step: no half file is named, run again it finishes, it can be taken back."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import get_args

import pytest

from auditor.keepers.files import UNFINISHED
from auditor.keepers.handover import hand_over
from auditor.keepers.undo import take_back
from auditor.store import receipts
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.receipts import Way
from tests.keepers.places import CARD, listing, planned, write_place
from tests.share import cases

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="kills by a signal, in forked processes"),
    pytest.mark.long,
]
EVERY = cases(1, share=3)
"""Which steps runs are killed at: all, or every third."""
PROJECT = Path(__file__).parents[2]


Killed = Callable[[Path, Way, str], list[Path]]


@pytest.fixture(scope="module")
def killed() -> Iterator[Killed]:
    """A function that makes a place for each step at which a run was killed; the last run came to its end."""
    command = [sys.executable, "-m", "tests.keepers.killed_runs"]
    with subprocess.Popen(
        command, cwd=PROJECT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:

        def killed_there(folder: Path, way: Way, task: str) -> list[Path]:
            assert process.stdin is not None
            assert process.stdout is not None
            assert process.stderr is not None
            print(json.dumps([str(folder), way, task, EVERY]), file=process.stdin, flush=True)
            assert process.stdout.readline() == "done\n", process.stderr.read()
            return sorted(folder.iterdir())

        yield killed_there
        process.communicate()
    assert process.returncode == 0


def finished(folder: Path, way: Way) -> dict[str, bytes | str | None]:
    """What a run that nobody kills makes."""
    write_place(folder)
    with open_logbook(folder / "logbook.sqlite", create=True) as book:
        assert hand_over(book, planned(folder, way)).failed == []
    return without_place(folder)


def without_place(folder: Path) -> dict[str, bytes | str | None]:
    """A listing that does not depend on where the place is, nor on the number of the receipt."""
    return {
        name.rsplit(".before-", 1)[0] + (".before" if ".before-" in name else ""): (
            what.replace(str(folder), "") if isinstance(what, str) else what
        )
        for name, what in listing(folder / "keepers").items()
    }


def take_back_all(book: Logbook) -> None:
    for receipt in reversed(receipts.all_receipts(book)):
        if receipt.undone_at is None:
            assert take_back(book, receipt.receipt_id).left == []


@pytest.mark.parametrize(
    ("way", "task"),
    [*((way, "hand over") for way in get_args(Way)), *((w, "without links") for w in ("copy", "sidecar"))],
)
def test_killed_at_any_step_run_again_it_finishes_and_is_taken_back_whole(
    tmp_path: Path, killed: Killed, way: Way, task: str
) -> None:
    whole = finished(tmp_path / "whole", way)
    write_place(tmp_path / "before")
    before = listing(tmp_path / "before" / "keepers")
    places = killed(tmp_path / "killed", way, task)
    assert len(places) > 20 // EVERY
    for place in places:
        named = {name: what for name, what in without_place(place).items() if UNFINISHED not in name}
        half = {name for name, what in named.items() if what != whole.get(name) and what != before.get(name)}
        assert half == set(), f"{place.name}: half made"
        with open_logbook(place / "logbook.sqlite") as book:
            assert hand_over(book, planned(place, way)).failed == []
            assert without_place(place) == whole, place.name
            take_back_all(book)
        assert listing(place / "keepers") == before, place.name
        assert listing(place / "card") == listing(tmp_path / "whole" / "card"), place.name


@pytest.mark.parametrize("way", get_args(Way))
def test_killed_at_any_step_it_can_be_taken_back_at_once(tmp_path: Path, killed: Killed, way: Way) -> None:
    write_place(tmp_path / "before")
    before = listing(tmp_path / "before" / "keepers")
    for place in killed(tmp_path / "killed", way, "hand over"):
        with open_logbook(place / "logbook.sqlite") as book:
            take_back_all(book)
        assert listing(place / "keepers") == before, place.name


@pytest.mark.parametrize("way", get_args(Way))
def test_taking_back_killed_at_any_step_finishes_when_it_is_run_again(
    tmp_path: Path, killed: Killed, way: Way
) -> None:
    write_place(tmp_path / "before")
    before = listing(tmp_path / "before" / "keepers")
    places = killed(tmp_path / "killed", way, "undo")
    assert len(places) > 5 // EVERY
    for place in places:
        with open_logbook(place / "logbook.sqlite") as book:
            take_back_all(book)
        assert listing(place / "keepers") == before, place.name
        assert {name for name, what in listing(place / "card").items() if what is not None} == set(CARD)
