"""The frozen records that pass between layers.

Units are in the names. A fact that is not known is None, and `missing` says why, with
a word of `words.MissingReason`: it is never 0 and never NaN.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from auditor.words import CameraWord, FileRole, FrameFlag

REASONED = (
    "taken_at", "utc_offset", "body_make", "body_model", "body_serial", "lens_name", "focal_length_mm",
    "f_number", "iso", "auto_iso", "exposure_time_s", "exposure_bias_ev", "flash_fired", "width_px",
    "height_px", "pixel_pitch_um", "focus_mode", "area_mode", "drive_mode", "camera_word", "af_x", "af_y",
    "af_width", "af_height", "focus_distance_m", "rating", "keywords",
)  # fmt: skip
"""Recorded facts that get a word in `missing` when they are absent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusArea:
    """One focus area, as fractions of the picture from its top left; x, y is its centre.

    `width` and `height` are None for a bare point. `used` and `in_focus` are None where
    the camera does not say.
    """

    x: float
    y: float
    width: float | None = None
    height: float | None = None
    used: bool | None = None
    in_focus: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MakerFacts:
    """What a maker's note says. Focus areas are in the picture as stored, before its
    orientation is applied; the reader turns them upright once, for all makers."""

    camera_word: CameraWord | None = None
    focus_mode: str | None = None
    area_mode: str | None = None
    drive_mode: str | None = None
    focus_areas: tuple[FocusArea, ...] = ()
    focus_distance_m: float | None = None
    converter_factor: float | None = None
    """1.0 where the note says that there was none; None where it says nothing."""
    converter_name: str | None = None
    lens_name: str | None = None
    lens_short_mm: float | None = None
    lens_long_mm: float | None = None
    lens_widest_at_short: float | None = None
    lens_widest_at_long: float | None = None
    widest_f_number: float | None = None
    body_serial: str | None = None
    iso: float | None = None
    auto_iso: bool | None = None
    file_number: int | None = None
    shot_in_burst: int | None = None
    stabiliser: str | None = None
    missing: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What one file recorded about its exposure, before anything is inferred from it."""

    taken_at: str | None = None
    """Local time of the camera's clock, ISO 8601 with the fraction as recorded."""
    utc_offset: str | None = None
    utc_offset_source: str | None = None
    body_make: str | None = None
    body_model: str | None = None
    body_serial: str | None = None
    lens_name: str | None = None
    lens_short_mm: float | None = None
    lens_long_mm: float | None = None
    lens_widest_at_short: float | None = None
    lens_widest_at_long: float | None = None
    focal_length_mm: float | None = None
    focal_length_35mm_mm: float | None = None
    f_number: float | None = None
    widest_f_number: float | None = None
    """Widest f-number at this focal length, as recorded (MaxApertureValue or the maker's)."""
    iso: float | None = None
    auto_iso: bool | None = None
    exposure_time_s: float | None = None
    exposure_bias_ev: float | None = None
    exposure_program: int | None = None
    exposure_mode: int | None = None
    flash_fired: bool | None = None
    width_px: int | None = None
    """Width of the upright picture in this file."""
    height_px: int | None = None
    recorded_width_px: int | None = None
    """Picture width that the Exif block states, before orientation: differs when resized."""
    recorded_height_px: int | None = None
    orientation: int | None = None
    """The Exif value 1 to 8, kept for the pixel reading; positions here are upright already."""
    pixel_pitch_um: float | None = None
    """From the focal-plane resolution, for the picture as recorded."""
    focus_mode: str | None = None
    area_mode: str | None = None
    drive_mode: str | None = None
    camera_word: CameraWord | None = None
    focus_areas: tuple[FocusArea, ...] = ()
    """Upright. The area that counts is chosen from these by `af_*` below."""
    af_x: float | None = None
    af_y: float | None = None
    af_width: float | None = None
    af_height: float | None = None
    focus_distance_m: float | None = None
    converter_factor: float | None = None
    converter_name: str | None = None
    rating: int | None = None
    keywords: tuple[str, ...] = ()
    software: str | None = None
    file_number: int | None = None
    shot_in_burst: int | None = None
    stabiliser: str | None = None
    missing: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class KitIdentity:
    """What makes a kit: a body, a lens and a converter. None where frames do not say."""

    body_make: str | None
    body_model: str | None
    body_serial: str | None
    """Where frames record none, and file names tell two bodies apart: those, as `frames.kit_names` has it."""
    lens_name: str | None
    converter_factor: float | None
    """1.0 without a converter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownKit(KitIdentity):
    """A kit of the logbook."""

    kit_id: int
    kit_name: str
    """Its full name: `frames.kit_names` gives it, once all kits are known."""


class KitFacts(NamedTuple):
    """The part of a record that tells the kit; a tuple, since frames with the same one have the same kit.

    Its names are those of `Recorded`.
    """

    body_make: str | None
    body_model: str | None
    lens_name: str | None
    lens_short_mm: float | None
    lens_long_mm: float | None
    lens_widest_at_short: float | None
    lens_widest_at_long: float | None
    focal_length_mm: float | None
    focal_length_35mm_mm: float | None
    f_number: float | None
    widest_f_number: float | None
    converter_factor: float | None
    width_px: int | None
    height_px: int | None
    recorded_width_px: int | None
    recorded_height_px: int | None
    pixel_pitch_um: float | None


class CriterionFacts(NamedTuple):
    """What turns the criterion of sharpness into pixels of one frame; None where it is not known."""

    pixel_pitch_um: float | None
    sensor_diagonal_mm: float | None
    converter_factor: float | None
    """1.0 without a converter."""


class Inferred(NamedTuple):
    """What is inferred of one frame without its neighbours: columns of the table `inferred`.

    A tuple, since a scan makes one of every frame.
    """

    taken_at: str | None
    """Local time, a clock that was declared wrong put right; ISO 8601."""
    lens_name: str | None
    focal_length_mm: float | None
    """In effect, as `f_number` is: with the converter."""
    f_number: float | None
    settings_ev: float | None
    light_value_ev: float | None
    """What the settings say of the light, at ISO 100."""
    converter_factor: float | None
    converter_source: str | None
    lens_widest_f_number: float | None
    crop_factor: float | None
    sensor_diagonal_mm: float | None
    pixel_pitch_um: float | None
    forced_push_ev: float | None
    """By how much the converter forced ISO up; the least that it can have been in `forced_push_low_ev`."""
    forced_push_low_ev: float | None
    chosen_ev: float | None
    iso_without_converter: float | None
    excluded: bool
    flags: tuple[FrameFlag, ...]
    missing: dict[str, str]

    @property
    def for_criterion(self) -> CriterionFacts:
        """The part of this that the criterion of sharpness needs."""
        return CriterionFacts(self.pixel_pitch_um, self.sensor_diagonal_mm, self.converter_factor)


class FoundFile(NamedTuple):
    """One file that the folder walk found; a tuple, since a walk makes one of every file."""

    path: str
    """Absolute, with the separators of this system."""
    role: FileRole
    size_bytes: int
    modified_at: str
    """UTC, ISO 8601 with microseconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReading:
    """A file that was read."""

    found: FoundFile
    fingerprint: str
    recorded: Recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFailure:
    """A file (or a folder) that could not be read, and why."""

    path: str
    size_bytes: int | None = None
    """With `modified_at` as it was when it failed; None where not even that is known."""
    modified_at: str | None = None
    stage: str
    reason: str
    error_class: str
