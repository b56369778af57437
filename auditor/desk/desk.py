"""What the routes share: the logbook, the work that runs, and the templates."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.responses import HTMLResponse, Response, StreamingResponse

from auditor import __version__
from auditor.desk.work import Work
from auditor.jobs.crew import Limits
from auditor.jobs.opening import up_to_date
from auditor.jobs.views import Views
from auditor.report.jinja import environment
from auditor.report.text import outcomes, values
from auditor.settings import Settings, load, settings_path
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    from jinja2 import Environment


PART_PIECES = 400
"""Pieces of a template to a part: some twenty kilobytes."""


@dataclass(slots=True)
class Desk:
    """One run of the desk."""

    logbook_path: Path
    jobs: int = 1
    work: Work = field(default_factory=Work)
    views: Views = field(init=False)
    """Shows whole frames."""
    close_asked: bool = False
    """The photographer pressed close: the server ends after this answer."""

    def __post_init__(self) -> None:
        self.views = Views(self._limits)

    @contextmanager
    def book(self) -> Iterator[Logbook]:
        """The logbook, up to date: a connection for each request, since SQLite's are of one thread."""
        with up_to_date(self.logbook_path) as logbook:
            yield logbook

    def _limits(self) -> Limits:
        settings = self.settings
        return Limits(longest_s=settings.file_longest_s, memory_gib=settings.file_memory_gib)

    @property
    def settings(self) -> Settings:
        """As they are in the file beside the logbook now."""
        return load(settings_path(self.logbook_path.absolute()))


def page(name: str, *, status: int = 200, **shown: Any) -> Response:
    """A page of the desk from its template."""
    return HTMLResponse(_environment().get_template(name).render(**shown), status)


def page_in_parts(name: str, **shown: Any) -> Response:
    """A long page of the desk, sent as it is made: its head is on the screen while the rest is read."""
    parts = _environment().get_template(name).stream(**shown)
    parts.enable_buffering(PART_PIECES)
    return StreamingResponse(parts, media_type="text/html")


def as_json(value: object) -> str:
    """JSON for an attribute or a stream."""
    return json.dumps(value, allow_nan=False, default=str)


@cache
def static_text(name: str) -> str | None:
    """A style sheet or a module of the desk by its name; None for anything else."""
    folder = resources.files("auditor.desk") / "static"
    names = {entry.name for entry in folder.iterdir() if entry.is_file()}
    return (folder / name).read_text(encoding="utf-8") if name in names else None


@cache
def _environment() -> Environment:
    of_desk = environment("auditor.desk", lambda value: values.plain(value) if type(value) is str else value)
    of_desk.globals.update(values=values, outcomes=outcomes, version=__version__, as_json=as_json)
    return of_desk
