"""The decoders of Canon and Nikon against the exiv2 library (R).

Runs on notes that this file writes, on ../shared/real_frames when it is there, and on the folder that
AUDITOR_CORPUS names. Where the two differ for a reason, EXPLAINED says which.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import exiv2
import pytest

from auditor.readers.makernotes import MakerNote, canon, nikon, nikon_focus, words
from auditor.readers.source import ByteSource
from auditor.readers.tiff import TiffBlock
from auditor.records import MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.beside import REAL_FRAMES, needs_real_frames
from tests.readers import canon_nikon_notes as notes
from tests.readers.note_builder import Entry, jpeg
from tests.reference.exiv2_canon_nikon import (
    CANON_AREA,
    CANON_DRIVE,
    CANON_FOCUS,
    CANON_STABILISER,
    NIKON_AREA,
    canon_facts,
    nikon_facts,
)
from tests.reference.exiv2_facts import Facts, Seen
from tests.reference.real_files import Row, counts, folders_here, unexplained
from tests.reference.test_other_makers_against_exiv2 import label, note_in

MAKERS: dict[str, Any] = {"canon": canon, "nikon": nikon}
THEIRS: dict[Any, Callable[[Seen], Facts]] = {canon: canon_facts, nikon: nikon_facts}

# Facts that are not compared to the last digit, and how far they may be apart.
TOLERANCE = {
    # exiv2 prints the marked number (F6.3 for 6.17).
    "widest_f_number": 0.04,
    # Canon's own figure may lie half a third-stop beside the Exif one, Nikon's is cut to whole numbers.
    "iso": 0.12,
    "focus_distance_m": 0.01,
}

# (decoder, fact, why the two differ, when)
EXPLAINED: list[tuple[Any, str, str, Callable[[Any, Any], bool]]] = [
    (nikon, "iso", "0 in a damaged file: exiv2 computes 3 from it", lambda mine, theirs: theirs == 3),
]

exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)


def note_of(data: bytes, name: str) -> MakerNote | None:
    """The first maker note, found without the project's own container readers; a CR3's lies in a box."""
    box, main = data.find(b"CMT3"), data.find(b"CMT1")
    if data[4:11] != b"ftypcrx" or min(box, main) < 0:
        return note_in(data, name)
    source = ByteSource(io.BytesIO(data), name, len(data))
    block, first = TiffBlock.at_header(source, main + 4)
    text = {tag: block.text(entry) for tag, entry in block.directory(first).items() if tag in (0x10F, 0x110)}
    return MakerNote(TiffBlock.at_header(source, box + 4)[0], box + 12, 0, text[0x10F], text[0x110])


def ours(facts: MakerFacts) -> Facts:
    """Our record in the same form."""
    found: Facts = {field.name: getattr(facts, field.name) for field in fields(facts)}
    area = facts.focus_areas[0] if facts.focus_areas else None
    found["focus_areas"] = (area.x, area.y) if area else None
    found["focus_area_size"] = (area.width, area.height) if area and area.width else None
    # `silent` is the absence of a word: exiv2's absence is not compared either.
    found["camera_word"] = None if facts.camera_word == "silent" else facts.camera_word
    return found


def same(fact: str, mine: Any, theirs: Any) -> bool:
    if fact == "focus_distance_m" and isinstance(theirs, tuple):
        far, near = theirs
        return bool(near / 100 - 0.001 <= mine <= far / 100 + 0.001)
    if isinstance(mine, tuple):
        return all(abs(a - b) <= 0.0001 for a, b in zip(mine, theirs, strict=True))
    if isinstance(mine, float):
        return bool(abs(mine / theirs - 1) <= TOLERANCE.get(fact, 0.0001))
    return bool(mine == theirs)


def compared(path: Path) -> tuple[Any, tuple[Any, ...], list[Row]] | None:
    """Decoder, what tells the exposure from others, and (fact, ours, exiv2's, why they differ) for all that
    both read."""
    data = path.read_bytes()
    note = note_of(data, path.name)
    maker: Any = next((MAKERS[name] for name in MAKERS if note and note.make.lower().startswith(name)), None)
    if note is None or maker is None:
        return None
    try:
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
    except exiv2.Exiv2Error:
        return None
    mine, seen = ours(maker.decode(note)), Seen(image.exifData())
    rows: list[Row] = []
    for fact, theirs in THEIRS[maker](seen).items():
        if mine[fact] in (None, ()) or theirs in (None, (), ""):
            continue
        why = None if same(fact, mine[fact], theirs) else "unexplained"
        for explained, name, reason, when in EXPLAINED:
            if why and explained is maker and name == fact and when(mine[fact], theirs):
                why = reason
        rows.append((fact, mine[fact], theirs, why))
    return maker, (note.model, seen.value("Photo", 0x9003), mine["file_number"]), rows


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with JPEGs of each maker in both byte orders, their notes written by the tests."""
    folder = tmp_path_factory.mktemp("written")
    (folder / "canon.jpg").write_bytes(jpeg(notes.canon()))
    (folder / "canon_big_endian.jpg").write_bytes(jpeg(notes.canon(order=">")))
    (folder / "nikon.jpg").write_bytes(jpeg(notes.nikon()))
    (folder / "nikon_other_order.jpg").write_bytes(jpeg(notes.nikon(note_order=">")))
    return folder


WRITTEN_FACTS = {
    "canon": {
        "focus_mode", "area_mode", "camera_word", "focus_areas", "drive_mode", "shot_in_burst", "stabiliser",
        "focus_distance_m", "lens_name", "lens_short_mm", "lens_long_mm", "widest_f_number", "body_serial",
        "file_number",
    },
    "nikon": {
        "focus_mode", "camera_word", "focus_areas", "focus_area_size", "auto_iso", "drive_mode", "stabiliser",
        "focus_distance_m", "lens_name", "lens_short_mm", "lens_long_mm", "lens_widest_at_short",
        "lens_widest_at_long", "widest_f_number", "body_serial", "iso", "file_number",
    },
}  # fmt: skip


@pytest.mark.parametrize("name", ["canon", "canon_big_endian", "nikon", "nikon_other_order"])
def test_a_written_note_reads_as_exiv2_reads_it(written: Path, name: str) -> None:
    result = compared(written / f"{name}.jpg")
    assert result is not None
    assert [row for row in result[2] if row[3]] == []
    assert {fact for fact, *_ in result[2]} == WRITTEN_FACTS[name.partition("_")[0]]


@pytest.mark.parametrize("chosen", range(9))
def test_every_point_of_a_written_record_lies_where_exiv2_lists_it(tmp_path: Path, chosen: int) -> None:
    xs, ys = [-900, -450, -450, 0, 0, 0, 450, 450, 900], [0, 300, -300, 600, 0, -600, 300, -300, 0]
    points = notes.canon_points(xs=xs, ys=ys, in_focus=(chosen,), selected=(chosen, 4))
    (tmp_path / "one.jpg").write_bytes(
        jpeg(notes.canon([notes.canon_settings(), notes.canon_shot(), points]))
    )
    result = compared(tmp_path / "one.jpg")
    assert result is not None
    rows = {fact: (mine, why) for fact, mine, _, why in result[2]}
    assert rows["focus_areas"] == ((0.5 + xs[chosen] / 6000, 0.5 - ys[chosen] / 4000), None)
    assert rows["camera_word"] == ("confirmed", None)


@pytest.mark.parametrize(("last", "word"), [(1, "confirmed"), (0, "not_confirmed")])
def test_both_forms_of_contrast_detection_read_as_exiv2_reads_them(
    tmp_path: Path, last: int, word: str
) -> None:
    for version in (b"0100", b"0101"):
        area = notes.nikon_area(version, "<", head=(1, 1), area=(6000, 4000, 1500, 3000, 600, 400), last=last)
        block = notes.nikon([Entry(0x0007, "ASCII", b"AF-S  \0"), area])
        (tmp_path / "one.jpg").write_bytes(jpeg(block))
        result = compared(tmp_path / "one.jpg")
        assert result is not None
        assert [row for row in result[2] if row[3]] == []
        assert {"focus_mode", "camera_word", "focus_areas", "focus_area_size"} <= {
            row[0] for row in result[2]
        }
        assert dict(row[:2] for row in result[2])["camera_word"] == word


def test_real_files_read_as_exiv2_reads_them_or_the_difference_is_explained(written: Path) -> None:
    assert unexplained([written, *folders_here()], compared) == []


@needs_real_frames
def test_the_real_files_are_found_and_compared() -> None:
    totals = counts([REAL_FRAMES], compared)
    assert {maker: total["focus_mode"] for maker, total in totals.items()} == {"canon": 6, "nikon": 6}
    assert totals["canon"]["focus_areas"] == 4
    assert totals["nikon"]["focus_areas"] == 2


@needs_real_frames
def test_the_newest_focus_record_lies_where_it_is_read() -> None:
    """Version 0400, which exiv2 leaves raw, in the private data of a DNG: its middle is the picture's."""
    (path,) = REAL_FRAMES.glob("NIKON_Z_9*")
    data = path.read_bytes()
    source = ByteSource(io.BytesIO(data), path.name, len(data))
    note = MakerNote(TiffBlock(source, 0, "<"), data.index(b"Nikon\0\2"), 0, "NIKON", "NIKON Z 9", 5392, 3592)
    facts = nikon.decode(note)
    (area,) = facts.focus_areas
    assert (area.x, area.y) == pytest.approx((0.5, 0.5))
    assert area.width == pytest.approx(420 / 8256 * 8280 / 5408)
    assert (facts.focus_mode, facts.body_serial) == (words.CONTINUOUS, "3020326")


@pytest.mark.parametrize("module", [canon, nikon])
def test_checked_counts_name_facts(module: Any) -> None:
    assert set(module.CHECKED) <= {field.name for field in fields(MakerFacts)}
    assert all(count > 0 for count in module.CHECKED.values())


SHORT, BYTE = exiv2.TypeId.unsignedShort, exiv2.TypeId.unsignedByte


@pytest.mark.parametrize(
    ("key", "kind", "table", "labels", "unnamed"),
    [
        # The numbers that exiv2 has no name for are from memory.
        ("Exif.CanonCs.FocusMode", SHORT, canon._FOCUS_MODE, CANON_FOCUS, {257, 258}),
        ("Exif.Canon.AFAreaMode", SHORT, canon._AREA, CANON_AREA, set()),
        ("Exif.CanonCs.DriveMode", SHORT, canon._DRIVE, CANON_DRIVE, {8}),
        ("Exif.CanonCs.ImageStabilization", SHORT, canon._STABILISER, CANON_STABILISER, set()),
        ("Exif.NikonAf.AFAreaMode", BYTE, nikon_focus._OLD_AREA, NIKON_AREA, set()),
    ],
)
def test_every_number_in_a_table_means_what_exiv2_prints(
    key: str, kind: Any, table: dict[int, str], labels: dict[str, str], unnamed: set[int]
) -> None:
    named = {number: labels.get(label(key, str(number), kind)) for number in table}
    assert {number for number, word in named.items() if word is None} == unnamed
    assert {number: table[number] for number in table if number not in unnamed} == {
        number: word for number, word in named.items() if word
    }


def test_the_bits_of_the_shooting_mode_mean_what_exiv2_prints() -> None:
    for bits, words_printed, expected in (
        (nikon._CONTINUOUS, "Continuous", words.BURST),
        (nikon._SELF_TIMER, "Self-timer", words.SELF_TIMER),
        (nikon._INFRARED, "IR Control", words.REMOTE),
        (nikon._TETHERED, "PC Control", words.REMOTE),
        (nikon._DELAY, "Delay", None),
        (0x10, "Exposure Bracketing", words.BRACKETING),
        (0x40, "White-Balance Bracketing", words.BRACKETING),
        (0x100, "D-Lighting Bracketing", words.BRACKETING),
        (nikon._AUTO_ISO, "Auto ISO", words.SINGLE_FRAME),
    ):
        assert words_printed in label("Exif.Nikon3.ShootingMode", str(bits), SHORT)
        assert nikon._drive_mode(bits) == expected
