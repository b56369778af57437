"""What kits got: hit rates, and detail against noise."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from auditor.analysis.detail import PATCH_URAD
from auditor.analysis.kit_table import KitRow
from auditor.report.charts import specs as charts
from auditor.report.charts.figure import LONGEST_NAME, Picture, kits_have, picture
from auditor.report.charts.specs import Kit, Row
from auditor.report.text import values


def hit_rates(kit_rows: Sequence[KitRow], kits: list[Kit]) -> Picture:
    """Share in focus of each kit, with its interval."""
    by_id = {row.kit_id: row for row in kit_rows}
    rows: list[Row] = []
    for place, kit in enumerate(kits):
        row = by_id[kit.kit_id]
        lane = len(kits) - 1 - place
        few = f"{row.hits:,} of {row.judged:,} in focus: too few encounters for an interval"
        told = few if row.hit_rate is None else _rate(row)
        rows.append(
            {
                "kit": kit.kit_id, "name": kit.name, "lane": lane, "label": lane + 0.42,
                "rate": row.hit_rate, "low": row.hit_rate_low, "high": row.hit_rate_high,
                "said": few if row.hit_rate is None else "", "told": f"{kit.name}: {told}",
            }
        )  # fmt: skip
    return picture(
        "hit-rates",
        "In focus, kit by kit",
        "One row per kit: the mark is the share of judged frames in focus, the thick line its 95 % interval.",
        _seen_hit_rates([by_id[kit.kit_id] for kit in kits]),
        charts.hit_rates(rows, kits),
    )


def _rate(row: KitRow) -> str:
    ends = values.interval(row.hit_rate_low, row.hit_rate_high)
    return f"{values.percent(row.hit_rate)} of {row.hit_rate_frames or 0:,} in focus (95 % interval {ends})"


def _seen_hit_rates(rows: list[KitRow]) -> str:
    rated = sorted((row for row in rows if row.hit_rate is not None), key=lambda row: row.hit_rate or 0.0)
    few = len(rows) - len(rated)
    too_few = f" {kits_have(few)} too few encounters for an interval." if few else ""
    if not rated:
        return too_few.strip()
    low, high = rated[0], rated[-1]
    if low is high:
        return f"{_named_rate(low)}.{too_few}"
    apart = (low.hit_rate_high or 0.0) < (high.hit_rate_low or 0.0)
    overlap = "do not overlap" if apart else "overlap, so the order may be chance"
    return (
        f"Highest: {_named_rate(high)}. Lowest: {_named_rate(low)}. Their intervals {overlap}. As the kits "
        f"were used, not adjusted for light.{too_few}"
    )


def _named_rate(row: KitRow) -> str:
    return f"{values.shortened(row.kit_name, LONGEST_NAME)}, {_rate(row)}"


def detail_against_noise(
    frames_of: Callable[[int], list[tuple[Any, ...]]], kits: list[Kit]
) -> Picture | None:
    """Blur as an angle against noise on the animal, one mark per kit."""
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
        told = (
            f"{kit.name}: system blur {blur[0]:.1f} microradians ({blur[1]:.1f} to {blur[2]:.1f}), "
            f"noise on the animal {noise[0]:.2f} grey levels ({noise[1]:.2f} to {noise[2]:.2f}); "
            f"{values.count(len(frames), 'frame')} in {values.count(len(set(scenes)), 'scene')}"
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
    finest = min(rows, key=lambda row: row["blur"])
    seen = (
        f"Finest: {finest['name']}, {finest['blur']:.1f} microradians (95 % interval "
        f"{finest['blur_low']:.1f} to {finest['blur_high']:.1f})."
    )
    rivals = [row for row in rows if row is not finest and row["blur_low"] <= finest["blur_high"]]
    if rivals:
        seen += f" {kits_have(len(rivals))} an interval that overlaps it."
    if few:
        seen += f" {kits_have(few)} too few measured scenes to draw."
    return picture(
        "detail-against-noise",
        "Detail against noise",
        "One mark per kit with both 95 % intervals; lower left is better. Detail is the system blur as an "
        "angle, camera included: lower quartile over all measured frames, every scene weighted equally. "
        f"Noise is that of a patch of {PATCH_URAD:.0f} microradians (3 mm at 30 m), in the light each kit "
        "was used in; noise reduction in the camera makes it look lower.",
        seen,
        charts.detail_against_noise(rows, kits),
        with_legend=True,
    )
