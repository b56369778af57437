"""Measuring the pixels of frames that have no reading yet: workers measure, one process writes."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from auditor import __version__
from auditor.derive.rebuild import rebuild
from auditor.errors import (
    CONTENT_FAILURES,
    DecoderLostError,
    FileAccessError,
    LogbookError,
    UnreadableFileError,
    show_when_debugging,
)
from auditor.file_names import as_path
from auditor.jobs import workers
from auditor.jobs.crew import Limits, Loss
from auditor.jobs.failures import check_unchanged, failure_of, why_lost
from auditor.records import ReadFailure
from auditor.settings import Settings
from auditor.store import readings
from auditor.store.clock import now_utc
from auditor.store.crops import crop_path, forget_colour
from auditor.store.logbook import Logbook
from auditor.store.readings import Reading, WaitingFrame
from auditor.store.tidying import keep_to_room
from auditor.store.unreadable import store_failures
from auditor.words import BlurKind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from auditor.focus.luminance import Region

LARGEST_PICTURE_PX = 512
PICTURE_QUALITY = 80
STAGE = "pixels"
"""How far reading came, for the list of files that cannot be read: their metadata was read before."""
OUR_FAULT = "the auditor failed at measuring it, which is its fault and not the file's"
ENDED_FROM_OUTSIDE = -9
"""Exit code of a process that was killed (POSIX, SIGKILL), and not by us."""
CHUNK = 4
"""Frames a worker takes at a time: few, since each is large."""

Area = tuple[float, float, float, float]
"""Centre x, centre y, width and height, as fractions of the upright picture."""


@dataclass(slots=True)
class MeasureOutcome:
    """What came of measuring."""

    measured: int = 0
    measured_again: int = 0
    """Those among them whose reading was of another version."""
    recut: int = 0
    """Frames measured before whose picture of the focus area was cut anew, to another size."""
    unreadable: list[tuple[str, str]] = field(default_factory=list)
    """(path, reason) of pictures whose content cannot be decoded."""
    out_of_reach: list[tuple[str, str]] = field(default_factory=list)
    """(path, reason) of pictures that could not be got at now: measured as soon as they are there again."""
    not_tried_again: int = 0
    """Pictures that could not be decoded before, and were left out."""


@dataclass(frozen=True, slots=True)
class Failed:
    """A frame whose picture could not be measured."""

    frame_id: int
    failure: ReadFailure


@dataclass(frozen=True, slots=True)
class Recut:
    """A frame whose picture of the focus area was cut anew, with nothing read."""

    frame_id: int


@dataclass(frozen=True, slots=True)
class Measured:
    """What a worker hands back of a frame that could be measured; the process that writes keeps it."""

    result: Reading | Recut
    picture: bytes | None
    """Of the focus area, as JPEG; None where none is kept."""


def measure(
    logbook: Logbook,
    settings: Settings | None = None,
    *,
    jobs: int = 0,
    cluster: str | None = None,
    again: bool = False,
    progress: Callable[[int], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> MeasureOutcome:
    """Measure every frame without a reading of the present version whose file is there.

    Each batch is kept at once: a run that is stopped goes on where it was. At the end what follows from the
    readings is brought up to date, and pictures beyond the room for them go, those needed least first.

    Parameters
    ----------
    jobs
        Worker processes: a picture over which one dies or hangs costs that picture. 0 measures in this
        process, which such a picture takes along.
    cluster
        The address of a Dask scheduler whose workers measure instead, under the same paths.
    again
        Also try pictures whose content could not be decoded before.
    progress
        Called with the frames measured, or cut anew, so far.
    stop
        Asked again and again whether to end as at Ctrl-C, where measuring is not in the main thread.

    Returns
    -------
    MeasureOutcome
        Counts of frames measured, failed and gone.

    Raises
    ------
    KeyboardInterrupt
        at Ctrl-C, or where `stop` says so, with everything kept that was measured. What follows from it is
        brought up to date when the logbook is next opened.
    """
    from auditor.focus import sharpness

    settings = settings or Settings()
    outcome = MeasureOutcome()
    if not again:
        outcome.not_tried_again = readings.not_tried_again(logbook, auditor_version=__version__)
    before = readings.of_other_versions(logbook, version=sharpness.VERSION)
    run = partial(
        workers.run,
        partial(measure_chunk, crop_px=crop_side_px(settings)),
        jobs=jobs,
        chunk=CHUNK,
        one_by_one=True,
        lost=_lost_frame,
        limits=Limits(longest_s=settings.file_longest_s, memory_gib=settings.file_memory_gib),
        prepare=load_what_measures,
        cluster=cluster,
        stop=stop,
    )
    # A frame whose file turns out to be damaged is measured in another of its files, if it has one.
    while _pass(logbook, settings, run, outcome, again=again, progress=progress):
        again = False
    outcome.measured_again = before - readings.of_other_versions(logbook, version=sharpness.VERSION)
    rebuild(logbook, settings)
    if outcome.measured + outcome.recut:
        keep_to_room(logbook, settings.focus_pictures_mb)
    return outcome


def _pass(
    logbook: Logbook,
    settings: Settings,
    run: Callable[[Iterator[WaitingFrame]], Generator[list[Measured | Failed], None, None]],
    outcome: MeasureOutcome,
    *,
    again: bool,
    progress: Callable[[int], None] | None,
) -> bool:
    """Measure what waits; whether files failed whose frames may have others."""
    any_failed = False
    tried = {path for path, _reason in (*outcome.out_of_reach, *outcome.unreadable)}
    frames = (frame for frame in _waiting(logbook, settings, again=again) if frame.path not in tried)
    with closing(run(frames)) as batches:
        for results in batches:
            any_failed = _keep(logbook, results, crop_side_px(settings), outcome) or any_failed
            if progress:
                progress(outcome.measured + outcome.recut)
    return any_failed


def _keep(logbook: Logbook, results: list[Measured | Failed], side_px: int, outcome: MeasureOutcome) -> bool:
    """Keep what came of some frames; whether files failed whose frames may have others."""
    measured = [result for result in results if isinstance(result, Measured)]
    for result in measured:
        if result.picture is not None:
            _keep_picture(result.picture, crop_path(logbook.path, result.result.frame_id))
            forget_colour(logbook.path, result.result.frame_id)
    read = [result.result for result in measured if isinstance(result.result, Reading)]
    recut = [result.result.frame_id for result in measured if isinstance(result.result, Recut)]
    failed = [result for result in results if isinstance(result, Failed)]
    lasting = [result for result in failed if result.failure.error_class in CONTENT_FAILURES]
    failures = [result.failure for result in failed]
    with logbook.writing():
        readings.write(logbook, read)
        readings.note_crops(logbook, recut, side_px)
        # A file that has gone is not unreadable: the next scan notes that it has gone.
        in_reach = [failure for failure in failures if as_path(failure.path).exists()]
        store_failures(logbook, in_reach, seen_at=now_utc())
        readings.withdraw(logbook, [result.frame_id for result in lasting])
    outcome.measured += len(read)
    outcome.recut += len(recut)
    for failure in failures:
        away = failure.error_class == FileAccessError.__name__
        listed = outcome.out_of_reach if away else outcome.unreadable
        listed.append((failure.path, failure.reason))
    return bool(lasting)


def _lost_frame(frame: WaitingFrame, loss: Loss) -> Failed:
    """A frame over which a worker was lost."""
    if loss.exit_code == ENDED_FROM_OUTSIDE:
        # As systems do that run out of memory: that says nothing of the file.
        reason = "the system ended the process that decoded it, as when memory runs out"
        error: UnreadableFileError = FileAccessError(frame.path, reason, stage=STAGE)
    else:
        error = DecoderLostError(frame.path, why_lost(loss), stage=STAGE)
    return Failed(frame.frame_id, failure_of(frame.path, frame.size_bytes, frame.modified_at, error))


def waiting_frames(logbook: Logbook, settings: Settings | None = None, *, again: bool = False) -> int:
    """How many frames wait to be measured.

    Parameters
    ----------
    again
        Count those that failed before too.

    Returns
    -------
    int
        Those whose file is there.
    """
    return sum(1 for _ in _waiting(logbook, settings or Settings(), again=again))


def waiting_pictures(logbook: Logbook, settings: Settings) -> Iterator[str]:
    """The path of the picture that each frame which waits would be measured in."""
    for frame in _waiting(logbook, settings, again=False):
        if not frame.only_crop:
            yield frame.path


def _waiting(logbook: Logbook, settings: Settings, *, again: bool) -> Iterator[WaitingFrame]:
    from auditor.focus.sharpness import VERSION

    return readings.waiting(
        logbook,
        version=VERSION,
        auditor_version=__version__,
        crop_px=crop_side_px(settings),
        again=again,
    )


def crop_side_px(settings: Settings) -> int:
    """The side of the pictures of focus areas, px."""
    return min(LARGEST_PICTURE_PX, int(settings.focus_picture_px))


def load_what_measures() -> None:
    """Load decoders, filters and the network, so that the first frame's time does not pay for them."""
    import numpy as np

    from auditor.focus import ring_spectrum  # noqa: F401  # only loaded
    from auditor.focus.frame_measurement import measure_frame
    from auditor.readers import pixels  # noqa: F401  # only loaded

    measure_frame(np.full((64, 64), 128, np.uint8), [], magnified=1.0, iso=None)


