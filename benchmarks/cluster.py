"""Measuring by workers of a Dask scheduler on this machine, beside the processes that are used by default.

python benchmarks/cluster.py [--copies 4]

What a cluster costs where it cannot bring anything: the same cores, with results sent over loopback.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sys
import tempfile
import time
from pathlib import Path

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.jobs.measure import measure  # noqa: E402
from auditor.jobs.scan import scan  # noqa: E402
from auditor.settings import Settings  # noqa: E402
from auditor.store.logbook import open_logbook  # noqa: E402
from tests.jobs.test_cluster import Cluster  # noqa: E402

WORKERS = 2


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--copies", type=int, default=4, help="of the sample's frames")
    copies = arguments.parse_args().copies
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for copy in range(copies):
            shutil.copytree(PROJECT / "sample_images" / "DCIM", folder / "card" / str(copy))
        cluster = Cluster(folder)
        try:
            cluster.add_workers(WORKERS)
            cluster.wait_for_workers(WORKERS)
            for _round in range(2):  # the first one warms the workers up
                alone = _seconds(folder, "processes", None)
                together = _seconds(folder, "workers", cluster.address)
        finally:
            cluster.close()
    for what in ("scan", "measure"):
        print(f"{what}: processes {alone[what]:.1f} s, workers of a scheduler {together[what]:.1f} s, "
              f"{together[what] / alone[what]:.2f} times")  # fmt: skip


def _seconds(folder: Path, name: str, address: str | None) -> dict[str, float]:
    logbook = folder / name / "logbook.sqlite"
    shutil.rmtree(logbook.parent, ignore_errors=True)
    began = time.perf_counter()
    scan(logbook, [folder / "card"], Settings(), jobs=WORKERS, cluster=address)
    scanned = time.perf_counter()
    with open_logbook(logbook) as book:
        measure(book, jobs=WORKERS, cluster=address)
    return {"scan": scanned - began, "measure": time.perf_counter() - scanned}


if __name__ == "__main__":
    main()
