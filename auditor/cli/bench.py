"""bench: what kits resolve, from photographs of a slanted edge; and the target to print."""

from __future__ import annotations

from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common

if TYPE_CHECKING:
    from auditor.focus.luminance import Region
    from auditor.jobs.crew import Loss
    from auditor.planning.bench_shots import NoShot, Shot


def bench(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FILE",
            parser=common.path_given,
            help="Photographs of the target, of two kits or more.",
        ),
    ] = None,
    region: Annotated[
        str | None,
        typer.Option("--region", metavar="PX", help="Where the edge is, in px: left,top,width,height."),
    ] = None,
    target: Annotated[
        Path | None, typer.Option("--target", metavar="FILE", help="Write the target to print (SVG or PDF).")
    ] = None,
    distance_m: Annotated[
        float, typer.Option("--distance", metavar="METRES", help="With --target: how far away it will stand.")
    ] = 15.0,
    keep: Annotated[
        bool, typer.Option("--keep", help="Keep the results in the logbook, for auditor plan to use.")
    ] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """What each kit resolves, from photographs of a slanted edge."""
    if target is not None:
        _write_target(target, distance_m)
        return
    if not files:
        raise typer.BadParameter(
            "name photographs of the target, or --target to print one", param_hint="FILE"
        )
    from auditor.jobs import workers
    from auditor.planning.bench import summed_up
    from auditor.report.text.bench import bench_text

    place, order = _region(region), {str(path): number for number, path in enumerate(files)}
    batches = workers.run(
        partial(_shots, region=place),
        files,
        jobs=workers.default_jobs(),
        chunk=1,
        one_by_one=True,
        lost=_lost,
    )
    shots = [shot for batch in batches for shot in batch]
    answer = summed_up(sorted(shots, key=lambda shot: order[shot.path]))
    if keep and answer.kits:
        from auditor.planning.bench import results
        from auditor.store import bench as kept

        with common.reading(logbook) as book, book.writing():
            kept.keep(book, results(answer))
    if as_json:
        common.print_json(asdict(answer))
    else:
        print(bench_text(answer, common.width()))
    if answer.failures:
        raise typer.Exit(3 if answer.kits else 1)


def _shots(files: list[Path], *, region: Region | None) -> list[Shot | NoShot]:
    from auditor.planning.bench_shots import measured_shot

    return [measured_shot(path, region) for path in files]


def _lost(path: Path, loss: Loss) -> Shot | NoShot:
    from auditor.jobs.failures import why_lost
    from auditor.planning.bench_shots import NoShot

    return NoShot(str(path), why_lost(loss))


def _region(text: str | None) -> tuple[int, int, int, int] | None:
    if text is None:
        return None
    try:
        left, top, width, height = (int(part) for part in text.split(","))
    except ValueError:
        raise typer.BadParameter(
            f"it is written as left,top,width,height in px, not {text!r}", param_hint="--region"
        ) from None
    if left < 0 or top < 0 or width < 20 or height < 20:
        raise typer.BadParameter(
            f"it must be 20 px or more to a side, inside the picture, not {text!r}", param_hint="--region"
        )
    return top, top + height, left, left + width


def _write_target(path: Path, distance_m: float) -> None:
    from auditor.report.bench_target import write_target

    try:
        write_target(path, distance_m)
    except ValueError as error:
        reason = f"it {str(error).partition(' ')[2]}"
        raise typer.BadParameter(reason, param_hint="--distance") from error
    print(path)


COMMANDS = (bench,)
