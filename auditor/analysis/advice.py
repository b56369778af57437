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
    (
        "fell",
        "inconclusive",
    ): "It cost focus, and whether it shows more is not settled: leave it off unless you "
    "need the reach to aim.",
    (
        "no fall beyond 10 points",
        "gain",
    ): "It seems to be worth its cost: mount it when you need the reach and have the light.",
    (
        "no fall beyond 10 points",
        "no_detail_gain",
    ): "It cost less than 10 points of focus, but a crop of the bare "
    "frame shows as much: leave it off where light is short.",
    (
        "no fall beyond 10 points",
        "inconclusive",
    ): "It cost less than 10 points of focus; whether it shows more is "
    "not settled. Use it where light is plenty.",
}
ONE_SIDED = {
    "fell": "It cost focus; too little was measured to say whether it shows more.",
    "gain": "It shows more of the animal; whether it costs focus is not settled.",
    "no_detail_gain": "A crop of the bare frame shows as much; whether it costs focus is not settled.",
    "no fall beyond 10 points": "It cost less than 10 points of focus; too little was measured to "
    "say what it "
    "shows.",
}
UNSETTLED = (
    "These frames do not settle whether it pays. Take the same animals in the same light with it and without."
)


def advice(
    kits: list[Row],
    compared: list[Row],
    changes: list[Row],
    by_optics_alone: dict[int, dict[str, float]] | None = None,
) -> list[Row]:
    """One row a kit, in the order of `kits`: kit_id, kit_name, paragraph.

    Parameters
    ----------
    kits, compared, changes
        Rows of the kit table, of `comparisons.comparisons` and of `changes.changes`.
    by_optics_alone
        What optics expect of kits that were never used bare, by kit_id.
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
                "It has no frames of the same body and lens bare to be compared with: take some of the same "
                "animals in the same light."
            )
            told.append(_by_optics((by_optics_alone or {}).get(kit["kit_id"])))
        if kit["kit_id"] in fallen:
            told.append(_fell_during(fallen[kit["kit_id"]]))
        paragraph = " ".join(sentence for sentence in told if sentence)
        rows.append({"kit_id": kit["kit_id"], "kit_name": kit["kit_name"], "paragraph": paragraph})
    return rows


def _got(kit: Row) -> str:
    if kit["hit_rate"] is not None:
        return (
            f"{_percent(kit['hit_rate'])} of {_count(kit['hit_rate_frames'], 'frame')} were in focus "
            "(95 % interval "
            f"{_percent(kit['hit_rate_low'])} to {_percent(kit['hit_rate_high'])}; "
            f"{_count(kit['encounters'], 'encounter')}).{_bounds(kit)}"
        )
    if kit["judged"]:
        return (
            f"{kit['hits']} of {_count(kit['judged'], 'frame')} were in focus: "
            f"{'no times' if kit['hit_rate_missing'] == 'no_time' else 'too few encounters'} for a rate."
        )
    return f"Nothing tells whether its {_count(kit['frames'], 'frame')} were in focus."


def _bounds(kit: Row) -> str:
    """What unclear and deleted frames could make of the rate."""
    text = ""
    if kit["unclear"]:
        text += (
            f" With the {kit['unclear']} unclear as misses it is "
            f"{_percent(kit['hit_rate_if_unclear_missed'])}, "
            f"as hits {_percent(kit['hit_rate_if_unclear_hit'])}."
        )
    if kit["deleted"]:
        text += (
            f" {_count(kit['deleted'], 'frame')} may have been deleted in camera: "
            f"{_percent(kit['hit_rate_if_deleted_missed'])} if they missed."
        )
    return text


def _cost(kit: Row) -> str:
    push, pushed = kit["median_forced_push_ev"], kit["iso_pushed_frames"]
    if not push and not pushed:
        return ""
    text = ""
    if push and kit["median_iso"] is not None and kit["median_iso_without_converter"] is not None:
        text = (
            f"The converter forced {push:.1f} stops (median): ISO {kit['median_iso']:.0f} where up to "
            f"{kit['median_iso_without_converter']:.0f} would have done."
        )
    if pushed:
        text += (
            f" {_percent(kit['iso_pushed_share'])} of its frames went over your ISO ceiling, where "
            "the bare lens "
            "would have stayed under it."
        )
    if kit["auto_iso_at_limit_frames"]:
        text += (
            f" In {_count(kit['auto_iso_at_limit_frames'], 'frame')} Auto-ISO seems to have stood at "
            "its limit: "
            "there it cost at least that."
        )
    if kit["near_reciprocal_frames"]:
        text += (
            f" In {_count(kit['near_reciprocal_frames'], 'frame')} the shutter was near 1 / focal "
            "length: the "
            f"reach asked for {kit['shutter_for_reach_ev']:.1f} stops more of it."
        )
    return text.strip()


def _hits(row: Row) -> str:
    hits, deleted = row["hits"], row["deleted"]
    if hits["outcome"] == "not enough evidence" or hits["difference"] is None:
        text = (
            "Against the bare lens in like light there is not enough evidence on focus "
            f"({_count(hits['clusters_treated'], 'encounter')} with it and {hits['clusters_bare']} "
            "bare are alike)."
        )
    else:
        likely = 100 * shrunk(hits["difference"], hits["low"], hits["high"])
        text = (
            f"Against the bare lens, alike in {', '.join(hits['adjusted_for'])}: "
            f"{_OUTCOMES[hits['outcome']]} "
            f"({100 * hits['difference']:+.0f} points, 95 % interval {100 * hits['low']:+.0f} to "
            f"{100 * hits['high']:+.0f}; likely nearer {likely:+.0f})."
        )
    if deleted["turned"]:
        text += (
            f" {_count(deleted['frames'], 'frame')} with it and {deleted['frames_bare']} bare may "
            "have been deleted; "
            "had they been misses, the answer would be another."
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
    told = {
        "gain": "finer detail on the animal than a crop of the bare frame",
        "no_detail_gain": "no detail worth having beyond a crop of the bare frame",
        "inconclusive": "whether it shows more than a crop of the bare frame is inconclusive",
    }[detail["outcome"]]
    return (
        f"Detail, {held_alike(detail)}: {told} (blur {detail['blur_urad']:.1f} against "
        f"{detail['blur_bare_urad']:.1f} microradians; {finer(detail['gain'])}, 95 % interval "
        f"{finer(detail['low'])} to {finer(detail['high'])})."
    )


def held_alike(detail: Row) -> str:
    """What a comparison of detail held alike, and what not."""
    if detail["alike_in_light"]:
        return "alike in light, not in shutter and distance"
    return "as the kits were used: neither light, shutter nor distance alike"


def finer(gain: float) -> str:
    """A gain in detail in words: finer, or coarser where it is a loss."""
    if gain < -1:
        return "more than 100 % coarser"
    return f"{100 * abs(gain):.0f} % {'finer' if gain >= 0 else 'coarser'}"


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
        "setting, the air, or "
        "other animals. Only light was held alike."
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
