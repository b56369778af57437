"""What lies around a small region: looked at as well, since borders of what is cut out seem blurred.

The network learned from squares of 320 px. Of sharp places of 112 px in pieces of the second simulator, one
in three was called soft when it was cut out, and one in ten when what lies around it was looked at as well
and only its own tiles were read.
"""

from __future__ import annotations

from dataclasses import replace

from auditor.focus.luminance import Region
from auditor.focus.network import TILE_PX, Tiles

LEAST_SEEN_PX = 320
"""With 384 px single places read a little surer, and whole frames less (docs/benchmarks.md)."""


def surroundings(shape: tuple[int, ...], region: Region) -> Region | None:
    """A small region grown inside its picture, so that its own tiles stay whole.

    Parameters
    ----------
    shape
        (rows, columns) of the picture.
    region
        The region, px.

    Returns
    -------
    Region or None
        At least LEAST_SEEN_PX to a side where the picture is, to within a tile; None where nothing is to
        be added.
    """
    top, bottom = _grown(region[0], region[1], shape[0])
    left, right = _grown(region[2], region[3], shape[1])
    around = (top, bottom, left, right)
    return None if around == tuple(region) else around


def own_tiles(seen: Tiles, around: Region, region: Region) -> Tiles:
    """What was seen of the region itself.

    Parameters
    ----------
    seen
        Of what was looked at.
    around
        What was looked at, px, from `surroundings`.
    region
        The region, px.

    Returns
    -------
    Tiles
        Those whose first pixels are the region's; at least one.
    """
    rows, columns = (
        _tiles(region[first] - around[first], region[first + 1] - region[first]) for first in (0, 2)
    )
    return replace(
        seen,
        features=seen.features[rows, columns],
        log2_sigma=seen.log2_sigma[rows, columns],
        log_spread=seen.log_spread[rows, columns],
    )


def _tiles(before_px: int, size_px: int) -> slice:
    start = before_px // TILE_PX
    return slice(start, start + max(1, size_px // TILE_PX))


def _grown(first: int, last: int, length: int) -> tuple[int, int]:
    """Both ends of a line, farther apart by whole tiles before it and by what is missing behind it."""
    missing = min(LEAST_SEEN_PX, length) - (last - first)
    if missing <= 0:
        return first, last
    behind = min(missing // 2, length - last)
    before = min(-(-(missing - behind) // TILE_PX), first // TILE_PX)
    start = first - before * TILE_PX
    return start, min(max(last, start + LEAST_SEEN_PX), length)
