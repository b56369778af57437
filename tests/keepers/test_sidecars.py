"""Sidecars of scanned frames: where they go, what they are based on, what is left alone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.analysis.ratings import agreement
from auditor.derive.rebuild import rebuild
from auditor.errors import OutputError
from auditor.jobs.scan import scan
from auditor.keepers.choose import choose
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import plan_keepers
from auditor.keepers.sidecar_text import with_facts
from auditor.keepers.sidecars import Marks, plan_sidecars
from auditor.keepers.undo import take_back
from auditor.readers import xmp
from auditor.settings import Settings
from auditor.store.conditions import Conditions
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.selection import selected_frames
from tests.frame_files import Shot, write_card, write_frame
from tests.keepers.places import every_frame, listing

MARKS = Marks(rating=3, keywords=("otter",), flag_keywords={"smeared": "moved"})


@pytest.fixture
def card(tmp_path: Path) -> Path:
    write_card(tmp_path / "card", [Shot(number=number, after_s=number) for number in (1, 2, 3)])
    return tmp_path / "card"


def scanned(tmp_path: Path, *folders: Path) -> Iterator[Logbook]:
    path = tmp_path / "logbook.sqlite"
    scan(path, list(folders), Settings())
    with open_logbook(path) as book:
        rebuild(book, Settings())
        yield book


@pytest.fixture
def book(tmp_path: Path, card: Path) -> Iterator[Logbook]:
    write_frame(card / "other" / "TST_0001.TIF.JPG", Shot(number=9, after_s=99))
    (card / "DCIM/100TEST/TST_0002.xmp").write_bytes(with_facts(None, rating=None, keywords=["heron"]))
    (card / "DCIM/100TEST/TST_0003.JPG.xmp").write_bytes(with_facts(None, rating=5, keywords=[]))
    yield from scanned(tmp_path, card)


def facts(path: Path) -> tuple[int | None, tuple[str, ...]]:
    found = xmp.facts(path.read_bytes(), str(path))
    return found.rating, found.keywords


def test_into_a_folder_with_the_same_paths_and_what_lies_beside_the_original_in_them(
    book: Logbook, card: Path, tmp_path: Path
) -> None:
    before, target = listing(card), tmp_path / "marks"
    plan = plan_sidecars(book, every_frame(book), MARKS, target)
    assert hand_over(book, plan).failed == []
    assert {name for name, what in listing(target).items() if what is not None} == {
        "DCIM/100TEST/TST_0001.xmp", "DCIM/100TEST/TST_0002.xmp", "DCIM/100TEST/TST_0003.JPG.xmp",
        "other/TST_0001.TIF.xmp",
    }  # fmt: skip
    assert facts(target / "DCIM/100TEST/TST_0001.xmp") == (3, ("otter",))
    assert facts(target / "DCIM/100TEST/TST_0002.xmp") == (3, ("heron", "otter"))
    assert facts(target / "DCIM/100TEST/TST_0003.JPG.xmp") == (5, ("otter",))  # your own rating stays
    assert plan.ratings_kept == 1
    assert listing(card) == before
    again = hand_over(book, plan_sidecars(book, every_frame(book), MARKS, target))
    assert (again.made, len(again.there_already)) == ([], 4)
    take_back(book, 1)
    assert not target.exists()


def test_beside_the_originals_with_one_backup_and_no_picture_touched(
    book: Logbook, card: Path, tmp_path: Path
) -> None:
    before = listing(card)
    hand_over(book, plan_sidecars(book, every_frame(book), MARKS, None))
    after = listing(card)
    new = {name: what for name, what in after.items() if before.get(name, b"") != what}
    assert set(new) == {
        "DCIM/100TEST/TST_0001.xmp", "DCIM/100TEST/TST_0002.xmp", "DCIM/100TEST/TST_0002.xmp.before-1",
        "DCIM/100TEST/TST_0003.JPG.xmp", "DCIM/100TEST/TST_0003.JPG.xmp.before-1", "other/TST_0001.TIF.xmp",
    }  # fmt: skip
    assert new["DCIM/100TEST/TST_0002.xmp.before-1"] == before["DCIM/100TEST/TST_0002.xmp"]
    hand_over(book, plan_sidecars(book, every_frame(book), Marks(rating=1, replace_ratings=True), None))
    assert facts(card / "DCIM/100TEST/TST_0003.JPG.xmp")[0] == 1
    take_back(book, 2)
    assert listing(card) == after
    take_back(book, 1)
    assert listing(card) == before


def test_keywords_for_flags_go_to_the_frames_that_have_them(book: Logbook, tmp_path: Path) -> None:
    first, second = every_frame(book)[:2]
    with book.writing():
        book.execute(
            """UPDATE inferred SET flags = '["smeared", "iso_pushed"]' WHERE frame_id = ?""",
            (first.frame_id,),
        )
    rows = [first, second]
    plan = plan_sidecars(book, rows, Marks(flag_keywords={"smeared": "moved"}), tmp_path / "marks")
    words = [xmp.facts(move.content or b"", "").keywords for move in plan.moves]
    assert words == [("moved",), ("heron",)]


def test_a_frame_of_which_there_is_nothing_to_say_gets_no_empty_sidecar(
    book: Logbook, tmp_path: Path
) -> None:
    rated = every_frame(book)[:1]
    with book.writing():
        book.execute("UPDATE frames SET rating = 4 WHERE frame_id = ?", (rated[0].frame_id,))
    plan = plan_sidecars(book, rated, Marks(rating=3), tmp_path / "marks")
    assert (plan.moves, plan.left_out, plan.ratings_kept) == ([], [], 1)


def test_a_new_sidecar_repeats_what_the_picture_says_since_many_programs_read_the_sidecar_alone(
    book: Logbook, tmp_path: Path
) -> None:
    rows = every_frame(book)[:1]
    with book.writing():
        book.execute(
            """UPDATE frames SET rating = 4, keywords = '["heron", "dawn"]' WHERE frame_id = ?""",
            (rows[0].frame_id,),
        )
    plan = plan_sidecars(book, rows, MARKS, tmp_path / "marks")
    (move,) = plan.moves
    found = xmp.facts(move.content or b"", "")
    assert (found.rating, found.keywords) == (4, ("heron", "dawn", "otter"))
    (move,) = plan_sidecars(book, rows, Marks(rating=2, replace_ratings=True), tmp_path / "marks").moves
    found = xmp.facts(move.content or b"", "")
    assert (found.rating, found.keywords) == (2, ("heron", "dawn"))


def test_a_malformed_sidecar_is_left_alone_and_listed(book: Logbook, card: Path, tmp_path: Path) -> None:
    torn = card / "DCIM/100TEST/TST_0002.xmp"
    torn.write_bytes(b"<x:xmpmeta")
    for folder in (tmp_path / "marks", None):
        plan = plan_sidecars(book, every_frame(book), MARKS, folder)
        assert [path for path, _reason in plan.left_out] == [torn]
        done = hand_over(book, plan)
        assert "malformed" in done.failed[0][1]
        assert len(done.made) == 3
    assert torn.read_bytes() == b"<x:xmpmeta"


def test_a_sidecar_that_is_a_link_is_left_alone(book: Logbook, card: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere.xmp").write_bytes(with_facts(None, rating=None, keywords=["mine"]))
    link = card / "DCIM/100TEST/TST_0001.xmp"
    link.symlink_to(tmp_path / "elsewhere.xmp")
    plan = plan_sidecars(book, every_frame(book), MARKS, None)
    assert plan.left_out == [(link, "is a link: left alone")]


def test_a_sidecar_changed_by_another_program_meanwhile_is_not_replaced(book: Logbook, card: Path) -> None:
    path = card / "DCIM/100TEST/TST_0002.xmp"
    plan = plan_sidecars(book, every_frame(book), MARKS, None)
    newer = with_facts(None, rating=2, keywords=["newer"])
    path.write_bytes(newer)
    done = hand_over(book, plan)
    assert [reason for _path, reason in done.failed] == [
        "another program has changed the sidecar meanwhile: run it again"
    ]
    assert path.read_bytes() == newer
    assert take_back(book, 1).left == []
    assert path.read_bytes() == newer


def test_two_frames_of_one_stem_get_a_sidecar_each(tmp_path: Path) -> None:
    folder = tmp_path / "card"
    write_frame(folder / "a.JPG", Shot(number=1))
    write_frame(folder / "a.jpeg", Shot(number=2, after_s=60))
    for book in scanned(tmp_path, folder):
        plan = plan_sidecars(book, every_frame(book), MARKS, tmp_path / "marks")
        assert [move.target.name for move in plan.moves] == ["a.xmp", "a.jpeg.xmp"]
        # The first one's sidecar is never taken for the other's.
        hand_over(book, plan_sidecars(book, every_frame(book)[:1], MARKS, None))
        scan(book.path, [folder], Settings())
        plain = {frame.frame_id for frame in selected_frames(book) if not frame.keywords}
        others = [frame for frame in every_frame(book) if frame.frame_id in plain]
        plan = plan_sidecars(book, others, MARKS, None)
        assert [move.target.name for move in plan.moves] == [f"{Path(others[0].path or '').name}.xmp"]


def test_pictures_of_two_cards_with_the_same_paths_do_not_meet(tmp_path: Path) -> None:
    cards = [tmp_path / "one" / "card", tmp_path / "two" / "card"]
    for number, card in enumerate(cards):
        write_card(card, [Shot(number=1, after_s=100 * number)])
    for book in scanned(tmp_path, *cards):
        plan = plan_sidecars(book, every_frame(book), MARKS, tmp_path / "marks")
        assert [move.target.relative_to(tmp_path / "marks").as_posix() for move in plan.moves] == [
            "card/DCIM/100TEST/TST_0001.xmp", "card-2/DCIM/100TEST/TST_0001.xmp",
        ]  # fmt: skip


@pytest.mark.parametrize("place", ["card", "card/marks", "marks"])
def test_no_folder_of_sidecars_leads_into_the_scanned_one(
    book: Logbook, card: Path, tmp_path: Path, place: str
) -> None:
    (tmp_path / "marks").mkdir()
    (tmp_path / "marks" / "DCIM").symlink_to(card / "DCIM", target_is_directory=True)
    before = listing(card)
    with pytest.raises(OutputError, match="never written to"):
        plan_sidecars(book, every_frame(book), MARKS, tmp_path / place)
    assert listing(card) == before


def test_an_edited_picture_is_handed_over_where_there_is_no_other(
    book: Logbook, card: Path, tmp_path: Path
) -> None:
    with book.writing():
        book.execute("UPDATE files SET role = 'edited' WHERE path LIKE '%0001.JPG'")
        second = "(SELECT frame_id FROM files WHERE path LIKE '%0002.JPG')"
        book.execute(f"UPDATE files SET role = 'edited', frame_id = {second} WHERE path LIKE '%0003.JPG'")
    rows = [row for row in every_frame(book) if "100TEST" in (row.path or "")]
    plan = plan_keepers(book, rows, tmp_path / "keepers")
    assert plan.left_out == []
    assert [move.target.name for move in plan.moves if move.target.suffix == ".JPG"] == [
        "TST_0001.JPG", "TST_0002.JPG",
    ]  # fmt: skip


def test_a_picture_that_has_gone_is_listed(book: Logbook, card: Path, tmp_path: Path) -> None:
    row = every_frame(book)[0]
    Path(row.path or "").unlink()
    scan(book.path, [card], Settings())
    plan = plan_sidecars(book, [row], MARKS, tmp_path / "marks")
    assert plan.moves == []
    assert [str(path) for path, _reason in plan.left_out] == [row.path]


def ratings(book: Logbook, card: Path) -> dict[str, int | None]:
    """Ratings by file name after another scan."""
    scan(book.path, [card], Settings())
    return {Path(frame.path or "").name: frame.rating for frame in selected_frames(book)}


def rewritten(path: Path, rating: int, *words: str) -> None:
    """Another program changes a sidecar."""
    path.write_bytes(with_facts(path.read_bytes(), rating=rating, keywords=words, replace_rating=True))


class TestOwnRatings:
    """What the auditor wrote is never read back as the photographer's opinion."""

    def test_they_do_not_come_back_with_the_next_scan(self, book: Logbook, card: Path) -> None:
        before = ratings(book, card)
        assert before == {
            "TST_0001.JPG": None, "TST_0002.JPG": None, "TST_0003.JPG": 5, "TST_0001.TIF.JPG": None
        }  # fmt: skip
        hand_over(book, plan_sidecars(book, every_frame(book), MARKS, None))
        assert ratings(book, card) == before
        with book.writing():
            book.execute("UPDATE verdicts SET verdict = 'hit'")
        found = agreement(book)
        assert (found.liked_hits, found.liked_misses) == (1, 0)
        assert [Path(frame.path or "").name for frame in choose(book, Conditions(least_rating=1)).kept] == [
            "TST_0003.JPG"
        ]

    def test_a_rating_that_was_changed_since_is_the_photographers(self, book: Logbook, card: Path) -> None:
        hand_over(book, plan_sidecars(book, every_frame(book), MARKS, None))
        first, second = (card / f"DCIM/100TEST/TST_000{number}.xmp" for number in (1, 2))
        rewritten(first, 4)
        rewritten(second, 3, "added by another program")
        after = ratings(book, card)
        assert (after["TST_0001.JPG"], after["TST_0002.JPG"]) == (4, None)

    def test_one_that_replaced_the_photographers_leaves_that_as_the_opinion(
        self, book: Logbook, card: Path
    ) -> None:
        marks = Marks(rating=1, replace_ratings=True)
        hand_over(book, plan_sidecars(book, every_frame(book), marks, None))
        assert facts(card / "DCIM/100TEST/TST_0003.JPG.xmp")[0] == 1
        assert ratings(book, card)["TST_0003.JPG"] == 5
        take_back(book, 1)
        assert ratings(book, card)["TST_0003.JPG"] == 5

    def test_a_later_run_replaces_its_own_without_being_told_to(self, book: Logbook, card: Path) -> None:
        hand_over(book, plan_sidecars(book, every_frame(book), MARKS, None))
        scan(book.path, [card], Settings())
        plan = plan_sidecars(book, every_frame(book), Marks(rating=1), None)
        assert plan.ratings_kept == 1
        hand_over(book, plan)
        assert facts(card / "DCIM/100TEST/TST_0001.xmp")[0] == 1
        assert facts(card / "DCIM/100TEST/TST_0003.JPG.xmp")[0] == 5
        assert ratings(book, card)["TST_0001.JPG"] is None

    def test_a_sidecar_is_known_where_it_was_moved(self, book: Logbook, card: Path, tmp_path: Path) -> None:
        hand_over(book, plan_sidecars(book, every_frame(book), MARKS, tmp_path / "marks"))
        shutil.move(tmp_path / "marks/DCIM/100TEST/TST_0001.xmp", card / "DCIM/100TEST/TST_0001.xmp")
        assert ratings(book, card)["TST_0001.JPG"] is None

    def test_a_run_that_adds_keywords_alone_keeps_its_rating_known_wherever_it_is_moved(
        self, book: Logbook, card: Path, tmp_path: Path
    ) -> None:
        for marks in (MARKS, Marks(keywords=("evening",))):
            hand_over(book, plan_sidecars(book, every_frame(book), marks, tmp_path / "marks"))
        written = tmp_path / "marks/DCIM/100TEST/TST_0001.xmp"
        assert facts(written) == (3, ("otter", "evening"))
        shutil.move(written, card / "DCIM/100TEST/TST_0001.xmp")
        assert ratings(book, card)["TST_0001.JPG"] is None


def test_of_two_scanned_folders_the_inner_one_gives_the_paths(tmp_path: Path, card: Path) -> None:
    for book in scanned(tmp_path, card, card / "DCIM"):
        plan = plan_sidecars(book, every_frame(book), MARKS, tmp_path / "marks")
        assert [move.target.relative_to(tmp_path / "marks").as_posix() for move in plan.moves] == [
            f"100TEST/TST_000{number}.xmp" for number in (1, 2, 3)
        ]


def test_a_rating_of_0_is_none_and_gives_way(book: Logbook, tmp_path: Path) -> None:
    """ISO 16684-1, 8.4: of xmp:Rating, 0 says "unrated"."""
    rows = every_frame(book)[:1]
    with book.writing():
        book.execute("UPDATE frames SET rating = 0 WHERE frame_id = ?", (rows[0].frame_id,))
    plan = plan_sidecars(book, rows, Marks(rating=3), tmp_path / "marks")
    (move,) = plan.moves
    assert (xmp.facts(move.content or b"", "").rating, plan.ratings_kept) == (3, 0)
