"""What the light was, and what the converter cost in it."""

from __future__ import annotations

from dataclasses import dataclass, field

from auditor.frames.kit import Kit
from auditor.optics import converter, exposure
from auditor.records import Recorded

MANUAL_EXPOSURE = 1
"""ExposureProgram and ExposureMode both write 1 for exposure set by hand (Exif 2.3, 4.6.5)."""
BASE_ISO = 100.0
"""Until the photographer declares the body's own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Light accounting of one frame, in stops (EV)."""

    settings_ev: float | None = None
    light_value_ev: float | None = None
    forced_push_ev: float | None = None
    forced_push_low_ev: float | None = None
    chosen_ev: float | None = None
    iso_without_converter: float | None = None
    missing: dict[str, str] = field(default_factory=dict)


def account(
    recorded: Recorded, kit: Kit, *, base_iso: float = BASE_ISO, auto_iso: bool | None = None
) -> Light:
    """Settings, light, and the stops that the converter forced.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    kit
        As inferred of it.
    base_iso
        The lowest ISO of the body.
    auto_iso
        What the frame does not tell: declared, or seen in its neighbours; None to go by the frame alone.

    Returns
    -------
    Light
        `iso_without_converter` is an upper bound: the bare lens could have been stopped down too. Where the
        widest f-number is only known to lie between a zoom's ends, `forced_push_ev` is the most that the
        converter can have forced and `forced_push_low_ev` the least.
    """
    missing: dict[str, str] = {}
    settings_ev = _settings_ev(recorded, kit, missing)
    metered = recorded.auto_iso if recorded.auto_iso is not None else auto_iso
    light_ev = _light_value_ev(recorded, settings_ev, bool(metered), missing)
    forced_ev, low_ev, chosen_ev = _forced(kit, missing)
    without = None
    if forced_ev is not None and recorded.iso is not None:
        without = converter.iso_without_converter(recorded.iso, forced_ev, base_iso)
    else:
        missing["iso_without_converter"] = missing.get("forced_push_ev", "needs_exposure")
    return Light(
        settings_ev=settings_ev,
        light_value_ev=light_ev,
        forced_push_ev=forced_ev,
        forced_push_low_ev=low_ev,
        chosen_ev=chosen_ev,
        iso_without_converter=without,
        missing=missing,
    )


def _settings_ev(recorded: Recorded, kit: Kit, missing: dict[str, str]) -> float | None:
    if kit.f_number is None or recorded.exposure_time_s is None or recorded.iso is None:
        missing["settings_ev"] = "needs_exposure"
        return None
    return exposure.settings_ev(kit.f_number, recorded.exposure_time_s, recorded.iso)


def _light_value_ev(
    recorded: Recorded, settings_ev: float | None, auto_iso: bool, missing: dict[str, str]
) -> float | None:
    by_hand = MANUAL_EXPOSURE in (recorded.exposure_program, recorded.exposure_mode)
    if settings_ev is None:
        missing["light_value_ev"] = "needs_exposure"
    elif recorded.flash_fired:
        missing["light_value_ev"] = "flash"
    elif by_hand and not auto_iso:
        missing["light_value_ev"] = "manual_exposure"
    else:
        return settings_ev + (recorded.exposure_bias_ev or 0.0)
    return None


def _forced(kit: Kit, missing: dict[str, str]) -> tuple[float | None, float | None, float | None]:
    """Most and least that the converter forced, and the photographer's own choice, in stops."""
    why = None
    if kit.converter_factor is None:
        why = "contradiction" if kit.contradiction else "needs_converter"
    elif kit.f_number is None:
        why = "needs_exposure"
    elif kit.converter_factor > 1 and (kit.widest_low is None or kit.widest_high is None):
        why = "needs_lens_widest"
    if why is None and kit.converter_factor is not None and kit.f_number is not None:
        low = high = None
        if kit.widest_low is not None and kit.widest_high is not None:
            low = converter.forced_push(kit.f_number, kit.widest_high, kit.converter_factor)
            high = converter.forced_push(kit.f_number, kit.widest_low, kit.converter_factor)
        if low is not None and high is not None:
            if kit.widest_low != kit.widest_high:
                missing["chosen_ev"] = "needs_lens_widest"
            return high.forced_ev, low.forced_ev, high.chosen_ev if low == high else None
        missing["chosen_ev"] = "needs_lens_widest"
        return 0.0, 0.0, None  # bare: nothing was forced, whatever the lens
    for column in ("forced_push_ev", "forced_push_low_ev", "chosen_ev"):
        missing[column] = why or "needs_converter"
    return None, None, None
