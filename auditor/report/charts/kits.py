"""What kits got: hit rates, and detail against noise."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from auditor.analysis.detail import PATCH_URAD
from auditor.report.charts import specs as charts
from auditor.report.charts.figure import LONGEST_NAME, Picture, frames_told, kits_have, picture
from auditor.report.charts.specs import Kit, Row
from auditor.report.text import values as words


def hit_rates(kit_rows: list[Row], kits: list[Kit]) -> Picture:
    """Share in focus of each kit, with its interval."""
    by_id = {row["kit_id"]: row for row in kit_rows}
    rows: list[Row] = []
    for place, kit in enumerate(kits):
        row = by_id[kit.kit_id]
        lane = len(kits) - 1 - place
        rate = f"{words.percent(row['hit_rate'])} of {row['hit_rate_frames']} in focus"
        told = f"{rate} (95 % interval {words.interval(row)})"
        few = f"{row['hits']} of {row['judged']} in focus: too few encounters for a rate"
        rated = row["hit_rate"] is not None
        rows.append(
            {
                "kit": kit.kit_id, "name": kit.name, "lane": lane, "label": lane + 0.42,
                "rate": row["hit_rate"], "low": row["hit_rate_low"], "high": row["hit_rate_high"],
                "said": "" if rated else few, "told": f"{kit.name}: {told if rated else few}",
            }
        )  # fmt: skip
    return picture(
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
    too_few = f" {kits_have(few)} too few encounters for a rate." if few else ""
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
    return f"{name}, {words.percent(row['hit_rate'])} of {row['hit_rate_frames']} ({words.interval(row)})"


def detail_against_noise(
    frames_of: Callable[[int], list[tuple[Any, ...]]], kits: list[Kit]
) -> Picture | None:
    """Blur as an angle against noise on the subject, a mark a kit."""
    import numpy as np

    from auditor.statistics.scene_quantiles import scene_quantile

    rows: list[Row] = []
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
            f"{kit.name}: blur {blur[0]:.1f} microradians ({blur[1]:.1f} to {blur[2]:.1f}), "
            f"noise on the subject {noise[0]:.3f} grey levels ({noise[1]:.3f} to {noise[2]:.3f}), of a pixel "
            f"{of_pixel[0] if of_pixel else 0:.2f}; {frames_told(len(frames))} in {len(set(scenes))} scenes"
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
        f"{finest['blur_high']:.1f}). Least noise on the subject: {calmest['name']}, "
        f"{calmest['noise']:.3f} grey levels ({calmest['noise_low']:.3f} to {calmest['noise_high']:.3f})."
    )
    rivals = [row for row in rows if row is not finest and row["blur_low"] <= finest["blur_high"]]
    if rivals:
        seen += f" {kits_have(len(rivals))} an interval of blur that overlaps the finest."
    if few:
        seen += f" {kits_have(few)} too few measured scenes to be drawn."
    return picture(
        "detail-against-noise",
        "What each kit buys in detail and costs in noise",
        "One mark a kit, with both 95 % intervals; low and to the left is best. Blur: the whole of it as an "
        "angle, the lower quartile over all measured frames, hits and misses. Noise: of a mean over a "
        f"square of {PATCH_URAD:.0f} microradians (3 mm at 30 m), as if each pixel's noise were its own, "
        "which a camera's noise reduction makes untrue; in the light that each kit was used in.",
        seen,
        charts.detail_against_noise(rows, kits),
        with_legend=True,
    )
