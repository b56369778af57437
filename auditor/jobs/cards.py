"""Cards and disks that are mounted and hold pictures."""

from __future__ import annotations

from pathlib import Path

import psutil

from auditor.errors import LogbookError
from auditor.readers.kinds import role_of_name
from auditor.readers.places import holding
from auditor.words import FileRole

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


def refuse_among_pictures(logbook_path: Path) -> None:
    """Refuse a place for a new logbook where frames lie: what is read is never written to.

    Parameters
    ----------
    logbook_path
        Where it would be begun.

    Raises
    ------
    LogbookError
        where its folder holds pictures, or lies on a camera's card.
    """
    folder = logbook_path.resolve().parent
    among: Path | str | None = next(
        (each for each in (folder, *folder.parents) if each.name.lower() == PICTURES_FOLDER), None
    )
    if among is None and (holds_pictures(folder) or _holds_frames(folder)):
        among = folder
    among = among or holding(folder, cards())
    if among is not None:
        raise LogbookError(
            f"{logbook_path}: a new logbook would lie among the pictures in {among}, which is never written "
            "to. Choose another place with --logbook."
        )


def _holds_frames(folder: Path) -> bool:
    try:
        names = [entry.name for entry in folder.iterdir()]
    except OSError:  # not there yet, or not to be listed
        return False
    return any(role_of_name(name) not in (None, FileRole.SIDECAR) for name in names)


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
