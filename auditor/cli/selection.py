"""The options that select frames: the same words for every table, list, page and hand-over."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from auditor.cli.option_groups import with_group
from auditor.words import FrameFlag, Verdict

if TYPE_CHECKING:
    from auditor.analysis.findings import AdviceFrom, Findings
    from auditor.records import KnownKit
    from auditor.store.logbook import Logbook
    from auditor.store.selection import Selection
    from auditor.store.trips import Trip

SHOWN = 12
"""Known words that a refusal lists; tables show the rest."""


def known_word(word: str, known: Iterable[str], option: str, what: str) -> str:
    """The word as it is known, whatever its case; a refusal with the nearest one where it is not known."""
    words = {each.casefold(): str(each) for each in known}
    meant = words.get(word.casefold().replace("-", "_"), words.get(word.casefold()))
    if meant is None:
        refuse(word, list(words.values()), option, what)
    return meant


def known_flag(word: str, option: str) -> str:
    """A flag that a frame can have."""
    return known_word(word, FrameFlag, option, "flag")


def refuse(word: str, known: list[str], option: str, what: str, more: str = "") -> NoReturn:
    """Refuse a word that is not known, with the nearest one and the known ones."""
    near = difflib.get_close_matches(word.casefold(), [each.casefold() for each in known], n=1, cutoff=0.5)
    spelled = next((each for each in known if near and each.casefold() == near[0]), None)
    message = f"there is no {what} {word!r}."
    if spelled is not None:
        message += f" Did you mean {spelled!r}?"
    message += f" Known: {', '.join(known[:SHOWN])}"
    if len(known) > SHOWN:
        message += f" and {len(known) - SHOWN} more{more}"
    raise typer.BadParameter(message + ".", param_hint=option)


def _verdicts(given: list[str] | None) -> list[str]:
    return [known_word(word, Verdict, "--verdict", "verdict") for word in given or ()]


def _flags(given: list[str] | None) -> list[str]:
    return [known_flag(word, "--flag") for word in given or ()]


TripOption = Annotated[
    str | None,
    typer.Option(
        "--trip",
        metavar="TRIP",
        help="A trip by name, the beginning of its name, or number. Default: the newest.",
    ),
]
AllTripsOption = Annotated[bool, typer.Option("--all-trips", help="All trips in the logbook.")]
KitOption = Annotated[
    list[str] | None,
    typer.Option(
        "--kit",
        metavar="KIT",
        help='A kit by number or short name, as tables show them: 3 or "F2 500 mm x 2". May be repeated.',
    ),
]
ConverterOption = Annotated[
    str | None,
    typer.Option("--converter", metavar="FACTOR", help="Only with this converter, such as 1.4 or 2."),
]
BareOption = Annotated[bool, typer.Option("--bare", help="Only without a converter.")]
SceneOption = Annotated[
    int | None,
    typer.Option("--scene", metavar="SCENE", help="One scene, by the number that auditor frames shows."),
]
DayOption = Annotated[
    str | None, typer.Option("--day", metavar="DAY", help="Frames of one day, such as 2026-04-18.")
]
VerdictOption = Annotated[
    list[str] | None,
    typer.Option(
        "--verdict",
        metavar="VERDICT",
        callback=_verdicts,
        help="Only frames with this verdict: hit, miss or unclear. May be repeated.",
    ),
]
FlagOption = Annotated[
    list[str] | None,
    typer.Option(
        "--flag",
        metavar="FLAG",
        callback=_flags,
        help="Only frames with this flag, such as smeared. May be repeated.",
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """What was asked for, found in the logbook."""

    trip: Trip | None
    """None for all trips."""
    selection: Selection
    kit_names: dict[int, str]
    """Short names of all kits by kit_id."""

    @property
    def trip_id(self) -> int | None:
        """The id of the trip; None for all trips."""
        return self.selection.trip_id

    @property
    def limits(self) -> str:
        """What the selection asks for besides the trip, in words; empty where it asks for nothing."""
        from auditor.report.text.outcomes import flag_label

        selection = self.selection
        parts = [", ".join(self.kit_names[kit_id] for kit_id in selection.kit_ids)]
        if selection.converter_factor is not None:
            bare = selection.converter_factor == 1
            parts.append("bare" if bare else f"{selection.converter_factor:g}x converter")
        if selection.scene_id is not None:
            parts.append(f"scene {selection.scene_id}")
        parts += [
            selection.day or "",
            " or ".join(selection.verdicts),
            " and ".join(map(flag_label, selection.flags)),
        ]
        return "; ".join(part for part in parts if part)

    @property
    def in_words(self) -> str:
        """Trip and limits in words: "trip 2026-04-18; F2 500 mm; hit"."""
        from auditor.report.text.values import trip_named

        trip = "all trips" if self.trip is None else trip_named(self.trip.name)
        return "; ".join(part for part in (trip, self.limits) if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The options that select frames, as they were typed: the parameters are those of the commands."""

    trip: TripOption = None
    all_trips: AllTripsOption = False
    kit: KitOption = None
    converter: ConverterOption = None
    bare: BareOption = False
    scene: SceneOption = None
    day: DayOption = None
    verdict: VerdictOption = None
    flag: FlagOption = None

    def choose(self, book: Logbook, *, by_outcome: bool = True) -> Chosen:
        """Turn what was typed into a selection.

        A scene or a day is looked for in all trips unless one is named; everything else in the newest trip.

        Parameters
        ----------
        by_outcome
            Select by verdict and flag as well.

        Raises
        ------
        typer.BadParameter
            for a word that the logbook does not know, with the nearest that it does, and for options that
            contradict each other.
        LogbookError
            where there is no such trip.
        """
        from auditor.frames.kit_names import short_names
        from auditor.store import selection as store
        from auditor.store.derived import kits_in_use
        from auditor.store.trips import find_trip

        if self.trip is not None and self.all_trips:
            raise typer.BadParameter("choose one of --trip and --all-trips")
        if self.bare and self.converter is not None:
            raise typer.BadParameter("choose one of --bare and --converter")
        anywhere = self.trip is None and (self.scene is not None or self.day is not None)
        trip = None if self.all_trips or anywhere else find_trip(book, self.trip)
        trip_id = None if trip is None else trip.trip_id
        kits = kits_in_use(book)
        kit_names = short_names(kits)
        if self.scene is not None and not store.scene_exists(book, self.scene):
            raise typer.BadParameter(
                f"there is no scene {self.scene}; auditor frames shows their numbers", param_hint="--scene"
            )
        selection = store.Selection(
            trip_id=trip_id,
            kit_ids=tuple(_kit_id(book, text, kits, kit_names) for text in self.kit or ()),
            converter_factor=1.0 if self.bare else _factor(self.converter, store.converter_factors(book)),
            scene_id=self.scene,
            day=_day(self.day, store.days(book, trip_id)) if self.day is not None else None,
            verdicts=tuple(self.verdict or ()) if by_outcome else (),
            flags=tuple(self.flag or ()) if by_outcome else (),
        )
        if trip is None and not self.all_trips:
            inside = store.trips_of(book, store.Selection(scene_id=selection.scene_id, day=selection.day))
            if len(inside) == 1:
                trip = find_trip(book, str(inside[0]))
                selection = replace(selection, trip_id=inside[0])
        return Chosen(trip=trip, kit_names=kit_names, selection=selection)

    def refuse_outcomes(self) -> None:
        """Refuse to count rates among frames that were chosen by what came of them."""
        for given, option in ((self.verdict, "--verdict"), (self.flag, "--flag")):
            if given:
                raise typer.BadParameter(
                    "a hit rate among frames chosen by verdict or flag would say nothing about the kit. "
                    f"To list them: auditor frames {option} {given[0]}",
                    param_hint=option,
                )


