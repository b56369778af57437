"""The photographer's preferences, from `auditor.toml` beside the logbook.

Preferences only: facts about bodies, lenses and trips are declared into the logbook.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import SettingsError

FILE_NAME = "auditor.toml"
LONGEST_SHOWN = 40
"""Letters of a wrong value that its message repeats."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Every preference with its default. Each is a number within its BOUNDS."""

    burst_gap_s: float = 1.0
    """Frames of one body this close, or closer, are one burst."""
    encounter_gap_min: float = 10.0
    """A pause from this long on starts a new encounter."""
    encounter_longest_min: float = 30.0
    encounter_light_ev: float = 1.0
    """A larger change of light starts a new encounter."""
    sitting_gap_h: float = 2.0
    """Encounters of a day with a pause of no more than this between them are one sitting: a hide, a walk."""
    trip_gap_h: float = 36.0
    """A longer pause starts a new trip."""
    trip_longest_days: float = 21.0
    crop: float = 1.0
    """The crop that the photographer means to make; the criterion of sharpness is divided by it."""
    focus_picture_px: float = 240.0
    """Side of the picture of the focus area at 100 % that the report shows."""
    focus_pictures_mb: float = 5000.0
    """Room for pictures of frames beside the logbook, in MB; `auditor check --tidy` keeps to it."""
    file_longest_s: float = 60.0
    """Longer than this the pixels of one file are not worked at."""
    file_memory_gib: float = 4.0
    """Nor with more memory than this."""

    least_fall: float = 0.05
    """A kit's hits must have fallen by this share at least, beyond chance, for `hit_rate_fell`."""
    worth_gain: float = 0.05
    """Detail finer by less than this share is no gain worth having: `no_detail_gain`."""

    def stamp_of(self, names: Iterable[str]) -> str:
        """A short hash of some values: tables that depend on them carry it, and follow when it changes.

        Parameters
        ----------
        names
            Of fields.

        Returns
        -------
        str
            Hexadecimal; another one where any of the values differs.
        """
        text = repr([(name, getattr(self, name)) for name in sorted(names)])
        return hashlib.blake2b(text.encode(), digest_size=6).hexdigest()


GROUPING = (
    "burst_gap_s", "encounter_gap_min", "encounter_longest_min", "encounter_light_ev", "trip_gap_h",
    "trip_longest_days",
)  # fmt: skip
"""What bursts, encounters, scenes and trips depend on."""
JUDGING = ("crop",)
"""What verdicts, and the flags that follow from them, depend on."""

BOUNDS: dict[str, tuple[float, float]] = {
    "burst_gap_s": (0.01, 60),
    "encounter_gap_min": (0.1, 1440),
    "encounter_longest_min": (1, 1440),
    "encounter_light_ev": (0.1, 20),
    "sitting_gap_h": (0.1, 24),
    "trip_gap_h": (0.5, 8760),
    "trip_longest_days": (1, 366),
    "crop": (0.1, 20),
    "focus_picture_px": (16, 512),
    "focus_pictures_mb": (1, 100_000),
    "file_longest_s": (1, 3600),
    "file_memory_gib": (0.5, 1024),
    "least_fall": (0.001, 1),
    "worth_gain": (0.001, 1),
}
"""The least and the most that each setting can be meant to be (chosen): beyond them lie slips of the hand."""


def settings_path(logbook: Path) -> Path:
    """Where the settings of a logbook are looked for."""
    return logbook.parent / FILE_NAME


def load(path: Path) -> Settings:
    """Settings from a TOML file; the defaults where there is none.

    Parameters
    ----------
    path
        Need not exist.

    Returns
    -------
    Settings
        Checked values.

    Raises
    ------
    SettingsError
        naming file, key and line, for a key that does not exist or a value that cannot be meant.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors put a byte-order mark first
    except (FileNotFoundError, NotADirectoryError):
        return Settings()
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path}: cannot be read ({error}). Mend or remove it.") from error
    try:
        values = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError also for numbers too long for Python
        raise SettingsError(f"{path}: not valid TOML: {error}. Mend the line or remove it.") from error
    for key, value in values.items():
        where = f"{path}, line {_line_of(key, text)}: {key}"
        if key not in BOUNDS:
            raise SettingsError(f"{where} is not a setting. Settings are: {', '.join(sorted(BOUNDS))}.")
        least, most = BOUNDS[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            raise SettingsError(
                f"{where} = {_shown(value)}, but it must be a number from {least:g} to {most:g}."
            )
    return Settings(**{key: float(value) for key, value in values.items()})


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."


def _line_of(key: str, text: str) -> int:
    pattern = re.compile(rf"""^\s*\[*\s*["']?{re.escape(key)}\b""")
    matching = (number for number, line in enumerate(text.splitlines(), 1) if pattern.match(line))
    return next(matching, 1)
