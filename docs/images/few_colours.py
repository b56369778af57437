"""A picture of a page in few colours, so that its file is small: the colours of paper and marks stay."""

from __future__ import annotations

import numpy as np
from PIL import Image

PAPER, MARKS = 8, 24
"""So many of the most frequent colours, and of the most frequent among the vivid, are kept as they are."""
VIVID = 90
"""Between the greatest and the least of red, green and blue; photographs of the sample have hardly any."""


def few_colours(picture: Image.Image, colours: int) -> Image.Image:
    """The picture in a palette of its own: some colours as they are, each other one as near as may be.

    Parameters
    ----------
    picture
        In RGB.
    colours
        At most 256.

    Returns
    -------
    Image.Image
        With a palette.
    """
    pixels = np.asarray(picture)
    there, place, count = np.unique(pixels.reshape(-1, 3), axis=0, return_inverse=True, return_counts=True)
    often = np.argsort(count)[::-1]
    vivid = np.ptp(there.astype(int), axis=1) >= VIVID
    kept = there[np.concatenate((often[:PAPER], often[vivid[often]][:MARKS]))]
    medians = picture.quantize(colours - len(kept), dither=Image.Dither.NONE).getpalette() or []
    palette = np.concatenate((kept, np.reshape(medians, (-1, 3))))[:colours].astype(np.uint8)
    nearest = np.concatenate(
        [
            np.argmin(np.square(part[:, None].astype(int) - palette[None].astype(int)).sum(axis=2), axis=1)
            for part in np.array_split(there, len(there) // 2000 + 1)
        ]
    )
    few = Image.fromarray(nearest.astype(np.uint8)[place].reshape(pixels.shape[:2]), "P")
    few.putpalette(palette.tobytes())
    return few
