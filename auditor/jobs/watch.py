"""Waiting for cards: folders that appear, such as a card in its reader, and have come to rest."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from auditor.readers.folder import walk

LOOK_EVERY_S = 2.0
"""No file watcher hears of a disk being mounted, so its place is looked at again and again."""
Content = tuple[tuple[str, int, str], ...]


def appearing(
    folders: Sequence[Path], *, pause: Callable[[float], None] = time.sleep
) -> Iterator[list[Path]]:
    """Folders that are there and hold something new, as soon as two looks in a row find the same in them.

    Never ends by itself. A folder that has gone is forgotten: when it comes back with the same frames,
    that is new, since another card may lie behind them.

    Parameters
    ----------
    folders
        To be looked at; they need not exist.
    pause
        Waits some seconds between two looks.

    Returns
    -------
    Iterator[list[Path]]
        The folders to read now.
    """
    before: dict[Path, Content] = {}
    settled: dict[Path, Content] = {}
    while True:
        now = {folder: content for folder in folders if (content := _content(folder))}
        ready = [
            folder
            for folder, content in now.items()
            if before.get(folder) == content and settled.get(folder) != content
        ]
        settled = {folder: content for folder, content in settled.items() if folder in now}
        before = now
        if ready:
            settled |= {folder: now[folder] for folder in ready}
            yield ready
        pause(LOOK_EVERY_S)


def _content(folder: Path) -> Content:
    """Names, sizes and times of the frames in a folder; nothing where it is not there or cannot be listed."""
    if not folder.is_dir():
        return ()
    return tuple((file.path, file.size_bytes, file.modified_at) for file in walk(folder))
