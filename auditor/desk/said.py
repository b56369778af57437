"""What was said so far, to be looked through and taken back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from auditor.derive.declaring import effect_of
from auditor.desk import forms
from auditor.desk.desk import Desk
from auditor.desk.kept import Kept
from auditor.desk.reports import state_of
from auditor.report.text import declarations as text
from auditor.report.text import values
from auditor.store.declarations import Declaration, said_together
from auditor.store.declared_facts import RejectedFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidAtOnce:
    """What was said at once, and is taken back at once."""

    number: int
    """By which it is taken back."""
    sentences: tuple[str, ...]
    said_at: str
    """Where the computer stands, not in UTC."""
    taken_back: bool


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    return [Route("/said/{number:int}/changes", forms.on_page(partial(_changes, desk, Kept())))]


def said_at_once(history: Iterable[Declaration], names: Mapping[str, str]) -> list[SaidAtOnce]:
    """Everything that was ever said, the newest first.

    Parameters
    ----------
    history
        The oldest first.
    names
        What bodies are called.
    """
    together: dict[int, list[Declaration]] = defaultdict(list)
    for declaration in history:
        together[declaration.said_with or declaration.declaration_id].append(declaration)
    return [
        SaidAtOnce(
            number=number,
            sentences=tuple(values.capital(text.sentence(each, names)) for each in members),
            said_at=datetime.fromisoformat(members[0].said_at).astimezone().isoformat(),
            taken_back=members[0].undone_at is not None,
        )
        for number, members in sorted(together.items(), reverse=True)
    ]


def _changes(desk: Desk, kept: Kept[str], request: Request) -> Response:
    """What taking it back changes, as JSON: every frame of a body may have to be looked at."""
    number = request.path_params["number"]
    with desk.book() as book:
        together = said_together(book, number)

        def work_out() -> str:
            effect = effect_of(book, together, undoing=True)
            asked_again = any(isinstance(each.facts, RejectedFacts) for each in together)
            return text.taking_back(len(effect.changed), asked_again=asked_again)

        return JSONResponse({"said": kept.of(number, state_of(desk.logbook_path, desk.settings), work_out)})
