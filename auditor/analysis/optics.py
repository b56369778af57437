"""What optics alone expect of a converter: never the photographer's own record, and told apart from it."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.store.encounter_sums import KitFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedGain:
    """How much finer detail a perfect converter typically makes, colours filled in: 0.1 is a tenth finer."""

    excellent_lens_um: float
    """Blur of a very good lens, in micrometres on the sensor."""
    soft_lens_um: float
    gain_excellent_lens: float
    gain_soft_lens: float


def expected(kit: KitFacts, converter_factor: float) -> ExpectedGain | None:
    """What a perfect converter would gain on this body and lens; None where pixel or f-number is not known.

    Parameters
    ----------
    kit
        Any kit of the body and lens: its widest f-number is that of the bare lens.
    converter_factor
        Of the converter.

    Returns
    -------
    ExpectedGain or None
        For an excellent and for a soft lens.
    """
    from auditor.optics.resolution import EXCELLENT_LENS_UM, SOFT_LENS_UM, expected_gain

    if not kit.pixel_pitch_um or not kit.lens_widest_f_number:
        return None
    excellent, soft = (
        expected_gain(
            kit.lens_widest_f_number, kit.pixel_pitch_um, converter_factor, lens_um, demosaicked=True
        )
        for lens_um in (EXCELLENT_LENS_UM, SOFT_LENS_UM)
    )
    return ExpectedGain(
        excellent_lens_um=EXCELLENT_LENS_UM,
        soft_lens_um=SOFT_LENS_UM,
        gain_excellent_lens=excellent,
        gain_soft_lens=soft,
    )
