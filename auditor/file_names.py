"""Names of files as text that can be stored and shown, whatever bytes they are made of.

A `Path` is what the system opens; a `str` is the text of it, as it stands in the logbook, in tables and in
messages. On most systems a name is any bytes: old cards and archives hold names that are not UTF-8. In the
text of a name, each byte that is no part of UTF-8 is U+FFFD (the replacement character) and two hexadecimal
digits; a U+FFFD that really stands in a name is its own three bytes written so. All other names are their
own text.
"""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path

MARK = "�"
_HARD = re.compile("[\ud800-\udfff�]")
_ESCAPED = re.compile("(?:�[0-9a-f]{2})+")
_LONE = "surrogatepass" if os.name == "nt" else "surrogateescape"
"""How Python writes what is no Unicode into the text of a name (PEP 383; PEP 529 on Windows)."""


def as_text(path: Path | str) -> str:
    """The text of a path.

    Parameters
    ----------
    path
        As the system gives it; not a text of this kind already.

    Returns
    -------
    str
        Valid UTF-8, with every byte that is none written out.
    """
    name = os.fspath(path)
    if name.isascii():
        return name
    return _HARD.sub(lambda match: _escaped(match[0]), name)


def as_path(text: str) -> Path:
    """The path that a text stands for.

    Parameters
    ----------
    text
        As `as_text` gave it.

    Returns
    -------
    Path
        The same bytes as before.
    """
    if MARK not in text:
        return Path(text)
    return Path(_ESCAPED.sub(lambda match: _unescaped(match[0]), text))


def is_file(text: str) -> bool:
    """Whether a file is there.

    Parameters
    ----------
    text
        Its path, as `as_text` gave it.

    Returns
    -------
    bool
        False for a folder, and where nothing can be reached.
    """
    # Of many: a Path takes longer to be made than the file to be looked for.
    return os.path.isfile(as_path(text) if MARK in text else text)  # noqa: PTH113  # as said above


def known_as(name: str) -> str:
    """A name as disks compare it that know no upper and lower case, or compose accents otherwise.

    Parameters
    ----------
    name
        Of a file.

    Returns
    -------
    str
        Folded, in normal form C.
    """
    return unicodedata.normalize("NFC", name).casefold()


_NOT_IN_NAMES = re.compile(r'[<>:"/\\|?*\x00-\x1f]')
_AT_THE_END = re.compile(r"[. ]+$")
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$"]
    + [f"{port}{number}" for port in ("com", "lpt") for number in "123456789\u00b9\u00b2\u00b3"]
)


def allowed_on_windows(name: str) -> str:
    """The nearest name that Windows, and disks made for it, allow.

    Letters that mean something to the system become "_", and so do a dot or a space at the end, which it
    would drop without a word. A name that belongs to a device (CON, NUL.txt) gets "_" behind it.

    Parameters
    ----------
    name
        Of a file or folder, without its path.

    Returns
    -------
    str
        The same where it is allowed.

    References
    ----------
    Microsoft, Naming Files, Paths, and Namespaces: naming conventions.
    """
    name = _NOT_IN_NAMES.sub("_", name)
    first, dot, rest = name.partition(".")
    if first.rstrip(" ").lower() in _DEVICES:
        name = f"{first.rstrip(' ')}_{dot}{rest}"
    return _AT_THE_END.sub(lambda match: "_" * len(match[0]), name)


def _escaped(letter: str) -> str:
    return "".join(f"{MARK}{byte:02x}" for byte in letter.encode("utf-8", _LONE))


def _unescaped(text: str) -> str:
    return bytes.fromhex(text.replace(MARK, "")).decode("utf-8", _LONE)
