"""What was declared, in words: one sentence each, as lists of it and the desk say it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import PurePath
from typing import Any

from auditor.report.text import values
from auditor.report.text.values import count
from auditor.store.declared_facts import (
    BodyFacts,
    ClockFacts,
    ConverterFacts,
    ElsewhereFacts,
    ExcludeFacts,
    Facts,
    LensFacts,
    RejectedFacts,
    Said,
    Span,
    TripFacts,
    WeightFacts,
)

PATHS_NAMED = 2
_START_OF_DAY, _END_OF_DAY = "00:00", "23:59"


def sentence(said: Said, names: Mapping[str, str]) -> str:
    """What was said, as a sentence without its full stop.

    Parameters
    ----------
    said
        A declaration.
    names
        What bodies are called, as `frames.body_names` tells it.

    Returns
    -------
    str
        "A 1.4x converter was on S2, 18 April 2026, 09:20 to 11:30".
    """
    body = names.get(said.body or "", said.body or "")
    return _SENTENCES[type(said.facts)](said.facts, body, said)


def taking_back(frames: int, *, asked_again: bool) -> str:
    """What taking something back does: "Taking it back changes 24 frames."

    Parameters
    ----------
    frames
        That become different.
    asked_again
        It answered a question with no.

    Returns
    -------
    str
        One sentence.
    """
    changes = f"Taking it back changes {count(frames, 'frame') if frames else 'no frame'}"
    return f"{changes}; it may be asked about again." if asked_again else f"{changes}."


def _converter(facts: ConverterFacts, body: str, said: Said) -> str:
    what = "No converter" if facts.factor == 1 else f"A {facts.factor:g}x converter"
    return f"{what} was on {body}{_when(said, facts.bursts)}"


def _of_body(facts: BodyFacts, body: str, _said: Said) -> str:
    told = [words(value) for name, words in BODY_FACTS.items() if (value := getattr(facts, name)) is not None]
    return f"{body}: {values.listed(told)}"


def _clock(facts: ClockFacts, body: str, said: Said) -> str:
    return f"The clock of {body} was {_off(facts.offset_s)}{_when(said)}"


def _trip(facts: TripFacts, _body: str, said: Said) -> str:
    if facts.fixed:
        return f"The {values.trip_named(facts.name)} covers {_span(said.from_at, said.to_at)}"
    days = values.days(said.from_at, said.to_at) if said.from_at and said.to_at else "any day"
    return f"The trip of {days} is called {facts.name}"


def _exclude(facts: ExcludeFacts, body: str, said: Said) -> str:
    if facts.paths:
        return f"Left out: {_paths(facts.paths)}"
    if said.from_at is None and said.to_at is None:
        return f"Every frame of {body} is left out"
    return f"Frames of {body} are left out{_when(said)}"


def _elsewhere(_facts: ElsewhereFacts, body: str, said: Said) -> str:
    return f"More frames of {body} are on another card or disk{_when(said)}"


def _weight(facts: WeightFacts, body: str, _said: Said) -> str:
    if facts.lens is not None:
        what = f"The lens {facts.lens}"
    else:
        what = body if facts.converter_factor is None else f"The {facts.converter_factor:g}x converter"
    return f"{what} weighs {facts.weight_g:g} g"


def _lens(facts: LensFacts, body: str, _said: Said) -> str:
    return f"{facts.lens} on {body} is another name of {facts.name}"


def _rejected(facts: RejectedFacts, body: str, said: Said) -> str:
    if facts.about == "converter":
        # A cloud is said of any burst, also of one whose files record a converter.
        return f"No {facts.value or 0:g}x converter went unreported on {body}{_when(said, facts.bursts)}"
    if facts.about == "lens":
        later, earlier = facts.lenses
        return f"{later} on {body} is another lens than {earlier}"
    if facts.about == "phone":
        return f"The frames of {body} are not left out"
    if facts.about == "date" or facts.value is None:
        return f"The dates of {body} are right{_when(said)}"
    return f"The clock of {body} was not {_off(facts.value)}{_when(said)}"


_SENTENCES: Mapping[type[Facts], Callable[[Any, str, Said], str]] = {
    ConverterFacts: _converter,
    BodyFacts: _of_body,
    ClockFacts: _clock,
    TripFacts: _trip,
    ExcludeFacts: _exclude,
    ElsewhereFacts: _elsewhere,
    WeightFacts: _weight,
    LensFacts: _lens,
    RejectedFacts: _rejected,
}
"""Every kind of declaration, and how it is said."""

BODY_FACTS: Mapping[str, Callable[[Any], str]] = {
    "focus_limit_f_number": "it focuses well up to f/{:g}".format,
    "base_iso": "its base ISO is {:g}".format,
    "iso_ceiling": "the highest ISO that you accept is {:g}".format,
    "sensor_diagonal_mm": "its sensor's diagonal is {:g} mm".format,
    "auto_iso": lambda auto: f"its ISO was {'' if auto else 'not '}on auto in manual exposure",
}
"""How each fact of a body is said."""


def _when(said: Said, bursts: Sequence[Span] = ()) -> str:
    """When something held, as it stands behind the rest of a sentence."""
    if bursts:
        first_at, last_at = bursts[0].first_at, max(burst.last_at for burst in bursts)
        return f" in {count(len(bursts), 'burst')}, {_span(first_at, last_at)}"
    if said.from_at is None and said.to_at is None:
        return " at all times"
    return f", {_span(said.from_at, said.to_at)}"


def _span(first_at: str | None, last_at: str | None) -> str:
    """A span as people say it: whole days by their dates alone."""
    if first_at is None or last_at is None:
        return f"until {_moment(last_at)}" if last_at else f"from {_moment(first_at or '')} on"
    first, last = first_at[11:16], last_at[11:16]
    if (first, last) == (_START_OF_DAY, _END_OF_DAY):
        return values.days(first_at, last_at)
    if first_at[:10] != last_at[:10]:
        return f"{_moment(first_at)} to {_moment(last_at)}"
    return _moment(first_at) + ("" if first == last else f" to {last}")


def _moment(at: str) -> str:
    return f"{values.days(at, at)}, {at[11:16]}"


def _off(offset_s: float) -> str:
    """How a clock is off to which so much is added: "1 hour behind"."""
    minutes, seconds = divmod(round(abs(offset_s)), 60)
    hours, minutes = divmod(minutes, 60)
    parts = [
        count(number, word)
        for number, word in ((hours, "hour"), (minutes, "minute"), (seconds, "second"))
        if number
    ]
    return f"{values.listed(parts)} {'behind' if offset_s > 0 else 'ahead'}" if parts else "right"


def _paths(paths: Sequence[str]) -> str:
    """Files or folders by name: the first few where there are many."""
    first = [PurePath(path) for path in paths]
    folders = {path.parent for path in first}
    together = len(folders) == 1 and len(paths) > 1
    named = [path.name if together else str(path) for path in first[:PATHS_NAMED]]
    more = [f"{len(paths) - PATHS_NAMED:,} more"] if len(paths) > PATHS_NAMED else []
    return values.listed([*named, *more]) + (f" in {folders.pop()}" if together else "")
