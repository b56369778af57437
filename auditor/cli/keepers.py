"""keepers: filter, then list or hand over; receipts, and taking back."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor.cli import common, handover

if TYPE_CHECKING:
    from auditor.keepers.conditions import Conditions, Passed
    from auditor.store.logbook import Logbook


def _option(name: str, what: str, **more: Any) -> Any:
    return typer.Option(name, help=what, **more)


def keepers(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    verdict: Annotated[
        list[str] | None, _option("--verdict", metavar="WORD", what="hit (default) or miss; may be repeated.")
    ] = None,
    unclear: Annotated[bool, _option("--unclear", "Take unclear frames as well.")] = False,
    word: Annotated[
        list[str] | None,
        _option(
            "--word",
            metavar="WORD",
            what="The camera's word: confirmed, not_confirmed, manual, silent; may be repeated.",
        ),
    ] = None,
    blur_px: Annotated[
        float | None, _option("--blur-px", metavar="PX", what="At most this blur (sigma), px.")
    ] = None,
    blur_um: Annotated[
        float | None, _option("--blur-um", metavar="UM", what="The same on the sensor, um.")
    ] = None,
    blur_urad: Annotated[
        float | None, _option("--blur-urad", metavar="URAD", what="The same as an angle, microradians.")
    ] = None,
    iso: Annotated[float | None, _option("--iso", metavar="ISO", what="At most this ISO.")] = None,
    push: Annotated[
        float | None, _option("--push", metavar="STOPS", what="At most so many forced stops.")
    ] = None,
    kit: Annotated[
        str | None, _option("--kit", metavar="NAME", what="Only kits whose name has this in it.")
    ] = None,
    converter: Annotated[
        float | None, _option("--converter", metavar="FACTOR", what="Only this factor; 1 is bare.")
    ] = None,
    scene: Annotated[int | None, _option("--scene", metavar="NUMBER", what="Only this scene.")] = None,
    from_at: Annotated[
        str | None,
        _option("--from", metavar="TIME", what="Not before this day or time: 2026-04-18, 2026-04-18T09:30."),
    ] = None,
    to_at: Annotated[
        str | None, _option("--to", metavar="TIME", what="Not after this day or time, itself included.")
    ] = None,
    keyword: Annotated[
        str | None, _option("--keyword", metavar="WORD", what="Only with this keyword.")
    ] = None,
    rating: Annotated[
        int | None, _option("--rating", metavar="NUMBER", what="Your rating, at least.")
    ] = None,
    flag: Annotated[
        list[str] | None, _option("--flag", metavar="FLAG", what="Only with this flag; may be repeated.")
    ] = None,
    without_flag: Annotated[
        list[str] | None,
        _option("--without-flag", metavar="FLAG", what="Not with this flag; may be repeated."),
    ] = None,
    best: Annotated[
        int | None, _option("--best", "At most N of each burst, the sharpest first.", metavar="N")
    ] = None,
    per: Annotated[
        str, _option("--per", metavar="GROUP", what="What --best counts in: burst or scene.")
    ] = "burst",
    copy_to: Annotated[
        Path | None,
        _option("--copy-to", metavar="FOLDER", what="Copy the keepers into this folder, each copy verified."),
    ] = None,
    hard_link_to: Annotated[
        Path | None,
        _option(
            "--hard-link-to", metavar="FOLDER", what="Hard links there: no room taken, on one disk only."
        ),
    ] = None,
    symbolic_link_to: Annotated[
        Path | None,
        _option(
            "--symbolic-link-to", metavar="FOLDER", what="Symbolic links there: they need the originals."
        ),
    ] = None,
    strip: Annotated[
        Path | None,
        _option("--strip", metavar="FILE", what="Write a contact strip: one HTML page with the focus areas."),
    ] = None,
    sidecars_to: Annotated[
        Path | None,
        _option(
            "--sidecars-to", metavar="FOLDER", what="Write XMP sidecars there, with the frames' own paths."
        ),
    ] = None,
    beside_originals: Annotated[
        bool, _option("--beside-originals", "Write the sidecars beside the frames instead.")
    ] = False,
    write_rating: Annotated[
        int | None,
        _option(
            "--write-rating",
            metavar="NUMBER",
            what="For sidecars: the rating (-1 is rejected).",
            min=-1,
            max=5,
        ),
    ] = None,
    write_keyword: Annotated[
        list[str] | None,
        _option("--write-keyword", metavar="WORD", what="For sidecars: a keyword; may be repeated."),
    ] = None,
    write_flag_keyword: Annotated[
        list[str] | None,
        _option(
            "--write-flag-keyword",
            "For sidecars: a keyword for a flag, as in smeared=moved; may be repeated.",
            metavar="FLAG=WORD",
        ),
    ] = None,
    replace_ratings: Annotated[
        bool, _option("--replace-ratings", "For sidecars: also where you have rated already.")
    ] = False,
    dry_run: Annotated[bool, _option("--dry-run", "Only say what would be done.")] = False,
    receipts: Annotated[bool, _option("--receipts", "List what was handed over so far.")] = False,
    undo: Annotated[
        int | None, _option("--undo", "Take back what this receipt made.", metavar="RECEIPT")
    ] = None,
    nul: Annotated[bool, _option("--nul", "Paths only, a NUL after each.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV instead of text.")] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Frames worth keeping: listed, or handed over with their raws and sidecars.

    Every condition must hold; a frame of which the fact is not known does not pass. Unclear frames are
    kept apart and counted. Whatever is made has a receipt, and --undo takes it back.
    """
    from auditor.keepers.conditions import Conditions

    targets = {
        "copy": copy_to, "hard_link": hard_link_to, "symbolic_link": symbolic_link_to, "sidecar": sidecars_to,
        "beside": beside_originals or None, "strip": strip, "undo": undo, "receipts": receipts or None,
    }  # fmt: skip
    wanted = [name for name, target in targets.items() if target is not None]
    if len(wanted) > 1:
        raise typer.BadParameter(
            "only one at a time of --copy-to, --hard-link-to, --symbolic-link-to, --sidecars-to, "
            "--beside-originals, --strip, --receipts and --undo"
        )
    if receipts or undo is not None:
        if dry_run:
            raise typer.BadParameter("not with --receipts or --undo", param_hint="--dry-run")
        handover.receipts(logbook, undo, as_json)
        return
    _check(verdict, ("hit", "miss"), "--verdict")
    _check(word, ("confirmed", "not_confirmed", "manual", "silent"), "--word")
    _check([per], ("burst", "scene"), "--per")
    flag_words = handover.flag_keywords(write_flag_keyword or ())
    _check_flags([*(flag or ()), *(without_flag or ()), *flag_words])
    if best is not None and best < 1:
        raise typer.BadParameter("it must be 1 or more", param_hint="--best")
    handover.check_marks(
        wanted, write_rating, [*(write_keyword or ()), *flag_words.values()], replace_ratings
    )
    try:
        conditions = Conditions(
            verdicts=tuple(verdict or ("hit",)), unclear_in=unclear, camera_words=tuple(word or ()),
            most_blur_px=blur_px, most_blur_um=blur_um, most_blur_urad=blur_urad, most_iso=iso,
            most_push_ev=push, kit=kit, converter_factor=converter, scene_id=scene, from_at=from_at,
            to_at=to_at, keyword=keyword, least_rating=rating, flags=tuple(flag or ()),
            without_flags=tuple(without_flag or ()),
        )  # fmt: skip
    except ValueError as error:
        raise typer.BadParameter(str(error)) from error
    with common.reading(logbook) as book:
        chosen = common.chosen_trip(book, trip, all_trips)
        passed = _choose(book, conditions, common.trip_id(chosen), best, per)
        common.say(_summary(passed, best, per, chosen), quiet)
        if strip is not None:
            handover.write_strip(book, passed.kept, strip, chosen, dry_run)
        elif wanted:
            from auditor.keepers.plan import plan_keepers
            from auditor.keepers.sidecars import Marks, plan_sidecars

            common.say("Looking at what lies there already ...", quiet)
            if wanted[0] in ("sidecar", "beside"):
                marks = Marks(
                    rating=write_rating, keywords=tuple(write_keyword or ()), flag_keywords=flag_words,
                    replace_ratings=replace_ratings,
                )  # fmt: skip
                plan = plan_sidecars(book, passed.kept, marks, sidecars_to)
            else:
                folder = copy_to or hard_link_to or symbolic_link_to
                assert folder is not None
                plan = plan_keepers(book, passed.kept, folder, way=wanted[0])  # type: ignore[arg-type]
            handover.run(book, plan, logbook=logbook, dry_run=dry_run, as_json=as_json, quiet=quiet)
        else:
            _list(book, passed, nul=nul, as_csv=as_csv, as_json=as_json)


