"""Folders by what they really are, however their names are typed.

Disks of macOS and Windows take /Photos and /photos for the same folder, and an accent written in two ways for
the same letter: text alone does not tell whether two paths are one.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path

from auditor.errors import OutputError
from auditor.file_names import as_path, known_as


def as_listed(
    path: Path,
    *,
    names_in: Callable[[Path], Iterable[str]] = os.listdir,
    same: Callable[[Path, Path], bool] = os.path.samefile,
) -> Path:
    """A path with each name as its folder lists it.

    Parameters
    ----------
    path
        Absolute, without links.
    names_in
        Lists a folder.
    same
        Tells whether two paths lead to one file.

    Returns
    -------
    Path
        What is not there, or cannot be listed, is left as it was typed.
    """
    listed = Path(path.anchor)
    for name in path.relative_to(path.anchor).parts:
        typed = listed / name
        try:
            names = set(names_in(listed))
            alike = sorted(other for other in names if known_as(other) == known_as(name))
            if name not in names:
                typed = next((listed / other for other in alike if same(typed, listed / other)), typed)
        except (OSError, ValueError):  # it may be entered, yet not listed
            pass
        listed = typed
    return listed


def holding(place: Path, folders: Iterable[str | Path]) -> str | Path | None:
    """The first of some folders that a place lies in, by whatever name or link it is reached.

    Parameters
    ----------
    place
        Need not exist yet.
    folders
        Paths, or texts of paths as the logbook has them; they need not exist any more.

    Returns
    -------
    str | Path | None
        As it was given.
    """
    real = place.resolve()
    above = {identity for folder in (real, *real.parents) if (identity := _identity(folder))}
    for folder in folders:
        path = as_path(folder) if isinstance(folder, str) else folder
        if _identity(path) in above or real.is_relative_to(path):
            return folder
    return None


def refuse_scanned(place: Path, scanned: Iterable[str | Path], advice: str) -> None:
    """Refuse a place to write to that lies in a scanned folder.

    Parameters
    ----------
    place
        Need not exist yet.
    scanned
        As `holding` takes them.
    advice
        What to do instead.

    Raises
    ------
    OutputError
        naming the scanned folder.
    """
    folder = holding(place, scanned)
    if folder is not None:
        raise OutputError(
            f"{place}: lies inside the scanned folder {folder}, which is never written to. {advice}"
        )


def _identity(path: Path) -> tuple[int, int] | None:
    """What the system knows a file by; None where there is none, or a disk has no such numbers."""
    try:
        facts = path.stat()
    except (OSError, ValueError):
        return None
    return (facts.st_dev, facts.st_ino) if facts.st_ino else None
