"""What went wrong with one file, as it goes into the list of files that cannot be read."""

from __future__ import annotations

import os
import signal
from datetime import datetime
from typing import TYPE_CHECKING

from auditor.errors import CONTENT_FAILURES, AuditorError, FileAccessError, UnreadableFileError
from auditor.file_names import as_path
from auditor.readers.folder import utc_text
from auditor.records import ReadFailure
from auditor.store.file_times import FAT_TOLERANCE_S, same_time

if TYPE_CHECKING:
    from auditor.jobs.crew import Loss

CHANGED = "it changed, or went away, while it was being read"
CHANGED_SINCE = "it changed after it was scanned: scan its folder again"


def failure_of(path: str, size_bytes: int, modified_at: str, error: AuditorError) -> ReadFailure:
    """A failure to read a file.

    Bytes that do not fit together are no fault of a file that changed or went away meanwhile: a card that
    is pulled out may hand over zeros, or the half of a file, before the system notices.

    Parameters
    ----------
    path
        Of the file.
    size_bytes, modified_at
        As they were when the file was found.
    error
        What reading it raised.

    Returns
    -------
    ReadFailure
        With the stage and the reason that the logbook keeps.
    """
    stage = error.stage if isinstance(error, UnreadableFileError) else "metadata"
    reason = error.reason if isinstance(error, UnreadableFileError) else str(error)
    error_class = type(error).__name__
    if error_class in CONTENT_FAILURES and not _as_it_was(path, size_bytes, modified_at):
        reason, error_class = CHANGED, FileAccessError.__name__
    return ReadFailure(
        path=path,
        size_bytes=size_bytes,
        modified_at=modified_at,
        stage=stage,
        reason=reason,
        error_class=error_class,
    )


def why_lost(loss: Loss) -> str:
    """What is said of a file over which a worker was lost.

    Parameters
    ----------
    loss
        How the worker was lost.

    Returns
    -------
    str
        One sentence.
    """
    if loss.over_s is not None:
        return f"decoding it took more than {loss.over_s:g} s (file_longest_s in auditor.toml)"
    if loss.over_gib is not None:
        return f"decoding it took more than {loss.over_gib:g} GiB of memory (file_memory_gib in auditor.toml)"
    if loss.workers_died:
        return "workers of the cluster died over it, one after the other"
    code = loss.exit_code
    try:
        how = f"signal {signal.Signals(-code).name}" if code is not None and code < 0 else f"exit code {code}"
    except ValueError:
        how = f"signal {-(code or 0)}"
    return f"its decoder crashed ({how})"


def check_unchanged(path: str, size_bytes: int, modified_at: str) -> None:
    """Refuse what was read of a file that is no longer the one that was scanned.

    Parameters
    ----------
    path
        Of the file.
    size_bytes, modified_at
        As they were when it was scanned; times to the second, and to whole hours, as disks keep them.

    Raises
    ------
    FileAccessError
        where another picture may have taken its name, so that the reading would be of that one.
    """
    facts = os.stat(as_path(path))  # noqa: PTH116  # a text of this system, kept as a text
    now = utc_text(facts.st_mtime_ns)
    apart_s = abs((datetime.fromisoformat(now) - datetime.fromisoformat(modified_at)).total_seconds())
    # Another machine may see a share's times rounded.
    if facts.st_size != size_bytes or (apart_s > FAT_TOLERANCE_S and not same_time(now, modified_at)):
        raise FileAccessError(path, CHANGED_SINCE)


def _as_it_was(path: str, size_bytes: int, modified_at: str) -> bool:
    try:
        facts = os.stat(as_path(path))  # noqa: PTH116  # a text of this system, kept as a text
    except (OSError, ValueError):
        return False
    return facts.st_size == size_bytes and utc_text(facts.st_mtime_ns) == modified_at
