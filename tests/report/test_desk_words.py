"""What the desk says while it works and of what it hands over."""

import pytest

from auditor.report.text import desk


@pytest.mark.parametrize(
    ("total", "a_second", "left_s", "said"),
    [
        (None, None, None, "Reading: 1,200 files"),
        (4000, None, None, "Reading: 1,200 of 4,000 files"),
        (4000, 240.0, 11.7, "Reading: 1,200 of 4,000 files, 240 a second, under a minute left"),
        (4000, 1.0, 61.0, "Reading: 1,200 of 4,000 files, 1 a second, 1 minute left"),
        (4000, 0.25, 11_200.0, "Reading: 1,200 of 4,000 files, 4 s each, 187 minutes left"),
    ],
)
def test_how_far_it_is(total: int | None, a_second: float | None, left_s: float | None, said: str) -> None:
    assert desk.progress("Reading", "files", 1200, total, a_second, left_s) == said


@pytest.mark.parametrize(
    ("way", "new", "there_already", "said"),
    [
        ("copy", 4, 0, "3 frames: 4 copies would be made, 12.3 MB."),
        ("copy", 4, 2, "3 frames: 4 copies would be made, 12.3 MB; 2 files there already."),
        ("copy", 0, 1, "3 frames: 0 copies would be made; 1 file there already."),
        ("sidecar", 4, 0, "3 frames: 4 sidecars would be made, 12.3 MB."),
        ("hard_link", 4, 0, "3 frames: 4 hard links would be made."),
        ("symbolic_link", 4, 0, "3 frames: 4 symbolic links would be made."),
    ],
)
def test_a_plan_names_the_room_that_it_takes(way: str, new: int, there_already: int, said: str) -> None:
    """Links take none. A megabyte is a million bytes (IEC 80000-13)."""
    assert desk.plan(way, 3, new, 12_300_000, there_already) == said


def test_one_of_a_kind_is_not_told_as_several() -> None:
    assert desk.plan("copy", 1, 1, 42_000, 0) == "1 frame: 1 copy would be made, 42 kB."
    assert desk.plan("hard_link", 1, 1, 42_000, 0) == "1 frame: 1 hard link would be made."
    line = desk.receipt("sidecar", 1, "/k", "2026-04-18T10:00:00", state="")
    assert line == "2026-04-18 10:00: 1 sidecar, /k"
    assert desk.made("copy", 1200) == "1,200 copies"


def test_the_room_of_small_files_is_not_rounded_away() -> None:
    """22 sidecars were said to take 0.0 MB."""
    assert desk.plan("sidecar", 22, 22, 13_400, 0) == "22 frames: 22 sidecars would be made, 13 kB."
