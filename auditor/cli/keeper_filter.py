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

WithoutFlagOption = Annotated[
    list[str] | None,
    typer.Option("--without-flag", metavar="FLAG", help=f"Only frames without this flag. {MAY_REPEAT}"),
]
UnclearOption = Annotated[bool, typer.Option("--unclear", help="Include unclear frames.")]
WordOption = Annotated[
    list[str] | None,
    typer.Option(
        "--word",
        metavar="WORD",
        help="Only where the camera said this of its focus: confirmed, not_confirmed, manual or "
        f"silent. {MAY_REPEAT}",
    ),
]
BlurPxOption = Annotated[
    float | None,
    typer.Option("--blur-px", metavar="PX", min=0, help="At most this blur (sigma), in px."),
]
BlurUmOption = Annotated[
    float | None, typer.Option("--blur-um", metavar="UM", min=0, help="The same on the sensor, in um.")
]
BlurUradOption = Annotated[
    float | None,
    typer.Option("--blur-urad", metavar="URAD", min=0, help="The same as an angle, in microradians."),
]
IsoOption = Annotated[float | None, typer.Option("--iso", metavar="ISO", min=1, help="At most this ISO.")]
PushOption = Annotated[
    float | None,
    typer.Option("--push", metavar="STOPS", min=0, help="At most this many stops forced by a converter."),
]
FromOption = Annotated[
    str | None,
    typer.Option("--from", metavar="MOMENT", help="Taken on or after: 2026-04-18, or 2026-04-18T09:30."),
]
ToOption = Annotated[
    str | None,
    typer.Option("--to", metavar="MOMENT", help="Taken on or before this day or time."),
]
KeywordOption = Annotated[
    str | None, typer.Option("--keyword", metavar="KEYWORD", help="Only frames with this keyword.")
]
RatingOption = Annotated[
    int | None,
    typer.Option("--rating", metavar="RATING", min=-1, max=5, help="Only frames you rated at least this."),
]
ChosenOption = Annotated[
    bool,
    typer.Option(
        "--chosen",
        help="Only frames you chose to keep by eye, whatever their verdict unless --verdict is given.",
    ),
]
BestOption = Annotated[
    int | None,
    typer.Option(
        "--best", metavar="N", min=1, help="At most N of each burst (see --per), the sharpest first."
    ),
]
PerOption = Annotated[
    str, typer.Option("--per", metavar="GROUP", help="What --best applies to: each burst or each scene.")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeeperOptions:
    """The options besides those that select frames, as they were typed."""

    without_flag: WithoutFlagOption = None
    unclear: UnclearOption = False
    word: WordOption = None
    blur_px: BlurPxOption = None
    blur_um: BlurUmOption = None
    blur_urad: BlurUradOption = None
    iso: IsoOption = None
    push: PushOption = None
    from_at: FromOption = None
    to_at: ToOption = None
    keyword: KeywordOption = None
    rating: RatingOption = None
    chosen: ChosenOption = False
    best: BestOption = None
    per: PerOption = "burst"

    def conditions(self, asked: selection.Asked) -> Conditions:
        """What a keeper has to meet, as typed here and among the options that select frames.

        Raises
        ------
        typer.BadParameter
            for a word that is not known, and for moments that cannot be read or contradict each other.
        """
        from auditor.store.conditions import Conditions

        self._check_moments()
        usual = Verdict if self.chosen else ("hit",)  # what the eye chose is kept whatever its verdict
        words = (selection.known_word(each, CameraWord, "--word", "camera word") for each in self.word or ())
        without = (selection.known_flag(each, "--without-flag") for each in self.without_flag or ())
        return Conditions(
            verdicts=tuple(asked.verdict or usual),
            unclear_in=self.unclear,
            camera_words=tuple(words),
            most_blur_px=self.blur_px,
            most_blur_um=self.blur_um,
            most_blur_urad=self.blur_urad,
            most_iso=self.iso,
            most_push_ev=self.push,
            from_at=self.from_at,
            to_at=self.to_at,
            keyword=self.keyword,
            least_rating=self.rating,
            flags=tuple(asked.flag or ()),
            chosen=Choice.KEEP if self.chosen else None,
            without_flags=tuple(without),
        )

    def grouping(self) -> Grouping:
        """What --best applies to."""
        group = selection.known_word(self.per, GROUPS, "--per", "group")
        return "scene" if group == "scene" else "burst"

    def _check_moments(self) -> None:
        from auditor.store.conditions import moment

        for option, text in (("--from", self.from_at), ("--to", self.to_at)):
            try:
                moment(text or "2026")
            except ValueError as error:
                raise typer.BadParameter(str(error), param_hint=option) from error
        first, last = self.from_at, self.to_at
        if first and last and first > last and not first.startswith(last):  # a day holds its own hours
            raise typer.BadParameter("it is before --from, so no frame can match", param_hint="--to")


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
        from auditor.store.selection import converters_used, keywords

        chosen = self.asked.choose(book, by_outcome=False)
        keyword = self.conditions.keyword
        if keyword is not None and keyword not in (known := keywords(book)):
            selection.refuse(keyword, known, "--keyword", "keyword")
        passed = choose(book, self.conditions, chosen.selection, at_most=self.at_most, per=self.per)
        common.say(self._summary(passed, chosen), quiet)
        if passed.taken_away.get("verdict") and converters_used(book):
            from auditor.report.text.outcomes import AS_FRAMED

            common.say(common.wrapped(AS_FRAMED, indent=2), quiet)
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


def keeper_filter(asked: selection.Asked, options: KeeperOptions) -> KeeperFilter:
    """Check what was typed, before the logbook is opened."""
    return KeeperFilter(
        asked=asked, conditions=options.conditions(asked), at_most=options.best, per=options.grouping()
    )


def with_keeper_filter(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options that choose keepers; it gets what they ask for as `keeper_filter`."""
    typed = selection.with_selection(with_group(keeper_filter, "options", KeeperOptions))
    return with_group(command, "keeper_filter", typed, last=True)
