"""How one exposure is known again, whatever the number of files it left."""

from __future__ import annotations

import json
import re
from dataclasses import fields
from pathlib import PurePath
from typing import Any

from auditor.records import FileReading, Recorded

RECORDED_COLUMNS = tuple(field.name for field in fields(Recorded) if field.name != "missing")
_JSON_COLUMNS = ("focus_areas", "keywords")
_CAMERA_NUMBER = re.compile(r"(\d{4})$")


def file_number(path: str) -> int | None:
    """The four digits that a camera ends its file names with (DCF, JEITA CP-3461); None for other names."""
    match = _CAMERA_NUMBER.search(PurePath(path).stem)
    return int(match.group(1)) if match else None


def exposure_key(reading: FileReading) -> str:
    """Body + time + sub-second + file number, as one text; the fingerprint where the file names no time.

    A name without a number stands in for the number: two frames of one burst must not
    become one because they were renamed.
    """
    recorded = reading.recorded
    if recorded.taken_at is None or recorded.body_model is None:
        return f"bytes|{reading.fingerprint}"
    number = recorded.file_number
    if number is None:
        number = file_number(reading.found.path)
    name = f"{number:04d}" if number is not None else PurePath(reading.found.path).stem.lower()
    body = (recorded.body_make or "", recorded.body_model, recorded.body_serial or "")
    return "|".join((*body, recorded.taken_at, name))


def as_json(recorded: Recorded) -> str:
    """What a file recorded, as JSON with everything absent left out."""
    facts: dict[str, Any] = {
        name: value
        for name in RECORDED_COLUMNS
        if (value := getattr(recorded, name)) is not None and value != ()
    }
    if recorded.focus_areas:
        facts["focus_areas"] = [
            {name: getattr(area, name) for name in area.__slots__ if getattr(area, name) is not None}
            for area in recorded.focus_areas
        ]
    if recorded.missing:
        facts["missing"] = recorded.missing
    return json.dumps(facts, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


def merged(recorded_texts: list[str]) -> dict[str, Any]:
    """The row of `frames` from what its files recorded, the most trusted file first.

    A fact that the first file lacks is taken from the next one that has it.
    """
    documents = [json.loads(text) for text in recorded_texts]
    row: dict[str, Any] = {}
    for name in RECORDED_COLUMNS:
        value = next((document[name] for document in documents if name in document), None)
        row[name] = json.dumps(value, ensure_ascii=False) if name in _JSON_COLUMNS and value else value
    missing: dict[str, str] = {}
    for document in reversed(documents):
        missing.update(document.get("missing", {}))
    row["missing"] = json.dumps({k: why for k, why in missing.items() if row.get(k) is None}, sort_keys=True)
    return row
