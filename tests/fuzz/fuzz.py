"""Coverage-guided fuzzing of everything that reads bytes of a card; needs the extra `fuzz` (Linux).

    python tests/fuzz/fuzz.py --seconds 60              # each target so long
    python tests/fuzz/fuzz.py containers --seconds 600 --keep

Each target (targets.py) runs in a process of its own, from the files that the tests write and from what was
kept of earlier runs (found/). Anything but AuditorError is told with the bytes that bring it about and ends
the run with 1; so does a crash, a call of more than SLOWEST_S, and more memory than MOST_MIB. With --keep
the smallest inputs that together run every line that was run go into found/, for tests/fuzz/test_found.py.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
import traceback
import zipfile
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from hashlib import sha256
from pathlib import Path
from types import FrameType
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

FOUND = Path(__file__).with_name("found")
SLOWEST_S = 10
MOST_MIB = 1500
LONGEST_BYTES = {"containers": 16_384, "notes": 8192, "packets": 4096, "pictures": 6000}
NAMES = tuple(LONGEST_BYTES)
FEW_CALLS = 300
"""Reads that a file may ask exifread for here: files that ask for the most are easily found, and slow."""
MODULES = ("auditor.readers", "auditor.keepers.sidecar_text")


def inside(name: str, corpus: Path, told: Path, arguments: list[str]) -> None:
    """Fuzz one target in this process; does not come back."""
    import atheris

    with atheris.instrument_imports(include=list(MODULES), enable_loader_override=False):
        from auditor.readers import exif_tags
        from tests.fuzz.targets import TARGETS

        exif_tags.READ_LIMIT_CALLS = FEW_CALLS
        run = TARGETS[name].run
        for seed in TARGETS[name].seeds():
            run(seed)  # what is imported late is instrumented, too
    slowest_s = 0.0
    met: dict[str, dict[str, str]] = {}

    def once(data: bytes) -> None:
        nonlocal slowest_s
        began = time.perf_counter()
        try:
            run(data)
        except Exception as error:  # noqa: BLE001  # that is what is looked for
            place = traceback.extract_tb(error.__traceback__)[-1]
            where = f"{type(error).__name__} at {Path(place.filename).name}:{place.lineno}"
            if where not in met:
                met[where] = {"error": str(error)[:300], "bytes": data.hex()}
                told.write_text(json.dumps({"slowest_s": slowest_s, "met": met}))
        took_s = time.perf_counter() - began
        if took_s > slowest_s:
            slowest_s = took_s
            told.write_text(json.dumps({"slowest_s": slowest_s, "slowest": data.hex(), "met": met}))

    atheris.Setup([sys.argv[0], *arguments, str(corpus)], once)
    atheris.Fuzz()


@dataclass(slots=True, kw_only=True)
class Result:
    """What a run of one target came to."""

    runs: int
    reached: int
    kept: int
    peak_mib: int
    slowest_s: float
    met: dict[str, dict[str, str]]
    """Exceptions that are not AuditorError, by what and where, with the bytes that bring them about."""
    crashes: list[Path] = field(default_factory=list)
    """Files over which the process died, hung or grew."""
    said: str = ""


def fuzzed(name: str, seconds: int, corpus: Path, place: Path) -> Result:
    """Fuzz one target for so many seconds, in a process of its own."""
    results_file = place / f"{name}.json"
    arguments = [
        f"-max_total_time={seconds}", f"-timeout={SLOWEST_S}", f"-rss_limit_mb={MOST_MIB}",
        f"-max_len={LONGEST_BYTES[name]}", f"-artifact_prefix={place / name}-", "-print_final_stats=1",
    ]  # fmt: skip
    command = [sys.executable, __file__, "--inside", name, str(corpus), str(results_file), *arguments]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    results: dict[str, Any] = {"slowest_s": 0.0, "met": {}}
    if results_file.exists():
        results = json.loads(results_file.read_text())

    def last(pattern: str) -> int:
        return int((re.findall(pattern, done.stderr) or ["0"])[-1])

    return Result(
        runs=last(r"executed_units:\s+(\d+)"),
        reached=last(r"cov: (\d+)"),
        kept=len(list(corpus.iterdir())),
        peak_mib=last(r"peak_rss_mb:\s+(\d+)"),
        slowest_s=results["slowest_s"],
        met=results["met"],
        crashes=sorted(place.glob(f"{name}-*")),
        said=done.stderr[-1500:] if done.returncode else "",
    )


def corpus_of(name: str, place: Path) -> Path:
    """The files that a target begins from."""
    from tests.fuzz.targets import TARGETS

    folder = place / name
    folder.mkdir()
    for data in [*TARGETS[name].seeds(), *found(name)]:
        (folder / sha256(data).hexdigest()[:16]).write_bytes(data)
    return folder


@cache
def found(name: str) -> tuple[bytes, ...]:
    """What was kept of earlier runs."""
    try:
        with zipfile.ZipFile(FOUND / f"{name}.zip") as packed:
            return tuple(packed.read(member) for member in packed.namelist())
    except FileNotFoundError:
        return ()


def keep(name: str, corpus: Path) -> int:
    """Pack the smallest inputs that together run every line that was run; how many there are."""
    from tests.fuzz.targets import TARGETS

    run, before, kept = TARGETS[name].run, set[tuple[str, int]](), []
    for path in sorted(corpus.iterdir(), key=lambda path: (path.stat().st_size, path.name)):
        data = path.read_bytes()
        lines = lines_run(run, data)
        if not lines <= before:
            before |= lines
            kept.append(data)
    FOUND.mkdir(exist_ok=True)
    with zipfile.ZipFile(FOUND / f"{name}.zip", "w") as packed:
        for count, data in enumerate(kept):
            member = zipfile.ZipInfo(f"{count:04d}")  # without a date: the same inputs give the same file
            member.compress_type = zipfile.ZIP_DEFLATED
            packed.writestr(member, data)
    return len(kept)


def lines_run(run: Any, data: bytes) -> set[tuple[str, int]]:
    """(file, line) of the readers' own code that an input runs."""
    lines: set[tuple[str, int]] = set()

    def trace(frame: FrameType, event: str, _argument: object) -> Any:
        if not frame.f_globals.get("__name__", "").startswith(MODULES):
            return None
        if event == "line":
            lines.add((frame.f_code.co_filename, frame.f_lineno))
        return trace

    sys.settrace(trace)
    try:
        with suppress(Exception):  # told by the run that met it; the tests fail over what is kept of it
            run(data)
    finally:
        sys.settrace(None)
    return lines


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("names", nargs="*", metavar="TARGET", help=", ".join(NAMES))
    parser.add_argument("--seconds", type=int, default=60, help="for each target")
    parser.add_argument("--keep", action="store_true", help="keep the inputs that reach most")
    given = parser.parse_args()
    failed = False
    with tempfile.TemporaryDirectory() as folder:
        for name in given.names or NAMES:
            corpus = corpus_of(name, Path(folder))
            result = fuzzed(name, given.seconds, corpus, Path(folder))
            print(
                f"{name}: {result.runs:,} inputs in {given.seconds} s, {result.reached:,} places reached, "
                f"{result.kept} inputs kept; slowest {result.slowest_s:.2f} s, most memory "
                f"{result.peak_mib} MiB; {len(result.met)} exceptions that are not AuditorError",
                flush=True,
            )
            failed = failed or bool(result.met) or bool(result.said)
            for where, what in result.met.items():
                print(f"  {where}: {what}")
            if result.said:
                print(result.said)
            for crash in result.crashes:
                shutil.copy2(crash, crash.name)
                print(f"  left here: {crash.name}")
            if given.keep:
                print(f"  {keep(name, corpus)} inputs in {FOUND / name}.zip")
    return 1 if failed else 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--inside"]:
        inside(sys.argv[2], Path(sys.argv[3]), Path(sys.argv[4]), sys.argv[5:])
    sys.exit(main())
