"""Pictures: honest about too few frames, bounded in marks, drawable without JavaScript or network."""

from __future__ import annotations

import json
from typing import Any

import pytest

from auditor.analysis.kit_table import KitRow
from auditor.report.charts import kits as pictures_of_kits
from auditor.report.charts import light as pictures_of_light
from auditor.report.charts import specs as charts
from auditor.report.charts import trip as pictures_of_trips
from auditor.report.charts.figures import MOST_KITS, kits_drawn
from auditor.report.charts.specs import Kit
from auditor.report.svg import colour_of, outline, shape_of
from tests.report import made_answers

KITS = [Kit(7, "Body + Long 500mm", 0), Kit(9, "Body + Long 500mm + 2x", 1)]


def kit_row(kit: Kit, **values: Any) -> KitRow:
    usual: dict[str, Any] = {"frames": 10, "judged": 10, "hit_rate_frames": 10, "hits": 5, "hit_rate": 0.5,
                             "hit_rate_low": 0.3, "hit_rate_high": 0.7}  # fmt: skip
    return made_answers.kit_row(kit.kit_id, kit.name, **(usual | values))


def rows_of(spec: dict[str, Any]) -> list[dict[str, Any]]:
    """Every row that a picture is drawn from."""
    found = list((spec.get("data") or {}).get("values", []))
    for layer in spec.get("layer", []):
        found += rows_of(layer)
    return found


def test_too_few_encounters_are_counts_and_not_drawn_as_a_rate() -> None:
    none = {"hit_rate": None, "hit_rate_low": None, "hit_rate_high": None, "judged": 3, "hits": 2}
    picture = pictures_of_kits.hit_rates([kit_row(KITS[0]), kit_row(KITS[1], **none)], KITS)
    few = next(row for row in rows_of(picture.spec) if row["kit"] == 9)
    assert few["rate"] is few["low"] is few["high"] is None
    assert few["said"] == "2 of 3 in focus: too few encounters for an interval"
    assert "1 kit has too few encounters for an interval" in picture.seen


@pytest.mark.parametrize(("low", "said"), [(0.75, "do not overlap"), (0.65, "overlap, so the order")])
def test_the_sentence_is_no_surer_than_the_intervals(low: float, said: str) -> None:
    better = kit_row(KITS[1], hit_rate=0.9, hit_rate_low=low, hit_rate_high=0.97)
    picture = pictures_of_kits.hit_rates([kit_row(KITS[0]), better], KITS)
    assert said in picture.seen
    assert "Highest: Body + Long 500mm + 2x, 90 % of 10" in picture.seen


def test_iso_is_a_median_over_frames_and_the_bare_lens_stands_below_it() -> None:
    counted = [
        {"kit_id": 9, "light_ev": 12.0, "iso": 1600.0, "bare_iso": 400.0, "frames": 1},
        {"kit_id": 9, "light_ev": 12.0, "iso": 3200.0, "bare_iso": 800.0, "frames": 5},
        {"kit_id": 7, "light_ev": 12.0, "iso": 800.0, "bare_iso": 800.0, "frames": 2},
    ]
    picture = pictures_of_light.iso_by_light(counted, [kit_row(kit) for kit in KITS], KITS)
    assert picture is not None
    by_kit = {row["kit"]: row for row in rows_of(picture.spec)}
    assert (by_kit[9]["iso"], by_kit[9]["bare_iso"]) == (3200.0, 800.0)
    assert (by_kit[7]["iso"], by_kit[7]["bare_iso"]) == (800.0, None)
    assert "median ISO 3200, bare up to 800; 6 frames" in by_kit[9]["told"]


def test_hits_by_light_give_rates_from_three_encounters_on() -> None:
    counted = [
        {"kit_id": 7, "encounter_id": n, "light_ev": light, "judged": 4, "hits": 3}
        for light, encounters in ((10, 3), (12, 2))
        for n in range(encounters)
    ]
    picture = pictures_of_light.hits_by_light(counted, KITS)
    assert picture is not None
    rated, counts = ([row for row in rows_of(picture.spec) if name in row] for name in ("y", "light_ev"))
    assert [row["light_ev"] for row in rated] == [11]
    assert "75 % of 12" in rated[0]["told"]
    assert [row["said"] for row in counts] == ["", "6 of 8"]
    assert rated[0]["low"] < rated[0]["y"] < rated[0]["high"]


