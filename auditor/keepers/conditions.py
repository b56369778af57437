"""Which frames are keepers: conditions on what is known of frames, and what each of them took away."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a keeper must be; None or empty asks nothing. A fact that is not known does not pass.

    Which trip, kits, converter, scene and day are looked at at all is said by a `store.selection.Selection`.
    """

    verdicts: tuple[str, ...] = ("hit",)
    unclear_in: bool = False
    """Take frames whose verdict is unclear as well; otherwise they are kept apart, not dropped."""
    camera_words: tuple[str, ...] = ()
    most_blur_px: float | None = None
    most_blur_um: float | None = None
    most_blur_urad: float | None = None
    most_iso: float | None = None
    most_push_ev: float | None = None
    from_at: str | None = None
    to_at: str | None = None
    """Times as taken_at has them; a day alone, or a minute, stands for all of it."""
    keyword: str | None = None
    least_rating: int | None = None
    flags: tuple[str, ...] = ()
    without_flags: tuple[str, ...] = ()
    chosen: str | None = None
    """What the photographer chose by eye."""

    def __post_init__(self) -> None:
        """Raise ValueError for a time that is none."""
        for name in ("from_at", "to_at"):
            text = getattr(self, name)
            if text is not None:
                object.__setattr__(self, name, moment(text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One frame with what the conditions look at: columns of frame_facts by their names."""

    frame_id: int
    trip_id: int | None
    scene_id: int | None
    burst_id: int | None
    path: str | None
    taken_at: str | None
    iso: float | None
    forced_push_ev: float | None
    camera_word: str | None
    rating: int | None
    keywords: list[str] | None
    blur_px: float | None
    blur_um: float | None
    blur_urad: float | None
    verdict: str | None
    flags: list[str]
    chosen: str | None = None


@dataclass(frozen=True, slots=True)
class Passed:
    """What came of a filter."""

    frames: int
    """Frames that there were."""
    kept: list[Candidate]
    unclear: list[Candidate]
    """Frames that pass everything but have no clear verdict."""
    taken_away: dict[str, int]
    """Condition -> frames that it alone would take away, in whatever order conditions come."""
    gone: list[Candidate] = field(default_factory=list)
    """Frames that pass everything but are no longer where they were."""


def moment(text: str) -> str:
    """A day or a time as taken_at has it: 2026-04-18, 2026-04-18T09:30 or with a space.

    Parameters
    ----------
    text
        As a person writes it.

    Returns
    -------
    str
        ISO 8601, as much of it as was given.

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


def passing(frames: Iterable[Candidate], conditions: Conditions) -> Passed:
    """The frames that pass every condition, in their order.

    Parameters
    ----------
    frames
        What the conditions look at of each.
    conditions
        All of them must hold.

    Returns
    -------
    Passed
        Kept and unclear frames, and how many each condition took away.
    """
    tests = _tests(conditions)
    taken_away = dict.fromkeys((*tests, "verdict"), 0)
    kept: list[Candidate] = []
    unclear: list[Candidate] = []
    count = 0
    for frame in frames:
        count += 1
        failed = [name for name, test in tests.items() if not test(frame)]
        is_unclear = frame.verdict == "unclear"
        right_verdict = frame.verdict in conditions.verdicts or (is_unclear and conditions.unclear_in)
        for name in failed:
            taken_away[name] += 1
        taken_away["verdict"] += not right_verdict and not is_unclear
        if not failed and right_verdict:
            kept.append(frame)
        elif not failed and is_unclear:
            unclear.append(frame)
    return Passed(count, kept, unclear, {name: number for name, number in taken_away.items() if number})


def _tests(conditions: Conditions) -> dict[str, Callable[[Candidate], bool]]:
    """The conditions that were set, by the name that is shown."""
    tests: dict[str, Callable[[Candidate], bool]] = {}

    def at_most(name: str, value: Callable[[Candidate], float | None], limit: float | None) -> None:
        if limit is not None:
            tests[name] = lambda frame: (known := value(frame)) is not None and known <= limit

    at_most("blur in px", lambda frame: frame.blur_px, conditions.most_blur_px)
    at_most("blur in um", lambda frame: frame.blur_um, conditions.most_blur_um)
    at_most("blur in microradians", lambda frame: frame.blur_urad, conditions.most_blur_urad)
    at_most("ISO", lambda frame: frame.iso, conditions.most_iso)
    at_most("forced push", lambda frame: frame.forced_push_ev, conditions.most_push_ev)
    wanted = conditions
    if wanted.camera_words:
        tests["camera word"] = lambda frame: frame.camera_word in wanted.camera_words
    if wanted.from_at is not None or wanted.to_at is not None:
        tests["time"] = lambda frame: _in_time(frame.taken_at, wanted.from_at, wanted.to_at)
    if wanted.keyword is not None:
        tests["keyword"] = lambda frame: wanted.keyword in (frame.keywords or ())
    if wanted.least_rating is not None:
        tests["rating"] = lambda frame: (
            frame.rating is not None and frame.rating >= (wanted.least_rating or 0)
        )
    if wanted.chosen is not None:
        tests["chosen"] = lambda frame: frame.chosen == wanted.chosen
    if wanted.flags:
        tests["flag"] = lambda frame: set(wanted.flags) <= set(frame.flags)
    if wanted.without_flags:
        tests["without flag"] = lambda frame: not set(wanted.without_flags) & set(frame.flags)
    return tests


def _in_time(taken_at: str | None, from_at: str | None, to_at: str | None) -> bool:
    if taken_at is None:
        return False
    # "2026-04-18" is before every time of that day, and as an end stands for all of it.
    return (from_at is None or taken_at >= from_at) and (to_at is None or taken_at[: len(to_at)] <= to_at)
