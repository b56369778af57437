"""What a page sends: the fields of a form, as text; checked by the routes that use them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from urllib.parse import parse_qs

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from auditor.desk.desk import page
from auditor.errors import AuditorError

MOST_BYTES = 1_000_000
"""Of one form: a burst's number takes ten, so that this is far beyond any page."""

LONGEST_NUMBER = 16
"""Digits: ids are SQLite's 64-bit integers, and none is that large."""

Fields = Mapping[str, list[str]]


def field(fields: Fields, name: str) -> str:
    """One field; empty where it was not sent."""
    return fields.get(name, [""])[-1].strip()


def folder(fields: Fields) -> str:
    """The folder that was typed, or pasted as file managers copy it: in quotes."""
    text = field(fields, "folder")
    return text[1:-1].strip() if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'" else text


def number(fields: Fields, name: str) -> int | None:
    """One field as a whole number; None where it is none."""
    text = field(fields, name)
    return int(text) if _is_number(text) else None


def numbers(fields: Fields, name: str) -> list[int]:
    """All numbers that were sent under a name."""
    return [int(text) for text in fields.get(name, []) if _is_number(text)]


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < LONGEST_NUMBER


def on_form(handler: Callable[[Request, Fields], Response]) -> Callable[..., object]:
    """A route that gets what a form sent; it runs in a thread, since logbooks and files make it wait."""

    async def route(request: Request) -> Response:
        body = bytearray()
        async for chunk in request.stream():
            body += chunk
            if len(body) > MOST_BYTES:
                return refused(ValueError("That is more than a form holds."), 413)
        fields = parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True)
        return await run_in_threadpool(_answered, handler, request, fields)

    return route


def on_page(
    handler: Callable[[Request], Response], back: Callable[[Request], str] = lambda _request: "/"
) -> Callable[[Request], Response]:
    """A route that shows a page; what goes wrong is one line on it, and leads back."""

    def route(request: Request) -> Response:
        try:
            return handler(request)
        except AuditorError as error:
            return refused(error, back="" if request.url.path == "/" else back(request))

    return route


def on_question(handler: Callable[[Request, Fields], Response]) -> Callable[[Request], Response]:
    """A route that gets what a form asks in its address, so that the browser can go back to the answer."""

    def asked(request: Request) -> Response:
        given = request.query_params
        return handler(request, {name: given.getlist(name) for name in given})

    return on_page(asked, back=_page_above)


def _page_above(request: Request) -> str:
    return request.url.path.rpartition("/")[0] or "/"


def refused(error: Exception, status: int = 409, back: str = "") -> Response:
    """A page that says in one line what could not be done, and leads to the page that it was asked on."""
    return page("message.html", status=status, title="That did not work", said=str(error), back=back)


def _answered(handler: Callable[[Request, Fields], Response], request: Request, fields: Fields) -> Response:
    try:
        return handler(request, fields)
    except AuditorError as error:
        return refused(error, back=_page_above(request))
