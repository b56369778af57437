"""Small drawings as inline SVG: an interval, and the trip's encounters in the light they had."""

from __future__ import annotations

from datetime import datetime
from html import escape
from itertools import pairwise
from typing import Any

from auditor.report import words

# Okabe and Ito, Color Universal Design (2008): told apart by colour-blind readers; black and yellow left
# out, since one vanishes on dark paper and the other on light.
COLOURS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00")
SHAPES = ("circle", "square", "diamond", "triangle", "cross", "bar")
"""Colour is never alone: each kit has its shape too."""


def mark(number: int, x: float, y: float, size: float = 5.0) -> str:
    """The mark of a kit, by its number in the kit table."""
    colour, shape = COLOURS[number % len(COLOURS)], SHAPES[number % len(SHAPES)]
    s = size
    if shape == "circle":
        drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{s:.1f}"/>'
    elif shape == "square":
        drawn = f'<rect x="{x - s:.1f}" y="{y - s:.1f}" width="{2 * s:.1f}" height="{2 * s:.1f}"/>'
    else:
        corners = {
            "diamond": ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)),
            "triangle": ((0, -1.2), (1.2, 1), (-1.2, 1)),
            "cross": (
                (-0.4, -1.2), (0.4, -1.2), (0.4, -0.4), (1.2, -0.4), (1.2, 0.4), (0.4, 0.4),
                (0.4, 1.2), (-0.4, 1.2), (-0.4, 0.4), (-1.2, 0.4), (-1.2, -0.4), (-0.4, -0.4),
            ),
            "bar": ((-1.4, -0.5), (1.4, -0.5), (1.4, 0.5), (-1.4, 0.5)),
        }[shape]  # fmt: skip
        points = " ".join(f"{x + dx * s:.1f},{y + dy * s:.1f}" for dx, dy in corners)
        drawn = f'<polygon points="{points}"/>'
    return f'<g fill="{colour}">{drawn}</g>'


def legend_mark(number: int) -> str:
    """The mark by itself, for a table."""
    return f'<svg class="mark" viewBox="0 0 16 16" aria-hidden="true">{mark(number, 8, 8)}</svg>'


def interval(row: dict[str, Any]) -> str:
    """A hit rate and its interval on a line from 0 to 100 %; nothing where there is no rate."""
    if row["hit_rate"] is None:
        return ""
    low, rate, high = (2 + 96 * row[name] for name in ("hit_rate_low", "hit_rate", "hit_rate_high"))
    told = f"{words.percent(row['hit_rate'])}, 95 % interval {words.interval(row)}"
    return (
        f'<svg class="interval" viewBox="0 0 100 12" role="img" aria-label="{escape(told)}">'
        '<line class="axis" x1="2" y1="6" x2="98" y2="6"/>'
        f'<line class="range" x1="{low:.1f}" y1="6" x2="{high:.1f}" y2="6"/>'
        f'<line class="rate" x1="{rate:.1f}" y1="1" x2="{rate:.1f}" y2="11"/></svg>'
    )


def timeline(scenes: list[dict[str, Any]], kit_numbers: dict[int, int]) -> str:
    """Scenes of a trip: time across, light up, a mark a scene; empty where no scene tells its light.

    Nights and other long pauses are cut out, so that the hours with frames have the room.
    """
    known = [scene for scene in scenes if scene["light_value_ev"] is not None]
    if not known:
        return ""
    times = _without_pauses([scene["first_at"] for scene in known])
    lights = [scene["light_value_ev"] for scene in known]
    low_ev, high_ev = int(min(lights)) - 1, int(max(lights)) + 2
    width, height, left, top, bottom = 720.0, 240.0, 44.0, 10.0, 34.0

    def across(hours: float) -> float:
        return left + 12 + (width - left - 24) * hours / max(times[-1], 1e-9)

    def up(light_ev: float) -> float:
        return top + (height - top - bottom) * (high_ev - light_ev) / (high_ev - low_ev)

    parts = []
    for light_ev in range(low_ev, high_ev + 1, 2 if high_ev - low_ev > 6 else 1):
        y = up(light_ev)
        parts.append(f'<line class="axis" x1="{left}" y1="{y:.1f}" x2="{width - 8}" y2="{y:.1f}"/>')
        parts.append(f'<text x="{left - 6}" y="{y + 4:.1f}" text-anchor="end">{light_ev}</text>')
    day = None
    for scene, hours in zip(known, times, strict=True):
        if scene["first_at"][:10] != day:
            day = scene["first_at"][:10]
            x = across(hours)
            parts.append(f'<line class="day" x1="{x:.1f}" y1="{top}" x2="{x:.1f}" y2="{height - bottom}"/>')
            parts.append(f'<text x="{x:.1f}" y="{height - 12}">{escape(day)}</text>')
    for scene, hours in zip(known, times, strict=True):
        told = (
            f"{scene['first_at'][11:16]}, {words.plain(scene['kit_name'])}: {scene['frames']} frames, "
            f"light {words.stops(scene['light_value_ev'])} EV"
        )
        drawn = mark(kit_numbers[scene["kit_id"]], across(hours), up(scene["light_value_ev"]))
        parts.append(drawn.replace("<g ", "<g><title>" + escape(told) + "</title><g ", 1) + "</g>")
    parts.append(f'<text x="{left - 6}" y="{height - 12}" text-anchor="end">EV</text>')
    return (
        f'<svg class="timeline" viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        'aria-label="Scenes over time by light; the same numbers are in kits.csv and frames.csv">'
        f"{''.join(parts)}</svg>"
    )


def _without_pauses(first_ats: list[str], longest_h: float = 2.0) -> list[float]:
    """Hours since the first scene, each pause counted as two hours at most."""
    hours = [0.0]
    for before, after in pairwise(first_ats):
        gap_h = (datetime.fromisoformat(after) - datetime.fromisoformat(before)).total_seconds() / 3600
        hours.append(hours[-1] + min(gap_h, longest_h))
    return hours
