"""Which lens it was: its own range and widest f-numbers, without any converter."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from auditor.frames import gear_database
from auditor.optics.converter import marked_factor
from auditor.records import KitFacts, Recorded

_SUFFIX = re.compile(
    r"""\s*\+\s*                     # a plus sign joins lens and converter
        (?:[\w./-]+\s+)*?            # words such as a series name
        (?:[A-Za-z]{0,3})            # a mount's letters, glued on
        ([12](?:\.\d{1,2})?)\s*[x×]  # the factor
        .*$""",
    re.VERBOSE | re.IGNORECASE,
)
_FOCAL = re.compile(r"(\d+(?:\.\d+)?)(?:\s*[-–]\s*(\d+(?:\.\d+)?))?\s*mm", re.IGNORECASE)
_FOCAL_WITHOUT_UNIT = re.compile(
    r"(?<![\w.])(\d+(?:\.\d+)?)(?:\s*[-–]\s*(\d+(?:\.\d+)?))?\s*/\s*F\s*(?=\d)", re.IGNORECASE
)
"""As in "100-400/F4.0-6.3": only in front of an F, since others write the f-number before the slash."""
_WIDEST = re.compile(
    r"(?:\bf\s*/?\s*|(?<=mm)f\s*/?\s*|1:)(\d+(?:\.\d+)?)(?:\s*[-–]\s*(\d+(?:\.\d+)?))?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A lens by itself; None where nothing says it."""

    name: str | None
    short_mm: float | None = None
    long_mm: float | None = None
    widest_at_short: float | None = None
    widest_at_long: float | None = None
    suffix_factor: float | None = None
    """The converter that the recorded lens name carried as a suffix."""

    @property
    def is_prime(self) -> bool:
        """One focal length only."""
        return self.short_mm is not None and self.short_mm == self.long_mm


def identify(recorded: Recorded | KitFacts) -> Lens:
    """The lens of a frame, from its recorded name and specification.

    Some bodies write the specification already multiplied by the converter: where the name's
    own numbers are smaller by just the suffix's factor, the name is believed.

    Parameters
    ----------
    recorded
        Merged from the frame's files.

    Returns
    -------
    Lens
        Name, focal lengths and widest f-numbers; None for what is not told.
    """
    return _identify(
        recorded.lens_name,
        recorded.lens_short_mm,
        recorded.lens_long_mm,
        recorded.lens_widest_at_short,
        recorded.lens_widest_at_long,
        recorded.converter_factor,
    )


@lru_cache(maxsize=4096)
def _identify(
    recorded_name: str | None,
    short_mm: float | None,
    long_mm: float | None,
    at_short: float | None,
    at_long: float | None,
    noted_factor: float | None,
) -> Lens:
    name, suffix = split_name(recorded_name)
    named = from_name(name)
    factor = suffix or noted_factor or 1.0
    if factor > 1 and named.long_mm and long_mm and _close(long_mm, named.long_mm * factor):
        short_mm, long_mm = named.short_mm, named.long_mm
        at_short, at_long = named.widest_at_short or at_short, named.widest_at_long or at_long
    short_mm, long_mm = short_mm or named.short_mm, long_mm or named.long_mm
    at_short, at_long = at_short or named.widest_at_short, at_long or named.widest_at_long
    if short_mm is None or long_mm is None or at_short is None:
        entry = gear_database.lens(name)
        if entry is not None:
            short_mm, long_mm = short_mm or entry.short_mm, long_mm or entry.long_mm
            at_short = at_short or entry.widest
            # The database has the short end's only: at the long end it holds for a prime alone.
            at_long = at_long or (entry.widest if entry.short_mm == entry.long_mm else None)
    return Lens(
        name=name,
        short_mm=short_mm,
        long_mm=long_mm,
        widest_at_short=at_short,
        widest_at_long=at_long,
        suffix_factor=suffix,
    )


def split_name(recorded_name: str | None) -> tuple[str | None, float | None]:
    """A lens name without its converter suffix, and the factor that the suffix gave.

    >>> split_name("300mm f/4 + 1.4x III")
    ('300mm f/4', 1.4)

    Parameters
    ----------
    recorded_name
        As the camera wrote it; None where it did not.

    Returns
    -------
    tuple[str or None, float or None]
        The name, and the factor or None.
    """
    if recorded_name is None:
        return None, None
    match = _SUFFIX.search(recorded_name)
    factor = marked_factor(float(match.group(1))) if match else None
    if match is None or factor is None:
        return recorded_name.strip() or None, None
    return recorded_name[: match.start()].strip() or None, factor


def from_name(name: str | None) -> Lens:
    """What the name of a lens says of it: focal lengths and widest f-numbers.

    Parameters
    ----------
    name
        Without a converter's suffix.

    Returns
    -------
    Lens
        None for each number that the name does not give.
    """
    focal = _FOCAL.search(name or "") or _FOCAL_WITHOUT_UNIT.search(name or "")
    widest = _WIDEST.search(name or "")
    short_mm = float(focal.group(1)) if focal else None
    at_short = float(widest.group(1)) if widest else None
    return Lens(
        name=name,
        short_mm=short_mm,
        long_mm=float(focal.group(2)) if focal and focal.group(2) else short_mm,
        widest_at_short=at_short,
        widest_at_long=float(widest.group(2)) if widest and widest.group(2) else at_short,
    )


def _close(one: float, other: float, tolerance: float = 0.03) -> bool:
    return abs(one / other - 1) <= tolerance
