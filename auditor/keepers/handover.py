"""Handing over: every file noted in a receipt before it gets its final name, none replaced but sidecars."""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path

from auditor.errors import AuditorError, OutputError, StoppedError
from auditor.keepers import files
from auditor.keepers.plan import Move, Plan
from auditor.readers.frame import fingerprint_of
from auditor.readers.source import open_source
from auditor.store import receipts
from auditor.store.logbook import Logbook

AT_ONCE = 8
"""Files prepared at once: while one waits for the disk, others are read and hashed."""
_NO_USE_TO_GO_ON = (errno.ENOSPC, errno.EDQUOT, errno.EROFS)

Progress = Callable[[int], None]


@dataclass(slots=True, kw_only=True)
class Done:
    """What a run did."""

    receipt_id: int | None = None
    """None where nothing was made."""
    made: list[Path] = field(default_factory=list)
    there_already: list[Path] = field(default_factory=list)
    failed: list[tuple[Path, str]] = field(default_factory=list)
    """Originals that were not handed over, each with its reason."""


@dataclass(slots=True)
class _Prepared:
    """A file that only lacks its name; or the reason why there is none."""

    move: Move
    written_as: Path
    hash: str | None = None
    error: Exception | None = None


def hand_over(logbook: Logbook, plan: Plan, *, progress: Progress | None = None) -> Done:
    """Copy, link or write sidecars as planned; what fails is listed and the others go on.

    A run that was cut off is finished by running it again: its receipt goes on.

    Parameters
    ----------
    plan
        What is to be made.
    progress
        Called with the number of files that were made, or could not be, so far.

    Returns
    -------
    Done
        What was made, what was there already, and what failed with its reason.

    Raises
    ------
    StoppedError
        when the photographer stopped it; what was done is kept, with its receipt.
    LogbookError
        when the receipt cannot be kept: nothing is made without one.
    """
    done = Done(failed=list(plan.left_out))
    done.there_already = [move.target for move in plan.moves if move.there_already]
    wanted = [move for move in plan.moves if not move.there_already]
    receipt_id, left = receipts.begin(logbook, plan.way, place(plan))
    _remove_unfinished(left)
    folders = _missing_folders(move.target.parent for move in wanted)
    token = secrets.token_hex(4)
    names = [
        move.target.with_name(f"{files.UNFINISHED}{token}-{number}") for number, move in enumerate(wanted)
    ]
    receipts.plan(
        logbook, receipt_id, [_planned(plan, receipt_id, *pair) for pair in zip(wanted, names, strict=True)],
        folders,
    )  # fmt: skip
    not_made: list[Path] = []
    try:
        for folder in folders:
            with suppress(OSError):  # told for each file that should lie in it
                folder.mkdir(exist_ok=True)
        with closing(_prepare_all(plan, wanted, names)) as prepared:
            for ready in prepared:
                if _make(logbook, plan, receipt_id, ready, done):
                    done.made.append(ready.move.target)
                else:
                    not_made.append(ready.move.target)
                if progress:
                    progress(len(done.made) + len(not_made))
    except KeyboardInterrupt as interrupt:
        raise StoppedError(
            f"Stopped after {len(done.made)} files. Run the same command again to go on, or take them back: "
            f"auditor keepers undo {receipt_id}"
        ) from interrupt
    finally:
        _remove_unfinished(names)
    if not done.made:
        not_made += _removed(folders)
    if receipts.finish(logbook, receipt_id, not_made):
        done.receipt_id = receipt_id
    return done


def place(plan: Plan) -> str:
    """Where a plan leads, for a person.

    Parameters
    ----------
    plan
        Of a hand-over.

    Returns
    -------
    str
        The folder, or that sidecars lie beside their pictures.
    """
    return "beside the originals" if plan.folder is None else str(plan.folder)


def _planned(plan: Plan, receipt_id: int, move: Move, written_as: Path) -> receipts.Planned:
    replaced = move.hash_before is not None
    return receipts.Planned(
        path=move.target,
        source=move.source,
        written_as=None if plan.way in ("hard_link", "symbolic_link") else written_as,
        backup=backup_of(move.target, receipt_id) if replaced else None,
        hash_before=move.hash_before,
        rated=move.rated,
    )


