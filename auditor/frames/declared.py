"""What the photographer declared, looked up for a frame."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePath
from typing import TypeVar

from auditor.frames.spellings import names_of_lens, plain
from auditor.records import Recorded
from auditor.serials import NO_SERIAL
from auditor.store.declarations import Declaration
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

F = TypeVar("F", bound=Facts)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForFrame:
    """Everything that was declared and bears on one frame; None where nothing was."""

    converter_factor: float | None = None
    base_iso: float | None = None
    iso_ceiling: float | None = None
    focus_limit_f_number: float | None = None
    """The f-number in effect up to which the body still focuses well."""
    sensor_diagonal_mm: float | None = None
    auto_iso: bool | None = None
    """Whether ISO was left to the body where exposure was set by hand."""
    clock_offset_s: float = 0.0
    """To be added to what the body's clock said."""
    excluded: bool = False


NOTHING = ForFrame()


@dataclass(frozen=True, slots=True)
class TripSpan:
    """A trip whose name, and perhaps ends, were declared."""

    name: str
    from_at: str
    to_at: str
    fixed: bool
    """Whether the ends are the photographer's too, or only marks by which to know the trip."""


class Declared:
    """Active declarations; a later one of the same kind goes before an earlier one."""

    def __init__(self, declarations: Iterable[Said] = ()) -> None:
        active = [
            statement
            for statement in declarations
            if not (isinstance(statement, Declaration) and statement.undone_at)
        ]
        self._bodies = _of_kind(active, BodyFacts)
        self._clocks = _of_kind(active, ClockFacts)
        self._converters = [
            (said, facts, sorted(facts.bursts)) for said, facts in _of_kind(active, ConverterFacts)
        ]
        self._exclusions = _of_kind(active, ExcludeFacts)
        self._trips = _of_kind(active, TripFacts)
        self._elsewhere = _of_kind(active, ElsewhereFacts)
        self._weights = _of_kind(active, WeightFacts)
        self._lenses = _of_kind(active, LensFacts)
        self._rejected = _of_kind(active, RejectedFacts)
        self._concerns_frames = bool(self._bodies or self._clocks or self._converters or self._exclusions)

    @property
    def names_paths(self) -> bool:
        """Whether any exclusion names files or folders, so that a frame's paths matter."""
        return any(facts.paths for _said, facts in self._exclusions)

    def for_frame(self, recorded: Recorded, paths: Iterable[str] = ()) -> ForFrame:
        """What bears on a frame.

        Parameters
        ----------
        recorded
            Of the frame.
        paths
            Of the frame's files; exclusions may name files and folders.

        Returns
        -------
        ForFrame
            NOTHING where no declaration concerns it.
        """
        if not self._concerns_frames:
            return NOTHING
        offset_s = self._offset_s(recorded)
        taken_at = shifted(recorded.taken_at, offset_s)
        mounted = self._converter(recorded, taken_at)
        bodies = [facts for said, facts in self._bodies if is_of(said, recorded)]

        def fact(name: str) -> float | None:
            return next((value for facts in bodies if (value := getattr(facts, name)) is not None), None)

        return ForFrame(
            converter_factor=mounted[1].factor if mounted else None,
            base_iso=fact("base_iso"),
            iso_ceiling=fact("iso_ceiling"),
            focus_limit_f_number=fact("focus_limit_f_number"),
            sensor_diagonal_mm=fact("sensor_diagonal_mm"),
            auto_iso=next((facts.auto_iso for facts in bodies if facts.auto_iso is not None), None),
            clock_offset_s=offset_s,
            excluded=self._excluded(recorded, taken_at, list(paths)),
        )

    def converter_of(self, recorded: Recorded) -> tuple[Said, ConverterFacts] | None:
        """The declaration that says which converter was on for a frame; None where none does.

        Parameters
        ----------
        recorded
            Of the frame.

        Returns
        -------
        tuple[Said, ConverterFacts] or None
            The declaration and its facts; of several the last.
        """
        return self._converter(recorded, shifted(recorded.taken_at, self._offset_s(recorded)))

    def kept_elsewhere(self, recorded: Recorded) -> bool:
        """Whether frames beside this one were kept on other media, so that gaps in its numbers mean nothing.

        Parameters
        ----------
        recorded
            Of the frame.

        Returns
        -------
        bool
            By body and time.
        """
        taken_at = shifted(recorded.taken_at, self._offset_s(recorded))
        return any(is_of(said, recorded) and _within(said, taken_at) for said, _facts in self._elsewhere)

    def lenses_of(self, recorded: Recorded) -> list[LensFacts]:
        """Lenses that the body of a frame calls by two names; `spellings.as_declared` calls them by one.

        Parameters
        ----------
        recorded
            Of the frame.

        Returns
        -------
        list[LensFacts]
            The last declared first.
        """
        return [facts for said, facts in self._lenses if is_of(said, recorded)] if self._lenses else []

    def names_of_lens(self, lens_name: str) -> frozenset[str]:
        """Every name of a lens, as `spellings.plain` has them: by spelling, and by what was declared.

        Parameters
        ----------
        lens_name
            Any of them.

        Returns
        -------
        frozenset[str]
            The same for each name of one lens.
        """
        return names_of_lens(lens_name, self.lenses())

    def lenses(self) -> list[LensFacts]:
        """Lenses that any body calls by two names, the last declared first."""
        return [facts for _said, facts in self._lenses]

    def elsewhere(self) -> list[Said]:
        """Bodies and spans whose frames were kept on other media, the last declared first."""
        return [said for said, _facts in self._elsewhere]

    def body_weight_g(self, recorded: Recorded) -> float | None:
        """What the body that a frame was taken with weighs; None where that was not said.

        Parameters
        ----------
        recorded
            Of the frame.

        Returns
        -------
        float or None
            Grams.
        """
        return next((facts.weight_g for said, facts in self._weights if is_of(said, recorded)), None)

    def lens_weight_g(self, lens_name: str) -> float | None:
        """What a lens weighs, without a converter; None where that was not said.

        Parameters
        ----------
        lens_name
            Any of its names.

        Returns
        -------
        float or None
            Grams.
        """
        names = self.names_of_lens(lens_name)
        weights = (
            facts.weight_g for _said, facts in self._weights if facts.lens and plain(facts.lens) in names
        )
        return next(weights, None)

    def converter_weight_g(self, factor: float) -> float | None:
        """What the converter of this factor weighs; None where that was not said.

        Parameters
        ----------
        factor
            Of the converter.

        Returns
        -------
        float or None
            Grams.
        """
        weights = (facts.weight_g for _said, facts in self._weights if facts.converter_factor == factor)
        return next(weights, None)

    def trips(self) -> list[TripSpan]:
        """Declared trips, the last declared first."""
        return [
            TripSpan(facts.name, said.from_at or "", said.to_at or "", facts.fixed)
            for said, facts in self._trips
        ]

    def clocks_right(self) -> list[Said]:
        """Bodies and spans, by the camera's own clock, of which it was said that the clock was not off."""
        return [said for said, facts in self._rejected if facts.about == "clock"]

    def _offset_s(self, recorded: Recorded) -> float:
        """To be added to what the clock said; its span is by the camera's own clock."""
        for said, facts in self._clocks:
            if is_of(said, recorded) and _within(said, recorded.taken_at):
                return facts.offset_s
        return 0.0

    def _converter(self, recorded: Recorded, taken_at: str | None) -> tuple[Said, ConverterFacts] | None:
        for said, facts, bursts in self._converters:
            if is_of(said, recorded):
                if bursts and _in_bursts(recorded.taken_at, bursts):
                    return said, facts
                if not bursts and _within(said, taken_at):
                    return said, facts
        return None

    def _excluded(self, recorded: Recorded, taken_at: str | None, paths: list[str]) -> bool:
        for said, facts in self._exclusions:
            if is_of(said, recorded) and _within(said, taken_at):
                return True
            if any(PurePath(path).is_relative_to(place) for path in paths for place in facts.paths):
                return True
        return False


