"""The pictures of a report: each with a line that says what it shows, and a sentence of what is seen."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from auditor.report import charts, numbers, words
from auditor.report.charts import Kit, Row, Spec
from auditor.store.logbook import Logbook

MOST_KITS = 8
"""Of more kits the most used are drawn; the kit table has them all."""
LONGEST_NAME = 56
PATCH_URAD = 100.0
"""Side of the square over which noise is averaged: 3 mm on an animal at 30 m."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its words."""

    key: str
    title: str
    shows: str
    seen: str
    spec: Spec
    svg: str
    with_legend: bool = False


def pictures(logbook: Logbook, trip_id: int | None, kit_rows: list[Row]) -> list[Picture]:
    """Every picture that there are numbers for.

    Parameters
    ----------
    kit_rows
        Rows of the kit table, in its order.
    """
    kits = kits_drawn(kit_rows)
    if not kits:
        return []
    made = (
        _hit_rates(kit_rows, kits),
        _iso_by_light(numbers.iso_by_light(logbook, trip_id), kit_rows, kits),
        _hits_by_light(numbers.hits_by_light(logbook, trip_id), kits),
        _detail_against_noise(lambda kit_id: numbers.detail_and_noise(logbook, trip_id, kit_id), kits),
        _timeline(*numbers.timeline(logbook, trip_id), kits),
        _shutter(numbers.shutter_by_focal_length(logbook, trip_id), kits),
        _places(numbers.focus_places(logbook, trip_id), kits),
    )
    return [picture for picture in made if picture is not None]


def kits_drawn(kit_rows: list[Row]) -> list[Kit]:
    """The most used kits, in the order of the kit table; a kit's number is its place there."""
    numbered = [
        (row["frames"], Kit(int(row["kit_id"]), words.shortened(row["kit_name"], LONGEST_NAME), number))
        for number, row in enumerate(kit_rows)
    ]
    most_used = sorted(numbered, key=lambda pair: (-pair[0], pair[1].number))[:MOST_KITS]
    return sorted((kit for _frames, kit in most_used), key=lambda kit: kit.number)


def _picture(
    key: str, title: str, shows: str, seen: str, spec: Spec, *, with_legend: bool = False
) -> Picture:
    return Picture(key, title, shows, seen, spec, charts.static_svg(spec), with_legend)


def _hit_rates(kit_rows: list[Row], kits: list[Kit]) -> Picture:
    by_id = {row["kit_id"]: row for row in kit_rows}
    rows = []
    for place, kit in enumerate(kits):
        row = by_id[kit.kit_id]
        lane = len(kits) - 1 - place
        told = f"{words.percent(row['hit_rate'])} of {row['judged']} in focus (95 % interval {words.interval(row)})"
        few = f"{row['hits']} of {row['judged']} in focus: too few encounters for a rate"
        rated = row["hit_rate"] is not None
        rows.append(
            {
                "kit": kit.kit_id, "name": kit.name, "lane": lane, "label": lane + 0.42,
                "rate": row["hit_rate"], "low": row["hit_rate_low"], "high": row["hit_rate_high"],
                "said": "" if rated else few, "told": f"{kit.name}: {told if rated else few}",
            }
        )  # fmt: skip
    return _picture(
        "hit-rates",
        "How many frames were in focus",
        "One lane a kit: the mark is the share in focus of the frames that were judged, the thick line its "
        "95 % interval.",
        _seen_hit_rates([by_id[kit.kit_id] for kit in kits]),
        charts.hit_rates(rows, kits),
    )


def _seen_hit_rates(rows: list[Row]) -> str:
    rated = sorted((row for row in rows if row["hit_rate"] is not None), key=lambda row: row["hit_rate"])
    few = len(rows) - len(rated)
    too_few = f" {_kits(few)} too few encounters for a rate." if few else ""
    if not rated:
        return too_few.strip()
    if len(rated) == 1:
        return f"{_rated(rated[0])}.{too_few}"
    low, high = rated[0], rated[-1]
    apart = low["hit_rate_high"] < high["hit_rate_low"]
    return (
        f"Most in focus: {_rated(high)}. Fewest: {_rated(low)}. Their intervals "
        f"{'do not overlap' if apart else 'overlap, so the order of the kits may be chance'}.{too_few}"
    )


def _rated(row: Row) -> str:
    name = words.shortened(row["kit_name"], LONGEST_NAME)
    return f"{name}, {words.percent(row['hit_rate'])} of {row['judged']} ({words.interval(row)})"


