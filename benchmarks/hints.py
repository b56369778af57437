"""How many hints on converters are right, and how many silent converters they find, on invented trips.

    .venv/bin/python benchmarks/hints.py [--frames 800] [--seeds 8]

The trips are those of `auditor demo`, whose small converter tells no body that it is there; their pictures
are left grey, since hints read only what the cameras wrote. Counted are bursts: those suspected, those that
were taken behind the silent converter, and those that are both. All hints are then accepted, and what they
changed is counted by frames, with the hints that come up afterwards.
"""

from __future__ import annotations

import argparse
import csv
import tempfile
from pathlib import Path
from unittest import mock

import numpy as np

from auditor.analysis.hint_kinds import ConverterHint
from auditor.analysis.hints import hints
from auditor.demo import trip as demo
from auditor.derive.declaring import declare
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import Logbook, open_logbook


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--frames", type=int, default=800)
    parser.add_argument("--seeds", type=int, default=8)
    chosen = parser.parse_args()
    total = np.zeros(6, dtype=int)
    print("seed  suspected  silent  both  frames changed  rightly  hints afterwards")
    for seed in range(1, chosen.seeds + 1):
        counts = score(seed, chosen.frames)
        total += counts
        print(f"{seed:4}  " + "  ".join(f"{count:6}" for count in counts))
    suspected, silent, both, changed, right, _after = total
    print(f"bursts: precision {both / max(suspected, 1):.2f}, recall {both / max(silent, 1):.2f}")
    print(f"frames: {right} of {changed} changed rightly ({right / max(changed, 1):.2f})")


def score(seed: int, frames: int) -> np.ndarray:
    with tempfile.TemporaryDirectory(prefix="hints-") as place:
        folder = Path(place) / "trip"
        grey = np.full((demo.HEIGHT_PX, demo.WIDTH_PX), 118, dtype=np.uint8)
        with mock.patch.object(demo, "render", return_value=grey):
            demo.write(folder, frames=frames, seed=seed)
        with (folder / "truth.csv").open(encoding="utf-8", newline="") as stream:
            truth = {row["file"]: row for row in csv.DictReader(stream)}
        silent = {
            Path(name).name
            for name, row in truth.items()
            if row["converter_factor"] == "1.4" and row["body"].endswith("S2")
        }
        logbook = Path(place) / "logbook.sqlite"
        scan(logbook, [folder], Settings())
        with open_logbook(logbook) as book:
            return np.array(counted(book, silent))


def counted(book: Logbook, silent: set[str]) -> tuple[int, ...]:
    first_names = {
        row["first"]: Path(row["path"]).name
        for row in book.query(
            "SELECT f.taken_at || f.body_serial AS first, ff.path FROM frames AS f "
            "JOIN frame_facts AS ff USING (frame_id)"
        )
    }
    bursts = {
        Path(row[0]).name
        for row in book.query("SELECT path FROM frame_facts WHERE frame_id IN (SELECT burst_id FROM bursts)")
    }
    found = [hint for hint in hints(book) if isinstance(hint, ConverterHint)]
    suspected = [first_names[burst.camera_first_at + burst.body] for hint in found for burst in hint.bursts]
    both = sum(name in silent for name in suspected)
    changed: list[int] = []
    if found:
        changed = declare(book, Settings(), [hint.said for hint in found])[1].changed
    names = {row[0]: Path(row[1]).name for row in book.query("SELECT frame_id, path FROM frame_facts")}
    right = sum(names[frame_id] in silent for frame_id in changed)
    after = len(hints(book))
    return len(suspected), len(bursts & silent), both, len(changed), right, after


if __name__ == "__main__":
    main()
