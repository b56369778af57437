"""demo: the invented trip, earlier ones without pictures, and photographs of a bench target."""

from __future__ import annotations

import shlex
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from auditor.cli import common


def demo(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", parser=common.path_given, help="A new or empty folder.")
    ] = Path("sample_trip"),
    frames: Annotated[int, typer.Option("--frames", metavar="N", min=1, help="About how many frames.")] = 96,
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed", metavar="N", min=0, help="The same number writes the same trip, byte for byte."
        ),
    ] = None,
    from_: Annotated[
        datetime | None,
        typer.Option(
            "--from", formats=["%Y-%m-%d"], metavar="DATE", help="First day of the trip, such as 2026-04-18."
        ),
    ] = None,
    bench: Annotated[
        bool, typer.Option("--bench", help="Write photographs of a bench target instead of a trip.")
    ] = False,
    record: Annotated[
        int | None,
        typer.Option(
            "--record",
            min=1,
            metavar="TRIPS",
            help="Write a logbook of this many earlier trips instead, without pictures.",
        ),
    ] = None,
    quiet: common.QuietOption = False,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs", metavar="N", min=1, help="How many frames to draw at once. Default: one per core."
        ),
    ] = None,
) -> None:
    """Write the invented trip: rendered frames with ordinary metadata, and the truth about them."""
    from auditor.demo.scenario import FIRST_DAY
    from auditor.demo.trip import SEED, write
    from auditor.jobs.workers import default_jobs

    if bench:
        from auditor.demo.bench_card import write_bench

        shots = write_bench(folder)
        print(f"{folder}: {len(shots)} photographs of a bench target")
        common.say(f"Next: auditor bench {shlex.quote(str(folder))}/*", quiet)
        return
    if record is not None:
        from auditor.demo.record import write_record

        earlier = write_record(folder, record, seed=SEED if seed is None else seed)
        print(f"{earlier.logbook}: {record} invented trips, {earlier.frames:,} frames without pictures")
        common.say(f"Next: auditor kits --all-trips --logbook {shlex.quote(str(earlier.logbook))}", quiet)
        return
    written = write(
        folder,
        frames=frames,
        seed=SEED if seed is None else seed,
        first_day=from_.date() if from_ else FIRST_DAY,
        jobs=jobs or default_jobs(),
    )
    print(f"{written.folder}: {written.frames:,} frames of an invented trip")
    common.say(f"Next: auditor audit {shlex.quote(str(written.folder))}", quiet)


COMMANDS = (demo,)
