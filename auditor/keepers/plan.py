"""What would be handed over where: names, clashes, room, places that are never written to."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from auditor.errors import OutputError
from auditor.file_names import allowed_on_windows, as_path, as_text, known_as
from auditor.keepers.files import same_bytes
from auditor.readers.places import holding
from auditor.readers.volume import needs_windows_names
from auditor.store import scans
from auditor.store.candidates import Candidate
from auditor.store.frame_files import files_of
from auditor.store.logbook import Logbook
from auditor.store.receipts import Way, WrittenRating

GONE = "no longer there: scan its folder again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One file and the name it gets."""

    source: Path
    target: Path
    size_bytes: int
    there_already: bool = False
    """The target is what it would become, from a run before."""
    content: bytes | None = None
    """What a sidecar will hold; None for copies and links."""
    hash_before: str | None = None
    """Hash of the sidecar that is replaced; None where there is none."""
    rated: WrittenRating | None = None
    """The rating that the auditor writes into the sidecar; None where it writes none."""


@dataclass(slots=True, kw_only=True)
class Plan:
    """A hand-over before it is done."""

    way: Way
    folder: Path | None
    """None: beside the originals."""
    moves: list[Move] = field(default_factory=list)
    left_out: list[tuple[Path, str]] = field(default_factory=list)
    """Files that cannot be handed over, each with its reason."""
    ratings_kept: int = 0
    """Sidecars whose rating stays as it is."""


def plan(
    frames: Iterable[list[Path]], folder: Path, *, way: Way = "copy", scanned: Iterable[str] = ()
) -> Plan:
    """What would be copied or linked where.

    Parameters
    ----------
    frames
        The files of each frame. They keep their names; where a name is taken by another file, all files of
        the frame get the same number behind their stem (IMG_0001-2.JPG, IMG_0001-2.xmp). Upper and lower case
        count as the same name, since on many disks they are. On a disk that takes only names that Windows
        allows, others are changed to the nearest that it does.
    folder
        Where they are to go.
    way
        Copy, hard link or symbolic link.
    scanned
        Scanned folders, never written to.

    Returns
    -------
    Plan
        One move a file, with those that are there already.

    Raises
    ------
    OutputError
        for a folder inside a scanned one, or a disk without enough room.
    """
    real = resolved(folder)
    new_plan = Plan(way=way, folder=real)
    frames = list(frames)
    around = {path.parent for files in frames for path in files}
    check_outside(real, [*scanned, *map(as_text, sorted(around))])
    check_writable(real)
    try:
        taken = {known_as(path.name): path for path in real.iterdir()} if real.is_dir() else {}
    except OSError as error:
        raise OutputError(f"{folder}: cannot be looked into ({error.strerror}). Choose another.") from error
    named = allowed_on_windows if needs_windows_names(real) else str
    for files in frames:
        new_plan.moves += _frame_moves(new_plan, real, files, taken, named)
    if way == "copy":
        check_room(new_plan.moves, folder)
    return new_plan


def plan_keepers(logbook: Logbook, keepers: Iterable[Candidate], folder: Path, *, way: Way = "copy") -> Plan:
    """The same for keepers, with the files that the logbook knows of them.

    Parameters
    ----------
    keepers
        Frames that passed, in order of time.
    folder
        Where they are to go.
    way
        Copy, hard link or symbolic link.

    Returns
    -------
    Plan
        What is to be made; keepers without a file that is there are listed as left out.

    Raises
    ------
    OutputError
        as `plan` does.
    """
    keepers = list(keepers)
    frames = files_of(logbook, [keeper.frame_id for keeper in keepers])
    new_plan = plan(frames, folder, way=way, scanned=scans.folders(logbook))
    for keeper, files in zip(keepers, frames, strict=True):
        if not files:
            new_plan.left_out.append((as_path(keeper.path or ""), GONE))
    return new_plan


def resolved(folder: Path) -> Path:
    """What a folder really is, links followed.

    Parameters
    ----------
    folder
        Need not exist yet.

    Returns
    -------
    Path
        Absolute.

    Raises
    ------
    OutputError
        for a file, a link that leads in a circle, or a name that the logbook could not keep.
    """
    try:
        real = folder.resolve()
        str(real).encode()
    except UnicodeEncodeError:
        raise OutputError(f"{folder!a}: the folder's name is not valid UTF-8. Choose another.") from None
    except (OSError, RuntimeError, ValueError) as error:
        raise OutputError(f"{folder}: cannot be reached ({error}). Choose another folder.") from error
    if os.path.lexists(real) and not real.is_dir():
        raise OutputError(f"{folder}: is a file, not a folder. Name a folder.")
    return real


