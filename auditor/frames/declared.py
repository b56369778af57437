"""What the photographer declared, looked up for a frame."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePath

from auditor.records import Recorded
from auditor.store.declarations import Declaration


@dataclass(frozen=True, slots=True, kw_only=True)
class ForFrame:
    """Everything that was declared and bears on one frame; None where nothing was."""

    converter_factor: float | None = None
    base_iso: float | None = None
    iso_ceiling: float | None = None
    focus_limit_f_number: float | None = None
    """The f-number in effect up to which the body still focuses well."""
    sensor_diagonal_mm: float | None = None
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

    def __init__(self, declarations: Iterable[Declaration] = ()) -> None:
        active = [one for one in declarations if one.undone_at is None]
        self._by_kind: dict[str, list[Declaration]] = {}
        for one in reversed(active):
            self._by_kind.setdefault(one.kind, []).append(one)

    @property
    def names_paths(self) -> bool:
        """Whether any exclusion names files or folders, so that a frame's paths matter."""
        return any(one.facts.get("paths") for one in self._by_kind.get("exclude", []))

    def for_frame(self, recorded: Recorded, paths: Iterable[str] = ()) -> ForFrame:
        """What bears on a frame.

        Parameters
        ----------
        paths
            Of the frame's files; exclusions may name files and folders.
        """
        if not self._by_kind:
            return NOTHING
        body = [one for one in self._by_kind.get("body", []) if _is_of(one, recorded)]
        clock = [one for one in self._by_kind.get("clock", []) if _is_of(one, recorded)]
        offset_s = float(clock[0].facts["offset_s"]) if clock else 0.0
        taken_at = shifted(recorded.taken_at, offset_s)
        mounted = [
            one
            for one in self._by_kind.get("converter", [])
            if _is_of(one, recorded) and taken_at is not None and _within(one, taken_at)
        ]

        def fact(name: str) -> float | None:
            return next((float(one.facts[name]) for one in body if one.facts.get(name)), None)

        return ForFrame(
            converter_factor=float(mounted[0].facts["factor"]) if mounted else None,
            base_iso=fact("base_iso"),
            iso_ceiling=fact("iso_ceiling"),
            focus_limit_f_number=fact("focus_limit_f_number"),
            sensor_diagonal_mm=fact("sensor_diagonal_mm"),
            clock_offset_s=offset_s,
            excluded=self._excluded(recorded, list(paths)),
        )

    def trips(self) -> list[TripSpan]:
        """Declared trips, the last declared first."""
        return [
            TripSpan(one.facts["name"], one.from_at or "", one.to_at or "", bool(one.facts.get("fixed")))
            for one in self._by_kind.get("trip", [])
        ]

    def _excluded(self, recorded: Recorded, paths: list[str]) -> bool:
        for one in self._by_kind.get("exclude", []):
            if one.body is not None and _is_of(one, recorded):
                return True
            places = one.facts.get("paths", [])
            if any(PurePath(path).is_relative_to(place) for path in paths for place in places):
                return True
        return False


def shifted(taken_at: str | None, offset_s: float) -> str | None:
    """A time by the corrected clock, written as it was recorded."""
    if taken_at is None or offset_s == 0:
        return taken_at
    return (datetime.fromisoformat(taken_at) + timedelta(seconds=offset_s)).isoformat()


def _is_of(declaration: Declaration, recorded: Recorded) -> bool:
    body = declaration.body
    return body is not None and (
        body == recorded.body_serial or body.lower() == (recorded.body_model or "").lower()
    )


def _within(declaration: Declaration, taken_at: str) -> bool:
    after = declaration.from_at is None or taken_at >= declaration.from_at
    return after and (declaration.to_at is None or taken_at <= declaration.to_at)
