"""How large the report of many frames is, how long it takes to write, and how soon a browser paints it.

    python benchmarks/report.py               # 20,000 frames of one trip, then 1,000,000 over forty
    python benchmarks/report.py --trip-only

The logbooks are made up with a fixed seed. Of the trip, flagged frames have a 24-megapixel JPEG and a picture
of their focus area, as after `auditor measure`. First paint is Chromium's own figure, where Playwright and
Chromium are installed.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import simplejpeg

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.jobs.colour_cuts import by_workers  # noqa: E402
from auditor.report.write import PAGE, write_report  # noqa: E402
from auditor.settings import Settings  # noqa: E402
from auditor.store.crops import crop_path  # noqa: E402
from auditor.store.logbook import Logbook, open_logbook  # noqa: E402
from auditor.store.trips import find_trip  # noqa: E402

SEED = 20260418
BURST, SCENE = 5, 20
FLAGGED_SHARE = 0.05
KITS = [
    ("Body One", f"Long {focal}mm f/{widest}", factor)
    for focal, widest in ((500, 5.6), (300, 4.0))
    for factor in (1.0, 1.4, 2.0)
]


def main() -> None:
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    packages = ("jinja2", "pandas", "numpy", "simplejpeg", "pyarrow")
    print(*(f"{name} {version(name)}" for name in packages), sep=", ", end="\n\n")
    with tempfile.TemporaryDirectory(prefix="report-") as place:
        folder = Path(place)
        make_logbook(folder / "trip.sqlite", frames=20_000, trips=1, pictures=True)
        for formats in (["html"], ["csv"], ["json"], ["parquet"]):
            told(f"20,000 frames, {formats[0]}", folder / "trip.sqlite", folder / "trip", formats, trip=True)
        first_paint(folder / "trip" / PAGE)
        if "--trip-only" in sys.argv:
            return
        make_logbook(folder / "all.sqlite", frames=1_000_000, trips=40, pictures=False)
        for formats in (["html"], ["csv"], ["parquet"]):
            told(
                f"1,000,000 frames, {formats[0]}", folder / "all.sqlite", folder / "all", formats, trip=False
            )


def told(name: str, logbook: Path, into: Path, formats: list[str], *, trip: bool) -> None:
    """Write in a process of its own, so that its memory is its own; print seconds, size and memory."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as worker:
        found = worker.submit(written, logbook, into, formats, trip).result()
    print(
        "{}: {:.1f} s, of them {:.1f} s of one core; {:.1f} MB; {} of memory at most".format(name, *found),
        flush=True,
    )


def written(logbook: Path, into: Path, formats: list[str], trip: bool) -> tuple[float, float, float, str]:
    """Seconds, seconds of processor, megabytes written, and the largest resident set as Linux tells it."""
    began = time.perf_counter()
    with open_logbook(logbook) as book:
        page = write_report(
            book,
            into,
            trip=find_trip(book, None) if trip else None,
            formats=formats,
            cutter=by_workers(Settings()),
        )
    seconds = time.perf_counter() - began
    status = Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else []
    peak = next(
        (f"{int(line.split()[1]) / 1024:.0f} MiB" for line in lines if line.startswith("VmHWM")), "unknown"
    )
    used = os.times()  # workers that cut pictures included
    return seconds, sum(used[:4]), page.stat().st_size / 1e6, peak


def first_paint(page_path: Path) -> None:
    """Chromium's first contentful paint, and when the page answers, in the median of five openings."""
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        chromium = None
    if chromium is None:
        print("first paint: not measured, no Chromium or no Playwright")
        return
    asked = """() => new Promise(answer => setTimeout(() => answer({
        paint: performance.getEntriesByName('first-contentful-paint')[0].startTime,
        done: performance.getEntriesByType('navigation')[0].loadEventEnd }), 500))"""
    found: list[dict[str, float]] = []
    with sync_playwright() as driver:
        for _time in range(5):
            browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            page = browser.new_context(offline=True).new_page()
            page.goto(page_path.as_uri())
            found.append(page.evaluate(asked))
            browser.close()
    paint, done = (float(np.median([one[name] for one in found])) / 1000 for name in ("paint", "done"))
    print(f"first paint: {paint:.2f} s; loaded, lists filtered and ready: {done:.2f} s", flush=True)