def test_noise_on_the_subject_is_that_of_equal_angles() -> None:
    """A mean over n pixels of independent noise has 1/sqrt(n) of it (D): here of 100 pixels."""
    frames = [(scene, 5.0 + scene, 2.0, 10.0) for scene in range(4)]
    finer = [(scene, 5.0 + scene, 4.0, 5.0) for scene in range(4)]
    picture = pictures_of_kits.detail_against_noise(lambda kit_id: frames if kit_id == 7 else finer, KITS)
    assert picture is not None
    noise = {row["kit"]: row["noise"] for row in rows_of(picture.spec)}
    assert noise[7] == pytest.approx(2.0 / (100 / 10))
    # Half the angle a pixel and twice the noise of each: the same light on the animal, the same noise on it.
    assert noise[9] == pytest.approx(noise[7])


def test_two_scenes_are_too_few_for_detail() -> None:
    few = [(scene, 5.0, 2.0, 10.0) for scene in range(2)]
    assert pictures_of_kits.detail_against_noise(lambda _kit_id: few, KITS) is None


def test_slower_than_one_over_the_focal_length() -> None:
    """1/500 s at 500 mm is on the line and not slower; 1/250 s is (common practice: C)."""
    counted = [
        {
            "kit_id": 7,
            "focal_length_mm": 500.0,
            "exposure_time_s": time_s,
            "frames": frames,
            "smeared": smeared,
            "measured": frames,
        }
        for time_s, frames, smeared in ((1 / 500, 3, 0), (1 / 512, 2, 0), (1 / 250, 4, 2))
    ]
    picture = pictures_of_trips.shutter(counted, KITS)
    assert picture is not None
    assert "4 of 9 frames were slower" in picture.seen
    assert "2 of 4 measured at slower speeds, 0 of 5 at faster ones" in picture.seen
    line = [row for row in rows_of(picture.spec) if "kit" not in row]
    assert all(row["time_s"] == pytest.approx(1 / row["focal_mm"]) for row in line)


def test_a_fall_inside_the_trip_is_boxed_on_the_timeline() -> None:
    counted = [
        {
            "slot": n,
            "kit_id": 7,
            "first_at": f"2026-04-18T{6 + n:02d}:00:00",
            "hits": 1 if n >= 4 else 5,
            "misses": 5 if n >= 4 else 1,
            "unclear": 0,
            "scenes": 1,
            "light_ev": 12.0,
        }
        for n in range(8)
    ]
    fall = made_answers.change(kit_id=7)
    picture = pictures_of_trips.timeline("encounter", counted, KITS[:1], [fall])
    assert picture is not None
    boxes = [row for row in rows_of(picture.spec) if "high" in row]
    assert [(row["left"], row["right"]) for row in boxes] == [(3.55, 5.45)]
    assert "17 % in focus from 2026-04-18 10:00 until 2026-04-18 12:00, 83 % in the rest" in picture.seen
    steady = pictures_of_trips.timeline(
        "encounter", counted, KITS[:1], [made_answers.change(kit_id=7, fell=False)]
    )
    assert steady is not None
    assert not [row for row in rows_of(steady.spec) if "high" in row]


def test_only_the_most_used_kits_are_drawn() -> None:
    rows = [kit_row(Kit(number, f"kit {number:02d}", number), frames=number) for number in range(20)]
    drawn = kits_drawn(rows)
    assert [kit.kit_id for kit in drawn] == list(range(12, 20))
    assert len(drawn) == MOST_KITS


def test_no_two_kits_look_alike() -> None:
    looks = [(colour_of(number), shape_of(number)) for number in range(36)]
    assert len(set(looks)) == 36


def test_a_picture_names_no_place_on_the_network_and_needs_no_style() -> None:
    picture = pictures_of_kits.hit_rates([kit_row(kit) for kit in KITS], KITS)
    assert "://" not in json.dumps(picture.spec)
    assert picture.svg.startswith("<svg")
    assert picture.svg.replace("http://www.w3.org/", "").count("://") == 0
    assert "style=" not in picture.svg
    assert "currentColor" in picture.svg


def test_the_outline_lies_where_the_area_is() -> None:
    assert 'x="40.0" y="30.0" width="20.0" height="40.0"' in outline((0.5, 0.5, 0.2, 0.4), 100, 100)


@pytest.mark.parametrize(("low", "high"), [(100, 25600), (200, 210), (100, 102400)])
def test_the_iso_axis_doubles(low: float, high: float) -> None:
    values = charts._doublings(low, high)
    assert 1 <= len(values) <= 10
    assert all(low / 1.5 <= value <= high * 1.5 for value in values)


def test_the_shutter_axis_has_the_marks_of_a_camera() -> None:
    """Whole stops as cameras mark them (C)."""
    marks = [round(1 / time_s) for time_s in charts._marked_times(1 / 2000, 1 / 250)]
    assert marks == [2000, 1000, 500, 250]
