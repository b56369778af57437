"""Writes small files of every container that is read, for tests: nothing here needs a real camera."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable, Sequence
from itertools import pairwise

from PIL import Image

from auditor.readers.tiff import ByteOrder
from tests.readers.note_builder import Entry, directory

MAKE, MODEL = "Northlight", "N 1"
"""An invented camera: no decoder knows it."""

MAIN = (
    Entry(0x010F, "ASCII", MAKE.encode() + b"\0"),
    Entry(0x0110, "ASCII", MODEL.encode() + b"\0"),
    Entry(0x0112, "SHORT", (1,)),
    Entry(0x0131, "ASCII", b"Firmware 1.0\0"),
)
PHOTO = (
    Entry(0x829A, "RATIONAL", (1, 1600)),
    Entry(0x829D, "RATIONAL", (63, 10)),
    Entry(0x8822, "SHORT", (3,)),
    Entry(0x8827, "SHORT", (800,)),
    Entry(0x9003, "ASCII", b"2026:05:03 06:41:09\0"),
    Entry(0x9011, "ASCII", b"+02:00\0"),
    Entry(0x9204, "SRATIONAL", (-1, 3)),
    Entry(0x9205, "RATIONAL", (5, 1)),
    Entry(0x9209, "SHORT", (16,)),
    Entry(0x920A, "RATIONAL", (500, 1)),
    Entry(0x9291, "ASCII", b"37\0"),
    Entry(0xA002, "LONG", (6000,)),
    Entry(0xA003, "LONG", (4000,)),
    Entry(0xA20E, "RATIONAL", (42546, 10)),
    Entry(0xA210, "SHORT", (2,)),
    Entry(0xA402, "SHORT", (0,)),
    Entry(0xA405, "SHORT", (750,)),
    Entry(0xA431, "ASCII", b"0042\0"),
    Entry(0xA432, "RATIONAL", (500, 1, 500, 1, 56, 10, 56, 10)),
    Entry(0xA434, "ASCII", b"Heron 500mm f/5.6\0"),
)

REGION = """<rdf:li><rdf:Description mwg-rs:Type="Focus" mwg-rs:FocusUsage="EvaluatedUsed">
<mwg-rs:Area stArea:x="0.25" stArea:y="0.4" stArea:w="0.1" stArea:h="0.2" stArea:unit="normalized"/>
</rdf:Description></rdf:li>"""


def xmp(rating: str = "4", keywords: Sequence[str] = ("wader", "flight"), region: str = REGION) -> bytes:
    """A packet with rating, keywords and one focus region."""
    words = "".join(f"<rdf:li>{word}</rdf:li>" for word in keywords)
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="{rating}"
 xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:mwg-rs="http://www.metadataworkinggroup.com/schemas/regions/"
 xmlns:stDim="http://ns.adobe.com/xap/1.0/sType/Dimensions#"
 xmlns:stArea="http://ns.adobe.com/xmp/sType/Area#">
<dc:subject><rdf:Bag>{words}</rdf:Bag></dc:subject>
<mwg-rs:Regions rdf:parseType="Resource">
<mwg-rs:AppliedToDimensions stDim:w="6000" stDim:h="4000" stDim:unit="pixel"/>
<mwg-rs:RegionList><rdf:Bag>{region}</rdf:Bag></mwg-rs:RegionList>
</mwg-rs:Regions></rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>""".encode()


def changed(entries: Sequence[Entry], *others: Entry) -> list[Entry]:
    """The entries with some of them replaced, or added."""
    tags = {entry.tag for entry in others}
    return [entry for entry in entries if entry.tag not in tags] + list(others)


def exif_block(
    main: Sequence[Entry] = MAIN, photo: Sequence[Entry] = PHOTO, order: ByteOrder = "<", magic: bytes = b""
) -> bytes:
    """A TIFF block: main directory, and the Exif directory inside it."""
    mark = magic or (b"II*\0" if order == "<" else b"MM\0*")
    pointer = [Entry(0x8769, "LONG", list(photo))] if photo else []
    return mark + struct.pack(order + "I", 8) + directory([*main, *pointer], order, 8)


