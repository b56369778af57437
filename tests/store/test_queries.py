"""What SQL counts for the pictures is what pandas counts from the view."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from auditor.store import queries as numbers
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.selection import selected_frames
from auditor.store.tables import trips

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
    return trips(book)[0].trip_id if request.param == "trip" else None


def totals(rows: list[dict[str, Any]], *columns: str) -> dict[str, int]:
    return {name: sum(row[name] or 0 for row in rows) for name in columns}


def test_iso_by_light(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    known = view[view["light_value_ev"].notna()]
    rows = numbers.iso_by_light(book, trip_id)
    assert totals(rows, "frames") == {"frames": len(known)}
    expected = known.groupby(["kit_id", np.floor(known["light_value_ev"] * 2 + 0.5) / 2]).size()
    found = pd.DataFrame(rows).groupby(["kit_id", "light_ev"])["frames"].sum()
    assert found.to_dict() == expected.to_dict()


def test_hits_by_light(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    by_word = view["verdict"].where(view["verdict_source"] == "camera_word")
    view = view.assign(one_angle=view["verdict_on_subject"].fillna(by_word))
    # A frame counts by how likely it is a hit; where that is not known, by its verdict.
    known = view["one_angle"].map({"hit": 1.0, "miss": 0.0})
    view = view.assign(likely=view["hit_probability"].fillna(known))
    judged = view[view["light_value_ev"].notna() & view["likely"].notna()]
    step = (np.floor(judged["light_value_ev"]) // 2 * 2).astype(int)
    expected = judged.groupby(["kit_id", step])["likely"].agg(["sum", "size"])
    found = pd.DataFrame(numbers.hits_by_light(book, trip_id)).groupby(["kit_id", "light_ev"])
    assert found["hits"].sum().to_dict() == pytest.approx(expected["sum"].to_dict())
    assert found["judged"].sum().to_dict() == expected["size"].to_dict()


def test_light_steps_hold_their_edges_and_darkness(book: Logbook) -> None:
    """12.0 EV belongs to the step from 12, 11.99 and -0.5 EV to the steps from 10 and -2."""
    for light_ev, lower in ((12.0, 12), (11.99, 10), (-0.5, -2), (-2.0, -2)):
        with book.writing():
            book.execute("SAVEPOINT before")
            book.execute("UPDATE inferred SET light_value_ev = ?", (light_ev,))
            found = {row["light_ev"] for row in numbers.hits_by_light(book, None)}
            book.execute("ROLLBACK TO before")
        assert found == {lower}


def test_detail_and_noise(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    for kit_id, group in view.groupby("kit_id"):
        rows = numbers.detail_and_noise(book, trip_id, int(str(kit_id)))
        expected = group["system_blur_urad"].dropna()
        np.testing.assert_allclose(sorted(row[1] for row in rows), sorted(expected))
        pixel_urad = group["pixel_pitch_um"] / group["focal_length_mm"] * 1000
        np.testing.assert_allclose({row[3] for row in rows}.pop(), pixel_urad.iloc[0])


def test_timeline(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    name, rows = numbers.timeline(book, trip_id)
    assert name == "encounter"
    assert len({row["slot"] for row in rows}) == view["encounter_id"].nunique()
    counted = view["verdict"].value_counts().to_dict()
    assert totals(rows, "hits", "misses", "unclear") == {
        "hits": counted["hit"],
        "misses": counted["miss"],
        "unclear": counted["unclear"],
    }
    assert [row["first_at"] for row in rows] == sorted(row["first_at"] for row in rows)


def test_a_long_timeline_gets_coarser_columns(
    book: Logbook, view: pd.DataFrame, monkeypatch: pytest.MonkeyPatch
) -> None:
    hours = view["taken_at"].str[:13].nunique()
    for most, name, columns in ((hours, "hour", hours), (2, "day", 2), (1, "month", 1), (0, "month", 1)):
        monkeypatch.setattr(numbers, "MOST_SLOTS", most)
        found, rows = numbers.timeline(book, None)
        assert (found, len({row["slot"] for row in rows})) == (name, columns)
        assert totals(rows, "frames") == {"frames": len(view)}


def test_shutter_by_focal_length(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    rows = numbers.shutter_by_focal_length(book, trip_id)
    assert totals(rows, "frames", "smeared", "measured") == {
        "frames": len(view),
        "smeared": int((view["blur_kind"] == "smeared").sum()),
        "measured": int(view["blur_kind"].notna().sum()),
    }


def test_focus_places(book: Logbook, view: pd.DataFrame, trip_id: int | None) -> None:
    placed = view[view["af_x"].notna() & view["verdict"].isin(["hit", "miss"])]
    rows = numbers.focus_places(book, trip_id)
    expected = placed.groupby([(placed["af_x"] * 12).astype(int), (placed["af_y"] * 8).astype(int)]).size()
    found = pd.DataFrame(rows).groupby(["across", "down"])["frames"].sum()
    assert found.to_dict() == expected.to_dict()


def test_excluded_frames_are_in_no_picture(book: Logbook) -> None:
    with book.writing():
        book.execute("SAVEPOINT before")
        book.execute("UPDATE inferred SET excluded = 1")
        rows = [
            *numbers.iso_by_light(book, None),
            *numbers.hits_by_light(book, None),
            *numbers.timeline(book, None)[1],
            *numbers.shutter_by_focal_length(book, None),
            *numbers.focus_places(book, None),
        ]
        book.execute("ROLLBACK TO before")
    assert rows == []
