"""The first screen: what the trip says of each kit, in plain sentences with their numbers.

A sentence is never stronger than its evidence: overlapping intervals settle nothing, and with too
few encounters only counts are told.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from auditor.analysis.advice import finer
from auditor.report.text import values as words

MOST, MOST_SETTLED = 5, 3


def first_screen(kits: list[dict[str, Any]], compared: Sequence[dict[str, Any]] = ()) -> list[str]:
    """Three to five sentences about the kits of a trip; what is settled comes first.

    Parameters
    ----------
    kits, compared
        Rows of the kit table, and of the comparisons with the bare kits.
    """
    lead = _mount(compared)
    converted = [kit for kit in kits if (kit["converter_factor"] or 1) > 1]
    told = [_focus(kit, _bare_of(kit, kits)) for kit in _most_used(converted)]
    if not told:
        told = [_focus(kit, None) for kit in _most_used(kits)]
    told = lead + told[: MOST - 2 - len(lead)]
    costs = [_cost(kit) for kit in _most_used(converted) if kit["median_forced_push_ev"]]
    told += costs[: MOST - len(told) - 1]
    told.append(
        "These rates are of the kits as they were used; how they compare in like light is told kit by kit, "
        "below the pictures."
    )
    return told


def _mount(compared: Sequence[dict[str, Any]]) -> list[str]:
    """What the comparisons settle, kit by kit, or that they settle nothing."""
    settled = sorted(found for row in compared if (found := _settled(row)) is not None)
    if settled or not compared:
        return [text for _weight, text in settled[:MOST_SETTLED]]
    most = max(compared, key=lambda row: min(row["hits"]["clusters_treated"], row["hits"]["clusters_bare"]))
    hits = most["hits"]
    return [
        f"This trip does not settle what to mount: at most {hits['clusters_treated']} encounters with a "
        f"converter could be set against {hits['clusters_bare']} bare ones in like light. Mount by reach and "
        "light, and let more trips decide."
    ]


def _settled(row: dict[str, Any]) -> tuple[int, str] | None:
    """One comparison as advice, with its place among others; None where it is not sure enough to be any.

    A loss of frames comes first, then what paid, then detail alone, then what was not gained.
    """
    kit, bare = words.plain(row["kit_name"]), words.plain(row["bare_kit_name"])
    hits, detail = row["hits"], row["detail"]
    if hits["outcome"] == "fell":
        return 0, (
            f"Where focus matters most, mount {bare} bare: with {kit} {-100 * hits['difference']:.0f} points "
            f"fewer frames were in focus in like light (95 % interval {-100 * hits['high']:.0f} to "
            f"{-100 * hits['low']:.0f}; {hits['clusters_treated']} and {hits['clusters_bare']} encounters)."
        )
    if detail["gain"] is None or detail["low"] is None:
        return None
    interval = f"95 % interval {finer(detail['low'])} to {finer(detail['high'])}"
    scenes = f"{detail['scenes']} and {detail['scenes_bare']} scenes"
    if detail["outcome"] == "gain" and hits["outcome"] == "no fall beyond 10 points":
        return 1, (
            f"{kit} seems worth its cost: detail on the animal was {finer(detail['gain'])} "
            f"({interval}; {scenes}), "
            "and less than 10 points of hits were lost in like light."
        )
    if detail["outcome"] == "gain":
        return 2, (
            f"{kit} showed more of the animal: detail was {finer(detail['gain'])} ({interval}; "
            f"{scenes}); whether "
            "it costs focus is not settled."
        )
    if detail["outcome"] == "no_detail_gain":
        return 3, (
            f"As it was used, {kit} brought no finer detail worth having ({finer(detail['gain'])}, "
            f"{interval}; "
            f"{scenes}): unless you need it to aim, leave the converter off and crop."
        )
    return None


def _focus(kit: dict[str, Any], bare: dict[str, Any] | None) -> str:
    text = f"With {words.plain(kit['kit_name'])}, {_rate(kit)}."
    if bare is None:
        return text
    text = f"{text[:-1]}; bare, {_rate(bare).replace(' frames were in focus', '')}{_light(kit, bare)}."
    if kit["hit_rate"] is None or bare["hit_rate"] is None:
        return f"{text} That is too little to settle anything."
    if kit["hit_rate_high"] < bare["hit_rate_low"] or kit["hit_rate_low"] > bare["hit_rate_high"]:
        return f"{text} Not in like light, nor by one angle: that stands below the pictures."
    return f"{text} The intervals overlap: these rates do not settle which focuses more surely."


def _rate(kit: dict[str, Any]) -> str:
    if kit["hit_rate"] is not None:
        return (
            f"{words.percent(kit['hit_rate'])} of {kit['hit_rate_frames']} frames were in focus "
            f"(95 % interval {words.interval(kit)})"
        )
    if kit["judged"]:
        return f"{kit['hits']} of {kit['judged']} frames were in focus (counts only)"
    return f"nothing tells whether its {kit['frames']} frames were in focus"


def _light(kit: dict[str, Any], bare: dict[str, Any]) -> str:
    """Where light differed by a stop or more, a reader should know before comparing."""
    light, bare_light = kit["median_light_value_ev"], bare["median_light_value_ev"]
    if light is None or bare_light is None or abs(light - bare_light) < 1:
        return ""
    return (
        f", in {'less' if bare_light < light else 'more'} light ({words.stops(abs(light - bare_light))} EV)"
    )


def _cost(kit: dict[str, Any]) -> str:
    pushed = kit["iso_pushed_frames"]
    over = f" {pushed} of its frames went over your ISO ceiling for it." if pushed else ""
    return (
        f"{words.plain(kit['kit_name'])} forced {words.stops(kit['median_forced_push_ev'])} stops: "
        f"median ISO {words.whole(kit['median_iso'])}, "
        f"up to {words.whole(kit['median_iso_without_converter'])} without the converter.{over}"
    )


def _bare_of(kit: dict[str, Any], kits: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The same body and lens with no converter."""
    name = kit["kit_name"].rsplit(" + ", 1)[0]
    return next((other for other in kits if other["kit_name"] == name), None)


def _most_used(kits: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return sorted(kits, key=lambda kit: (-kit["frames"], kit["kit_name"]))
