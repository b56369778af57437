"""Writing a file that is new, whole or not at all."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from auditor.errors import OutputError


def write_new(path: Path, data: bytes, advice: str) -> None:
    """Write a file under another name first, so that no half-written one is left on a full disk.

    Parameters
    ----------
    path
        The file; nothing is replaced.
    data
        All of it.
    advice
        What to do where there is one already.

    Raises
    ------
    OutputError
        for a file that exists, or cannot be written.
    """
    if path.exists():
        raise OutputError(f"{path}: exists already. {advice}")
    unfinished = path.with_name(f"{path.name}.unfinished")
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    except OSError as error:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise OutputError(f"{path}: cannot be written ({error.strerror}).") from error
