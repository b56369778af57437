"""CPU time of commands that only look or declare, each in a process of its own, on 1,000 invented frames.

    .venv/bin/python benchmarks/small_commands.py [--frames 1000] [--seed 1] [--times 5]

The frames are those of `auditor demo`; their pictures are left grey, since these commands decode none. Told
are CPU seconds, the least of several runs, and how many times that is of `python -c "import pandas"` on the
same machine: ratios can be compared between machines. Modules are compiled once and kept, as where the
auditor is installed, even if PYTHONDONTWRITEBYTECODE is set here.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from unittest import mock

import numpy as np

from auditor.demo import trip as demo
from auditor.jobs.scan import scan
from auditor.settings import Settings

PROGRAM = [sys.executable, "-c", "from auditor.cli.main import main; main()"]
DECLARED = ["--body", "Saltmark F2", "--factor", "1.4", "--from", "2026-04-18", "--to", "2026-04-19"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--frames", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--times", type=int, default=5)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="small-") as place:
        book = Path(place) / "logbook.sqlite"
        write_logbook(book, chosen.frames, chosen.seed)
        unit = least([sys.executable, "-c", "import pandas"], None, chosen.times)
        print(f"import pandas           {unit:5.2f} s")
        for command in (["trips"], ["frames"], ["kits"], ["flags"], ["declare", "converter", *DECLARED]):
            seconds = least([*PROGRAM, *command], book, chosen.times)
            print(f"auditor {' '.join(command[:2]):15} {seconds:5.2f} s  {seconds / unit:4.1f} times")


def write_logbook(book: Path, frames: int, seed: int) -> None:
    folder = book.with_name("trip")
    grey = np.full((demo.HEIGHT_PX, demo.WIDTH_PX), 118, dtype=np.uint8)
    with mock.patch.object(demo, "render", return_value=grey):
        demo.write(folder, frames=frames, seed=seed)
    scan(book, [folder], Settings())


def least(command: list[str], book: Path | None, times: int) -> float:
    """CPU seconds of a process and its children, each time on a fresh copy of the logbook."""
    found = []
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    for _ in range(times):
        more: list[str] = []
        if book is not None:
            copy = book.with_name("copy.sqlite")
            shutil.copyfile(book, copy)
            more = ["--logbook", str(copy)]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*command, *more], check=True, stdout=subprocess.DEVNULL, env=kept)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


if __name__ == "__main__":
    main()
