"""The options that choose keepers: the same for listing them and for every way of handing them over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common, selection
from auditor.cli.option_groups import with_group
from auditor.words import CameraWord, Choice, Verdict

if TYPE_CHECKING:
    from auditor.cli.selection import Chosen
    from auditor.keepers.choose import Passed
    from auditor.store.best_frames import Grouping
    from auditor.store.conditions import Conditions
    from auditor.store.logbook import Logbook

GROUPS = ("burst", "scene")
MAY_REPEAT = "May be repeated."


@dataclass(frozen=True, slots=True, kw_only=True)
class KeeperFilter:
    """What was asked for on the command line, checked but not looked up yet."""

    asked: selection.Asked
    conditions: Conditions
    at_most: int | None
    per: Grouping

    def choose(self, book: Logbook, quiet: bool) -> tuple[Chosen, Passed]:
        """The frames that pass, and a summary of them on standard error."""
        from auditor.keepers.choose import choose
        from auditor.store.selection import keywords

        chosen = self.asked.choose(book, by_outcome=False)
        keyword = self.conditions.keyword
        if keyword is not None and keyword not in (known := keywords(book)):
            selection.refuse(keyword, known, "--keyword", "keyword")
        passed = choose(book, self.conditions, chosen.selection, at_most=self.at_most, per=self.per)
        common.say(self._summary(passed, chosen), quiet)
        return chosen, passed

    def _summary(self, passed: Passed, chosen: Chosen) -> str:
        keepers = "is a keeper" if len(passed.kept) == 1 else "are keepers"
        of = common.counted(passed.frames, "frame")
        lines = [f"{len(passed.kept)} of {of} {keepers} ({chosen.in_words})."]
        lines += [f"  {name}: excludes {count}" for name, count in sorted(passed.taken_away.items())]
        if passed.frames and passed.taken_away.get("chosen") == passed.frames:
            lines.append("  none was chosen by eye yet: auditor desk is where you do that")
        if passed.unclear:
            lines.append(f"  unclear, counted separately: {len(passed.unclear)} (--unclear includes them)")
        if passed.gone:
            lines.append(f"  no longer where they were: {len(passed.gone)} (mount the card, or scan again)")
        if self.at_most is not None:
            lines.append(
                f"  at most {self.at_most} of each {self.per}, the sharpest: leaves out {passed.beyond_best} "
                "(sharpness is not pose)"
            )
        return "\n".join(common.printable(line) for line in lines)


def keeper_filter(
    asked: selection.Asked,
    without_flag: Annotated[
        list[str] | None,
        typer.Option("--without-flag", metavar="FLAG", help=f"Only frames without this flag. {MAY_REPEAT}"),
    ] = None,
    unclear: Annotated[bool, typer.Option("--unclear", help="Include unclear frames.")] = False,
    word: Annotated[
        list[str] | None,
        typer.Option(
            "--word",
            metavar="WORD",
            help="Only where the camera said this of its focus: confirmed, not_confirmed, manual or "
            f"silent. {MAY_REPEAT}",
        ),
    ] = None,
    blur_px: Annotated[
        float | None,
        typer.Option("--blur-px", metavar="PX", min=0, help="At most this blur (sigma), in px."),
    ] = None,
    blur_um: Annotated[
        float | None, typer.Option("--blur-um", metavar="UM", min=0, help="The same on the sensor, in um.")
    ] = None,
    blur_urad: Annotated[
        float | None,
        typer.Option("--blur-urad", metavar="URAD", min=0, help="The same as an angle, in microradians."),
    ] = None,
    iso: Annotated[
        float | None, typer.Option("--iso", metavar="ISO", min=1, help="At most this ISO.")
    ] = None,
    push: Annotated[
        float | None,
        typer.Option("--push", metavar="STOPS", min=0, help="At most this many stops forced by a converter."),
    ] = None,
    from_at: Annotated[
        str | None,
        typer.Option("--from", metavar="MOMENT", help="Taken on or after: 2026-04-18, or 2026-04-18T09:30."),
    ] = None,
    to_at: Annotated[
        str | None,
        typer.Option("--to", metavar="MOMENT", help="Taken on or before this day or time."),
    ] = None,
    keyword: Annotated[
        str | None, typer.Option("--keyword", metavar="KEYWORD", help="Only frames with this keyword.")
    ] = None,
    rating: Annotated[
        int | None,
        typer.Option(
            "--rating", metavar="RATING", min=-1, max=5, help="Only frames you rated at least this."
        ),
    ] = None,
    chosen: Annotated[
        bool,
        typer.Option(
            "--chosen",
            help="Only frames you chose to keep by eye, whatever their verdict unless --verdict is given.",
        ),
    ] = False,
    best: Annotated[
        int | None,
        typer.Option(
            "--best", metavar="N", min=1, help="At most N of each burst (see --per), the sharpest first."
        ),
    ] = None,
    per: Annotated[
        str, typer.Option("--per", metavar="GROUP", help="What --best applies to: each burst or each scene.")
    ] = "burst",
) -> KeeperFilter:
    """Check what was typed, before the logbook is opened."""
    from auditor.store.conditions import Conditions

    group = selection.known_word(per, GROUPS, "--per", "group")
    for option, text in (("--from", from_at), ("--to", to_at)):
        _check_moment(option, text)
    if from_at and to_at and from_at > to_at and not from_at.startswith(to_at):
        raise typer.BadParameter("it is before --from, so no frame can match", param_hint="--to")
    return KeeperFilter(
        asked=asked,
        conditions=Conditions(
            verdicts=tuple(asked.verdict or (Verdict if chosen else ("hit",))),
            unclear_in=unclear,
            camera_words=tuple(
                selection.known_word(each, CameraWord, "--word", "camera word") for each in word or ()
            ),
            most_blur_px=blur_px,
            most_blur_um=blur_um,
            most_blur_urad=blur_urad,
            most_iso=iso,
            most_push_ev=push,
            from_at=from_at,
            to_at=to_at,
            keyword=keyword,
            least_rating=rating,
            flags=tuple(asked.flag or ()),
            chosen=Choice.KEEP if chosen else None,
            without_flags=tuple(selection.known_flag(each, "--without-flag") for each in without_flag or ()),
        ),
        at_most=best,
        per="scene" if group == "scene" else "burst",
    )  # fmt: skip


def _check_moment(option: str, text: str | None) -> None:
    from auditor.store.conditions import moment

    try:
        moment(text or "2026")
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=option) from error


def with_keeper_filter(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of the function `keeper_filter`; it gets its result under that name."""
    return with_group(command, "keeper_filter", selection.with_selection(keeper_filter), last=True)
