"""The target to print for a bench: slanted grey squares, with instructions and its size for a distance."""

from __future__ import annotations

import math
from pathlib import Path

from auditor.errors import OutputError
from auditor.report.new_file import write_new

PAGE_MM = (210.0, 297.0)
SLANT_DEG = 5.0
EDGE_PX = 300
"""So many pixels of 4 um does a side cover behind 500 mm: enough for regions of 128 px."""
LARGEST_MM = 170.0
LETTERS_MM = 3.4
POINTS_PER_MM = 72 / 25.4
LINE_MM = 100
"""Length of a line to lay a ruler to: printers scale pages unasked."""
RULER_MM = 60
"""Its height above the lower edge of the page."""
DARK, BRIGHT = 20, 75
"""Greys of 100: an edge from black to white clips."""
_GUIDE = (
    "Print it without scaling on matt paper, and measure the line.",
    "Fix it flat and upright, parallel to the sensor.",
    "Stand at least 25 focal lengths away, on a tripod with a delayed release, at base ISO.",
    "Take five shots with each kit and let the camera focus anew before each of them.",
    "Change only lens and converter: one light, one development or JPEG setting, no sharpening.",
    "Keep the edges 2 to 12 degrees off the sides of the frame: hold the camera level.",
)


def side_mm(distance_m: float) -> float:
    """Side of the square for a distance, at most what a page holds.

    Raises
    ------
    ValueError
        for a distance that no target on paper is for.
    """
    if not 1 <= distance_m <= 200:
        raise ValueError(f"distance_m must be 1 to 200, not {distance_m:g}")
    return min(LARGEST_MM, max(30.0, EDGE_PX * 0.004 * distance_m / 0.5))


def target_svg(distance_m: float) -> str:
    """The target as SVG, in millimetres of an A4 page (ISO 216)."""
    side, (width, height) = side_mm(distance_m), PAGE_MM
    middle_x, middle_y = _middle_mm()
    words = "".join(
        f'<text x="15" y="{y_mm:g}" font-size="{LETTERS_MM:g}" font-family="sans-serif">{line}</text>'
        for y_mm, line in _lines(distance_m)
    )
    grey = [f"rgb({share}%,{share}%,{share}%)" for share in (BRIGHT, DARK)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">'
        f"<style>@page {{ size: {width:g}mm {height:g}mm; margin: 0 }}</style>"
        f'<rect x="10" y="20" width="{width - 20:g}" height="{LARGEST_MM + 30:g}" fill="{grey[0]}"/>'
        f'<rect x="{middle_x - side / 2:g}" y="{middle_y - side / 2:g}" width="{side:g}" height="{side:g}" '
        f'fill="{grey[1]}" transform="rotate({SLANT_DEG:g} {middle_x:g} {middle_y:g})"/>'
        f'<path d="M15 {height - RULER_MM:g}h{LINE_MM}m0 -1.5v3m-{LINE_MM} 0v-3" stroke="black" '
        f'stroke-width="0.2"/>{words}</svg>\n'
    )


def target_pdf(distance_m: float) -> bytes:
    """The same as PDF: one page, lettered in a font that every reader has (ISO 32000-1, 9.6.2.2)."""
    side, (width, height) = side_mm(distance_m), PAGE_MM
    middle_x, middle_y = _middle_mm()
    turn = math.radians(-SLANT_DEG)  # PDF counts y upwards
    cosine, sine = math.cos(turn), math.sin(turn)
    drawn = [
        f"{POINTS_PER_MM:.6f} 0 0 {POINTS_PER_MM:.6f} 0 0 cm",  # from here on in millimetres
        f"{BRIGHT / 100:g} g 10 {height - 20 - LARGEST_MM - 30:g} {width - 20:g} {LARGEST_MM + 30:g} re f",
        f"q {cosine:.6f} {sine:.6f} {-sine:.6f} {cosine:.6f} {middle_x:g} {height - middle_y:g} cm",
        f"{DARK / 100:g} g {-side / 2:g} {-side / 2:g} {side:g} {side:g} re f Q 0 g",
        f"0.2 w 15 {RULER_MM} m {15 + LINE_MM} {RULER_MM} l",
        *(f"{x} {RULER_MM - 1.5:g} m {x} {RULER_MM + 1.5:g} l" for x in (15, 15 + LINE_MM)),
        "S",
        *(
            f"BT /F1 {LETTERS_MM:g} Tf 15 {height - y_mm:g} Td ({line}) Tj ET"
            for y_mm, line in _lines(distance_m)
        ),
    ]
    content = "\n".join(drawn)
    box = f"[0 0 {width * POINTS_PER_MM:.3f} {height * POINTS_PER_MM:.3f}]"
    return _pdf_file(
        "<< /Type /Catalog /Pages 2 0 R >>",
        "<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        f"<< /Type /Page /Parent 2 0 R /MediaBox {box} /Contents 4 0 R "
        "/Resources << /Font << /F1 5 0 R >> >> >>",
        f"<< /Length {len(content)} >>\nstream\n{content}\nendstream",
        "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
    )


def _middle_mm() -> tuple[float, float]:
    return PAGE_MM[0] / 2, 25 + LARGEST_MM / 2 + 10


def _lines(distance_m: float) -> list[tuple[float, str]]:
    """What is written below the square, each line with its height on the page in mm from the top."""
    size = (
        f"Bench target for {distance_m:g} m: the square is {side_mm(distance_m):.0f} mm wide, "
        f"the line above {LINE_MM} mm."
    )
    numbered = (f"{number}. {text}" for number, text in enumerate(_GUIDE, 1))
    return [(PAGE_MM[1] - 52 + 6 * place, line) for place, line in enumerate((size, *numbered))]


def _pdf_file(*objects: str) -> bytes:
    """A PDF file of these objects, with the table of where each begins (ISO 32000-1, 7.5)."""
    data, starts = b"%PDF-1.4\n", []
    for number, text in enumerate(objects, 1):
        starts.append(len(data))
        data += f"{number} 0 obj\n{text}\nendobj\n".encode("ascii")
    table = "".join(f"{start:010d} 00000 n \n" for start in starts)
    size = len(objects) + 1
    end = (
        f"xref\n0 {size}\n0000000000 65535 f \n{table}"
        f"trailer\n<< /Size {size} /Root 1 0 R >>\nstartxref\n{len(data)}\n%%EOF\n"
    )
    return data + end.encode("ascii")


def write_target(path: Path, distance_m: float) -> None:
    """Write the target as SVG or PDF, by its name's ending; nothing is replaced.

    Raises
    ------
    OutputError
        for another kind of file, one that exists, or one that cannot be written.
    """
    kind = path.suffix.lower()
    if kind not in (".svg", ".pdf"):
        raise OutputError(f"{path}: the target is written as .svg or .pdf. Name such a file.")
    if path.exists():
        raise OutputError(f"{path}: exists already. Choose another name.")
    data = target_svg(distance_m).encode() if kind == ".svg" else target_pdf(distance_m)
    write_new(path, data, "Choose another name.")
