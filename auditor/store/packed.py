"""What files recorded, packed: a line of JSON takes about a quarter of its room.

The dictionary that zlib starts from is part of what was written: it never changes. A better one would be
added beside it, since each packed value tells by a checksum which it was made with.

References
----------
P. Deutsch, J.-L. Gailly, ZLIB Compressed Data Format Specification, RFC 1950 (1996): preset dictionaries (R).
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from functools import lru_cache

LEVEL, MEMORY, WINDOW_BITS = 6, 6, 13
"""Of zlib: more takes longer, and saves next to nothing of so short a text; 8 KiB of window hold
the dictionary with it."""

# What is most alike from file to file stands last: zlib refers to what is near in fewer bits.
DICTIONARY = (
    b'"stabiliser":"on","software":"Ver.1.0","converter_name":"none","converter_factor":1.4,'
    b'"area_mode":"whole frame","area_mode":"zone","area_mode":"tracking","camera_word":"manual",'
    b'"focus_mode":"manual","focus_mode":"single","drive_mode":"burst fast","drive_mode":"burst slow",'
    b'"drive_mode":"single frame","flash_fired":true,"lens_name":"not_recorded",'
    b'"focal_length_35mm_mm":"not_recorded","exposure_mode":"not_recorded","body_serial":"not_recorded",'
    b'"iso":"not_recorded","drive_mode":"not_read_yet","focus_mode":"not_read_yet",'
    b'"missing":{"af_height":"not_recorded","af_width":"not_recorded","af_x":"not_recorded",'
    b'"af_y":"not_recorded","area_mode":"not_recorded","auto_iso":"not_recorded",'
    b'"camera_word":"not_recorded","drive_mode":"not_recorded","exposure_bias_ev":"not_recorded",'
    b'"file_number":"not_recorded","flash_fired":"not_recorded","focus_distance_m":"not_recorded",'
    b'"focus_mode":"not_recorded","keywords":"not_recorded","pixel_pitch_um":"not_recorded",'
    b'"rating":"not_recorded","utc_offset":"not_recorded","utc_offset_source":"not_recorded"},'
    b'"keywords":["{"af_height":0.28,"af_width":0.1875,"af_x":0.53125,"af_y":0.4758,'
    b'"area_mode":"one point","auto_iso":false,"auto_iso":true,"body_make":"","body_model":"",'
    b'"body_serial":"00","camera_word":"silent","camera_word":"not_confirmed","camera_word":"confirmed",'
    b'"converter_factor":1.0,"drive_mode":"burst","exposure_bias_ev":-0.333,"exposure_bias_ev":0.0,'
    b'"exposure_mode":1,"exposure_mode":0,"exposure_program":1,"exposure_program":3,'
    b'"exposure_time_s":0.004,"exposure_time_s":0.000625,"exposure_time_s":0.0005,"f_number":8.0,'
    b'"f_number":5.6,"file_number":412,"flash_fired":false,"focal_length_35mm_mm":600.0,'
    b'"focal_length_mm":500.0,"focus_areas":[{"height":0.10825892857142858,"in_focus":true,"used":true,'
    b'"width":0.084375,"x":0.5886904761904762,"y":0.5},{"height":0.28,"used":true,"width":0.2,"x":0.5,'
    b'"y":0.5}],"focus_distance_m":74.9,"focus_mode":"continuous","height_px":4000,"iso":6400.0,'
    b'"iso":800.0,"keywords":["animal"],"lens_long_mm":500.0,"lens_name":"mm f/","lens_short_mm":500.0,'
    b'"lens_widest_at_long":5.6,"lens_widest_at_short":5.6,"missing":{"keywords":"not_recorded",'
    b'"rating":"not_recorded"},"orientation":1,"pixel_pitch_um":4.35,"rating":0,"recorded_height_px":4000,'
    b'"recorded_width_px":6000,"shot_in_burst":1,"taken_at":"2025-04-18T05:47:26.12",'
    b'"utc_offset":"+01:00","utc_offset_source":"offset_time_original","widest_f_number":5.6,'
    b'"width_px":6000}'
)
_DICTIONARIES = {zlib.adler32(DICTIONARY): DICTIONARY}


def packed(text: str) -> bytes:
    """A line of JSON, packed.

    Parameters
    ----------
    text
        What a file recorded.

    Returns
    -------
    bytes
        With a checksum, and that of its dictionary.
    """
    packing = zlib.compressobj(LEVEL, zlib.DEFLATED, WINDOW_BITS, MEMORY, zlib.Z_DEFAULT_STRATEGY, DICTIONARY)
    return packing.compress(text.encode()) + packing.flush()


@lru_cache(maxsize=10_000)
def packed_again(text: str | None) -> bytes | None:
    """A line of JSON, packed as if it had been written without spaces; for migrations.

    Parameters
    ----------
    text
        None where there is none.

    Returns
    -------
    bytes or None
        None for None.
    """
    return None if text is None else packed(json.dumps(json.loads(text), separators=(",", ":")))


def unpacked(value: bytes | str) -> str:
    """The line that was packed.

    Parameters
    ----------
    value
        As `packed` gave it, or a line that never was.

    Returns
    -------
    str
        JSON.

    Raises
    ------
    ValueError
        for bytes that were not packed so, or changed since.
    """
    if isinstance(value, str):
        return value
    try:
        # RFC 1950: two bytes of header, then the dictionary's checksum.
        unpacking = zlib.decompressobj(zdict=_DICTIONARIES[int.from_bytes(value[2:6], "big")])
        data = unpacking.decompress(value) + unpacking.flush()
    except (KeyError, zlib.error) as error:
        raise ValueError(f"packed facts cannot be unpacked: {error}") from error
    if not unpacking.eof:
        raise ValueError("packed facts are cut short")
    return data.decode()


def add_function(connection: sqlite3.Connection) -> None:
    """Let SQL ask for `recorded_json(recorded)`: the line, an empty text where it cannot be unpacked.

    Parameters
    ----------
    connection
        To a logbook.
    """
    connection.create_function("recorded_json", 1, _json_or_nothing, deterministic=True)


def _json_or_nothing(value: bytes | str | None) -> str | None:
    try:
        return None if value is None else unpacked(value)
    except ValueError:
        return ""
