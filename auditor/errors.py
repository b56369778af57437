"""Every exception that the auditor raises on purpose, under one base class.

Pure code (optics, focus, statistics) raises ValueError naming argument and value;
everything that touches files, the logbook or settings raises one of these.
The command line catches AuditorError once and prints it as one line.
"""

from __future__ import annotations

import os
import sys
import traceback
from pathlib import Path

from auditor.file_names import as_text


class AuditorError(Exception):
    """Base class. The message says what happened, where, and what to do."""


class UnreadableFileError(AuditorError):
    """A file that cannot be read now; it becomes a row in `unreadable`.

    `reason` is one short line for a person; `stage` says how far reading came
    ("open", "container", "metadata", "sidecar").
    """

    def __init__(self, path: Path | str, reason: str, *, stage: str = "metadata") -> None:
        self.path = path if isinstance(path, str) else as_text(path)
        super().__init__(f"{self.path}: {reason}")
        self.reason = reason
        self.stage = stage

    def __reduce__(self) -> tuple[object, ...]:
        # Workers send errors to the writer as pickles; keyword arguments need help.
        return (_unreadable_file, (type(self), self.path, self.reason, self.stage))


def _unreadable_file(
    kind: type[UnreadableFileError], path: str, reason: str, stage: str
) -> UnreadableFileError:
    return kind(path, reason, stage=stage)


class CorruptFileError(UnreadableFileError):
    """The bytes contradict their own format: a length or offset that leads outside, a broken header."""


class UnsupportedFileError(UnreadableFileError):
    """A file of a kind that this version does not read."""


class IncompleteFileError(UnreadableFileError):
    """The file ends before its picture does."""


class DecoderLostError(UnreadableFileError):
    """A file over which its decoder crashed, took too long or took too much memory."""


class FileAccessError(UnreadableFileError):
    """A file that could not be got at: no permission, a card unplugged, a read error, too little memory.

    That says nothing of the file, so it is tried again each time.
    """


class MissingPackageError(UnreadableFileError):
    """A file that needs a package which is not installed; it is tried again each time."""


CONTENT_FAILURES = tuple(
    kind.__name__ for kind in (CorruptFileError, UnsupportedFileError, IncompleteFileError, DecoderLostError)
)
"""Failures that lie in what the file holds: not tried again until the file or the auditor changes."""


class FolderError(AuditorError):
    """A folder that was asked for cannot be audited."""


class LogbookError(AuditorError):
    """The logbook cannot be opened, read or written."""


class LogbookPlaceError(LogbookError):
    """The place of the logbook cannot be written to now: it can only be read, or it is full."""


class WorkerLostError(AuditorError):
    """A process that works for this one ended, and no single file is at fault."""


class ClusterError(AuditorError):
    """Workers on other machines cannot be used."""


class SettingsError(AuditorError):
    """auditor.toml says something that cannot be meant."""


class StoppedError(AuditorError):
    """The user stopped a run; what was done so far is kept."""


class OutputError(AuditorError):
    """A report or export cannot be written where it was asked for."""


def debugging() -> bool:
    """Whether AUDITOR_DEBUG=1 asks for what libraries say."""
    return os.environ.get("AUDITOR_DEBUG") == "1"


def show_when_debugging() -> None:
    """Print the exception that is being handled, with its traceback, where AUDITOR_DEBUG=1 asks for it.

    Called wherever an exception that nobody foresaw is turned into one line.
    """
    if debugging():
        traceback.print_exc(file=sys.stderr)