def _kits(count: int) -> str:
    return "1 kit has" if count == 1 else f"{count} kits have"


def _iso_by_light(counted: list[Row], kit_rows: list[Row], kits: list[Kit]) -> Picture | None:
    rows = []
    for kit in kits:
        of_kit = [row for row in counted if row["kit_id"] == kit.kit_id]
        for light_ev, cell in groupby(of_kit, key=lambda row: row["light_ev"]):
            frames = list(cell)
            iso = _median((row["iso"], row["frames"]) for row in frames)
            bare = _median((row["bare_iso"], row["frames"]) for row in frames if row["bare_iso"])
            pushed = bare is not None and bare < 0.97 * iso
            without = f", up to {words.whole(bare)} without the converter" if pushed else ""
            rows.append(
                {
                    "kit": kit.kit_id, "light_ev": light_ev + 0.06 * (kit.number % 5 - 2), "iso": iso,
                    "bare_iso": bare if pushed else None,
                    "told": f"{kit.name}, light near {light_ev:g} EV: median ISO {words.whole(iso)}{without}; "
                    f"{_frames(sum(row['frames'] for row in frames))}",
                }
            )  # fmt: skip
    if not rows:
        return None
    return _picture(
        "iso-by-light",
        "ISO against light",
        "A filled mark is a kit's median ISO in that light, to half a stop; the hollow mark below it, the "
        "highest ISO that the bare lens would have needed at the same shutter speed.",
        _seen_iso(kit_rows, kits),
        charts.iso_by_light(rows, kits),
        with_legend=True,
    )


def _seen_iso(kit_rows: list[Row], kits: list[Kit]) -> str:
    drawn = {kit.kit_id: kit.name for kit in kits}
    pushed = [row for row in kit_rows if row["kit_id"] in drawn and (row["median_forced_push_ev"] or 0) > 0]
    if not pushed:
        return "No kit with a converter forced ISO up here."
    told = [
        f"{drawn[row['kit_id']]}: median ISO {words.whole(row['median_iso'])}, "
        f"up to {words.whole(row['median_iso_without_converter'])} bare"
        for row in pushed[:3]
    ]
    return (
        f"{'; '.join(told)}. On an animal at equal shutter speed the light is the same for both; a pixel of "
        "the converted picture gets less of it."
    )


def _hits_by_light(counted: list[Row], kits: list[Kit]) -> Picture | None:
    from auditor.analysis.kit_table import FEWEST_ENCOUNTERS
    from auditor.statistics.intervals import clustered_wilson, pooled_icc

    by_kit = {kit.kit_id: [row for row in counted if row["kit_id"] == kit.kit_id] for kit in kits}
    judged = [([r["hits"] for r in rows], [r["judged"] for r in rows]) for rows in by_kit.values() if rows]
    if not judged:
        return None
    pool = pooled_icc(judged)
    rows = []
    rated: list[tuple[str, Row]] = []
    for place, kit in enumerate(kits):
        base = len(kits) - 1 - place
        lane = {
            "kit": kit.kit_id,
            "base": base,
            "half": base + 0.32,
            "top": base + 0.64,
            "label": base + 0.83,
        }
        rows.append(lane | {"name": kit.name, "said": ""})
        for light_ev, cell in groupby(by_kit[kit.kit_id], key=lambda row: row["light_ev"]):
            encounters = list(cell)
            hits, frames = ([row[name] for row in encounters] for name in ("hits", "judged"))
            where = f"{light_ev} to {light_ev + numbers.LIGHT_STEP_EV} EV"
            count = f"{sum(hits)} of {sum(frames)}"
            row = lane | {"name": "", "said": "", "light_ev": light_ev + numbers.LIGHT_STEP_EV / 2}
            if len(encounters) < FEWEST_ENCOUNTERS:
                told = f"{kit.name}, {where}: {count} in focus; too few encounters for a rate"
                rows.append(row | {"said": count, "told": told})
                continue
            share = clustered_wilson(hits, frames, pooled_icc=pool)
            told = (
                f"{words.percent(share.estimate)} of {sum(frames)} "
                f"({100 * share.low:.0f} to {100 * share.high:.0f} %)"
            )
            y, low, high = (base + 0.64 * value for value in (share.estimate, share.low, share.high))
            rows.append(
                row | {"y": y, "low": low, "high": high, "told": f"{kit.name}, {where}: {told} in focus"}
            )
            rated.append((kit.name, {"where": where, "told": told, "low": share.low, "high": share.high}))
    return _picture(
        "hits-by-light",
        "In focus against light",
        f"One lane a kit, from 0 % (its lower line) to 100 %, in steps of {numbers.LIGHT_STEP_EV} EV of light; "
        "where there are too few encounters for a rate, the count is written.",
        _seen_hits_by_light(rated),
        charts.hits_by_light(rows, kits),
    )


