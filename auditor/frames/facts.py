"""Everything that can be known of one frame without its neighbours."""

from __future__ import annotations

from operator import attrgetter

from auditor.frames.declared import NOTHING, ForFrame, shifted
from auditor.frames.flags import frame_flags
from auditor.frames.kit import Kit, infer
from auditor.frames.light import BASE_ISO, Light, account
from auditor.records import REASONED, Inferred, Recorded

_FOLLOWS = {
    "focal_length_mm": "focal_length_recorded_mm",
    "f_number": "f_number_recorded",
    "utc_offset": "utc_offset_source",
}
"""Columns that are NULL together."""
_REASONED = tuple(name for name in REASONED if name != "pixel_pitch_um")  # the kit's own reason tells more
_reasoned_values = attrgetter(*_REASONED)


def frame_facts(
    recorded: Recorded, declared: ForFrame = NOTHING, *, auto_iso_seen: bool = False
) -> tuple[Kit, Inferred]:
    """The kit of a frame, and what else is inferred of it.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    declared
        What the photographer declared that concerns this frame.
    auto_iso_seen
        Whether the body's frames of that day show that it set ISO by itself.

    Returns
    -------
    tuple[Kit, Inferred]
        The kit, and what `inferred` holds of the frame.
    """
    kit = infer(
        recorded,
        declared_factor=declared.converter_factor,
        declared_diagonal_mm=declared.sensor_diagonal_mm,
    )
    light = account(
        recorded,
        kit,
        base_iso=declared.base_iso or BASE_ISO,
        auto_iso=auto_iso_seen if declared.auto_iso is None else declared.auto_iso,
    )
    return kit, Inferred(
        taken_at=shifted(recorded.taken_at, declared.clock_offset_s),
        lens_name=kit.lens.name,
        focal_length_mm=kit.focal_length_mm,
        f_number=kit.f_number,
        settings_ev=light.settings_ev,
        light_value_ev=light.light_value_ev,
        converter_factor=kit.converter_factor,
        converter_source=kit.converter_source,
        lens_widest_f_number=kit.widest_low if kit.widest_low == kit.widest_high else None,
        crop_factor=kit.crop_factor,
        sensor_diagonal_mm=kit.sensor_diagonal_mm,
        pixel_pitch_um=kit.pixel_pitch_um,
        forced_push_ev=light.forced_push_ev,
        forced_push_low_ev=light.forced_push_low_ev,
        chosen_ev=light.chosen_ev,
        iso_without_converter=light.iso_without_converter,
        excluded=declared.excluded,
        flags=tuple(frame_flags(recorded, kit, light, declared)),
        missing={**_reasons(recorded, kit, light), **_why_no_group(recorded, declared)},
    )


def _why_no_group(recorded: Recorded, declared: ForFrame) -> dict[str, str]:
    why = "excluded" if declared.excluded else "needs_time" if recorded.taken_at is None else None
    groups = ("trip_id", "encounter_id", "scene_id", "burst_id")
    return dict.fromkeys(groups, why) if why else {}


def _reasons(recorded: Recorded, kit: Kit, light: Light) -> dict[str, str]:
    reasons = {
        name: recorded.missing.get(name, "not_recorded")
        for name, value in zip(_REASONED, _reasoned_values(recorded), strict=True)
        if not value and (value is None or value == ())
    }
    for column, follows in _FOLLOWS.items():
        if column in reasons:
            reasons[follows] = reasons[column]
    return {**reasons, **kit.missing, **light.missing}
