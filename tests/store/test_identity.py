"""Which files are one exposure: pairs, two bodies of a model, edited copies."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from auditor.records import FileReading, FoundFile, Recorded
from auditor.store.exposure_identity import is_edited
from auditor.store.files import store_readings
from auditor.store.logbook import Logbook, open_logbook
from auditor.words import FileRole

ORIGINAL = Recorded(
    taken_at="2026-04-18T06:00:00.250",
    body_make="Testmaker",
    body_model="Body One",
    body_serial="1001",
    iso=800.0,
    software="Body One Ver.1.02",
    width_px=6000,
    height_px=4000,
    recorded_width_px=6000,
    recorded_height_px=4000,
)
EDITED = replace(ORIGINAL, software="Darkroom 3.1", iso=None, keywords=("best",))


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as opened:
        yield opened


def store(book: Logbook, *files: tuple[str, Recorded]) -> None:
    for path, recorded in files:
        role = {"NEF": FileRole.RAW, "xmp": FileRole.SIDECAR}.get(path.rsplit(".", 1)[1], FileRole.JPEG)
        found = FoundFile(path=path, role=role, size_bytes=1, modified_at="2026-04-18T06:00:00.000000Z")
        with book.writing():
            store_readings(
                book,
                [FileReading(found=found, fingerprint=f"f-{path}", recorded=recorded)],
                volume="/",
                still_there=lambda path: True,
            )


def frames(book: Logbook) -> list[set[str]]:
    """Paths and roles, frame by frame."""
    found: dict[int, set[str]] = {}
    for row in book.query("SELECT frame_id, path, role FROM frame_files ORDER BY frame_id"):
        found.setdefault(row["frame_id"], set()).add(f"{row['path']} {row['role']}")
    return list(found.values())


def test_a_raw_and_a_jpeg_are_one_frame_even_when_only_one_has_the_serial(book: Logbook) -> None:
    store(book, ("/c/A_0001.NEF", ORIGINAL), ("/c/A_0001.JPG", replace(ORIGINAL, body_serial=None)))
    assert frames(book) == [{"/c/A_0001.NEF raw", "/c/A_0001.JPG jpeg"}]


def test_two_bodies_of_one_model_at_one_moment_are_two_frames(book: Logbook) -> None:
    other = replace(ORIGINAL, body_serial="2002")
    store(book, ("/c/A_0001.JPG", ORIGINAL), ("/d/A_0001.JPG", other), ("/e/A_0001.NEF", other))
    assert frames(book) == [{"/c/A_0001.JPG jpeg"}, {"/d/A_0001.JPG jpeg", "/e/A_0001.NEF raw"}]


def test_two_bodies_at_one_moment_stay_two_when_they_are_read_in_one_batch(book: Logbook) -> None:
    """Two bodies of one model, set to one clock and numbering, fired by one remote: five frames each."""
    readings = [
        FileReading(
            found=FoundFile(
                path=f"/{card}/A_{number:04d}.JPG",
                role=FileRole.JPEG,
                size_bytes=1,
                modified_at="2026-04-18T06:00:00Z",
            ),
            fingerprint=f"{card}{number}",
            recorded=replace(ORIGINAL, body_serial=serial, taken_at=f"2026-04-18T06:00:0{number}"),
        )
        for number in range(1, 6)
        for card, serial in (("c", "1001"), ("d", "2002"))
    ]
    with book.writing():
        store_readings(book, readings, volume="/", still_there=lambda path: True)
    assert len(frames(book)) == 10


def test_a_serial_that_a_later_file_brings_counts_for_the_rest_of_its_batch(book: Logbook) -> None:
    def reading(path: str, serial: str | None) -> FileReading:
        found = FoundFile(path=path, role=FileRole.JPEG, size_bytes=1, modified_at="2026-04-18T06:00:00Z")
        return FileReading(found=found, fingerprint=path, recorded=replace(ORIGINAL, body_serial=serial))

    batch = [
        reading("/c/A_0001.JPG", None),
        reading("/d/A_0001.JPG", "1001"),
        reading("/e/A_0001.JPG", "2002"),
    ]
    with book.writing():
        store_readings(book, batch, volume="/", still_there=lambda path: True)
    assert frames(book) == [{"/c/A_0001.JPG jpeg", "/d/A_0001.JPG jpeg"}, {"/e/A_0001.JPG jpeg"}]


@pytest.mark.parametrize("name", ["/c/edits/A_0001.JPG", "/c/A_0001-edit.JPG", "/c/A_0001 (2).JPG"])
@pytest.mark.parametrize("edited_first", [False, True])
def test_an_edited_copy_belongs_to_its_original_and_says_nothing_for_it(
    book: Logbook, name: str, edited_first: bool
) -> None:
    files = [("/c/A_0001.NEF", ORIGINAL), (name, EDITED)]
    store(book, *(reversed(files) if edited_first else files))
    assert frames(book) == [{"/c/A_0001.NEF raw", f"{name} edited"}]
    (row,) = book.query("SELECT iso, keywords, software FROM frames")
    assert tuple(row) == (800.0, None, "Body One Ver.1.02")


def test_an_edited_copy_without_its_original_stands_for_itself(book: Logbook) -> None:
    store(book, ("/c/heron final.JPG", EDITED))
    assert frames(book) == [{"/c/heron final.JPG edited"}]
    assert book.query("SELECT keywords FROM frames")[0][0] == '["best"]'


def test_an_edited_copy_of_one_frame_in_a_burst_does_not_take_its_neighbour(book: Logbook) -> None:
    store(book, ("/c/A_0001.JPG", ORIGINAL), ("/c/A_0002.JPG", ORIGINAL), ("/c/A_0002-edit.JPG", EDITED))
    assert frames(book) == [{"/c/A_0001.JPG jpeg"}, {"/c/A_0002.JPG jpeg", "/c/A_0002-edit.JPG edited"}]


@pytest.mark.parametrize(
    ("software", "edited"),
    [
        (None, False),
        ("", False),
        ("Ver.1.02 ", False),
        ("1.00", False),
        ("Version 1.0          ", False),
        ("Version F.0", False),
        ("Body One v1.10", False),
        ("Digital Camera Body One Ver3.01", False),
        ("One Firmware Ver 01.10", False),
        ("Darkroom 3.1", True),
        ("Darkroom", True),
        ("Created by Stitcher version 2.9", True),
    ],
)
def test_software_of_a_camera_and_of_others(software: str | None, edited: bool) -> None:
    assert is_edited("jpeg", replace(ORIGINAL, software=software)) is edited


def test_a_resized_picture_is_an_edited_one() -> None:
    assert is_edited("jpeg", replace(ORIGINAL, width_px=1500, height_px=1000))
    assert not is_edited("jpeg", replace(ORIGINAL, width_px=4000, height_px=6000)), "only turned"
    assert not is_edited("raw", replace(ORIGINAL, width_px=160, height_px=120)), "a raw's own preview"
