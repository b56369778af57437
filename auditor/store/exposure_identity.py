"""How one exposure is known again, whatever the number of files it left."""

from __future__ import annotations

import json
import os
import re
from dataclasses import fields
from functools import lru_cache
from operator import attrgetter
from typing import Any

from auditor.records import FileReading, FocusArea, KitFacts, Recorded
from auditor.serials import serial_number
from auditor.store import reasons
from auditor.store.packed import packed, unpacked
from auditor.store.paths import stem_key
from auditor.words import FileRole

RECORDED_COLUMNS = tuple(field.name for field in fields(Recorded) if field.name != "missing")
FRAME_COLUMNS = (*RECORDED_COLUMNS, "missing")
"""Of `frames`: what its files recorded."""
FrameValues = tuple[Any, ...]
"""Values of FRAME_COLUMNS."""
_AREA_FACTS = sorted(field.name for field in fields(FocusArea))  # as the dictionary of `packed` has them
_values_of = attrgetter(*RECORDED_COLUMNS)
_LINE = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True)
RESIZED_SHARE = 0.1
"""A picture whose side differs by more than this share from what the camera recorded was resized."""
_FIRMWARE = re.compile(
    r"(?P<name>.*?)\s*(?:firmware\s*)?(?:v|ver|version)?[. ]*[\dF][\w.\-]*\W*", re.IGNORECASE | re.DOTALL
)
_CAMERA_NUMBER = re.compile(r"(\d{4})$")
_CAMERA_NAME = re.compile(r"([A-Z0-9_]{4})\d{4}")
_WHOLE_MOMENT = re.compile(r".*?\|\d{4}-\d\d-\d\dT[^|]*\|", re.DOTALL)


def file_number(path: str) -> int | None:
    """The four digits that a camera ends its file names with (DCF, JEITA CP-3461); None for other names.

    Parameters
    ----------
    path
        Absolute or not; only its name counts.

    Returns
    -------
    int or None
        0 to 9999.
    """
    match = _CAMERA_NUMBER.search(_stem(path))
    return int(match.group(1)) if match else None


def name_prefix(path: str) -> str | None:
    """The letters that a body puts in front of its file numbers; None for names that no camera gives.

    Of a camera's name (four characters of its own, then four digits: DCF, JEITA CP-3461), without the
    underscore, whose place tells the colour space, and without digits at the end, which some count on with.

    Parameters
    ----------
    path
        Absolute or not; only its name counts.

    Returns
    -------
    str or None
        Such as "DSC", in upper case.
    """
    match = _CAMERA_NAME.fullmatch(_stem(path).upper())
    return (match.group(1).strip("_").rstrip("0123456789_") or None) if match else None


def exposure_key(reading: FileReading, moment: str | None, number: int | None) -> str:
    """Body + time + sub-second + file number, as one text; the fingerprint where the file names no time.

    A name without a number stands in for the number: two frames of one burst must not
    become one because they were renamed. The serial is left out, since not every file of an
    exposure has it; `identity.frame_of` tells bodies of one model apart.

    Parameters
    ----------
    reading
        Of one file.
    moment
        Its `moment_key`.
    number
        Its `file_number`.

    Returns
    -------
    str
        Equal for files of one exposure.
    """
    if moment is None:
        return f"bytes|{reading.fingerprint}"
    if number is None and reading.recorded.file_number is not None:
        number = reading.recorded.file_number % 10_000  # some notes put the folder's number in front
    return moment + (f"{number:04d}" if number is not None else _stem(reading.found.path).lower())


def _stem(path: str) -> str:
    return os.path.splitext(os.path.basename(path))[0]  # noqa: PTH119, PTH122  # one for each file: no Path


def moment_key(recorded: Recorded) -> str | None:
    """The part of the key that tells body and time, shortened; None where the file does not tell both.

    Parameters
    ----------
    recorded
        Of one file.

    Returns
    -------
    str or None
        The beginning of `exposure_key`.
    """
    if recorded.taken_at is None or recorded.body_model is None:
        return None
    return stem_key("|".join((recorded.body_make or "", recorded.body_model, recorded.taken_at, "")))


def shortened(key: str) -> str:
    """An exposure's key as it is written today; older auditors wrote body and time in full.

    Parameters
    ----------
    key
        Of an exposure, by any auditor.

    Returns
    -------
    str
        The same where it is short already, or names no time.
    """
    moment = _WHOLE_MOMENT.match(key)
    return key if moment is None else stem_key(moment[0]) + key[moment.end() :]


