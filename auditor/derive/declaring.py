"""Declaring: what declarations would change, frame by frame; keeping them, and taking them back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from pathlib import Path

from auditor.derive.rebuild import rebuild
from auditor.errors import LogbookError
from auditor.frames.body_names import body_names, words_by_name
from auditor.frames.declared import Declared, shifted
from auditor.frames.facts import frame_facts
from auditor.frames.kit import refuses
from auditor.frames.kit_names import shown_bodies
from auditor.frames.spellings import as_declared, plain
from auditor.records import Inferred, Recorded
from auditor.settings import Settings
from auditor.store import declarations, derived
from auditor.store.declarations import Body, Declaration
from auditor.store.declared_facts import (
    BodyFacts,
    ClockFacts,
    ConverterFacts,
    ExcludeFacts,
    RejectedFacts,
    Said,
    Span,
    TripFacts,
    WeightFacts,
)
from auditor.store.logbook import Logbook

BODIES_NAMED = 6
ABOUT_NO_FRAME = (RejectedFacts, WeightFacts)
"""Declarations of these kinds change nothing of any frame."""
WIDEST_S = 2 * 86_400.0
"""The corrected clock is a day from the camera's at most; with a day to spare."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameState:
    """What a declaration can change of a frame."""

    taken_at: str | None
    trip: str | None = None
    """Its name; only where the declaration is about trips."""
    focal_length_mm: float | None = None
    f_number: float | None = None
    lens_name: str | None = None
    """As its kit calls the lens."""
    converter_factor: float | None = None
    iso_without_converter: float | None = None
    sensor_diagonal_mm: float | None = None
    light_value_ev: float | None = None
    excluded: bool = False
    kept_elsewhere: bool = False
    """Whether gaps in the file numbers beside it are frames on other media."""
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """One frame that a declaration changes."""

    file_name: str
    before: FrameState
    after: FrameState


@dataclass(slots=True, kw_only=True)
class Effect:
    """What declarations change."""

    concerned: int = 0
    """Frames of the bodies, paths and trips that they name."""
    changed: list[int] = field(default_factory=list)
    """Ids of the frames that become different."""
    refused: int = 0
    """Frames in the span that record another converter: they stay as they are."""
    example: Example | None = None


def effect_of(logbook: Logbook, statements: Sequence[Said], *, undoing: bool = False) -> Effect:
    """What declarations would change; nothing is written.

    Parameters
    ----------
    statements
        What is to be declared at once; or, with `undoing`, what is to be taken back.
    undoing
        Whether `statements` is taken back instead.

    Returns
    -------
    Effect
        How many frames change, and in what.
    """
    history: list[Said] = list(declarations.history(logbook))
    if undoing:
        before, after = (
            Declared(history),
            Declared(declaration for declaration in history if declaration not in statements),
        )
    else:
        before, after = Declared(history), Declared([*history, *statements])
    new = {id(declaration) for declaration in statements}
    effect = Effect()
    for frame_id, recorded in _concerned(logbook, statements):
        effect.concerned += 1
        paths = derived.paths_of(logbook, frame_id) if before.names_paths or after.names_paths else []
        kit, was = frame_facts(recorded, before.for_frame(recorded, paths))
        becomes = frame_facts(recorded, after.for_frame(recorded, paths))[1]
        kept = before.kept_elsewhere(recorded), after.kept_elsewhere(recorded)
        lens = [as_declared(kit.lens.name, of.lenses_of(recorded)) for of in (before, after)]
        if was != becomes or kept[0] != kept[1] or lens[0] != lens[1]:
            effect.changed.append(frame_id)
            if effect.example is None:
                effect.example = Example(
                    file_name=_file_name(logbook, frame_id),
                    before=_state(was, kept[0], lens[0]),
                    after=_state(becomes, kept[1], lens[1]),
                )
        mounted = after.converter_of(recorded)
        if mounted is not None and id(mounted[0]) in new:
            effect.refused += refuses(recorded, mounted[1].factor)
    for declaration in statements:
        if isinstance(declaration.facts, TripFacts):
            _add_trip(logbook, declaration, declaration.facts, effect)
    return effect