def _seen_hits_by_light(rated: list[tuple[str, Row]]) -> str:
    by_kit: dict[str, list[Row]] = defaultdict(list)
    for name, row in rated:
        by_kit[name].append(row)
    wide = [(name, rows) for name, rows in by_kit.items() if len(rows) > 1]
    if not wide:
        return "No kit was used in two steps of light often enough to tell whether light made a difference."
    name, rows = max(wide, key=lambda pair: len(pair[1]))
    dim, bright = rows[0], rows[-1]
    apart = dim["high"] < bright["low"] or bright["high"] < dim["low"]
    verdict = "the intervals do not overlap" if apart else "the intervals overlap"
    return (
        f"{name}: {dim['told']} in focus at {dim['where']}, {bright['told']} at {bright['where']}; {verdict}. "
        "Other things than light differ between such frames too."
    )


def _detail_against_noise(
    frames_of: Callable[[int], list[tuple[Any, ...]]], kits: list[Kit]
) -> Picture | None:
    import numpy as np

    from auditor.statistics.scene_quantiles import scene_quantile

    rows = []
    few = 0
    for kit in kits:
        frames = frames_of(kit.kit_id)
        scenes = [row[0] for row in frames]
        blur_urad, pixel_noise, pixel_urad = (np.array([row[n] for row in frames], float) for n in (1, 2, 3))
        blur = scene_quantile(blur_urad, scenes, 0.25)
        # Noise of a mean over a square of a fixed angle, each pixel's noise being its own.
        noise = scene_quantile(pixel_noise * pixel_urad / PATCH_URAD, scenes, 0.5)
        if blur is None or noise is None:
            few += 1
            continue
        of_pixel = scene_quantile(pixel_noise, scenes, 0.5)
        told = (
            f"{kit.name}: blur {blur[0]:.1f} microradians ({blur[1]:.1f} to {blur[2]:.1f}), noise on the subject "
            f"{noise[0]:.3f} grey levels ({noise[1]:.3f} to {noise[2]:.3f}), of a pixel "
            f"{of_pixel[0] if of_pixel else 0:.2f}; {_frames(len(frames))} in {len(set(scenes))} scenes"
        )
        rows.append(
            {
                "kit": kit.kit_id, "name": kit.name, "told": told,
                "blur": blur[0], "blur_low": blur[1], "blur_high": blur[2],
                "noise": noise[0], "noise_low": noise[1], "noise_high": noise[2],
            }
        )  # fmt: skip
    if not rows:
        return None
    finest, calmest = min(rows, key=lambda row: row["blur"]), min(rows, key=lambda row: row["noise"])
    seen = (
        f"Finest: {finest['name']}, {finest['blur']:.1f} microradians ({finest['blur_low']:.1f} to "
        f"{finest['blur_high']:.1f}). Least noise on the subject: {calmest['name']}, {calmest['noise']:.3f} grey "
        f"levels ({calmest['noise_low']:.3f} to {calmest['noise_high']:.3f})."
    )
    rivals = [row for row in rows if row is not finest and row["blur_low"] <= finest["blur_high"]]
    if rivals:
        seen += f" {_kits(len(rivals))} an interval of blur that overlaps the finest."
    if few:
        seen += f" {_kits(few)} too few measured scenes to be drawn."
    return _picture(
        "detail-against-noise",
        "What each kit buys in detail and costs in noise",
        "One mark a kit, with both 95 % intervals; low and to the left is best. Blur: the whole of it as an "
        "angle, the lower quartile over all measured frames, hits and misses. Noise: of a mean over a square of "
        f"{PATCH_URAD:.0f} microradians (3 mm at 30 m), as if each pixel's noise were its own, which a camera's "
        "noise reduction makes untrue; in the light that each kit was used in.",
        seen,
        charts.detail_against_noise(rows, kits),
        with_legend=True,
    )


