"""What one kit would give on one outing, by optics alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditor.optics.converter import darker_than
from auditor.optics.depth_of_field import depth_of_field
from auditor.optics.detail_and_noise import ROSE_THRESHOLD, finest_detail_per_um
from auditor.optics.exposure import iso_needed
from auditor.optics.motion_blur import hand_held_shutter_s, shutter_for_motion_s
from auditor.optics.resolution import Chain
from auditor.optics.sensor import criterion_diameter_um, mm_per_px
from auditor.planning.gear import PlannedKit
from auditor.planning.outing import Outing

ELECTRONS_PER_UM2 = 150.0
"""Caught at ISO 100 from mid-grey on a square um: an exposure of 0.1 lx s (ISO 12232, 10 / S, R), some 8,000
photons of white light a lx s and um2, and a third of them counted behind the colour filters (D, rounded)."""
READ_NOISE_E = 2.0
"""Of a present sensor at the ISO of wildlife (assumed)."""
LENS_SIGMA_UM = 2.5
"""Blur of a good long lens on the sensor (assumed; a very good one has 1.5, a soft one 6)."""
CONVERTER_SIGMA_UM = 1.5
"""Blur that a good converter adds at the sensor (assumed)."""
STABILISER_STOPS = 3.0
"""Hand-held or on a bean bag with a stabiliser (assumed): the reciprocal rule, three stops slower."""
PATCH_MM = 5.0
FILLS = 0.9
"""An animal longer than this share of the frame's width is cut off too easily."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """A kit on an outing."""

    kit: PlannedKit
    view_width_m: float
    """Width of the frame at the animal's distance."""
    view_height_m: float
    animal_px: float
    """Length of the animal in the picture."""
    animal_height_px: float | None
    """Its height in the picture; None where that is not known."""
    frame_share: float
    """Of the side of the frame that the animal fills most, the camera held as suits better; of its width
    where only the animal's length is known."""
    width_px: float
    """Of the frame, its longer side."""
    cropped_px: float
    """Of it left when it is cropped to what the longest kit of this lens and body shows; the animal keeps its
    pixels."""
    f_number: float
    beyond_focus_limit: bool | None
    """Whether the lens wide open is darker than the body focuses with; None where that is not declared."""
    exposure_time_s: float
    iso: float
    """Needed at that shutter speed, the lens wide open, not under the base ISO."""
    over_ceiling: bool
    noise_share: float
    """Noise over signal of a mid-grey patch of PATCH_MM on the animal, whatever the size of the pixels."""
    depth_of_field_m: float
    shutter_for_motion_s: float
    """Longest exposure in which the animal moves less than what counts as sharp; infinite at rest."""
    finest_detail_mm: float | None
    """Width of the finest bars that can be seen on the animal; None where light is too low for any."""

    @property
    def fits(self) -> bool:
        """Whether the animal is wholly in the frame."""
        return self.frame_share <= FILLS


