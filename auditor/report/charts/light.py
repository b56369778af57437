"""What light did to kits: ISO, and hits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from auditor.analysis.kit_table import KitRow
from auditor.report.charts import specs as charts
from auditor.report.charts.figure import Picture, picture
from auditor.report.charts.specs import Kit, Row
from auditor.report.text import values
from auditor.store import queries as numbers


def iso_by_light(counted: list[Row], kit_rows: Sequence[KitRow], kits: list[Kit]) -> Picture | None:
    """ISO of each kit against light, and what the bare lens would have needed."""
    rows: list[Row] = []
    for kit in kits:
        of_kit = [row for row in counted if row["kit_id"] == kit.kit_id]
        for light_ev, cell in groupby(of_kit, key=lambda row: row["light_ev"]):
            frames = list(cell)
            iso = _median((row["iso"], row["frames"]) for row in frames)
            bare = _median((row["bare_iso"], row["frames"]) for row in frames if row["bare_iso"])
            pushed = bare is not None and bare < 0.97 * iso
            without = f", bare up to {values.typical_iso(bare)}" if pushed else ""
            rows.append(
                {
                    "kit": kit.kit_id, "light_ev": light_ev + 0.06 * (kit.number % 5 - 2), "iso": iso,
                    "bare_iso": bare if pushed else None,
                    "told": f"{kit.name}, light near {light_ev:g} EV: "
                    f"median ISO {values.typical_iso(iso)}{without}; "
                    f"{values.count(sum(row['frames'] for row in frames), 'frame')}",
                }
            )  # fmt: skip
    if not rows:
        return None
    return picture(
        "iso-by-light",
        "ISO against light",
        "Filled mark: median ISO of a kit in that light, in half stops. Hollow mark below it: the highest "
        "ISO the bare lens would have needed at the same shutter speed.",
        _seen_iso(kit_rows, kits),
        charts.iso_by_light(rows, kits),
        with_legend=True,
    )


def _seen_iso(kit_rows: Sequence[KitRow], kits: list[Kit]) -> str:
    drawn = {kit.kit_id: kit.name for kit in kits}
    pushed = [row for row in kit_rows if row.kit_id in drawn and (row.median_forced_push_ev or 0) > 0]
    if not pushed:
        return "No converter pushed ISO here."
    told = [
        f"{drawn[row.kit_id]}: median ISO {values.typical_iso(row.median_iso)}, bare up to "
        f"{values.typical_iso(row.median_iso_without_converter)}"
        for row in pushed[:3]
    ]
    return (
        f"{'; '.join(told)}. At the same shutter speed the animal gets the same light with and without a "
        "converter; each pixel gets less."
    )


def hits_by_light(counted: list[Row], kits: list[Kit]) -> Picture | None:
    """Share in focus of each kit in steps of light."""
    from auditor.analysis.kit_table import FEWEST_ENCOUNTERS
    from auditor.statistics.intervals import clustered_wilson, pooled_icc

    by_kit = {kit.kit_id: [row for row in counted if row["kit_id"] == kit.kit_id] for kit in kits}
    judged = [([r["hits"] for r in rows], [r["judged"] for r in rows]) for rows in by_kit.values() if rows]
    if not judged:
        return None
    pool = pooled_icc(judged)
    rows: list[Row] = []
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
                told = f"{kit.name}, {where}: {count} in focus; too few encounters for an interval"
                rows.append(row | {"said": count, "told": told})
                continue
            share = clustered_wilson(hits, frames, pooled_icc=pool)
            told = (
                f"{values.percent(share.estimate)} of {sum(frames)} "
                f"({values.interval(share.low, share.high)})"
            )
            y, low, high = (base + 0.64 * value for value in (share.estimate, share.low, share.high))
            rows.append(
                row | {"y": y, "low": low, "high": high, "told": f"{kit.name}, {where}: {told} in focus"}
            )
            rated.append((kit.name, {"where": where, "told": told, "low": share.low, "high": share.high}))
    return picture(
        "hits-by-light",
        "In focus by light",
        f"One row per kit, from 0 % (lower line) to 100 %, in steps of {numbers.LIGHT_STEP_EV} EV of light. "
        "Where there are too few encounters for an interval, the count is shown.",
        _seen_hits_by_light(rated),
        charts.hits_by_light(rows, kits),
    )


def _seen_hits_by_light(rated: list[tuple[str, Row]]) -> str:
    by_kit: dict[str, list[Row]] = defaultdict(list)
    for name, row in rated:
        by_kit[name].append(row)
    wide = [(name, rows) for name, rows in by_kit.items() if len(rows) > 1]
    if not wide:
        return "No kit was used in two steps of light often enough to show whether light made a difference."
    name, rows = max(wide, key=lambda pair: len(pair[1]))
    dim, bright = rows[0], rows[-1]
    apart = dim["high"] < bright["low"] or bright["high"] < dim["low"]
    verdict = "the intervals do not overlap" if apart else "the intervals overlap"
    return (
        f"{name}: {dim['told']} in focus at {dim['where']}, {bright['told']} at {bright['where']}; "
        f"{verdict}. Such frames differ in more than light."
    )


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
