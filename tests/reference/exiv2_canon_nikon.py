"""What exiv2 reads of Canon's and Nikon's notes, in the form of MakerFacts, to compare with."""

from __future__ import annotations

import re

from auditor.readers.makernotes import words
from tests.reference.exiv2_facts import Facts, Seen

# exiv2's labels, and what they are in our words.
CANON_FOCUS = {
    "One shot AF": words.SINGLE, "AI servo AF": words.CONTINUOUS, "AI focus AF": words.AUTOMATIC,
    "Manual focus (3)": words.MANUAL, "Manual focus (6)": words.MANUAL, "Single": words.SINGLE,
    "Continuous": words.CONTINUOUS, "AF + MF": words.SINGLE, "Movie Snap Focus": words.SINGLE,
    "Movie Servo AF": words.CONTINUOUS,
}  # fmt: skip
CANON_AREA = {
    "AF Point Expansion (surround)": words.POINT_GROUP, "Single-point AF": words.ONE_POINT,
    "Multi-point AF": words.WHOLE_FRAME, "Face Detect AF": words.FACE, "Face + Tracking": words.TRACKING,
    "Zone AF": words.ZONE, "AF Point Expansion (4 point)": words.POINT_GROUP, "Spot AF": words.ONE_POINT,
    "AF Point Expansion (8 point)": words.POINT_GROUP, "Flexizone Multi (49 point)": words.WHOLE_FRAME,
    "Flexizone Multi (9 point)": words.ZONE, "Flexizone Single": words.ONE_POINT,
    "Large Zone AF": words.ZONE,
}  # fmt: skip
CANON_DRIVE = {
    "Single / timer": words.SINGLE_FRAME, "Continuous": words.BURST,
    "Continuous, speed priority": words.BURST, "Continuous, low": words.BURST_SLOW,
    "Continuous, high": words.BURST_FAST, "Silent Single": words.SINGLE_FRAME,
    "Single, Silent": words.SINGLE_FRAME, "Continuous, Silent": words.BURST,
}  # fmt: skip
CANON_STABILISER = {
    "Off": words.OFF, "On": words.ON, "Shoot Only": words.ON, "Panning": words.PANNING, "Dynamic": words.ON,
}  # fmt: skip
NIKON_FOCUS = {
    "Single autofocus": words.SINGLE, "Continuous autofocus": words.CONTINUOUS,
    "Automatic": words.AUTOMATIC, "(MANUAL)": words.MANUAL,
}  # fmt: skip
NIKON_AREA = {
    "Single Area": words.ONE_POINT, "Dynamic Area": words.POINT_GROUP,
    "Dynamic Area, Closest Subject": words.WHOLE_FRAME, "Group Dynamic": words.POINT_GROUP,
    "Single Area (wide)": words.ONE_POINT, "Dynamic Area (wide)": words.POINT_GROUP,
}  # fmt: skip


def canon_facts(seen: Seen) -> Facts:
    mode = seen.word("CanonCs", 0x0007, CANON_FOCUS)
    compact = seen.label("CanonSi", 0x001A) == "Compact"
    drive = seen.word("CanonCs", 0x0005, CANON_DRIVE)
    timer = seen.label("CanonCs", 0x0002)
    lens = seen.numbers("CanonCs", 0x0017)
    file_number = seen.label("Canon", 0x0008) or ""
    limits = [value[0] if value else 0 for value in (seen.numbers("CanonFi", tag) for tag in (0x14, 0x15))]
    setting = seen.label("CanonCs", 0x0010) or ""
    return {
        "focus_mode": mode,
        "area_mode": seen.word("Canon", 0x2601, CANON_AREA),
        "camera_word": "manual" if mode == words.MANUAL else _canon_word(seen),
        "focus_areas": _canon_place(seen, compact),
        "drive_mode": words.SELF_TIMER
        if drive == words.SINGLE_FRAME and timer not in (None, "Off")
        else drive,
        "shot_in_burst": int(sum(seen.numbers("CanonSi", 0x0009))) or None,
        "stabiliser": CANON_STABILISER.get((seen.label("CanonCs", 0x0022) or "").removesuffix(" (2)")),
        # Both ends of a range, in centimetres.
        "focus_distance_m": tuple(limits) if 0 < limits[1] <= limits[0] else None,
        "lens_name": seen.value("Canon", 0x0095),
        "lens_short_mm": lens[1] / lens[2] if len(lens) == 3 and lens[2] and lens[1] else None,
        "lens_long_mm": lens[0] / lens[2] if len(lens) == 3 and lens[2] and lens[0] else None,
        "widest_f_number": _f_number(seen.label("CanonCs", 0x001A)),
        "body_serial": seen.label("Canon", 0x000C),
        "iso": sum(seen.numbers("Photo", 0x8827)) or None,
        "auto_iso": (setting == "Auto" if setting == "Auto" or setting.isdigit() else None)
        if compact
        else None,
        "file_number": int(file_number.partition("-")[2])
        if re.fullmatch(r"\d+-\d{4}", file_number)
        else None,
    }


