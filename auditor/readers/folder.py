"""The walk through a folder of frames: names, sizes and times, and nothing opened."""

from __future__ import annotations

import errno
import os
import stat
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from itertools import chain
from operator import attrgetter
from pathlib import Path

from auditor.errors import FileAccessError
from auditor.file_names import as_text
from auditor.readers.kinds import passed_over, role_of_name
from auditor.records import FoundFile, ReadFailure
from auditor.words import FileRole

SYSTEM_FOLDERS = frozenset(
    ["system volume information", "$recycle.bin", "recycler", "__macosx", "lost+found", "found.000"]
)
_HIDDEN_ON_WINDOWS = getattr(stat, "FILE_ATTRIBUTE_HIDDEN", 2) | getattr(stat, "FILE_ATTRIBUTE_SYSTEM", 4)

AT_ONCE = 1000
"""Files that the walk holds at a time."""
_ON_WINDOWS = os.name == "nt"
_EPOCH_UTC = datetime(1970, 1, 1)  # without a zone: to write one costs as much as the stat

Entry = tuple[str, FileRole, int, int]
"""A file that the walk came across: path as text, role, bytes, and when it was changed, in ns since 1970.

A plain tuple: nearly all files of a folder that is looked at again have not changed, and need no record.
"""
Identity = tuple[int, int] | str
Place = tuple[str, Identity]
OnProblem = Callable[[ReadFailure], None]
OnPassedOver = Callable[[str], None]


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
    return map(found_of, entries(folder, on_problem=on_problem))


def entries(
    folder: Path, *, on_problem: OnProblem | None = None, on_passed_over: OnPassedOver | None = None
) -> Iterator[Entry]:
    """The same, of each file just what its folder and one look at it tell.

    Parameters
    ----------
    on_problem
        As `walk` has it.
    on_passed_over
        Told the kind of each video and other file that holds no photograph: see `kinds.passed_over`.
    """
    return chain.from_iterable(
        _folders(folder, on_problem or (lambda _failure: None), on_passed_over or (lambda _kind: None))
    )


def found_of(entry: Entry) -> FoundFile:
    """The record of a file that the walk came across."""
    path, role, size_bytes, modified_ns = entry
    return FoundFile(path, role, size_bytes, utc_text(modified_ns))


def _folders(folder: Path, report: OnProblem, pass_over: OnPassedOver) -> Iterator[list[Entry]]:
    """The files of one folder after the other, some at a time."""
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
        yield from _list(here, folders, linked, report, pass_over)
        waiting.extend(reversed(folders))


def found(path: str, role: FileRole, facts: os.stat_result) -> FoundFile:
    """The record of one file."""
    return FoundFile(as_text(path), role, facts.st_size, utc_text(facts.st_mtime_ns))


def utc_text(time_ns: int) -> str:
    """A file's time as UTC, ISO 8601 with microseconds."""
    second, microseconds = divmod(time_ns // 1000, 1_000_000)
    try:
        return _second_text(second) % microseconds
    except OverflowError:  # a time that no calendar has: disks do hold such
        return utc_text(0)


def utc_texts(times_ns: Sequence[int]) -> list[str]:
    """The same of many files, without a call for each.

    Parameters
    ----------
    times_ns
        Nanoseconds since 1970.

    Returns
    -------
    list[str]
        In their order.
    """
    try:
        return [_second_text(ns // 1_000_000_000) % (ns // 1000 % 1_000_000) for ns in times_ns]
    except OverflowError:
        return [utc_text(ns) for ns in times_ns]


@lru_cache(maxsize=4096)
def _second_text(second: int) -> str:
    """Files of a second share this: to write a date costs as much as to look at its file."""
    return (_EPOCH_UTC + timedelta(seconds=second)).isoformat(timespec="seconds") + ".%06d+00:00"


def _list(
    here: str, folders: list[Place], links: deque[Place], report: OnProblem, pass_over: OnPassedOver
) -> Iterator[list[Entry]]:
    """The files of one folder, some at a time; its folders and links are added, with what each really is."""
    try:
        with os.scandir(here) as listing:
            waiting = sorted(listing, key=attrgetter("name"), reverse=True)
    except OSError as error:
        report(_failure(here, "this folder cannot be listed", error))
        return
    files: list[Entry] = []
    while waiting:
        entry = waiting.pop()  # and forgotten, with what was seen of it: a folder may hold a million
        name = entry.name
        if name[0] == ".":
            continue
        try:
            if entry.is_dir():
                if name.lower() not in SYSTEM_FOLDERS and not (_ON_WINDOWS and _hidden(entry)):
                    places = links if entry.is_symlink() else folders
                    places.append((entry.path, _identity(entry.path, entry)))
            # The end of a name alone, kept: to work it out for each file costs a tenth of the walk.
            elif (role := _role_of_ending(name[name.rfind(".") :])) and not (_ON_WINDOWS and _hidden(entry)):
                facts = entry.stat()
                if stat.S_ISREG(facts.st_mode):
                    path = entry.path
                    text = path if path.isascii() else as_text(path)
                    files.append((text, role, facts.st_size, facts.st_mtime_ns))
                    if len(files) == AT_ONCE:
                        yield files
                        files = []
            elif (
                (kind := passed_over(name[name.rfind(".") :]))
                and entry.is_file()
                and not (_ON_WINDOWS and _hidden(entry))
            ):
                pass_over(kind)
        except OSError as error:
            if error.errno != errno.ELOOP or role_of_name(name):  # a link in a circle is no folder
                report(_failure(entry.path, "this file cannot be looked at", error))
    yield files


@lru_cache(maxsize=1024)
def _role_of_ending(ending: str) -> FileRole | None:
    return role_of_name("_" + ending)


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
