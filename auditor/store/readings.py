"""What was measured in the pixels, one row a frame."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any

from auditor.errors import CONTENT_FAILURES
from auditor.records import FocusArea
from auditor.store import summed
from auditor.store.derived import focus_areas_of
from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of
from auditor.store.paths import PLAIN_NAME_FIRST
from auditor.store.unreadable import UNDECODABLE

_CHUNK = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingFrame:
    """A frame to be measured, and the file to measure it in."""

    frame_id: int
    path: str
    size_bytes: int
    modified_at: str
    fingerprint: str
    orientation: int | None = None
    """Exif, 1 to 8."""
    af_x: float | None = None
    """With the next three the focus area, as fractions of the upright picture; x, y is its centre."""
    af_y: float | None = None
    af_width: float | None = None
    af_height: float | None = None
    focus_areas: tuple[FocusArea, ...] = ()
    recorded_long_px: int = 0
    """The longer side of the picture as recorded; 0 where it is not known."""
    converter_factor: float | None = None
    iso: float | None = None
    only_crop: bool = False
    """Its reading is of this version: only its picture of the focus area is to be cut anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What was measured in one frame's pixels. Blur: the sigma of a Gaussian, px of the picture measured."""

    frame_id: int
    measured_on: str
    """A word of `PictureSource`."""
    reading_version: str
    fingerprint: str
    """Of the file that was measured."""
    scale: float
    """Pixels as recorded for one that was measured: 2 for a raw developed at half size."""
    region: dict[str, float]
    """x, y, width and height as fractions of the upright picture; x, y is its centre."""
    sigma_px: float | None
    """Without the camera's own blur."""
    sigma_low_px: float | None
    sigma_high_px: float | None
    system_sigma_px: float | None
    """System blur: lens and camera included."""
    noise: float
    """Standard deviation at mid-grey, grey levels of 255."""
    texture: float
    """Share of the region whose tiles tell a blur by themselves, 0 to 1."""
    kind: str
    """A word of `BlurKind`."""
    direction_deg: float | None = None
    flags: tuple[str, ...] = ()
    """Words of `ReadingFlag`."""
    why_untold: str | None = None
    """A word of `MissingReason` where sigma_px is None."""
    crop_px: int | None = None
    """The side of the picture of the focus area that was kept; None where none was."""
    rings: bytes | None = None
    """Its spectrum (`focus.ring_spectrum.packed`), to be compared with those of its scene."""
    quantiles_px: tuple[float, ...] | None = None
    """Of sigma_px, at `focus.network.LEVELS`: how likely it is under any limit follows from them."""


_COLUMNS = tuple(field.name for field in fields(Reading))
_AS_JSON = ("region", "flags", "quantiles_px")
_FAILED = """(SELECT path, size_bytes, modified_at FROM unreadable WHERE stage = 'pixels' AND NOT :again
    AND size_bytes IS NOT NULL AND modified_at IS NOT NULL
    AND tried_with = :auditor AND error_class IN (SELECT value FROM json_each(:content_failures)))"""
