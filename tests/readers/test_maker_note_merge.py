"""How a maker's note joins the standard tags, and the one place that counts as focused on."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.readers import maker
from auditor.readers.focus_place import chosen, sound
from auditor.readers.frame import found_file, read_file
from auditor.readers.makernotes import MakerNote, words
from auditor.records import FocusArea, MakerFacts, Recorded
from auditor.words import CameraWord, MissingReason

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_frames
from tests.readers.note_builder import Entry
from tests.readers.written_frames import MAIN, PHOTO, changed, exif_block, jpeg

NOTE = Entry(0x927C, "UNDEFINED", b"Northlight note, version 1")
SEEN: list[MakerNote] = []

Reader = Callable[..., Recorded]


@pytest.fixture
def read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Reader:
    """Reads a frame whose maker's note says what the test wants."""

    def reader(
        facts: MakerFacts | Exception,
        *entries: Entry,
        drop: tuple[int, ...] = (),
        packet: bytes | None = None,
    ) -> Recorded:
        def decode(note: MakerNote) -> MakerFacts:
            SEEN.append(note)
            if isinstance(facts, Exception):
                raise facts
            return facts

        monkeypatch.setattr(maker, "decoder_for", lambda make: decode if make == "Northlight" else None)
        photo = [entry for entry in changed(PHOTO, NOTE, *entries) if entry.tag not in drop]
        path = tmp_path / "frame.jpg"
        path.write_bytes(jpeg(exif_block(MAIN, photo), packet))
        return read_file(found_file(path)).recorded

    return reader


def test_the_decoder_is_given_the_place_of_the_note(read: Reader) -> None:
    read(MakerFacts())
    note = SEEN[-1]
    assert note.tiff.source.read_at(note.offset, note.size_bytes) == NOTE.value
    assert (note.make, note.model, note.tiff.base, note.tiff.byte_order) == ("Northlight", "N 1", 0, "<")
    assert (note.width_px, note.height_px) == (6000, 4000)


def test_the_note_fills_what_the_standard_tags_lack_and_no_more(read: Reader) -> None:
    facts = MakerFacts(
        iso=640.0, body_serial="other", lens_name="Heron 500", focus_distance_m=12.0, file_number=421,
        shot_in_burst=3, converter_factor=1.4, stabiliser=words.ON, drive_mode=words.BURST, auto_iso=True,
    )  # fmt: skip
    recorded = read(facts)
    assert (recorded.iso, recorded.body_serial, recorded.lens_name) == (800, "0042", "Heron 500mm f/5.6")
    assert (recorded.focus_distance_m, recorded.file_number, recorded.shot_in_burst) == (12.0, 421, 3)
    assert (recorded.converter_factor, recorded.stabiliser, recorded.auto_iso) == (1.4, "on", True)
    lacking = read(facts, Entry(0xA434, "ASCII", b"----\0"), drop=(0x8827, 0xA431))
    assert (lacking.iso, lacking.body_serial, lacking.lens_name) == (640, "other", "Heron 500")


def test_a_lens_range_comes_whole_from_one_source(read: Reader) -> None:
    zoom = MakerFacts(lens_short_mm=100, lens_long_mm=400, lens_widest_at_short=4.5, lens_widest_at_long=5.6)
    with_converter = Entry(0xA432, "RATIONAL", (200, 1, 800, 1, 0, 1, 0, 1))
    recorded = read(zoom, with_converter)
    assert (recorded.lens_short_mm, recorded.lens_long_mm) == (200, 800)
    assert (recorded.lens_widest_at_short, recorded.lens_widest_at_long) == (None, None)
    same = read(zoom, Entry(0xA432, "RATIONAL", (100, 1, 400, 1, 0, 1, 0, 1)))
    assert (same.lens_widest_at_short, same.lens_widest_at_long) == (4.5, 5.6)
    alone = read(zoom, drop=(0xA432,))
    assert (alone.lens_short_mm, alone.lens_long_mm, alone.lens_widest_at_long) == (100, 400, 5.6)


@pytest.mark.parametrize(
    "error", [ValueError("odd"), RecursionError(), KeyError(1), MemoryError(), AssertionError()]
)
def test_a_decoder_that_raises_anything_costs_its_own_facts_alone(read: Reader, error: Exception) -> None:
    recorded = read(error)
    assert recorded.iso == 800
    for column in ("camera_word", "focus_mode", "area_mode", "drive_mode", "af_x", "auto_iso"):
        assert recorded.missing[column] == "maker_note_unreadable"


