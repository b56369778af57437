"""Writing the invented trip: a card full of frames, and the truth beside them."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from random import Random

from auditor.demo.camera import Card, Taken, take
from auditor.demo.gear import FULL, SMALL
from auditor.demo.metadata import exif, marked_f_number, sidecar, xmp_packet
from auditor.demo.picture import PictureSpec, render
from auditor.demo.scenario import FIRST_DAY, FRAMES_AN_ENCOUNTER, encounters
from auditor.errors import OutputError
from auditor.jobs import workers

SEED = 20260418
WIDTH_PX, HEIGHT_PX = 540, 360
JPEG_QUALITY = 91
WORTH_WORKERS = 8
"""Starting a worker takes about as long as rendering two encounters."""

README = """\
# An invented trip

Frames of a trip that never took place: rendered by `auditor demo`, with invented bodies, lenses and
animals. They are small pictures cut out of the middle of the sensor in the camera, so a pixel is as
large as the sensor's, and blur can be judged.

- `DCIM/`: the frames, as a card holds them, and two XMP sidecars
- `truth.csv`: what was rendered, frame by frame
- `truth_deleted.csv`: how many frames of each body were deleted in camera (they left gaps in the numbers)

One converter of this trip, on the smaller body, does not report itself: only truth.csv knows of it.

Licence: CC0-1.0. Do with them what you like.
"""

_TRUTH = (
    "file",
    "body",
    "lens",
    "converter_factor",
    "encounter",
    "burst",
    "taken_at",
    "animal",
    "distance_m",
    "light_value_ev",
    "f_number",
    "kind",
    "blur_sigma_px",
    "system_sigma_px",
    "direction_deg",
    "focus_x",
    "focus_y",
    "camera_word",
    "verdict",
)


@dataclass(frozen=True, slots=True)
class TripWritten:
    """What was written."""

    folder: Path
    frames: int


def write(
    folder: Path, *, frames: int = 96, seed: int = SEED, first_day: date = FIRST_DAY, jobs: int = 1
) -> TripWritten:
    """Write about so many frames of the invented trip; the same seed and day give the same bytes.

    Parameters
    ----------
    jobs
        Processes that render; which one renders a frame makes no difference to it.

    Raises
    ------
    OutputError
        for a folder that is not empty, or cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise OutputError(f"{folder}: is not empty. Name a new or empty folder for the invented trip.")
        random = Random(seed)
        cards = {body.model: Card(body) for body in (FULL, SMALL)}
        by_encounter = [
            take(encounter, cards, round(FRAMES_AN_ENCOUNTER), random)
            for encounter in encounters(frames, random, first_day)
        ]
        # A worker renders whole encounters: their frames share background and feathers.
        render_all = partial(_write_encounters, folder, seed)
        for _done in workers.run(render_all, by_encounter, jobs=jobs, chunk=1, worth_workers=WORTH_WORKERS):
            pass
        taken = [frame for kept in by_encounter for frame in kept]
        _write_sidecars(folder, taken)
        _write_text(folder / "truth.csv", _truth(taken))
        deleted: list[tuple[object, ...]] = [
            ("body", "frames_deleted"),
            *((model, card.deleted) for model, card in cards.items()),
        ]
        _write_text(folder / "truth_deleted.csv", _csv(deleted))
        _write_text(folder / "README.md", README)
    except OSError as error:
        raise _refused(folder, error) from error
    return TripWritten(folder, len(taken))


def _refused(folder: Path, error: OSError) -> OutputError:
    return OutputError(f"{folder}: cannot be written ({error.strerror}). Choose another folder.")


def _write_encounters(folder: Path, seed: int, encounters: list[list[Taken]]) -> list[None]:
    try:
        for taken in encounters:
            for frame in taken:
                _write_frame(folder, frame, seed)
    except OSError as error:  # in a worker: what it raises is reported here or not at all
        raise _refused(folder, error) from error
    return [None] * len(encounters)


def _write_frame(folder: Path, taken: Taken, seed: int) -> None:
    from PIL import Image

    path = folder / taken.path
    path.parent.mkdir(parents=True, exist_ok=True)
    pixels = render(_picture(taken, seed))
    with path.open("wb") as stream:
        Image.fromarray(pixels).save(
            stream,
            "JPEG",
            quality=JPEG_QUALITY,
            exif=exif(taken, WIDTH_PX, HEIGHT_PX),
            xmp=xmp_packet(taken, WIDTH_PX, HEIGHT_PX),
        )


def _picture(taken: Taken, seed: int) -> PictureSpec:
    kit, encounter = taken.kit, taken.encounter
    scale_px_per_mm = kit.focal_length_mm / (kit.body.pixel_pitch_um / 1000) / (encounter.distance_m * 1000)
    return PictureSpec(
        width_px=WIDTH_PX,
        height_px=HEIGHT_PX,
        subject=encounter.animal.name,
        subject_size_px=encounter.animal.length_mm * scale_px_per_mm,
        centre_x=taken.focus_x,
        centre_y=taken.focus_y,
        kind=taken.kind,
        blur_sigma_px=taken.blur_sigma_px,
        direction_deg=taken.direction_deg,
        lens_sigma_px=kit.system_sigma_px,
        iso=taken.iso,
        base_electrons=kit.body.full_well_e,
        read_noise_e=2.5,
        seed=seed + taken.number,
        scene_seed=seed + 1000 * encounter.number,
    )


def _write_sidecars(folder: Path, taken: list[Taken]) -> None:
    """Two sidecars, named in the two ways that are common: without and with the picture's own extension."""
    rated = [frame for frame in taken if frame.kind == "sharp" and frame.rating is None][:2]
    for frame, extension in zip(rated, (".xmp", ".JPG.xmp"), strict=False):
        path = (folder / frame.path).with_suffix(extension)
        path.write_bytes(sidecar(5, (frame.encounter.animal.keyword, "estuary")))


def _truth(taken: list[Taken]) -> str:
    rows: list[tuple[object, ...]] = [_TRUTH]
    rows += [
        (
            frame.path,
            frame.kit.body.model,
            frame.kit.lens.name,
            frame.kit.factor,
            frame.encounter.number,
            frame.burst,
            frame.taken_at.isoformat(timespec="milliseconds"),
            frame.encounter.animal.name,
            round(frame.encounter.distance_m, 1),
            round(frame.light_ev, 2),
            marked_f_number(frame.f_number),
            frame.kind,
            frame.blur_sigma_px,
            round(frame.kit.system_sigma_px, 3),
            "" if frame.direction_deg is None else frame.direction_deg,
            frame.focus_x,
            frame.focus_y,
            frame.camera_word,
            frame.verdict,
        )
        for frame in taken
    ]
    return _csv(rows)


def _csv(rows: list[tuple[object, ...]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
