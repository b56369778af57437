"""The photographer's preferences, from `auditor.toml` beside the logbook.

Preferences only: facts about bodies, lenses and trips are declared into the logbook.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from auditor.errors import SettingsError

FILE_NAME = "auditor.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Every preference with its default. Each is a positive number."""

    burst_gap_s: float = 1.0
    """Frames of one body this close, or closer, are one burst."""
    encounter_gap_min: float = 10.0
    """A pause from this long on starts a new encounter."""
    encounter_longest_min: float = 30.0
    encounter_light_ev: float = 1.0
    """A larger change of light starts a new encounter."""
    trip_gap_h: float = 36.0
    """A longer pause starts a new trip."""
    trip_longest_days: float = 21.0
    crop: float = 1.0
    """The crop that the photographer means to make; the criterion of sharpness is divided by it."""
    focus_picture_px: float = 240.0
    """Side of the picture of the focus area at 100 % that the report shows."""

    least_fall: float = 0.05
    """A kit's hits must have fallen by this share at least, beyond chance, for `hit_rate_fell`."""
    worth_gain: float = 0.05
    """Detail finer by less than this share is no gain worth having: `no_detail_gain`."""

    @property
    def stamp(self) -> str:
        """A short hash of all values: derived tables carry it, and are rebuilt when it changes."""
        text = repr(sorted(asdict(self).items()))
        return hashlib.blake2b(text.encode(), digest_size=6).hexdigest()


def settings_path(logbook: Path) -> Path:
    """Where the settings of a logbook are looked for."""
    return logbook.parent / FILE_NAME


def load(path: Path) -> Settings:
    """Settings from a TOML file; the defaults where there is none.

    Raises
    ------
    SettingsError
        naming file, key and line, for a key that does not exist or a value that cannot be meant.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return Settings()
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path}: cannot be read ({error}). Mend or remove it.") from error
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: not valid TOML: {error}. Mend the line or remove it.") from error
    known = {field.name for field in fields(Settings)}
    for key, value in values.items():
        where = f"{path}, line {_line_of(key, text)}: {key}"
        if key not in known:
            raise SettingsError(f"{where} is no setting. Settings are: {', '.join(sorted(known))}.")
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < float("inf"):
            raise SettingsError(f"{where} = {value!r}, but it must be a positive number.")
    return Settings(**{key: float(value) for key, value in values.items()})


def _line_of(key: str, text: str) -> int:
    pattern = re.compile(rf"""^\s*\[*\s*["']?{re.escape(key)}\b""")
    matching = (number for number, line in enumerate(text.splitlines(), 1) if pattern.match(line))
    return next(matching, 1)