def measure_chunk(frames: list[WaitingFrame], *, crop_px: int | None = None) -> list[Measured | Failed]:
    """Measure frames, one by one: what goes wrong with one stays with that one.

    Parameters
    ----------
    frames
        Of one batch.
    crop_px
        The side of the pictures of focus areas; None for no pictures.

    Returns
    -------
    list[Measured or Failed]
        One a frame, in their order.
    """
    return [_measured(frame, crop_px) for frame in frames]


def _measured(frame: WaitingFrame, crop_px: int | None) -> Measured | Failed:
    try:
        return _reading(frame, crop_px)
    except UnreadableFileError as error:
        failure = failure_of(frame.path, frame.size_bytes, frame.modified_at, error)
    except MemoryError:  # whose size is no fault of the file: it is tried again
        short = FileAccessError(frame.path, "too large for this machine's memory", stage=STAGE)
        failure = failure_of(frame.path, frame.size_bytes, frame.modified_at, short)
    except Exception as error:  # noqa: BLE001 - no picture may stop a run of thousands
        show_when_debugging()
        ours = DecoderLostError(frame.path, f"{OUR_FAULT} ({type(error).__name__})", stage=STAGE)
        failure = failure_of(frame.path, frame.size_bytes, frame.modified_at, ours)
    return Failed(frame.frame_id, replace(failure, stage=STAGE))


