"""The walk through a folder of frames: names, sizes and times, and nothing opened."""

from __future__ import annotations

import errno
import os
import stat
from collections import deque
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import lru_cache
from operator import attrgetter
from pathlib import Path

from auditor.errors import FileAccessError
from auditor.file_names import as_text
from auditor.readers.kinds import role_of_name
from auditor.records import FoundFile, ReadFailure
from auditor.words import FileRole

SYSTEM_FOLDERS = frozenset(
    ["system volume information", "$recycle.bin", "recycler", "__macosx", "lost+found", "found.000"]
)
_HIDDEN_ON_WINDOWS = getattr(stat, "FILE_ATTRIBUTE_HIDDEN", 2) | getattr(stat, "FILE_ATTRIBUTE_SYSTEM", 4)

_ON_WINDOWS = os.name == "nt"
_EPOCH_UTC = datetime(1970, 1, 1)  # without a zone: to write one costs as much as the stat

Identity = tuple[int, int] | str
Place = tuple[str, Identity]
OnProblem = Callable[[ReadFailure], None]


def walk(folder: Path, *, on_problem: OnProblem | None = None) -> Iterator[FoundFile]:
    """Every picture and sidecar below a folder, by name; the files of a folder before those below.

    Hidden and system files and folders are left out. Links to folders are followed, last of
    all, but no folder is entered twice, whatever leads to it.

    Parameters
    ----------
    on_problem
        Told of each folder that cannot be listed and each file that cannot be looked at; the
        walk goes on with the next one.
    """
    report = on_problem or (lambda _failure: None)
    root = os.path.abspath(folder)  # noqa: PTH100 - text paths: Path objects would cost more than the walk
    waiting = [(root, _identity(root))]
    linked: deque[Place] = deque()
    entered: set[Identity] = set()
    while waiting or linked:
        # Links last: a folder is known by its own name, not by that of a link beside it.
        here, identity = waiting.pop() if waiting else linked.popleft()
        if identity in entered:
            continue
        entered.add(identity)
        folders: list[Place] = []
        yield from _list(here, folders, linked, report)
        waiting.extend(reversed(folders))


def found(path: str, role: FileRole, facts: os.stat_result) -> FoundFile:
    """The record of one file."""
    return FoundFile(as_text(path), role, facts.st_size, utc_text(facts.st_mtime_ns))


def utc_text(time_ns: int) -> str:
    """A file's time as UTC, ISO 8601 with microseconds."""
    minute, microseconds = divmod(time_ns // 1000, 60_000_000)
    digits = str(100_000_000 + microseconds)  # a 1 and eight digits: a format for each takes twice as long
    try:
        return f"{_minute_text(minute)}:{digits[1:3]}.{digits[3:]}+00:00"
    except OverflowError:  # a time that no calendar has: disks do hold such
        return utc_text(0)


@lru_cache(maxsize=1024)
def _minute_text(minute: int) -> str:
    """Frames of a minute share this: to write a date costs as much as to look at its file."""
    return (_EPOCH_UTC + timedelta(minutes=minute)).isoformat(timespec="minutes")


def _list(here: str, folders: list[Place], links: deque[Place], report: OnProblem) -> Iterator[FoundFile]:
    """The files of one folder; its folders and its links are added, each with what it really is."""
    try:
        with os.scandir(here) as listing:
            entries = sorted(listing, key=attrgetter("name"))
    except OSError as error:
        report(_failure(here, "this folder cannot be listed", error))
        return
    for entry in entries:
        name = entry.name
        if name.startswith("."):
            continue
        try:
            if entry.is_dir():
                if name.lower() not in SYSTEM_FOLDERS and not (_ON_WINDOWS and _hidden(entry)):
                    places = links if entry.is_symlink() else folders
                    places.append((entry.path, _identity(entry.path, entry)))
            elif (role := role_of_name(name)) and not (_ON_WINDOWS and _hidden(entry)):
                facts = entry.stat()
                if stat.S_ISREG(facts.st_mode):
                    yield FoundFile(as_text(entry.path), role, facts.st_size, utc_text(facts.st_mtime_ns))
        except OSError as error:
            if error.errno != errno.ELOOP or role_of_name(name):  # a link in a circle is no folder
                report(_failure(entry.path, "this file cannot be looked at", error))


def _hidden(entry: os.DirEntry[str]) -> bool:
    attributes = getattr(entry.stat(follow_symlinks=False), "st_file_attributes", 0)
    return bool(attributes & _HIDDEN_ON_WINDOWS)


def _identity(path: str, entry: os.DirEntry[str] | None = None) -> Identity:
    """What a folder really is, by whatever name it was reached."""
    try:
        # On Windows, only os.stat knows the file's number.
        facts = entry.stat() if entry is not None and os.name != "nt" else os.stat(path)  # noqa: PTH116  # a text
    except OSError:
        return path
    return (facts.st_dev, facts.st_ino) if facts.st_ino else os.path.realpath(path)


def _failure(path: str, what: str, error: OSError) -> ReadFailure:
    reason = f"{what} ({error.strerror or type(error).__name__})"
    return ReadFailure(path=as_text(path), stage="open", reason=reason, error_class=FileAccessError.__name__)
