"""The decoders of Sony, Fujifilm, Olympus, Panasonic and Pentax against the exiv2 library (R).

Runs on notes that this file writes, on ../shared/real_frames when it is there, and on the folder that
AUDITOR_CORPUS names. Where the two differ for a reason, EXPLAINED says which.
"""

from __future__ import annotations

import io
import itertools
import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import exiv2
import pytest

from auditor.errors import AuditorError
from auditor.readers.makernotes import (
    MakerNote,
    fujifilm,
    olympus,
    panasonic,
    pentax,
    sony,
    words,
)
from auditor.readers.source import ByteSource
from auditor.readers.tiff import TiffBlock
from auditor.records import MakerFacts

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.beside import REAL_FRAMES, needs_real_frames
from tests.readers import written_notes
from tests.readers.note_builder import jpeg
from tests.reference.exiv2_facts import (
    FUJIFILM_AREA,
    OLYMPUS_STABILISER,
    PANASONIC_FOCUS,
    PANASONIC_STABILISER,
    PENTAX_FOCUS,
    SONY_AREA,
    SONY_DRIVE,
    SONY_FOCUS,
    Facts,
    Seen,
    fujifilm_facts,
    olympus_facts,
    panasonic_facts,
    pentax_facts,
    sony_facts,
)
from tests.reference.real_files import Row, counts, folders_here, unexplained

MAKERS: dict[str, Any] = {
    "sony": sony, "fujifilm": fujifilm, "olympus": olympus, "om digital": olympus,
    "panasonic": panasonic, "leica": panasonic, "pentax": pentax, "ricoh": pentax, "asahi": pentax,
}  # fmt: skip

exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)


THEIRS: dict[Any, Callable[[Seen], Facts]] = {
    sony: sony_facts,
    fujifilm: fujifilm_facts,
    olympus: olympus_facts,
    panasonic: panasonic_facts,
    pentax: pentax_facts,
}

# (decoder, fact, why the two differ, when)
EXPLAINED: list[tuple[Any, str, str, Callable[[Any, Any], bool]]] = [
    (
        sony,
        "lens_name",
        "exiv2 0.28 leaves out the hundreds of the short end: 135 mm is 35 mm there",
        lambda mine, theirs: re.sub(r"\b\d0?(\d+)(?=-\d+mm|mm)", r"\1", str(mine), count=1) == theirs,
    ),
    (
        olympus,
        "drive_mode",
        "brackets count as a burst in 0x0200; 0x0600, which exiv2 does not interpret, tells them apart",
        lambda mine, theirs: (mine, theirs) == (words.BRACKETING, words.BURST),
    ),
]


def ours(facts: MakerFacts, maker: Any) -> Facts:
    """Our record in the same form."""
    found = {field.name: getattr(facts, field.name) for field in fields(facts)}
    area = facts.focus_areas[0] if facts.focus_areas else None
    found["focus_areas"] = (area.x, area.y) if area else None
    found["focus_area_size"] = (area.width, area.height) if area and area.width else None
    if facts.camera_word == "silent":
        found["camera_word"] = None
    if maker is fujifilm and facts.focus_mode:
        found["focus_mode"] = "manual" if facts.focus_mode == words.MANUAL else "not manual"
    return found


def blocks(data: bytes) -> Iterator[int]:
    """Where a TIFF header may lie: at the start, after "Exif", or anywhere (HEIF items)."""
    if data[:2] in (b"II", b"MM"):
        yield 0
    for mark in (b"Exif\0\0II", b"Exif\0\0MM"):
        if (place := data.find(mark)) >= 0:
            yield place + 6
    for mark in (b"II*\0", b"MM\0*"):
        if (place := data.find(mark)) >= 0:
            yield place


def note_in(data: bytes, name: str) -> MakerNote | None:
    """The first maker note of a file, found without the project's own container readers."""
    source = ByteSource(io.BytesIO(data), name, len(data))
    for base in blocks(data):
        try:
            tiff, at = TiffBlock.at_header(source, base)
            main = tiff.directory(at)
            photo = tiff.directory(tiff.integers(main[0x8769])[0])
            entry = photo[0x927C]
            width, height = (
                tiff.integers(photo[tag])[0] if tag in photo else None for tag in (0xA002, 0xA003)
            )
            make, model = (tiff.text(main[tag]) if tag in main else "" for tag in (0x010F, 0x0110))
        except (AuditorError, KeyError, IndexError):
            continue
        return MakerNote(tiff, entry.offset, entry.size_bytes, make, model, width or None, height or None)
    return None


