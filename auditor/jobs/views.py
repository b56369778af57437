"""Views of whole frames, decoded in a process of its own that is kept: one over which a decoder dies or hangs
costs its view, and whoever looks on goes on looking.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TYPE_CHECKING

from auditor.errors import UnreadableFileError
from auditor.file_names import as_path
from auditor.jobs.aside import Aside
from auditor.jobs.colour_cuts import load_what_cuts
from auditor.jobs.crew import Crew, Limits, Loss
from auditor.jobs.failures import why_lost
from auditor.readers.colour_cuts import as_jpeg, part

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

QUALITY = 90
DECODED_BYTES = 320_000_000
"""What is kept decoded: four frames of 24 megapixels, so that two can be looked at in turn."""
CLOSED = "Nothing is shown any more."
GONE = "The file of this frame is not there now: plug in its card or disk."


@dataclass(frozen=True, slots=True)
class View:
    """What is to be seen of a frame."""

    path: str
    orientation: int | None
    """As recorded (Exif), 1 to 8."""
    height_px: int
    width_px: int
    centre: tuple[float, float] | None = None
    """Of a part at 100 %, x and y as fractions; None for the whole frame, no wider than `width_px`."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A view, or why there is none."""

    jpeg: bytes = b""
    frame_height_px: int = 0
    frame_width_px: int = 0
    why_not: str = ""


class Views:
    """Shows frames by one worker that is kept, and started anew where it is lost.

    Parameters
    ----------
    limits
        Asked for when a worker is started.
    """

    def __init__(self, limits: Callable[[], Limits]) -> None:
        self._limits = limits
        self._crew: Crew | None = None
        self._closed = False
        # All from one thread: a worker ends with the thread that started it (Linux, prctl).
        self._aside = Aside("views")

    def get_ready(self) -> None:
        """Start the worker, without waiting for it: what it loads takes longer than a view."""
        if self._crew is None:
            self._aside.begin(lambda: self._seen(View("", None, 1, 1)))

    def seen(self, view: View) -> Seen:
        """A view, waiting its turn.

        Parameters
        ----------
        view
            Of a frame.

        Returns
        -------
        Seen
            With its picture, or the reason why there is none.

        Raises
        ------
        WorkerLostError
            where no process can be started.
        """
        return self._aside.begin(lambda: self._seen(view)).result()

    def close(self) -> None:
        """End the worker, whatever it is at; nothing is shown after that."""
        self._closed = True
        self._aside.begin(self._end)

    def _seen(self, view: View) -> Seen:
        if self._crew is None:
            self._crew = Crew(
                get_context("spawn"),
                show,
                jobs=1,
                step=1,
                lost=_lost,
                limits=self._limits(),
                prepare=load_what_cuts,
                stop=lambda: self._closed,
            )
        try:
            ((seen,),) = self._crew.results(iter([[view]]))
        except KeyboardInterrupt:  # it was closed
            return Seen(why_not=CLOSED)
        except BaseException:  # whatever it was: the worker may be at something else than what is asked next
            self._end()
            raise
        shown: Seen = seen
        return shown

    def _end(self) -> None:
        if self._crew is not None:
            self._crew.__exit__()
            self._crew = None


def show(views: list[View]) -> list[Seen]:
    """Decode frames and cut what is to be seen of them.

    Parameters
    ----------
    views
        Of any frames; one that was decoded last is not decoded again.

    Returns
    -------
    list[Seen]
        One a view.
    """
    return [_shown(view) for view in views]


def _shown(view: View) -> Seen:
    try:
        picture = _decoded.picture(view)
    except UnreadableFileError as error:
        gone = error.reason == GONE
        return Seen(why_not=GONE if gone else f"This frame cannot be shown: {error.reason}.")
    if view.centre is None:
        cut = _smaller(picture, view.width_px)
    else:
        cut = part(picture, view.centre, view.height_px, view.width_px)
    rows, columns = picture.shape[:2]
    return Seen(as_jpeg(cut, QUALITY), rows, columns)


def _lost(_view: View, loss: Loss) -> Seen:
    return Seen(why_not=f"This frame cannot be shown: {why_lost(loss)}.")


class _Decoded:
    """The frames that were decoded last, in colour; in the worker."""

    def __init__(self) -> None:
        self._pictures: OrderedDict[tuple[str, int], NDArray[np.uint8]] = OrderedDict()

    def picture(self, view: View) -> NDArray[np.uint8]:
        from auditor.errors import FileAccessError
        from auditor.readers.colour import colour

        try:
            key = view.path, as_path(view.path).stat().st_mtime_ns
        except OSError as error:
            raise FileAccessError(view.path, GONE, stage="pixels") from error
        if key in self._pictures:
            self._pictures.move_to_end(key)
            return self._pictures[key]
        picture = self._pictures[key] = colour(view.path, view.orientation)
        while len(self._pictures) > 1 and self._kept_bytes() > DECODED_BYTES:
            self._pictures.popitem(last=False)
        return picture

    def _kept_bytes(self) -> int:
        return sum(picture.nbytes for picture in self._pictures.values())


_decoded = _Decoded()


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
