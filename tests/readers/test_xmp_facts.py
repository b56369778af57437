"""XMP: both ways to write a property, regions, sidecars, and packets that mean harm.

The forms are those of ISO 16684-1 and of the Metadata Working Group's guidelines 2.0 (S: ranges of
xmp:Rating, centre and usage of regions; R: the rest).
"""

from __future__ import annotations

import socket
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from auditor.errors import CorruptFileError
from auditor.readers import xmp
from auditor.readers.frame import found_file, read_file
from auditor.records import FocusArea, Recorded

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for the builder that several folders share
from tests.readers import written_frames
from tests.readers.note_builder import Entry
from tests.readers.written_frames import MAIN, changed, exif_block, jpeg

ELEMENTS = b"""<x:xmpmeta xmlns:x="adobe:ns:meta/">
<r:RDF xmlns:r="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<r:Description r:about="" xmlns:xap="http://ns.adobe.com/xap/1.0/">
<xap:Rating> 3 </xap:Rating></r:Description>
<r:Description r:about="" xmlns:d="http://purl.org/dc/elements/1.1/"><d:subject><r:Seq><r:li>gull</r:li>
<r:li xml:lang="x-default">gull</r:li><r:li> low   tide </r:li><r:li/></r:Seq></d:subject></r:Description>
<r:Description r:about="" xmlns:m="http://www.metadataworkinggroup.com/schemas/regions/"
 xmlns:a="http://ns.adobe.com/xmp/sType/Area#" xmlns:s="http://ns.adobe.com/xap/1.0/sType/Dimensions#">
<m:Regions r:parseType="Resource">
<m:AppliedToDimensions r:parseType="Resource"><s:w>6000</s:w><s:h>4000</s:h></m:AppliedToDimensions>
<m:RegionList><r:Bag>
<r:li r:parseType="Resource"><m:Type>Face</m:Type><m:Area a:x="0.9" a:y="0.9" a:w="0.1" a:h="0.1"/></r:li>
<r:li r:parseType="Resource"><m:Type>Focus</m:Type><m:FocusUsage>EvaluatedNotUsed</m:FocusUsage>
<m:Area r:parseType="Resource"><a:x>0.5</a:x><a:y>0.25</a:y><a:d>0.1</a:d></m:Area></r:li>
<r:li r:parseType="Resource"><m:Type>Focus</m:Type><m:FocusUsage>EvaluatedUsed</m:FocusUsage>
<m:Area a:x="0.6" a:y="0.3"/></r:li>
</r:Bag></m:RegionList></m:Regions></r:Description></r:RDF></x:xmpmeta>"""


def read(tmp_path: Path, name: str, data: bytes) -> Recorded:
    (tmp_path / name).write_bytes(data)
    return read_file(found_file(tmp_path / name)).recorded


def test_attributes() -> None:
    facts = xmp.facts(written_frames.xmp(), "frame.xmp")
    assert (facts.rating, facts.keywords) == (4, ("wader", "flight"))
    assert facts.focus_areas == (FocusArea(x=0.25, y=0.4, width=0.1, height=0.2, used=True),)


def test_elements_other_prefixes_and_several_descriptions() -> None:
    facts = xmp.facts(ELEMENTS, "frame.xmp")
    assert (facts.rating, facts.keywords) == (3, ("gull", "low tide"))
    not_used, used = facts.focus_areas
    assert (not_used.used, used.used) == (False, True)
    assert (used.x, used.y, used.width) == (0.6, 0.3, None)
    # A circle's diameter counts in the shorter side: 400 px of 6000 x 4000.
    assert not_used.width == pytest.approx(400 / 6000)
    assert not_used.height == pytest.approx(400 / 4000)


@pytest.mark.parametrize(
    ("written", "rating", "why"),
    [
        ("-1", -1, ""),
        ("0", 0, ""),
        ("5", 5, ""),
        ("3.0", 3, ""),
        ("4.5", 5, ""),
        ("6", None, "out_of_range"),
        ("-2", None, "out_of_range"),
        ("-0.5", None, "out_of_range"),
        ("NaN", None, "out_of_range"),
        ("1e999", None, "out_of_range"),
        ("good", None, "out_of_range"),
        ("", None, "not_recorded"),
    ],
)
def test_rating_is_minus_1_or_0_to_5(written: str, rating: int | None, why: str) -> None:
    facts = xmp.facts(written_frames.xmp(written), "frame.xmp")
    assert (facts.rating, facts.rating_missing) == (rating, why)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-8-sig"])
def test_other_encodings(encoding: str) -> None:
    text = written_frames.xmp(keywords=["Möwe"]).decode()
    assert xmp.facts(text.encode(encoding), "frame.xmp").keywords == ("Möwe",)


def test_padding_after_the_packet() -> None:
    assert xmp.facts(written_frames.xmp() + b" \n" * 1000 + b"\0", "frame.jpg").rating == 4


LAUGHS = b'<!DOCTYPE x [<!ENTITY a "Rating"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><x>&b;</x>'
OUTSIDE = b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a; Rating</x>'
IN_ATTRIBUTES = LAUGHS.replace(b"<x>&b;</x>", b'<x Rating="&b;"/>')
GROWING = (
    b"<!DOCTYPE x [<!ENTITY l0 'Rating'>"
    + b"".join(b"<!ENTITY l%d '%s'>" % (n, b"&l%d;" % (n - 1) * 10) for n in range(1, 20))
    + b']><x a="&l19;">&l19;</x>'
)
"""Ten to the nineteenth words, were it ever filled in."""


