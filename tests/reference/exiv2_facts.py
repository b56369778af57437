"""What exiv2 reads of a file's maker note, in the form of MakerFacts, to compare with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from auditor.readers.makernotes import words

# exiv2's labels, and what they are in our words.
SONY_FOCUS = {
    "Manual": words.MANUAL, "AF-S": words.SINGLE, "AF-C": words.CONTINUOUS, "AF-A": words.AUTOMATIC,
    "DMF": words.SINGLE, "AF-D": words.SINGLE, "Permanent-AF": words.CONTINUOUS,
}  # fmt: skip
SONY_AREA = {
    "Wide": words.WHOLE_FRAME, "Center": words.ONE_POINT, "Flexible Spot": words.ONE_POINT,
    "Flexible Spot (LA-EA4)": words.ONE_POINT, "Center (LA-EA4)": words.ONE_POINT, "Zone": words.ZONE,
    "Expanded flexible spot": words.POINT_GROUP, "Local": words.ONE_POINT, "Spot": words.ONE_POINT,
}  # fmt: skip
SONY_DRIVE = {
    "Normal": words.SINGLE_FRAME, "Continuous": words.BURST, "Exposure Bracketing": words.BRACKETING,
    "White Balance Bracketing": words.BRACKETING, "DRO Bracketing": words.BRACKETING,
}  # fmt: skip
SONY_OLD_DRIVE = {
    "Single Frame": words.SINGLE_FRAME, "Continuous High": words.BURST_FAST,
    "Continuous Low": words.BURST_SLOW,
}  # fmt: skip
ON_OFF = {"On": words.ON, "Off": words.OFF}
FUJIFILM_AREA = {
    "Wide": words.WHOLE_FRAME, "Single Point": words.ONE_POINT, "Zone": words.ZONE,
    "Tracking": words.TRACKING,
}  # fmt: skip
OLYMPUS_STABILISER = {
    "Off": words.OFF, "S-IS 1": words.ON, "S-IS 2": words.PANNING, "S-IS 3": words.PANNING,
    "S-IS AUTO": words.ON,
}  # fmt: skip
PANASONIC_FOCUS = {
    "Auto": words.AUTOFOCUS, "Manual": words.MANUAL, "Auto, focus button": words.AUTOFOCUS,
    "Auto, continuous": words.CONTINUOUS, "AF-S": words.SINGLE, "AF-C": words.CONTINUOUS,
    "AF-F": words.AUTOMATIC,
}  # fmt: skip
PANASONIC_STABILISER = {
    "On, Mode 1": words.ON, "On, Mode 2": words.ON, "On, Mode 3": words.ON, "Off": words.OFF,
    "Panning": words.PANNING,
}  # fmt: skip
PANASONIC_AREA = {
    "Spot focussing": words.ONE_POINT, "1-area": words.ONE_POINT, "1-area (high speed)": words.ONE_POINT,
    "Spot Focusing 2": words.ONE_POINT, "23-area": words.WHOLE_FRAME, "49-area": words.WHOLE_FRAME,
    "225-area": words.WHOLE_FRAME, "Face Detect": words.FACE, "Tracking": words.TRACKING,
}  # fmt: skip
PENTAX_FOCUS = {
    "Normal": words.AUTOFOCUS, "Macro": words.AUTOFOCUS, "Super Macro": words.AUTOFOCUS,
    "Face Detect": words.AUTOFOCUS, "Manual": words.MANUAL, "AF-S": words.SINGLE, "AF-C": words.CONTINUOUS,
    "AF-A": words.AUTOMATIC, "Contrast-detect": words.SINGLE, "Tracking Contrast-detect": words.CONTINUOUS,
}  # fmt: skip
PENTAX_DRIVE = {
    "Single-frame": words.SINGLE_FRAME, "Continuous": words.BURST, "Continuous (Hi)": words.BURST_FAST,
    "Burst": words.BURST, "Self-timer (12 sec)": words.SELF_TIMER, "Self-timer (2 sec)": words.SELF_TIMER,
    "Remote Control (3 sec)": words.REMOTE, "Remote Control": words.REMOTE,
}  # fmt: skip


@dataclass(frozen=True)
class Seen:
    """What exiv2 read from one file."""

    data: Any

    def find(self, group: str, tag: int) -> Any:
        groups = {"Sony": ("Sony1", "Sony2"), "SonyCs": ("Sony1Cs", "Sony2Cs", "Sony1Cs2", "Sony2Cs2")}
        wanted = groups.get(group, (group,))
        for datum in self.data:
            if datum.tag() == tag and datum.groupName() in wanted:
                return datum
        return None

    def label(self, group: str, tag: int) -> str | None:
        """Its interpretation; None where the tag is not there."""
        datum = self.find(group, tag)
        return None if datum is None else str(datum.print(self.data)).strip()

    def value(self, group: str, tag: int) -> str | None:
        datum = self.find(group, tag)
        return None if datum is None else str(datum.toString()).split("\0")[0].strip()

    def numbers(self, group: str, tag: int) -> list[float]:
        text = self.value(group, tag) or ""
        parts = [part.split("/") for part in text.split()]
        if any(len(part) == 2 and part[1] == "0" for part in parts):
            return []
        return [float(part[0]) / (float(part[1]) if len(part) == 2 else 1) for part in parts]

    def word(self, group: str, tag: int, table: dict[str, str]) -> str | None:
        return table.get(self.label(group, tag) or "")


Facts = dict[str, Any]


def sony_facts(seen: Seen) -> Facts:
    place = seen.numbers("Sony", 0x2027)
    frame = (seen.label("Sony", 0x2037) or "").split("x")
    name = seen.label("Sony", 0xB02A)
    shot = seen.label("Sony", 0xB04A) or ""
    return {
        "focus_mode": seen.word("Sony", 0x201B, SONY_FOCUS)
        or seen.word("SonyCs", 0x10, SONY_FOCUS)
        or seen.word("Sony", 0xB04E, SONY_FOCUS)
        or seen.word("Sony", 0xB042, SONY_FOCUS),
        "area_mode": seen.word("Sony", 0x201C, SONY_AREA),
        "drive_mode": seen.word("Sony", 0xB049, SONY_DRIVE) or seen.word("SonyCs", 0x04, SONY_OLD_DRIVE),
        "focus_areas": (place[2] / place[0], place[3] / place[1]) if len(place) == 4 and place[0] else None,
        "focus_area_size": (float(frame[0]) / place[0], float(frame[1]) / place[1])
        if len(frame) == 2 and len(place) == 4
        else None,
        "lens_name": None
        if name in (None, "Unknown")
        else (name or "").replace(".0-", "-").replace(".0", ""),
        "shot_in_burst": int(shot) if shot.isdigit() else None,
        "stabiliser": seen.word("Sony", 0xB026, ON_OFF),
        "converter_factor": 1.0 if seen.label("Sony", 0x0105) == "None" else None,
        "converter_name": (seen.label("Sony", 0x0105) or "None").removesuffix(" (0x04)"),
    }


def fujifilm_facts(seen: Seen) -> Facts:
    place = seen.numbers("Fujifilm", 0x1023)
    size = seen.numbers("Photo", 0xA002) + seen.numbers("Photo", 0xA003)
    manual = {"Manual": True, "Auto": False}.get(seen.label("Fujifilm", 0x1021) or "")
    warning = {"Off": "confirmed", "On": "not_confirmed"}.get(seen.label("Fujifilm", 0x1301) or "")
    lens = [seen.numbers("Fujifilm", tag) for tag in range(0x1404, 0x1408)]
    drive = (seen.label("Fujifilm", 0x1103) or seen.label("Fujifilm", 0x1100) or "").split(",")[0]
    return {
        "focus_mode": manual if manual is None else ("manual" if manual else "not manual"),
        "area_mode": seen.word("Fujifilm", 0x1022, FUJIFILM_AREA),
        "camera_word": "manual" if manual else warning,
        "drive_mode": {
            "Single": words.SINGLE_FRAME, "Off": words.SINGLE_FRAME, "On": words.BURST,
            "Continuous Low": words.BURST_SLOW, "Continuous High": words.BURST_FAST,
        }.get(drive),
        "focus_areas": (place[0] / size[0], place[1] / size[1]) if len(place) == len(size) == 2 else None,
        "body_serial": seen.value("Fujifilm", 0x0010),
        "shot_in_burst": int(sum(seen.numbers("Fujifilm", 0x1101))) or None,
        **{
            name: value[0] if value else None
            for name, value in zip(
                ("lens_short_mm", "lens_long_mm", "lens_widest_at_short", "lens_widest_at_long"),
                lens,
                strict=True,
            )
        },
    }  # fmt: skip


def olympus_facts(seen: Seen) -> Facts:
    mode = seen.label("OlympusCs", 0x0301) or seen.label("Olympus", 0x100B) or ""
    packed = seen.numbers("OlympusCs", 0x0304)
    corners = [value / 255 for value in int(packed[0]).to_bytes(4, "big")] if packed and packed[0] else []
    distance = seen.label("OlympusFi", 0x0305) or ""
    special = seen.label("Olympus2", 0x0200) or seen.label("Olympus", 0x0200) or ""
    extender = seen.label("OlympusEq", 0x0301) or ""
    # Aperture fields are 256ths of an APEX value; exiv2 prints them raw.
    apertures = [seen.numbers("OlympusEq", tag) for tag in (0x0205, 0x0206, 0x020A)]
    widest = [2 ** (value[0] / 512) if value and value[0] else None for value in apertures]
    return {
        "focus_mode": next(
            (
                word
                for start, word in (
                    ("C-AF", words.CONTINUOUS), ("S-AF", words.SINGLE), ("MF", words.MANUAL),
                    ("Single AF", words.SINGLE), ("Auto", words.AUTOFOCUS), ("Manual", words.MANUAL),
                )
                if mode.startswith(start)
            ),
            None,
        ),
        "focus_areas": ((corners[0] + corners[2]) / 2, (corners[1] + corners[3]) / 2) if corners else None,
        "focus_area_size": (corners[2] - corners[0], corners[3] - corners[1]) if corners else None,
        "focus_distance_m": float(distance.removesuffix(" m")) if distance.endswith(" m") else None,
        "lens_name": seen.value("OlympusEq", 0x0203) or None,
        "body_serial": seen.value("OlympusEq", 0x0101) or seen.value("Olympus", 0x0404) or None,
        "lens_short_mm": sum(seen.numbers("OlympusEq", 0x0207)) or None,
        "lens_long_mm": sum(seen.numbers("OlympusEq", 0x0208)) or None,
        "lens_widest_at_short": widest[0],
        "lens_widest_at_long": widest[1],
        "widest_f_number": widest[2],
        "shot_in_burst": int(special.split("Sequence number ")[1].split(",")[0])
        if special.startswith("Fast, Sequence number")
        else None,
        "drive_mode": {"Normal": words.SINGLE_FRAME, "Fast": words.BURST}.get(special.split(",")[0]),
        "stabiliser": seen.word("OlympusCs", 0x0604, OLYMPUS_STABILISER),
        "converter_factor": next(
            (
                factor
                for text, factor in (("None", 1.0), ("1.4x Tele", 1.4), ("2.0x Tele", 2.0))
                if text in extender
            ),
            None,
        ),
    }  # fmt: skip


def panasonic_facts(seen: Seen) -> Facts:
    place = seen.numbers("Panasonic", 0x004D)
    timer = seen.label("Panasonic", 0x002E)
    return {
        "focus_mode": seen.word("Panasonic", 0x0007, PANASONIC_FOCUS),
        "area_mode": seen.word("Panasonic", 0x000F, PANASONIC_AREA),
        "drive_mode": {
            "Off": words.SINGLE_FRAME,
            "Infinite": words.BURST,
            "Low/High quality": words.BURST,
        }.get(seen.label("Panasonic", 0x002A) or "")
        if timer in (None, "Off")
        else words.SELF_TIMER,
        "focus_areas": tuple(place) if len(place) == 2 and max(place) < 1 else None,
        "lens_name": seen.label("Panasonic", 0x0051) or None,
        "body_serial": (seen.label("Panasonic", 0x0025) or "").split("\0")[0].strip() or None,
        "auto_iso": True if seen.label("Panasonic", 0x003C) == "Intelligent ISO" else None,
        "shot_in_burst": int(sum(seen.numbers("Panasonic", 0x002B))) or None,
        "stabiliser": seen.word("Panasonic", 0x001A, PANASONIC_STABILISER),
    }


def pentax_facts(seen: Seen) -> Facts:
    point = seen.label("Pentax", 0x000E) or ""
    in_focus = seen.label("Pentax", 0x000F)
    mode = seen.word("Pentax", 0x000D, PENTAX_FOCUS)
    word = "manual" if mode == words.MANUAL else {"None": "not_confirmed"}.get(in_focus or "")
    if word is None and mode and in_focus and in_focus not in ("Fixed Center or multiple", "None"):
        word = "confirmed"
    return {
        "focus_mode": mode,
        "camera_word": word,
        "drive_mode": seen.word("Pentax", 0x0034, PENTAX_DRIVE),
        "focus_areas": (0.5, 0.5) if point in ("Center", "Fixed Center") or in_focus == "Center" else None,
        "lens_name": seen.label("Pentax", 0x003F),
        "body_serial": seen.value("Pentax", 0x0229),
    }
