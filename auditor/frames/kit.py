"""Which kit took a frame: sensor, lens, and the converter between them.

The converter is looked for in this order: declared by the photographer; the maker's note; a
suffix of the lens name; geometry, that is a focal length which the bare lens cannot have.
What cannot be told is `unknown`, never `none`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from math import log2
from operator import attrgetter

from auditor.frames.body_sensor import sensor_of
from auditor.frames.lens import Lens, identify
from auditor.optics import converter
from auditor.optics.converter import MARKED_FACTORS
from auditor.records import KitFacts, Recorded

FOCAL_TOLERANCE = 0.03
"""Cameras round focal lengths, and lenses are a little off their names."""
SIXTH_STOP = 2 ** (1 / 12)
"""As a ratio of f-numbers."""
ZOOM_APERTURE_STOPS = 1 / 4
"""How far a zoom's widest f-number may lie from an even growth between its ends."""

_facts_of = attrgetter(*KitFacts._fields)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What took a frame. `converter_factor` is 1.0 for a bare lens and None when not known."""

    lens: Lens
    converter_factor: float | None
    converter_source: str
    contradiction: bool = False
    focal_length_mm: float | None = None
    """In effect: with the converter."""
    f_number: float | None = None
    widest_low: float | None = None
    """The lens's own widest f-number at this focal length lies from here ..."""
    widest_high: float | None = None
    """... to here: between the ends of a zoom it is not known better."""
    crop_factor: float | None = None
    sensor_diagonal_mm: float | None = None
    pixel_pitch_um: float | None = None
    resized: bool = False
    cropped: bool = False
    missing: dict[str, str] = field(default_factory=dict)


def infer(
    recorded: Recorded,
    *,
    declared_factor: float | None = None,
    declared_diagonal_mm: float | None = None,
) -> Kit:
    """The kit of one frame from what was recorded and declared.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    declared_factor
        Converter that the photographer says was mounted; 1.0 for none.
    declared_diagonal_mm
        Of the body's full sensor.

    Returns
    -------
    Kit
        Body, lens and converter, with a reason for each that cannot be told.
    """
    return _inferred(KitFacts._make(_facts_of(recorded)), declared_factor, declared_diagonal_mm)


@lru_cache(maxsize=4096)  # a trip has few kits, each at few focal lengths and f-numbers
def _inferred(recorded: KitFacts, declared_factor: float | None, declared_diagonal_mm: float | None) -> Kit:
    lens = identify(recorded)
    factor, source = _converter(recorded, lens, declared_factor)
    missing: dict[str, str] = {}
    focal_mm, f_number = recorded.focal_length_mm, recorded.f_number
    if source == "declared" and factor is not None and not _seen_by_camera(recorded, lens, factor):
        focal_mm = focal_mm * factor if focal_mm else None
        f_number = f_number * factor if f_number else None
    low, high = _widest(recorded, lens, focal_mm, factor or 1.0)
    contradiction = source == "contradiction" or (
        factor is not None
        and low is not None
        and f_number is not None
        and converter.contradicts(f_number, low, factor)
    )
    if contradiction:
        factor, source = None, "unknown"
    if factor is None:
        missing["converter_factor"] = _why_unknown(lens, contradiction)
    if low is None or low != high:
        missing["lens_widest_f_number"] = "needs_lens" if lens.long_mm is None else "needs_lens_widest"
    behind = sensor_of(recorded, declared_diagonal_mm=declared_diagonal_mm)
    return Kit(
        lens=lens,
        converter_factor=factor,
        converter_source=source,
        contradiction=contradiction,
        focal_length_mm=focal_mm,
        f_number=f_number,
        widest_low=low,
        widest_high=high,
        crop_factor=behind.crop_factor,
        sensor_diagonal_mm=behind.diagonal_mm,
        pixel_pitch_um=behind.pixel_pitch_um,
        resized=behind.resized,
        cropped=behind.cropped,
        missing=missing | behind.missing,
    )


def refuses(recorded: Recorded | KitFacts, declared_factor: float) -> bool:
    """Whether a frame records a converter by which the declared one cannot be.

    A body that notes "no converter" refuses nothing: one that does not report itself is noted just so.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    declared_factor
        What the photographer says was mounted; 1.0 for none.

    Returns
    -------
    bool
        True where the camera saw another converter.
    """
    recorded_factor = _from_file(recorded, identify(recorded))
    return recorded_factor is not None and abs(recorded_factor[0] / declared_factor - 1) > FOCAL_TOLERANCE


def _from_file(recorded: Recorded | KitFacts, lens: Lens) -> tuple[float, str] | None:
    """A converter that the file names, or that alone explains its focal length; None without such."""
    if recorded.converter_factor is not None and recorded.converter_factor > 1:
        return converter.marked_factor(recorded.converter_factor) or recorded.converter_factor, "maker_note"
    if lens.suffix_factor is not None:
        return lens.suffix_factor, "lens_name"
    factor, source = _by_geometry(recorded, lens)
    return (factor, source) if factor is not None and source == "geometry" else None