def backup_of(path: Path, receipt_id: int) -> Path:
    """Where a sidecar lies that a run replaced; no name that is read as a sidecar.

    Parameters
    ----------
    path
        Of the sidecar.
    receipt_id
        Of the run that replaces it.

    Returns
    -------
    Path
        In the same folder.
    """
    return path.with_name(f"{path.name}.before-{receipt_id}")


def _prepare_all(plan: Plan, moves: list[Move], names: list[Path]) -> Generator[_Prepared, None, None]:
    """Everything but the final names, several files at once, in order."""
    full: list[Exception] = []

    def prepare(move: Move, written_as: Path) -> _Prepared:
        prepared = _Prepared(move, written_as, error=full[0] if full else None)
        if prepared.error is None:
            try:
                prepared.hash = _prepare(plan, move, written_as)
            except (OSError, AuditorError) as error:
                prepared.error = error
                if isinstance(error, OSError) and error.errno in _NO_USE_TO_GO_ON:
                    full.append(error)
                with suppress(OSError):
                    written_as.unlink(missing_ok=True)
        return prepared

    pool = ThreadPoolExecutor(AT_ONCE)
    try:
        yield from pool.map(prepare, moves, names)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _prepare(plan: Plan, move: Move, written_as: Path) -> str:
    """Write what is to be written under its unfinished name; returns the hash for the receipt."""
    if move.content is not None:
        return files.write_verified(move.content, written_as)
    if plan.way == "copy":
        return files.copy_verified(move.source, written_as)
    with open_source(str(move.source)) as source:
        return fingerprint_of(source)


def _make(logbook: Logbook, plan: Plan, receipt_id: int, prepared: _Prepared, done: Done) -> bool:
    """Note a file in the receipt and give it its final name; returns whether it was made."""
    move = prepared.move
    try:
        if prepared.error is not None:
            raise prepared.error
        if not move.target.parent.is_dir():
            raise OutputError("its folder cannot be made")
        receipts.note_made(logbook, receipt_id, move.target, prepared.hash or "")
        if plan.way == "hard_link":
            os.link(move.source.resolve(), move.target)
        elif plan.way == "symbolic_link":
            move.target.symlink_to(move.source)
        elif move.hash_before is not None:
            _replace(move, prepared.written_as, backup_of(move.target, receipt_id))
        else:
            files.name_finally(prepared.written_as, move.target)
    except (OSError, OutputError) as error:
        done.failed.append((move.source, _reason(error, plan)))
        return False
    return True


def _replace(move: Move, written_as: Path, backup: Path) -> None:
    if files.digest(move.target) != move.hash_before:
        raise OutputError("another program has changed the sidecar meanwhile: run it again")
    files.back_up(move.target, backup, written_as.with_name(written_as.name + "b"))
    written_as.replace(move.target)


def _reason(error: Exception, plan: Plan) -> str:
    """One short line for a person."""
    number = getattr(error, "errno", None)
    if plan.way in ("hard_link", "symbolic_link"):
        if isinstance(error, FileExistsError):
            return "another file has taken this name meanwhile: run it again"
        kind = plan.way.replace("_", " ")
        if number == errno.EXDEV:
            return "lies on another disk: hard links cannot lead there. Copy it, or make symbolic links"
        if number in (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS) or getattr(error, "winerror", None):
            return f"this disk, or your account, cannot make a {kind}. Copy it instead"
    if number in (errno.EINVAL, errno.EILSEQ):
        return f"this disk refused it, most likely for a letter in its name ({os.strerror(number)})"
    if number == errno.ENAMETOOLONG:
        return "its name, with a number, is too long for this disk"
    return getattr(error, "strerror", None) or getattr(error, "reason", None) or str(error)


def _missing_folders(wanted: Iterable[Path]) -> list[Path]:
    """Folders that are not there yet, the outer ones first."""
    missing: dict[Path, None] = {}
    for folder in dict.fromkeys(wanted):
        above = []
        while not folder.exists() and folder not in missing:
            above.append(folder)
            folder = folder.parent
        missing.update(dict.fromkeys(reversed(above)))
    return list(missing)


def _removed(folders: list[Path]) -> list[Path]:
    """Take away folders in which nothing came to lie; returns those that are gone."""
    gone = []
    for folder in reversed(folders):
        with suppress(OSError):
            if folder.exists():
                folder.rmdir()
            gone.append(folder)
    return gone


def _remove_unfinished(names: Iterable[Path]) -> None:
    for name in names:
        for path in (name, name.with_name(name.name + "b")):
            with suppress(OSError):
                path.unlink(missing_ok=True)
