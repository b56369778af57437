"""Taking back what a receipt says was made, and nothing else."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from auditor.keepers import files
from auditor.store import receipts
from auditor.store.logbook import Logbook
from auditor.store.receipts import Made, Receipt


@dataclass(slots=True, kw_only=True)
class TakenBack:
    """What came of taking back."""

    receipt: Receipt
    removed: list[Path] = field(default_factory=list)
    restored: list[Path] = field(default_factory=list)
    """Sidecars that are again as they were before."""
    gone_already: list[Path] = field(default_factory=list)
    folders_removed: list[Path] = field(default_factory=list)
    folders_left: list[Path] = field(default_factory=list)
    """Folders that the run made and that hold something else now."""
    left: list[tuple[Path, str]] = field(default_factory=list)
    """Files that were not touched, each with its reason."""


def take_back(logbook: Logbook, receipt_id: int) -> TakenBack:
    """Take back what a receipt made: files that are as they were made, sidecars, folders left empty.

    A copy is removed only while its original is there and holds the same bytes. What was changed since is
    left and listed; once that is settled, the same receipt can be taken back again.

    Parameters
    ----------
    receipt_id
        As `receipts` lists it.

    Returns
    -------
    TakenBack
        What was taken away, and what was left with the reason.

    Raises
    ------
    LogbookError
        for a receipt that does not exist or was taken back already.
    """
    receipt = receipts.find(logbook, receipt_id)
    made_files = receipts.still_there(logbook, receipt_id)
    newer = receipts.later(logbook, receipt_id)
    result = TakenBack(receipt=receipt)
    done: list[Path] = []
    try:
        for item in made_files:
            if item.is_folder:
                settled = _take_back_folder(item.path, result)
            elif item.path in newer:
                reason = f"receipt {newer[item.path]} made it anew: take that one back first"
                result.left.append((item.path, reason))
                settled = False
            else:
                settled = _take_back_file(receipt, item, result)
            if settled:
                done.append(item.path)
    finally:
        receipts.note_undone(logbook, receipt_id, done)
    return result


def _take_back_file(receipt: Receipt, made_file: Made, result: TakenBack) -> bool:
    """Take back one file; returns whether there is nothing left to do about it."""
    _remove_unfinished(made_file)
    try:
        if made_file.made_at is None:
            return True
        if made_file.backup is not None:
            return _restore(made_file, result)
        if not os.path.lexists(made_file.path):
            result.gone_already.append(made_file.path)
            return True
        reason = _why_not(receipt, made_file)
        if reason is not None:
            result.left.append((made_file.path, reason))
            return False
        made_file.path.unlink()
    except OSError as error:
        result.left.append((made_file.path, error.strerror or str(error)))
        return False
    result.removed.append(made_file.path)
    return True


def _why_not(receipt: Receipt, made_file: Made) -> str | None:
    """Why a file must stay; None where it may go."""
    source = made_file.source
    if receipt.what == "symbolic_link":
        leads_there = made_file.path.is_symlink() and made_file.path.readlink() == source
        return None if leads_there else "changed since it was made"
    if made_file.path.is_symlink() or not made_file.path.is_file():
        return "changed since it was made"
    if receipt.what == "sidecar":
        return None if files.digest(made_file.path) == made_file.hash else "changed since it was made"
    if receipt.what == "copy" and files.digest(made_file.path) != made_file.hash:
        return "changed since it was made"
    if source is None or not source.is_file():
        return "its original is not there: this may be the only one"
    if receipt.what == "hard_link":
        return None if made_file.path.samefile(source) else "it and its original are no longer the same file"
    return (
        None
        if files.digest(source) == made_file.hash
        else "its original has changed: this may be the only one"
    )


def _restore(made_file: Made, result: TakenBack) -> bool:
    """Put back the sidecar that was replaced."""
    assert made_file.backup is not None
    now = files.digest(made_file.path) if made_file.path.is_file() else None
    if now == made_file.hash_before:  # the run was cut off before it replaced it, or this was done before
        made_file.backup.unlink(missing_ok=True)
    elif now is not None and now != made_file.hash:
        result.left.append(
            (made_file.path, f"changed since it was written; as it was before: {made_file.backup.name}")
        )
        return False
    elif not made_file.backup.is_file() or files.digest(made_file.backup) != made_file.hash_before:
        result.left.append(
            (made_file.path, f"{made_file.backup.name} is gone or was changed: it cannot be restored")
        )
        return False
    else:
        made_file.backup.replace(made_file.path)
    result.restored.append(made_file.path)
    return True


def _take_back_folder(folder: Path, result: TakenBack) -> bool:
    try:
        folder.rmdir()
    except FileNotFoundError:
        return True
    except OSError:
        result.folders_left.append(folder)
        return False
    result.folders_removed.append(folder)
    return True


def _remove_unfinished(made_file: Made) -> None:
    if made_file.written_as is not None:
        for path in (made_file.written_as, made_file.written_as.with_name(made_file.written_as.name + "b")):
            with suppress(OSError):
                path.unlink(missing_ok=True)
