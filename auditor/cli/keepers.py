"""keepers: filter, then list or copy."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor.cli import common

if TYPE_CHECKING:
    from auditor.keepers.conditions import Passed
    from auditor.keepers.copying import Move

SHOWN = 10


def _option(name: str, what: str) -> Any:
    return typer.Option(name, help=what)


def keepers(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    verdict: Annotated[
        list[str] | None, _option("--verdict", "hit (default) or miss; may be repeated.")
    ] = None,
    unclear: Annotated[bool, _option("--unclear", "Take unclear frames as well.")] = False,
    word: Annotated[list[str] | None, _option("--word", "The camera's word; may be repeated.")] = None,
    blur_px: Annotated[float | None, _option("--blur-px", "At most this blur (sigma), px.")] = None,
    blur_um: Annotated[float | None, _option("--blur-um", "The same on the sensor, um.")] = None,
    blur_urad: Annotated[float | None, _option("--blur-urad", "The same as an angle, microradians.")] = None,
    iso: Annotated[float | None, _option("--iso", "At most this ISO.")] = None,
    push: Annotated[float | None, _option("--push", "At most so many forced stops.")] = None,
    kit: Annotated[str | None, _option("--kit", "Only kits whose name has this in it.")] = None,
    converter: Annotated[float | None, _option("--converter", "Only this factor; 1 is bare.")] = None,
    scene: Annotated[int | None, _option("--scene", "Only this scene.")] = None,
    from_at: Annotated[str | None, _option("--from", "Not before this day or time.")] = None,
    to_at: Annotated[str | None, _option("--to", "Not after this day or time.")] = None,
    keyword: Annotated[str | None, _option("--keyword", "Only with this keyword.")] = None,
    rating: Annotated[int | None, _option("--rating", "Your rating, at least.")] = None,
    flag: Annotated[list[str] | None, _option("--flag", "Only with this flag; may be repeated.")] = None,
    without_flag: Annotated[list[str] | None, _option("--without-flag", "Not with this flag.")] = None,
    best: Annotated[int | None, _option("--best", "At most N of each burst, the sharpest first.")] = None,
    per: Annotated[str, _option("--per", "What --best counts in: burst or scene.")] = "burst",
    copy_to: Annotated[Path | None, _option("--copy-to", "Copy the keepers' files into this folder.")] = None,
    dry_run: Annotated[bool, _option("--dry-run", "Only say what would be copied.")] = False,
    nul: Annotated[bool, _option("--nul", "Paths only, a NUL after each.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV instead of text.")] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Frames worth keeping: listed, or copied with their raws and sidecars. Unclear ones are kept apart."""
    from auditor.keepers.conditions import Conditions, Passed, passing
    from auditor.keepers.conditions import best as best_of

    verdicts = tuple(verdict or ("hit",))
    _check_words(verdicts, ("hit", "miss"), "--verdict")
    _check_words(tuple(word or ()), ("confirmed", "not_confirmed", "manual", "silent"), "--word")
    _check_words((per,), ("burst", "scene"), "--per")
    if best is not None and best < 1:
        raise typer.BadParameter("it must be 1 or more", param_hint="--best")
    conditions = Conditions(
        verdicts=verdicts, unclear_in=unclear, camera_words=tuple(word or ()), most_blur_px=blur_px,
        most_blur_um=blur_um, most_blur_urad=blur_urad, most_iso=iso, most_push_ev=push, kit=kit,
        converter_factor=converter, scene_id=scene, from_at=from_at, to_at=to_at, keyword=keyword,
        least_rating=rating, flags=tuple(flag or ()), without_flags=tuple(without_flag or ()),
    )  # fmt: skip
    with common.reading(logbook) as book:
        from auditor.store.tables import files_of, frame_rows

        chosen = common.chosen_trip(book, trip, all_trips)
        passed = passing(frame_rows(book, common.trip_id(chosen)), conditions)
        if best is not None:
            kept = best_of(passed.kept, best, "scene" if per == "scene" else "burst")
            passed = Passed(passed.frames, kept, passed.unclear, passed.taken_away)
        if copy_to is not None:
            from auditor.keepers import copying
            from auditor.store import scans

            frames = files_of(book, [row["frame_id"] for row in passed.kept])
            moves = copying.plan(frames, copy_to, scanned=scans.folders(book))
        else:
            moves = None
    common.say(_summary(passed, best, per), quiet)
    if moves is not None:
        _copy(moves, dry_run, as_json)
    elif as_json:
        common.print_json(
            {"keepers": passed.kept, "unclear": passed.unclear, "taken_away": passed.taken_away}
        )
    elif as_csv:
        import pandas as pd

        from auditor.report.tables import csv_text

        sys.stdout.write(csv_text(pd.DataFrame(passed.kept)))
    else:
        end = "\0" if nul else "\n"
        sys.stdout.write("".join(f"{row['path']}{end}" for row in passed.kept))


def _summary(passed: Passed, best: int | None, per: str) -> str:
    lines = [f"{len(passed.kept)} of {passed.frames} frames are keepers."]
    lines += [f"  {name}: takes away {count}" for name, count in sorted(passed.taken_away.items())]
    if passed.unclear:
        lines.append(f"  unclear and kept apart: {len(passed.unclear)} (--unclear takes them in)")
    if best is not None:
        lines.append(f"  at most {best} of each {per}, the sharpest: sharpness is not pose")
    return "\n".join(lines)


def _copy(moves: list[Move], dry_run: bool, as_json: bool) -> None:
    from auditor.keepers import copying

    if dry_run:
        rows = [
            {"from": str(move.source), "to": str(move.target), "there_already": move.there_already}
            for move in moves
        ]
        if as_json:
            common.print_json(rows)
        for row in rows if not as_json else ():
            note = " (there already)" if row["there_already"] else ""
            print(common.printable(f"{row['from']} -> {row['to']}") + note)
        return
    done = copying.copy(moves)
    if as_json:
        common.print_json(
            {
                "copied": [str(path) for path in done.copied],
                "there_already": [str(path) for path in done.there_already],
                "failed": [{"path": str(path), "reason": reason} for path, reason in done.failed],
            }
        )
    else:
        print(f"{len(done.copied)} files copied and verified, {len(done.there_already)} there already")
        for path, reason in done.failed[:SHOWN]:
            print(f"  {common.printable(path.name)}: {common.printable(reason)}")
    if done.failed:
        raise typer.Exit(3)


def _check_words(given: tuple[str, ...], allowed: tuple[str, ...], option: str) -> None:
    for one in given:
        if one not in allowed:
            raise typer.BadParameter(f"it must be one of {', '.join(allowed)}", param_hint=option)


COMMANDS = (keepers,)
