"""How a trip went: its timeline, its shutter speeds, its focus areas."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from auditor.analysis.changes import Change
from auditor.report.charts import specs as charts
from auditor.report.charts.figure import Picture, picture
from auditor.report.charts.specs import Kit, Row
from auditor.report.text import values
from auditor.store import queries as numbers


def timeline(
    slot: str, counted: list[Row], kits: list[Kit], changed: Sequence[Change] = ()
) -> Picture | None:
    """Verdicts of each kit in the order of time, and the stretches in which hits fell."""
    drawn = {kit.kit_id: (len(kits) - 1 - place, kit) for place, kit in enumerate(kits)}
    first_of: dict[Any, str] = {}
    for row in counted:
        first_of.setdefault(row["slot"], row["first_at"])
    places = {name: place for place, name in enumerate(first_of)}
    shown = [row for row in counted if row["kit_id"] in drawn]
    if not shown:
        return None
    most = max(max(row["hits"] or 0, row["misses"] or 0) for row in shown) or 1
    rows: list[Row] = [
        {"kit": kit.kit_id, "base": lane, "label": lane + 0.47, "name": kit.name}
        for lane, kit in drawn.values()
    ]
    for row in shown:
        lane, kit = drawn[row["kit_id"]]
        x = places[row["slot"]]
        light = "" if row["light_ev"] is None else f", light {values.stops(row['light_ev'])} EV"
        rows.append(
            {
                "kit": kit.kit_id, "name": "", "base": lane, "left": x - 0.32, "right": x + 0.32, "middle": x,
                "up": lane + 0.32 * (row["hits"] or 0) / most,
                "down": lane - 0.32 * (row["misses"] or 0) / most,
                "unclear_y": lane if row["unclear"] else None,
                "told": f"{_moment(row['first_at'], slot)}, {kit.name}: {row['hits'] or 0} in focus, "
                f"{row['misses'] or 0} missed, {row['unclear'] or 0} unclear{light}",
            }
        )  # fmt: skip
    fallen = _fallen(changed, first_of, places, drawn)
    day_letters = 7 if slot == "month" else 10
    return picture(
        "timeline",
        "Through the trip" if slot != "month" else "Through the trips",
        f"One column per {slot}; pauses are left out." if slot in ("encounter", "hour") else
        f"One column per {slot} with frames.",
        _seen_timeline(slot, len(places), counted) + "".join(f" {row['told']}" for row in fallen),
        charts.timeline(rows, kits, _days(first_of, places, day_letters), fallen),
    )  # fmt: skip


def _seen_timeline(slot: str, columns: int, counted: list[Row]) -> str:
    totals = [sum(row[name] or 0 for row in counted) for name in ("hits", "misses", "unclear")]
    slots = list(dict.fromkeys(row["slot"] for row in counted))
    early = set(slots[: len(slots) // 2])
    halves = []
    for wanted in (True, False):
        half = [row for row in counted if (row["slot"] in early) == wanted]
        hits, misses = (sum(row[name] or 0 for row in half) for name in ("hits", "misses"))
        halves.append(
            f"{values.percent(hits / (hits + misses))} of {hits + misses:,}"
            if hits + misses
            else "none judged"
        )
    change = ""
    if len(slots) > 1:
        change = (
            f" First half: {halves[0]} in focus; second half: {halves[1]}, all kits together. Not a test: "
            "kits, light and animals changed too."
        )
    return (
        "Bars above a kit's line: in focus. Hollow bars below it: missed. A dot: some were unclear. "
        f"{values.count(columns, slot)}: {totals[0]:,} in focus, {totals[1]:,} missed, {totals[2]:,} "
        f"unclear.{change}"
    )


def _fallen(
    changed: Sequence[Change],
    first_of: dict[Any, str],
    places: dict[Any, int],
    drawn: dict[int, tuple[int, Kit]],
) -> list[Row]:
    """Stretches in which a kit had fewer hits, as boxes around its lane."""
    rows = []
    for change in changed:
        if not change.fell or change.kit_id not in drawn:
            continue
        lane, kit = drawn[change.kit_id]
        until = change.until_at
        inside = [
            places[name]
            for name, at in first_of.items()
            if at >= change.from_at and (until is None or at < until)
        ]
        if not inside:
            continue
        end = "on" if until is None else f"until {values.moment(until)}"
        rows.append(
            {
                "kit": kit.kit_id, "left": min(inside) - 0.45, "right": max(inside) + 0.45,
                "low": lane - 0.4, "high": lane + 0.4,
                "told": f"In the box, {kit.name} fell: {values.percent(change.rate_inside)} in focus from "
                f"{values.moment(change.from_at)} {end}, "
                f"{values.percent(change.rate_outside)} in the rest of the trip, beyond chance.",
            }
        )  # fmt: skip
    return rows


def _days(first_of: dict[Any, str], places: dict[Any, int], letters: int) -> list[Row]:
    """Where a new day or month begins; its name only where there is room for it."""
    days: list[Row] = []
    before, named_at = "", -1e9
    room = len(places) / 5
    for slot, first_at in first_of.items():
        day = first_at[:letters]
        if day != before:
            x = places[slot] - 0.5
            fits = x - named_at >= room
            days.append({"x": x, "day": day if fits else ""})
            named_at = x if fits else named_at
            before = day
    return days


def _moment(first_at: str, slot: str) -> str:
    letters = {"encounter": 16, "hour": 13, "day": 10, "month": 7}[slot]
    return first_at[:letters].replace("T", " ") + (" h" if slot == "hour" else "")


def shutter(counted: list[Row], kits: list[Kit]) -> Picture | None:
    """Shutter speed against focal length, with the line of one over the focal length."""
    cells: dict[tuple[int, float, float], list[int]] = defaultdict(lambda: [0, 0, 0])
    drawn = {kit.kit_id: kit for kit in kits}
    slow, fast = [0, 0, 0], [0, 0, 0]
    for row in counted:
        numbers_of_row = (row["frames"], row["smeared"], row["measured"])
        side = slow if row["exposure_time_s"] > 1.06 / row["focal_length_mm"] else fast
        cell = cells[row["kit_id"], _rounded(row["focal_length_mm"]), _third_stop(row["exposure_time_s"])]
        for place, number in enumerate(numbers_of_row):
            side[place] += number
            cell[place] += number
    rows: list[Row] = [
        {
            "kit": kit_id, "focal_mm": focal_mm, "time_s": time_s, "frames": frames,
            "told": f"{drawn[kit_id].name}, {focal_mm:g} mm, {values.exposure_time(time_s)}: "
            f"{values.count(frames, 'frame')}, {smeared} of {measured} measured blurred by motion",
        }
        for (kit_id, focal_mm, time_s), (frames, smeared, measured) in sorted(cells.items())
        if kit_id in drawn
    ]  # fmt: skip
    if not rows:
        return None
    ends = (min(row["focal_mm"] for row in rows) / 1.1, max(row["focal_mm"] for row in rows) * 1.1)
    line = [{"focal_mm": focal_mm, "time_s": 1 / focal_mm} for focal_mm in ends]
    seen = (
        f"{slow[0]:,} of {values.count(slow[0] + fast[0], 'frame')} were slower than 1 / focal length. "
        f"Blurred by motion: {slow[1]:,} of {slow[2]:,} measured at slower speeds, {fast[1]:,} of "
        f"{fast[2]:,} at faster ones."
    )
    return picture(
        "shutter",
        "Shutter speed against focal length",
        "One mark per kit, focal length and shutter speed; larger marks are more frames. Below the dashed "
        "line the shutter was slower than 1 / focal length, the rule of thumb for hand-holding (on a "
        "smaller sensor many multiply by its crop factor).",
        seen,
        charts.shutter_against_focal_length(rows, kits, line),
        with_legend=True,
    )


def places(counted: list[Row], kits: list[Kit]) -> Picture | None:
    """Where focus areas lay that hit, and that missed."""
    drawn = {kit.kit_id for kit in kits}
    rows: list[Row] = [
        {"kit": row["kit_id"], **{name: row[name] for name in ("across", "down", "verdict", "frames")}}
        for row in counted
        if row["kit_id"] in drawn
    ]
    if not rows:
        return None
    inner, outer = [0, 0], [0, 0]
    for row in counted:
        middle = (
            numbers.PLACES_ACROSS / 3 <= row["across"] < 2 * numbers.PLACES_ACROSS / 3
            and numbers.PLACES_DOWN / 4 <= row["down"] < 3 * numbers.PLACES_DOWN / 4
        )
        side = inner if middle else outer
        side[0] += row["frames"] * (row["verdict"] == "hit")
        side[1] += row["frames"]
    told = [
        f"{values.percent(hits / frames)} of {frames:,}" if frames else "no frames"
        for hits, frames in (inner, outer)
    ]
    return picture(
        "places",
        "Where the focus area was",
        "Each circle is a part of the upright picture; larger circles are more frames.",
        f"In focus with the area in the middle of the picture: {told[0]}; elsewhere: {told[1]}. Not a test.",
        charts.focus_places(rows, kits),
    )


def _rounded(focal_mm: float) -> float:
    """To two digits: a zoom's focal lengths in groups."""
    return float(f"{focal_mm:.2g}")


def _third_stop(time_s: float) -> float:
    return values.marked_exposure_time_s(time_s)
