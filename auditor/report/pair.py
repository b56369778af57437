"""The pair: one animal with a converter and without, cut to one angle; else the best of each kit."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from auditor.report.frame_pictures import Cutter, FramePictures, Picture, frame_pictures, here, picture_of
from auditor.store.listed_frames import to_show
from auditor.store.logbook import Logbook
from auditor.store.pairs import FramePair, InFocus, pairs_of_trip, sharpest_of_kit
from auditor.store.trips import trips_newest_first

MOST_TRIED = 6
"""Pairs whose files are looked for, the best first: most often the first is there."""
MOST_TRIPS = 3
"""Of all trips, so many of the newest are searched."""
QUALITY = 82
SHOWS_ENOUGH_PX = 96
"""The coarser picture is never scaled up from fewer pixels: there would be nothing to see."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One picture of the pair."""

    picture: Picture
    kit_id: int
    kit_name: str
    iso: float | None
    scaled: float
    """How many times it was scaled up; 1 at true size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two pictures of one angle."""

    converted: Side
    bare: Side
    seconds_apart: float | None
    """None where they are the best of each kit, of different moments."""
    same_lens: bool
    keywords: tuple[str, ...]


def pair_of(
    logbook: Logbook,
    trip_id: int | None,
    against: Sequence[tuple[int, int]],
    kit_names: Mapping[int, str],
    cutter: Cutter = here,
) -> Pair | None:
    """The pair to show of a trip, or of the newest of all trips; None where nothing can be shown.

    Parameters
    ----------
    against
        Kits with a converter and their bare kits, in the order of the answer: where no animal was
        photographed with both, the best of the first that have pictures stands for it.
    kit_names
        Short names by kit_id.
    cutter
        Cuts pictures that are not kept yet.
    """
    trip_ids = (
        [trip.trip_id for trip in trips_newest_first(logbook)[:MOST_TRIPS]] if trip_id is None else [trip_id]
    )
    for number in trip_ids:
        for pair in pairs_of_trip(logbook, number, most=MOST_TRIED):
            if shown := _shown(logbook, pair, kit_names, cutter):
                return shown
    for number in trip_ids:
        for kit_id, bare_kit_id in against:
            sharp_converted = sharpest_of_kit(logbook, number, kit_id, most=1)
            sharp_bare = sharpest_of_kit(logbook, number, bare_kit_id, most=1)
            if sharp_converted and sharp_bare:
                pair = FramePair(
                    converted=sharp_converted[0],
                    bare=sharp_bare[0],
                    seconds_apart=0.0,
                    same_lens=True,
                    keywords=(),
                )
                if shown := _shown(logbook, pair, kit_names, cutter, same_moment=False):
                    return shown
    return None


def _shown(
    logbook: Logbook,
    pair: FramePair,
    kit_names: Mapping[int, str],
    cutter: Cutter,
    *,
    same_moment: bool = True,
) -> Pair | None:
    frames = to_show(logbook, [pair.converted.frame_id, pair.bare.frame_id])
    pictures = frame_pictures(logbook.path, frames, cutter)
    sides = _to_one_angle(pair.converted, pair.bare, pictures, kit_names)
    if sides is None:
        return None
    return Pair(
        converted=sides[0],
        bare=sides[1],
        seconds_apart=pair.seconds_apart if same_moment else None,
        same_lens=pair.same_lens,
        keywords=pair.keywords,
    )


def _to_one_angle(
    converted: InFocus, bare: InFocus, pictures: Mapping[int, FramePictures], kit_names: Mapping[int, str]
) -> tuple[Side, Side] | None:
    """Both cut to the angle that both show; the one with finer pixels at true size, the other scaled up."""
    areas = {frame.frame_id: pictures[frame.frame_id].area for frame in (converted, bare)}
    finest = min(converted.pixel_urad, bare.pixel_urad)
    angles = []
    for frame in (converted, bare):
        area = areas[frame.frame_id]
        if area is None:
            return None
        angles.append(min(area.width_px, area.height_px) * frame.pixel_urad)
    side_px = round(min(angles) / finest)
    sides = []
    for frame in (converted, bare):
        area, scaled = areas[frame.frame_id], frame.pixel_urad / finest
        cut_px = round(side_px / scaled)
        if area is None or cut_px < SHOWS_ENOUGH_PX:
            return None
        picture = _cut_and_scaled(area, cut_px, side_px)
        if picture is None:
            return None
        name = kit_names[frame.kit_id]
        sides.append(Side(picture=picture, kit_id=frame.kit_id, kit_name=name, iso=frame.iso, scaled=scaled))
    return sides[0], sides[1]


def _cut_and_scaled(area: Picture, cut_px: int, side_px: int) -> Picture | None:
    """The middle of a picture, scaled up to a side."""
    from PIL import Image

    with Image.open(io.BytesIO(base64.b64decode(area.data))) as picture:
        left, top = (picture.width - cut_px) // 2, (picture.height - cut_px) // 2
        piece = picture.crop((left, top, left + cut_px, top + cut_px))
        if cut_px != side_px:
            piece = piece.resize((side_px, side_px), Image.Resampling.BICUBIC)
        jpeg = io.BytesIO()
        piece.save(jpeg, "JPEG", quality=QUALITY)
    return picture_of(jpeg.getvalue())
