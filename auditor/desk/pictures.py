"""Pictures of frames, by the number that the logbook knows them by: the browser never names a file."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route

from auditor.desk.desk import Desk
from auditor.errors import WorkerLostError
from auditor.jobs.views import GONE, Seen, View
from auditor.store.crops import colour_path, crop_path, keep
from auditor.store.listed_frames import FrameToShow, to_show
from auditor.store.logbook import open_logbook

MOST_PX = 4000
"""No screen shows more than that at once."""
WHILE_OPEN = {"Cache-Control": "private, max-age=3600"}


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""

    def area(request: Request) -> Response:
        """The kept picture of the focus area."""
        desk.views.get_ready()  # what is looked at small is looked at whole next
        path = crop_path(desk.logbook_path.absolute(), request.path_params["frame_id"])
        if not path.is_file():
            return PlainTextResponse("No picture of this focus area is kept.", 404)
        return FileResponse(path, media_type="image/jpeg", headers=WHILE_OPEN)

    def square(request: Request) -> Response:
        """What the kept picture of the focus area shows, in colour; nothing where the file is not there."""
        frame_id = request.path_params["frame_id"]
        kept = colour_path(desk.logbook_path.absolute(), frame_id, "square")
        if not kept.is_file():
            data = _square(desk, frame_id)
            if data is None:
                return Response(status_code=204)
            keep(kept, data)
            return Response(data, media_type="image/jpeg", headers=WHILE_OPEN)
        return FileResponse(kept, media_type="image/jpeg", headers=WHILE_OPEN)

    def whole(request: Request) -> Response:
        """The whole frame, no larger than asked for."""
        return _shown(desk, request, (MOST_PX, _asked(request, "width", 1200)), None)

    def place(request: Request) -> Response:
        """A part of the frame at 100 %, around a point."""
        size = _asked(request, "height", 800), _asked(request, "width", 1200)
        return _shown(desk, request, size, (_share(request, "x"), _share(request, "y")))

    return [
        Route("/frames/{frame_id:int}/area.jpg", area),
        Route("/frames/{frame_id:int}/square.jpg", square),
        Route("/frames/{frame_id:int}/whole.jpg", whole),
        Route("/frames/{frame_id:int}/place.jpg", place),
    ]


def _frame(desk: Desk, frame_id: int) -> FrameToShow | None:
    with open_logbook(desk.logbook_path) as book:
        return next(iter(to_show(book, [frame_id])), None)


def _seen(
    desk: Desk, where: FrameToShow, size_px: tuple[int, int], centre: tuple[float, float] | None
) -> Seen:
    if where.path is None:
        return Seen(why_not=GONE)
    try:
        return desk.views.seen(View(where.path, where.orientation, *size_px, centre))
    except WorkerLostError as error:
        return Seen(why_not=str(error))


def _square(desk: Desk, frame_id: int) -> bytes | None:
    """Cut from the file exactly as the grey picture was; None where that cannot be done."""
    import simplejpeg

    where = _frame(desk, frame_id)
    if where is None:
        return None
    try:
        grey = crop_path(desk.logbook_path.absolute(), frame_id).read_bytes()
        rows, columns, *_ = simplejpeg.decode_jpeg_header(grey)
    except (OSError, ValueError):
        return None
    return _seen(desk, where, (rows, columns), (where.x, where.y)).jpeg or None


def _shown(
    desk: Desk, request: Request, size_px: tuple[int, int], centre: tuple[float, float] | None
) -> Response:
    where = _frame(desk, request.path_params["frame_id"])
    if where is None:
        return PlainTextResponse("The logbook has no such frame.", 404)
    seen = _seen(desk, where, size_px, centre)
    if seen.why_not:
        return PlainTextResponse(seen.why_not, 404)
    headers = {"X-Frame-Width": str(seen.frame_width_px), "X-Frame-Height": str(seen.frame_height_px)}
    return Response(seen.jpeg, media_type="image/jpeg", headers=WHILE_OPEN | headers)


def _asked(request: Request, name: str, usual: int) -> int:
    """A number of pixels from the address, within what a screen shows."""
    text = request.query_params.get(name, "")
    return min(MOST_PX, max(1, int(text))) if text.isascii() and text.isdigit() and len(text) < 7 else usual


def _share(request: Request, name: str) -> float:
    """A place from the address, 0 to 1; the middle where it is none."""
    try:
        value = float(request.query_params.get(name, ""))
    except ValueError:
        return 0.5
    return min(1.0, max(0.0, value)) if value == value else 0.5
