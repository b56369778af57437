"""auditor.toml: read, or refused with file, line and key."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.errors import SettingsError
from auditor.settings import Settings, load


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "auditor.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_no_file_means_the_defaults(tmp_path: Path) -> None:
    assert load(tmp_path / "auditor.toml") == Settings()


def test_a_setting_is_taken(tmp_path: Path) -> None:
    settings = load(written(tmp_path, "trip_gap_h = 48\n"))
    assert settings == Settings(trip_gap_h=48.0)
    assert settings.stamp != Settings().stamp


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("burst_gap_s = 1\nburst_gab_s = 2\n", "line 2: burst_gab_s is no setting"),
        ("\n\ncrop = 'wide'\n", "line 3: crop"),
        ("crop = 0\n", "line 1: crop"),
        ("crop = true\n", "must be a positive number"),
        ("crop = nan\n", "must be a positive number"),
        ("crop = inf\n", "must be a positive number"),
        ("crop = \n", "not valid TOML"),
        ("[burst]\ngap = 1\n", "line 1: burst is no setting"),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        load(written(tmp_path, text))
