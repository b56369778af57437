"""One file: what it says by itself, and what a logbook knows about it besides."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

from auditor.errors import UnreadableFileError
from auditor.file_names import as_text
from auditor.frames.facts import frame_facts
from auditor.frames.kit_names import identity, names_of, short_names
from auditor.frames.verdicts import criterion_px
from auditor.readers.frame import found_file, read_file
from auditor.readers.orientation import upright_size
from auditor.records import REASONED, CriterionFacts, Inferred, KnownKit, Recorded
from auditor.store import frame_files, readings
from auditor.store.derived import kits_in_use
from auditor.store.exposure_identity import is_resized
from auditor.store.frame_facts import FrameFacts, frames_by_id
from auditor.store.logbook import Logbook
from auditor.store.trips import trips_newest_first
from auditor.store.unreadable import unreadable_files

_INFERRED = set(Inferred._fields)
_RECORDED = {*REASONED, "utc_offset_source"}
BY_ITSELF = tuple(
    column.name
    for column in fields(FrameFacts)
    if column.name
    in _INFERRED | _RECORDED | {"path", "kit_name", "focal_length_recorded_mm", "f_number_recorded"}
)
"""What of FrameFacts a file gives without a logbook."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFrame:
    """What a logbook knows of the frame that a file belongs to."""

    facts: FrameFacts
    kit_short_name: str
    trip_name: str | None
    blur_low_px: float | None
    """The ends of the 90 % interval of the blur."""
    blur_high_px: float | None
    limit_px: float | None
    """The largest blur that is a hit, px of the picture that was measured."""
    files: list[str]
    """The paths of all its files."""
    inspected_path: str
    not_decoded: str | None
    """Why its picture cannot be decoded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """A file that was looked into: what it says, or why it cannot be read."""

    path: str
    facts: FrameFacts | None
    error: UnreadableFileError | None = None
    known: KnownFrame | None = None
    stated_px: tuple[int, int] | None = None
    """Width and height that its metadata states, upright, where its picture was made smaller or larger."""

    def document(self) -> dict[str, Any]:
        """As JSON has it: the columns that need no logbook, and, apart, what a logbook knows."""
        in_logbook = self.known and {
            **asdict(self.known.facts),
            **{each.name: getattr(self.known, each.name) for each in fields(KnownFrame)[1:]},
        }
        if self.error is not None:
            columns = {"path": self.path, "error": type(self.error).__name__, "reason": self.error.reason}
        else:
            columns = {name: getattr(self.facts, name) for name in BY_ITSELF}
        return {**columns, "in_logbook": in_logbook}


def inspected(path: Path) -> Inspection:
    """Look into a file, without a logbook.

    Parameters
    ----------
    path
        Of any file.

    Returns
    -------
    Inspection
        What it tells, or why it cannot be read.
    """
    try:
        recorded = read_file(found_file(path)).recorded
    except UnreadableFileError as error:
        return Inspection(path=as_text(path), facts=None, error=error)
    return Inspection(path=as_text(path), facts=_facts(path, recorded), stated_px=_stated_px(recorded))


def facts_of_file(path: Path) -> FrameFacts:
    """What a file says by itself: the columns BY_ITSELF.

    Parameters
    ----------
    path
        Of a picture or raw.

    Returns
    -------
    FrameFacts
        With 0 for frame and kit.

    Raises
    ------
    UnreadableFileError
        for a file that is no picture, or a damaged one.
    """
    return _facts(path, read_file(found_file(path)).recorded)


def _stated_px(recorded: Recorded) -> tuple[int, int] | None:
    if not is_resized(recorded):
        return None
    stated = recorded.recorded_width_px, recorded.recorded_height_px
    width_px, height_px = upright_size(*stated, recorded.orientation)
    return (width_px, height_px) if width_px and height_px else None


def _facts(path: Path, recorded: Recorded) -> FrameFacts:
    """What a file recorded, and what follows from that alone."""
    kit, inferred = frame_facts(recorded)
    only = KnownKit(kit_id=0, kit_name="", **asdict(identity(recorded, kit)))
    as_recorded = {name: getattr(recorded, name) for name in _RECORDED}
    columns = as_recorded | {name: getattr(inferred, name) for name in _INFERRED - {"excluded"}}
    return replace(
        FrameFacts(**columns),
        path=as_text(path),
        keywords=list(recorded.keywords) or None,
        flags=list(inferred.flags),
        kit_name=names_of([only])[0],
        focal_length_recorded_mm=recorded.focal_length_mm,
        f_number_recorded=recorded.f_number,
    )


def known_of_file(logbook: Logbook, path: Path, *, crop: float = 1.0) -> KnownFrame | None:
    """What a logbook knows of the frame that a file belongs to; None for a file that was not scanned.

    Parameters
    ----------
    path
        Of a file; links are followed.
    crop
        The crop that the photographer means to make: it sets the limit of a hit.

    Returns
    -------
    KnownFrame or None
        Facts of its frame, with what decided its verdict.
    """
    real_path = path.resolve()
    frame_id = frame_files.frame_of(logbook, real_path)
    if frame_id is None:
        return None
    (facts,) = frames_by_id(logbook, [frame_id])
    criterion = CriterionFacts(**{name: getattr(facts, name) for name in CriterionFacts._fields})
    reading = readings.of_frames(logbook, [frame_id]).get(frame_id)
    trip = next((trip for trip in trips_newest_first(logbook) if trip.trip_id == facts.trip_id), None)
    files = [str(file) for file in frame_files.files_of(logbook, [frame_id])[0]]
    reasons = [bad.reason for bad in unreadable_files(logbook) if bad.path in files]
    return KnownFrame(
        facts=facts,
        kit_short_name=short_names(kits_in_use(logbook))[facts.kit_id],
        trip_name=None if trip is None else trip.name,
        blur_low_px=None if reading is None else reading.sigma_low_px,
        blur_high_px=None if reading is None else reading.sigma_high_px,
        limit_px=criterion_px(reading, criterion, crop),
        files=files,
        inspected_path=str(real_path),
        not_decoded=reasons[0] if reasons else None,
    )
