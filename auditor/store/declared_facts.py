"""What a photographer can say that no file records: the facts of each kind of declaration."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, NamedTuple


class Span(NamedTuple):
    """First and last moment, both included, as text in ISO 8601."""

    first_at: str
    last_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConverterFacts:
    """A converter that did not report itself."""

    factor: float
    """1.0 for none."""
    bursts: tuple[Span, ...] = ()
    """Where given, it was on for these bursts alone; by the camera's own clock, so that no later declaration
    about the clock moves them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BodyFacts:
    """What is true of a body at any time; None where nothing was said."""

    focus_limit_f_number: float | None = None
    """The f-number in effect up to which the body still focuses well."""
    base_iso: float | None = None
    iso_ceiling: float | None = None
    sensor_diagonal_mm: float | None = None
    auto_iso: bool | None = None
    """Whether ISO was left to the body where exposure was set by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFacts:
    """A clock that was off."""

    offset_s: float
    """To be added to what the body's clock said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TripFacts:
    """A trip's name, and perhaps its ends."""

    name: str
    fixed: bool = False
    """Whether the ends are the photographer's too, or only marks by which the trip is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExcludeFacts:
    """Frames that are left out of every table: all of a body, or those of files and folders."""

    paths: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ElsewhereFacts:
    """Frames of a body that were kept on other media: gaps in its file numbers are no deleting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightFacts:
    """What a body, a lens or a converter weighs; a body is named by `Said.body`."""

    weight_g: float
    lens: str | None = None
    """Its whole name, as the logbook has it."""
    converter_factor: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LensFacts:
    """A lens that a body's files call by two names: one lens all the same."""

    lens: str
    """As some of them call it."""
    name: str
    """As others do, and kits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectedFacts:
    """A hint that the photographer rejected, so that it is not given again."""

    about: str
    """What the hint was about: converter, clock, date, phone or lens."""
    value: float | None = None
    """The factor, or the offset in seconds, that it offered."""
    bursts: tuple[Span, ...] = ()
    """The bursts of a hint on a converter, by the camera's own clock."""
    lenses: tuple[str, ...] = ()
    """The two names of a hint on a lens, the later one first."""


Facts = (
    ConverterFacts
    | BodyFacts
    | ClockFacts
    | TripFacts
    | ExcludeFacts
    | ElsewhereFacts
    | WeightFacts
    | LensFacts
    | RejectedFacts
)
KINDS: dict[str, type[Facts]] = {
    "converter": ConverterFacts,
    "body": BodyFacts,
    "clock": ClockFacts,
    "trip": TripFacts,
    "exclude": ExcludeFacts,
    "elsewhere": ElsewhereFacts,
    "weight": WeightFacts,
    "lens": LensFacts,
    "rejected_hint": RejectedFacts,
}
_KIND_OF = {facts: kind for kind, facts in KINDS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One thing to declare. Spans are by the corrected clock, as tables show it; that of a clock is by the
    camera's own, since it says what is to be corrected."""

    facts: Facts
    body: str | None = None
    """A serial number or a model."""
    from_at: str | None = None
    to_at: str | None = None

    @property
    def kind(self) -> str:
        """A word of KINDS."""
        return _KIND_OF[type(self.facts)]


def as_json(facts: Facts) -> dict[str, Any]:
    """Facts as the logbook keeps them: what was not said is left out.

    Parameters
    ----------
    facts
        Of one declaration.

    Returns
    -------
    dict[str, Any]
        By the names of its fields.
    """
    return {
        name: list(value) if isinstance(value, tuple) else value
        for name, value in asdict(facts).items()
        if value not in (None, ())
    }


def from_json(kind: str, facts: dict[str, Any]) -> Facts:
    """Facts as they were kept.

    Parameters
    ----------
    kind
        Such as `converter`.
    facts
        As `as_json` gave them.

    Returns
    -------
    Facts
        Of the class that goes with `kind`.
    """
    known = dict(facts)
    if "bursts" in known:
        known["bursts"] = tuple(Span(*span) for span in known["bursts"])
    for several in ("paths", "lenses"):
        if several in known:
            known[several] = tuple(known[several])
    return KINDS[kind](**known)