def same(mine: Any, theirs: Any) -> bool:
    if isinstance(mine, tuple):
        return all(same(a, b) for a, b in zip(mine, theirs, strict=True))
    if isinstance(mine, float) and not isinstance(mine, bool):
        return abs(mine - float(theirs)) <= 0.006
    return bool(mine == theirs)


def compared(path: Path) -> tuple[Any, bytes, list[Row]] | None:
    """Decoder, the note's first bytes, and (fact, ours, exiv2's, why they differ) for all that both read."""
    data = path.read_bytes()
    note = note_in(data, path.name)
    if note is None:
        return None
    maker: Any = next((MAKERS[name] for name in MAKERS if note.make.lower().startswith(name)), None)
    if maker is None:
        return None
    try:
        image = exiv2.ImageFactory.open(str(path))
        image.readMetadata()
    except exiv2.Exiv2Error:
        return None
    mine = ours(maker.decode(note), maker)
    rows: list[Row] = []
    for fact, theirs in THEIRS[maker](Seen(image.exifData())).items():
        if mine[fact] in (None, ()) or theirs in (None, (), ""):
            continue
        why = None if same(mine[fact], theirs) else "unexplained"
        for explained, name, reason, when in EXPLAINED:
            if why and explained is maker and name == fact and when(mine[fact], theirs):
                why = reason
        rows.append((fact, mine[fact], theirs, why))
    start = note.tiff.source.read_up_to(note.offset, min(note.size_bytes, 20_000))
    return maker, start, rows


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one JPEG of each maker, its note written by the tests."""
    folder = tmp_path_factory.mktemp("written")
    for name, block in written_notes.ALL.items():
        (folder / f"{name}.jpg").write_bytes(jpeg(block()))
    return folder


WRITTEN_FACTS = {
    "sony": {
        "focus_mode", "area_mode", "drive_mode", "focus_areas", "focus_area_size", "lens_name",
        "shot_in_burst", "stabiliser", "converter_factor",
    },
    "fujifilm": {
        "focus_mode", "area_mode", "camera_word", "drive_mode", "focus_areas", "body_serial", "shot_in_burst",
        "lens_short_mm", "lens_long_mm", "lens_widest_at_short", "lens_widest_at_long",
    },
    "olympus": {
        "focus_mode", "drive_mode", "focus_areas", "focus_area_size", "focus_distance_m", "lens_name",
        "body_serial", "lens_short_mm", "lens_long_mm", "lens_widest_at_short", "lens_widest_at_long",
        "widest_f_number", "shot_in_burst", "stabiliser", "converter_factor",
    },
    "panasonic": {
        "focus_mode", "area_mode", "drive_mode", "focus_areas", "lens_name", "body_serial", "auto_iso",
        "shot_in_burst", "stabiliser",
    },
    "pentax": {"focus_mode", "camera_word", "drive_mode", "focus_areas", "body_serial"},
}  # fmt: skip


@pytest.mark.parametrize("maker", WRITTEN_FACTS)
def test_a_written_note_reads_as_exiv2_reads_it(written: Path, maker: str) -> None:
    result = compared(written / f"{maker}.jpg")
    assert result is not None
    rows = result[2]
    assert [row for row in rows if row[3]] == []
    assert {fact for fact, *_ in rows} == WRITTEN_FACTS[maker]


def test_real_files_read_as_exiv2_reads_them_or_the_difference_is_explained(written: Path) -> None:
    assert unexplained([written, *folders_here()], compared) == []


@needs_real_frames
def test_the_real_files_are_found_and_compared() -> None:
    totals = counts([REAL_FRAMES], compared)
    assert {maker: total["focus_mode"] for maker, total in totals.items()} == {
        "sony": 3, "fujifilm": 2, "olympus": 3, "pentax": 2,
    }  # fmt: skip
    assert totals["fujifilm"]["focus_areas"] == 2
    assert totals["olympus"]["focus_areas"] == 2


@pytest.mark.parametrize("module", [sony, fujifilm, olympus, panasonic, pentax])
def test_checked_counts_name_facts(module: Any) -> None:
    names = {field.name for field in fields(MakerFacts)}
    assert set(module.CHECKED) <= names
    assert all(count > 0 for count in module.CHECKED.values())


def label(key: str, text: str, kind: Any, model: str = "") -> str:
    """exiv2's interpretation of one value."""
    data = exiv2.ExifData()
    for name, value, form in (("Exif.Image.Model", model, exiv2.TypeId.asciiString), (key, text, kind)):
        holder = exiv2.Value.create(form)
        holder.read(value)
        data.add(exiv2.ExifKey(name), holder)
    return str(data[key].print(data))


