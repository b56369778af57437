"""Every word that the logbook stores in place of a sentence, each with what it means.

The words are promised to other programs (docs/logbook.md): they are only ever added. A member is
the text itself, so that it goes into the logbook, into JSON and into comparisons as it is.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Self


class Word(StrEnum):
    """A stored word. `description` says what it means, as a phrase that can follow a colon."""

    description: str

    def __new__(cls, value: str, description: str = "") -> Self:
        """A member from its text and its meaning; or, by its text alone, the member that it is."""
        word = str.__new__(cls, value)
        word._value_ = value
        word.description = description
        return word


class Verdict(Word):
    """Whether a frame is in focus: columns `verdict` and `verdict_on_subject`."""

    HIT = "hit", "sharp enough at the focus area"
    MISS = "miss", "not sharp enough at the focus area"
    UNCLEAR = "unclear", "nothing decides whether it is sharp enough"


class VerdictSource(Word):
    """What decided a verdict: column `verdict_source`."""

    PIXELS = "pixels", "the blur measured at the focus area"
    SCENE = "scene", "the frames of the same scene, read together"
    CAMERA_WORD = "camera_word", "what the camera recorded about focus"
    NOTHING_RECORDED = "nothing_recorded", "neither the pixels nor the camera tell"


class CameraWord(Word):
    """What the camera recorded about focus: column `camera_word`.

    A focus area that was merely used is a place, not a confirmation: `silent`.
    """

    CONFIRMED = "confirmed", "the camera says that it found focus"
    NOT_CONFIRMED = "not_confirmed", "the camera says that it did not find focus"
    MANUAL = "manual", "focused by hand"
    SILENT = "silent", "autofocus was used, and the camera does not say whether it found focus"


class BlurKind(Word):
    """What the pixels show: column `blur_kind`."""

    SHARP = "sharp", "sharp at the focus area"
    SOFT = "soft", "blurred alike in all directions: out of focus, or air and noise reduction"
    SMEARED = "smeared", "blurred by motion, in one direction"
    ELSEWHERE = "elsewhere", "another part of the picture is clearly sharper than the focus area"
    UNDETERMINED = "undetermined", "the pixels cannot tell"


class PictureSource(Word):
    """What was decoded to measure a frame: column `measured_on`."""

    JPEG = "jpeg", "a JPEG file"
    EMBEDDED = "embedded", "the JPEG inside a raw file"
    DEVELOPED = "developed", "a raw file, developed at half size"
    HEIF = "heif", "a HEIF or AVIF file"
    TIFF = "tiff", "a TIFF file"


class ConverterSource(Word):
    """Where the converter factor comes from: column `converter_source`."""

    MAKER_NOTE = "maker_note", "the maker's note says so"
    LENS_NAME = "lens_name", "the lens name ends in the converter's"
    GEOMETRY = "geometry", "the bare lens cannot have this focal length or f-number"
    DECLARED = "declared", "you declared it"
    NONE = "none", "there was none"
    UNKNOWN = "unknown", "it cannot be told"


class FrameFlag(Word):
    """Flags on frames: column `flags`."""

    BEYOND_FOCUS_LIMIT = (
        "beyond_focus_limit",
        "the lens wide open, behind its converter, is darker than the f-number to which the body still "
        "focuses (declared)",
    )
    CONVERTER_UNKNOWN = (
        "converter_unknown",
        "what the file says of lens, f-number and converter contradicts itself",
    )
    CROPPED_IN_CAMERA = (
        "cropped_in_camera",
        "the camera kept a part of its sensor: pixel pitch and full sensor are the body's own all the same",
    )
    FOCUS_ELSEWHERE = "focus_elsewhere", "another part of the picture is clearly sharper than the focus area"
    INCOMPLETE = "incomplete", "the file is cut short: a part of the picture is missing"
    ISO_PUSHED = (
        "iso_pushed",
        "the converter forced ISO above the ceiling (6400 full frame, 3200 smaller) and the bare lens would "
        "have stayed below it",
    )
    RESIZED = "resized", "the picture was made smaller or larger: it has no pixel pitch"
    SMEARED = "smeared", "blurred by motion"
    WORDS_DISAGREE = "words_disagree", "the camera's word and the pixels contradict each other"


class KitFlag(Word):
    """Flags on kits."""

    HIT_RATE_FELL = "hit_rate_fell", "fewer frames in focus than with the bare lens in like conditions"
    NO_DETAIL_GAIN = "no_detail_gain", "no finer detail worth having over a crop of the bare frame"
    FELL_DURING_TRIP = "fell_during_trip", "a stretch of the trip has fewer frames in focus than the rest"


class FocusOutcome(Word):
    """What a comparison of hit rates says: a kit against its bare lens in like conditions."""

    NOT_ENOUGH_EVIDENCE = "not enough evidence", "too few encounters of either kit could be compared"
    FELL = "fell", "fewer frames in focus than with the bare lens, beyond chance"
    FEWER_HITS = "fewer hits", "as sure as fell, but no distance is known: farther animals could explain it"
    NO_FALL = "no fall beyond 10 points", "the interval leaves no room for a fall of more than 10 points"
    INCONCLUSIVE = "inconclusive", "enough encounters, but the interval leaves both open"


class DetailOutcome(Word):
    """What a comparison of detail says: a kit against its bare lens, as an angle on the subject."""

    NOT_ENOUGH_EVIDENCE = "not enough evidence", "too few scenes of either kit could be compared"
    GAIN = "gain", "finer detail on the subject, beyond chance"
    NO_GAIN = "no_detail_gain", "the interval leaves no room for a gain worth having"
    INCONCLUSIVE = "inconclusive", "enough scenes, but the interval leaves both open"


class NoRate(Word):
    """Why a kit has no hit rate: key `hit_rate_missing` of the kit table."""

    NO_TIME = "no_time", "its judged frames have no time, so they are in no encounter"
    NOTHING_DECIDED = "nothing_decided", "neither the pixels nor the camera decide any of these frames"
    CONVERTER_UNKNOWN = (
        "converter_unknown",
        "whether a converter was on is not known, so its frames cannot be judged by one angle with others",
    )
    CRITERION_TOO_FINE = (
        "criterion_too_fine",
        "at the crop of your settings, what counts as sharp is finer than these pixels can tell",
    )
    TOO_FEW_ENCOUNTERS = "too_few_encounters", "fewer than 3 encounters: too few for an interval"


class Advice(Word):
    """What to do with a kit next time, no stronger than focus and detail together allow."""

    WORTH_ITS_COST = "worth_its_cost", "finer detail, and no fall beyond 10 points"
    FOR_STILL_ANIMALS = "for_still_animals", "finer detail, but fewer frames in focus"
    LEAVE_IT_OFF = "leave_it_off", "fewer frames in focus, and no finer detail worth having"
    LEAVE_IT_OFF_UNLESS_NEEDED_TO_AIM = (
        "leave_it_off_unless_needed_to_aim",
        "fewer frames in focus; whether detail is finer is not settled",
    )
    LEAVE_IT_OFF_IN_LOW_LIGHT = (
        "leave_it_off_in_low_light",
        "no fall beyond 10 points, but no finer detail worth having",
    )
    USE_IT_IN_GOOD_LIGHT = (
        "use_it_in_good_light",
        "no fall beyond 10 points; whether detail is finer is not settled",
    )
    COSTS_FOCUS = "costs_focus", "fewer frames in focus; too little was measured to compare detail"
    SHOWS_MORE = "shows_more", "finer detail; whether it costs focus is not settled"
    CROP_SHOWS_AS_MUCH = (
        "crop_shows_as_much",
        "no finer detail worth having; whether it costs focus is not settled",
    )
    COSTS_LITTLE_FOCUS = (
        "costs_little_focus",
        "no fall beyond 10 points; too little was measured to compare detail",
    )
    NOT_SETTLED = "not_settled", "neither focus nor detail is settled"
    NEVER_USED_BARE = "never_used_bare", "no frames of the same body and lens bare to compare with"
    NO_CONVERTER = "no_converter", "a bare kit: nothing to advise"


class ReadingFlag(Word):
    """What to know of a reading of the pixels: column `reading_flags`."""

    FOUND_NOT_RECORDED = (
        "found_not_recorded",
        "no focus area was recorded: the part with the strongest detail was read",
    )
    ONE_OF_AREAS = "one_of_areas", "several focus areas: the one with the strongest detail was read"
    PART_OF_AREA = (
        "part_of_area",
        "the focus area is large: its part with the strongest detail was read",
    )
    CORE_OF_AREA = (
        "core_of_area",
        "the middle of the focus area tells more than what lies around it: it alone was read",
    )
    SHARPER_AROUND = (
        "sharper_around",
        "what lies around the focus area is much sharper than the focus area itself",
    )
    SUBJECT_FOUND = (
        "subject_found",
        "what stands out from its background at the focus area was read, not all of the area",
    )
    AREA_MOSTLY_BACKGROUND = (
        "area_mostly_background",
        "the focus area is mostly background, and what stands out lies beside it",
    )
    ONLY_THIN_SHARP = (
        "only_thin_sharp",
        "only something thin is sharp in the focus area: a twig before the animal, or a thin animal",
    )
    SHARP_BESIDE_AREA = (
        "sharp_beside_area",
        "what the focus area is on is soft there, and sharp beside it",
    )
    TRUNCATED = "truncated", "the file is cut short: only a part of the picture could be decoded"
    HALF_SIZE = "half_size", "a raw was developed at half size"
    SMALL_PREVIEW = "small_preview", "only a small picture inside the raw could be decoded"
    REGION_TOO_SMALL = "region_too_small", "fewer than 64 px to a side"
    TOO_LITTLE_TEXTURE = "too_little_texture", "too little texture in the focus area, or too much noise"
    NEAR_CRITERION = "near_criterion", "near the limit: sharp at a small print, soft at a large one"


class MissingReason(Word):
    """Why a column is NULL, or a verdict unclear: the values of column `missing`."""

    NOT_RECORDED = "not_recorded", "the file does not say"
    NOT_READ_YET = "not_read_yet", "this version does not read it from this kind of file"
    NOT_MEASURED = "not_measured", "no pixels were measured for this frame"
    OUT_OF_RANGE = "out_of_range", "the file gives a value that cannot be true"
    FLASH = "flash", "flash lit the subject, so the settings do not show the light"
    MANUAL_EXPOSURE = "manual_exposure", "exposure was set by hand, so the settings do not show the light"
    NEEDS_EXPOSURE = "needs_exposure", "f-number, exposure time or ISO is not known"
    NEEDS_CONVERTER = "needs_converter", "the converter is not known"
    NEEDS_LENS_WIDEST = (
        "needs_lens_widest",
        "the widest f-number of the lens at this focal length is not known",
    )
    NEEDS_SENSOR = "needs_sensor", "the size of the sensor is not known"
    NEEDS_PIXEL_SIZE = "needs_pixel_size", "the size of a pixel on the sensor is not known"
    CONTRADICTION = "contradiction", "what the file says of the lens and its converter contradicts itself"
    ZOOM_IN_RANGE = (
        "zoom_in_range",
        "a zoom inside its own range: a converter that stays silent cannot be told",
    )
    NO_CONVERTER = "no_converter", "there was no converter"
    NEEDS_LENS = "needs_lens", "the lens is not known"
    NEEDS_TIME = "needs_time", "the file does not say when it was taken, so it is in no group"
    EXCLUDED = "excluded", "you declared that this frame is to be left out"
    RESIZED = "resized", "the picture was resized: its pixels are not the sensor's"
    AT_INFINITY = "at_infinity", "the camera says that it was focused at infinity"
    DAMAGED = "damaged", "the part of the file that would say it is damaged"
    MAKER_NOTE_UNREADABLE = (
        "maker_note_unreadable",
        "the maker's note is damaged, or of a form that is not read",
    )
    NEEDS_FOCAL_LENGTH = "needs_focal_length", "the focal length is not known"
    CUT_SHORT = "cut_short", "the file is cut short"
    UNDECODABLE = "undecodable", "its picture is damaged and cannot be decoded"
    REGION_TOO_SMALL = "region_too_small", "too few pixels at the focus area to tell blur"
    TOO_LITTLE_TEXTURE = "too_little_texture", "too little texture in the focus area, or too much noise"
    NEAR_CRITERION = "near_criterion", "near the limit: sharp at a small print, soft at a large one"
    AREA_MOSTLY_BACKGROUND = "area_mostly_background", "the focus area is mostly background"
    ONLY_THIN_SHARP = (
        "only_thin_sharp",
        "only something thin is sharp in the focus area: a twig before the animal, or a thin animal",
    )
    SHARP_BESIDE_AREA = (
        "sharp_beside_area",
        "what the focus area is on is soft there, and sharp beside it",
    )
    FINER_THAN_MEASURABLE = (
        "finer_than_measurable",
        "the blur that counts as sharp is finer than these pixels can tell",
    )
    SEVERAL_FOCUS_AREAS = (
        "several_focus_areas",
        "several focus areas, and the camera does not say which one it used",
    )


WHY_UNCLEAR = (
    MissingReason.AREA_MOSTLY_BACKGROUND,
    MissingReason.ONLY_THIN_SHARP,
    MissingReason.SHARP_BESIDE_AREA,
    MissingReason.REGION_TOO_SMALL,
    MissingReason.TOO_LITTLE_TEXTURE,
)
"""What measuring may have noted of a frame that stays unclear, the most telling first. Where it noted none of
them, the blur is near the limit."""


class FileRole(Word):
    """What a file is to its frame: column `role` of frame_files."""

    RAW = "raw", "a raw file"
    JPEG = "jpeg", "a JPEG file of the camera"
    HEIF = "heif", "a HEIF or AVIF file of the camera"
    TIFF = "tiff", "a TIFF file of the camera"
    SIDECAR = "sidecar", "an XMP sidecar"
    EDITED = "edited", "a copy that other software wrote or resized"


class Choice(Word):
    """What the photographer chose by eye: column `chosen`, NULL while undecided."""

    KEEP = "keep", "you chose to keep this frame"
    LEAVE = "leave", "you chose to leave this frame"


REGISTRY: tuple[type[Word], ...] = (
    Verdict, VerdictSource, CameraWord, BlurKind, PictureSource, ConverterSource, FrameFlag, KitFlag,
    FocusOutcome, DetailOutcome, NoRate, Advice, ReadingFlag, MissingReason, FileRole,
    Choice,
)  # fmt: skip
"""Every kind of word."""