def _canon_word(seen: Seen) -> str | None:
    in_focus, selected = seen.label("Canon", 0x260C), seen.label("Canon", 0x260D)
    if not in_focus:
        return None
    return "not_confirmed" if in_focus == "(none)" and selected != "(none)" else "confirmed"


def _canon_place(seen: Seen, compact: bool) -> tuple[float, float] | None:
    """The first point in focus, else the first chosen one, by the numbers that exiv2 lists."""
    size = [*seen.numbers("Canon", 0x2606), *seen.numbers("Canon", 0x2607)]
    for tag in (0x260C, 0x260D):
        label = seen.label("Canon", tag) or "(none)"
        if label != "(none)" and len(size) == 2 and all(size):
            point = int(label.split(",")[0])
            x = seen.numbers("Canon", 0x260A)[point] / size[0]
            y = seen.numbers("Canon", 0x260B)[point] / size[1]
            return 0.5 + x, 0.5 + (y if compact else -y)
    return None


def nikon_facts(seen: Seen) -> Facts:
    kind = "Nikon3" if seen.find("Nikon3", 0x0007) else "Nikon1"
    mode = seen.word(kind, 0x0007, NIKON_FOCUS)
    place = [sum(seen.numbers("NikonAf2", tag)) for tag in (0x10, 0x12, 0x14, 0x16, 0x18, 0x1A)]
    place = place if all(place) else [sum(seen.numbers("NikonAf22", tag)) for tag in range(70, 82, 2)]
    lens = seen.numbers(kind, 0x0084)
    shooting = seen.label("Nikon3", 0x0089) or ""
    iso = [seen.label("NikonIi", 0x0000) or "", seen.label(kind, 0x0002) or ""]
    distance = seen.label("NikonLd2", 0x0009) or ""
    number = int(sum(seen.numbers("NikonFi", 0x0008)))
    older_serial = (seen.value("Nikon3", 0x00A0) or "").removeprefix("NO=").strip()
    return {
        "focus_mode": mode,
        "area_mode": seen.word("NikonAf", 0x0000, NIKON_AREA),
        "camera_word": "manual" if mode == words.MANUAL else _nikon_word(seen),
        "focus_areas": (place[2] / place[0], place[3] / place[1]) if all(place) else None,
        "focus_area_size": (place[4] / place[0], place[5] / place[1]) if all(place) else None,
        "drive_mode": {
            "Single-frame": words.SINGLE_FRAME, "Single-frame, Auto ISO": words.SINGLE_FRAME,
            "Continuous": words.BURST, "Continuous, Auto ISO": words.BURST, "IR Control": words.REMOTE,
            "Single-frame, Self-timer": words.SELF_TIMER,
        }.get(shooting),
        "auto_iso": "Auto ISO" in shooting if shooting and seen.find("NikonIi", 0) else None,
        "stabiliser": {"On": words.ON, "Off": words.OFF}.get(seen.label("NikonVr", 0x0004) or ""),
        "focus_distance_m": float(distance.removesuffix(" m")) if distance.endswith(" m") else None,
        "lens_name": seen.label("Nikon3", 0x0084),
        **{
            name: lens[index] if len(lens) == 4 and lens[index] else None
            for index, name in enumerate(
                ("lens_short_mm", "lens_long_mm", "lens_widest_at_short", "lens_widest_at_long")
            )
        },
        "widest_f_number": _f_number(seen.label("NikonLd2", 0x0012)),
        "body_serial": seen.value("Nikon3", 0x001D) or older_serial or None,
        "iso": next((float(text) for text in iso if text.isdigit() and int(text)), None),
        "file_number": number if 0 < number < 10_000 else None,
    }  # fmt: skip


def _nikon_word(seen: Seen) -> str | None:
    for group, tag in (("NikonAf2", 0x001C), ("NikonAf22", 0x0052)):
        # Off: nothing looked at contrast, so that "No" says nothing.
        if seen.label(group, 0x0004) == "On":
            in_focus = seen.numbers(group, tag)
            return None if not in_focus else ("confirmed" if in_focus[0] else "not_confirmed")
    mask = seen.numbers("NikonAf", 0x0002)
    return "confirmed" if any(mask) else None


def _f_number(label: str | None) -> float | None:
    return float(label[1:]) if label and re.fullmatch(r"F\d+(\.\d+)?", label) else None
