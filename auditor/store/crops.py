"""Small pictures of focus areas at 100 %, kept in a folder beside the logbook for the report."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path


def remove_crops(logbook_path: Path, frame_ids: Iterable[int]) -> None:
    """Take away the crops of frames that have left the logbook."""
    for frame_id in frame_ids:
        crop_path(logbook_path, frame_id).unlink(missing_ok=True)


def crop_path(logbook_path: Path, frame_id: int) -> Path:
    """Where the crop of a frame lies, if it has one: a JPEG, a thousand to a folder.

    Parameters
    ----------
    logbook_path
        The logbook's own file: crops lie beside it.
    """
    folder = logbook_path.with_name(f"{logbook_path.stem}-focus")
    return folder / f"{frame_id // 1000:04d}" / f"{frame_id}.jpg"
