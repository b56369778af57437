"""Flags on kits: hits that fell, detail that was not gained, hits that fell inside the trip."""

from __future__ import annotations

from typing import Any

from auditor.analysis.advice import finer, held_alike


def kit_flags(compared: list[dict[str, Any]], changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One row a flag: kit_name, flag, reason in words and numbers.

    `compared` are rows of `comparisons.comparisons`, `changes` of `changes.changes`.
    """
    flags = []
    for row in compared:
        if row["hits"]["outcome"] == "fell":
            flags.append(_flag(row, "hit_rate_fell", _fell(row["hits"])))
        if row["detail"]["outcome"] == "no_detail_gain":
            flags.append(_flag(row, "no_detail_gain", _no_gain(row["detail"])))
    flags += [_flag(row, "fell_during_trip", _fell_during(row)) for row in changes if row["fell"]]
    return flags


def _flag(row: dict[str, Any], flag: str, reason: str) -> dict[str, Any]:
    return {"kit_name": row["kit_name"], "flag": flag, "reason": reason}


def _fell(hits: dict[str, Any]) -> str:
    return (
        f"{-100 * hits['difference']:.0f} points fewer hits than bare, alike in "
        f"{', '.join(hits['adjusted_for'])} "
        f"(95 % interval {-100 * hits['high']:.0f} to {-100 * hits['low']:.0f} fewer; "
        f"{hits['clusters_treated']} and {hits['clusters_bare']} encounters)"
    )


def _no_gain(detail: dict[str, Any]) -> str:
    return (
        f"{detail['blur_urad']:.1f} microradians of blur, {detail['blur_bare_urad']:.1f} bare: "
        f"{finer(detail['gain'])} (95 % interval {finer(detail['low'])} to {finer(detail['high'])}; "
        f"{detail['scenes']} and {detail['scenes_bare']} scenes), {held_alike(detail)}"
    )


def _fell_during(row: dict[str, Any]) -> str:
    until = "to the end of the trip" if row["until_at"] is None else f"to {row['until_at'][:16]}"
    return (
        f"{100 * row['rate_inside']:.0f} % of frames hit from {row['from_at'][:16]} {until}, "
        f"{100 * row['rate_outside']:.0f} % in the rest (chance of such a stretch by luck alone: "
        f"{100 * row['p_value']:.1f} %; {row['encounters']} encounters). Look at {row['last_before']} and "
        f"{row['first_inside']}, the frames on either side. Other animals can be the "
        "cause: only light was held alike"
    ).replace("T", " ")