def _timeline(slot: str, counted: list[Row], kits: list[Kit]) -> Picture | None:
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
        light = "" if row["light_ev"] is None else f", light {words.stops(row['light_ev'])} EV"
        rows.append(
            {
                "kit": kit.kit_id, "name": "", "base": lane, "left": x - 0.32, "right": x + 0.32, "middle": x,
                "up": lane + 0.32 * (row["hits"] or 0) / most, "down": lane - 0.32 * (row["misses"] or 0) / most,
                "unclear_y": lane if row["unclear"] else None,
                "told": f"{_moment(row['first_at'], slot)}, {kit.name}: {row['hits'] or 0} in focus, "
                f"{row['misses'] or 0} missed, {row['unclear'] or 0} unclear{light}",
            }
        )  # fmt: skip
    day_letters = 7 if slot == "month" else 10
    return _picture(
        "timeline",
        "The trip as it went" if slot != "month" else "The trips as they went",
        f"One column an {slot}, pauses left out." if slot in ("encounter", "hour") else
        f"One column a {slot} with frames.",
        _seen_timeline(slot, len(places), counted),
        charts.timeline(rows, kits, _days(first_of, places, day_letters)),
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
            f"{words.percent(hits / (hits + misses))} of {hits + misses}" if hits + misses else "none judged"
        )
    change = ""
    if len(slots) > 1:
        change = (
            f" First half: {halves[0]} in focus; second half: {halves[1]}, all kits together. That is a "
            "description, not a test: kits, light and animals changed too."
        )
    return (
        f"Hits rise above a kit's line, misses hang below it hollow, a dot on it says that some frames were "
        f"unclear. {columns} {slot}{'' if columns == 1 else 's'}: {totals[0]} hits, {totals[1]} misses, "
        f"{totals[2]} unclear.{change}"
    )


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


def _shutter(counted: list[Row], kits: list[Kit]) -> Picture | None:
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
    rows = [
        {
            "kit": kit_id, "focal_mm": focal_mm, "time_s": time_s, "frames": frames,
            "told": f"{drawn[kit_id].name}, {focal_mm:g} mm, {words.exposure_time(time_s)}: {_frames(frames)}, "
            f"{smeared} of {measured} measured blurred by motion",
        }
        for (kit_id, focal_mm, time_s), (frames, smeared, measured) in sorted(cells.items())
        if kit_id in drawn
    ]  # fmt: skip
    if not rows:
        return None
    ends = (min(row["focal_mm"] for row in rows) / 1.1, max(row["focal_mm"] for row in rows) * 1.1)
    line = [{"focal_mm": focal_mm, "time_s": 1 / focal_mm} for focal_mm in ends]
    seen = f"{slow[0]} of {slow[0] + fast[0]} frames were slower than one over the focal length."
    for name, side in (("Blurred by motion, of the slower ones", slow), ("of the others", fast)):
        seen += (
            f" {name}: {side[1]} of {side[2]} measured"
            if side is slow
            else f"; {name}: {side[1]} of {side[2]}."
        )
    return _picture(
        "shutter",
        "Shutter speed against focal length",
        "A mark is a kit at one focal length and shutter speed, the larger the more frames. Below the dashed line "
        "the shutter was slower than one over the focal length, the rule of thumb for holding by hand (common "
        "practice; many reckon with the crop factor of a smaller sensor besides).",
        seen,
        charts.shutter_against_focal_length(rows, kits, line),
        with_legend=True,
    )


def _places(counted: list[Row], kits: list[Kit]) -> Picture | None:
    drawn = {kit.kit_id for kit in kits}
    rows = [
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
        f"{words.percent(hits / frames)} of {frames}" if frames else "no frames"
        for hits, frames in (inner, outer)
    ]
    return _picture(
        "places",
        "Where in the picture focus areas hit and missed",
        "Each circle is a place in the upright picture, the larger the more frames had their focus area there.",
        f"In focus with the area in the middle of the picture: {told[0]}; elsewhere: {told[1]}. A description, "
        "not a test.",
        charts.focus_places(rows, kits),
    )


def _frames(count: int) -> str:
    return "1 frame" if count == 1 else f"{count} frames"


def _median(weighted: Iterable[tuple[float, int]]) -> Any:
    """The median of values that occur so many times each; None for none."""
    ordered = sorted(weighted)
    half = sum(count for _value, count in ordered) / 2
    reached = 0
    for value, count in ordered:
        reached += count
        if reached >= half:
            return value
    return None


def _rounded(focal_mm: float) -> float:
    """To two digits: a zoom's focal lengths in groups."""
    return float(f"{focal_mm:.2g}")


def _third_stop(time_s: float) -> float:
    import math

    return float(2 ** (round(3 * math.log2(time_s)) / 3))
