"""An encounter looked at by eye: one angle for all kits, the sharpest hit suggested, the subject lined up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import simplejpeg

from auditor.keepers.by_eye import SHOWN_PX, LookedAt, bursts_of
from auditor.store.crops import crop_path
from auditor.store.encounter_frames import encounters_of_trip, frames_of_encounter, trip_of_encounter
from auditor.store.logbook import Logbook, open_logbook


@pytest.fixture
def book(tmp_path: Path, measured_sample: Callable[[Path], Path]) -> Iterator[Logbook]:
    with open_logbook(measured_sample(tmp_path)) as opened:
        yield opened


def encounters(book: Logbook) -> list[int]:
    return [line.encounter_id for line in encounters_of_trip(book, 1)]


def all_frames(book: Logbook, encounter_id: int) -> list[LookedAt]:
    return [each for burst in bursts_of(book, encounter_id) for each in burst.frames]


def test_every_frame_of_the_trip_is_in_one_burst_of_one_encounter_in_the_order_it_was_shot(
    book: Logbook,
) -> None:
    seen = [each.frame.frame_id for one in encounters(book) for each in all_frames(book, one)]
    assert sorted(seen) == [row[0] for row in book.query("SELECT frame_id FROM membership ORDER BY 1")]
    for one in encounters(book):
        for burst in bursts_of(book, one):
            times = [each.frame.taken_at for each in burst.frames]
            assert times == sorted(times)
    lines = encounters_of_trip(book, 1)
    assert sum(line.frames for line in lines) == len(seen) == 88
    assert trip_of_encounter(book, encounters(book)[0]) == 1
    assert trip_of_encounter(book, 10**9) is None


def test_the_suggestion_is_the_hit_with_the_least_blur(book: Logbook) -> None:
    for one in encounters(book):
        for burst in bursts_of(book, one):
            hits = [each for each in burst.frames if each.frame.verdict == "hit"]
            suggested = [each for each in burst.frames if each.sharpest]
            assert len(suggested) == bool(hits)
            blurs = [each.frame.blur_px for each in hits if each.frame.blur_px is not None]
            if blurs:
                assert suggested[0].frame.blur_px == min(blurs)


def test_squares_of_bare_and_converter_show_one_angle(book: Logbook) -> None:
    compared = 0
    for one in encounters(book):
        placed = [each for each in all_frames(book, one) if each.placed]
        angles = {each.frame.frame_id: each.frame.pixel_urad or 0.0 for each in placed}
        finest = min(angles.values())
        shown = []
        for each in placed:
            assert each.placed is not None
            picture = simplejpeg.decode_jpeg(
                crop_path(book.path, each.frame.frame_id).read_bytes(), colorspace="GRAY"
            )
            shown_urad = SHOWN_PX / each.placed.width * picture.shape[1] * angles[each.frame.frame_id]
            shown.append(shown_urad)
            compared += angles[each.frame.frame_id] > finest
        assert shown == pytest.approx([shown[0]] * len(shown))
    assert compared > 5  # bare frames beside those behind a converter


def test_a_frame_without_a_picture_does_not_put_the_angle_of_the_others_in_doubt(book: Logbook) -> None:
    """Such as one whose file is cut short: it has no square, and no reading that gives an angle."""
    one = encounters(book)[0]
    assert all(burst.one_angle for burst in bursts_of(book, one))
    frame_id = all_frames(book, one)[0].frame.frame_id
    with book.writing():
        book.execute("DELETE FROM readings WHERE frame_id = ?", (frame_id,))
        book.execute("UPDATE inferred SET pixel_pitch_um = NULL WHERE frame_id = ?", (frame_id,))
    assert not all(burst.one_angle for burst in bursts_of(book, one))
    crop_path(book.path, frame_id).unlink()
    assert all(burst.one_angle for burst in bursts_of(book, one))


def test_a_subject_that_moved_in_the_frame_is_brought_back_to_its_place(book: Logbook) -> None:
    (first, second) = next(
        burst.frames[:2]
        for one in encounters(book)
        for burst in bursts_of(book, one)
        if len(burst.frames) == 2 and burst.frames[0].sharpest
    )
    rng = np.random.default_rng(5)
    scene = np.kron(rng.integers(0, 255, (60, 60)), np.ones((6, 6)))[..., None].astype(np.uint8)
    for each, (down, right) in ((first, (0, 0)), (second, (14, -9))):
        piece = np.ascontiguousarray(scene[60 - down : 240 - down, 60 - right : 240 - right])
        data = simplejpeg.encode_jpeg(piece, quality=90, colorspace="GRAY")
        crop_path(book.path, each.frame.frame_id).write_bytes(data)
    encounter_id = book.query(
        "SELECT encounter_id FROM membership WHERE frame_id = ?", (first.frame.frame_id,)
    )[0][0]
    again = {each.frame.frame_id: each.placed for each in all_frames(book, encounter_id)}
    one, other = again[first.frame.frame_id], again[second.frame.frame_id]
    assert one is not None
    assert other is not None
    larger = other.width / 180
    assert larger >= SHOWN_PX / 180
    assert (other.x - one.x) / larger == pytest.approx(9, abs=1.1)
    assert (other.y - one.y) / larger == pytest.approx(-14, abs=1.1)


def test_a_frame_without_a_kept_picture_has_none(book: Logbook) -> None:
    encounter_id = encounters(book)[0]
    frame_id = frames_of_encounter(book, encounter_id)[0].frame_id
    crop_path(book.path, frame_id).unlink()
    assert [each.placed for each in all_frames(book, encounter_id)].count(None) == 1
