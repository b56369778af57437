"""Room for the pictures kept beside the logbook: what no frame has any more goes, then the oldest."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import OutputError
from auditor.store.crops import crop_path, pictures_folder
from auditor.store.logbook import Logbook

MB = 1_000_000
LEFT_BEHIND_S = 3600.0
"""An unfinished picture this old is of a run that was killed; a younger one may still be written (chosen)."""
_GREY, _COLOUR = re.compile(r"(\d{1,18})\.jpg"), re.compile(r"(\d{1,18})\.(?:area|whole|square)\.jpg")

# Pages list flagged frames first, and by eye one goes back to what was kept: those stay the longest.
_LEAST_SHOWN_FIRST = """
SELECT i.frame_id FROM inferred AS i LEFT JOIN choices AS c USING (frame_id)
ORDER BY i.flags <> '[]' OR c.choice IS 'keep', i.taken_at, i.frame_id
"""


@dataclass(slots=True, kw_only=True)
class Room:
    """Pictures kept beside a logbook."""

    pictures: int = 0
    size_bytes: int = 0

    def add(self, size_bytes: int) -> None:
        """One more picture."""
        self.pictures += 1
        self.size_bytes += size_bytes

    def take(self, size_bytes: int) -> None:
        """One picture less."""
        self.pictures -= 1
        self.size_bytes -= size_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Tidied:
    """What went, and what stays."""

    of_no_frame: Room
    """Pictures of frames that are no longer in the logbook, and what killed runs left behind."""
    beyond_room: Room
    """The oldest, as far as all together took more room than they may."""
    kept: Room


def tidy(logbook: Logbook, most_mb: float) -> Tidied:
    """Remove pictures of frames that the logbook no longer has, then the oldest beyond the room for them.

    Pictures in colour go first, since pages make them anew; then those of frames that are neither flagged nor
    chosen. Nothing but such pictures is touched, in the logbook's own folder for them; no link is followed.

    Parameters
    ----------
    most_mb
        All together take no more than this, in MB (1,000,000 bytes).

    Returns
    -------
    Tidied
        What went, and what stays.

    Raises
    ------
    OutputError
        where a picture cannot be removed.
    """
    kept, of_no_frame, beyond_room = Room(), Room(), Room()
    colour: list[tuple[float, int, Path]] = []
    for entry, facts in _entries(logbook.path):
        if _is_left_over(logbook, entry, facts):
            _remove(Path(entry.path))
            of_no_frame.add(facts.st_size)
        elif _GREY.fullmatch(entry.name):
            kept.add(facts.st_size)
        elif _COLOUR.fullmatch(entry.name):
            kept.add(facts.st_size)
            colour.append((facts.st_mtime, facts.st_size, Path(entry.path)))
    for path in _least_needed_first(logbook, colour):
        if kept.size_bytes <= most_mb * MB:
            break
        try:
            size_bytes = path.stat(follow_symlinks=False).st_size
        except FileNotFoundError:
            continue
        _remove(path)
        kept.take(size_bytes)
        beyond_room.add(size_bytes)
    return Tidied(of_no_frame=of_no_frame, beyond_room=beyond_room, kept=kept)


def keep_to_room(logbook: Logbook, most_mb: float) -> None:
    """As `tidy`, where pictures take more room than they may; else no more than a look at their sizes.

    Parameters
    ----------
    most_mb
        All together take no more than this, in MB (1,000,000 bytes).

    Raises
    ------
    OutputError
        where a picture cannot be removed.
    """
    if sum(facts.st_size for _entry, facts in _entries(logbook.path)) > most_mb * MB:
        tidy(logbook, most_mb)


def _entries(logbook_path: Path) -> Iterator[tuple[os.DirEntry[str], os.stat_result]]:
    """Files in the folder of pictures, two levels down, as it is laid out; links left out."""
    folder = pictures_folder(logbook_path)
    if folder.is_symlink() or not folder.is_dir():
        return
    with os.scandir(folder) as parts:
        for part in parts:
            if part.name.isdigit() and part.is_dir(follow_symlinks=False):
                with os.scandir(part) as entries:
                    # Read whole, a thousand frames: what goes meanwhile must not disturb the reading.
                    files = [entry for entry in entries if entry.is_file(follow_symlinks=False)]
                for entry in files:
                    try:
                        facts = entry.stat(follow_symlinks=False)
                    except FileNotFoundError:  # finished, or taken away, by another run
                        continue
                    yield entry, facts


def _is_left_over(logbook: Logbook, entry: os.DirEntry[str], facts: os.stat_result) -> bool:
    if entry.name.endswith(".unfinished"):
        return time.time() - facts.st_mtime > LEFT_BEHIND_S
    named = _GREY.fullmatch(entry.name) or _COLOUR.fullmatch(entry.name)
    if named is None:
        return False
    sql = "SELECT EXISTS (SELECT 1 FROM frames WHERE frame_id = ?)"
    return not logbook.query(sql, (int(named[1]),))[0][0]


def _least_needed_first(logbook: Logbook, colour: list[tuple[float, int, Path]]) -> Iterator[Path]:
    yield from (path for _changed, _size_bytes, path in sorted(colour))
    for row in logbook.connection.execute(_LEAST_SHOWN_FIRST):
        yield crop_path(logbook.path, row[0])


def _remove(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(
            f"{path}: this picture cannot be removed ({error.strerror}). Check its permissions, then run the "
            "same command again."
        ) from error
