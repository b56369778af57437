"""Canon's focus points: where they lie, which were chosen and which were in focus."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.errors import AuditorError
from auditor.readers.makernotes import MakerNote
from auditor.readers.makernotes.fields import Fields
from auditor.records import FocusArea

MAX_WORDS = 0x7FFF
"""A record states its size in bytes as a 16-bit number."""
MAX_CHOSEN = 32
"""More selected points than this fill a field that is no place."""
_LIKE = 0.02
"""Two pictures whose shapes differ by less than this part are of one shape."""


@dataclass(frozen=True, slots=True)
class FocusPoints:
    """What the note says of its points.

    `area_mode` is the maker's number, None in the older form; `in_focus` says whether any point was, None
    where the camera does not say.
    """

    area_mode: int | None
    areas: tuple[FocusArea, ...]
    in_focus: bool | None


@dataclass(frozen=True, slots=True)
class _Layout:
    """The lists of one record, in words; positions count from the middle of the picture."""

    picture_px: tuple[int, int]
    field_px: tuple[int, int]
    """Size of the picture that positions and sizes are measured in."""
    widths: Sequence[int]
    heights: Sequence[int]
    xs: Sequence[int]
    ys: Sequence[int]
    in_focus: frozenset[int] | None
    """None in the older form, which marks points used alone."""
    chosen: frozenset[int]


def focus_points(fields: Fields, note: MakerNote, *, y_down: bool) -> FocusPoints | None:
    """The points of the first record that holds together; None when there is none.

    Parameters
    ----------
    y_down
        Whether y grows downwards, as on compacts; on other bodies it grows upwards.
    """
    for tag in (0x0026, 0x003C):
        words = _words(fields, tag)
        if layout := _with_sizes(words):
            return _points(layout, note, words[1], y_down)
    if layout := _of_one_size(_words(fields, 0x0012)):
        return _points(layout, note, None, y_down)
    return None


def _words(fields: Fields, tag: int) -> tuple[int, ...]:
    entry = fields.entry(tag)
    if entry is None or entry.type != 3 or not 8 < entry.count <= MAX_WORDS:
        return ()
    try:
        return fields.block.integers(entry, limit=entry.count)
    except AuditorError:
        return ()


def _with_sizes(words: Sequence[int]) -> _Layout | None:
    """Size in bytes, mode, points, valid points, two picture sizes, then widths, heights, xs, ys, masks."""
    if len(words) < 9 or words[0] != 2 * len(words):
        return None
    count, valid = words[2], words[3]
    mask_words = -(-count // 16)
    masks_at = 8 + 4 * count
    if not count or valid > count or masks_at + 2 * mask_words > len(words):
        return None
    widths, heights, xs, ys = (words[8 + i * count : 8 + i * count + valid] for i in range(4))
    in_focus, selected = (words[masks_at + i * mask_words : masks_at + (i + 1) * mask_words] for i in (0, 1))
    return _Layout(
        (words[4], words[5]), (words[6], words[7]), widths, heights, xs, ys,
        _bits(in_focus, valid), _bits(selected, valid),
    )  # fmt: skip


def _of_one_size(words: Sequence[int]) -> _Layout | None:
    """The older form: points, valid points, two picture sizes, one size for all, xs, ys, a mask of points.

    exiv2 calls them used, metadata-extractor in focus: the lesser claim is made.
    """
    if len(words) < 9:
        return None
    count, valid = words[0], words[1]
    masks_at = 8 + 2 * count
    mask_words = -(-count // 16)
    if not 0 < valid <= count or masks_at + mask_words > len(words):
        return None
    return _Layout(
        (words[2], words[3]), (words[4], words[5]), (words[6],) * valid, (words[7],) * valid,
        words[8 : 8 + valid], words[8 + count : 8 + count + valid],
        None, _bits(words[masks_at : masks_at + mask_words], valid),
    )  # fmt: skip


def _bits(mask: Sequence[int], count: int) -> frozenset[int]:
    """Numbers of the set bits, the lowest of the first word being 0; those of no valid point are left out."""
    if not any(mask):
        return frozenset()
    return frozenset(i for i in range(count) if mask[i // 16] >> i % 16 & 1)


def _points(layout: _Layout, note: MakerNote, area_mode: int | None, y_down: bool) -> FocusPoints:
    # Mode 0 says that autofocus was off.
    if area_mode == 0:
        return FocusPoints(area_mode, (), None)
    areas = _areas(layout, y_down) if _placed(layout, note) else ()
    if layout.in_focus:
        return FocusPoints(area_mode, areas, True)
    # Compacts leave every mask empty at times: only beside chosen points does an empty one say "none".
    return FocusPoints(area_mode, areas, False if layout.in_focus is not None and layout.chosen else None)


def _placed(layout: _Layout, note: MakerNote) -> bool:
    """Whether positions hold in the stored picture: not when it was cropped or turned since."""
    (width, height), (field_width, field_height) = layout.picture_px, layout.field_px
    if not (width and height and field_width and field_height):
        return False
    stretch = field_width * height / (field_height * width)
    # Some compacts measure in a field of every sixth or tenth line; any other shape is of another crop.
    if abs(stretch - 1) > _LIKE and stretch < 3:
        return False
    if not (note.width_px and note.height_px):
        return True
    return abs(note.width_px * height / (note.height_px * width) - 1) <= _LIKE


def _areas(layout: _Layout, y_down: bool) -> tuple[FocusArea, ...]:
    """The points in focus, then those chosen; a lone frame is one even when no mask names it."""
    chosen = layout.chosen if _is_a_choice(layout) else frozenset()
    in_focus = layout.in_focus or frozenset()
    marked = in_focus | chosen
    numbers = sorted(in_focus) + sorted(chosen - in_focus)
    if not numbers and len(layout.xs) == 1:
        numbers = [0]
    areas = []
    for number in numbers:
        x = 0.5 + signed(layout.xs[number]) / layout.field_px[0]
        y = 0.5 + signed(layout.ys[number]) / layout.field_px[1] * (1 if y_down else -1)
        width = layout.widths[number] / layout.field_px[0]
        height = layout.heights[number] / layout.field_px[1]
        if not (0 < x < 1 and 0 < y < 1):
            continue
        sized = 0 < width <= 1 and 0 < height <= 1
        areas.append(
            FocusArea(
                x=x,
                y=y,
                width=width if sized else None,
                height=height if sized else None,
                used=True if number in marked else None,
                in_focus=number in in_focus if marked and layout.in_focus is not None else None,
            )
        )
    return tuple(areas)


def _is_a_choice(layout: _Layout) -> bool:
    """Points left to the camera's choice, all or many, are not points that it used."""
    count = len(layout.chosen)
    return count == 1 or (count <= MAX_CHOSEN and count < len(layout.xs))


def signed(word: int) -> int:
    """A 16-bit word as a signed number."""
    return word - 0x10000 if word >= 0x8000 else word
