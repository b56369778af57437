"""A crop that is too close for the pixels is refused with the closest one that can be asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.analysis.breakdowns import breakdown
from auditor.analysis.criterion import finest_crop, too_fine
from auditor.analysis.findings import findings
from auditor.report.text.outcomes import no_rate
from auditor.settings import Settings
from auditor.store.encounter_sums import KitFacts, known_kits
from auditor.store.logbook import open_logbook
from auditor.words import FocusOutcome, NoRate
from benchmarks.simulated_logbook import Trip, write


def with_sensors(path: Path) -> None:
    """The size of each body's sensor, by its crop factor."""
    with open_logbook(path) as logbook, logbook.writing():
        logbook.execute("UPDATE inferred SET sensor_diagonal_mm = 43.267 / crop_factor")


def test_a_crop_that_is_too_close_gives_no_rate_of_the_remainder(tmp_path: Path) -> None:
    """Frames that may be sharp are unclear at such a crop, and only misses are left: 0 % of some, then."""
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=300))
    with_sensors(path)
    with open_logbook(path) as logbook:
        finest = {kit.kit_id: finest_crop(kit) for kit in known_kits(logbook)}
        assert all(closest is not None and closest >= 1 for closest in finest.values())
        crop = max(closest or 0.0 for closest in finest.values()) + 0.5
        with logbook.writing():
            logbook.execute(
                "UPDATE verdicts SET verdict = 'unclear', verdict_on_subject = 'unclear' WHERE verdict = "
                "'hit'"
            )
        found = findings(logbook, None, Settings(crop=crop))
        assert set(too_fine(known_kits(logbook), crop)) == set(finest)
        assert breakdown(logbook, "light", without=finest) == []
    for answer in found.kits:
        kit = answer.kit
        assert (kit.hit_rate, kit.hit_rate_missing) == (None, NoRate.CRITERION_TOO_FINE)
        assert (kit.judged, kit.hits) == (0, 0)
        assert kit.unclear > 0
        assert kit.finest_crop == finest[kit.kit_id]
        assert f"with the setting crop = {kit.finest_crop:g}" in (no_rate(kit) or "")
        if answer.comparison is not None:
            assert answer.comparison.hits.outcome == FocusOutcome.NOT_ENOUGH_EVIDENCE
            assert answer.comparison.hits.difference is None


def test_at_a_crop_that_pixels_can_tell_nothing_is_refused(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=100))
    with_sensors(tmp_path / "logbook.sqlite")
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        closest = min(finest_crop(kit) or 0.0 for kit in known_kits(logbook))
        found = findings(logbook, None, Settings(crop=closest))
    assert all(answer.kit.hit_rate is not None for answer in found.kits)


def test_the_finest_crop_of_a_body_of_24_megapixels() -> None:
    """Full frame, 6000 px across 36 mm: 43.27 mm / 1500 / 4 is 7.2 um, 1.2 px; over 0.8 px: 1.5 (D)."""
    kit = KitFacts(
        kit_id=1, kit_name="", body_make=None, body_model=None, body_serial=None, lens_name=None,
        converter_factor=1.0, crop_factor=1.0, focal_length_mm=500.0, sensor_diagonal_mm=43.267,
        pixel_pitch_um=6.0, lens_widest_f_number=4.0,
    )  # fmt: skip
    assert finest_crop(kit) == pytest.approx(1.5)
