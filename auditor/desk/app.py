"""The desk as an application: its parts, and the guard in front of them."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp

from auditor.desk import handing_over, looking, mounting, pictures, said, settling, trips
from auditor.desk.desk import Desk, page, static_text
from auditor.desk.guard import Guard

KINDS = {".css": "text/css", ".js": "text/javascript"}


def application(desk: Desk, *, port: int, secret: str) -> ASGIApp:
    """Everything that the desk answers, behind its guard.

    Parameters
    ----------
    desk
        The logbook, and the work that runs.
    port
        On which it listens, since requests for any other are refused.
    secret
        Of this run.
    """
    modules = (trips, looking, pictures, settling, said, handing_over, mounting)
    routes = [
        Route("/favicon.ico", lambda _request: Response(status_code=204)),
        Route("/static/{name}", _static),
        *(route for module in modules for route in module.routes(desk)),
    ]
    app = Starlette(routes=routes, exception_handlers={404: _unknown, 405: _unknown})
    return Guard(app, port=port, secret=secret)


def _static(request: Request) -> Response:
    name = request.path_params["name"]
    text = static_text(name)
    if text is None:
        return _unknown(request, LookupError(name))
    kind = KINDS["." + name.rpartition(".")[2]]
    return Response(text, media_type=kind, headers={"Cache-Control": "private, max-age=60"})


def _unknown(_request: Request, _error: Exception) -> Response:
    return page("message.html", status=404, title="Not here", said="The desk has no such page.")
