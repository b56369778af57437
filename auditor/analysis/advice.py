"""One paragraph a kit: what it got, what it cost, and what to do next time, no stronger than the numbers."""

from __future__ import annotations

from typing import Any

from auditor.statistics.shrinkage import shrunk

Row = dict[str, Any]

NEXT_TIME = {
    (
        "fell",
        "gain",
    ): "It shows more of the animal but loses frames: mount it where the animal holds still and "
    "you can take many.",
    ("fell", "no_detail_gain"): "It did not pay: leave it off and crop the bare frame.",
    ("fell", "inconclusive"): "It cost focus, and what it shows more is not settled: leave it off unless you "
    "need the reach to aim.",
    ("no fall beyond 10 points", "gain"): "It paid: mount it when you need the reach and have the light.",
    (
        "no fall beyond 10 points",
        "no_detail_gain",
    ): "It cost no focus, but a crop of the bare frame shows as much: leave it off where light is short.",
    (
        "no fall beyond 10 points",
        "inconclusive",
    ): "It cost no focus worth the name; whether it shows more is not settled. Use it where light is plenty.",
}
ONE_SIDED = {
    "fell": "It cost focus; too little was measured to say whether it shows more.",
    "gain": "It shows more of the animal; whether it costs focus is not settled.",
    "no_detail_gain": "A crop of the bare frame shows as much; whether it costs focus is not settled.",
    "no fall beyond 10 points": "It cost no focus worth the name; too little was measured to say "
    "what it shows.",
}
UNSETTLED = (
    "These frames do not settle whether it pays. Take the same animals in the same light with it and without."
)


def advice(kits: list[Row], compared: list[Row], changes: list[Row]) -> list[Row]:
    """One row a kit, in the order of `kits`: kit_id, kit_name, paragraph.

    Parameters
    ----------
    kits, compared, changes
        Rows of the kit table, of `comparisons.comparisons` and of `changes.changes`.
    """
    by_kit = {row["kit_id"]: row for row in compared}
    fallen = {row["kit_id"]: row for row in changes if row["fell"]}
    rows = []
    for kit in kits:
        told = [_got(kit), _cost(kit)]
        row = by_kit.get(kit["kit_id"])
        if row is not None:
            told += [_hits(row), _detail(row["detail"]), _by_optics(row["optics"]), _next_time(row)]
        elif (kit["converter_factor"] or 1.0) > 1.0:
            told.append(
                "It has no frames of the same body and lens bare to be compared with: take some of "
                "the same animals "
                "in the same light."
            )
        if kit["kit_id"] in fallen:
            told.append(_fell_during(fallen[kit["kit_id"]]))
        paragraph = " ".join(sentence for sentence in told if sentence)
        rows.append({"kit_id": kit["kit_id"], "kit_name": kit["kit_name"], "paragraph": paragraph})
    return rows


def _got(kit: Row) -> str:
    if kit["hit_rate"] is not None:
        return (
            f"{_percent(kit['hit_rate'])} of {kit['judged']} frames were in focus (95 % interval "
            f"{_percent(kit['hit_rate_low'])} to {_percent(kit['hit_rate_high'])}; "
            f"{kit['encounters']} encounters)."
        )
    if kit["judged"]:
        return f"{kit['hits']} of {kit['judged']} frames were in focus: too few encounters for a rate."
    return f"Nothing tells whether its {kit['frames']} frames were in focus."


def _cost(kit: Row) -> str:
    push = kit["median_forced_push_ev"]
    if not push or kit["median_iso"] is None or kit["median_iso_without_converter"] is None:
        return ""
    text = (
        f"The converter forced {push:.1f} stops (median): ISO {kit['median_iso']:.0f} where up to "
        f"{kit['median_iso_without_converter']:.0f} would have done."
    )
    if kit["iso_pushed_frames"]:
        text += (
            f" {_percent(kit['iso_pushed_share'])} of its frames went over your ISO ceiling, and "
            "would have stayed under "
            "it on the bare lens."
        )
    if kit["auto_iso_at_limit_frames"]:
        text += (
            f" In {kit['auto_iso_at_limit_frames']} frames Auto-ISO seems to have stood at its limit: "
            "there it cost at "
            "least that."
        )
    if kit["near_reciprocal_frames"]:
        text += (
            f" In {kit['near_reciprocal_frames']} frames the shutter was near 1 / focal length: the "
            "reach asked for "
            f"{kit['shutter_for_reach_ev']:.1f} stops more of it."
        )
    return text


def _hits(row: Row) -> str:
    hits, deleted = row["hits"], row["deleted"]
    if hits["outcome"] == "not enough evidence" or hits["difference"] is None:
        text = (
            f"Against the bare lens in like light there is not enough evidence on focus "
            f"({hits['clusters_treated']} encounters with it and {hits['clusters_bare']} bare are alike)."
        )
    else:
        likely = 100 * shrunk(hits["difference"], hits["low"], hits["high"])
        text = (
            f"Against the bare lens in like light: {_OUTCOMES[hits['outcome']]} "
            f"({100 * hits['difference']:+.0f} "
            f"points, 95 % interval {100 * hits['low']:+.0f} to {100 * hits['high']:+.0f}; taken with "
            "caution "
            f"{likely:+.0f})."
        )
    if deleted["turned"]:
        text += (
            f" {deleted['frames']} frames with it and {deleted['frames_bare']} bare seem to be "
            "deleted; had they all "
            "been misses, the answer would be another."
        )
    return text


_OUTCOMES = {
    "fell": "fewer frames hit",
    "no fall beyond 10 points": "no fall beyond 10 points",
    "inconclusive": "inconclusive",
}


def _detail(detail: Row) -> str:
    if detail["outcome"] == "not enough evidence" or detail["low"] is None:
        return ""
    words = {
        "gain": "finer detail on the animal than a crop of the bare frame",
        "no_detail_gain": "no detail beyond a crop of the bare frame that is worth 5 %",
        "inconclusive": "whether it shows more than a crop of the bare frame is inconclusive",
    }[detail["outcome"]]
    return (
        f"Detail: {words} (blur {detail['blur_urad']:.1f} against {detail['blur_bare_urad']:.1f} "
        "microradians; "
        f"{100 * detail['gain']:+.0f} %, 95 % interval {100 * detail['low']:+.0f} to "
        f"{100 * detail['high']:+.0f})."
    )


def _by_optics(optics: dict[str, float] | None) -> str:
    if optics is None:
        return ""
    return (
        f"Optics alone, not your record: a perfect converter makes detail finer by at most "
        f"{100 * optics['gain_excellent_lens']:.0f} % behind a very good lens, "
        f"{100 * optics['gain_soft_lens']:.0f} % "
        "behind a soft one."
    )


def _next_time(row: Row) -> str:
    hits, detail = row["hits"]["outcome"], row["detail"]["outcome"]
    return NEXT_TIME.get((hits, detail)) or ONE_SIDED.get(hits) or ONE_SIDED.get(detail) or UNSETTLED


def _fell_during(row: Row) -> str:
    until = "on" if row["until_at"] is None else f"to {row['until_at'][:16].replace('T', ' ')}"
    return (
        f"From {row['from_at'][:16].replace('T', ' ')} {until} fewer of its frames hit "
        f"({_percent(row['rate_inside'])} against {_percent(row['rate_outside'])}): a knock, a "
        "setting, or the air."
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
