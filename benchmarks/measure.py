"""How fast pixels are measured: as ratios in one run.

    python benchmarks/measure.py

A 24-megapixel JPEG of shapes and noise: the whole way from the file to the reading, sharp and
soft at its focus area, against simplejpeg's full luma decode alone; regions of 512 and 1024 px; two processes
against one.
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import simplejpeg

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.sharpness import measure  # noqa: E402
from auditor.jobs.measure import measure_chunk  # noqa: E402
from auditor.readers.folder import utc_text  # noqa: E402
from auditor.store.readings import WaitingFrame  # noqa: E402

ROWS, COLUMNS = 4000, 6000
SEED = 20260418
ROUNDS = 7
FRAMES = 24


def main() -> None:
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    packages = ("numpy", "opencv-python-headless", "simplejpeg")
    print(*(f"{name} {version(name)}" for name in packages), sep=", ", end="\n\n")
    with tempfile.TemporaryDirectory(prefix="measure-") as place:
        for name, blur_px in (("in focus", 0.6), ("out of focus", 4.0)):
            luma = picture(blur_px)
            path = Path(place) / f"{name}.jpg"
            path.write_bytes(simplejpeg.encode_jpeg(np.dstack([luma] * 3), quality=94))
            whole_frame(name, path)
            if blur_px < 1:
                regions(luma)
                processes(path)


def picture(blur_px: float) -> Any:
    chance = np.random.default_rng(SEED)
    luma = np.full((ROWS, COLUMNS), 110, np.float32)
    for _shape in range(3000):
        centre = (int(chance.integers(COLUMNS)), int(chance.integers(ROWS)))
        cv2.circle(luma, centre, int(chance.integers(8, 90)), float(chance.integers(20, 235)), -1)
    blurred = cv2.GaussianBlur(luma, (0, 0), blur_px)
    return np.clip(blurred + chance.normal(0, 4, luma.shape), 0, 255).astype(np.uint8)


def frame(path: Path) -> WaitingFrame:
    facts = path.stat()
    return WaitingFrame(
        frame_id=1, path=str(path), size_bytes=facts.st_size, modified_at=utc_text(facts.st_mtime_ns),
        fingerprint="", orientation=1, af_x=0.5, af_y=0.5, af_width=0.02, af_height=0.03,
        recorded_long_px=COLUMNS,
    )  # fmt: skip


def whole_frame(name: str, path: Path) -> None:
    data = path.read_bytes()
    decode_s = least_s(lambda: simplejpeg.decode_jpeg(data, colorspace="GRAY"))
    whole_s = least_s(lambda: measure_chunk([frame(path)]))
    print(f"a 24-megapixel frame, {name}: {1e3 * whole_s:.0f} ms, its luma decode {1e3 * decode_s:.0f} ms")
    print(f"  ratio {whole_s / decode_s:.2f}")


def regions(luma: Any) -> None:
    for side in (512, 1024):
        took_s = least_s(lambda side=side: measure(luma, region=(0, side, 0, side)))  # type: ignore[misc]
        print(f"a region of {side} px: {1e3 * took_s:.1f} ms")


def processes(path: Path) -> None:
    frames = [[frame(path)] * 2 for _chunk in range(FRAMES // 2)]
    took_s = {}
    for count in (1, 2):
        with ProcessPoolExecutor(count) as pool:
            list(pool.map(measure_chunk, frames[:count]))  # started before the clock
            began = time.perf_counter()
            list(pool.map(measure_chunk, frames))
            took_s[count] = time.perf_counter() - began
    print(f"two processes against one: {took_s[1] / took_s[2]:.2f} times as fast")


def least_s(task: Callable[[], object]) -> float:
    times = []
    for _round in range(ROUNDS):
        began = time.perf_counter()
        task()
        times.append(time.perf_counter() - began)
    return min(times)


if __name__ == "__main__":
    main()