def make_logbook(path: Path, *, frames: int, trips: int, pictures: bool) -> None:
    """Frames in bursts of five and scenes of twenty, six kits, a third of them missed."""
    photographs = path.parent / f"{path.stem}-photographs"
    with open_logbook(path, create=True) as book:
        with book.writing():
            book.execute(
                "INSERT INTO scans (folder, started_at, finished_at, files_seen, files_read, "
                "files_unreadable, auditor_version) VALUES (?, '2026', '2026', ?, ?, 0, 'x')",
                (str(photographs), frames, frames),
            )
            for number, (body, lens, factor) in enumerate(KITS, 1):
                name = f"{body} + {lens}" + (f" + {factor:g}x" if factor > 1 else "")
                book.execute(
                    "INSERT INTO kits VALUES (?, ?, ?, 'Testmaker', ?, '1', ?, ?)",
                    (number, str(number), name, body, lens, factor),
                )
            for table, rows in rows_of(frames, trips, photographs):
                marks = ", ".join("?" * len(rows[0]))
                columns = ", ".join(rows[0])
                book.execute_many(
                    f"INSERT OR IGNORE INTO {table} ({columns}) VALUES ({marks})",
                    [tuple(row.values()) for row in rows],
                )
        if pictures:
            write_pictures(book, photographs)