def without_filled_serial(recorded: bytes | str) -> bytes | str:
    """What a file recorded, without a serial number that is none; for migrations.

    Parameters
    ----------
    recorded
        As it stands in the logbook.

    Returns
    -------
    bytes or str
        Packed again; as it was where that is damaged.
    """
    try:
        facts = json.loads(unpacked(recorded))
    except ValueError:
        return recorded
    if facts.get("body_serial") is None or serial_number(facts["body_serial"]) is not None:
        return recorded
    del facts["body_serial"]
    facts["missing"] = {**facts.get("missing", {}), "body_serial": "not_recorded"}
    return packed(line_of(facts))


def is_edited(role: str, recorded: Recorded) -> bool:
    """Whether a picture came out of other software than its camera's, or was resized.

    Raws are originals whatever software packed them.

    Parameters
    ----------
    role
        Of the file.
    recorded
        What it recorded.

    Returns
    -------
    bool
        False for raws.
    """
    return role not in (FileRole.RAW, FileRole.SIDECAR) and (
        is_resized(recorded)
        or not _from_camera(recorded.software, f"{recorded.body_make} {recorded.body_model}")
    )


def is_resized(recorded: Recorded | KitFacts) -> bool:
    """Whether the picture's long side is not the one that its metadata states.

    A tenth is allowed: raws state sizes with and without their masked borders.

    Parameters
    ----------
    recorded
        Of one file.

    Returns
    -------
    bool
        False where the metadata states no size.
    """
    sides = (recorded.recorded_width_px, recorded.recorded_height_px, recorded.width_px, recorded.height_px)
    if not all(sides):
        return False
    stated, actual = max(sides[0] or 0, sides[1] or 0), max(sides[2] or 0, sides[3] or 0)
    return abs(actual / stated - 1) > RESIZED_SHARE


@lru_cache(maxsize=256)
def _from_camera(software: str | None, body: str) -> bool:
    """Cameras write a bare version into Software, or one behind their own name."""
    if software is None or not software.strip():
        return True
    match = _FIRMWARE.fullmatch(software.strip())
    if match is None:
        return False
    named = set(match["name"].lower().split())
    own = set(f"{body} digital camera".lower().split())
    return not named or bool(named & own)


def facts_of(recorded: Recorded, number: int | None = None) -> dict[str, Any]:
    """What a file recorded, with everything absent left out.

    Parameters
    ----------
    recorded
        Of one file.
    number
        Of the file, by its name, where it recorded none.

    Returns
    -------
    dict[str, Any]
        By the names of `Recorded`; what JSON can hold.
    """
    facts: dict[str, Any] = {
        name: value
        for name, value in zip(RECORDED_COLUMNS, _values_of(recorded), strict=True)
        if value is not None and value != ()
    }
    if recorded.camera_word is not None:
        facts["camera_word"] = recorded.camera_word.value
    if recorded.focus_areas:
        facts["focus_areas"] = [
            {name: value for name in _AREA_FACTS if (value := getattr(area, name)) is not None}
            for area in recorded.focus_areas
        ]
    if recorded.missing:
        facts["missing"] = recorded.missing
    if number is not None:
        facts.setdefault("file_number", number)
    return facts


def line_of(facts: dict[str, Any]) -> str:
    """The facts of a file as JSON.

    Parameters
    ----------
    facts
        As `facts_of` gives them.

    Returns
    -------
    str
        One line.
    """
    return _LINE.encode(facts)


def frame_values(*files: dict[str, Any]) -> FrameValues:
    """The row of `frames` from the facts of its files, the most trusted file first.

    A fact that the first file lacks is taken from the next one that has it.

    Parameters
    ----------
    files
        As `facts_of` gives them.

    Returns
    -------
    FrameValues
        Values of FRAME_COLUMNS; the last as the text that `reasons.numbers` knows.
    """
    facts: dict[str, Any] = {}
    missing: dict[str, str] = {}
    for file in reversed(files):  # what is trusted more is laid over the rest
        missing |= file.get("missing", {})
        facts |= file
    if facts.get("keywords"):
        facts["keywords"] = json.dumps(facts["keywords"], ensure_ascii=False)
    if facts.get("focus_areas"):
        facts["focus_areas"] = packed(json.dumps(facts["focus_areas"], separators=(",", ":")))
    why = reasons.as_text({name: why for name, why in missing.items() if facts.get(name) is None})
    return *map(facts.get, RECORDED_COLUMNS), why
