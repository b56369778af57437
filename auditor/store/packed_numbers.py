"""Numbers of frames as they are stored: packed, since a million frames have fourteen million of them."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

COLUMNS = 7
"""Of each row of `trip_numbers`."""
_FLOAT_BYTES = 8
_LEVEL = 1
"""Of zlib: the next ones take twice as long, and save a seventh."""


def numbers_packed(rows: bytes, columns: int = COLUMNS) -> bytes:
    """Rows of eight-byte floats, packed: the first byte of a column's numbers, then the second, and so on.

    Neighbours have most of these alike, so zlib leaves a seventh.

    Parameters
    ----------
    rows
        Little end first.
    columns
        Numbers of a row.

    Returns
    -------
    bytes
        With a checksum.
    """
    import numpy as np

    count = len(rows) // (columns * _FLOAT_BYTES)
    planes = np.frombuffer(rows, np.uint8).reshape(count, columns, _FLOAT_BYTES).transpose(1, 2, 0)
    return zlib.compress(planes.tobytes(), _LEVEL)


def numbers_unpacked(value: bytes, columns: int = COLUMNS) -> NDArray[np.float64]:
    """The rows that were packed, column by column.

    Parameters
    ----------
    value
        As `numbers_packed` gave it.
    columns
        Numbers of a row.

    Returns
    -------
    NDArray[np.float64]
        Shape (columns, rows).

    Raises
    ------
    ValueError
        for bytes that were not packed so, or changed since.
    """
    import numpy as np

    try:
        data = zlib.decompress(value)
    except zlib.error as error:
        raise ValueError(f"numbers of a trip cannot be unpacked: {error}") from error
    planes = np.frombuffer(data, np.uint8).reshape(columns, _FLOAT_BYTES, -1 if data else 0)
    numbers = np.empty((columns, planes.shape[2], _FLOAT_BYTES), np.uint8)
    for place in range(_FLOAT_BYTES):  # a plane at a time: half the time of all at once
        numbers[..., place] = planes[:, place]
    return np.asarray(numbers.view("<f8")[..., 0], dtype=np.float64)