def declare(logbook: Logbook, settings: Settings, statements: Sequence[Said]) -> tuple[int, Effect]:
    """Keep declarations, to be undone as one, and rebuild what they change.

    Parameters
    ----------
    statements
        What is declared at once.

    Returns
    -------
    int, Effect
        The number by which they are undone, and what they changed.

    Raises
    ------
    LogbookError
        where the logbook does not have the body; where they change no frame, with the reason. Facts of a
        body may: flags follow from later frames.
    """
    statements = [
        said if said.body is None else replace(said, body=body_word(logbook, said.body))
        for said in statements
    ]
    effect = effect_of(logbook, statements)
    may_change_none = (BodyFacts, *ABOUT_NO_FRAME)
    if not effect.changed and not any(
        isinstance(declaration.facts, may_change_none) for declaration in statements
    ):
        raise LogbookError(_why_nothing(logbook, statements, effect))
    with logbook.writing():
        numbers = declarations.add(logbook, statements)
        derived.touch(logbook, [*effect.changed, *_of_clocks_said_right(logbook, statements)])
    rebuild(logbook, settings)
    return numbers[0], effect


def undo(logbook: Logbook, settings: Settings, number: int) -> tuple[list[Declaration], Effect]:
    """Take a declaration back, with those that were said at once with it.

    Parameters
    ----------
    number
        Of the declaration, as the list of them shows it.

    Returns
    -------
    What was taken back, and which frames that changed.

    Raises
    ------
    LogbookError
        where there is no such declaration.
    """
    together = declarations.said_together(logbook, number)
    effect = effect_of(logbook, together, undoing=True)
    with logbook.writing():
        declarations.undo(logbook, together)
        derived.touch(logbook, [*effect.changed, *_of_clocks_said_right(logbook, together)])
    rebuild(logbook, settings)
    return together, effect


def body_word(logbook: Logbook, name: str) -> str:
    """What a declaration knows a body by: its serial number, or its model.

    Parameters
    ----------
    name
        Either of them, or what tables, hints and declarations call the body.

    Returns
    -------
    str
        As frames record it.

    Raises
    ------
    LogbookError
        where no body is called so, naming the nearest and those that there are; or several, naming them.
    """
    bodies = declarations.bodies(logbook)
    recorded = [word for body in bodies for word in (body.body_model, body.body_serial) if word]
    same = [word for word in recorded if word == name] or [
        word for word in recorded if word.casefold() == name.casefold()
    ]
    if same:
        return _however_spelled(bodies, same[0])
    kits = derived.kits_in_use(logbook)
    by_name = words_by_name(kits)
    words = by_name.get(name.casefold(), set())
    known = {word for word in words if word is not None}
    if len(words) == len(known) == 1:
        return _however_spelled(bodies, known.pop())
    if known:
        names = body_names(kits)
        meant = sorted(names.get(word, word) for word in known)
        raise LogbookError(f"Several bodies can be meant by {name!r}. Give one of these: {'; '.join(meant)}.")
    shown = shown_bodies(kits)
    models = {kit.body_model for kit in kits if name.casefold() in map(str.casefold, shown[kit.kit_id])}
    if told := sorted(filter(None, models)):
        raise LogbookError(
            f"{name!r} is told from others of its model by the names of its files alone, so nothing can be "
            f"declared about it. Give the model, which stands for all of them: {'; '.join(told)}."
        )
    near = get_close_matches(name, [*recorded, *(each.short for each in shown.values())], 1)
    nearest = f" Did you mean {near[0]!r}?" if near else ""
    there = [" ".join(filter(None, (body.body_model, body.body_serial))) for body in bodies]
    raise LogbookError(
        f"There is no body {name!r} in the logbook.{nearest} "
        f"It has: {'; '.join(there[:BODIES_NAMED]) or 'none'}."
    )


def _however_spelled(bodies: Sequence[Body], word: str) -> str:
    """In place of a model that its one body spells in other ways, too, as after new firmware: its serial."""
    serials = {body.body_serial for body in bodies if (body.body_model or "").casefold() == word.casefold()}
    (serial, *others) = serials or {None}
    if serial is None or others:
        return word
    spelled = {(body.body_model or "").casefold() for body in bodies if body.body_serial == serial}
    return serial if len(spelled) > 1 and len(set(map(plain, spelled))) == 1 else word


def _concerned(logbook: Logbook, statements: Iterable[Said]) -> Iterator[tuple[int, Recorded]]:
    """Frames that declarations name by body or by path, each once; of a body those that the span can hold."""
    seen: set[int] = set()
    asked: set[tuple[str, Span | None]] = set()
    for statement in statements:
        frames: Iterator[tuple[int, Recorded]] = iter(())
        if isinstance(statement.facts, ExcludeFacts) and statement.facts.paths:
            frames = declarations.frames_below(logbook, statement.facts.paths)
        elif statement.body is not None and not isinstance(statement.facts, ABOUT_NO_FRAME):
            between = _span_by_camera(statement)
            if (statement.body, between) not in asked:
                asked.add((statement.body, between))
                frames = declarations.frames_of_body(logbook, statement.body, between)
        for frame_id, recorded in frames:
            if frame_id not in seen:
                seen.add(frame_id)
                yield frame_id, recorded


