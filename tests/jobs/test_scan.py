"""Scanning: what is new is read, what is known is known again, nothing is lost or doubled."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import FolderError, LogbookError
from auditor.jobs.reading import read_chunk
from auditor.jobs.scan import ScanOutcome, scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_card, write_frame


def run(logbook: Path, *folders: Path) -> list[ScanOutcome]:
    return scan(logbook, list(folders), Settings())


def rows(logbook: Path, sql: str) -> list[dict[str, Any]]:
    with open_logbook(logbook) as book:
        return [dict(row) for row in book.query(sql)]


def files_of(logbook: Path) -> list[dict[str, Any]]:
    return rows(logbook, "SELECT * FROM frame_files ORDER BY path, present")


def number_of_frames(logbook: Path) -> int:
    return int(rows(logbook, "SELECT count(*) AS n FROM frame_facts")[0]["n"])


OPENED: list[str] | None = None


def _note_opened(event: str, arguments: tuple[Any, ...]) -> None:
    if OPENED is not None and event == "open" and isinstance(arguments[0], str):
        OPENED.append(arguments[0])


sys.addaudithook(_note_opened)


@contextmanager
def opened_files() -> Iterator[list[str]]:
    """Every file that Python opens meanwhile, told by the interpreter itself."""
    global OPENED
    OPENED = []
    try:
        yield OPENED
    finally:
        OPENED = None


def test_videos_are_counted_by_kind_and_passed_over_in_every_scan(card: Path, logbook: Path) -> None:
    for name in ("1.MP4", "2.mp4", "3.MOV", "1.THM"):
        (card / name).write_bytes(b"x")
    for _time in range(2):
        (outcome,) = run(logbook, card)
        assert outcome.passed_over == {"mp4": 2, "mov": 1}
        assert (outcome.seen, outcome.unreadable) == (6, [])


def test_a_card_scanned_twice_adds_nothing(card: Path, logbook: Path) -> None:
    first = run(logbook, card)[0]
    before = rows(logbook, "SELECT * FROM frame_facts ORDER BY frame_id")
    second = run(logbook, card)[0]
    assert (first.seen, first.read) == (6, 6)
    assert (second.seen, second.read, second.gone) == (6, 0, 0)
    assert rows(logbook, "SELECT * FROM frame_facts ORDER BY frame_id") == before


def test_a_rescan_reads_no_file_content(card: Path, logbook: Path) -> None:
    (card / "broken.jpg").write_bytes(b"this is no picture")
    with opened_files() as opened:
        run(logbook, card)
    assert len([name for name in opened if name.startswith(str(card))]) == 7
    with opened_files() as opened:
        outcome = run(logbook, card)[0]
    assert [name for name in opened if name.startswith(str(card))] == []
    assert len(outcome.unreadable) == 1


def test_a_moved_file_is_the_same_frame_and_the_same_file(card: Path, logbook: Path) -> None:
    run(logbook, card)
    old = card / "DCIM" / "100TEST" / "TST_0003.JPG"
    new = card / "keep" / "heron.jpg"
    new.parent.mkdir()
    old.rename(new)
    run(logbook, card)
    assert number_of_frames(logbook) == 6
    assert [Path(f["path"]).name for f in files_of(logbook) if f["present"]].count("heron.jpg") == 1
    assert len(files_of(logbook)) == 6


def test_a_copy_on_another_card_is_a_second_file_of_the_frame(
    card: Path, logbook: Path, tmp_path: Path
) -> None:
    run(logbook, card)
    second = tmp_path / "second"
    shutil.copytree(card, second)
    run(logbook, second)
    assert number_of_frames(logbook) == 6
    assert len(files_of(logbook)) == 12
    assert all(file["present"] for file in files_of(logbook))


def test_a_deleted_file_keeps_its_frame(card: Path, logbook: Path) -> None:
    run(logbook, card)
    gone = card / "DCIM" / "100TEST" / "TST_0002.JPG"
    gone.unlink()
    outcome = run(logbook, card)[0]
    assert outcome.gone == 1
    assert number_of_frames(logbook) == 6
    assert [f["path"] for f in files_of(logbook) if not f["present"]] == [str(gone)]


def test_a_file_that_comes_back_is_known(card: Path, logbook: Path, tmp_path: Path) -> None:
    run(logbook, card)
    away = tmp_path / "away"
    path = card / "DCIM" / "100TEST" / "TST_0002.JPG"
    shutil.move(path, away)
    run(logbook, card)
    shutil.move(away, path)
    with opened_files() as opened:
        outcome = run(logbook, card)[0]
    assert (outcome.back, outcome.read) == (1, 0)
    assert [name for name in opened if name.startswith(str(card))] == []
    assert all(file["present"] for file in files_of(logbook))


def test_an_emptied_card_marks_its_files_as_gone(card: Path, logbook: Path) -> None:
    run(logbook, card)
    shutil.rmtree(card / "DCIM")
    assert run(logbook, card)[0].gone == 6
    assert number_of_frames(logbook) == 6


def test_another_exposure_under_the_same_name_is_another_frame(card: Path, logbook: Path) -> None:
    """A card that was formatted and shot on again uses its names a second time."""
    run(logbook, card)
    path = card / "DCIM" / "100TEST" / "TST_0001.JPG"
    write_frame(path, Shot(number=1, after_s=86_400, iso=3200))
    run(logbook, card)
    assert number_of_frames(logbook) == 7
    at_path = [file for file in files_of(logbook) if file["path"] == str(path)]
    assert sorted(file["present"] for file in at_path) == [0, 1]


@pytest.mark.parametrize("hours", [-9, -1, 1, 2])
def test_a_whole_hour_shift_of_a_card_without_time_zone_is_no_change(
    card: Path, logbook: Path, hours: int
) -> None:
    run(logbook, card)
    for path in card.rglob("*.JPG"):
        facts = path.stat()
        os.utime(path, (facts.st_atime, facts.st_mtime + hours * 3600 + 1))
    assert run(logbook, card)[0].read == 0


def test_any_other_change_of_time_is_a_change(card: Path, logbook: Path) -> None:
    run(logbook, card)
    path = card / "DCIM" / "100TEST" / "TST_0001.JPG"
    facts = path.stat()
    os.utime(path, (facts.st_atime, facts.st_mtime + 1800))
    assert run(logbook, card)[0].read == 1
    assert number_of_frames(logbook) == 6


def test_a_raw_and_a_jpeg_of_one_exposure_are_one_frame(card: Path, logbook: Path) -> None:
    source = card / "DCIM" / "100TEST" / "TST_0001.JPG"
    twin = source.with_suffix(".jpeg")
    write_frame(twin, Shot(number=1, after_s=0.2))
    twin.write_bytes(twin.read_bytes() + b"\0")  # other bytes, same exposure
    run(logbook, card)
    assert number_of_frames(logbook) == 6
    assert len(files_of(logbook)) == 7


def test_frames_of_one_second_without_numbers_in_their_names_stay_apart(
    tmp_path: Path, logbook: Path
) -> None:
    folder = tmp_path / "renamed"
    for number, name in enumerate(("heron-a.jpg", "heron-b.jpg", "heron-c.jpg")):
        write_frame(folder / name, Shot(number=number, whole_seconds=True))
    run(logbook, folder)
    assert number_of_frames(logbook) == 3


def test_sidecars_of_both_names_reach_their_frame(card: Path, logbook: Path) -> None:
    packet = (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="{}"/></rdf:RDF></x:xmpmeta>'
    )
    place = card / "DCIM" / "100TEST"
    (place / "TST_0001.xmp").write_text(packet.format(4), encoding="utf-8")
    (place / "TST_0002.JPG.xmp").write_text(packet.format(2), encoding="utf-8")
    run(logbook, card)
    ratings = {
        Path(row["path"]).name: row["rating"]
        for row in rows(logbook, "SELECT path, rating FROM frame_facts WHERE rating IS NOT NULL")
    }
    assert ratings == {"TST_0001.JPG": 4, "TST_0002.JPG": 2}
    (place / "TST_0001.xmp").write_text(packet.format(5), encoding="utf-8")
    (place / "TST_0002.JPG.xmp").unlink()
    run(logbook, card)
    assert [
        row["rating"] for row in rows(logbook, "SELECT rating FROM frame_facts ORDER BY taken_at LIMIT 2")
    ] == [5, None]


def test_a_sidecar_that_comes_before_its_picture_waits_for_it(tmp_path: Path, logbook: Path) -> None:
    folder = tmp_path / "card"
    write_frame(folder / "A_0001.JPG", Shot(number=1))
    (folder / "B_0002.xmp").write_text(
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="3"/></rdf:RDF></x:xmpmeta>',
        encoding="utf-8",
    )
    run(logbook, folder)
    write_frame(folder / "B_0002.JPG", Shot(number=2, after_s=5))
    run(logbook, folder)
    assert [row["rating"] for row in rows(logbook, "SELECT rating FROM frame_facts ORDER BY taken_at")] == [
        None,
        3,
    ]


RATED = (
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    '<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="{}"/></rdf:RDF></x:xmpmeta>'
)


def rating_by_name(logbook: Path) -> dict[str, int | None]:
    return {
        Path(row["path"]).name: row["rating"] for row in rows(logbook, "SELECT path, rating FROM frame_facts")
    }


@pytest.mark.parametrize("picture_first", [True, False])
@pytest.mark.parametrize(
    ("picture", "sidecar"),
    [
        ("IMG_0001.JPG", "img_0001.xmp"),
        ("IMG_0001.JPG", "img_0001.jpg.xmp"),
        ("Cafe\u0301_0001.JPG", "Caf\u00e9_0001.XMP"),
        ("Caf\u00e9_0001.JPG", "cafe\u0301_0001.jpg.xmp"),
    ],
)
def test_a_sidecar_whose_name_is_only_alike_reaches_its_frame(
    tmp_path: Path, logbook: Path, picture: str, sidecar: str, picture_first: bool
) -> None:
    """Disks of macOS and Windows take both for one name; macOS itself writes accents apart."""
    folder = tmp_path / "card"
    write_frame(folder / "other" / picture, Shot(number=9, after_s=9))
    for name in (picture, sidecar) if picture_first else (sidecar, picture):
        if name == picture:
            write_frame(folder / name, Shot(number=1))
        else:
            (folder / name).write_text(RATED.format(3), encoding="utf-8")
        run(logbook, folder)
    taken = rows(logbook, "SELECT rating FROM frame_facts ORDER BY taken_at")
    assert [row["rating"] for row in taken] == [3, None]


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0), (2, 0, 1)])
def test_where_names_differ_in_case_alone_each_frame_has_its_own_sidecar(
    tmp_path: Path, logbook: Path, order: tuple[int, ...]
) -> None:
    folder = tmp_path / "card"
    folder.mkdir()
    (folder / "a.JPG").touch()
    if (folder / "A.JPG").exists():
        pytest.skip("this disk knows no upper and lower case")
    (folder / "a.JPG").unlink()
    write_frame(
        folder / "other" / "A_0009.JPG", Shot(number=9, after_s=90)
    )  # a folder of sidecars alone is none

    def other() -> None:
        write_frame(folder / "img_0001.JPG", Shot(number=1))

    def own() -> None:
        write_frame(folder / "IMG_0001.JPG", Shot(number=1, after_s=60))

    def sidecar() -> None:
        (folder / "IMG_0001.xmp").write_text(RATED.format(4), encoding="utf-8")

    for step in order:
        (other, own, sidecar)[step]()
        run(logbook, folder)
    assert rating_by_name(logbook) == {"img_0001.JPG": None, "IMG_0001.JPG": 4, "A_0009.JPG": None}


def test_one_bad_file_is_one_row_and_a_later_success_clears_it(card: Path, logbook: Path) -> None:
    bad = card / "DCIM" / "100TEST" / "TST_0007.JPG"
    bad.write_bytes(b"\xff\xd8 and then nothing of use")
    outcome = run(logbook, card)[0]
    assert outcome.read == 6
    (row,) = rows(logbook, "SELECT * FROM unreadable")
    assert row["path"] == str(bad)
    assert row["reason"]
    assert datetime.fromisoformat(row["seen_at"])
    write_frame(bad, Shot(number=7, after_s=3))
    assert run(logbook, card)[0].unreadable == []
    assert rows(logbook, "SELECT * FROM unreadable") == []
    assert number_of_frames(logbook) == 7


def test_progress_is_of_files_that_are_done_over_all_folders(
    card: Path, logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not of those that were only found: a bar would be full before the first file was read."""
    monkeypatch.setattr("auditor.jobs.workers.CHUNK", 2)
    write_frame(card / "DCIM" / "100TEST" / "TST_0007.JPG", Shot(number=7, after_s=3)).write_bytes(b"nothing")
    second = tmp_path / "second"
    write_card(second, [Shot(number=10 + n, after_s=60.0 + n) for n in range(3)])
    told: list[tuple[int, int]] = []
    for _time in range(2):
        scan(logbook, [card, second], Settings(), progress=lambda *now: told.append(now))
    assert told == [(2, 2), (4, 4), (6, 6), (7, 6), (9, 8), (10, 9), (7, 0), (10, 0)]


