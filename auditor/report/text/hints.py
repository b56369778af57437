"""Hints in words: one question each, and how to answer it."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Iterable, Sequence

from auditor.analysis.hint_kinds import (
    HOUR_S,
    ClockHint,
    ConverterHint,
    DateHint,
    Hint,
    LensHint,
    PhoneHint,
)
from auditor.report.text import values
from auditor.report.text.values import count, trip_named

MOST_OTHERS = 3
"""Questions about other things than converters that a page asks one by one."""
_STOPS = {1.4: "one stop", 2.0: "two stops"}


def heading(hint: Hint) -> str:
    """What a hint is about: trip, body, and when."""
    if isinstance(hint, ConverterHint):
        when = _span(hint.bursts[0].first_at, hint.bursts[-1].last_at)
    else:
        when = _span(hint.first_at, hint.last_at)
    return f"{hint.body_name}, {when} ({trip_named(hint.trip.name)})"


def question(hint: Hint) -> str:
    """What the photographer is asked, in one or two sentences."""
    if isinstance(hint, ConverterHint):
        number = len(hint.bursts)
        frames = sum(burst.frames for burst in hint.bursts)
        bursts = "1 burst" if number == 1 else f"{number} bursts"
        return (
            f"{bursts} ({frames} frame{'' if frames == 1 else 's'}) read about {_STOPS[hint.factor]} darker "
            f"than bursts beside them, with nothing else changed. Was a {hint.factor:g}x converter on that "
            "does not report itself? A cloud does the same."
        )
    if isinstance(hint, ClockHint):
        hours = values.apart(hint.hours * HOUR_S)
        why = (
            "they state different time zones"
            if hint.stated
            else "shifted by that, their bursts fall together far more often"
        )
        reference = hint.called(hint.reference)
        asked = (
            f"The clocks of {reference} and {hint.body_name} seem to be {hours} apart: {why}. "
            f"Was that of {hint.body_name} {_off_by(hint)}?"
        )
        if not hint.stated:
            return asked
        return (
            f"{asked} Yes shows its frames by the clock of {reference}. No says that it was right and only "
            "its time zone was wrong: its frames are then grouped by the times that it showed."
        )
    if isinstance(hint, PhoneHint):
        return (
            f"{hint.body_name} took {count(hint.frames, 'frame')} with a sensor as small as a phone's and no "
            "long lens. They count like all others among kits and keepers. Leave out every frame of it?"
        )
    if isinstance(hint, LensHint):
        return (
            f"From {values.days(hint.first_at, hint.first_at)} on, the files of {hint.body_name} name a lens "
            f"{hint.lens!r} ({count(hint.frames, 'frame')}) and no longer one {hint.earlier!r}, of the same "
            "focal lengths and widest f-number. Is it one lens, which new firmware or an adapter names "
            "otherwise? Until you say so it counts as two."
        )
    return _date_question(hint)


def answer(hint: Hint) -> str | None:
    """What to do where accepting the hint is not enough; None where it is."""
    if not isinstance(hint, DateHint):
        return None
    return (
        "An offset mends a day at most. Put the dates right in copies of these files and scan those, "
        "or leave the frames out (auditor declare exclude)."
    )


def not_accepted(hints: Sequence[tuple[int, Hint]]) -> str:
    """Which hints were not accepted and why, in one line: those of wrong dates, with their numbers."""
    named = ", ".join(f"{number} ({hint.body_name})" for number, hint in hints)
    if len(hints) == 1:
        about = f"hint {named}. It is about a wrong date"
    else:
        about = f"hints {named}. They are about wrong dates"
    return f"{about}, which accepting cannot mend: auditor declare hints says what can."


def _off_by(hint: ClockHint) -> str:
    """How a clock was off to which so many hours are added: "1 hour behind"."""
    return f"{values.apart(hint.hours * HOUR_S)} {'behind' if hint.hours > 0 else 'ahead'}"


def _date_question(hint: DateHint) -> str:
    if hint.other is None:
        day = hint.last_at[:10]
        return f"{hint.body_name} has frames dated {day}, which lies in the future: its clock was off."
    years = abs(int(hint.first_at[:4]) - int(hint.other.first_at[:4]))
    apart = "about a year" if years <= 1 else f"about {years} years"
    return (
        f"In {hint.other.folder}, the frames of {hint.body_name} are dated {apart} from those of "
        f"{hint.called(hint.other.body)}. If you took them on one trip, one of the clocks was off."
    )


def _span(first_at: str, last_at: str) -> str:
    first, last = first_at[:16].replace("T", " "), last_at[:16].replace("T", " ")
    if first == last:
        return first
    return f"{first} to {last[11:] if first[:10] == last[:10] else last}"


def _day_and_time(first_at: str, last_at: str) -> str:
    """ "18 April 2026, 09:26 to 11:14": of more days than one only the days."""
    days = values.days(first_at, last_at)
    if first_at[:10] != last_at[:10]:
        return days
    first, last = first_at[11:16], last_at[11:16]
    return f"{days}, {first}" if first == last else f"{days}, {first} to {last}"


def in_short(hint: Hint) -> str:
    """What the photographer is asked, in one line."""
    if isinstance(hint, ConverterHint):
        frames = sum(burst.frames for burst in hint.bursts)
        when = _day_and_time(hint.bursts[0].first_at, hint.bursts[-1].last_at)
        silent = "that does not" if frames == 1 else "that do not"
        return f"{hint.body_name}, {when}: a {hint.factor:g}x on {count(frames, 'frame')} {silent} say so?"
    when = values.days(hint.first_at, hint.last_at)
    if isinstance(hint, ClockHint):
        behind = _off_by(hint).replace("ahead", "ahead of")
        return f"{hint.body_name}, {when}: its clock {behind} {hint.called(hint.reference)}?"
    if isinstance(hint, PhoneHint):
        return f"{hint.body_name}, {when}: {count(hint.frames, 'frame')} of a phone, to be left out?"
    if isinstance(hint, LensHint):
        return f"{hint.body_name}, {when}: {hint.lens!r} another name of {hint.earlier!r}?"
    return f"{hint.body_name}, {when}: is this date right?"


def unsettled(hints: Sequence[Hint], trip_id: int | None, option: str = "") -> list[dict[str, str]]:
    """A warning a body whose bare frames may mix two kits, then the other questions; each with the command
    that settles it.

    Parameters
    ----------
    option
        What the command needs behind it to reach the same logbook.
    """
    frames: Counter[tuple[str, float]] = Counter()
    for hint in hints:
        if isinstance(hint, ConverterHint):
            frames[hint.body_name, hint.factor] += sum(burst.frames for burst in hint.bursts)
    limit = "" if trip_id is None else f" --trip {shlex.quote(str(trip_id))}"
    command = f"auditor declare hints{limit}{option}"
    mixed = [
        {
            "warning": (
                f"{body} bare may mix two kits: {count(number, 'frame')} read as if behind a {factor:g}x "
                "that does not report itself."
            ),
            "command": command,
        }
        for (body, factor), number in frames.items()
    ]
    others = [in_short(hint) for hint in hints if not isinstance(hint, ConverterHint)]
    if len(others) > MOST_OTHERS:
        others[MOST_OTHERS:] = [f"{count(len(others) - MOST_OTHERS, 'more question')}."]
    return mixed + [{"warning": f"What no file says: {asked}", "command": command} for asked in others]


def kits_that_may_be_mixed(hints: Iterable[Hint]) -> set[int]:
    """The kits whose frames such a warning is of."""
    return {burst.kit_id for hint in hints if isinstance(hint, ConverterHint) for burst in hint.bursts}