BYTE, SHORT = exiv2.TypeId.unsignedByte, exiv2.TypeId.unsignedShort


@pytest.mark.parametrize(
    ("key", "kind", "model", "table", "labels"),
    [
        ("Exif.Sony1.FocusMode2", BYTE, "ILCE-1", sony._FOCUS_MODE_2, SONY_FOCUS),
        ("Exif.Sony1.FocusMode", SHORT, "DSC-R1", sony._FOCUS_MODE_1, SONY_FOCUS),
        ("Exif.Sony1Cs.FocusMode", SHORT, "DSLR-A700", sony._SETTINGS_FOCUS_MODE, SONY_FOCUS),
        ("Exif.Sony1.AFAreaModeSetting", BYTE, "ILCE-1", sony._AREA_MIRRORLESS, SONY_AREA),
        ("Exif.Sony1.AFAreaModeSetting", BYTE, "SLT-A58", sony._AREA_A_MOUNT, SONY_AREA),
        ("Exif.Sony1.ReleaseMode", SHORT, "ILCE-1", sony._DRIVE, SONY_DRIVE),
        ("Exif.Fujifilm.FocusArea", SHORT, "", fujifilm._AREA, FUJIFILM_AREA),
        ("Exif.OlympusCs.ImageStabilization", SHORT, "", olympus._STABILISER, OLYMPUS_STABILISER),
        ("Exif.Panasonic.FocusMode", SHORT, "", panasonic._FOCUS_MODE, PANASONIC_FOCUS),
        ("Exif.Panasonic.ImageStabilization", SHORT, "", panasonic._STABILISER, PANASONIC_STABILISER),
        ("Exif.Pentax.Focus", SHORT, "", pentax._FOCUS_MODE, PENTAX_FOCUS),
    ],
)
def test_every_number_in_a_table_means_what_exiv2_prints(
    key: str, kind: Any, model: str, table: dict[int, str], labels: dict[str, str]
) -> None:
    assert table == {number: labels[label(key, str(number), kind, model)] for number in table}


def test_sony_converters_are_named_as_exiv2_names_them() -> None:
    for number, (name, factor) in sony._CONVERTERS.items():
        theirs = label("Exif.Sony1.Teleconverter", str(number), exiv2.TypeId.unsignedLong)
        assert theirs.split(" (0x")[0] == name
        assert f"{factor:g}x" in theirs


def test_sony_lens_names_for_every_mark_a_lens_can_bear() -> None:
    marks = itertools.product(
        (0, 0x100, 0x200, 0x300), (0, 0x4000), (0, 0x20, 0x40, 0x60, 0x80), (0, 4, 8), (0, 1, 2), (0, 0x8000),
        (0, 0x2000), (0, 0x800),
    )  # fmt: skip
    for flags in (sum(choice) for choice in marks):
        before, after = sony._lens_words(flags)
        theirs = label("Exif.Sony1.LensSpec", f"{flags >> 8} 0 112 3 0 69 86 {flags & 255}", BYTE)
        assert " ".join([*before, "70-300mm", "F4.5-5.6", *after]) == theirs


def test_olympus_converters_are_those_exiv2_knows() -> None:
    for (maker, model), factor in olympus._CONVERTERS.items():
        theirs = label("Exif.OlympusEq.Extender", f"{maker} 0 {model} 0 0 0", BYTE)
        assert f"{factor:.1f}x Teleconverter" in theirs
