"""A page to give away holds no serial number, folder or name that was given, and says what is left out."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.report.sharing import without_serials
from auditor.report.write import write_report
from auditor.store.derived import kits_in_use
from auditor.store.logbook import open_logbook
from auditor.store.trips import find_trip
from tests.cli.program import run

GIVEN = "Secret Marsh"


@pytest.fixture
def logbook(tmp_path: Path, measured_sample: Callable[[Path], Path]) -> Path:
    """The sample trip under a name, with a file that cannot be read, and kits of a twin body."""
    path = measured_sample(tmp_path)
    with open_logbook(path) as book, book.writing():
        book.execute("UPDATE trips SET name = ?", (GIVEN,))
        book.execute(
            "INSERT INTO unreadable VALUES "
            "('/home/somebody/broken.jpg', 'head', 'damaged', 'CorruptFileError', '2026', 1, '2026', '1')"
        )
        book.execute("UPDATE kits SET body_serial = 'TWIN-77' WHERE converter_factor = 2")
    return path


def private_texts(logbook: Path) -> set[str]:
    with open_logbook(logbook) as book:
        serials = {row[0] for row in book.query("SELECT body_serial FROM frames WHERE body_serial NOT NULL")}
        folders = {str(Path(row[0]).parent) for row in book.query("SELECT path FROM files")}
    inside = {part for folder in folders for part in Path(folder).parts[-3:]}
    return {*serials, *folders, *inside, "TWIN-77", "somebody", GIVEN, str(logbook), logbook.name}


def test_nothing_private_is_on_the_page(logbook: Path, tmp_path: Path) -> None:
    done = run("report", "--share", "--logbook", logbook, "--into", tmp_path / "shared")
    page = tmp_path / "shared" / "report-to-share.html"
    assert done.stdout.strip() == str(page)
    assert [path.name for path in page.parent.iterdir()] == [page.name]
    text = re.sub(r"base64,[\w+/=]+", "", page.read_text(encoding="utf-8"))
    assert [private for private in private_texts(logbook) if private in text] == []
    assert "Left out: serial numbers, folders, the trip&#39;s name" in text.replace("'", "&#39;")
    assert "broken.jpg" in text
    assert "18 to 19 April 2026" in text


def test_the_page_for_oneself_does_hold_them(logbook: Path, tmp_path: Path) -> None:
    with open_logbook(logbook) as book:
        page = write_report(book, tmp_path / "own", trip=find_trip(book, None))
    text = page.read_text(encoding="utf-8")
    assert GIVEN in text
    assert "Left out" not in text


def test_pictures_on_the_page_carry_no_metadata(logbook: Path, tmp_path: Path) -> None:
    import base64

    with open_logbook(logbook) as book:
        page = write_report(book, tmp_path / "shared", trip=find_trip(book, None), share=True)
    pictures = re.findall(r"base64,([\w+/=]+)", page.read_text(encoding="utf-8"))
    assert len(pictures) > 10
    assert not any(
        b"Exif" in base64.b64decode(data) or b"http" in base64.b64decode(data) for data in pictures
    )


def test_two_bodies_of_a_model_stay_apart_by_letters(logbook: Path) -> None:
    with open_logbook(logbook) as book:
        kits = without_serials(kits_in_use(book))
    assert {kit.body_serial for kit in kits} == {"A", "B"}
    assert len({kit.kit_name for kit in kits}) == len(kits)
    assert not any("TWIN" in kit.kit_name or "-77" in kit.kit_name for kit in kits)
