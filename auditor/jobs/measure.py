"""Measuring the pixels of frames that have no reading yet: workers measure, one process writes."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from auditor import __version__
from auditor.errors import UnreadableFileError
from auditor.jobs import workers
from auditor.records import FoundFile, ReadFailure
from auditor.settings import Settings
from auditor.store import files, readings
from auditor.store.crops import crop_path
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from auditor.focus.luminance import Region

LARGEST_PICTURE_PX = 512
PICTURE_QUALITY = 80
CHUNK = 4
"""Frames a worker takes at a time: few, since each is large."""


@dataclass(slots=True)
class MeasureOutcome:
    """What came of measuring."""

    measured: int = 0
    unreadable: list[tuple[str, str]] = field(default_factory=list)
    """(path, reason)."""


def measure(
    logbook: Logbook,
    settings: Settings | None = None,
    *,
    jobs: int = 1,
    progress: Callable[[int], None] | None = None,
) -> MeasureOutcome:
    """Measure every frame without a reading of the present version whose file is there.

    Each batch is kept at once: a run that is stopped goes on where it was.
    """
    from auditor.focus.sharpness import VERSION

    outcome = MeasureOutcome()
    side_px = min(LARGEST_PICTURE_PX, int((settings or Settings()).focus_picture_px))
    waiting = (
        frame | {"picture_path": str(crop_path(logbook.path, frame["frame_id"])), "picture_px": side_px}
        for frame in readings.waiting(logbook, version=VERSION, auditor_version=__version__)
    )
    for results in workers.run(measure_chunk, waiting, jobs=jobs, chunk=CHUNK, worth_workers=4 * CHUNK):
        rows = [row for row in results if "reason" not in row]
        failures = [row for row in results if "reason" in row]
        with logbook.writing():
            readings.write(logbook, rows)
            files.store_failures(logbook, list(_failures(failures)), seen_at=_now())
        outcome.measured += len(rows)
        outcome.unreadable += [(row["path"], row["reason"]) for row in failures]
        if progress:
            progress(outcome.measured)
    return outcome


def waiting_frames(logbook: Logbook) -> int:
    """How many frames wait to be measured."""
    from auditor.focus.sharpness import VERSION

    return sum(1 for _ in readings.waiting(logbook, version=VERSION, auditor_version=__version__))


def measure_chunk(frames: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Measure frames, one by one: what goes wrong with one stays with that one."""
    import cv2

    cv2.setNumThreads(1)  # the workers share the cores
    return [_measured(frame) for frame in frames]


def _measured(frame: dict[str, Any]) -> dict[str, Any]:
    try:
        return _reading(frame)
    except UnreadableFileError as error:
        return {"path": frame["path"], "reason": error.reason, "error_class": type(error).__name__}


def _reading(frame: dict[str, Any]) -> dict[str, Any]:
    from auditor.focus.frame_measurement import measure_frame
    from auditor.focus.sharpness import VERSION
    from auditor.readers import pixels

    recorded_long = max(frame["recorded_width_px"] or 0, frame["recorded_height_px"] or 0) or max(
        frame["width_px"] or 0, frame["height_px"] or 0
    )
    decoded = pixels.decode(frame["path"], orientation=frame["orientation"], raw_width_px=recorded_long)
    luma = decoded.luma
    measured = measure_frame(
        luma, _areas(frame), magnified=frame.get("converter_factor") or 1.0, iso=frame.get("iso")
    )
    reading, kind = measured.reading, measured.kind
    top, bottom, left, right = measured.region
    rows, columns = luma.shape
    if frame.get("picture_path"):
        _keep_picture(luma, measured.region, Path(frame["picture_path"]), frame["picture_px"])
    return {
        "frame_id": frame["frame_id"],
        "measured_on": decoded.source,
        "reading_version": VERSION,
        "fingerprint": frame["fingerprint"],
        "scale": recorded_long / max(rows, columns) if recorded_long else 1.0,
        "region": json.dumps(
            {
                "x": (left + right) / 2 / columns,
                "y": (top + bottom) / 2 / rows,
                "width": (right - left) / columns,
                "height": (bottom - top) / rows,
            }
        ),
        "sigma_px": reading.sigma_px,
        "sigma_low_px": reading.low,
        "sigma_high_px": reading.high,
        "system_sigma_px": reading.system_sigma_px,
        "noise": reading.noise,
        "texture": reading.texture,
        "kind": kind,
        "direction_deg": reading.direction_deg if kind == "smeared" else None,
        "flags": json.dumps([*decoded.flags, *measured.flags, *reading.flags]),
        "why_untold": reading.flags[0] if reading.sigma_px is None else None,
        "quantiles_px": json.dumps([round(value, 4) for value in reading.quantiles_px])
        if reading.quantiles_px
        else None,
    }


def _areas(frame: dict[str, Any]) -> list[tuple[float, float, float, float]]:
    """The focus areas that count: those in focus, else those used, else all of them."""
    areas = json.loads(frame.get("focus_areas") or "[]")
    for word in ("in_focus", "used"):
        if named := [area for area in areas if area.get(word)]:
            areas = named
            break
    else:
        areas = [area for area in areas if area.get("used") is not False]
    if len(areas) > 1:
        return [(one["x"], one["y"], one.get("width") or 0.0, one.get("height") or 0.0) for one in areas]
    if frame["af_x"] is None or frame["af_y"] is None:
        return []
    return [(frame["af_x"], frame["af_y"], frame["af_width"] or 0.0, frame["af_height"] or 0.0)]


def _keep_picture(luma: NDArray[np.uint8], region: Region, path: Path, side_px: int) -> None:
    """The middle of the region at 100 %, in grey; it replaces one from before."""
    import numpy as np
    import simplejpeg

    top, bottom, left, right = region
    middle_row, middle_column, half = (top + bottom) // 2, (left + right) // 2, side_px // 2
    piece = luma[
        max(top, middle_row - half) : min(bottom, middle_row + half),
        max(left, middle_column - half) : min(right, middle_column + half),
    ]
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".unfinished")
    data = simplejpeg.encode_jpeg(
        np.ascontiguousarray(piece)[..., None], quality=PICTURE_QUALITY, colorspace="GRAY"
    )
    unfinished.write_bytes(data)
    unfinished.replace(path)


def _failures(rows: list[dict[str, Any]]) -> Iterator[ReadFailure]:
    for row in rows:
        facts = Path(row["path"]).stat() if Path(row["path"]).exists() else None
        yield ReadFailure(
            found=FoundFile(row["path"], "raw", facts.st_size if facts else 0, ""),
            stage="pixels",
            reason=row["reason"],
            error_class=row["error_class"],
        )


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
