"""The address by which SQLite opens a file in a way that is asked for."""

from __future__ import annotations

from pathlib import PurePath


def uri(path: PurePath, way: str) -> str:
    """An address for `sqlite3.connect(..., uri=True)`.

    Parameters
    ----------
    path
        Absolute.
    way
        What stands behind `mode=`, such as ro.

    Returns
    -------
    str
        A share of Windows is part of the path: SQLite takes no machine's name where addresses have one.

    References
    ----------
    SQLite, Uniform Resource Identifiers: 3.1, the URI path and authority.
    """
    address = path.as_uri()
    if not address.startswith("file:///"):
        address = f"file:////{address.removeprefix('file://')}"
    return f"{address}?mode={way}"