def _choose(book: Logbook, conditions: Conditions, trip_id: int | None, best: int | None, per: str) -> Passed:
    from dataclasses import replace

    from auditor.keepers.choose import choose

    conditions = replace(conditions, trip_id=trip_id)
    return choose(book, conditions, at_most=best, per="scene" if per == "scene" else "burst")


def _summary(passed: Passed, best: int | None, per: str, trip: dict[str, Any] | None) -> str:
    where = f"of trip {trip['name']}" if trip else "of all trips"
    lines = [f"{len(passed.kept)} of {passed.frames} frames {where} are keepers."]
    lines += [f"  {name}: takes away {count}" for name, count in sorted(passed.taken_away.items())]
    if passed.unclear:
        lines.append(f"  unclear and kept apart: {len(passed.unclear)} (--unclear takes them in)")
    if passed.gone:
        lines.append(f"  no longer where they were: {len(passed.gone)} (mount the card, or scan again)")
    if best is not None:
        lines.append(f"  at most {best} of each {per}, the sharpest: sharpness is not pose")
    return "\n".join(common.printable(line) for line in lines)


def _list(book: Logbook, passed: Passed, *, nul: bool, as_csv: bool, as_json: bool) -> None:
    from auditor.store.tables import frame_facts, frame_rows

    kept = {frame.frame_id for frame in passed.kept}
    if as_json:
        apart = {frame.frame_id for frame in passed.unclear}
        rows = frame_rows(book)
        common.print_json(
            {
                "frames": passed.frames,
                "keepers": [row for row in rows if row["frame_id"] in kept],
                "unclear": [row for row in rows if row["frame_id"] in apart],
                "taken_away": passed.taken_away,
            }
        )
    elif as_csv:
        from auditor.report.tables import csv_text

        table = frame_facts(book)
        sys.stdout.write(csv_text(table[table["frame_id"].isin(kept)]))
    else:
        paths = [frame.path for frame in passed.kept if frame.path]
        if not nul and sys.stdout.isatty():
            paths = [common.printable(path) for path in paths]
        end = "\0" if nul else "\n"
        sys.stdout.write("".join(f"{path}{end}" for path in paths))


def _check(given: Iterable[str] | None, allowed: Iterable[str], option: str) -> None:
    for one in given or ():
        if one not in allowed:
            raise typer.BadParameter(f"it must be one of {', '.join(allowed)}", param_hint=option)


def _check_flags(given: list[str]) -> None:
    from auditor.report.text.values import FLAGS

    for one in given:
        if one not in FLAGS:
            raise typer.BadParameter(f"{one!r} is no flag. Flags are: {', '.join(sorted(FLAGS))}")


COMMANDS = (keepers,)
