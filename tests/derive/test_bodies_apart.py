"""Two bodies of one model that record no serial number: told apart by their file names, or said not to be."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.analysis.kit_table import kit_table
from auditor.derive.declaring import body_word
from auditor.errors import LogbookError
from auditor.jobs.scan import scan
from auditor.report.text import advice
from auditor.settings import Settings
from auditor.store.derived import kits_in_use
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_frame

NO_SERIAL = Shot(serial=None)
MINUTE = 60.0


def scanned(
    tmp_path: Path, frames: list[tuple[str, Shot]], card: str = "card"
) -> AbstractContextManager[Logbook]:
    """A logbook of frames with these prefixes of their file names."""
    for prefix, shot in frames:
        write_frame(tmp_path / card / "DCIM" / "100TEST" / f"{prefix}{shot.number:04d}.JPG", shot)
    scan(tmp_path / "logbook.sqlite", [tmp_path / card], Settings())
    return open_logbook(tmp_path / "logbook.sqlite")


def in_turn(
    first: str, second: str, *, apart: int = 4000, of: Shot = NO_SERIAL, from_s: float = 0.0
) -> list[tuple[str, Shot]]:
    """Encounters by turns of two bodies, each with a counter of its own: bursts of three."""
    frames = []
    for turn in range(8):
        second_body = turn % 2
        for shot in range(3):
            number = 100 + 3 * (turn // 2) + shot + apart * second_body
            after_s = from_s + 20 * MINUTE * turn + 0.2 * shot
            frames.append((second if second_body else first, replace(of, number=number, after_s=after_s)))
    return frames


def names(book: Logbook) -> set[str]:
    return {kit.kit_name for kit in kits_in_use(book)}


def test_bodies_with_file_names_of_their_own_are_two_kits(tmp_path: Path) -> None:
    with scanned(tmp_path, in_turn("ANN_", "BOB_")) as book:
        lens = "Long 500mm f/5.6"
        assert names(book) == {f"Body One (files ANN) + {lens}", f"Body One (files BOB) + {lens}"}
        rows = kit_table(book)
        assert [row.frames for row in rows] == [12, 12]
        assert [row.deleted for row in rows] == [0, 0]
        assert not any(row.numbers_of_several for row in rows)


def test_of_one_of_them_nothing_can_be_declared_and_it_says_what_to_type(tmp_path: Path) -> None:
    """Declarations go by what frames record, and both record the model."""
    with (
        scanned(tmp_path, in_turn("ANN_", "BOB_")) as book,
        pytest.raises(LogbookError, match=r"stands for all of them: Body One\.$"),
    ):
        body_word(book, "Body One (files ANN)")


def test_a_later_card_tells_the_bodies_of_an_earlier_one_apart(tmp_path: Path) -> None:
    frames = in_turn("ANN_", "BOB_")
    with scanned(tmp_path, [one for one in frames if one[0] == "ANN_"]) as book:
        assert names(book) == {"Body One + Long 500mm f/5.6"}
    with scanned(tmp_path, [one for one in frames if one[0] == "BOB_"], "second") as book:
        assert len(names(book)) == 2


def test_frames_of_two_bodies_at_one_moment_are_no_burst(tmp_path: Path) -> None:
    """Each with its own counter, a tenth of a second apart."""
    frames = in_turn("ANN_", "BOB_")
    frames += [
        (prefix, replace(NO_SERIAL, number=number + n, after_s=9000 + 0.2 * n + late_s))
        for prefix, number, late_s in (("ANN_", 300, 0.0), ("BOB_", 4300, 0.1))
        for n in range(4)
    ]
    with scanned(tmp_path, frames) as book:
        sizes = [row[0] for row in book.query("SELECT frames FROM bursts ORDER BY first_at DESC LIMIT 2")]
    assert sizes == [4, 4]


def test_alike_file_names_tell_nothing_and_it_is_said(tmp_path: Path) -> None:
    """Not thousands of deleted frames, and not none: they cannot be told."""
    with scanned(tmp_path, in_turn("ANN_", "ANN_")) as book:
        (row,) = kit_table(book)
    assert row.deleted == 0
    assert row.numbers_of_several
    (said,) = (text for text in advice.bounds(row) if "back and forth" in text)
    assert "cannot be told" in said


def test_prefixes_that_each_hold_two_counters_are_not_those_of_bodies(tmp_path: Path) -> None:
    """Both bodies changed the colour space in the middle of their bursts, or somebody renamed at will."""
    frames = [("BOB_" if place % 3 == 2 else "ANN_", shot) for place, (_, shot) in enumerate(in_turn("", ""))]
    with scanned(tmp_path, frames) as book:
        (row,) = kit_table(book)
        assert names(book) == {"Body One + Long 500mm f/5.6"}
    assert row.numbers_of_several


def renamed(prefixes: list[str]) -> list[tuple[str, Shot]]:
    shots = [shot for _prefix, shot in in_turn("", "", apart=0)]
    return list(zip(prefixes, shots, strict=True))


@pytest.mark.parametrize(
    "frames",
    [
        in_turn("TST_", "_TST", apart=0),  # the colour space moves the underscore
        renamed(["OLD_"] * 12 + ["NEW_"] * 12),
        in_turn("ANN_", "BOB_", of=Shot(serial="1001"), apart=0),
    ],
    ids=["colour spaces", "a prefix that was changed once", "with a serial number"],
)
def test_one_body_stays_one(tmp_path: Path, frames: list[tuple[str, Shot]]) -> None:
    numbered = [(prefix, replace(shot, number=100 + place)) for place, (prefix, shot) in enumerate(frames)]
    with scanned(tmp_path, numbered) as book:
        assert len(names(book)) == 1
        assert not any(row.numbers_of_several for row in kit_table(book))


def test_frames_of_one_counter_are_of_one_body_whatever_they_were_renamed_to(tmp_path: Path) -> None:
    frames = in_turn("TST_", "BEST", apart=0)
    numbered = [(prefix, replace(shot, number=100 + place)) for place, (prefix, shot) in enumerate(frames)]
    with scanned(tmp_path, numbered) as book:
        assert names(book) == {"Body One + Long 500mm f/5.6"}
