"""Who may talk to the desk: the browser that was given its address, from the desk's own pages alone.

The server listens on the loopback address. Other pages in the same browser can still send it requests, and a
name that another site controls can be made to lead here; so every request is checked first.
"""

from __future__ import annotations

import hmac
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOST = "127.0.0.1"
SECRET = "key"
"""Name of the secret of a run in the address that opens the desk."""
READING = frozenset(["GET", "HEAD"])
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",  # a fetched part of a frame, made into a picture by the page itself
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Content Security Policy Level 3 (W3C): nothing inline runs, and nothing comes from elsewhere."""
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # with no-referrer, forms would be sent with the origin "null"
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
ASK_THE_TERMINAL = "Open the desk by the address that the terminal printed: it holds the key of this run."


class Guard:
    """Lets requests of the desk's own pages through, and answers all others with one line."""

    def __init__(self, app: ASGIApp, *, port: int, secret: str) -> None:
        self.app = app
        self.host = f"{HOST}:{port}"
        self.secret = secret
        # Cookies do not tell ports apart: two desks on one machine each need a name of their own.
        self.cookie = f"desk-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check a request, then pass it on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refused = self._refused(scope)
        app = self.app if refused is None else refused
        await app(scope, receive, _with_headers(send))

    def _refused(self, scope: Scope) -> Response | None:
        """The answer to a request that must not pass; None for one that may."""
        headers = Headers(scope=scope)
        if headers.get("host") != self.host:  # a name made to lead here (DNS rebinding)
            return PlainTextResponse(f"The desk answers at {self.host} alone.", 403)
        if self._opening(scope):
            opened = RedirectResponse("/", 303)
            opened.set_cookie(self.cookie, self.secret, httponly=True, samesite="strict")
            return opened
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return PlainTextResponse("Another page may not use the desk.", 403)
        if scope["method"] not in READING and headers.get("origin") != f"http://{self.host}":
            return PlainTextResponse("Another page may not change anything here.", 403)
        if not self._knows(headers.get("cookie", "")):
            return PlainTextResponse(ASK_THE_TERMINAL, 403)
        return None

    def _opening(self, scope: Scope) -> bool:
        """Whether this is the address that the terminal printed."""
        given = parse_qs(scope["query_string"].decode("latin-1")).get(SECRET, [])
        return (
            scope["method"] == "GET"
            and scope["path"] == "/"
            and len(given) == 1
            and self._is_secret(given[0])
        )

    def _knows(self, cookies: str) -> bool:
        try:
            morsel = SimpleCookie(cookies).get(self.cookie)
        except CookieError:
            return False
        return morsel is not None and self._is_secret(morsel.value)

    def _is_secret(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self.secret.encode())


def _with_headers(send: Send) -> Send:
    """Answers carry the desk's headers, except where a route has set its own."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending
