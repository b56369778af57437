"""auditor.toml: read, or refused with file, line and key."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from auditor.errors import SettingsError
from auditor.settings import BOUNDS, GROUPING, JUDGING, Settings, load


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "auditor.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_no_file_means_the_defaults(tmp_path: Path) -> None:
    assert load(tmp_path / "auditor.toml") == Settings()


def test_a_setting_is_taken(tmp_path: Path) -> None:
    settings = load(written(tmp_path, "trip_gap_h = 48\n"))
    assert settings == Settings(trip_gap_h=48.0)
    assert settings.stamp_of(GROUPING) != Settings().stamp_of(GROUPING)
    assert settings.stamp_of(JUDGING) == Settings().stamp_of(JUDGING)


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    assert load(written(tmp_path, "\ufefftrip_gap_h = 48\n")) == Settings(trip_gap_h=48.0)


def test_the_page_states_default_and_bounds_of_each_setting() -> None:
    text = (Path(__file__).parents[1] / "docs" / "settings.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\w+) \| ([\d.]+) \| ([\d.]+) \| ([\d.]+) \|", text, re.MULTILINE)
    told = {name: tuple(map(float, values)) for name, *values in rows}
    assert told == {name: (getattr(Settings(), name), *bounds) for name, bounds in BOUNDS.items()}
    assert set(BOUNDS) == {field.name for field in fields(Settings)}


@pytest.mark.parametrize("name", BOUNDS)
def test_every_setting_takes_its_bounds_and_nothing_beyond(tmp_path: Path, name: str) -> None:
    least, most = BOUNDS[name]
    for value in (least, most):
        assert getattr(load(written(tmp_path, f"{name} = {value}\n")), name) == value
    for wrong in (least / 2, most * 2, -1, 0, "1e308", "9" * 400, "1e8"):
        with pytest.raises(SettingsError, match=f"line 2: {name}.*from {least:g} to {most:g}") as told:
            load(written(tmp_path, f"\n{name} = {wrong}\n"))
        assert len(str(told.value)) < 300 + len(str(tmp_path))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("burst_gap_s = 1\nburst_gab_s = 2\n", "line 2: burst_gab_s is not a setting"),
        ("\n\ncrop = 'wide'\n", "line 3: crop"),
        ("crop = 0\n", "line 1: crop"),
        ("crop = true\n", "must be a number from 0.1 to 20"),
        ("crop = nan\n", "must be a number"),
        ("crop = inf\n", "must be a number"),
        ("crop = \n", "not valid TOML"),
        ("crop = " + "9" * 5000 + "\n", "not valid TOML"),
        ("crop = " + "[" * 5000 + "\n", "not valid TOML"),
        ("[burst]\ngap = 1\n", "line 1: burst is not a setting"),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path: Path, text: str, told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        load(written(tmp_path, text))