def rows_of(frames: int, trips: int, photographs: Path) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Rows of each table, some thousand frames at a time."""
    chance = np.random.default_rng(SEED)
    stamp = {"stamp": "x"}
    per_trip = frames // trips
    for trip in range(trips):
        day = f"{2010 + trip // 12}-{1 + trip % 12:02d}"
        yield (
            "trips",
            [
                {
                    "trip_id": trip + 1,
                    "name": f"trip {trip}",
                    "first_at": f"{day}-01T06:00:00",
                    "last_at": f"{day}-20T18:00:00",
                    "frames": per_trip,
                }
                | stamp
            ],
        )
        for first in range(0, per_trip, 20_000):
            yield from part_of(
                chance,
                trip,
                day,
                range(trip * per_trip + first, trip * per_trip + min(first + 20_000, per_trip)),
                per_trip,
                photographs,
                stamp,
            )


def part_of(
    chance: np.random.Generator,
    trip: int,
    day: str,
    numbers: range,
    per_trip: int,
    photographs: Path,
    stamp: dict[str, str],
) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    tables: dict[str, list[dict[str, Any]]] = {
        name: []
        for name in (
            "encounters",
            "scenes",
            "bursts",
            "frames",
            "inferred",
            "membership",
            "verdicts",
            "readings",
            "files",
        )
    }
    kit = light_ev = 0.0
    for number in numbers:
        frame_id = number + 1
        scene_id, burst_id = number // SCENE * SCENE + 1, number // BURST * BURST + 1
        if number % SCENE == 0 or not kit:
            kit, light_ev = int(chance.integers(len(KITS))) + 1, round(float(chance.uniform(6, 15)), 2)
        _body, lens, factor = KITS[int(kit) - 1]
        at_s = (number % per_trip) * 20 * 86400 // per_trip
        hour, minute, second = 6 + at_s % 86400 // 7200, at_s % 3600 // 60, at_s % 60
        at = f"{day}-{1 + at_s // 86400:02d}T{hour:02d}:{minute:02d}:{second:02d}"
        hit = chance.random() < 0.66 - 0.06 * factor
        flags = '["smeared"]' if chance.random() < FLAGGED_SHARE else "[]"
        focal = float(lens.split()[1][:-2]) * factor
        group = {"frames": SCENE, "light_value_ev": light_ev} | stamp
        if number % SCENE == 0:
            times = {"first_at": at, "last_at": at}
            tables["encounters"].append({"encounter_id": scene_id, "trip_id": trip + 1} | times | group)
            tables["scenes"].append(
                {"scene_id": scene_id, "encounter_id": scene_id, "kit_id": kit, "frames": SCENE} | stamp
            )
        iso = float(2 ** round(np.clip(22 - light_ev + 2 * np.log2(factor), 6, 15)) * 1.5625)
        tables["frames"].append(
            {
                "frame_id": frame_id,
                "exposure_key": str(number),
                "taken_at": at,
                "body_model": "Body One",
                "iso": iso,
                "focal_length_mm": focal,
                "f_number": 5.6 * factor,
                "exposure_time_s": 2.0 ** -int(chance.integers(7, 12)),
                "af_x": float(chance.random()),
                "af_y": float(chance.random()),
                "width_px": 6000,
                "height_px": 4000,
                "orientation": 1,
                "camera_word": "confirmed",
            }
        )
        tables["inferred"].append(
            {
                "frame_id": frame_id,
                "taken_at": at,
                "kit_id": kit,
                "lens_name": lens,
                "focal_length_mm": focal,
                "f_number": 5.6 * factor,
                "light_value_ev": light_ev,
                "converter_factor": factor,
                "converter_source": "maker_note",
                "pixel_pitch_um": 6.0,
                "sensor_diagonal_mm": 43.3,
                "forced_push_ev": 2 * float(np.log2(factor)),
                "iso_without_converter": iso / factor**2,
                "excluded": 0,
                "flags": flags,
                "missing": 0,
            }
            | stamp
        )
        tables["membership"].append(
            {
                "frame_id": frame_id,
                "burst_id": burst_id,
                "scene_id": scene_id,
                "encounter_id": scene_id,
                "trip_id": trip + 1,
                "position_in_burst": number % BURST,
            }
        )
        verdict = "hit" if hit else "miss"
        tables["verdicts"].append(
            {
                "frame_id": frame_id,
                "verdict": verdict,
                "verdict_source": "pixels",
                "verdict_on_subject": verdict,
            }
            | stamp
        )
        sigma = float(chance.lognormal(0, 0.3)) * (0.9 if hit else 3)
        tables["readings"].append(
            {
                "frame_id": frame_id,
                "measured_on": "jpeg",
                "reading_version": "1",
                "fingerprint": "x",
                "scale": 1.0,
                "region": '{"x": 0.5, "y": 0.5, "width": 0.1, "height": 0.1}',
                "sigma_px": sigma,
                "system_sigma_px": sigma + 0.5,
                "noise": iso**0.5 / 40,
                "texture": 1.0,
                "kind": "sharp" if hit else "soft",
                "flags": "[]",
            }
        )
        tables["files"].append(
            {
                "file_id": frame_id,
                "frame_id": frame_id,
                "role": "jpeg",
                "volume": "/",
                "path": str(photographs / f"{number:07d}.JPG"),
                "stem": str(number),
                "present": 1,
                "size_bytes": 1,
                "modified_at": "2026",
                "fingerprint": str(number),
                "recorded": "{}",
            }
        )
    yield from ((name, rows) for name, rows in tables.items() if rows)


def write_pictures(book: Logbook, photographs: Path) -> None:
    """One drawn 24-megapixel JPEG under the name of each flagged frame, and pictures of all focus areas."""
    chance = np.random.default_rng(SEED)
    drawn = np.full((4000, 6000), 110, np.uint8)
    for _shape in range(3000):
        centre = (int(chance.integers(6000)), int(chance.integers(4000)))
        cv2.circle(drawn, centre, int(chance.integers(8, 90)), int(chance.integers(20, 235)), -1)
    drawn = np.clip(drawn + chance.normal(0, 4, drawn.shape), 0, 255).astype(np.uint8)
    photographs.mkdir()
    one = photographs / "one.jpg"
    one.write_bytes(simplejpeg.encode_jpeg(np.dstack([drawn] * 3), quality=94))
    crop = simplejpeg.encode_jpeg(
        np.ascontiguousarray(drawn[:240, :240, None]), quality=80, colorspace="GRAY"
    )
    for row in book.query("SELECT frame_id, path, flags FROM frame_facts"):
        if json.loads(row["flags"]):
            os.link(one, row["path"])
        path = crop_path(book.path, row["frame_id"])
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(crop)


if __name__ == "__main__":
    main()