def picture(width_px: int = 60, height_px: int = 40, **options: object) -> bytes:
    """A JPEG without metadata, or with what Pillow is told to write."""
    stream = io.BytesIO()
    Image.new("RGB", (width_px, height_px), (90, 120, 60)).save(stream, "JPEG", **options)
    return stream.getvalue()


def jpeg(exif: bytes | None = None, packet: bytes | None = None) -> bytes:
    """A JPEG with an Exif block and an XMP packet."""
    exif = exif_block() if exif is None else exif
    app1 = b"Exif\0\0" + exif
    data = b"\xff\xd8\xff\xe1" + struct.pack(">H", len(app1) + 2) + app1
    if packet is not None:
        app1 = b"http://ns.adobe.com/xap/1.0/\0" + packet
        data += b"\xff\xe1" + struct.pack(">H", len(app1) + 2) + app1
    return data + picture()[2:]


def tiff_raw(order: ByteOrder = "<", magic: bytes = b"") -> bytes:
    """A raw built like TIFF: thumbnail directory, sensor data in a sub-directory, a preview beside it."""
    room = 8192
    preview = picture(600, 400)
    sensor = [
        Entry(0x0100, "LONG", (6048,)),
        Entry(0x0101, "LONG", (4024,)),
        Entry(0x0106, "SHORT", (32803,)),
    ]
    shown = [
        Entry(0x0103, "SHORT", (6,)),
        Entry(0x0201, "LONG", (room,)),
        Entry(0x0202, "LONG", (len(preview),)),
    ]
    packet = xmp()
    main = [
        *MAIN,
        Entry(0x0100, "LONG", (160,)),
        Entry(0x0101, "LONG", (120,)),
        Entry(0x02BC, "BYTE", packet),
        Entry(0x014A, "LONG", sensor),
    ]
    block = exif_block(main, PHOTO, order, magic)
    # The directory with the preview is linked after the first one.
    link = 8 + 2 + 12 * (len(main) + 1)
    block = block[:link] + struct.pack(order + "I", len(block)) + block[link + 4 :]
    block += directory(shown, order, len(block))
    assert len(block) <= room
    return block.ljust(room, b"\0") + preview


def orf_with_preview_in_note() -> bytes:
    """An ORF whose only preview is told in the maker's note, and counts from there."""
    preview, from_note = picture(640, 480), 3072
    settings = [Entry(0x0101, "LONG", (from_note,)), Entry(0x0102, "LONG", (len(preview),))]
    head = b"OLYMPUS\0II\3\0"
    note = head + directory([Entry(0x2020, "IFD", settings)], "<", len(head))
    block = exif_block(MAIN, changed(PHOTO, Entry(0x927C, "UNDEFINED", note)), magic=b"IIRO")
    return block.ljust(block.index(head) + from_note, b"\0") + preview


def rw2() -> bytes:
    """A raw that starts with IIU: its preview, the value of a tag, carries the Exif block."""
    return exif_block([*MAIN, Entry(0x002E, "UNDEFINED", jpeg())], (), magic=b"IIU\0")


def raf() -> bytes:
    """A RAF: a header with the place of its JPEG."""
    inside = jpeg(packet=xmp())
    return (
        b"FUJIFILMCCD-RAW 0201".ljust(84, b"\0")
        + struct.pack(">II", 160, len(inside)).ljust(76, b"\0")
        + inside
    )


def box(kind: bytes, *parts: bytes) -> bytes:
    """One ISO box."""
    inside = b"".join(parts)
    return struct.pack(">I", len(inside) + 8) + kind + inside