def with_selection(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options of `Asked`; it gets them as `asked`."""
    return with_group(command, "asked", Asked)


def full_names(book: Logbook) -> dict[int, str]:
    """Full names of all kits by kit_id."""
    from auditor.store.derived import kits_in_use

    return {kit.kit_id: kit.kit_name for kit in kits_in_use(book)}


@contextmanager
def narrowed(book: Logbook, chosen: Chosen, *, kits: bool) -> Iterator[None]:
    """Inside, questions over kits see the chosen day or scene alone.

    Parameters
    ----------
    kits
        See the frames of the chosen kits alone too, and those of their bare lenses. Without, all kits are
        there to be compared with, and gaps in the file numbers between kits are none.
    """
    from auditor.store import selection as store

    asked = chosen.selection
    selection = store.Selection(scene_id=asked.scene_id, day=asked.day)
    if kits:
        both = store.with_bare_kits(book, asked)
        selection = replace(selection, kit_ids=both.kit_ids)
    with store.narrowed(book, selection):
        yield


def chosen_findings(book: Logbook, chosen: Chosen, advice_from: AdviceFrom) -> Findings:
    """What there is to say of the chosen kits, each with its bare lens, which it is compared with."""
    from auditor.analysis.findings import findings
    from auditor.cli.common import settings_of
    from auditor.store.selection import with_bare_kits

    with narrowed(book, chosen, kits=False):
        trip_findings = findings(book, chosen.trip_id, settings_of(book.path), advice_from=advice_from)
    kit_ids = with_bare_kits(book, chosen.selection).kit_ids
    if not kit_ids:
        return trip_findings
    return replace(
        trip_findings,
        kits=tuple(row for row in trip_findings.kits if row.kit_id in kit_ids),
        alternatives=tuple(row for row in trip_findings.alternatives if row.kit_id in kit_ids),
        changes=tuple(row for row in trip_findings.changes if row.kit_id in kit_ids),
    )


def _kit_id(book: Logbook, text: str, kits: list[KnownKit], short: Mapping[int, str]) -> int:
    number = text.strip().lstrip("#")
    if number.isdigit() and int(number) in short:
        return int(number)
    found = _kit_called(text, short, {kit.kit_id: kit.kit_name for kit in kits})
    if found is None:
        found = _kit_once_called(book, text, kits)
    if found is not None:
        return found
    listed = [f"{kit_id} = {name}" for kit_id, name in short.items()]
    near = difflib.get_close_matches(text.casefold(), [name.casefold() for name in short.values()], n=1)
    ordered = sorted(listed, key=lambda each: not any(each.casefold().endswith(f"= {name}") for name in near))
    message = f"there is no kit {text!r}."
    if near:
        message += f" Did you mean {ordered[0].split(' = ', 1)[1]!r}?"
    message += f" Kits: {'; '.join(ordered[:SHOWN])}"
    if len(ordered) > SHOWN:
        message += f"; and {len(ordered) - SHOWN} more: auditor kits --all-trips"
    raise typer.BadParameter(message, param_hint="--kit")


def _kit_called(text: str, *names_of_kits: Mapping[int, str]) -> int | None:
    letters = _letters(text)
    for names in names_of_kits:
        for kit_id, name in names.items():
            if _letters(name) == letters:
                return kit_id
    return None


def _kit_once_called(book: Logbook, text: str, kits: list[KnownKit]) -> int | None:
    """A kit by another name of its lens: what it was called before both were said to be of one lens."""
    from auditor.derive.lenses import under_other_names
    from auditor.frames.kit_names import names_of, short_names

    others = under_other_names(book, kits)
    if not others:
        return None
    every = [*kits, *others]
    found = _kit_called(text, short_names(every), names_of(every))
    return next((own_id for kit, own_id in others.items() if kit.kit_id == found), found)


def _letters(text: str) -> str:
    """A name as it is compared: neither case nor spaces count, and a multiplication sign is an x."""
    return re.sub(r"\s+", "", text.casefold().replace("×", "x"))


def _factor(text: str | None, known: list[float]) -> float | None:
    if text is None:
        return None
    number = text.strip().casefold().removeprefix("x").removesuffix("x").strip()
    names = [f"{factor:g}" for factor in known]
    try:
        asked_factor = float(number)
    except ValueError:
        asked_factor = None
    meant = next(
        (factor for factor in known if asked_factor is not None and abs(factor - asked_factor) < 0.005), None
    )
    if meant is None:
        listed = "; ".join("1 (bare)" if name == "1" else name for name in names)
        raise typer.BadParameter(
            f"no frame was taken with a converter {text!r}. Known: {listed or 'none'}",
            param_hint="--converter",
        )
    return meant


def _day(text: str, known: list[str]) -> str:
    try:
        asked_day = date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise typer.BadParameter(
            f"{text!r} is not a day: write it as 2026-04-18", param_hint="--day"
        ) from None
    if asked_day not in known:
        near = sorted(
            sorted(known, key=lambda day: abs(date.fromisoformat(day) - date.fromisoformat(asked_day)))[:4]
        )
        raise typer.BadParameter(
            f"no frames were taken on {asked_day}. The nearest days: {', '.join(near) or 'none'}",
            param_hint="--day",
        )
    return asked_day
