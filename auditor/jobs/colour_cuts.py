"""Colour pictures for a page, cut by workers: a file over which a decoder dies or hangs costs its picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing

from auditor.errors import WorkerLostError
from auditor.jobs import workers
from auditor.jobs.crew import Limits, Loss
from auditor.readers.colour_cuts import Cuts, cuts
from auditor.settings import Settings
from auditor.store.listed_frames import FrameToShow

CHUNK = 4
"""Frames a worker takes at a time: few, since each is large."""
OfFrame = tuple[int, Cuts | None]


def by_workers(settings: Settings) -> Callable[[Sequence[FrameToShow]], Iterator[OfFrame]]:
    """A function that cuts frames in processes of their own, within the limits of the settings.

    Where no process can be started there are no pictures, and the page is written without them.
    """

    def cutter(frames: Sequence[FrameToShow]) -> Iterator[OfFrame]:
        batches = workers.run(
            cut_frames,
            frames,
            jobs=workers.default_jobs(),
            chunk=CHUNK,
            one_by_one=True,
            lost=_lost,
            limits=Limits(longest_s=settings.file_longest_s, memory_gib=settings.file_memory_gib),
            prepare=load_what_cuts,
        )
        try:
            with closing(batches):
                for batch in batches:
                    yield from batch
        except WorkerLostError:
            return

    return cutter


def cut_frames(frames: list[FrameToShow]) -> list[OfFrame]:
    """Cut frames one by one."""
    return [(frame.frame_id, cuts(frame.path, frame.orientation, (frame.x, frame.y))) for frame in frames]


def load_what_cuts() -> None:
    """Load decoders, so that the first frame's time does not pay for them."""
    import PIL.Image
    import simplejpeg  # noqa: F401  # only loaded

    from auditor.readers import colour  # noqa: F401  # only loaded

    PIL.Image.init()


def _lost(frame: FrameToShow, _loss: Loss) -> OfFrame:
    return frame.frame_id, None
