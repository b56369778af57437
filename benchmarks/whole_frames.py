"""Score what the auditor says of whole JPEGs in the end: hit, miss or unclear, frame by frame and in bursts.

    python benchmarks/whole_frames.py [--frames-a-case N] [--bursts N] [--photographs FOLDER]

An animal stands before a background, and the focus area lies as cameras record it: on the animal, on its edge
or beside it, much larger than it; twigs before it, busy foliage behind, backlight, dark on sky, grey on fog.
What counts is whether the animal is in focus. --frames keeps the JPEGs, to score another reading on them.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import tempfile
from collections import Counter
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.derive.scenes_together import read_together  # noqa: E402
from auditor.focus.sharpness import VERSION  # noqa: E402
from auditor.frames.verdicts import judge  # noqa: E402
from auditor.jobs.measure import Measured, measure_chunk  # noqa: E402
from auditor.readers.folder import utc_text  # noqa: E402
from auditor.records import CriterionFacts  # noqa: E402
from auditor.store.readings import Reading, WaitingFrame  # noqa: E402
from auditor.store.scene_blur import SceneFrame  # noqa: E402
from benchmarks.second_focus import CRITERION_PX, PHOTOGRAPHS  # noqa: E402
from benchmarks.second_simulator import kernels, whole_frame  # noqa: E402
from benchmarks.second_simulator import pieces as simulated  # noqa: E402

SEED = 20261128
FRAMES_A_CASE, BURSTS = 12, 14
BURST_PX = (0.45, 0.75, 1.0, 1.5, 2.6)
FACTS = CriterionFacts(pixel_pitch_um=6.0, sensor_diagonal_mm=43.27, converter_factor=1.0)
"""Of a full-frame sensor of 24 megapixels: the criterion is then 1.2 px."""
WORDS = ("hit", "unclear", "miss")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames-a-case", type=int, default=FRAMES_A_CASE)
    arguments.add_argument("--bursts", type=int, default=BURSTS)
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    arguments.add_argument("--frames", type=Path, help="folder that keeps the JPEGs")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(*(f"{n} {version(n)}" for n in ("numpy", "opencv-python-headless")), f"seed {SEED}", sep=", ")
    with tempfile.TemporaryDirectory(prefix="frames-") as place:
        folder = chosen.frames or Path(place)
        truth = folder / "truth.json"
        if not truth.exists():
            folder.mkdir(parents=True, exist_ok=True)
            truth.write_text(
                json.dumps(composed(folder, chosen.frames_a_case, chosen.bursts, chosen.photographs)),
                encoding="utf-8",
            )
        rows = json.loads(truth.read_text(encoding="utf-8"))
        frames = pd.DataFrame([told(number, row, folder) for number, row in enumerate(rows)])
    print(f"{len(frames)} frames, reading {VERSION}\n")
    single(frames[frames["burst"].isna()])
    bursts(frames[frames["burst"].notna()])


def composed(folder: Path, frames_a_case: int, burst_count: int, photographs: Path) -> list[dict[str, Any]]:
    """Write the JPEGs; returns the truth of each."""
    random = np.random.default_rng(SEED)
    coats = [
        scene
        for scene in simulated.scenes(photographs if photographs.is_dir() else None, 12, 12, SEED)
        if scene.content in ("photograph", "fur", "barbs")
    ]
    rows: list[dict[str, Any]] = []
    for case in whole_frame.CASES:
        for number in range(frames_a_case):
            frame = whole_frame.composed(case, coats[int(random.integers(len(coats)))], random)
            sharp = number % 2 == 0
            sigma_px = float(random.uniform(0.35, 0.9) if sharp else random.uniform(2.0, 5.0))
            kernel = kernels.drawn(
                str(random.choice(["disc", "gaussian", "disc", "moved"])), sigma_px, random
            )
            camera, iso = whole_frame.camera_for_frames(random), float(400 * 2 ** random.integers(0, 6))
            jpeg = whole_frame.shot(frame, kernel, camera, iso, random)
            rows.append(kept(folder, len(rows), jpeg, frame, kernel, iso, None))
    for burst in range(burst_count):
        case = whole_frame.CASES[0 if burst % 2 else 7]
        frame = whole_frame.composed(case, coats[int(random.integers(len(coats)))], random)
        camera, iso = whole_frame.camera_for_frames(random), float(400 * 2 ** random.integers(0, 6))
        kind = "moved" if burst % 3 == 2 else "disc"
        factor = float(random.choice([1.0, 1.0, 1.8]))  # every third burst has no sharp frame
        for sigma_px in random.permutation(np.array(BURST_PX) * factor):
            kernel = kernels.drawn(kind, float(sigma_px), random)
            moved = (int(random.integers(-12, 13)), int(random.integers(-12, 13)))
            jpeg = whole_frame.shot(frame, kernel, camera, iso, random, moved)
            rows.append(kept(folder, len(rows), jpeg, frame, kernel, iso, burst))
    return rows


def kept(
    folder: Path,
    number: int,
    jpeg: bytes,
    frame: whole_frame.Composed,
    kernel: kernels.Kernel,
    iso: float,
    burst: int | None,
) -> dict[str, Any]:
    (folder / f"{number:04d}.jpg").write_bytes(jpeg)
    return {
        "file": f"{number:04d}.jpg",
        "case": frame.case.name,
        "kernel": kernel.name,
        "sigma_px": kernel.sigma_px,
        "iso": iso,
        "area": frame.area,
        "burst": burst,
    }


def told(number: int, row: dict[str, Any], folder: Path) -> dict[str, Any]:
    """What the auditor measures in a frame and makes of it, by itself."""
    x, y, width, height = row["area"]
    path = folder / row["file"]
    facts = path.stat()
    frame = WaitingFrame(
        frame_id=number,
        path=str(path),
        size_bytes=facts.st_size,
        modified_at=utc_text(facts.st_mtime_ns),
        fingerprint="",
        orientation=1,
        af_x=x,
        af_y=y,
        af_width=width,
        af_height=height,
        recorded_long_px=whole_frame.COLUMNS,
        converter_factor=1.0,
    )
    (measured,) = measure_chunk([frame])
    assert isinstance(measured, Measured), measured
    reading = measured.result
    assert isinstance(reading, Reading), reading
    judged = judge(reading, FACTS, "silent")
    return row | {
        "reading": reading,
        "verdict": str(judged.verdict),
        "source": judged.source,
        "why": str(judged.missing or ", ".join(reading.flags) or reading.kind),
        "sharp": row["sigma_px"] <= CRITERION_PX,
    }


def single(frames: pd.DataFrame) -> None:
    """Frames by themselves: by case, then why the unclear ones are."""
    print(f"{'':34}{'sharp animal':^24}{'soft animal':^24}")
    print(f"{'':34}" + "".join(f"{word:>8}" for word in WORDS * 2))
    for name, part in (*frames.groupby("case", sort=False), ("all", frames)):
        counts = [
            int(((part["sharp"] == sharp) & (part["verdict"] == word)).sum())
            for sharp in (True, False)
            for word in WORDS
        ]
        print(f"{name:34}" + "".join(f"{count:8}" for count in counts))
    sharp, soft = frames[frames["sharp"]], frames[~frames["sharp"]]
    print(f"sharp animals called a miss: {(sharp['verdict'] == 'miss').mean():.3f}", end="; ")
    print(f"soft ones called a hit: {(soft['verdict'] == 'hit').mean():.3f}", end="; ")
    print(f"unclear: {(frames['verdict'] == 'unclear').mean():.3f}")
    for why, count in Counter(frames.loc[frames["verdict"] == "unclear", "why"]).most_common(8):
        print(f"  {count:3} unclear: {why}")
    for why, count in Counter(sharp.loc[sharp["verdict"] == "miss", "why"]).most_common(8):
        print(f"  {count:3} sharp called a miss: {why}")


def bursts(frames: pd.DataFrame) -> None:
    """Bursts: each frame by itself, then with its scene."""
    rows = []
    for burst, part in frames.groupby("burst"):
        records = [{str(name): of for name, of in one.items()} for one in part.to_dict("records")]
        scene = [scene_frame(place, row) for place, row in enumerate(records) if place_of(row)]
        found = {one.frame_id: one for one in read_together(scene, 1.0)}
        for place, row in enumerate(records):
            one = found.get(place)
            rows.append(
                {
                    "burst": burst,
                    "sigma_px": row["sigma_px"],
                    "sharp": row["sharp"],
                    "alone": row["verdict"],
                    "alone_px": row["reading"].sigma_px,
                    "together": str(one.verdict) if one else row["verdict"],
                    "by_scene": bool(one and one.verdict_source == "scene"),
                    "joined": one is not None,
                    "together_px": one.blur_px if one else row["reading"].sigma_px,
                }
            )
    judged = pd.DataFrame(rows)
    print(
        f"\n{len(judged)} frames of {judged['burst'].nunique()} bursts; joined {judged['joined'].mean():.3f}"
    )
    for name in ("alone", "together"):
        given = judged[judged[name] != "unclear"]
        right = (given[name] == "hit") == given["sharp"]
        best = [best_is_best(part, f"{name}_px") for _, part in judged.groupby("burst")]
        error = (judged[f"{name}_px"] / judged["sigma_px"] - 1).abs()[judged["sigma_px"] > 0.8]
        print(
            f"{name:10}given {len(given) / len(judged):.3f}, right {right.mean():.3f}; best chosen "
            f"{np.mean(best):.3f}; error median {error.median():.3f}, p90 {error.quantile(0.9):.3f}"
        )
    by_scene = judged[judged["by_scene"] & (judged["together"] != "unclear")]
    right = (by_scene["together"] == "hit") == by_scene["sharp"]
    print(f"decided by the scene: {len(by_scene)}, right {right.mean():.3f}")


def place_of(row: dict[str, Any]) -> bool:
    return row["reading"].rings is not None and row["reading"].sigma_px is not None


def best_is_best(part: pd.DataFrame, column: str) -> bool:
    if part[column].isna().all():
        return False
    chosen = int(np.nanargmin(part[column].to_numpy(float)))
    return bool(part["sigma_px"].iloc[chosen] <= 1.15 * part["sigma_px"].min())


def scene_frame(place: int, row: dict[str, Any]) -> SceneFrame:
    judged = judge(row["reading"], FACTS, "silent")
    return SceneFrame(
        scene_id=1,
        frame_id=place,
        taken_at=f"2026-04-18T06:00:00.{place}00",
        iso=row["iso"],
        f_number=5.6,
        focal_length_mm=500.0,
        camera_word="silent",
        verdict=judged.verdict,
        verdict_source=judged.source,
        verdict_on_subject=judged.on_subject,
        facts=FACTS,
        reading=row["reading"],
    )


if __name__ == "__main__":
    main()