"""Pictures whose content could not be decoded, as long as neither they nor the auditor change."""
_WAITING = f"""
SELECT f.frame_id, p.path, p.size_bytes, p.modified_at, p.fingerprint,
       f.orientation, f.af_x, f.af_y, f.af_width, f.af_height, f.focus_areas,
       max(coalesce(f.recorded_width_px, 0), coalesce(f.recorded_height_px, 0)) AS recorded_long_px,
       max(coalesce(f.width_px, 0), coalesce(f.height_px, 0)) AS long_px, i.converter_factor, f.iso,
       r.reading_version IS :version AND r.fingerprint IS p.fingerprint AS only_crop
FROM frames AS f
JOIN files AS p ON p.file_id = (
    SELECT file_id FROM files AS o
    WHERE o.frame_id = f.frame_id AND o.present = 1 AND o.role <> 'sidecar'
      AND (o.path, o.size_bytes, o.modified_at) NOT IN {_FAILED}
    ORDER BY o.role = 'edited', o.role = 'raw', o.role = 'tiff', o.volume, {PLAIN_NAME_FIRST} LIMIT 1)
LEFT JOIN readings AS r ON r.frame_id = f.frame_id
LEFT JOIN inferred AS i ON i.frame_id = f.frame_id
WHERE f.frame_id > :after
  AND (r.reading_version IS NOT :version OR r.fingerprint IS NOT p.fingerprint
       OR (:crop_px IS NOT NULL AND r.crop_px IS NOT :crop_px))
ORDER BY f.frame_id LIMIT :chunk
"""
"""The JPEG beside a raw is measured rather than the smaller one inside it; a copy where it is damaged."""
_WAITING_BY_KIT = f"""
SELECT i.kit_id, count(*) AS frames,
       sum(r.frame_id IS NULL AND EXISTS (
           SELECT 1 FROM files AS o WHERE o.frame_id = i.frame_id AND o.present = 1 AND o.role <> 'sidecar'
             AND (o.path, o.size_bytes, o.modified_at) NOT IN {_FAILED})) AS waiting
FROM inferred AS i LEFT JOIN readings AS r USING (frame_id) LEFT JOIN membership AS m USING (frame_id)
WHERE NOT i.excluded AND {OF_TRIP} GROUP BY i.kit_id ORDER BY i.kit_id
"""
_WAITING_OF_SUMS = f"""
SELECT kit_id, sum(frames) AS frames, sum(waiting) AS waiting
FROM encounter_sums AS m WHERE {OF_TRIP} GROUP BY kit_id ORDER BY kit_id
"""
# The sums count every picture that could not be decoded as tried; those that another auditor tried wait.
_WAITING_AGAIN = f"""
SELECT kit_id, count(*) AS waiting FROM (
    SELECT DISTINCT i.kit_id, i.frame_id
    FROM unreadable AS u CROSS JOIN files AS p USING (path) CROSS JOIN inferred AS i USING (frame_id)
    LEFT JOIN membership AS m USING (frame_id)
    WHERE u.stage = 'pixels' AND u.error_class IN (SELECT value FROM json_each(:content_failures))
      AND u.tried_with <> :auditor AND p.present = 1 AND p.role <> 'sidecar'
      AND (p.size_bytes, p.modified_at) = (u.size_bytes, u.modified_at)
      AND NOT i.excluded AND {OF_TRIP}
      AND NOT EXISTS (SELECT 1 FROM readings AS r WHERE r.frame_id = i.frame_id)
      AND NOT EXISTS (
          SELECT 1 FROM files AS o
          WHERE o.frame_id = i.frame_id AND o.present = 1 AND o.role <> 'sidecar'
            AND (o.path, o.size_bytes, o.modified_at) NOT IN {UNDECODABLE}))
GROUP BY kit_id
"""
_NOT_TRIED = f"""
SELECT count(*) FROM files AS p WHERE present = 1 AND role <> 'sidecar' AND frame_id IS NOT NULL
AND (path, size_bytes, modified_at) IN {_FAILED}
"""


def waiting(
    logbook: Logbook,
    *,
    version: str,
    auditor_version: str,
    crop_px: int | None = None,
    again: bool = False,
) -> Iterator[WaitingFrame]:
    """Frames without a reading of this version of their best present file, with that file.

    Parameters
    ----------
    version
        Of the measuring.
    auditor_version
        A file that this version could not decode is not tried again.
    crop_px
        Side of the picture of the focus area that each is to have; None to look only for readings.
    again
        Also files whose content could not be decoded before.

    Yields
    ------
    WaitingFrame
        In order of their ids; the logbook may be written to meanwhile.
    """
    after = -1
    asked = _failed(auditor_version, again) | {"version": version, "crop_px": crop_px, "chunk": _CHUNK}
    while rows := logbook.query(_WAITING, asked | {"after": after}):
        for row in rows:
            facts: dict[str, Any] = dict(row)
            long_px = facts.pop("long_px")
            yield WaitingFrame(
                **facts
                | {
                    "focus_areas": focus_areas_of(row["focus_areas"]),
                    "recorded_long_px": row["recorded_long_px"] or long_px,
                    "only_crop": bool(row["only_crop"]),
                }
            )
        after = rows[-1]["frame_id"]


def waiting_by_kit(logbook: Logbook, trip_id: int | None, *, auditor_version: str) -> list[dict[str, int]]:
    """Frames that count, and those of them that were never measured though their file is there.

    Parameters
    ----------
    trip_id
        None for all trips.
    auditor_version
        A file that this version could not decode does not wait.

    Returns
    -------
    list of dict
        kit_id, frames, waiting; of one trip, or of all where `trip_id` is None.
    """
    asked = _failed(auditor_version, False) | {"trip": trip_id}
    if not summed.stand_for(logbook):
        return [dict(row) for row in logbook.query(asked_of(_WAITING_BY_KIT, trip_id), asked)]
    again = {row[0]: row[1] for row in logbook.query(asked_of(_WAITING_AGAIN, trip_id), asked)}
    rows = [dict(row) for row in logbook.query(asked_of(_WAITING_OF_SUMS, trip_id), asked)]
    return [row | {"waiting": row["waiting"] + again.get(row["kit_id"], 0)} for row in rows]


def not_tried_again(logbook: Logbook, *, auditor_version: str) -> int:
    """How many present pictures are left out because their content could not be decoded before.

    Parameters
    ----------
    auditor_version
        That could not decode them.

    Returns
    -------
    int
        A number of files.
    """
    return int(logbook.query(_NOT_TRIED, _failed(auditor_version, False))[0][0])