def _of_clocks_said_right(logbook: Logbook, statements: Iterable[Said]) -> Iterator[int]:
    """Frames whose clock was not off: nothing of theirs changes, but they may be put in another order."""
    for said in statements:
        if isinstance(said.facts, RejectedFacts) and said.facts.about == "clock" and said.body is not None:
            span = Span(said.from_at or "", said.to_at or "~")
            for frame_id, _recorded in declarations.frames_of_body(logbook, said.body, span):
                yield frame_id


def _span_by_camera(statement: Said) -> Span | None:
    """The span by the camera's own clock in which all frames lie that a declaration can change."""
    if isinstance(statement.facts, ConverterFacts) and statement.facts.bursts:
        return Span(
            statement.facts.bursts[0].first_at, max(burst.last_at for burst in statement.facts.bursts)
        )
    if statement.from_at is None or statement.to_at is None:
        return None
    if isinstance(statement.facts, ClockFacts):
        return Span(statement.from_at, statement.to_at)
    return Span(shifted(statement.from_at, -WIDEST_S) or "", shifted(statement.to_at, WIDEST_S) or "")


def _add_trip(logbook: Logbook, statement: Said, facts: TripFacts, effect: Effect) -> None:
    """Count what naming or bounding a trip changes: frames whose trip has another name."""
    frames = declarations.trips_in_span(logbook, statement.from_at or "", statement.to_at or "~")
    effect.concerned += len(frames)
    outside = facts.fixed and declarations.trips_reach_over(
        logbook, statement.from_at or "", statement.to_at or "~"
    )
    undoing = isinstance(statement, Declaration)
    for frame in frames:
        if undoing or outside or frame.trip_name != facts.name:
            effect.changed.append(frame.frame_id)
            if effect.example is None:
                effect.example = Example(
                    file_name=_file_name(logbook, frame.frame_id),
                    before=FrameState(taken_at=frame.taken_at, trip=frame.trip_name),
                    after=FrameState(taken_at=frame.taken_at, trip=facts.name),
                )


def _state(facts: Inferred, kept_elsewhere: bool, lens_name: str | None) -> FrameState:
    return FrameState(
        lens_name=lens_name,
        taken_at=facts.taken_at,
        focal_length_mm=facts.focal_length_mm,
        f_number=facts.f_number,
        converter_factor=facts.converter_factor,
        iso_without_converter=facts.iso_without_converter,
        sensor_diagonal_mm=facts.sensor_diagonal_mm,
        light_value_ev=facts.light_value_ev,
        excluded=facts.excluded,
        kept_elsewhere=kept_elsewhere,
        flags=facts.flags,
    )


def _file_name(logbook: Logbook, frame_id: int) -> str:
    paths = derived.paths_of(logbook, frame_id)
    return Path(paths[0]).name if paths else f"frame {frame_id}"


def _minute(moment: str) -> str:
    """A moment as people write it: 2026-04-18 05:50."""
    return moment[:16].replace("T", " ")


def _why_nothing(logbook: Logbook, statements: Sequence[Said], effect: Effect) -> str:
    """One line for a person: why a declaration would change nothing."""
    statement = statements[0]
    body = body_names(derived.kits(logbook)).get(statement.body or "", statement.body)
    if effect.refused:
        return (
            "Nothing was declared: the frames in that span record another converter, and what a frame "
            f"records stands ({effect.refused} of {effect.concerned} frames of {body})."
        )
    if isinstance(statement.facts, ExcludeFacts) and statement.facts.paths and not effect.concerned:
        return f"{statement.facts.paths[0]}: the logbook knows no frames there. See: auditor frames"
    if isinstance(statement.facts, TripFacts):
        if effect.concerned:
            return f"Nothing was declared: these frames are a trip named {statement.facts.name!r} already."
        return "Nothing was declared: no frames were taken in that span. See: auditor frames"
    if statement.body is not None:
        own_clock = isinstance(statement.facts, ClockFacts)
        span = declarations.span_of_body(logbook, statement.body, by_camera_clock=own_clock)
        if span is not None:
            clock = " by its own clock" if own_clock else ""
            return (
                f"Nothing was declared: it would change no frame. The frames of {body} run from "
                f"{_minute(span.first_at)} to {_minute(span.last_at)}{clock}."
            )
    return "Nothing was declared: it would change no frame."
