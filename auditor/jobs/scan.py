"""From a folder of frames to the logbook: only what is new is read, and one process writes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
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
                outcomes.append(_FolderScan(logbook, folder, ahead, further).run(jobs=jobs, cluster=cluster))
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


class _FolderScan:
    """The scan of one folder: what was seen so far, and what came of it."""

    def __init__(self, logbook: Logbook, folder: Path, ahead: Ahead, progress: Progress) -> None:
        self._logbook = logbook
        self._folder = folder
        self._ahead = ahead
        self._progress = progress
        self._identity = _identity(folder)
        self._volume = volume_of(folder)
        self._seen = SeenFiles(logbook, as_text(folder))
        self._unlisted: list[ReadFailure] = []
        """Folders that could not be listed, and files that could not be looked at."""
        self._outcome = ScanOutcome(folder)

    def run(self, *, jobs: int, cluster: str | None) -> ScanOutcome:
        """Read what is new, and settle what has gone."""
        started_at = now_utc()
        for results in workers.run(
            read_chunk, self._new_files(), jobs=jobs, lost=_lost_file, cluster=cluster
        ):
            self._keep(results)
        self._finish(started_at)
        return self._outcome

    def _new_files(self) -> Iterator[FoundFile]:
        """Files that are new or have changed; the others are only ticked off."""
        logbook = self._logbook
        walked = entries(
            self._folder,
            on_problem=self._unlisted.append,
            on_passed_over=lambda kind: self._outcome.passed_over.update([kind]),
        )
        any_failed = bool(unreadable_under(logbook, as_text(self._folder)))
        while listed := list(islice(walked, LOOK_UP)):
            self._outcome.seen += len(listed)
            paths, _roles, sizes_bytes, times_ns = zip(*listed, strict=True)
            failed = known_failures(logbook, paths) if any_failed else {}
            if not failed and files.nothing_changed(logbook, paths, sizes_bytes, utc_texts(times_ns)):
                self._seen.add_span(paths[0], paths[-1], len(paths))
                self._tell()
                continue
            found = _looked_up(map(found_of, listed), files.known_files(logbook, paths), failed)
            yield from found.new
            if found.back:
                with logbook.writing():
                    files.mark_back(logbook, found.back)
                self._outcome.back += len(found.back)
            if found.unchanged or found.still_failing:
                self._seen.add(found.unchanged, found.still_failing)
                self._tell()

    def _keep(self, results: list[FileRow | ReadFailure]) -> None:
        """Write what workers made of some files."""
        rows = [result for result in results if isinstance(result, FileRow)]
        failures = [result for result in results if isinstance(result, ReadFailure)]
        away = bool(failures) and self._is_away()  # then the failures say nothing of the files
        with self._logbook.writing():
            file_ids = files.store_rows(self._logbook, rows, volume=self._volume)
            if not away:
                store_failures(self._logbook, failures, seen_at=now_utc())
            self._ahead.wrote(len(rows))
        self._seen.add(file_ids, [failure.path for failure in failures])
        self._outcome.read += len(rows)
        if away:
            raise self._gone_away()
        self._tell()

    def _finish(self, started_at: str) -> None:
        """Settle what has gone or cannot be read, and note the scan."""
        if self._is_away():
            raise self._gone_away()
        logbook, folder, outcome = self._logbook, as_text(self._folder), self._outcome
        with logbook.writing():
            store_failures(logbook, self._unlisted, seen_at=now_utc())
            self._seen.add(unreadable_paths=[failure.path for failure in self._unlisted])
            outcome.gone = self._settle_what_has_gone()
            outcome.unreadable = unreadable_under(logbook, folder)
            outcome.undecodable = undecodable_under(logbook, folder)
            scans.add(
                logbook,
                folder,
                started_at=started_at,
                finished_at=now_utc(),
                seen=outcome.seen,
                read=outcome.read,
                unreadable=len(outcome.unreadable),
            )

    def _settle_what_has_gone(self) -> int:
        """Mark files that were not seen as gone, except below folders that could not be listed."""
        hidden = [Path(failure.path) for failure in self._unlisted]

        def in_sight(path: str) -> bool:
            return not any(Path(path).is_relative_to(place) for place in hidden)

        gone = [file_id for file_id, path in self._seen.files_missed() if in_sight(path)]
        files.mark_gone(self._logbook, gone)
        forget_unreadable(self._logbook, [path for path in self._seen.unreadable_missed() if in_sight(path)])
        return len(gone)

    def _tell(self) -> None:
        self._progress(self._seen.ticked_off, self._outcome.read)

    def _is_away(self) -> bool:
        return _identity(self._folder) != self._identity

    def _gone_away(self) -> FolderError:
        return FolderError(
            f"{self._folder}: this folder is no longer there: it was moved or unplugged during the scan. "
            f"{self._outcome.read} files that were read are kept, and nothing was marked as gone. "
            "Put it back, then run the same command again."
        )


@dataclass(slots=True)
class _LookedUp:
    """Files that the walk came across, by what the logbook knows of them."""

    new: list[FoundFile] = field(default_factory=list)
    """Or changed, or to be tried again."""
    unchanged: list[int] = field(default_factory=list)
    """Their ids."""
    back: list[int] = field(default_factory=list)
    """Those among them that had gone."""
    still_failing: list[str] = field(default_factory=list)
    """Paths of files that failed before and would again."""


def _looked_up(
    found_files: Iterable[FoundFile],
    known: Mapping[str, Sequence[files.KnownFile]],
    failed: Mapping[str, KnownFailure],
) -> _LookedUp:
    found = _LookedUp()
    for found_file in found_files:
        failure = failed.get(found_file.path)
        if failure is not None:
            if _fails_as_before(failure, found_file):
                found.still_failing.append(found_file.path)
            else:
                found.new.append(found_file)
            continue
        same = next((file for file in known.get(found_file.path, ()) if _unchanged(file, found_file)), None)
        if same is None:
            found.new.append(found_file)
        else:
            found.unchanged.append(same.file_id)
            if not same.present:
                found.back.append(same.file_id)
    return found


def _fails_as_before(failure: KnownFailure, found_file: FoundFile) -> bool:
    """Whether a file's content failed, and neither it nor the auditor has changed since."""
    return failure.error_class in CONTENT_FAILURES and (
        failure.size_bytes,
        failure.modified_at,
        failure.tried_with,
    ) == (found_file.size_bytes, found_file.modified_at, __version__)


def _unchanged(file: files.KnownFile, found_file: FoundFile) -> bool:
    return file.size_bytes == found_file.size_bytes and same_time(file.modified_at, found_file.modified_at)


def _identity(folder: Path) -> tuple[int, int] | None:
    """Which folder this is; None where there is none. A mount point stays behind when a card goes."""
    try:
        facts = folder.stat()
    except OSError:
        return None
    return facts.st_dev, facts.st_ino


def _lost_file(found_file: FoundFile, loss: Loss) -> ReadFailure:
    error = DecoderLostError(found_file.path, why_lost(loss))
    return failure_of(found_file.path, found_file.size_bytes, found_file.modified_at, error)
