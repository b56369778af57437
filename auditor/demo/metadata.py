"""What the invented cameras write into their files: Exif, the maker's note, and an XMP packet."""

from __future__ import annotations

from fractions import Fraction
from math import log2
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from auditor.demo import makernote
from auditor.demo.camera import Taken
from auditor.demo.gear import MAKER
from auditor.words import CameraWord

if TYPE_CHECKING:
    from PIL.Image import Exif

FOCUS_WIDTH, FOCUS_HEIGHT = 0.2, 0.28
"""Size of the focus area, as fractions of the picture."""
_SIDEWAYS = 6
"""Exif orientation of a camera turned on its side: the picture is shown turned right by a quarter."""
_WORD_NUMBERS = {
    CameraWord.SILENT: 0,
    CameraWord.CONFIRMED: 1,
    CameraWord.NOT_CONFIRMED: 2,
    CameraWord.MANUAL: 3,
}
_MARKED_F_NUMBERS = (
    1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22
)  # fmt: skip


def marked_f_number(exact: float) -> float:
    """The f-number as it is marked."""
    return min(_MARKED_F_NUMBERS, key=lambda mark: abs(log2(mark / exact)))


def exif(taken: Taken, width_px: int, height_px: int) -> Exif:
    """The Exif block of a frame, as its body would write it (tags of Exif 2.32)."""
    from PIL.Image import Exif
    from PIL.TiffImagePlugin import IFDRational

    kit, body, encounter = taken.kit, taken.kit.body, taken.encounter
    # Behind a silent converter the body knows nothing of the stops and the reach that it takes and gives.
    known_share = kit.known_factor / kit.factor
    focal_mm = kit.focal_length_mm * known_share
    loss_ev = kit.converter.light_loss_ev if kit.converter and kit.converter.silent else 0
    unseen = 2 ** (loss_ev / 2)
    block = Exif()
    block[0x010F] = MAKER
    block[0x0110] = body.model
    block[0x0112] = _SIDEWAYS if encounter.upright else 1
    tags = block.get_ifd(0x8769)
    tags[0x829A] = _exposure_time(taken.exposure_time_s)
    tags[0x829D] = IFDRational(round(10 * marked_f_number(taken.f_number / unseen)), 10)
    tags[0x8822] = 1 if encounter.exposed_by_hand else 4  # by hand, or shutter priority with automatic ISO
    tags[0x8827] = taken.iso
    tags[0x9000] = b"0232"
    tags[0x9003] = taken.taken_at.strftime("%Y:%m:%d %H:%M:%S")
    if body.utc_offset:
        tags[0x9011] = body.utc_offset
    if body.writes_fractions:
        tags[0x9291] = f"{taken.taken_at.microsecond // 10_000:02d}"
    tags[0x9204] = IFDRational(round(taken.exposure_bias_ev * 3), 3)
    widest = marked_f_number(kit.widest / unseen)
    tags[0x9205] = IFDRational(round(2 * log2(widest) * 100), 100)
    tags[0x9209] = 1 if encounter.flash else 16
    tags[0x920A] = IFDRational(round(focal_mm), 1)
    tags[0x927C] = _note(taken)
    tags[0xA002] = width_px
    tags[0xA003] = height_px
    pixels_per_cm = IFDRational(round(10_000 / body.pixel_pitch_um * 100), 100)
    tags[0xA20E] = pixels_per_cm
    tags[0xA20F] = pixels_per_cm
    tags[0xA210] = 3
    tags[0xA402] = 1 if encounter.exposed_by_hand else 0
    tags[0xA405] = round(focal_mm * body.crop_factor)
    tags[0xA431] = body.serial
    tags[0xA434] = kit.written_lens_name
    lens = kit.lens
    tags[0xA432] = (
        IFDRational(round(lens.focal_length_mm), 1),
        IFDRational(round(lens.focal_length_mm), 1),
        IFDRational(round(10 * marked_f_number(lens.widest)), 10),
        IFDRational(round(10 * marked_f_number(lens.widest)), 10),
    )
    return block


def xmp_packet(taken: Taken, width_px: int, height_px: int) -> bytes:
    """The XMP packet: the focus area as an MWG region, the animal as a keyword, perhaps a rating.

    The region is in the picture as stored; its centre and size are fractions (Metadata Working Group,
    Guidelines for Handling Image Metadata 2.0, image regions).
    """
    used = "EvaluatedNotUsed" if taken.camera_word == CameraWord.MANUAL else "EvaluatedUsed"
    region = (
        '<rdf:li rdf:parseType="Resource"><mwg-rs:Type>Focus</mwg-rs:Type>'
        f"<mwg-rs:FocusUsage>{used}</mwg-rs:FocusUsage>"
        f'<mwg-rs:Area stArea:x="{taken.focus_x}" stArea:y="{taken.focus_y}" '
        f'stArea:w="{FOCUS_WIDTH}" stArea:h="{FOCUS_HEIGHT}" stArea:unit="normalized"/></rdf:li>'
    )
    body = (
        '<mwg-rs:Regions rdf:parseType="Resource">'
        f'<mwg-rs:AppliedToDimensions stDim:w="{width_px}" stDim:h="{height_px}" stDim:unit="pixel"/>'
        f"<mwg-rs:RegionList><rdf:Bag>{region}</rdf:Bag></mwg-rs:RegionList></mwg-rs:Regions>"
        f"<dc:subject><rdf:Bag><rdf:li>{escape(taken.encounter.animal.keyword)}</rdf:li></rdf:Bag></dc:subject>"
    )
    return _packet(body, taken.rating)


def sidecar(rating: int, keywords: tuple[str, ...]) -> bytes:
    """A sidecar with a rating and keywords given after the trip."""
    items = "".join(f"<rdf:li>{escape(keyword)}</rdf:li>" for keyword in keywords)
    return _packet(f"<dc:subject><rdf:Bag>{items}</rdf:Bag></dc:subject>", rating)


def _packet(body: str, rating: int | None) -> bytes:
    rated = "" if rating is None else f' xmp:Rating="{rating}"'
    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        '<x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        '<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/"'
        ' xmlns:dc="http://purl.org/dc/elements/1.1/"'
        ' xmlns:mwg-rs="http://www.metadataworkinggroup.com/schemas/regions/"'
        ' xmlns:stArea="http://ns.adobe.com/xmp/sType/Area#"'
        f' xmlns:stDim="http://ns.adobe.com/xap/1.0/sType/Dimensions#"{rated}>{body}'
        '</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="r"?>'
    ).encode()


def _note(taken: Taken) -> bytes:
    encounter, kit = taken.encounter, taken.kit
    numbers = {
        makernote.FOCUS_WORD: _WORD_NUMBERS[taken.camera_word],
        makernote.FOCUS_MODE: 3 if encounter.focused_by_hand else 2,
        makernote.AREA_MODE: 2 if encounter.animal.flies else 1,
        makernote.DRIVE_MODE: 2,
        makernote.SHOT: taken.shot,
        makernote.FILE_NUMBER: taken.number,
        makernote.AUTO_ISO: 0 if encounter.exposed_by_hand else 1,
        makernote.DISTANCE: round(encounter.distance_m * 100),
    }
    if kit.body.writes_converter and not (kit.converter and kit.converter.in_lens_name):
        numbers[makernote.CONVERTER] = round(kit.factor * 100)
    return makernote.encode(numbers, kit.body.serial)


def _exposure_time(exposure_time_s: float) -> object:
    from PIL.TiffImagePlugin import IFDRational

    fraction = Fraction(exposure_time_s).limit_denominator(32_000)
    return IFDRational(fraction.numerator, fraction.denominator)
