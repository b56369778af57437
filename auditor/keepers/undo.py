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

    Raises
    ------
    LogbookError
        for a receipt that does not exist or was taken back already.
    """
    receipt = receipts.find(logbook, receipt_id)
    made = receipts.still_there(logbook, receipt_id)
    newer = receipts.later(logbook, receipt_id)
    result = TakenBack(receipt=receipt)
    done: list[Path] = []
    try:
        for one in made:
            if one.is_folder:
                settled = _take_back_folder(one.path, result)
            elif one.path in newer:
                reason = f"receipt {newer[one.path]} made it anew: take that one back first"
                result.left.append((one.path, reason))
                settled = False
            else:
                settled = _take_back_file(receipt, one, result)
            if settled:
                done.append(one.path)
    finally:
        receipts.note_undone(logbook, receipt_id, done)
    return result


def _take_back_file(receipt: Receipt, one: Made, result: TakenBack) -> bool:
    """Take back one file; returns whether there is nothing left to do about it."""
    _remove_unfinished(one)
    try:
        if one.made_at is None:
            return True
        if one.backup is not None:
            return _restore(one, result)
        if not os.path.lexists(one.path):
            result.gone_already.append(one.path)
            return True
        reason = _why_not(receipt, one)
        if reason is not None:
            result.left.append((one.path, reason))
            return False
        one.path.unlink()
    except OSError as error:
        result.left.append((one.path, error.strerror or str(error)))
        return False
    result.removed.append(one.path)
    return True


def _why_not(receipt: Receipt, one: Made) -> str | None:
    """Why a file must stay; None where it may go."""
    source = one.source
    if receipt.what == "symbolic_link":
        leads_there = one.path.is_symlink() and one.path.readlink() == source
        return None if leads_there else "changed since it was made"
    if one.path.is_symlink() or not one.path.is_file():
        return "changed since it was made"
    if receipt.what == "sidecar":
        return None if files.digest(one.path) == one.hash else "changed since it was made"
    if receipt.what == "copy" and files.digest(one.path) != one.hash:
        return "changed since it was made"
    if source is None or not source.is_file():
        return "its original is not there: this may be the only one"
    if receipt.what == "hard_link":
        return None if one.path.samefile(source) else "it and its original are no longer the same file"
    return None if files.digest(source) == one.hash else "its original has changed: this may be the only one"


def _restore(one: Made, result: TakenBack) -> bool:
    """Put back the sidecar that was replaced."""
    assert one.backup is not None
    now = files.digest(one.path) if one.path.is_file() else None
    if now == one.hash_before:  # the run was cut off before it replaced it, or this was done before
        one.backup.unlink(missing_ok=True)
    elif now is not None and now != one.hash:
        result.left.append((one.path, f"changed since it was written; as it was before: {one.backup.name}"))
        return False
    elif not one.backup.is_file() or files.digest(one.backup) != one.hash_before:
        result.left.append((one.path, f"{one.backup.name} is gone or was changed: it cannot be restored"))
        return False
    else:
        os.replace(one.backup, one.path)  # noqa: PTH105  # says what it does: replaces
    result.restored.append(one.path)
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


def _remove_unfinished(one: Made) -> None:
    if one.written_as is not None:
        for path in (one.written_as, one.written_as.with_name(one.written_as.name + "b")):
            with suppress(OSError):
                path.unlink(missing_ok=True)