def _converter(recorded: KitFacts, lens: Lens, declared: float | None) -> tuple[float | None, str]:
    if declared is not None and not refuses(recorded, declared):
        return declared, "declared"
    by_file = _from_file(recorded, lens)
    if by_file is not None:
        return by_file
    factor, source = _by_geometry(recorded, lens)
    if source == "unknown" and recorded.converter_factor == 1:
        # The note says that there was none, and nothing in the numbers speaks against it.
        return 1.0, "maker_note"
    return factor, source


def _by_geometry(recorded: Recorded | KitFacts, lens: Lens) -> tuple[float | None, str]:
    focal_mm = recorded.focal_length_mm
    if focal_mm is None or lens.long_mm is None or lens.short_mm is None:
        return None, "unknown"
    reach = focal_mm / lens.long_mm
    if reach > 1 + FOCAL_TOLERANCE:
        return _beyond_the_long_end(recorded, lens, reach)
    if lens.is_prime or focal_mm < lens.short_mm * min(MARKED_FACTORS) * (1 - FOCAL_TOLERANCE):
        return 1.0, "none"
    # Inside a zoom's range: only an aperture too wide for any 1.4x shows that there was none.
    widest_seen = min(
        (number for number in (recorded.widest_f_number, recorded.f_number) if number), default=None
    )
    if widest_seen and lens.widest_at_short and widest_seen * SIXTH_STOP < lens.widest_at_short * 1.4:
        return 1.0, "none"
    return None, "unknown"


def _beyond_the_long_end(recorded: Recorded | KitFacts, lens: Lens, reach: float) -> tuple[float | None, str]:
    """Which converter takes the lens to a focal length beyond its own long end."""
    near = [factor for factor in MARKED_FACTORS if abs(reach / factor - 1) <= FOCAL_TOLERANCE]
    far_enough = [factor for factor in MARKED_FACTORS if factor > reach * (1 - FOCAL_TOLERANCE)]
    possible = near if lens.is_prime else far_enough
    fitting = _fitting_aperture(recorded, lens, possible)
    if fitting is None:  # the aperture says nothing: the focal length must be enough
        fitting = near
    elif near and not fitting:
        return None, "contradiction"
    for candidates in (fitting, [factor for factor in fitting if factor in near]):
        if len(candidates) == 1:
            return candidates[0], "geometry"
    return None, "unknown"


def _fitting_aperture(recorded: Recorded | KitFacts, lens: Lens, factors: list[float]) -> list[float] | None:
    """The factors that explain the recorded widest f-number; None where it cannot tell them apart."""
    widest, focal_mm = recorded.widest_f_number, recorded.focal_length_mm
    if widest is None or focal_mm is None or lens.widest_at_short is None or lens.widest_at_long is None:
        return None
    if lens.widest_at_short / SIXTH_STOP <= widest <= lens.widest_at_long * SIXTH_STOP:
        return None  # some bodies record the lens's own widest f-number, converter or not
    return [
        factor
        for factor in factors
        if abs(2 * log2(widest / (factor * _widest_near(lens, focal_mm / factor)))) <= ZOOM_APERTURE_STOPS
    ]


def _widest_near(lens: Lens, bare_mm: float) -> float:
    """The widest f-number of a zoom at a focal length, taken to grow evenly from end to end."""
    short, long_ = lens.short_mm, lens.long_mm
    at_short, at_long = lens.widest_at_short or 0.0, lens.widest_at_long or 0.0
    if not short or not long_ or short == long_:
        return at_long
    share = min(1.0, max(0.0, log2(bare_mm / short) / log2(long_ / short)))
    return float(at_short * (at_long / at_short) ** share)


def _seen_by_camera(recorded: KitFacts, lens: Lens, factor: float) -> bool:
    """Whether the recorded focal length has the declared converter in it already."""
    if factor == 1 or recorded.focal_length_mm is None:
        return True
    noted = recorded.converter_factor or lens.suffix_factor
    if noted is not None and noted > 1:
        return True
    return _by_geometry(recorded, lens)[1] == "geometry"


def _widest(
    recorded: KitFacts, lens: Lens, focal_mm: float | None, factor: float
) -> tuple[float | None, float | None]:
    """Bounds on the lens's own widest f-number at the focal length that it was set to."""
    at_short, at_long = lens.widest_at_short, lens.widest_at_long
    if at_short is None or at_long is None:
        # Without a converter the recorded value can only be the lens's own.
        own = recorded.widest_f_number if factor == 1 else None
        return own, own
    if at_short == at_long or focal_mm is None or lens.short_mm is None or lens.long_mm is None:
        return at_short, at_long
    bare_mm = focal_mm / factor
    if bare_mm <= lens.short_mm * (1 + FOCAL_TOLERANCE):
        return at_short, at_short
    if bare_mm >= lens.long_mm * (1 - FOCAL_TOLERANCE):
        return at_long, at_long
    if recorded.widest_f_number is not None:
        own = recorded.widest_f_number / factor
        if at_short / SIXTH_STOP <= own <= at_long * SIXTH_STOP:
            return own, own
    return at_short, at_long


def _why_unknown(lens: Lens, contradiction: bool) -> str:
    if contradiction:
        return "contradiction"
    return "needs_lens" if lens.long_mm is None else "zoom_in_range"