def check_outside(folder: Path, scanned: Iterable[str]) -> None:
    """Refuse a folder in a scanned one, by whatever name or link it is reached.

    Parameters
    ----------
    folder
        As `resolved` gave it.
    scanned
        Folders that are only read.

    Raises
    ------
    OutputError
        naming the scanned folder.
    """
    place = holding(folder, scanned)
    if place is not None:
        raise OutputError(
            f"{folder}: lies inside {place}, which holds your frames and is never written to. "
            "Choose another folder."
        )


def check_writable(folder: Path) -> None:
    """Refuse a folder in which nothing can be written.

    Parameters
    ----------
    folder
        As `resolved` gave it; need not exist yet.

    Raises
    ------
    OutputError
        with the reason. Nothing is tried: a plan writes nothing.
    """
    place = _nearest(folder)
    if not os.access(place, os.W_OK):
        read_only = hasattr(os, "statvfs") and os.statvfs(place).f_flag & os.ST_RDONLY
        reason = os.strerror(errno.EROFS if read_only else errno.EACCES)
        raise OutputError(f"{folder}: nothing can be written there ({reason}). Choose another folder.")


def _nearest(folder: Path) -> Path:
    """The folder itself, or the innermost around it that is there."""
    return next(place for place in (folder, *folder.parents) if place.exists())


def check_room(moves: Iterable[Move], folder: Path) -> None:
    """Refuse to begin what the disk has no room for.

    Parameters
    ----------
    moves
        What is to be made; links take no room.
    folder
        On the disk that is asked.

    Raises
    ------
    OutputError
        saying how much is needed and how much is free.
    """
    needed = sum(move.size_bytes for move in moves if not move.there_already)
    free = shutil.disk_usage(_nearest(folder.resolve())).free
    if needed > free:
        raise OutputError(
            f"{folder}: {_room(needed)} are needed and {_room(free)} are free. "
            "Make room, or keep fewer frames."
        )


def _room(size_bytes: int) -> str:
    return f"{size_bytes / 1e3:.0f} kB" if size_bytes < 1e6 else f"{size_bytes / 1e6:,.0f} MB"


def _frame_moves(
    new_plan: Plan, folder: Path, files: list[Path], taken: dict[str, Path], named: Callable[[str], str]
) -> list[Move]:
    there = []
    for path in files:
        if path.is_file():
            there.append(path)
        else:
            new_plan.left_out.append((path, GONE))
    # Two files of one name in a frame, from two cards: the second one gets a number of its own.
    first = {known_as(named(path.name)): path for path in reversed(there)}
    second = [path for path in there if first[known_as(named(path.name))] != path]
    there = [path for path in there if path not in second]
    number = 1
    while True:
        names = [_numbered(named(path.name), number) for path in there]
        holders = [taken.get(known_as(name)) for name in names]
        if all(
            _free(path, holder, folder, new_plan.way) for path, holder in zip(there, holders, strict=True)
        ):
            break
        number += 1
    moves = []
    for path, name in zip(there, names, strict=True):
        done = known_as(name) in taken
        taken.setdefault(known_as(name), path)
        moves.append(
            Move(source=path, target=folder / name, size_bytes=path.stat().st_size, there_already=done)
        )
    return moves + (_frame_moves(new_plan, folder, second, taken, named) if second else [])


def _numbered(name: str, number: int) -> str:
    if number == 1:
        return name
    stem, dot, rest = name.partition(".")
    return f"{stem}-{number}{dot}{rest}"


def _free(path: Path, holder: Path | None, folder: Path, way: Way) -> bool:
    """Whether a name is unused, or what holds it is what the file would become."""
    if holder is None:
        return True
    if holder == path:
        return False
    try:
        if holder.parent != folder:  # of another frame of this plan
            return same_bytes(holder, path)
        if way != "symbolic_link" and holder.is_symlink():
            return False
        if way == "copy" and holder.samefile(path):  # a hard link to the original is no copy of it
            return False
        return holder.samefile(path) or same_bytes(holder, path)
    except OSError:  # a link that leads nowhere, a file that may not be read
        return False
