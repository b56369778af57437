"""Which kit is the bare one of another, and which kits frame alike."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.store.encounter_sums import KitFacts

ALIKE_VIEW = 0.12
"""Fields of view this close, as a share, frame alike: a third of the step from bare to 1.4x (chosen)."""
SMALLER_SENSOR = 1.15
"""A sensor is smaller where its crop factor is larger by this factor at least (1.3 is the closest sold)."""


def bare_of(kit: KitFacts, kits: Iterable[KitFacts]) -> KitFacts | None:
    """The same body and lens with no converter; None for a bare kit, and where there are no such frames.

    Parameters
    ----------
    kit
        Of the logbook.
    kits
        To look among.

    Returns
    -------
    KitFacts or None
        The first that fits.
    """
    if not kit.converted or kit.lens_name is None:
        return None
    return next((candidate for candidate in kits if _is_bare_of(candidate, kit)), None)


def frame_alike(kit: KitFacts, other_kit: KitFacts) -> bool:
    """Whether a kit with a converter frames as a bare lens does on a smaller sensor.

    Parameters
    ----------
    kit
        With a converter.
    other_kit
        Bare, on a smaller sensor.

    Returns
    -------
    bool
        Where crop factor times focal length differ by no more than ALIKE_VIEW.
    """
    if not kit.converted or other_kit.converter_factor != 1.0:
        return False
    if not (kit.crop_factor and kit.focal_length_mm and other_kit.crop_factor and other_kit.focal_length_mm):
        return False
    views = kit.crop_factor * kit.focal_length_mm, other_kit.crop_factor * other_kit.focal_length_mm
    smaller = other_kit.crop_factor >= SMALLER_SENSOR * kit.crop_factor
    return smaller and abs(views[0] / views[1] - 1) <= ALIKE_VIEW


def _is_bare_of(bare: KitFacts, kit: KitFacts) -> bool:
    return bare.converter_factor == 1.0 and (
        (bare.body_make, bare.body_model, bare.body_serial, bare.lens_name)
        == (kit.body_make, kit.body_model, kit.body_serial, kit.lens_name)
    )
