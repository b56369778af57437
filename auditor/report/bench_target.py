"""The target to print for a bench: slanted grey squares, with instructions and its size for a distance."""

from __future__ import annotations

from pathlib import Path

from auditor.errors import OutputError

PAGE_MM = (210.0, 297.0)
SLANT_DEG = 5.0
EDGE_PX = 300
"""So many pixels of 4 um does a side cover behind 500 mm: enough for regions of 128 px."""
LARGEST_MM = 170.0
DARK, BRIGHT = 20, 75
"""Greys of 100: an edge from black to white clips."""
LINE_MM = 100
"""Length of a line to lay a ruler to: printers scale pages unasked."""
POINTS_A_MM = 72 / 25.4
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


def target_svg(distance_m: float, *, in_points: bool = False) -> str:
    """The target as SVG on an A4 page (ISO 216).

    Parameters
    ----------
    in_points
        Its size as bare numbers, of points: what the writer of PDF takes numbers for. Millimetres it would
        turn into the pixels of a screen, 96 an inch, and those into points, 72 an inch: a third too large.
    """
    side, (width, height) = side_mm(distance_m), PAGE_MM
    middle_x, middle_y = width / 2, 25 + LARGEST_MM / 2 + 10
    lines = [
        f"Bench target for {distance_m:g} m: the square is {side:.0f} mm wide, the line above {LINE_MM} mm.",
        *(f"{number}. {text}" for number, text in enumerate(_GUIDE, 1)),
    ]
    words = "".join(
        f'<text x="15" y="{height - 52 + 6 * number:g}" font-size="3.4" font-family="sans-serif">'
        f"{line}</text>"
        for number, line in enumerate(lines)
    )
    size = [f"{POINTS_A_MM * length:.4f}" if in_points else f"{length:g}mm" for length in (width, height)]
    grey = [f"rgb({share}%,{share}%,{share}%)" for share in (BRIGHT, DARK)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}" height="{size[1]}" '
        f'viewBox="0 0 {width:g} {height:g}">'
        f"<style>@page {{ size: {width:g}mm {height:g}mm; margin: 0 }}</style>"
        f'<rect x="10" y="20" width="{width - 20:g}" height="{LARGEST_MM + 30:g}" fill="{grey[0]}"/>'
        f'<rect x="{middle_x - side / 2:g}" y="{middle_y - side / 2:g}" width="{side:g}" height="{side:g}" '
        f'fill="{grey[1]}" transform="rotate({SLANT_DEG:g} {middle_x:g} {middle_y:g})"/>'
        f'<path d="M15 {height - 60:g}h{LINE_MM}m0 -1.5v3m-{LINE_MM} 0v-3" stroke="black" '
        f'stroke-width="0.2"/>{words}</svg>\n'
    )


def write_target(path: Path, distance_m: float) -> None:
    """Write the target as SVG or PDF, told by the name; nothing is replaced.

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
    data = target_svg(distance_m).encode() if kind == ".svg" else _pdf(distance_m)
    try:
        path.write_bytes(data)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written ({error.strerror}).") from error


def _pdf(distance_m: float) -> bytes:
    import vl_convert

    return bytes(vl_convert.svg_to_pdf(target_svg(distance_m, in_points=True)))
