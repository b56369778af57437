"""From a folder of frames to the logbook: only what is new is read, and one process writes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path

from auditor import __version__
from auditor.derive.rebuild import Ahead, rebuild
from auditor.errors import CONTENT_FAILURES, DecoderLostError, FolderError, LogbookError
from auditor.file_names import as_text
from auditor.jobs import workers
from auditor.jobs.crew import Loss
from auditor.jobs.failures import failure_of, why_lost
from auditor.jobs.reading import read_chunk
from auditor.readers.folder import entries, found_of, utc_texts, walk
from auditor.readers.places import as_listed, holding
from auditor.readers.volume import on_network_share, volume_of
from auditor.records import FoundFile, ReadFailure
from auditor.settings import Settings
from auditor.store import files, scans
from auditor.store.clock import now_utc
from auditor.store.damage import damage_told
from auditor.store.file_rows import FileRow
from auditor.store.file_times import same_time
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.seen_files import SeenFiles
from auditor.store.unreadable import (
    KnownFailure,
    forget_unreadable,
    known_failures,
    store_failures,
    undecodable_under,
    unreadable_under,
)
from auditor.words import FileRole

LOOK_UP = 500
"""Paths asked of the logbook at a time."""

Progress = Callable[[int, int], None]
"""Called with files done so far, unchanged and unreadable ones included, and files read so far."""


@dataclass(slots=True)
class ScanOutcome:
    """What a scan found."""

    folder: Path
    seen: int = 0
    read: int = 0
    back: int = 0
    gone: int = 0
    unreadable: list[tuple[str, str]] = field(default_factory=list)
    """(path, reason) of every file in the folder whose metadata cannot be read now."""
    undecodable: list[tuple[str, str]] = field(default_factory=list)
    """(path, reason) of every picture in it that could not be decoded when it was measured."""
    passed_over: Counter[str] = field(default_factory=Counter)
    """How many videos and other files without a photograph are in it, by kind: see `readers.kinds`."""


def check_folder(folder: Path, logbook_path: Path) -> Path:
    """The folder's real path, if it can be scanned.

    Parameters
    ----------
    folder
        That is to be scanned.
    logbook_path
        The logbook's own file.

    Returns
    -------
    Path
        What the folder really is, links followed, each name as its folder lists it.

    Raises
    ------
    FolderError
        where it is missing, not a folder, cannot be listed, or the logbook would lie inside it.
    """
    try:
        real = as_listed(folder.resolve(strict=True))
    except (OSError, RuntimeError) as error:
        raise FolderError(f"{folder}: there is no such folder. Check the name, or mount the card.") from error
    if not real.is_dir():
        raise FolderError(f"{folder}: is a file. Name the folder that holds it, or use: auditor inspect FILE")
    try:
        next(real.iterdir(), None)
    except OSError as error:
        raise FolderError(f"{folder}: cannot be listed ({error.strerror}). Check its permissions.") from error
    if holding(logbook_path, [real]) is not None:
        raise LogbookError(
            f"{logbook_path}: the logbook would lie inside the scanned folder {real}, which is never written "
            "to. Choose another place with --logbook."
        )
    return real


def check_folders(folders: Iterable[Path], logbook_path: Path) -> list[Path]:
    """The folders' real paths, each once, if all of them can be scanned and hold pictures, or did.

    Parameters
    ----------
    folders
        That are to be scanned.
    logbook_path
        The logbook's own file.

    Returns
    -------
    list[Path]
        In their order.

    Raises
    ------
    FolderError, LogbookError
        as `check_folder` does, and for a folder that holds no pictures and never did.
    """
    real_folders = list(dict.fromkeys(check_folder(folder, logbook_path) for folder in folders))
    for folder in real_folders:
        _check_pictures(folder, logbook_path)
    return real_folders


def scan(
    logbook_path: Path,
    folders: list[Path],
    settings: Settings,
    *,
    jobs: int = 1,
    cluster: str | None = None,
    progress: Progress | None = None,
) -> list[ScanOutcome]:
    """Bring the logbook up to date with folders, and rebuild what follows from it.

    Every folder is checked before anything is changed.

    Parameters
    ----------
    logbook_path
        A new logbook is begun where there is none.
    folders
        That are only read.
    jobs
        Processes that read; 1 reads in this one.
    cluster
        The address of a Dask scheduler whose workers read instead, under the same paths.
    progress
        Called as files are done.

    Returns
    -------
    list[ScanOutcome]
        What came of each folder, in their order.

    Raises
    ------
    FolderError
        for a folder that cannot be scanned, that holds no pictures and never did, or goes away meanwhile.
    LogbookError
        where the logbook cannot be used.
    """
    real_folders = check_folders(folders, logbook_path)
    share = on_network_share(logbook_path.parent)
    with open_logbook(logbook_path, create=True, network_share=share) as logbook, damage_told(logbook):
        ahead = Ahead(logbook, settings)
        outcomes: list[ScanOutcome] = []
        try:
            for folder in real_folders:
                further = _further(progress, outcomes)
                outcomes.append(_scan_folder(logbook, folder, ahead, jobs, cluster, further))
        except FolderError:  # a card was pulled out: what was read before can be viewed
            rebuild(logbook, settings, ahead)
            raise
        rebuild(logbook, settings, ahead)
        return outcomes


def _further(progress: Progress | None, outcomes: list[ScanOutcome]) -> Progress:
    """Progress with the next folder, on from that with those before."""
    seen, read = sum(before.seen for before in outcomes), sum(before.read for before in outcomes)

    def tell(files_done: int, files_read: int) -> None:
        if progress:
            progress(seen + files_done, read + files_read)

    return tell


def _check_pictures(folder: Path, logbook_path: Path) -> None:
    """An empty folder is a mistake, unless the logbook knows files there that have now gone."""
    if any(file.role != FileRole.SIDECAR for file in walk(folder)):
        return
    if logbook_path.exists():
        with open_logbook(logbook_path) as logbook:
            if files.present_under(logbook, as_text(folder)):
                return
    raise FolderError(f"{folder}: no pictures in this folder or below it. Check the name, or mount the card.")


def _scan_folder(
    logbook: Logbook,
    folder: Path,
    ahead: Ahead,
    jobs: int,
    cluster: str | None,
    progress: Progress,
) -> ScanOutcome:
    outcome = ScanOutcome(folder)
    started_at = now_utc()
    identity = _identity(folder)
    volume = volume_of(folder)
    unlisted: list[ReadFailure] = []
    seen = SeenFiles(logbook, as_text(folder))
    new_files = _new_files(logbook, folder, seen, unlisted.append, outcome, progress)
    for results in workers.run(read_chunk, new_files, jobs=jobs, lost=_lost_file, cluster=cluster):
        rows = [result for result in results if isinstance(result, FileRow)]
        failures = [result for result in results if isinstance(result, ReadFailure)]
        away = bool(failures) and _identity(folder) != identity
        with logbook.writing():
            file_ids = files.store_rows(logbook, rows, volume=volume)
            if not away:
                store_failures(logbook, failures, seen_at=now_utc())
            ahead.wrote(len(rows))
        seen.add(file_ids, [failure.path for failure in failures])
        outcome.read += len(rows)
        if away:
            raise _gone_away(outcome)
        progress(seen.ticked_off, outcome.read)
    if _identity(folder) != identity:
        raise _gone_away(outcome)
    with logbook.writing():
        store_failures(logbook, unlisted, seen_at=now_utc())
        seen.add(unreadable_paths=[failure.path for failure in unlisted])
        outcome.gone = _settle_what_has_gone(logbook, seen, unlisted)
        outcome.unreadable = unreadable_under(logbook, as_text(folder))
        outcome.undecodable = undecodable_under(logbook, as_text(folder))
        scans.add(
            logbook,
            as_text(folder),
            started_at=started_at,
            finished_at=now_utc(),
            seen=outcome.seen,
            read=outcome.read,
            unreadable=len(outcome.unreadable),
        )
    return outcome


def _identity(folder: Path) -> tuple[int, int] | None:
    """Which folder this is; None where there is none. A mount point stays behind when a card goes."""
    try:
        facts = folder.stat()
    except OSError:
        return None
    return facts.st_dev, facts.st_ino


def _gone_away(outcome: ScanOutcome) -> FolderError:
    return FolderError(
        f"{outcome.folder}: this folder is no longer there: it was moved or unplugged during the scan. "
        f"{outcome.read} files that were read are kept, and nothing was marked as gone. "
        "Put it back, then run the same command again."
    )


def _lost_file(found_file: FoundFile, loss: Loss) -> ReadFailure:
    error = DecoderLostError(found_file.path, why_lost(loss))
    return failure_of(found_file.path, found_file.size_bytes, found_file.modified_at, error)


def _new_files(
    logbook: Logbook,
    folder: Path,
    seen: SeenFiles,
    on_problem: Callable[[ReadFailure], None],
    outcome: ScanOutcome,
    progress: Progress,
) -> Iterator[FoundFile]:
    """Files that are new or have changed; the others are only ticked off."""
    walked = entries(
        folder, on_problem=on_problem, on_passed_over=lambda kind: outcome.passed_over.update([kind])
    )
    any_failed = bool(unreadable_under(logbook, as_text(folder)))
    while listed := list(islice(walked, LOOK_UP)):
        outcome.seen += len(listed)
        paths, _roles, sizes_bytes, times_ns = zip(*listed, strict=True)
        failed = known_failures(logbook, paths) if any_failed else {}
        if not failed and files.nothing_changed(logbook, paths, sizes_bytes, utc_texts(times_ns)):
            seen.add_span(paths[0], paths[-1], len(paths))
            progress(seen.ticked_off, outcome.read)
            continue
        batch = list(map(found_of, listed))
        known = files.known_files(logbook, paths)
        unchanged: list[int] = []
        back: list[int] = []
        still_failing: list[str] = []
        for found_file in batch:
            if failed and found_file.path in failed:
                if _fails_as_before(failed[found_file.path], found_file):
                    still_failing.append(found_file.path)
                else:
                    yield found_file
                continue
            for file in known.get(found_file.path, ()):
                if _unchanged(file, found_file):
                    unchanged.append(file.file_id)
                    if not file.present:
                        back.append(file.file_id)
                    break
            else:
                yield found_file
        if back:
            with logbook.writing():
                files.mark_back(logbook, back)
            outcome.back += len(back)
        if unchanged or still_failing:
            seen.add(unchanged, still_failing)
            progress(seen.ticked_off, outcome.read)


def _fails_as_before(failure: KnownFailure, found_file: FoundFile) -> bool:
    """Whether a file's content failed, and neither it nor the auditor has changed since."""
    return failure.error_class in CONTENT_FAILURES and (
        failure.size_bytes,
        failure.modified_at,
        failure.tried_with,
    ) == (found_file.size_bytes, found_file.modified_at, __version__)


def _unchanged(file: files.KnownFile, found_file: FoundFile) -> bool:
    return file.size_bytes == found_file.size_bytes and same_time(file.modified_at, found_file.modified_at)


def _settle_what_has_gone(logbook: Logbook, seen: SeenFiles, unlisted: list[ReadFailure]) -> int:
    """Mark files that were not seen as gone, except below folders that could not be listed."""
    hidden = [Path(failure.path) for failure in unlisted]

    def in_sight(path: str) -> bool:
        return not any(Path(path).is_relative_to(place) for place in hidden)

    gone = [file_id for file_id, path in seen.files_missed() if in_sight(path)]
    files.mark_gone(logbook, gone)
    forget_unreadable(logbook, [path for path in seen.unreadable_missed() if in_sight(path)])
    return len(gone)
