"""Times of files, as disks and cards keep them."""

from __future__ import annotations

from datetime import datetime

FAT_TOLERANCE_S = 2.0
"""FAT keeps times to 2 s."""
FAT_LONGEST_SHIFT_S = 26 * 3600
"""FAT times have no zone: a card read in another zone, or after a change of clocks, is off by whole hours."""


def same_time(one: str, other: str) -> bool:
    """Whether two modification times can be one, given how FAT cards keep time.

    Parameters
    ----------
    one, other
        UTC, ISO 8601.

    Returns
    -------
    bool
        True where they differ by whole hours, to two seconds: FAT keeps local time.
    """
    if one == other:
        return True
    apart_s = abs((datetime.fromisoformat(one) - datetime.fromisoformat(other)).total_seconds())
    off_the_hour_s = min(apart_s % 3600, 3600 - apart_s % 3600)
    return 1800 < apart_s <= FAT_LONGEST_SHIFT_S and off_the_hour_s <= FAT_TOLERANCE_S
