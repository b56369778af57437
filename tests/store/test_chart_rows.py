"""What SQL counts for the pictures is what pandas counts from the view."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from auditor.store import chart_rows
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.selection import selected_frames
from auditor.store.trips import trips_newest_first

SAMPLE = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def book(
    tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]
) -> Iterator[Logbook]:
    with open_logbook(measured_sample(tmp_path_factory.mktemp("numbers"))) as book:
        yield book


@pytest.fixture(scope="module")
def view(book: Logbook) -> pd.DataFrame:
    return pd.DataFrame(map(asdict, selected_frames(book)))


@pytest.fixture(params=["trip", "all"])
def trip_id(book: Logbook, request: pytest.FixtureRequest) -> int | None:
    return trips_newest_first(book)[0].trip_id if request.param == "trip" else None


def totals(rows: Sequence[object], *columns: str) -> dict[str, int]:
    return {name: sum(getattr(row, name) for row in rows) for name in columns}


def one_angle(view: pd.DataFrame) -> pd.Series[str]:
    """The verdict in comparisons: on the subject, else by the camera's word."""
    by_word = view["verdict"].where(view["verdict_source"] == "camera_word", "unclear")
    return view["verdict_on_subject"].fillna(by_word)


def counted(view: pd.DataFrame) -> dict[str, int]:
    verdicts = one_angle(view)
    words = {"hits": "hit", "misses": "miss", "unclear": "unclear"}
    return {name: int((verdicts == word).sum()) for name, word in words.items()}


