"""The one place that counts as focused on, chosen from the focus areas of a frame."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from auditor.readers.orientation import upright
from auditor.records import FocusArea


def placed(stored: Sequence[FocusArea], orientation: int | None) -> dict[str, Any]:
    """Columns of Recorded for focus areas of the stored picture: turned upright, and the one that counts."""
    areas = tuple(upright(area, orientation) for area in sound(stored))
    facts: dict[str, Any] = {"focus_areas": areas}
    place = chosen(areas)
    if place is not None:
        facts |= {"af_x": place.x, "af_y": place.y, "af_width": place.width, "af_height": place.height}
    return facts


def sound(areas: Sequence[FocusArea]) -> tuple[FocusArea, ...]:
    """The areas whose centre lies in the picture; their size is cut to it."""
    return tuple(_cut(area) for area in areas if 0 <= area.x <= 1 and 0 <= area.y <= 1)


def chosen(areas: Sequence[FocusArea]) -> FocusArea | None:
    """The area in focus, else the one used, else the only one; several become the box around them.

    None where there are several and nothing says which was used.
    """
    for group in ([a for a in areas if a.in_focus], [a for a in areas if a.used]):
        if group:
            return _around(group)
    return areas[0] if len(areas) == 1 and areas[0].used is not False else None


def _around(areas: Sequence[FocusArea]) -> FocusArea:
    if len(areas) == 1:
        return areas[0]
    left = max(0.0, min(area.x - (area.width or 0) / 2 for area in areas))
    right = min(1.0, max(area.x + (area.width or 0) / 2 for area in areas))
    top = max(0.0, min(area.y - (area.height or 0) / 2 for area in areas))
    bottom = min(1.0, max(area.y + (area.height or 0) / 2 for area in areas))
    return FocusArea(
        x=(left + right) / 2,
        y=(top + bottom) / 2,
        width=(right - left) or None,
        height=(bottom - top) or None,
        used=any(area.used for area in areas) or None,
        in_focus=any(area.in_focus for area in areas) or None,
    )


def _cut(area: FocusArea) -> FocusArea:
    width, height = _extent(area.width), _extent(area.height)
    if width == area.width and height == area.height:
        return area
    return FocusArea(x=area.x, y=area.y, width=width, height=height, used=area.used, in_focus=area.in_focus)


def _extent(extent: float | None) -> float | None:
    if extent is None or not math.isfinite(extent) or extent <= 0:
        return None
    return min(extent, 1.0)
