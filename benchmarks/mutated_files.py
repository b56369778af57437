"""Damaged files of every container: each may raise only AuditorError, within 1 s and 64 MiB.

    python benchmarks/mutated_files.py --cases 20000

Damages files that it writes itself, and real ones where ../shared/real_frames is there or --folder names
a place. Prints machine, versions, and the worst time and memory; exits 1 where a promise was broken.
"""

from __future__ import annotations

import argparse
import gc
import platform
import random
import sys
import tempfile
import time
import tracemalloc
from collections import Counter
from importlib.metadata import version
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from auditor.errors import UnreadableFileError
from auditor.readers.containers import largest_embedded
from auditor.readers.frame import UNFORESEEN, found_file, read_file
from auditor.readers.source import open_source
from tests.readers.mutation import bottomless_directories, mutated
from tests.readers.written_frames import EVERY_CONTAINER, jpeg

LIMIT_S = 1.0
LIMIT_MIB = 64.0
REAL_FRAMES = Path(__file__).resolve().parents[2] / "shared" / "real_frames"


def read(path: Path) -> str:
    """How reading ended, in one word. Anything but an AuditorError is let through, and so is what
    only the last net caught."""
    try:
        found = found_file(path)
        with open_source(path) as source:
            largest_embedded(source)
        read_file(found)
    except UnreadableFileError as error:
        if error.reason.startswith(UNFORESEEN):
            raise error.__cause__ or error from None
        return type(error).__name__
    return "read"


def originals(folder: Path) -> dict[str, bytes]:
    files = {name: write() for name, write in EVERY_CONTAINER.items()}
    files["bottomless.jpg"] = jpeg(bottomless_directories()[:65_000])
    files["bottomless.nef"] = bottomless_directories(">", entries=60_000)
    if folder.is_dir():
        files |= {
            path.name: path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file() and path.suffix not in (".md", ".toml", ".json")
        }
    return files


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    arguments.add_argument("--cases", type=int, default=20_000)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--folder", type=Path, default=REAL_FRAMES)
    options = arguments.parse_args()
    print(f"{platform.platform()}, Python {platform.python_version()}, exifread {version('exifread')}")
    files = originals(options.folder)
    names = sorted(files)
    outcomes: Counter[str] = Counter()
    broken: list[str] = []
    slowest, largest = (0.0, ""), (0.0, "")
    with tempfile.TemporaryDirectory() as folder:
        for case in range(options.cases):
            name = names[case % len(names)]
            chance = random.Random(f"{options.seed}/{case}")
            data = files[name] if case < len(names) else mutated(files[name], chance)
            path = Path(folder) / f"case{Path(name).suffix}"
            path.write_bytes(data)
            label = f"{name}, case {case}"
            try:
                started = time.perf_counter()
                outcomes[read(path)] += 1
                seconds = time.perf_counter() - started
                mib = _peak_mib(path)
            except Exception as error:  # noqa: BLE001 - that is what is being looked for
                broken.append(f"{label}: {type(error).__name__}: {error}")
                continue
            slowest, largest = max(slowest, (seconds, label)), max(largest, (mib, label))
            if seconds > LIMIT_S or mib > LIMIT_MIB:
                broken.append(f"{label}: {seconds:.2f} s, {mib:.1f} MiB")
    print(f"{options.cases} cases of {len(names)} files, seed {options.seed}: {dict(outcomes)}")
    print(f"slowest {slowest[0]:.3f} s ({slowest[1]}); most memory {largest[0]:.1f} MiB ({largest[1]})")
    for line in broken[:20]:
        print(f"BROKEN {line}")
    return 1 if broken else 0


def _peak_mib(path: Path) -> float:
    """Memory that reading takes at its peak, as Python's allocator counts it; in a run of its own."""
    gc.collect(0)
    tracemalloc.start()
    try:
        read(path)
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


if __name__ == "__main__":
    sys.exit(main())
