"""Reference library: pandas, for what the kit table counts, and for medians and quartiles, frame by frame."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
import pytest

from auditor.analysis.kit_table import KitRow, kit_table
from auditor.store.logbook import Logbook, open_logbook
from benchmarks.simulated_logbook import Trip, write


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logbook]:
    """Some frames are unclear, some were never judged, some went over the ISO ceiling."""
    path = tmp_path_factory.mktemp("kits") / "logbook.sqlite"
    write(path, Trip(encounters=120))
    with open_logbook(path) as logbook:
        with logbook.writing():
            unclear = "verdict = 'unclear', verdict_on_subject = 'unclear'"
            logbook.execute(f"UPDATE verdicts SET {unclear} WHERE frame_id % 5 = 0")
            logbook.execute("DELETE FROM verdicts WHERE frame_id % 7 = 0")
            logbook.execute("""UPDATE inferred SET flags = '["iso_pushed"]' WHERE frame_id % 3 = 0""")
        yield logbook


@pytest.fixture(scope="module")
def kits(book: Logbook) -> list[tuple[KitRow, pd.DataFrame]]:
    """Each row of the table, and the frames of its kit."""
    frames = pd.read_sql_query("SELECT * FROM frame_facts", book.connection)
    rows = kit_table(book)
    assert len(rows) == frames["kit_id"].nunique() == 6
    return [(row, frames[frames["kit_id"] == row.kit_id]) for row in rows]


def test_shares(kits: list[tuple[KitRow, pd.DataFrame]]) -> None:
    for row, frames in kits:
        verdicts = frames["verdict_on_subject"].value_counts()
        hits, unclear = verdicts["hit"], verdicts["unclear"]
        decided = verdicts.sum()
        assert (row.frames, row.hits, row.unclear) == (len(frames), hits, unclear)
        assert decided < len(frames)
        assert row.hit_rate_if_unclear_missed == pytest.approx(hits / decided)
        assert row.hit_rate_if_unclear_hit == pytest.approx((hits + unclear) / decided)
        assert row.iso_pushed_share == pytest.approx(frames["flags"].str.contains("iso_pushed").mean())


def test_medians_and_quartiles(kits: list[tuple[KitRow, pd.DataFrame]]) -> None:
    for row, frames in kits:
        quartiles = frames["iso"].quantile([0.25, 0.5, 0.75]).tolist()
        assert [row.lower_iso, row.median_iso, row.upper_iso] == pytest.approx(quartiles)
        assert row.median_forced_push_ev == pytest.approx(frames["forced_push_ev"].median())
        assert row.median_iso_without_converter == pytest.approx(frames["iso_without_converter"].median())
        assert row.median_exposure_time_s == pytest.approx(frames["exposure_time_s"].median())
        assert row.median_light_value_ev == pytest.approx(frames["light_value_ev"].median())


def test_stops_of_shutter_that_the_reach_asks_for(kits: list[tuple[KitRow, pd.DataFrame]]) -> None:
    """1 / focal length (common practice): twice as long wants half the time, 1 stop; 1.4 times half of it."""
    stops = {row.converter_factor: row.shutter_for_reach_ev for row, _frames in kits}
    assert stops[1.0] is None
    assert stops[1.4] == pytest.approx(0.5, abs=0.02)
    assert stops[2.0] == 1.0
