"""Handing over from the command line: the plan, the run, the receipts, taking back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from auditor.cli import common, progress

if TYPE_CHECKING:
    from auditor.keepers.handover import Done
    from auditor.keepers.plan import Plan
    from auditor.keepers.undo import TakenBack
    from auditor.store.candidates import Candidate
    from auditor.store.logbook import Logbook

SHOWN = 10
_DONE = {
    "copy": "copied and verified",
    "hard_link": "hard-linked",
    "symbolic_link": "linked",
    "sidecar": "sidecars written",
}


def flag_keywords(given: Iterable[str]) -> dict[str, str]:
    """FLAG=WORD, as given, by flag."""
    keywords = {}
    for pair in given:
        flag, equals, keyword = pair.partition("=")
        if not equals or not keyword.strip():
            raise typer.BadParameter(
                f"{pair!r} must be FLAG=KEYWORD, as in smeared=moved", param_hint="--write-flag-keyword"
            )
        keywords[flag.strip()] = keyword.strip()
    return keywords


def check_marks(rating: int | None, keywords: list[str]) -> None:
    """Refuse sidecars with nothing to write, and keywords that are none."""
    if rating is None and not keywords:
        raise typer.BadParameter(
            "say what the sidecars should hold: --write-rating, --write-keyword or --write-flag-keyword"
        )
    for keyword in keywords:
        if not keyword.strip() or not keyword.isprintable():
            raise typer.BadParameter(
                f"{keyword!r} is not a keyword: write plain words", param_hint="--write-keyword"
            )


def write_strip(book: Logbook, kept: list[Candidate], page: Path, title: str, dry_run: bool) -> None:
    """The contact strip of the keepers."""
    from auditor.jobs.colour_cuts import by_workers
    from auditor.keepers.plan import check_outside, resolved
    from auditor.report import strip
    from auditor.store import listed_frames, scans
    from auditor.store.frame_facts import frames_by_id

    check_outside(resolved(page.parent), scans.folders(book))
    if dry_run:
        print(f"would write {common.printable(str(page))}")
        return
    frames = frames_by_id(book, [frame.frame_id for frame in kept])
    strip.write_strip(
        page,
        frames,
        title=title[:1].upper() + title[1:],
        logbook_path=book.path,
        to_show=listed_frames.to_show(book, [frame.frame_id for frame in kept]),
        cutter=by_workers(common.settings_of(book.path)),
    )
    print(common.printable(str(page)))


def run(
    book: Logbook, plan: Plan, *, logbook: Path | None, dry_run: bool, as_json: bool, quiet: bool
) -> None:
    """Show a plan, or do it and say what came of it."""
    if dry_run:
        _show_plan(plan, as_json)
        return
    from auditor.keepers.handover import hand_over

    files = sum(not move.there_already for move in plan.moves)
    with progress.bar("Handing over", "files", lambda: files, quiet or not files) as show:
        done = hand_over(book, plan, progress=show)
    if as_json:
        common.print_json(
            {
                "receipt": done.receipt_id,
                "made": [str(path) for path in done.made],
                "there_already": [str(path) for path in done.there_already],
                "ratings_kept": plan.ratings_kept,
                "failed": [{"path": str(path), "reason": reason} for path, reason in done.failed],
            }
        )
    else:
        _show_done(plan, done, common.logbook_option(logbook))
    if done.failed:
        raise typer.Exit(3)


def take_back(book: Logbook, receipt: int, as_json: bool) -> None:
    """Take back what a receipt says was made."""
    from auditor.keepers import undo

    _show_taken_back(undo.take_back(book, receipt), as_json)


def list_receipts(book: Logbook, as_json: bool) -> None:
    """List the receipts, the oldest first."""
    from auditor.report.text.desk import made
    from auditor.store import receipts as kept

    every = kept.all_receipts(book)
    if as_json:
        names = kept.Receipt.__dataclass_fields__
        common.print_json([{name: getattr(receipt, name) for name in names} for receipt in every])
        return
    for receipt in every:
        when = datetime.fromisoformat(receipt.started_at).astimezone().strftime("%Y-%m-%d %H:%M")
        state = "" if receipt.finished_at else ", cut off"
        if receipt.undone_at or (receipt.finished_at and not receipt.files):
            state = ", taken back"
        print(f"{receipt.receipt_id:4}  {when}  {made(receipt.what, receipt.files)}{state}")
        print(f"      {common.printable(receipt.folder)}")
    if not every:
        print("Nothing was handed over yet.")


def _show_plan(plan: Plan, as_json: bool) -> None:
    rows = [
        {
            "from": str(move.source),
            "to": str(move.target),
            "there_already": move.there_already,
            "replaces": move.hash_before is not None and not move.there_already,
        }
        for move in plan.moves
    ]
    if as_json:
        left_out = [{"path": str(path), "reason": reason} for path, reason in plan.left_out]
        common.print_json({"moves": rows, "left_out": left_out, "ratings_kept": plan.ratings_kept})
        return
    for row in rows:
        note = " (there already)" if row["there_already"] else " (backed up)" if row["replaces"] else ""
        print(common.printable(f"{row['from']} -> {row['to']}") + note)
    new = [move for move in plan.moves if not move.there_already]
    room = f", {sum(move.size_bytes for move in new) / 1e6:.1f} MB" if plan.way in ("copy", "sidecar") else ""
    print(f"Nothing was done. {len(new)} files would be made{room}.")
    _show_ratings_kept(plan)
    _show_failed(plan.left_out)


def _show_done(plan: Plan, done: Done, option: str) -> None:
    from auditor.keepers.handover import place

    if not plan.moves and not done.failed:
        print("Nothing to hand over.")
        return
    what = _DONE[plan.way]
    summary = (
        f"{len(done.made)} {what}"
        if plan.way == "sidecar"
        else f"{common.counted(len(done.made), 'file')} {what}"
    )
    print(f"{summary}, {len(done.there_already)} there already:")
    print(f"  {common.printable(place(plan))}")
    _show_ratings_kept(plan)
    if done.receipt_id is not None:
        print(f"Receipt {done.receipt_id}. To take it back:")
        print(common.printable(f"  auditor keepers undo {done.receipt_id}{option}"))
    _show_failed(done.failed)


def _show_ratings_kept(plan: Plan) -> None:
    if plan.ratings_kept:
        print(f"{plan.ratings_kept} keep the rating they have (--replace-ratings replaces it).")


def _show_failed(failed: list[tuple[Path, str]]) -> None:
    """What was not handed over, by reason."""
    if failed:
        print(f"Not handed over: {len(failed)}. The originals are as they were.")
    _show_by_reason(failed)


def _show_by_reason(listed: list[tuple[Path, str]]) -> None:
    def by_reason(failure: tuple[Path, str]) -> str:
        return failure[1]

    for reason, group in groupby(sorted(listed, key=by_reason), by_reason):
        paths = [path for path, _reason in group]
        print(f"  {common.printable(reason)}:")
        for path in paths[:SHOWN]:
            print(f"    {common.printable(str(path))}")
        if len(paths) > SHOWN:
            print(f"    and {len(paths) - SHOWN} more")


def _show_taken_back(result: TakenBack, as_json: bool) -> None:
    if as_json:
        common.print_json(
            {
                "receipt": result.receipt.receipt_id,
                "removed": [str(path) for path in result.removed],
                "restored": [str(path) for path in result.restored],
                "gone_already": [str(path) for path in result.gone_already],
                "folders_removed": [str(path) for path in result.folders_removed],
                "folders_left": [str(path) for path in result.folders_left],
                "left": [{"path": str(path), "reason": reason} for path, reason in result.left],
            }
        )
    else:
        parts = [f"{common.counted(len(result.removed), 'file')} removed"]
        if result.restored:
            parts.append(f"{common.counted(len(result.restored), 'sidecar')} put back as before")
        if result.gone_already:
            parts.append(f"{len(result.gone_already)} gone already")
        if result.folders_removed:
            parts.append(f"{common.counted(len(result.folders_removed), 'empty folder')} removed")
        print(f"Receipt {result.receipt.receipt_id}: {', '.join(parts)}.")
        for folder in result.folders_left:
            print(f"  holds other files, left: {common.printable(str(folder))}")
        if result.left:
            print(f"Left as they are: {len(result.left)}")
            _show_by_reason(result.left)
    if result.left:
        raise typer.Exit(3)