def outlook(
    kit: PlannedKit,
    outing: Outing,
    *,
    threshold: float = ROSE_THRESHOLD,
) -> Outlook:
    """What optics expect of a kit, the lens wide open.

    Parameters
    ----------
    kit
        That would be mounted.
    outing
        Animal, distance, light and shutter.
    threshold
        Signal over noise from which bars can be told apart.

    Returns
    -------
    Outlook
        ISO, motion, field and the finest detail on the animal.

    Raises
    ------
    ValueError
        for an animal nearer than the lens forms an image.
    """
    focal, distance_mm = kit.focal_length_mm, outing.distance_m * 1000
    if distance_mm <= 4 * kit.lens.focal_length_mm:
        raise ValueError(
            f"distance_m must be over four focal lengths of the lens ({0.004 * kit.lens.focal_length_mm:g} m "
            f"for {kit.lens.name}), not {outing.distance_m:g}"
        )
    scale_mm = mm_per_px(distance_mm, focal, kit.body.pixel_pitch_um)
    view_mm = kit.body.width_mm * 1000 / kit.body.pixel_pitch_um * scale_mm
    # One angle for all kits: what counts as sharp on the bare lens of the same body.
    circle_um = criterion_diameter_um(kit.body.sensor_diagonal_mm)
    f_number = kit.widest_f_number
    still_s, exposure_s, iso = _exposure(kit, outing, circle_um)
    noise_share, finest_mm = _noise_and_detail(kit, outing, exposure_s, threshold)
    sharp = depth_of_field(focal, f_number, distance_mm, circle_um / 1000 * kit.converter_factor)
    limit = kit.body.focus_limit_f_number
    beyond = None if limit is None else darker_than(limit, kit.lens.widest_f_number, kit.converter_factor)
    return Outlook(
        kit=kit,
        view_width_m=view_mm / 1000,
        view_height_m=view_mm / 1000 * kit.body.height_mm / kit.body.width_mm,
        animal_px=outing.length_m * 1000 / scale_mm,
        animal_height_px=None if outing.height_m is None else outing.height_m * 1000 / scale_mm,
        frame_share=_frame_share(outing, view_mm / 1000, kit.body.height_mm / kit.body.width_mm),
        width_px=view_mm / scale_mm,
        cropped_px=view_mm / scale_mm * min(1.0, focal / max(kit.longest_mm, focal)),
        f_number=f_number,
        beyond_focus_limit=beyond,
        exposure_time_s=exposure_s,
        iso=iso,
        over_ceiling=kit.body.iso_ceiling is not None and iso > kit.body.iso_ceiling,
        noise_share=noise_share,
        depth_of_field_m=sharp.depth_mm / 1000,
        shutter_for_motion_s=still_s,
        finest_detail_mm=finest_mm,
    )


def _exposure(kit: PlannedKit, outing: Outing, circle_um: float) -> tuple[float, float, float]:
    """The longest exposure that holds the animal's movement, the exposure that is set, and its ISO."""
    still_s = shutter_for_motion_s(
        outing.speed_m_s, circle_um / kit.body.pixel_pitch_um, kit.lens.focal_length_mm,
        outing.distance_m, kit.body.pixel_pitch_um,
    )  # fmt: skip
    held_s = hand_held_shutter_s(kit.focal_length_mm, STABILISER_STOPS)
    exposure_s = outing.exposure_time_s or min(still_s, held_s)
    needed = iso_needed(outing.light_ev, kit.widest_f_number, exposure_s)
    if needed < kit.body.base_iso:  # more light than the base ISO takes: a shorter exposure
        exposure_s *= needed / kit.body.base_iso
    return still_s, exposure_s, max(needed, kit.body.base_iso)


def _noise_and_detail(
    kit: PlannedKit, outing: Outing, exposure_s: float, threshold: float
) -> tuple[float, float | None]:
    """Noise over signal of a patch on the animal, and the width of the finest bars that can be told, mm."""
    lens_n = kit.lens.widest_f_number
    caught = ELECTRONS_PER_UM2 * 2**outing.light_ev * exposure_s / lens_n**2
    chain = Chain(
        f_number=lens_n,
        lens_sigma_um=LENS_SIGMA_UM if kit.lens.sigma_um is None else kit.lens.sigma_um,
        pixel_pitch_um=kit.body.pixel_pitch_um,
        converter_factor=kit.converter_factor,
        converter_sigma_um=_converter_blur_um(kit),
    )
    finest = finest_detail_per_um(
        chain,
        electrons_per_um2=caught,
        read_noise_e=READ_NOISE_E,
        contrast=outing.contrast,
        threshold=threshold,
    )
    on_animal = mm_per_px(outing.distance_m * 1000, kit.lens.focal_length_mm, 1.0)
    patch_um2 = (PATCH_MM / on_animal) ** 2
    patch_e = caught * patch_um2
    noise_e = math.sqrt(patch_e + READ_NOISE_E**2 * patch_um2 / chain.pixel_um**2)
    return noise_e / patch_e, on_animal / (2 * finest) if finest > 0 else None


def _frame_share(outing: Outing, width_m: float, height_over_width: float) -> float:
    if outing.height_m is None:
        return outing.length_m / width_m
    height_m = width_m * height_over_width
    level = max(outing.length_m / width_m, outing.height_m / height_m)
    upright = max(outing.length_m / height_m, outing.height_m / width_m)
    return min(level, upright)


def _converter_blur_um(kit: PlannedKit) -> float:
    if kit.converter_factor == 1:
        return 0.0
    return CONVERTER_SIGMA_UM if kit.converter_sigma_um is None else kit.converter_sigma_um
