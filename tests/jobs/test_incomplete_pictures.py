"""A file that is cut short is told as such: no blur, no hit, never the best."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.report.text.desk import why
from auditor.settings import Settings
from auditor.store.best_frames import best_hits, best_of
from auditor.store.encounter_frames import frames_of_encounter
from auditor.store.frame_facts import FrameFacts
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from auditor.store.unreadable import unreadable_files
from tests.cli.program import run

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT"


def confirmed_hits(tmp_path: Path) -> list[Path]:
    """Sample frames that are hits and that the camera calls in focus."""
    book_path = tmp_path / "all.sqlite"
    scan(book_path, [SAMPLE], Settings())
    with open_logbook(book_path) as book:
        return [Path(row.path or "") for row in selected_frames(book) if row.camera_word == "confirmed"]


@pytest.fixture
def cut(tmp_path: Path) -> tuple[Path, str]:
    """A card with two frames that the camera calls in focus, one of them cut short; and its name."""
    card = tmp_path / "card"
    card.mkdir()
    paths = confirmed_hits(tmp_path)[:2]
    for path in paths:
        shutil.copy2(path, card / path.name)
    victim = card / paths[0].name
    victim.write_bytes(victim.read_bytes()[:9000])
    return card, victim.name


def audited(card: Path, logbook: Path) -> dict[str, FrameFacts]:
    scan(logbook, [card], Settings())
    with open_logbook(logbook) as book:
        measure(book, Settings())
        return {Path(row.path or "").name: row for row in selected_frames(book)}


def test_a_picture_cut_short_has_no_blur_and_is_unclear(cut: tuple[Path, str], tmp_path: Path) -> None:
    card, name = cut
    rows = audited(card, tmp_path / "logbook.sqlite")
    row = rows[name]
    assert row.camera_word == "confirmed"  # and yet no hit
    assert (row.verdict, row.verdict_source) == ("unclear", "pixels")
    assert row.verdict_on_subject is None
    assert row.missing["verdict"] == "cut_short"
    for column in ("blur_px", "blur_um", "blur_urad", "system_blur_px", "system_blur_urad", "measured_on"):
        assert getattr(row, column) is None
        assert row.missing[column] == "cut_short"
    assert "incomplete" in row.flags
    (other,) = (row for other_name, row in rows.items() if other_name != name)
    assert other.blur_px is not None
    assert "incomplete" not in other.flags


def test_a_picture_cut_short_is_listed_with_how_much_is_missing(
    cut: tuple[Path, str], tmp_path: Path
) -> None:
    card, name = cut
    audited(card, tmp_path / "logbook.sqlite")
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        (file,) = unreadable_files(book)
    assert Path(file.path).name == name
    assert (file.stage, file.error_class) == ("pixels", "IncompleteFileError")
    match = re.fullmatch(r"the file is cut short: the lowest (\d+) % of its picture is missing", file.reason)
    assert match
    assert 60 <= int(match[1]) <= 90  # 9 kB of about 34


def test_it_is_said_once_that_a_file_is_cut_short(cut: tuple[Path, str], tmp_path: Path) -> None:
    """The flag and the reason of the verdict say the same: only one of them is shown."""
    card, name = cut
    row = audited(card, tmp_path / "logbook.sqlite")[name]
    listed = run("frames", "--logbook", tmp_path / "logbook.sqlite").stdout.splitlines()
    place = next(place for place, line in enumerate(listed) if name in line)
    assert "\n".join(listed[place : place + 2]).count("cut short") == 1
    assert "incomplete = cut short" in " ".join(listed)  # by which it is chosen
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        (frame,) = (
            frame
            for frame in frames_of_encounter(book, row.encounter_id or 0)
            if frame.frame_id == row.frame_id
        )
    assert why(frame) == "the file is cut short; camera said in focus"
    page = tmp_path / "report"
    assert run("report", "--logbook", tmp_path / "logbook.sqlite", "--into", page).returncode == 0
    tiles = re.findall(
        r"<li data-frame.*?</li>", (page / "report.html").read_text(encoding="utf-8"), re.DOTALL
    )
    opened = [tile.partition('<div class="opened">')[2] for tile in tiles if name in tile]
    assert [tile.count("cut short") for tile in opened] == [1] * len(opened)
    assert opened


def test_a_picture_cut_short_is_never_the_best(cut: tuple[Path, str], tmp_path: Path) -> None:
    card, name = cut
    rows = audited(card, tmp_path / "logbook.sqlite")
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert rows[name].frame_id not in best_hits(book)
        ids = [row.frame_id for row in rows.values()]
        assert best_of(book, ids, per="scene")[0] != rows[name].frame_id or len(best_of(book, ids)) == 2


def test_a_second_copy_that_is_whole_is_measured_instead(cut: tuple[Path, str], tmp_path: Path) -> None:
    """Two cards in one body: the copy on the other card is measured, and the bad file is still listed."""
    card, name = cut
    second = tmp_path / "second"
    second.mkdir()
    shutil.copy2(SAMPLE / name, second / name)
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [card, second], Settings())
    with open_logbook(logbook) as book:
        outcome = measure(book, Settings())
        assert outcome.measured == 2
        row = next(row for row in selected_frames(book) if Path(row.path or "").name == name)
        assert row.blur_px is not None
        assert "incomplete" not in row.flags
        assert [Path(bad.path).parent for bad in unreadable_files(book)] == [card]
        assert measure(book, Settings()).measured == 0


def test_a_file_that_is_cut_short_after_it_was_measured_loses_its_reading(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    path = shutil.copy2(confirmed_hits(tmp_path)[0], card)
    logbook = tmp_path / "logbook.sqlite"
    ((_name, before),) = audited(card, logbook).items()
    assert before.blur_px is not None
    Path(path).write_bytes(Path(path).read_bytes()[:-3000])
    ((_name, after),) = audited(card, logbook).items()
    assert after.frame_id == before.frame_id
    assert (after.blur_px, after.verdict) == (None, "unclear")


@pytest.mark.parametrize("kind", ["hole", "heif", "tiff"])
def test_damage_of_other_kinds_is_no_hit_either(tmp_path: Path, kind: str) -> None:
    from PIL import Image

    card = tmp_path / "card"
    card.mkdir()
    source = confirmed_hits(tmp_path)[0]
    if kind == "hole":  # zeros amid the picture, as from a card with bad blocks
        data = bytearray(source.read_bytes())
        data[len(data) // 2 : len(data) // 2 + 2000] = bytes(2000)
        (card / source.name).write_bytes(data)
    else:
        from pillow_heif import register_heif_opener

        register_heif_opener()
        path = card / f"{source.stem}.{'HEIC' if kind == 'heif' else 'TIF'}"
        with Image.open(source) as picture:
            picture.save(path, exif=picture.getexif())
        path.write_bytes(path.read_bytes()[: path.stat().st_size * 2 // 3])
    ((_name, row),) = audited(card, tmp_path / "logbook.sqlite").items()
    assert (row.verdict, row.blur_px) == ("unclear", None)
    assert row.missing["verdict"] == ("undecodable" if kind == "hole" else "cut_short")


def test_harmless_oddities_of_cameras_are_no_damage(tmp_path: Path) -> None:
    """Bytes after the picture, and stray bytes before its end marker, are what some cameras write (R)."""
    card = tmp_path / "card"
    card.mkdir()
    source = confirmed_hits(tmp_path)[0]
    data = source.read_bytes()
    assert data[-2:] == b"\xff\xd9"
    (card / source.name).write_bytes(data[:-2] + b"\x12\x13" + data[-2:] + bytes(500))
    ((_name, row),) = audited(card, tmp_path / "logbook.sqlite").items()
    assert row.blur_px is not None
