"""Cards and disks that are mounted and hold pictures."""

from __future__ import annotations

from pathlib import Path

import psutil

PICTURES_FOLDER = "dcim"
"""Where cameras put pictures on a card: JEITA CP-3461, Design rule for Camera File system (DCF) 2.0, 3.1."""


def cards() -> list[Path]:
    """Mount points that hold a camera's folder of pictures, in order of name.

    What cannot be listed is left out: it can still be named.
    """
    try:
        mounts = psutil.disk_partitions(all=True)
    except OSError:  # a system that does not tell
        return []
    return sorted({Path(mount.mountpoint) for mount in mounts if holds_pictures(Path(mount.mountpoint))})


def holds_pictures(place: Path) -> bool:
    """Whether a folder holds a camera's folder of pictures.

    Parameters
    ----------
    place
        The mount point of a card.

    Returns
    -------
    bool
        By the DCIM folder of the DCF standard.
    """
    try:
        return any(entry.name.lower() == PICTURES_FOLDER and entry.is_dir() for entry in place.iterdir())
    except OSError:
        return False
