"""The walk through a folder of frames: names, sizes and times, and nothing opened."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from auditor.readers.kinds import role_of_name
from auditor.records import FoundFile, ReadFailure

SYSTEM_FOLDERS = frozenset(
    ["system volume information", "$recycle.bin", "recycler", "__macosx", "lost+found", "found.000"]
)
_HIDDEN_ON_WINDOWS = getattr(stat, "FILE_ATTRIBUTE_HIDDEN", 2) | getattr(stat, "FILE_ATTRIBUTE_SYSTEM", 4)

OnProblem = Callable[[ReadFailure], None]


def walk(folder: Path, *, on_problem: OnProblem | None = None) -> Iterator[FoundFile]:
    """Every picture and sidecar below a folder, one by one, in the order of their names.

    Hidden and system files and folders are left out. Links to folders are followed, but no
    folder is entered twice, whatever leads to it.

    Parameters
    ----------
    on_problem
        Told of each folder that cannot be listed and each file that cannot be looked at; the
        walk goes on with the next one.
    """
    report = on_problem or (lambda _failure: None)
    root = os.path.abspath(folder)  # noqa: PTH100 - text paths: Path objects would cost more than the walk
    waiting = [root]
    seen: set[tuple[int, int] | str] = {_identity(root)}
    while waiting:
        here = waiting.pop()
        files, folders = _list(here, report)
        yield from files
        for path, identity in reversed(folders):
            if identity not in seen:
                waiting.append(path)
        seen.update(identity for _, identity in folders)


def found(path: str, facts: os.stat_result, role_name: str | None = None) -> FoundFile | None:
    """The record of one file; None where its name is none of ours."""
    role = role_of_name(role_name if role_name is not None else os.path.basename(path))  # noqa: PTH119
    if role is None:
        return None
    return FoundFile(path=path, role=role, size_bytes=facts.st_size, modified_at=utc_text(facts.st_mtime_ns))


def utc_text(time_ns: int) -> str:
    """A file's time as UTC, ISO 8601 with microseconds."""
    seconds, rest_ns = divmod(time_ns, 1_000_000_000)
    try:
        whole = datetime.fromtimestamp(seconds, UTC)
    except (OverflowError, OSError, ValueError):  # a time that no calendar has: disks do hold such
        whole = datetime.fromtimestamp(0, UTC)
    return whole.replace(microsecond=rest_ns // 1000).isoformat(timespec="microseconds")


def _list(here: str, report: OnProblem) -> tuple[list[FoundFile], list[tuple[str, tuple[int, int] | str]]]:
    """The files of one folder, and its folders with what each really is."""
    files: list[FoundFile] = []
    folders: list[tuple[str, tuple[int, int] | str]] = []
    try:
        with os.scandir(here) as listing:
            entries = sorted(listing, key=lambda entry: os.fsencode(entry.name))
    except OSError as error:
        report(_failure(here, "this folder cannot be listed", error))
        return files, folders
    for entry in entries:
        if entry.name.startswith("."):
            continue
        try:
            if entry.is_dir():
                if entry.name.lower() not in SYSTEM_FOLDERS and not _hidden(entry):
                    folders.append((entry.path, _identity(entry.path, entry)))
            elif role_of_name(entry.name) and not _hidden(entry):
                facts = entry.stat()
                file = found(entry.path, facts, entry.name) if stat.S_ISREG(facts.st_mode) else None
                if file:
                    files.append(file)
        except OSError as error:
            report(_failure(entry.path, "this file cannot be looked at", error))
    return files, folders


def _hidden(entry: os.DirEntry[str]) -> bool:
    if os.name != "nt":
        return False
    attributes = getattr(entry.stat(follow_symlinks=False), "st_file_attributes", 0)
    return bool(attributes & _HIDDEN_ON_WINDOWS)


def _identity(path: str, entry: os.DirEntry[str] | None = None) -> tuple[int, int] | str:
    """What a folder really is, by whatever name it was reached."""
    try:
        # On Windows, only os.stat knows the file's number.
        facts = entry.stat() if entry is not None and os.name != "nt" else os.stat(path)  # noqa: PTH116
    except OSError:
        return path
    return (facts.st_dev, facts.st_ino) if facts.st_ino else os.path.realpath(path)


def _failure(path: str, what: str, error: OSError) -> ReadFailure:
    reason = f"{what} ({error.strerror or type(error).__name__})"
    found_file = FoundFile(path=path, role="raw", size_bytes=0, modified_at=utc_text(0))
    return ReadFailure(found=found_file, stage="open", reason=reason, error_class="UnreadableFileError")
