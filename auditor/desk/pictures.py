"""Pictures of frames, by the number that the logbook knows them by: the browser never names a file."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route

from auditor.desk.desk import Desk
from auditor.errors import UnreadableFileError
from auditor.file_names import as_path
from auditor.readers.colour_cuts import as_jpeg, part
from auditor.store.crops import colour_path, crop_path, keep
from auditor.store.listed_frames import FrameToShow, to_show
from auditor.store.logbook import open_logbook

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MOST_PX = 4000
"""No screen shows more than that at once."""
QUALITY = 90
DECODED_BYTES = 320_000_000
"""What is kept decoded: four frames of 24 megapixels, so that two can be looked at in turn."""
WHILE_OPEN = {"Cache-Control": "private, max-age=3600"}
GONE = "The file of this frame is not there now: plug in its card or disk."


class DecodedFrames:
    """The frames that were decoded last, in colour."""

    def __init__(self, most_bytes: int = DECODED_BYTES) -> None:
        self.most_bytes = most_bytes
        self._pictures: OrderedDict[tuple[str, int], NDArray[np.uint8]] = OrderedDict()
        self._lock = threading.Lock()
        self._decoding = threading.Lock()

    def picture(self, place: FrameToShow) -> NDArray[np.uint8]:
        """A frame in colour, upright.

        Raises
        ------
        UnreadableFileError
            where the file cannot be got at or decoded.
        """
        from auditor.errors import FileAccessError
        from auditor.readers.colour import colour

        if place.path is None:
            raise FileAccessError("", GONE, stage="pixels")
        try:
            key = place.path, as_path(place.path).stat().st_mtime_ns
        except OSError as error:
            raise FileAccessError(place.path, GONE, stage="pixels") from error
        with self._decoding:  # two views of one frame ask at the same moment: it is decoded once
            with self._lock:
                if key in self._pictures:
                    self._pictures.move_to_end(key)
                    return self._pictures[key]
            picture = colour(place.path, place.orientation)
            with self._lock:
                self._pictures[key] = picture
                while len(self._pictures) > 1 and self._kept_bytes() > self.most_bytes:
                    self._pictures.popitem(last=False)
            return picture

    def _kept_bytes(self) -> int:
        return sum(picture.nbytes for picture in self._pictures.values())


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    decoded = DecodedFrames()

    def area(request: Request) -> Response:
        """The kept picture of the focus area."""
        path = crop_path(desk.logbook_path.absolute(), request.path_params["frame_id"])
        if not path.is_file():
            return PlainTextResponse("No picture of this focus area is kept.", 404)
        return FileResponse(path, media_type="image/jpeg", headers=WHILE_OPEN)

    def square(request: Request) -> Response:
        """What the kept picture of the focus area shows, in colour; nothing where the file is not there."""
        frame_id = request.path_params["frame_id"]
        kept = colour_path(desk.logbook_path.absolute(), frame_id, "square")
        if not kept.is_file():
            data = _square(desk, decoded, frame_id)
            if data is None:
                return Response(status_code=204)
            keep(kept, data)
            return Response(data, media_type="image/jpeg", headers=WHILE_OPEN)
        return FileResponse(kept, media_type="image/jpeg", headers=WHILE_OPEN)

    def whole(request: Request) -> Response:
        """The whole frame, no larger than asked for."""
        return _shown(
            desk, decoded, request, lambda picture: _smaller(picture, _asked(request, "width", 1200))
        )

    def place(request: Request) -> Response:
        """A part of the frame at 100 %, around a point."""
        x, y = (_share(request, name) for name in ("x", "y"))
        size = _asked(request, "height", 800), _asked(request, "width", 1200)
        return _shown(desk, decoded, request, lambda picture: part(picture, (x, y), *size))

    return [
        Route("/frames/{frame_id:int}/area.jpg", area),
        Route("/frames/{frame_id:int}/square.jpg", square),
        Route("/frames/{frame_id:int}/whole.jpg", whole),
        Route("/frames/{frame_id:int}/place.jpg", place),
    ]


def _frame(desk: Desk, frame_id: int) -> FrameToShow | None:
    with open_logbook(desk.logbook_path) as book:
        return next(iter(to_show(book, [frame_id])), None)


def _square(desk: Desk, decoded: DecodedFrames, frame_id: int) -> bytes | None:
    """Cut from the file exactly as the grey picture was; None where that cannot be done."""
    import simplejpeg

    where = _frame(desk, frame_id)
    if where is None:
        return None
    try:
        grey = crop_path(desk.logbook_path.absolute(), frame_id).read_bytes()
        rows, columns, *_ = simplejpeg.decode_jpeg_header(grey)
        picture = decoded.picture(where)
    except (UnreadableFileError, OSError, ValueError):
        return None
    return as_jpeg(part(picture, (where.x, where.y), rows, columns), QUALITY)


def _shown(
    desk: Desk,
    decoded: DecodedFrames,
    request: Request,
    cut: Callable[[NDArray[np.uint8]], NDArray[np.uint8]],
) -> Response:
    where = _frame(desk, request.path_params["frame_id"])
    if where is None:
        return PlainTextResponse("The logbook has no such frame.", 404)
    try:
        picture = decoded.picture(where)
    except UnreadableFileError as error:
        return PlainTextResponse(error.reason, 404)
    data = as_jpeg(cut(picture), QUALITY)
    rows, columns = picture.shape[:2]
    headers = WHILE_OPEN | {"X-Frame-Width": str(columns), "X-Frame-Height": str(rows)}
    return Response(data, media_type="image/jpeg", headers=headers)


def _smaller(picture: NDArray[np.uint8], width: int) -> NDArray[np.uint8]:
    import numpy as np
    from PIL import Image

    rows, columns = picture.shape[:2]
    if columns <= width:
        return picture
    size = width, max(1, round(rows * width / columns))
    step = max(1, columns // (2 * width))  # enough for a picture to look at, and four times as fast
    thinned = Image.fromarray(np.ascontiguousarray(picture[::step, ::step]))
    return np.asarray(thinned.resize(size, Image.Resampling.BOX))


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