def shifted(taken_at: str | None, offset_s: float) -> str | None:
    """A time by the corrected clock, written as it was recorded.

    Parameters
    ----------
    taken_at
        Local time, ISO 8601; None where it was not recorded.
    offset_s
        Seconds to add.

    Returns
    -------
    str or None
        ISO 8601; None where nothing was recorded.
    """
    if taken_at is None or offset_s == 0:
        return taken_at
    return (datetime.fromisoformat(taken_at) + timedelta(seconds=offset_s)).isoformat()


def is_of(said: Said, recorded: Recorded) -> bool:
    """Whether a frame was taken with the body that a declaration names.

    Parameters
    ----------
    said
        A declaration, of any kind.
    recorded
        Of a frame.

    Returns
    -------
    bool
        By serial number, or by model in any case; that of a body without a serial number may say so.
    """
    if said.body is None:
        return False
    body, model = said.body.lower(), (recorded.body_model or "").lower()
    if recorded.body_serial is None:
        return body in (model, model + NO_SERIAL)
    return said.body == recorded.body_serial or body == model


def _of_kind(said: list[Said], kind: type[F]) -> list[tuple[Said, F]]:
    """Those of one kind, the last said first."""
    return [(statement, statement.facts) for statement in reversed(said) if isinstance(statement.facts, kind)]


def _within(said: Said, moment: str | None) -> bool:
    """Whether a moment lies in a declaration's span; a moment that is not known, in one without ends."""
    if moment is None:
        return said.from_at is None and said.to_at is None
    return (said.from_at is None or moment >= said.from_at) and (said.to_at is None or moment <= said.to_at)


def _in_bursts(taken_at: str | None, bursts: list[Span]) -> bool:
    """Whether a moment of the camera's clock lies in one of these bursts, which are in order of time."""
    if taken_at is None:
        return False
    place = bisect_right(bursts, taken_at, key=lambda burst: burst.first_at) - 1
    return place >= 0 and taken_at <= bursts[place].last_at
