"""What measuring would have read in the invented earlier frames, of which there are no pixels.

The readings err in the ways that real ones do, by amounts that were chosen: an animal's texture shifts all
frames of an encounter, each frame errs by itself, and of blurs under a pixel less than their whole ratio is
read.
"""

from __future__ import annotations

import math
from random import Random
from statistics import NormalDist

from auditor.demo.gear import Kit
from auditor.optics.sensor import criterion_sigma_px
from auditor.store.readings import Reading, WaitingFrame
from auditor.words import BlurKind, PictureSource

SPREAD_BY_ANIMAL, SPREAD_BY_FRAME = 0.08, 0.05
"""Standard deviations of the logarithm of what is read."""
BENDS_BELOW_PX, SLOPE = 1.2, 0.8
"""Below it the logarithm of a blur is read with this slope: the bare lens's 0.44 px as 0.54,
the 2x's 0.85 px as 0.91."""
HIT_SHARE = 0.25
"""Blur of a hit beyond the kit's own, as a share of the limit on the subject: a half-normal's spread."""
MISSED_FROM, MISSED_TO = 1.4, 4.0
"""Blur of a miss, in limits on the subject."""
UNSURE, UNSURE_OF_SHARP = 0.15, 0.3
"""Spread of the logarithm that a reading states of itself, and that of one under a pixel or so."""


def invented_reading(
    chance: Random, frame: WaitingFrame, kit: Kit, *, hit: bool, animal_reads: float
) -> Reading:
    """A reading of a frame, of the present version.

    Parameters
    ----------
    hit
        Whether the frame is in focus by the limit on the subject.
    animal_reads
        Logarithm of what the animal's texture adds to every reading of it.

    Returns
    -------
    Reading
        Without a picture of the focus area, and without a spectrum.
    """
    from auditor.focus.network import LEVELS
    from auditor.focus.sharpness import CAMERA_BLUR_PX, VERSION

    read_px = _system_read_px(chance, kit, hit=hit, animal_reads=animal_reads)
    # The least is what sharp frames read: nothing is read as no blur at all.
    sigma_px = math.sqrt(max(read_px**2 - CAMERA_BLUR_PX**2, 0.25**2))
    unsure = UNSURE_OF_SHARP if sigma_px < BENDS_BELOW_PX else UNSURE
    quantiles_px = tuple(sigma_px * math.exp(unsure * NormalDist().inv_cdf(level)) for level in LEVELS)
    return Reading(
        frame_id=frame.frame_id,
        measured_on=PictureSource.JPEG,
        reading_version=VERSION,
        fingerprint=frame.fingerprint,
        scale=1.0,
        region={"x": 0.5, "y": 0.5, "width": 0.1, "height": 0.15},
        sigma_px=sigma_px,
        sigma_low_px=quantiles_px[0],
        sigma_high_px=quantiles_px[-1],
        system_sigma_px=read_px,
        noise=0.3 * math.sqrt((frame.iso or 400) / 400),
        texture=0.8,
        kind=BlurKind.SHARP if hit else BlurKind.SOFT,
        quantiles_px=quantiles_px,
    )


def _system_read_px(chance: Random, kit: Kit, *, hit: bool, animal_reads: float) -> float:
    body, factor = kit.body, kit.factor
    # By one angle: the same defocus on the animal is larger in pixels behind a converter.
    limit_px = factor * criterion_sigma_px(body.sensor_diagonal_mm, body.pixel_pitch_um)
    if hit:
        defocus_px = limit_px * min(abs(chance.gauss(0, HIT_SHARE)), 0.6)
    else:
        defocus_px = limit_px * chance.uniform(MISSED_FROM, MISSED_TO)
    true_px = math.hypot(kit.system_sigma_px, defocus_px)
    errs = animal_reads + chance.gauss(0, SPREAD_BY_FRAME)
    if true_px < BENDS_BELOW_PX:
        true_px = BENDS_BELOW_PX * (true_px / BENDS_BELOW_PX) ** SLOPE
    return true_px * math.exp(errs)
