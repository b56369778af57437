"""What workers of a scan do: read files, and make them ready for the logbook.

A module of its own, and a small one: a worker loads no more than what reading takes.
"""

from __future__ import annotations

from auditor.errors import AuditorError
from auditor.jobs.failures import failure_of
from auditor.readers.frame import read_file
from auditor.records import FileReading, FoundFile, ReadFailure
from auditor.store.file_rows import FileRow, file_row


def read_chunk(found_files: list[FoundFile]) -> list[FileRow | ReadFailure]:
    """Read files, one by one: what goes wrong with one stays with that one.

    Parameters
    ----------
    found_files
        Of one batch.

    Returns
    -------
    list[FileRow or ReadFailure]
        One a file, in their order.
    """
    # One kind of work after the other, since each is so much code that the processor has to fetch it anew:
    # with both for each file in turn, making rows takes twice as long.
    read = [_read(found_file) for found_file in found_files]
    return [file_row(one) if isinstance(one, FileReading) else one for one in read]


def _read(found_file: FoundFile) -> FileReading | ReadFailure:
    try:
        return read_file(found_file)
    except AuditorError as error:
        return failure_of(found_file.path, found_file.size_bytes, found_file.modified_at, error)
