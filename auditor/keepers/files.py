"""Files as the hand-over makes them: written under another name, verified, named last, nothing replaced."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

from auditor.errors import OutputError

UNFINISHED = ".unfinished-"
"""Begins the name of a file that is being written: the final name comes last."""
BLOCK_BYTES = 128 * 1024
"""Small enough to stay in a core's own memory between reading, hashing and writing."""


def digest(path: Path) -> str:
    """XXH3-128 of a file's bytes, as hexadecimal: it finds changes and errors, not forgery.

    Parameters
    ----------
    path
        Of any file.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    from xxhash import xxh3_128

    hashed = xxh3_128()
    block = bytearray(BLOCK_BYTES)
    view = memoryview(block)
    with path.open("rb", buffering=0) as file:
        while count := file.readinto(block):
            hashed.update(view[:count])
    return hashed.hexdigest()


def same_bytes(path: Path, other_path: Path) -> bool:
    """Whether two files hold the same.

    Parameters
    ----------
    path, other_path
        Files that are there.

    Returns
    -------
    bool
        Sizes are compared first, then hashes.
    """
    return path.stat().st_size == other_path.stat().st_size and digest(path) == digest(other_path)


def copy_verified(source: Path, unfinished: Path) -> str:
    """Copy under an unfinished name, flush it to the disk, and read it back.

    Parameters
    ----------
    source
        The original.
    unfinished
        Where the copy is written, beside its final place.

    Returns
    -------
    str
        XXH3-128 of both, hexadecimal.

    Raises
    ------
    OutputError
        where the copy differs from the original, or that changed meanwhile.
    """
    before = source.stat()
    copied = _copy_hashed(source, unfinished)
    after = source.stat()
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise OutputError("it changed while it was copied: run it again")
    _flush(unfinished)
    if digest(unfinished) != copied:
        raise OutputError("the copy differs from the original: check the disk and the card")
    with suppress(OSError):  # a disk without times or permissions
        shutil.copystat(source, unfinished)
    return copied


def _copy_hashed(source: Path, unfinished: Path) -> str:
    """Copy, hashing what was read on its way: a card is read once."""
    from xxhash import xxh3_128

    hashed = xxh3_128()
    block = bytearray(BLOCK_BYTES)
    view = memoryview(block)
    with source.open("rb", buffering=0) as file, unfinished.open("wb", buffering=0) as out:
        while count := file.readinto(block):
            hashed.update(view[:count])
            written = 0
            while written < count:
                written += out.write(view[written:count])
    return hashed.hexdigest()


def write_verified(content: bytes, unfinished: Path) -> str:
    """Write bytes under an unfinished name, flush them to the disk, and read them back.

    Parameters
    ----------
    content
        What the file is to hold.
    unfinished
        Where it is written, beside its final place.

    Returns
    -------
    str
        XXH3-128 of the file, hexadecimal.

    Raises
    ------
    OutputError
        where what was written reads back otherwise.
    """
    from xxhash import xxh3_128

    with unfinished.open("wb") as out:
        out.write(content)
    _flush(unfinished)
    hash_read = digest(unfinished)
    if hash_read != xxh3_128(content).hexdigest():
        raise OutputError("what was written reads back otherwise: check the disk")
    return hash_read


def _flush(path: Path) -> None:
    """See to it that the bytes are on the disk before the file gets a name that says that it is whole."""
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def name_finally(unfinished: Path, target: Path) -> None:
    """Give the final name, unless something has taken it meanwhile.

    Parameters
    ----------
    unfinished
        The file as it was written.
    target
        Its final name, in the same folder.

    Raises
    ------
    OutputError
        where the name is taken.
    """
    taken = "another file has taken this name meanwhile: run it again"
    try:
        os.link(unfinished, target)  # unlike a rename it never replaces
    except FileExistsError as error:
        raise OutputError(taken) from error
    except OSError:  # a disk without links, such as FAT
        if os.path.lexists(target):
            raise OutputError(taken) from None
        unfinished.rename(target)
        return
    unfinished.unlink()


def back_up(path: Path, backup: Path, unfinished: Path) -> None:
    """Keep what a file is now under a second name; one that is kept already stays.

    Parameters
    ----------
    path
        The file as it is.
    backup
        The second name.
    unfinished
        Where the copy is written first.
    """
    if os.path.lexists(backup):
        return
    try:
        os.link(path, backup)
    except FileExistsError:
        return
    except OSError:  # a disk without links
        copy_verified(path, unfinished)
        name_finally(unfinished, backup)