def of_other_versions(logbook: Logbook, *, version: str) -> int:
    """How many readings are not of a version.

    Parameters
    ----------
    version
        Of the measuring.

    Returns
    -------
    int
        Readings.
    """
    rows = logbook.query("SELECT count(*) AS count FROM readings WHERE reading_version <> ?", (version,))
    return int(rows[0]["count"])


def _failed(auditor_version: str, again: bool) -> dict[str, object]:
    return {
        "auditor": auditor_version,
        "again": again,
        "content_failures": json.dumps(CONTENT_FAILURES),
    }


def write(logbook: Logbook, readings: Sequence[Reading]) -> None:
    """Keep readings, and have what follows from them rebuilt; inside `writing()`.

    Parameters
    ----------
    readings
        One a frame.
    """
    marks = ", ".join("?" * len(_COLUMNS))
    logbook.execute_many(
        "DELETE FROM unreadable WHERE stage = 'pixels' AND path IN "
        "(SELECT path FROM files WHERE frame_id = ? AND fingerprint = ?)",
        [(reading.frame_id, reading.fingerprint) for reading in readings],
    )
    logbook.execute_many(
        f"INSERT OR REPLACE INTO readings ({', '.join(_COLUMNS)}) VALUES ({marks})",
        [
            tuple(
                json.dumps(getattr(reading, name)) if name in _AS_JSON else getattr(reading, name)
                for name in _COLUMNS
            )
            for reading in readings
        ],
    )
    logbook.execute_many("INSERT OR IGNORE INTO touched VALUES (?)", [(own.frame_id,) for own in readings])


def note_crops(logbook: Logbook, frame_ids: Iterable[int], crop_px: int) -> None:
    """Note the side of pictures of focus areas that were cut anew; inside `writing()`.

    Parameters
    ----------
    frame_ids
        Of frames.
    crop_px
        Side of the pictures.
    """
    logbook.execute_many(
        "UPDATE readings SET crop_px = ? WHERE frame_id = ?", [(crop_px, frame_id) for frame_id in frame_ids]
    )


def withdraw(logbook: Logbook, frame_ids: Iterable[int]) -> None:
    """Drop readings of files that are no longer there as they were, and have the frames rebuilt.

    For frames whose picture could not be decoded; inside `writing()`.

    Parameters
    ----------
    frame_ids
        Of frames.
    """
    ids = [(frame_id,) for frame_id in frame_ids]
    logbook.execute_many(
        "DELETE FROM readings WHERE frame_id = ? AND fingerprint NOT IN (SELECT fingerprint FROM files "
        "WHERE files.frame_id = readings.frame_id AND present = 1)",
        ids,
    )
    logbook.execute_many("INSERT OR IGNORE INTO touched VALUES (?)", ids)


def undecodable(logbook: Logbook, frame_ids: Iterable[int]) -> dict[int, str]:
    """Frames of which no present picture can be decoded for its content, with the class of the failure.

    Where copies fail differently, one that is cut short says most.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    dict[int, str]
        Name of the exception by frame id.
    """
    sql = """
        SELECT p.frame_id, max(u.error_class) FROM files AS p LEFT JOIN unreadable AS u ON u.path = p.path
             AND u.stage = 'pixels' AND u.size_bytes = p.size_bytes AND u.modified_at = p.modified_at
             AND u.error_class IN ('CorruptFileError', 'DecoderLostError', 'IncompleteFileError')
        WHERE p.present = 1 AND p.role <> 'sidecar' AND p.frame_id IN (SELECT value FROM json_each(?))
        GROUP BY p.frame_id HAVING count(*) = count(u.path)"""
    return {row[0]: row[1] for row in logbook.query(sql, (json.dumps(list(frame_ids)),))}


def of_frames(logbook: Logbook, frame_ids: Iterable[int]) -> dict[int, Reading]:
    """Readings by frame.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    dict[int, Reading]
        By frame id; frames that were not measured are left out.
    """
    wanted = list(frame_ids)
    by_frame: dict[int, Reading] = {}
    for first in range(0, len(wanted), _CHUNK):
        part = wanted[first : first + _CHUNK]
        marks = ", ".join("?" * len(part))
        for row in logbook.query(f"SELECT * FROM readings WHERE frame_id IN ({marks})", tuple(part)):
            facts: dict[str, Any] = {name: row[name] for name in _COLUMNS}
            quantiles = json.loads(row["quantiles_px"] or "null")
            facts |= {
                "region": json.loads(row["region"]),
                "flags": tuple(json.loads(row["flags"])),
                "quantiles_px": tuple(quantiles) if quantiles else None,
            }
            by_frame[row["frame_id"]] = Reading(**facts)
    return by_frame
