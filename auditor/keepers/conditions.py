"""Which frames are keepers: conditions on the rows of frame_facts, and what each of them took away."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

Row = dict[str, Any]
Grouping = Literal["burst", "scene"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a keeper must be; None or empty asks nothing. A fact that is not known does not pass."""

    verdicts: tuple[str, ...] = ("hit",)
    unclear_in: bool = False
    """Take frames whose verdict is unclear as well; otherwise they are kept apart, not dropped."""
    camera_words: tuple[str, ...] = ()
    most_blur_px: float | None = None
    most_blur_um: float | None = None
    most_blur_urad: float | None = None
    most_iso: float | None = None
    most_push_ev: float | None = None
    kit: str | None = None
    """A part of the kit's name, in any case."""
    converter_factor: float | None = None
    trip_id: int | None = None
    scene_id: int | None = None
    from_at: str | None = None
    to_at: str | None = None
    """Times as taken_at has them; a day alone, or a minute, stands for all of it."""
    keyword: str | None = None
    least_rating: int | None = None
    flags: tuple[str, ...] = ()
    without_flags: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Raise ValueError for a time that is none."""
        for name in ("from_at", "to_at"):
            text = getattr(self, name)
            if text is not None:
                object.__setattr__(self, name, moment(text))


@dataclass(frozen=True, slots=True)
class Passed:
    """What came of a filter."""

    frames: int
    """Frames that there were."""
    kept: list[Row]
    unclear: list[Row]
    """Frames that pass everything but have no clear verdict."""
    taken_away: dict[str, int]
    """Condition -> frames that it alone would take away, in whatever order conditions come."""


COLUMNS = (
    "frame_id", "trip_id", "scene_id", "burst_id", "path", "taken_at", "kit_name", "converter_factor", "iso",
    "forced_push_ev", "camera_word", "rating", "keywords", "blur_px", "blur_um", "blur_urad",
    "verdict", "flags",
)  # fmt: skip
"""What of frame_facts the conditions look at."""


def moment(text: str) -> str:
    """A day or a time as taken_at has it: 2026-04-18, 2026-04-18T09:30 or with a space.

    Raises
    ------
    ValueError
        for what is neither.
    """
    written = text.strip().replace(" ", "T")
    shape = "0001-01-01T00:00:00.0"
    # A shorter time is one at its beginning: 2026-04 is that month's first day.
    if len(written) in (4, 7, 10, 16) or len(written) >= 19:
        try:
            datetime.fromisoformat((written + shape[len(written) :])[:19])
            if written[19:] == "" or re.fullmatch(r"\.\d+", written[19:]):
                return written
        except ValueError:
            pass
    raise ValueError(f"{text!r} is no day or time: write 2026-04-18 or 2026-04-18T09:30")


def passing(rows: Iterable[Row], conditions: Conditions) -> Passed:
    """Rows of frame_facts (JSON columns decoded) that pass every condition, in their order."""
    tests = _tests(conditions)
    taken_away = dict.fromkeys((*tests, "verdict"), 0)
    kept: list[Row] = []
    unclear: list[Row] = []
    count = 0
    for row in rows:
        count += 1
        failed = [name for name, test in tests.items() if not test(row)]
        is_unclear = row["verdict"] == "unclear"
        right_verdict = row["verdict"] in conditions.verdicts or (is_unclear and conditions.unclear_in)
        for name in failed:
            taken_away[name] += 1
        taken_away["verdict"] += not right_verdict and not is_unclear
        if not failed and right_verdict:
            kept.append(row)
        elif not failed and is_unclear:
            unclear.append(row)
    return Passed(count, kept, unclear, {name: number for name, number in taken_away.items() if number})


def best(rows: Iterable[Row], number: int, per: Grouping) -> list[Row]:
    """At most so many frames of each burst or scene: the sharpest, then the lower ISO, then the earlier.

    Frames that were not measured come after those that were. Sharpness is not pose. Raises ValueError for
    a number under 1.
    """
    if number < 1:
        raise ValueError(f"number must be 1 or more, not {number!r}")
    rows = list(rows)
    groups: dict[object, list[Row]] = {}
    for row in rows:
        key = row[f"{per}_id"]
        groups.setdefault(("alone", row["frame_id"]) if key is None else key, []).append(row)
    chosen = {
        row["frame_id"] for group in groups.values() for row in sorted(group, key=_sharpest_first)[:number]
    }
    return [row for row in rows if row["frame_id"] in chosen]


def _sharpest_first(row: Row) -> tuple[float, float, str, int]:
    blur, iso = row["blur_px"], row["iso"]
    return (
        float("inf") if blur is None else blur,
        float("inf") if iso is None else iso,
        row["taken_at"] or "~",
        row["frame_id"],
    )


def _tests(conditions: Conditions) -> dict[str, Callable[[Row], bool]]:
    """The conditions that were set, by the name that is shown."""
    tests: dict[str, Callable[[Row], bool]] = {}

    def at_most(name: str, column: str, limit: float | None) -> None:
        if limit is not None:
            tests[name] = lambda row: row[column] is not None and row[column] <= limit

    at_most("blur in px", "blur_px", conditions.most_blur_px)
    at_most("blur in um", "blur_um", conditions.most_blur_um)
    at_most("blur in microradians", "blur_urad", conditions.most_blur_urad)
    at_most("ISO", "iso", conditions.most_iso)
    at_most("forced push", "forced_push_ev", conditions.most_push_ev)
    wanted = conditions
    if wanted.camera_words:
        tests["camera word"] = lambda row: row["camera_word"] in wanted.camera_words
    if wanted.kit is not None:
        part = wanted.kit.lower()
        tests["kit"] = lambda row: part in (row["kit_name"] or "").lower()
    if wanted.converter_factor is not None:
        tests["converter"] = lambda row: row["converter_factor"] == wanted.converter_factor
    if wanted.trip_id is not None:
        tests["trip"] = lambda row: row["trip_id"] == wanted.trip_id
    if wanted.scene_id is not None:
        tests["scene"] = lambda row: row["scene_id"] == wanted.scene_id
    if wanted.from_at is not None or wanted.to_at is not None:
        tests["time"] = lambda row: _in_time(row["taken_at"], wanted.from_at, wanted.to_at)
    if wanted.keyword is not None:
        tests["keyword"] = lambda row: wanted.keyword in (row["keywords"] or ())
    if wanted.least_rating is not None:
        tests["rating"] = lambda row: (
            row["rating"] is not None and row["rating"] >= (wanted.least_rating or 0)
        )
    if wanted.flags:
        tests["flag"] = lambda row: set(wanted.flags) <= set(row["flags"])
    if wanted.without_flags:
        tests["without flag"] = lambda row: not set(wanted.without_flags) & set(row["flags"])
    return tests


def _in_time(taken_at: str | None, from_at: str | None, to_at: str | None) -> bool:
    if taken_at is None:
        return False
    # "2026-04-18" is before every time of that day, and as an end stands for all of it.
    return (from_at is None or taken_at >= from_at) and (to_at is None or taken_at[: len(to_at)] <= to_at)
