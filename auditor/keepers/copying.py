"""Copying keepers into a folder: planned first, verified, never over another file."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable
from dataclasses import dataclass, field
from hashlib import blake2b
from pathlib import Path

from auditor.errors import OutputError

UNFINISHED = ".unfinished-"
"""Begins the name of a file that is being written: the final name comes last."""
BLOCK_BYTES = 4 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Move:
    """One file and the name it gets."""

    source: Path
    target: Path
    size_bytes: int
    there_already: bool
    """The target holds the same bytes, from a run before."""


@dataclass(slots=True)
class Copied:
    """What a run did."""

    copied: list[Path] = field(default_factory=list)
    there_already: list[Path] = field(default_factory=list)
    failed: list[tuple[Path, str]] = field(default_factory=list)


def plan(frames: Iterable[list[Path]], folder: Path, *, scanned: Iterable[str] = ()) -> list[Move]:
    """What would be copied where.

    Parameters
    ----------
    frames
        The files of each frame. They keep their names; where a name is taken by other bytes, all files of
        the frame get the same number behind their stem (IMG_0001-2.JPG, IMG_0001-2.xmp).
    scanned
        Scanned folders, never written to.

    Raises
    ------
    OutputError
        for a folder inside a scanned one, or a disk without enough room.
    """
    real = folder.resolve()
    for place in scanned:
        if real.is_relative_to(Path(place)):
            raise OutputError(
                f"{folder}: lies inside the scanned folder {place}, never written to. Choose another."
            )
    taken: dict[str, Path] = {path.name.casefold(): path for path in real.iterdir()} if real.is_dir() else {}
    moves: list[Move] = []
    for files in frames:
        moves += _frame_moves(files, real, taken)
    _check_room(moves, folder)
    return moves


def copy(moves: Iterable[Move]) -> Copied:
    """Copy, and read each copy back; what fails is listed and the others go on."""
    done = Copied()
    for move in moves:
        if move.there_already:
            done.there_already.append(move.target)
            continue
        try:
            _copy_one(move)
            done.copied.append(move.target)
        except (OSError, OutputError) as error:
            done.failed.append((move.source, getattr(error, "strerror", None) or str(error)))
    return done


def _frame_moves(files: list[Path], folder: Path, taken: dict[str, Path]) -> list[Move]:
    number = 1
    while True:
        names = [_numbered(path.name, number) for path in files]
        if all(_free(path, name, taken) for path, name in zip(files, names, strict=True)):
            break
        number += 1
    moves = []
    for path, name in zip(files, names, strict=True):
        there = name.casefold() in taken
        taken.setdefault(name.casefold(), path)
        moves.append(Move(path, folder / name, path.stat().st_size, there))
    return moves


def _numbered(name: str, number: int) -> str:
    if number == 1:
        return name
    stem, dot, rest = name.partition(".")
    return f"{stem}-{number}{dot}{rest}"


def _free(path: Path, name: str, taken: dict[str, Path]) -> bool:
    """Whether a name is unused, or holds these very bytes."""
    holder = taken.get(name.casefold())
    return holder is None or (holder != path and same_bytes(holder, path))


def same_bytes(one: Path, other: Path) -> bool:
    """Whether two files hold the same."""
    return one.stat().st_size == other.stat().st_size and _digest(one) == _digest(other)


def _check_room(moves: list[Move], folder: Path) -> None:
    needed = sum(move.size_bytes for move in moves if not move.there_already)
    place = folder.resolve()
    while not place.exists():
        place = place.parent
    free = shutil.disk_usage(place).free
    if needed > free:
        raise OutputError(
            f"{folder}: {needed / 1e6:.0f} MB are needed and {free / 1e6:.0f} MB are free. "
            "Make room, or keep fewer frames."
        )


def _copy_one(move: Move) -> None:
    move.target.parent.mkdir(parents=True, exist_ok=True)
    # A name of its own length: one near the longest that a disk allows could not be made longer.
    mark = blake2b(os.fsencode(move.target.name), digest_size=8).hexdigest()
    unfinished = move.target.with_name(UNFINISHED + mark)
    try:
        digest = blake2b()
        with move.source.open("rb") as source, unfinished.open("wb") as out:
            while block := source.read(BLOCK_BYTES):
                digest.update(block)
                out.write(block)
            out.flush()
            os.fsync(out.fileno())
        shutil.copystat(move.source, unfinished)
        if _digest(unfinished) != digest.digest():
            raise OutputError(f"{move.target.name}: the copy differs from the original. Check the disk.")
        _name_finally(unfinished, move.target)
    finally:
        unfinished.unlink(missing_ok=True)


def _name_finally(unfinished: Path, target: Path) -> None:
    """Give the final name, unless something has taken it meanwhile."""
    try:
        os.link(unfinished, target)  # unlike a rename it never replaces
    except FileExistsError as error:
        raise OutputError(f"{target.name}: another file has taken this name meanwhile. Run again.") from error
    except OSError:  # a disk without links, such as FAT
        if target.exists():
            raise OutputError(f"{target.name}: another file has taken this name. Run again.") from None
        unfinished.rename(target)


def _digest(path: Path) -> bytes:
    digest = blake2b()
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            digest.update(block)
    return digest.digest()