def test_hits_by_light(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    by_word = view["verdict"].where(view["verdict_source"] == "camera_word")
    view = view.assign(one_angle=view["verdict_on_subject"].fillna(by_word))
    # A frame counts by how likely it is a hit; where that is not known, by its verdict.
    known = view["one_angle"].map({"hit": 1.0, "miss": 0.0})
    view = view.assign(likely=view["hit_probability"].fillna(known))
    judged = view[view["light_value_ev"].notna() & view["likely"].notna()]
    step = (np.floor(judged["light_value_ev"]) // 2 * 2).astype(int)
    expected = judged.groupby(["kit_id", step])["likely"].agg(["sum", "size"])
    found = pd.DataFrame(map(asdict, chart_rows.hits_by_light(book, trip_id))).groupby(["kit_id", "light_ev"])
    assert found["hits"].sum().to_dict() == pytest.approx(expected["sum"].to_dict())
    assert found["judged"].sum().to_dict() == expected["size"].to_dict()


def test_light_steps_hold_their_edges_and_darkness(book: Logbook) -> None:
    """12.0 EV belongs to the step from 12, 11.99 and -0.5 EV to the steps from 10 and -2."""
    for light_ev, lower in ((12.0, 12), (11.99, 10), (-0.5, -2), (-2.0, -2)):
        with book.writing():
            book.execute("SAVEPOINT before")
            book.execute("UPDATE inferred SET light_value_ev = ?", (light_ev,))
            found = {row.light_ev for row in chart_rows.hits_by_light(book, None)}
            book.execute("ROLLBACK TO before")
        assert found == {lower}


NOTED = {
    "area_mostly_background",
    "only_thin_sharp",
    "sharp_beside_area",
    "region_too_small",
    "too_little_texture",
}
"""What docs/logbook.md has as reasons of unclear frames besides the limit."""


def test_near_the_limit_is_what_no_other_reason_leaves_unclear(book: Logbook, view: pd.DataFrame) -> None:
    unclear = view[(view["verdict_on_subject"] == "unclear") & view["blur_urad"].notna()]
    noted = unclear["reading_flags"].map(lambda flags: bool(NOTED & set(flags or ())))
    rows = chart_rows.blurs(book, None)
    told = totals([row for row in rows if row.verdict == "unclear"], "near", "frames")
    assert told["near"] == int((~noted & unclear["hit_probability"].notna()).sum())
    assert told["near"] > 0
    assert not any(row.near for row in rows if row.verdict != "unclear")
    with book.writing():
        book.execute("SAVEPOINT before")
        book.execute('UPDATE readings SET flags = \'["part_of_area", "too_little_texture"]\'')
        without = totals(chart_rows.blurs(book, None), "near", "frames")
        book.execute("ROLLBACK TO before")
    assert without == {"near": 0, "frames": sum(row.frames for row in rows)}


def test_detail_and_noise(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    for kit_id, group in view.groupby("kit_id"):
        rows = chart_rows.detail_and_noise(book, trip_id, int(str(kit_id)))
        expected = group["system_blur_urad"].dropna()
        np.testing.assert_allclose(sorted(row[1] for row in rows), sorted(expected))
        pixel_urad = group["pixel_pitch_um"] / group["focal_length_mm"] * 1000
        np.testing.assert_allclose({row[3] for row in rows}.pop(), pixel_urad.iloc[0])


def test_stretches(book: Logbook, view: pd.DataFrame) -> None:
    rows = chart_rows.stretches(book, trips_newest_first(book)[0].trip_id)
    assert len(rows) == len(view.groupby(["kit_id", "burst_id"]))
    assert totals(rows, "hits", "misses", "unclear") == counted(view)
    assert [row.first_at for row in rows] == sorted(row.first_at for row in rows)
    assert all(row.first_at <= row.last_at for row in rows)


def test_by_trip(book: Logbook, view: pd.DataFrame) -> None:
    rows = chart_rows.by_trip(book)
    assert {row.kit_id: row.frames for row in rows} == view.groupby("kit_id").size().to_dict()
    assert totals(rows, "hits", "misses", "unclear") == counted(view)


def test_blurs(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    rows = chart_rows.blurs(book, trip_id)
    known = view[view["blur_urad"].notna()]
    assert totals(rows, "frames") == {"frames": len(known)}
    found = sorted(row.blur_urad for row in rows for _frame in range(row.frames))
    np.testing.assert_allclose(found, sorted(known["blur_urad"]), atol=0.051)
    missed = sum(row.frames for row in rows if row.verdict == "miss")
    assert missed == (one_angle(known) == "miss").sum()


def test_the_limit_of_blur_parts_hits_from_misses(book: Logbook, view: pd.DataFrame) -> None:
    """By pixels alone, a frame whose blur is under the limit is never a miss, nor one above it a hit."""
    ratio = pd.Series(chart_rows.sensor_over_reach(book, None))
    limit_urad = view["kit_id"].map(ratio) / 1500 / 4 * 1e6
    here = view["blur_kind"] != "elsewhere"  # which misses whatever its blur
    by_pixels = view[(view["verdict_source"] == "pixels") & view["blur_urad"].notna() & here]
    under = by_pixels["blur_urad"] <= limit_urad[by_pixels.index]
    verdicts = one_angle(by_pixels)
    assert not ((verdicts == "miss") & under).any()
    assert not ((verdicts == "hit") & ~under).any()


def test_lost_bursts(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    rows = {row.kit_id: row for row in chart_rows.lost_bursts(book, trip_id)}
    verdicts = view.assign(word=one_angle(view)).groupby(["kit_id", "burst_id"])["word"]
    several = verdicts.agg(list)[verdicts.size() > 1]
    for kit_id, own in several.groupby(level="kit_id"):
        lost = [words for words in own if "hit" not in words]
        assert rows[int(str(kit_id))].bursts == len(own)
        assert rows[int(str(kit_id))].none_sharp == sum("unclear" not in words for words in lost)
        assert rows[int(str(kit_id))].open == sum("unclear" in words for words in lost)


def test_why_missed(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    rows = chart_rows.why_missed(book, trip_id)
    missed = view[one_angle(view) == "miss"]
    shown = missed["blur_kind"].where(missed["verdict_source"] != "camera_word", "by the camera alone")
    expected = missed.groupby([missed["kit_id"], shown]).size().to_dict()
    found = {(row.kit_id, row.kind or "by the camera alone"): row.frames for row in rows}
    assert found == expected


def test_shutter_by_focal_length(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    rows = chart_rows.shutter_by_focal_length(book, trip_id)
    assert totals(rows, "frames", "smeared", "measured") == {
        "frames": len(view),
        "smeared": int((view["blur_kind"] == "smeared").sum()),
        "measured": int(view["blur_kind"].notna().sum()),
    }


def test_focus_places(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    placed = view[view["af_x"].notna() & one_angle(view).isin(["hit", "miss"])]
    rows = chart_rows.focus_places(book, trip_id)
    expected = placed.groupby([(placed["af_x"] * 12).astype(int), (placed["af_y"] * 8).astype(int)]).size()
    found = pd.DataFrame(map(asdict, rows)).groupby(["across", "down"])["judged"].sum()
    assert found.to_dict() == expected.to_dict()
    assert totals(rows, "hits") == {"hits": int((one_angle(placed) == "hit").sum())}
    middle = placed["af_x"].between(1 / 3, 2 / 3, "left") & placed["af_y"].between(0.25, 0.75, "left")
    inside = [row for row in chart_rows.focus_in_middle(book, trip_id) if row.middle]
    assert totals(inside, "judged") == {"judged": int(middle.sum())}
    assert len(inside) == placed[middle]["encounter_id"].nunique()


def test_excluded_frames_are_in_no_picture(book: Logbook) -> None:
    trip_id = trips_newest_first(book)[0].trip_id
    with book.writing():
        book.execute("SAVEPOINT before")
        book.execute("UPDATE inferred SET excluded = 1")
        rows = [
            *chart_rows.stretches(book, trip_id),
            *chart_rows.by_trip(book),
            *chart_rows.hits_by_light(book, None),
            *chart_rows.blurs(book, None),
            *chart_rows.lost_bursts(book, None),
            *chart_rows.why_missed(book, None),
            *chart_rows.shutter_by_focal_length(book, None),
            *chart_rows.focus_places(book, None),
            *chart_rows.focus_in_middle(book, None),
        ]
        book.execute("ROLLBACK TO before")
    assert rows == []