def test_a_note_of_an_unknown_maker_is_not_read_yet(tmp_path: Path) -> None:
    path = tmp_path / "frame.jpg"
    path.write_bytes(jpeg(exif_block(MAIN, changed(PHOTO, NOTE))))
    assert read_file(found_file(path)).recorded.missing["camera_word"] == "not_read_yet"


def test_no_number_that_is_none_gets_out_of_a_decoder(read: Reader) -> None:
    recorded = read(MakerFacts(focus_distance_m=math.nan, converter_factor=math.inf))
    assert (recorded.focus_distance_m, recorded.converter_factor) == (None, None)


@pytest.mark.parametrize(
    ("facts", "word"),
    [
        (MakerFacts(camera_word=CameraWord.NOT_CONFIRMED, focus_mode=words.CONTINUOUS), "not_confirmed"),
        (MakerFacts(focus_mode=words.MANUAL), "manual"),
        (MakerFacts(focus_mode=words.CONTINUOUS), "silent"),
        (MakerFacts(focus_areas=(FocusArea(x=0.5, y=0.5, used=True),)), "silent"),
        (MakerFacts(), None),
    ],
)
def test_camera_word(read: Reader, facts: MakerFacts, word: str | None) -> None:
    recorded = read(facts)
    assert recorded.camera_word == word
    assert recorded.missing.get("camera_word") == (None if word else "not_recorded")


def test_focus_areas_of_the_note_come_before_regions_and_those_before_the_subject_area(read: Reader) -> None:
    subject = Entry(0x9214, "SHORT", (600, 400))
    packet = written_frames.xmp()
    note = MakerFacts(focus_areas=(FocusArea(x=0.7, y=0.6, used=True),))
    assert read(note, subject, packet=packet).af_x == 0.7
    assert read(MakerFacts(), subject, packet=packet).af_x == 0.25
    assert read(MakerFacts(), subject).af_x == 0.1


def test_reasons_of_a_decoder_are_kept(read: Reader) -> None:
    recorded = read(MakerFacts(missing={"focus_distance_m": "not_read_yet"}))
    assert recorded.missing["focus_distance_m"] == "not_read_yet"


def area(x: float, y: float = 0.5, *, size: float | None = 0.1, **said: bool) -> FocusArea:
    return FocusArea(x=x, y=y, width=size, height=size, **said)


def test_the_area_in_focus_counts_before_those_used_and_those_before_the_only_one() -> None:
    used, sharp, idle = area(0.2, used=True), area(0.3, used=True, in_focus=True), area(0.8)
    assert chosen([idle, used, sharp]) == sharp
    assert chosen([idle, used]) == used
    assert chosen([idle]) == idle
    assert chosen([]) is None
    assert chosen([area(0.8, used=False)]) is None


def test_several_areas_in_focus_become_the_box_around_them() -> None:
    box = chosen([area(0.2, 0.4, in_focus=True), area(0.4, 0.5, in_focus=True), area(0.9, used=True)])
    assert box is not None
    assert (box.x, box.y, box.width, box.height) == pytest.approx((0.3, 0.45, 0.3, 0.2))
    assert box.in_focus is True
    at_the_edge = chosen([area(0.02, used=True), area(0.98, used=True)])
    assert at_the_edge is not None
    assert (at_the_edge.x, at_the_edge.width) == pytest.approx((0.5, 1.0))


def test_several_areas_of_which_nothing_says_which_was_used(read: Reader) -> None:
    recorded = read(MakerFacts(focus_areas=(area(0.2), area(0.8))))
    assert len(recorded.focus_areas) == 2
    assert recorded.af_x is None
    assert recorded.missing["af_x"] == recorded.missing["af_width"] == "several_focus_areas"


def test_areas_outside_the_picture_or_without_size() -> None:
    kept = sound(
        [area(1.2), area(math.nan), area(0.5, size=0.0), area(0.5, size=3.0), area(0.5, size=math.nan)]
    )
    assert [(place.x, place.width) for place in kept] == [(0.5, None), (0.5, 1.0), (0.5, None)]


def test_reasons_are_documented_words(read: Reader) -> None:
    for facts in (MakerFacts(), ValueError(), MakerFacts(focus_areas=(area(0.2), area(0.8)))):
        assert set(read(facts).missing.values()) <= set(MissingReason)
