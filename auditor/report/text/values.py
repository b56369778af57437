"""Numbers and states in words: the one place where they are put into text."""

from __future__ import annotations

from typing import Any

from auditor.analysis.advice import finer

FLAGS = {
    "iso_pushed": "The converter pushed ISO over your ceiling",
    "converter_unknown": "Lens, f-number and converter contradict each other",
    "beyond_focus_limit": "The lens wide open is darker than this body still focuses with",
    "focus_elsewhere": "Another part of the picture is clearly sharper than the focus area",
    "smeared": "Blurred by motion",
    "words_disagree": "The camera's word and the pixels contradict each other",
    "cropped_in_camera": "The camera kept a part of its sensor",
    "resized": "The picture was made smaller or larger: its pixels are not the sensor's",
}
CAMERA_WORDS = {
    "confirmed": "confirmed",
    "not_confirmed": "not confirmed",
    "manual": "focused by hand",
    "silent": "silent",
}
VERDICT_SOURCES = {
    "pixels": "by its pixels",
    "scene": "by its scene",
    "camera_word": "by the camera's word",
    "nothing_recorded": "nothing to go by",
}
NOT_KNOWN = "–"


def percent(share: float | None) -> str:
    """A share as a whole percentage."""
    return NOT_KNOWN if share is None or share != share else f"{100 * share:.0f} %"


def whole(value: float | None) -> str:
    """A number without decimals."""
    return NOT_KNOWN if value is None or value != value else f"{value:.0f}"


def stops(value: float | None) -> str:
    """Stops, to one decimal."""
    return NOT_KNOWN if value is None or value != value else f"{value:.1f}"


def f_number(value: float | None) -> str:
    """An f-number as it is written."""
    return NOT_KNOWN if value is None or value != value else f"f/{value:.3g}"


def exposure_time(seconds: float | None) -> str:
    """An exposure time as it is written."""
    if seconds is None or seconds != seconds:
        return NOT_KNOWN
    return f"1/{1 / seconds:.0f} s" if seconds < 0.3 else f"{seconds:.3g} s"


def settings(row: dict[str, Any]) -> str:
    """Focal length, f-number, exposure time and ISO of a frame, as they are written."""
    focal = row["focal_length_mm"]
    return " ".join(
        (
            NOT_KNOWN if focal is None else f"{focal:.4g} mm",
            f_number(row["f_number"]),
            exposure_time(row["exposure_time_s"]),
            f"ISO {whole(row['iso'])}",
        )
    )


def blur(row: dict[str, Any]) -> str:
    """The whole blur at the focus area, as an angle and in pixels."""
    angle, pixels = row["system_blur_urad"], row["system_blur_px"]
    if pixels is None:
        return NOT_KNOWN
    return f"{pixels:.1f} px" if angle is None else f"{pixels:.1f} px, {angle:.1f} microradians"


def interval(row: dict[str, Any]) -> str:
    """The interval of a kit's hit rate."""
    if row.get("hit_rate_low") is None or row["hit_rate_low"] != row["hit_rate_low"]:
        return NOT_KNOWN
    return f"{100 * row['hit_rate_low']:.0f} to {100 * row['hit_rate_high']:.0f} %"


OUTCOMES = {
    "fell": "fewer in focus than bare",
    "no fall beyond 10 points": "no fall beyond 10 points",
    "inconclusive": "inconclusive",
    "not enough evidence": "not enough evidence",
}
EVIDENCE = (
    (
        "fewer in focus than bare",
        "in like light its share of hits is lower, beyond chance, and a regression says so too",
    ),
    ("no fall beyond 10 points", "the interval leaves no room for more than 10 points fewer hits than bare"),
    ("inconclusive", "enough encounters were compared, but the interval leaves both open"),
    ("not enough evidence", "fewer than 8 encounters of each kit, or scenes of each, could be compared"),
    ("counts only", "fewer than 3 encounters: no interval could be meant"),
    ("finer detail on the animal", "the whole blur is smaller as an angle, beyond chance"),
    ("no finer detail worth 5 %", "the interval leaves no room for a gain of 5 % or more"),
)
"""Every outcome that the page can name, and what it takes."""
FEWEST = 3
"""With fewer encounters or scenes of either kit only counts are told."""
DETAIL_OUTCOMES = {
    "gain": "finer detail on the animal",
    "no_detail_gain": "no finer detail worth having",
    "inconclusive": "inconclusive",
    "not enough evidence": "not enough evidence",
}