@pytest.mark.parametrize(
    "packet",
    [
        LAUGHS,
        OUTSIDE,
        IN_ATTRIBUTES,
        GROWING,
        LAUGHS.decode().encode("utf-16"),
        b"<x>Rating",
        b"Rating",
        b"<x>Rating</x>" + b" " * 1024 * 1024,
        b"<x>" * 20_000 + b"Rating",
        b"<x>" + b"<y/>" * 100_000 + b"Rating</x>",
        b"<x " + b" ".join(b'a%d=""' % number for number in range(40_000)) + b">Rating</x>",
        b'<?xml version="1.0" encoding="no-such"?><x>Rating</x>',
        b"",
    ],
    ids=[
        "laughs", "outside", "in attributes", "growing", "wide letters", "open", "text", "long", "deep",
        "wide", "attributes", "encoding", "empty",
    ],
)  # fmt: skip
def test_harmful_packets_are_refused(packet: bytes) -> None:
    with pytest.raises(CorruptFileError):
        xmp.facts(packet, "frame.xmp")


@pytest.mark.parametrize(
    "form", ['<!DOCTYPE x SYSTEM "{}">', '<!DOCTYPE x [<!ENTITY % p SYSTEM "{}"> %p;]>',
             '<!DOCTYPE x [<!ENTITY p SYSTEM "{}">]>', '<?xml-stylesheet href="{}"?>']
)  # fmt: skip
def test_nothing_is_fetched(form: str) -> None:
    """A packet that names a place on this machine's own network: nobody comes to it."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.setblocking(False)
        place = f"http://127.0.0.1:{listening.getsockname()[1]}/x"
        with suppress(CorruptFileError):
            xmp.facts(f"{form.format(place)}<x>&p; Rating</x>".encode(), "frame.xmp")
        with pytest.raises(BlockingIOError):
            listening.accept()


def test_a_broken_packet_costs_no_frame(tmp_path: Path) -> None:
    recorded = read(tmp_path, "frame.jpg", jpeg(packet=LAUGHS))
    assert (recorded.iso, recorded.rating, recorded.missing["rating"]) == (800, None, "damaged")


def test_the_exif_rating_stands_in_for_xmp(tmp_path: Path) -> None:
    rated = exif_block(changed(MAIN, Entry(0x4746, "SHORT", (2,))))
    assert read(tmp_path, "exif.jpg", jpeg(rated)).rating == 2
    assert read(tmp_path, "both.jpg", jpeg(rated, written_frames.xmp())).rating == 4
    too_many = exif_block(changed(MAIN, Entry(0x4746, "SHORT", (99,))))
    assert read(tmp_path, "odd.jpg", jpeg(too_many)).missing["rating"] == "out_of_range"


def test_regions_are_turned_upright_with_the_picture(tmp_path: Path) -> None:
    sideways = exif_block(changed(MAIN, Entry(0x0112, "SHORT", (6,))))
    recorded = read(tmp_path, "frame.jpg", jpeg(sideways, written_frames.xmp()))
    # Stored (0.25, 0.4); a quarter turn to the right makes the left side the top.
    assert (recorded.af_x, recorded.af_y) == (0.6, 0.25)
    assert (recorded.af_width, recorded.af_height) == (0.2, 0.1)
    assert recorded.camera_word == "silent"


@pytest.mark.parametrize("name", ["frame.xmp", "frame.jpg.xmp"])
def test_sidecar(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(written_frames.xmp())
    reading = read_file(found_file(tmp_path / name))
    assert reading.found.role == "sidecar"
    assert (reading.recorded.rating, reading.recorded.keywords) == (4, ("wader", "flight"))
    assert (reading.recorded.af_x, reading.recorded.af_y) == (0.25, 0.4)
    assert reading.recorded.taken_at is None


@pytest.mark.parametrize("name", ["frame.xmp", "frame.jpg.xmp"])
def test_a_sidecars_regions_turn_with_the_picture_beside_it(tmp_path: Path, name: str) -> None:
    (tmp_path / "frame.jpg").write_bytes(jpeg(exif_block(changed(MAIN, Entry(0x0112, "SHORT", (6,))))))
    recorded = read(tmp_path, name, written_frames.xmp())
    assert (recorded.af_x, recorded.af_y) == (0.6, 0.25)


def test_a_sidecar_that_states_the_orientation_needs_no_picture(tmp_path: Path) -> None:
    turned = written_frames.xmp().replace(
        b"xmp:Rating", b'xmlns:tiff="http://ns.adobe.com/tiff/1.0/" tiff:Orientation="3" xmp:Rating'
    )
    recorded = read(tmp_path, "frame.xmp", turned)
    assert (recorded.af_x, recorded.af_y) == (0.75, 0.6)


def test_a_region_outside_the_picture_or_in_pixels_is_left_out(tmp_path: Path) -> None:
    for change in ((b'x="0.25"', b'x="1.25"'), (b'x="0.25"', b'x="nan"'), (b"normalized", b"pixel")):
        recorded = read(tmp_path, "frame.xmp", written_frames.xmp().replace(*change))
        assert recorded.focus_areas == ()
        assert recorded.rating == 4
