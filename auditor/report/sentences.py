"""The first screen: what the trip says of each kit, in plain sentences with their numbers.

A sentence is never stronger than its evidence: overlapping intervals settle nothing, and with too
few encounters only counts are told.
"""

from __future__ import annotations

from typing import Any

from auditor.report import words

MOST = 5


def first_screen(kits: list[dict[str, Any]]) -> list[str]:
    """Three to five sentences about the kits of a trip; `kits` are rows of the kit table."""
    converted = [kit for kit in kits if (kit["converter_factor"] or 1) > 1]
    told = [_focus(kit, _bare_of(kit, kits)) for kit in _most_used(converted)]
    if not told:
        told = [_focus(kit, None) for kit in _most_used(kits)]
    told = told[: MOST - 2]
    costs = [_cost(kit) for kit in _most_used(converted) if kit["median_forced_push_ev"]]
    told += costs[: MOST - len(told) - 1]
    told.append(
        "These rates are of the kits as they were used; how they compare in like light stands below the "
        "kit table."
    )
    return told


def _focus(kit: dict[str, Any], bare: dict[str, Any] | None) -> str:
    text = f"With {words.plain(kit['kit_name'])} {_rate(kit)}."
    if bare is None:
        return text
    text = f"{text[:-1]}; bare, {_rate(bare)}{_light(kit, bare)}."
    if kit["hit_rate"] is None or bare["hit_rate"] is None:
        return f"{text} That is too little to settle anything."
    if kit["hit_rate_high"] < bare["hit_rate_low"]:
        return f"{text} Fewer were in focus with the converter, beyond chance."
    if kit["hit_rate_low"] > bare["hit_rate_high"]:
        return f"{text} More were in focus with the converter, beyond chance."
    return f"{text} The intervals overlap: this trip does not settle which focuses more surely."


def _rate(kit: dict[str, Any]) -> str:
    if kit["hit_rate"] is not None:
        return (
            f"{words.percent(kit['hit_rate'])} of {kit['judged']} frames were in focus "
            f"({kit['encounters']} encounters; 95 % interval {words.interval(kit)})"
        )
    if kit["judged"]:
        return f"{kit['hits']} of {kit['judged']} frames were in focus (counts only)"
    return f"nothing tells whether its {kit['frames']} frames were in focus"


def _light(kit: dict[str, Any], bare: dict[str, Any]) -> str:
    if kit["median_light_value_ev"] is None or bare["median_light_value_ev"] is None:
        return ""
    return (
        f" (median light {words.stops(kit['median_light_value_ev'])} against "
        f"{words.stops(bare['median_light_value_ev'])} EV)"
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
