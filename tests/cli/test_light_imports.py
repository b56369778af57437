"""Commands that only look answer in a moment: what takes long to load stays out of them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

HEAVY = {
    "pandas",
    "cv2",
    "onnxruntime",
    "altair",
    "sqlite_utils",
    "scipy.optimize",
    "scipy.stats",
    "scipy.sparse",
}
RUN = (
    "import sys\n"
    "from auditor.cli.main import main\n"
    "try:\n"
    "    main()\n"
    "finally:\n"
    "    print(' '.join(sorted(sys.modules)), file=sys.stderr)\n"
)


@pytest.mark.parametrize(
    "words",
    [
        ["kits"], ["kits", "--json"], ["kits", "--by", "light"], ["flags"], ["flags", "--json"], ["frames"],
        ["frames", "--json"], ["trips"],
        ["plan", "--animal", "heron", "--distance", "40", "--light", "overcast"],
    ],
    ids=lambda words: " ".join(words[:3]),
)  # fmt: skip
def test_looking_loads_no_heavy_library(
    words: list[str], measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    logbook = measured_sample(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", RUN, *words, "--logbook", str(logbook)],
        capture_output=True, text=True, encoding="utf-8", check=True,
    )  # fmt: skip
    loaded = set(done.stderr.splitlines()[-1].split())
    assert "auditor.cli.main" in loaded
    assert loaded & HEAVY == set()


def test_a_worker_that_reads_loads_no_more_than_reading_takes() -> None:
    """Each worker of a scan loads it: what the process that writes needs took as long again."""
    code = "import sys, auditor.jobs.reading; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    assert "auditor.readers.frame" in loaded
    assert loaded & {"numpy", "psutil", "auditor.jobs.crew", "auditor.store.files"} == set()
