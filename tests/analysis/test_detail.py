"""What was measured of a kit, put on one scale for all kits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from auditor.analysis.detail import measured_by_kit
from auditor.store import trip_numbers


def test_noise_on_the_animal_is_that_of_the_mean_of_a_patch(monkeypatch: pytest.MonkeyPatch) -> None:
    """The standard error of a mean, s / sqrt(n) (any handbook): of half the side, four times as many fit in.

    Pixels of 25 microradians: 16 in a patch of 100 a side, so noise of 4 levels a pixel is 1 on the patch;
    behind a 2x they are of 12.5, so 64 of them, and 4 is 0.5.
    """
    rows = [
        (kit_id, scene, scene, noise, pixel_urad, 2.0, 10.0)
        for kit_id, pixel_urad in ((1, 25.0), (2, 12.5))
        for scene, noise in enumerate((3.0, 4.0, 20.0))
    ]
    monkeypatch.setattr(trip_numbers, "measured_detail", lambda *_asked: np.array(rows))
    no_logbook: Any = None
    measured = measured_by_kit(no_logbook)
    assert {kit_id: one.noise_on_subject for kit_id, one in measured.items()} == {1: 1.0, 2: 0.5}
    assert measured[2].blurs.blur_urad.tolist() == [25.0] * 3