def test_a_killed_scan_is_completed_by_the_next(
    card: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped after the first batch: what was written stays, and no frame comes twice."""
    import auditor.jobs.scan as job

    monkeypatch.setattr("auditor.jobs.workers.CHUNK", 2)
    calls = 0

    def dies_on_the_second(found_files: list[Any]) -> list[Any]:
        nonlocal calls
        calls += 1
        if calls == 2:
            raise KeyboardInterrupt
        return original(found_files)

    original = read_chunk
    monkeypatch.setattr(job, "read_chunk", dies_on_the_second)
    with pytest.raises(KeyboardInterrupt):
        run(logbook, card)
    assert rows(logbook, "SELECT count(*) AS n FROM frames")[0]["n"] == 2
    monkeypatch.setattr(job, "read_chunk", original)
    assert run(logbook, card)[0].read == 4
    assert number_of_frames(logbook) == 6


def test_workers_read_the_same_as_one_process(
    card: Path, logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sql = "SELECT path, taken_at, iso, kit_name, burst_id FROM frame_facts ORDER BY path"
    run(logbook, card)
    monkeypatch.setattr("auditor.jobs.workers.WORTH_WORKERS", 2)
    monkeypatch.setattr("auditor.jobs.workers.CHUNK", 2)
    other = tmp_path / "other.sqlite"
    scan(other, [card], Settings(), jobs=2)
    assert rows(other, sql) == rows(logbook, sql)


class TestRefusals:
    def test_a_missing_folder(self, tmp_path: Path, logbook: Path) -> None:
        with pytest.raises(FolderError, match="there is no such folder"):
            run(logbook, tmp_path / "nowhere")
        assert not logbook.exists()

    def test_a_file_given_as_folder(self, card: Path, logbook: Path) -> None:
        with pytest.raises(FolderError, match="is a file"):
            run(logbook, card / "DCIM" / "100TEST" / "TST_0001.JPG")
        assert not logbook.exists()

    @pytest.mark.parametrize("with_text", [False, True])
    def test_a_folder_without_pictures(self, tmp_path: Path, logbook: Path, with_text: bool) -> None:
        folder = tmp_path / "empty"
        folder.mkdir()
        if with_text:
            (folder / "notes.txt").write_text("no pictures here", encoding="utf-8")
        with pytest.raises(FolderError, match="no pictures"):
            run(logbook, folder)
        assert not logbook.exists()

    def test_one_bad_folder_among_good_ones_changes_nothing(self, card: Path, logbook: Path) -> None:
        with pytest.raises(FolderError):
            run(logbook, card, card / "nowhere")
        assert not logbook.exists()

    def test_a_logbook_inside_the_scanned_folder(self, card: Path) -> None:
        with pytest.raises(LogbookError, match="inside the scanned folder"):
            run(card / "logbook.sqlite", card)
        assert not (card / "logbook.sqlite").exists()


def test_the_scanned_folder_is_never_written_to(card: Path, logbook: Path) -> None:
    def state() -> list[tuple[str, int, int]]:
        return sorted((str(p), p.stat().st_mtime_ns, p.stat().st_size) for p in [card, *card.rglob("*")])

    before = state()
    run(logbook, card)
    run(logbook, card)
    assert state() == before


def test_files_among_which_nothing_changed_are_known_without_asking_for_each(
    card: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_arguments: object) -> None:
        raise AssertionError("asked file by file")

    run(logbook, card)
    monkeypatch.setattr("auditor.store.files.known_files", refused)
    assert run(logbook, card)[0].seen == 6
    shutil.copy(next(path for path in card.rglob("*.*") if path.is_file()), card / "new.jpg")
    with pytest.raises(AssertionError):
        run(logbook, card)


def changed(card: Path, what: str) -> None:
    first, second, *_rest, last = sorted(path for path in card.rglob("*.*") if path.is_file())
    if what == "a byte more":
        times = second.stat().st_atime_ns, second.stat().st_mtime_ns
        second.write_bytes(second.read_bytes() + b"x")
        os.utime(second, ns=times)
    elif what == "another time":
        os.utime(second, ns=(0, second.stat().st_mtime_ns + 1_000_000_000))
    elif what == "gone from the middle":
        second.unlink()
    elif what == "gone from the end":
        last.unlink()
    elif what == "names exchanged":
        second.rename(card / "aside")
        first.rename(second)
        (card / "aside").rename(first)


@pytest.mark.parametrize(
    ("what", "read", "gone"),
    [
        ("a byte more", 1, 0),
        ("another time", 1, 0),
        ("gone from the middle", 0, 1),
        ("gone from the end", 0, 1),
        ("names exchanged", 2, 0),
    ],
)
def test_one_change_among_many_files_is_seen(
    card: Path, logbook: Path, what: str, read: int, gone: int
) -> None:
    for number, file in enumerate(sorted(path for path in card.rglob("*.*") if path.is_file())):
        os.utime(file, ns=(0, 1_777_790_469_000_000_000 + 1_000_000_000 * number))
    run(logbook, card)
    changed(card, what)
    outcome = run(logbook, card)[0]
    assert (outcome.read, outcome.gone) == (read, gone)
    assert (run(logbook, card)[0].read, run(logbook, card)[0].gone) == (0, 0)
