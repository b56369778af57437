"""The table of supported cameras in docs/cameras.md, made from the decoders themselves.

python -m auditor.readers.makernotes.table > docs/cameras.md
"""

from __future__ import annotations

from importlib import import_module

MAKERS = {
    "Canon": "canon",
    "Nikon": "nikon",
    "Sony": "sony",
    "Fujifilm": "fujifilm",
    "Olympus, OM System": "olympus",
    "Panasonic, Leica": "panasonic",
    "Pentax, Ricoh": "pentax",
}
FACTS = {
    "camera_word": "focus confirmed or not",
    "focus_areas": "place of the focus area",
    "focus_mode": "focus mode",
    "area_mode": "area mode",
    "focus_distance_m": "focus distance",
    "converter_factor": "converter",
    "lens_name": "lens name",
    "lens_long_mm": "range of the lens",
    "widest_f_number": "widest f-number",
    "body_serial": "body serial",
    "iso": "ISO",
    "auto_iso": "automatic ISO",
    "drive_mode": "drive mode",
    "shot_in_burst": "shot in burst",
    "file_number": "file number",
    "stabiliser": "stabiliser",
}
_PAGE = """\
# Cameras and files that are read

Made by `python -m auditor.readers.makernotes.table`; a test compares it with the code.

## Files

| kind | read |
| --- | --- |
| JPEG | Exif, maker's note, XMP, size |
| raws built like TIFF (CR2, NEF, NRW, ARW, PEF, DNG, ORF, RW2, SRW) | the same, the largest JPEG inside |
| CR3 | the same |
| RAF | through the JPEG inside, which carries the full Exif |
| HEIF (HEIC, HIF), AVIF | Exif, maker's note, XMP, size |
| XMP sidecars (`name.xmp`, `name.ext.xmp`) | rating, keywords, focus regions |

The kind is told by the bytes, not by the name. Exif and XMP are read for every camera, maker or not:
exposure, lens, serial, SubjectArea, ratings, keywords, MWG focus regions.
Videos, sound and pictures of other kinds (PNG, PSD and such) are passed over: a scan says how many of which.
What else lies beside pictures is left alone.

## Makers' notes

The number is of real exposures on which the fact was compared with the exiv2 library and found the same.
A dash: not read, because the note does not hold it, enciphers it, or what it means is not certain. Absent
is never guessed.

{table}

Another maker can be added without changing the auditor: [adding-a-camera.md](adding-a-camera.md).

Sensors and lenses that a file does not describe are looked up in the lensfun database, which the package
lensfunpy carries (data CC BY-SA 3.0). What it does not have can be declared: `auditor declare body`."""


def page() -> str:
    """The whole page, as Markdown."""
    checked = {
        name: import_module(f"auditor.readers.makernotes.{module}").CHECKED for name, module in MAKERS.items()
    }
    lines = ["| fact | " + " | ".join(checked) + " |", "| --- |" + " ---: |" * len(checked)]
    for fact, words in FACTS.items():
        cells = [str(counts[fact]) if fact in counts else "–" for counts in checked.values()]
        lines.append(f"| {words} | " + " | ".join(cells) + " |")
    return _PAGE.format(table="\n".join(lines))


if __name__ == "__main__":
    print(page(), end="")
