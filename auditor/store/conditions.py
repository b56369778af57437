"""What a keeper must be: conditions on columns of frame_facts, each with the name that is shown."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
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

    def tests(self) -> dict[str, str]:
        """The conditions that were set, those on the verdict left out.

        Returns
        -------
        dict[str, str]
            SQL over columns of frame_facts, 1 or 0, by the name that is shown. Its parameters are `values`.
        """
        tests = {
            name: f"coalesce({column} <= :{limit}, 0)"
            for name, column, limit in _AT_MOST
            if getattr(self, limit) is not None
        }
        if self.camera_words:
            tests["camera word"] = "coalesce(camera_word IN (SELECT value FROM json_each(:camera_words)), 0)"
        if self.from_at is not None or self.to_at is not None:
            tests["time"] = _IN_TIME
        if self.keyword is not None:
            tests["keyword"] = "EXISTS (SELECT 1 FROM json_each(keywords) WHERE value = :keyword)"
        if self.least_rating is not None:
            tests["rating"] = "coalesce(rating >= :least_rating, 0)"
        if self.chosen is not None:
            tests["chosen"] = "coalesce(chosen = :chosen, 0)"
        if self.flags:
            tests["flag"] = _ALL_FLAGS
        if self.without_flags:
            tests["without flag"] = _NO_FLAG
        return tests

    @property
    def verdict_test(self) -> str:
        """Whether the verdict is one that is wanted, as `tests` has them."""
        marks = ", ".join(f":verdict_{number}" for number in range(len(self._wanted)))
        return f"coalesce(verdict IN ({marks}), 0)"

    @property
    def values(self) -> dict[str, object]:
        """The parameters of all tests, by name."""
        limits = {name: getattr(self, name) for name in _PLAIN}
        lists = {name: json.dumps(getattr(self, name)) for name in _LISTS}
        return limits | lists | {f"verdict_{number}": each for number, each in enumerate(self._wanted)}

    @property
    def _wanted(self) -> tuple[str, ...]:
        return (*self.verdicts, "unclear") if self.unclear_in else self.verdicts


_LISTS = ("camera_words", "flags", "without_flags")
_PLAIN = (
    "most_blur_px", "most_blur_um", "most_blur_urad", "most_iso", "most_push_ev", "from_at", "to_at",
    "keyword", "least_rating", "chosen",
)  # fmt: skip
_AT_MOST = (
    ("blur in px", "blur_px", "most_blur_px"),
    ("blur in um", "blur_um", "most_blur_um"),
    ("blur in microradians", "blur_urad", "most_blur_urad"),
    ("ISO", "iso", "most_iso"),
    ("forced push", "forced_push_ev", "most_push_ev"),
)
# "2026-04-18" is before every time of that day, and as an end stands for all of it.
_IN_TIME = """coalesce((:from_at IS NULL OR taken_at >= :from_at)
    AND (:to_at IS NULL OR substr(taken_at, 1, length(:to_at)) <= :to_at) AND taken_at IS NOT NULL, 0)"""
_ALL_FLAGS = """NOT EXISTS (SELECT 1 FROM json_each(:flags) AS wanted
    WHERE wanted.value NOT IN (SELECT own.value FROM json_each(flags) AS own))"""
_NO_FLAG = """NOT EXISTS (SELECT 1 FROM json_each(flags) AS own
    WHERE own.value IN (SELECT unwanted.value FROM json_each(:without_flags) AS unwanted))"""


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