def cr3() -> bytes:
    """A CR3: four TIFF blocks, XMP, a preview, and a track whose sample is a JPEG."""
    metadata = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
    note = b"II*\0" + struct.pack("<I", 8) + directory([Entry(1, "SHORT", (0,) * 50)], "<", 8)
    photo = b"II*\0" + struct.pack("<I", 8) + directory(PHOTO, "<", 8)
    blocks = [box(b"CMT1", exif_block(photo=())), box(b"CMT2", photo), box(b"CMT3", note)]
    whole, preview = picture(300, 200), picture(162, 108)

    def assembled(sample_at: int) -> bytes:
        table = box(
            b"stbl",
            box(b"stsz", struct.pack(">III", 0, len(whole), 1)),
            box(b"co64", struct.pack(">IIQ", 0, 1, sample_at)),
        )
        track = box(b"trak", box(b"mdia", box(b"minf", table)))
        return b"".join(
            [
                box(b"ftyp", b"crx \0\0\0\1crx isom"),
                box(b"moov", box(b"uuid", metadata, *blocks), track),
                box(b"uuid", bytes.fromhex("be7acfcb97a942e89c71999491e3afac"), xmp()),
                box(
                    b"uuid", bytes.fromhex("eaf42b5e1c984b88b9fbb7dc406e4d16"), bytes(8),
                    box(b"PRVW", bytes(16), preview),
                ),
            ]
        )  # fmt: skip

    start = len(assembled(0))
    return assembled(start + 8) + box(b"mdat", whole)


def heif(
    brand: bytes = b"heix",
    *,
    exif: bytes | None = None,
    turns: Sequence[bytes] = (),
    in_idat: bool = False,
    pieces: int = 1,
) -> bytes:
    """A HEIF with an Exif item and an XMP item; the picture itself is left out.

    `turns` are irot and imir boxes.
    """
    exif_item = struct.pack(">I", 6) + b"Exif\0\0" + (exif_block() if exif is None else exif)
    packet = xmp()
    names = [
        box(b"infe", b"\2\0\0\0", struct.pack(">HH", 1, 0), b"hvc1\0"),
        box(b"infe", b"\2\0\0\1", struct.pack(">HH", 2, 0), b"Exif\0"),
        box(b"infe", b"\2\0\0\1", struct.pack(">HH", 3, 0), b"mime\0application/rdf+xml\0"),
    ]
    size = box(b"ispe", struct.pack(">III", 0, 6000, 4000))
    uses = bytes([1 + len(turns)]) + bytes(0x80 | index for index in range(1, 2 + len(turns)))
    properties = box(b"iprp", box(b"ipco", size, *turns), box(b"ipma", struct.pack(">IIH", 0, 1, 1), uses))

    def cut(start: int, length: int) -> bytes:
        ends = [length * part // pieces for part in range(pieces + 1)]
        return struct.pack(">H", pieces) + b"".join(
            struct.pack(">II", start + a, b - a) for a, b in pairwise(ends)
        )

    def assembled(data_at: int) -> bytes:
        method = struct.pack(">H", int(in_idat))
        places = b"".join(
            struct.pack(">H", number) + method + struct.pack(">H", 0) + cut(start, length)
            for number, start, length in (
                (2, data_at, len(exif_item)),
                (3, data_at + len(exif_item), len(packet)),
            )
        )
        inside = [
            box(b"hdlr", bytes(4), bytes(4), b"pict", bytes(13)),
            box(b"pitm", bytes(4), struct.pack(">H", 1)),
            box(b"iinf", bytes(4), struct.pack(">H", len(names)), *names),
            properties,
            box(b"iloc", b"\1\0\0\0", b"\x44\x00", struct.pack(">H", 2), places),
        ]
        if in_idat:
            inside.append(box(b"idat", exif_item, packet))
        return box(b"ftyp", brand, bytes(4), b"mif1", brand) + box(b"meta", bytes(4), *inside)

    if in_idat:
        return assembled(0)
    return assembled(len(assembled(0)) + 8) + box(b"mdat", exif_item, packet)


EVERY_CONTAINER: dict[str, Callable[[], bytes]] = {
    "frame.jpg": lambda: jpeg(packet=xmp()),
    "frame.tif": exif_block,
    "frame.nef": lambda: tiff_raw(">"),
    "frame.dng": lambda: tiff_raw("<"),
    "frame.orf": lambda: tiff_raw("<", b"IIRO"),
    "frame.rw2": rw2,
    "frame.raf": raf,
    "frame.cr3": cr3,
    "frame.hif": heif,
    "frame.xmp": xmp,
}