def _reading(frame: WaitingFrame, crop_px: int | None) -> Measured:
    from auditor.focus.frame_measurement import measure_frame
    from auditor.focus.ring_spectrum import packed, ring_spectrum
    from auditor.focus.sharpness import VERSION
    from auditor.readers import pixels

    decoded = pixels.decode(frame.path, orientation=frame.orientation, raw_width_px=frame.recorded_long_px)
    with pixels.decoding(frame.path):
        check_unchanged(frame.path, frame.size_bytes, frame.modified_at)
    luma = decoded.luma
    shown = measure_frame(luma, _areas(frame), magnified=frame.converter_factor or 1.0, iso=frame.iso)
    reading, kind = shown.reading, shown.kind
    top, bottom, left, right = shown.region
    rows, columns = luma.shape
    picture = None if crop_px is None else _picture(luma, shown.region, crop_px)
    if frame.only_crop:
        return Measured(Recut(frame.frame_id), picture)
    frame_reading = Reading(
        frame_id=frame.frame_id,
        measured_on=decoded.source,
        reading_version=VERSION,
        fingerprint=frame.fingerprint,
        scale=frame.recorded_long_px / max(rows, columns) if frame.recorded_long_px else 1.0,
        region={
            "x": (left + right) / 2 / columns,
            "y": (top + bottom) / 2 / rows,
            "width": (right - left) / columns,
            "height": (bottom - top) / rows,
        },
        sigma_px=reading.sigma_px,
        sigma_low_px=reading.low,
        sigma_high_px=reading.high,
        system_sigma_px=reading.system_sigma_px,
        noise=reading.noise,
        texture=reading.texture,
        kind=kind,
        direction_deg=reading.direction_deg if kind == BlurKind.SMEARED else None,
        flags=(*decoded.flags, *shown.flags, *reading.flags),
        why_untold=reading.flags[0] if reading.sigma_px is None else None,
        crop_px=crop_px,
        rings=packed(ring_spectrum(luma, shown.region)),
        quantiles_px=reading.quantiles_px,
    )
    return Measured(frame_reading, picture)


def _areas(frame: WaitingFrame) -> list[Area]:
    """The focus areas that count: those in focus, else those used, else all but those not used."""
    areas = (
        [area for area in frame.focus_areas if area.in_focus]
        or [area for area in frame.focus_areas if area.used]
        or [area for area in frame.focus_areas if area.used is not False]
    )
    if len(areas) > 1:
        return [(area.x, area.y, area.width or 0.0, area.height or 0.0) for area in areas]
    if frame.af_x is None or frame.af_y is None:
        return []
    return [(frame.af_x, frame.af_y, frame.af_width or 0.0, frame.af_height or 0.0)]


def _picture(luma: NDArray[np.uint8], region: Region, side_px: int) -> bytes:
    """The middle of the region at 100 %, in grey, as JPEG."""
    import numpy as np
    import simplejpeg

    top, bottom, left, right = region
    middle_row, middle_column, half = (top + bottom) // 2, (left + right) // 2, side_px // 2
    piece = luma[
        max(top, middle_row - half) : min(bottom, middle_row + half),
        max(left, middle_column - half) : min(right, middle_column + half),
    ]
    data: bytes = simplejpeg.encode_jpeg(
        np.ascontiguousarray(piece)[..., None], quality=PICTURE_QUALITY, colorspace="GRAY"
    )
    return data


def _keep_picture(data: bytes, path: Path) -> None:
    """Keep a picture in place of one from before, or not at all."""
    unfinished = path.with_suffix(".unfinished")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished.write_bytes(data)
        unfinished.replace(path)
    except OSError as error:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise LogbookError(
            f"{path}: the picture of a focus area cannot be kept beside the logbook ({error.strerror}). "
            "Make room or check permissions, then run the same command again."
        ) from error
