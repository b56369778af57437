"""Kits by key and by name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from auditor.frames.kit import Kit
from auditor.records import Recorded


def kit_key(recorded: Recorded, kit: Kit) -> str:
    """What makes two frames' kits the same: body by serial where recorded, lens, converter."""
    factor = "?" if kit.converter_factor is None else f"{kit.converter_factor:g}"
    parts = (recorded.body_make, recorded.body_model, recorded.body_serial, kit.lens.name, factor)
    return "|".join(part or "" for part in parts)


def kit_row(key: str, recorded: Recorded, kit: Kit) -> dict[str, Any]:
    """A row of `kits`; its name is settled by `names_of` once all kits are known."""
    return {
        "kit_key": key,
        "kit_name": key,
        "body_make": recorded.body_make,
        "body_model": recorded.body_model,
        "body_serial": recorded.body_serial,
        "lens_name": kit.lens.name,
        "converter_factor": kit.converter_factor,
    }


def names_of(kits: Iterable[dict[str, Any]]) -> dict[int, str]:
    """Names by kit id: "body + lens + 1.4x", with the end of the serial where two bodies are alike."""
    rows = list(kits)
    serials: dict[tuple[str, str], set[str]] = defaultdict(set)
    for row in rows:
        serials[row["body_make"], row["body_model"]].add(row["body_serial"] or "")
    names = {}
    for row in rows:
        body = row["body_model"] or "unknown body"
        if len(serials[row["body_make"], row["body_model"]]) > 1:
            body += f" #{row['body_serial'][-4:]}" if row["body_serial"] else " (no serial)"
        names[row["kit_id"]] = " + ".join(
            part for part in (body, row["lens_name"] or "unknown lens", _converter(row)) if part
        )
    return names


def _converter(row: dict[str, Any]) -> str | None:
    factor = row["converter_factor"]
    if factor is None:
        return "converter unknown"
    return f"{factor:g}x" if factor > 1 else None
