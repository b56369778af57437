"""Damaged copies of a file, the same for the same seed."""

from __future__ import annotations

import random
import struct

_EXTREMES = (0, 1, 2, 0x7F, 0x80, 0xFE, 0xFF)
_NUMBERS = (0, 1, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
REACH = 64 * 1024
"""Most damage goes near the start, where the metadata lies."""


def mutated(data: bytes, chance: random.Random) -> bytes:
    """One damaged copy: changed bytes, extreme numbers, pieces cut out or copied over, the end cut off."""
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 4, 16, 64))):
        if len(changed) < 8:
            break
        reach = min(len(changed), chance.choice((256, 4096, REACH, len(changed))))
        place = chance.randrange(reach - 4)
        kind = chance.randrange(8)
        if kind <= 2:
            changed[place] = chance.choice((*_EXTREMES, chance.randrange(256)))
        elif kind <= 4:
            code = chance.choice(("<H", ">H", "<I", ">I"))
            number = chance.choice(_NUMBERS) & (0xFFFF if code[1] == "H" else 0xFFFFFFFF)
            struct.pack_into(code, changed, place, number)
        elif kind == 5:
            del changed[place : place + chance.choice((1, 2, 12, 200))]
        elif kind == 6:
            start = chance.randrange(reach)
            piece = changed[start : start + chance.choice((12, 64, 2000))]
            changed[place : place + len(piece)] = piece
        else:
            del changed[chance.randrange(len(changed)) :]
    return bytes(changed)


def bottomless_directories(order: str = "<", directories: int = 8, entries: int = 5400) -> bytes:
    """A TIFF block of 64 KiB and over that asks for all the work it can: full directories, each with long
    values, that overlap, link to one another and are named as sub-directories many times over."""
    mark = b"II*\0" if order == "<" else b"MM\0*"
    table = b""
    for number in range(entries):
        tag = (0x8825, 0x8769, 0x014A, 0xA005, 0x9003, 0x927C)[number % 6] if number % 7 == 0 else number
        kind, count = ((5, 999), (2, 0x7FFFFFFF), (12, 999), (4, 999))[number % 4]
        table += struct.pack(order + "HHII", tag, kind, count, 8 + number % 16)
    body = mark + struct.pack(order + "I", 8) + struct.pack(order + "H", 0xFFFF) + table
    return body + struct.pack(order + "I", 8 + 12 * directories)
