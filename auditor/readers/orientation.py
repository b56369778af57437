"""Turning what lies in the stored picture to where it lies in the upright one.

Reference: Exif 2.3, 4.6.4 A, Orientation: where row 0 and column 0 of the stored picture are seen.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from auditor.records import FocusArea

# Orientation -> the upright place of a stored x, y, all as fractions from the top left.
_UPRIGHT: dict[int, Callable[[float, float], tuple[float, float]]] = {
    1: lambda x, y: (x, y),
    2: lambda x, y: (1 - x, y),
    3: lambda x, y: (1 - x, 1 - y),
    4: lambda x, y: (x, 1 - y),
    5: lambda x, y: (y, x),
    6: lambda x, y: (1 - y, x),
    7: lambda x, y: (1 - y, 1 - x),
    8: lambda x, y: (y, 1 - x),
}


def turns_sideways(orientation: int | None) -> bool:
    """Whether width and height change places."""
    return orientation in (5, 6, 7, 8)


def upright(area: FocusArea, orientation: int | None) -> FocusArea:
    """A focus area of the stored picture, as it lies in the upright one.

    Parameters
    ----------
    orientation
        The Exif value, 1 to 8; None counts as 1.
    """
    x, y = _UPRIGHT[orientation or 1](area.x, area.y)
    if turns_sideways(orientation):
        return replace(area, x=x, y=y, width=area.height, height=area.width)
    return replace(area, x=x, y=y)


def combined(first: int | None, second: int | None) -> int:
    """The one orientation that does what `first` and then `second` do."""
    x, y = _UPRIGHT[second or 1](*_UPRIGHT[first or 1](0.125, 0.25))
    return next(number for number, turn in _UPRIGHT.items() if turn(0.125, 0.25) == (x, y))


def upright_size(
    width_px: int | None, height_px: int | None, orientation: int | None
) -> tuple[int | None, int | None]:
    """Width and height of the upright picture."""
    return (height_px, width_px) if turns_sideways(orientation) else (width_px, height_px)
