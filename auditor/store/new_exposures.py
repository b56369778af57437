"""Files of exposures that are new to the logbook, as nearly all files of a card are: written many at a time.

They keep the order in which they were read.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Sequence

from auditor.store import reasons
from auditor.store.exposure_identity import FRAME_COLUMNS, FrameValues, frame_values
from auditor.store.file_rows import FileRow
from auditor.store.logbook import Logbook
from auditor.store.packed import unpacked
from auditor.words import FileRole

FILE_COLUMNS = (
    "frame_id", "role", "volume", "path", "stem", "size_bytes", "modified_at", "fingerprint", "recorded",
)  # fmt: skip
"""Of `files`, but for `file_id` and `present`."""
_OF_THESE = "IN (SELECT value FROM json_each(?))"
# Frames of one moment and body beside which a copy or a sidecar lies that may be of a new picture.
_WITH_COPIES = """
SELECT value FROM json_each(?) WHERE EXISTS (
    SELECT 1 FROM frames AS f JOIN files AS o USING (frame_id)
    WHERE f.exposure_key >= value AND f.exposure_key < value || char(1114111)
    AND o.role IN ('edited', 'sidecar'))
"""
_WITH_FRAMES = """
SELECT value FROM json_each(?) WHERE EXISTS (
    SELECT 1 FROM frames AS f WHERE f.exposure_key >= value AND f.exposure_key < value || char(1114111))
"""
_ADD_FRAME = (
    f"INSERT INTO frames (frame_id, exposure_key, {', '.join(FRAME_COLUMNS)}) "
    f"VALUES (?, ?, {', '.join('?' * len(FRAME_COLUMNS))})"
)
_ADD_FILE = (
    f"INSERT INTO files (file_id, present, {', '.join(FILE_COLUMNS)}) "
    f"VALUES (?, 1, {', '.join('?' * len(FILE_COLUMNS))})"
)


class NewExposures:
    """Takes files as they come, as long as they are of new exposures, and writes them together.

    Parameters
    ----------
    logbook
        Inside `writing()`.
    rows
        The files that will come.
    volume
        Where they lie.
    """

    def __init__(self, logbook: Logbook, rows: Sequence[FileRow], volume: str) -> None:
        self._logbook, self._volume = logbook, volume
        self._exposures: list[list[FileRow]] = []
        """Those that wait to be written: the files of each."""
        self._paths = self._known("path FROM files WHERE present = 1 AND path", (row.path for row in rows))
        self._prints = self._known(
            "fingerprint FROM files WHERE fingerprint", (row.fingerprint for row in rows)
        )
        self._keys = self._known(
            "exposure_key FROM frames WHERE exposure_key", (row.exposure_key for row in rows)
        )
        self._sidecar_stems = self._known(
            "stem FROM files WHERE role = 'sidecar' AND stem",
            {stem for row in rows for stem in row.sidecar_stems},
        ) | {row.stem for row in rows if row.role == FileRole.SIDECAR}
        frames_of = Counter(row.moment for row in rows if row.moment is not None)
        of_copies = {row.moment for row in rows if row.role == FileRole.EDITED}
        self._moments_of_copies = self._moments(_WITH_COPIES, frames_of) | of_copies
        alone = {moment for moment in of_copies if moment is None or frames_of[moment] == 1}
        self._moments_of_lone_copies = alone - self._moments(_WITH_FRAMES, alone - {None})

    def take(self, row: FileRow) -> bool:
        """Take the next file, if its exposure is new.

        Parameters
        ----------
        row
            Of the file.

        Returns
        -------
        bool
            False for one that is bound up with others: what was taken is to be written before it is stored.
        """
        taken = self._is_new(row)
        if taken and row.exposure_key in self._keys:
            self._exposures[-1].append(row)
        elif taken:
            self._exposures.append([row])
        self._paths.add(row.path)
        self._prints.add(row.fingerprint)
        self._keys.add(row.exposure_key)
        return taken

    def written(self) -> list[int]:
        """Write the files that were taken, and their frames, and forget them.

        Returns
        -------
        list[int]
            Ids of the file rows, in their order.
        """
        if not self._exposures:
            return []
        frame_id, file_id = self._next_id("frame_id", "frames"), self._next_id("file_id", "files")
        numbered = list(enumerate(self._exposures, frame_id))
        self._exposures = []
        frames = [(number, files[0].exposure_key, *_frame(files)) for number, files in numbered]
        numbers = reasons.numbers(self._logbook, (frame[-1] for frame in frames))
        self._logbook.execute_many(_ADD_FRAME, [(*frame[:-1], numbers[frame[-1]]) for frame in frames])
        files = [self._file(row, number) for number, group in numbered for row in group]
        self._logbook.execute_many(_ADD_FILE, [(number, *file) for number, file in enumerate(files, file_id)])
        self._logbook.execute_many("INSERT INTO touched VALUES (?)", [(number,) for number, _ in numbered])
        return list(range(file_id, file_id + len(files)))

    def _is_new(self, row: FileRow) -> bool:
        return (
            (
                row.moment not in self._moments_of_copies
                if row.is_original
                else row.role == FileRole.EDITED and row.moment in self._moments_of_lone_copies
            )
            and row.path not in self._paths
            and row.fingerprint not in self._prints
            and self._sidecar_stems.isdisjoint(row.sidecar_stems)
            and (row.exposure_key not in self._keys or self._goes_on(row))
        )

    def _goes_on(self, row: FileRow) -> bool:
        """Whether a file is of the very exposure that was taken last: a raw and its JPEG."""
        last = self._exposures[-1] if self._exposures else []
        serials = {file.body_serial for file in (*last, row)} - {None}
        return bool(last) and last[0].exposure_key == row.exposure_key and len(serials) <= 1

    def _known(self, what: str, values: Iterable[str]) -> set[str]:
        sql = f"SELECT {what} {_OF_THESE}"
        return {row[0] for row in self._logbook.query(sql, (json.dumps(list(values)),))}

    def _moments(self, sql: str, moments: Iterable[str | None]) -> set[str | None]:
        return {row[0] for row in self._logbook.query(sql, (json.dumps(list(moments)),))}

    def _next_id(self, column: str, table: str) -> int:
        return 1 + int(self._logbook.query(f"SELECT coalesce(max({column}), 0) FROM {table}")[0][0])

    def _file(self, row: FileRow, frame_id: int) -> tuple[object, ...]:
        return file_values(row, frame_id, self._volume)


def file_values(row: FileRow, frame_id: int | None, volume: str) -> tuple[object, ...]:
    """The row of `files`: values of FILE_COLUMNS.

    Parameters
    ----------
    row
        Of the file.
    frame_id
        Of its frame; None for a sidecar without its picture.
    volume
        Where it lies.

    Returns
    -------
    tuple[object, ...]
        In the order of FILE_COLUMNS.
    """
    found = row.found
    return (
        frame_id, row.role, volume, found.path, row.stem, found.size_bytes, found.modified_at,
        row.fingerprint, row.recorded,
    )  # fmt: skip


def _frame(files: Collection[FileRow]) -> FrameValues:
    """The row of `frames` of a new exposure: the raw is trusted before the JPEG."""
    if len(files) == 1:
        return next(iter(files)).frame
    trusted = sorted(files, key=lambda file: (file.role != FileRole.RAW, file.path))
    return frame_values(*(json.loads(unpacked(file.recorded)) for file in trusted))
