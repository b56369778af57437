"""Faults put in, and what they cost; writes docs/reliability.md.

    python benchmarks/reliability.py                      # everything: hours
    python benchmarks/reliability.py kills --kills 200    # one part; the others stay as they were

Everything is counted on runs of the program itself. What a part came to is kept in build/reliability/, with
its day and the load of the machine; parts that are not there stay as the page has them.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
import signal
import sys
import tempfile
from collections.abc import Callable
from datetime import date
from importlib.metadata import version
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks import reliability_parts as parts

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "reliability.md"
TEMPLATE = Path(__file__).with_name("reliability_page.md")
KEPT = ROOT / "build" / "reliability"
PARTS: dict[str, tuple[Callable[[int, Path], list[str]], int]] = {
    "kills": (parts.kills, 200),
    "logbooks": (parts.logbooks, 60),
    "decoders": (parts.decoders, 2),
    "stops": (parts.stops, 5),
    "pictures": (parts.pictures, 2000),
    "bombs": (parts.bombs, 1),
    "fuzzing": (parts.fuzzing, 300),
    "speed": (parts.speed, 60),  # with fewer, what is timed is how long processes take to start
}
"""What is done and how often: runs, logbooks, processes at most, runs, pictures, once, seconds, copies."""


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("names", nargs="*", metavar="PART", help=", ".join(PARTS))
    for name, (_part, usual) in PARTS.items():
        parser.add_argument(f"--{name}", type=int, default=usual)
    given = parser.parse_args()
    if not parts.FRAMES:
        sys.exit("sample_images/ is missing: make sample")
    # A shell that starts this in the background has it ignored, and what it starts would ignore it too.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    KEPT.mkdir(parents=True, exist_ok=True)
    for name in given.names or PARTS:
        with tempfile.TemporaryDirectory() as folder:
            lines = PARTS[name][0](getattr(given, name), Path(folder))
        keep(name, lines, f"--{name} {getattr(given, name)}")
    print(write_page())


def keep(name: str, lines: list[str], options: str) -> None:
    """Keep what a part came to."""
    when = f"{date.today().isoformat()}, load {os.getloadavg()[1]:.0f}"
    document = {"lines": lines, "made": f"`{name} {options}`, {when}"}
    (KEPT / f"{name}.json").write_text(json.dumps(document, indent=1), encoding="utf-8")


def standing() -> dict[str, dict[str, Any]]:
    """What the page says of each part now: nothing where it was written from another template."""
    places = re.split(r"\{(\w+)\}", TEMPLATE.read_text(encoding="utf-8"))
    pattern = "".join(
        f"(?P<{text}{place}>.*?)" if place % 2 else re.escape(text) for place, text in enumerate(places)
    )
    found = re.fullmatch(pattern, PAGE.read_text(encoding="utf-8"), re.DOTALL) if PAGE.exists() else None
    if found is None:
        return {}
    texts = {name.rstrip("0123456789"): text for name, text in found.groupdict().items()}
    made = [line.removeprefix("- ") for line in texts["made"].splitlines()]
    return {
        name: {"lines": texts[name].splitlines(), "made": said}
        for name, said in zip(PARTS, made, strict=True)
    }


def write_page() -> Path:
    """The page, from all parts that are there; the others as they stand in it."""
    lines, made = {}, []
    before = standing()
    for name in PARTS:
        try:
            document = json.loads((KEPT / f"{name}.json").read_text(encoding="utf-8"))
        except FileNotFoundError:
            document = before.get(name, {"lines": ["| not measured |"], "made": f"`{name}`: not done"})
        lines[name] = "\n".join(document["lines"])
        made.append(document["made"])
    limits = f"{parts.LIMITS.file_longest_s:g} s and {parts.LIMITS.file_memory_gib:g} GiB"
    libraries = ", ".join(f"{name} {version(name)}" for name in ("simplejpeg", "pillow", "pillow-heif"))
    machine = f"{platform.system()}, Python {platform.python_version()}, {os.cpu_count()} cores"
    text = TEMPLATE.read_text(encoding="utf-8").format(
        **lines,
        limits=limits,
        libraries=libraries,
        machine=machine,
        made="\n".join(f"- {part}" for part in made),
    )
    PAGE.write_text(text, encoding="utf-8")
    return PAGE


if __name__ == "__main__":
    main()
