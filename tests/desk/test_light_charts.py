"""The chart on which a photographer marks what was mounted: light by burst, a chart a body and day."""

from typing import Any

from auditor.desk.settling import CHART_PX, light_charts
from auditor.store.bursts import BurstLight


def burst(number: int, at: str, light_ev: float | None, body: str = "F2") -> BurstLight:
    facts: dict[str, Any] = dict.fromkeys(BurstLight.__slots__)
    facts |= {"burst_id": number, "body": body, "first_at": at, "last_at": at, "light_value_ev": light_ev}
    return BurstLight(**facts)


def test_brighter_is_higher_and_a_stop_is_a_stop_anywhere() -> None:
    (chart,) = light_charts(
        [
            burst(1, "2026-04-18T09:00", 12.0),
            burst(2, "2026-04-18T09:30", 10.0),
            burst(3, "2026-04-18T10:00", None),
        ],
        [],
    )
    bright, dim, unknown = (column.y for column in chart.columns)
    assert bright is not None
    assert dim is not None
    assert 0 < bright < dim < CHART_PX  # counted from the top, as SVG does
    assert unknown is None
    assert abs((dim - bright) - 2 * chart.stop_px) < 1e-9
    places = {ev: y for y, ev in chart.lines}
    assert (places[12], places[10]) == (bright, dim)
    assert [column.x for column in chart.columns] == sorted(column.x for column in chart.columns)


def test_each_body_and_day_has_a_chart_of_its_own() -> None:
    charts = light_charts(
        [
            burst(1, "2026-04-19T09:00", 12.0),
            burst(2, "2026-04-18T09:30", 10.0),
            burst(3, "2026-04-18T10:00", 11.0, "S2"),
        ],
        [],
    )
    assert [(chart.body, chart.day) for chart in charts] == [
        ("F2", "2026-04-18"), ("F2", "2026-04-19"), ("S2", "2026-04-18"),
    ]  # fmt: skip