def comparison(row: dict[str, Any]) -> list[str]:
    """A kit against its bare kit: hits and detail, each with its interval and what it rests on."""
    kit = plain(row["kit_name"])
    hits, detail = row["hits"], row["detail"]
    told = f"{kit}, focus: {OUTCOMES[hits['outcome']]}"
    if hits["difference"] is not None and min(hits["clusters_treated"], hits["clusters_bare"]) >= FEWEST:
        told += (
            f"; {100 * hits['difference']:+.0f} points (95 % interval {100 * hits['low']:+.0f} "
            f"to {100 * hits['high']:+.0f})"
        )
    told += f"; {hits['clusters_treated']} encounters with it, {hits['clusters_bare']} bare, "
    told += f"alike in {', '.join(hits['adjusted_for'])}; not in {', '.join(hits['not_adjusted_for'])}."
    if row["deleted"]["turned"]:
        told += (
            f" {row['deleted']['frames']} and {row['deleted']['frames_bare']} frames may have been "
            "deleted: had they been misses, the answer would be another."
        )
    at_shutter = row["at_equal_shutter"]
    if at_shutter["outcome"] != "not enough evidence":
        told += (
            f" At equal shutter: {OUTCOMES[at_shutter['outcome']]}; "
            f"{100 * at_shutter['difference']:+.0f} points "
            f"(95 % interval {100 * at_shutter['low']:+.0f} to {100 * at_shutter['high']:+.0f})."
        )
    found = f"{kit}, detail: {DETAIL_OUTCOMES[detail['outcome']]}"
    if detail["gain"] is not None and min(detail["scenes"], detail["scenes_bare"]) >= FEWEST:
        found += f"; blur {detail['blur_urad']:.1f} against {detail['blur_bare_urad']:.1f} microradians bare"
        if detail["outcome"] != "not enough evidence":
            ends = f"{finer(detail['low'])} to {finer(detail['high'])}"
            found += f": {finer(detail['gain'])} (95 % interval {ends})"
    found += f"; {detail['scenes']} scenes with it, {detail['scenes_bare']} bare."
    return [told, found + _by_optics(row["optics"])]


DETAIL_NOTE = (
    "Detail is compared in the light that the kits share, where they share enough; shutter and "
    "distance are not "
    "held alike for it."
)


def _by_optics(optics: dict[str, float] | None) -> str:
    """What optics expect, apart from the photographer's own record."""
    if optics is None:
        return ""
    return (
        f" Optics alone: at most {finer(optics['gain_excellent_lens'])} behind a very good lens, "
        f"{finer(optics['gain_soft_lens'])} behind a soft one."
    )


def changes(rows: list[dict[str, Any]]) -> list[str]:
    """A line a kit that was looked at for a stretch of fewer hits; one line where none could be."""
    told = [
        f"{plain(row['kit_name'])}: {'fewer hits' if row['fell'] else 'no fall beyond chance'}"
        f" (lowest from {row['from_at'][:16].replace('T', ' ')}: {percent(row['rate_inside'])} against "
        f"{percent(row['rate_outside'])}, p {row['p_value']:.2f}; {row['encounters']} encounters)."
        for row in rows
    ]
    return told or [
        "No kit has the 8 encounters, with hits and misses among them, that it takes to tell a change."
    ]


def alternative(row: dict[str, Any]) -> str:
    """A kit with a converter against a smaller sensor that frames alike."""
    hits, detail = row["hits"], row["detail"]
    told = f"{plain(row['kit_name'])} against {plain(row['other_kit_name'])}, which frames alike: "
    told += f"focus: {OUTCOMES[hits['outcome']].replace('bare', 'with the smaller sensor')}"
    if hits["difference"] is not None and min(hits["clusters_treated"], hits["clusters_bare"]) >= FEWEST:
        told += (
            f" ({100 * hits['difference']:+.0f} points in like light and at like shutter, 95 % interval "
            f"{100 * hits['low']:+.0f} to "
            f"{100 * hits['high']:+.0f})"
        )
    told += f"; detail: {DETAIL_OUTCOMES[detail['outcome']]}"
    if detail["low"] is not None and min(detail["scenes"], detail["scenes_bare"]) >= FEWEST:
        told += (
            f" (blur {detail['blur_urad']:.1f} against {detail['blur_bare_urad']:.1f} microradians, "
            "95 % interval "
            f"{finer(detail['low'])} to {finer(detail['high'])})"
        )
    if detail["noise_on_subject"] and detail["noise_on_subject_bare"]:
        told += (
            f"; noise on the animal {detail['noise_on_subject'] / detail['noise_on_subject_bare']:.1f} times "
            "that of the smaller sensor"
        )
    return told + "."


def plain(text: object) -> str:
    """Text from a file, with whatever could steer a terminal or turn the line made visible."""
    told = str(text)
    if told.isprintable():
        return told
    return "".join(letter if letter.isprintable() else repr(letter)[1:-1] for letter in told)


def shortened(text: object, longest: int) -> str:
    """Plain text of at most so many letters: the middle goes, since a kit's converter stands at the end."""
    whole_text = plain(text)
    if len(whole_text) <= longest:
        return whole_text
    tail = longest // 2
    return f"{whole_text[: longest - tail - 1]}…{whole_text[-tail:]}"


def flag_reason(flag: str, row: dict[str, Any]) -> str:
    """Why a frame has a flag, in words and numbers."""
    if flag == "iso_pushed":
        return (
            f"{FLAGS[flag]}: ISO {whole(row['iso'])}; without it up to ISO "
            f"{whole(row['iso_without_converter'])} ({stops(row['forced_push_ev'])} stops forced)"
        )
    if flag == "converter_unknown":
        return (
            f"{FLAGS[flag]}: {f_number(row['f_number_recorded'])} at "
            f"{whole(row['focal_length_recorded_mm'])} mm on {plain(row['lens_name'] or 'an unknown lens')}"
        )
    if flag in ("focus_elsewhere", "smeared") and row["blur_px"] is not None:
        return f"{FLAGS[flag]}: blur {row['blur_px']:.1f} px"
    if flag == "words_disagree" and row["blur_px"] is not None:
        believed = CAMERA_WORDS.get(row["camera_word"] or "", NOT_KNOWN)
        return f"{FLAGS[flag]}: {believed}, and blur {row['blur_px']:.1f} px"
    return FLAGS.get(flag, flag)
