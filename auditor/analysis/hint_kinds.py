"""What a hint asks, and what accepting or rejecting it says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from auditor.store.bursts import BodyDates, BurstLight
from auditor.store.declared_facts import (
    ClockFacts,
    ConverterFacts,
    ExcludeFacts,
    LensFacts,
    RejectedFacts,
    Said,
    Span,
)

HOUR_S = 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """The trip that a hint belongs to."""

    trip_id: int
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AboutBody:
    """What every hint has: a trip, and the body that it asks about."""

    trip: Trip
    body: str
    """Serial, or model where there is none."""
    names: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)
    """What bodies are called, by `body`."""

    @property
    def body_name(self) -> str:
        """What its body is called."""
        return self.called(self.body)

    def called(self, body: str) -> str:
        """What another body of the logbook is called."""
        return self.names.get(body, body)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConverterHint(AboutBody):
    """One question about a body and a stretch of time: was a converter on that does not report itself?"""

    factor: float
    bursts: tuple[BurstLight, ...]
    """Those that are suspected, and none between them."""

    @property
    def said(self) -> Said:
        """What accepting it declares."""
        return Said(facts=ConverterFacts(factor=self.factor, bursts=self._spans), body=self.body)

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="converter", value=self.factor, bursts=self._spans)
        return Said(facts=facts, body=self.body)

    @property
    def _spans(self) -> tuple[Span, ...]:
        return tuple(Span(burst.camera_first_at, burst.camera_last_at) for burst in self.bursts)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockHint(AboutBody):
    """The clocks of two bodies disagree on a trip."""

    reference: str
    """The body that took more bursts: its clock is taken to be right."""
    hours: float
    """To be added to the clock of `body`: whole ones, halves or quarters."""
    stated: bool
    """They state different time zones; otherwise their bursts fall together far oftener when shifted."""
    first_at: str
    """First frame of `body` on the trip by its own clock, as `last_at`."""
    last_at: str

    @property
    def said(self) -> Said:
        """What accepting it declares."""
        facts = ClockFacts(offset_s=self.hours * HOUR_S)
        return Said(facts=facts, body=self.body, from_at=self.first_at, to_at=self.last_at)

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="clock", value=self.hours * HOUR_S)
        return Said(facts=facts, body=self.body, from_at=self.first_at, to_at=self.last_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateHint(AboutBody):
    """A body whose clock was years off. By how much, only the photographer knows."""

    first_at: str
    last_at: str
    other: BodyDates | None = None
    """The body in the same folder that is years away; None for a date in the future."""

    said: None = None

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="date")
        return Said(facts=facts, body=self.body, from_at=self.first_at, to_at=self.last_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneHint(AboutBody):
    """A body that is a phone by its sensor and lens: its pictures count in every table."""

    frames: int
    """Of the trip."""
    first_at: str
    last_at: str

    @property
    def said(self) -> Said:
        """What accepting it declares."""
        return Said(facts=ExcludeFacts(), body=self.body)

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        return Said(facts=RejectedFacts(about="phone"), body=self.body)


@dataclass(frozen=True, slots=True, kw_only=True)
class LensHint(AboutBody):
    """A lens whose name a body's files give up when another begins, all else alike: is it one lens?"""

    lens: str
    """The later name."""
    earlier: str
    frames: int
    """Under the later name."""
    first_at: str
    last_at: str

    @property
    def said(self) -> Said:
        """What accepting it declares."""
        return Said(facts=LensFacts(lens=self.lens, name=self.earlier), body=self.body)

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="lens", lenses=(self.lens, self.earlier))
        return Said(facts=facts, body=self.body)


Hint = ConverterHint | ClockHint | DateHint | PhoneHint | LensHint
