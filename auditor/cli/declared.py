"""Declarations in the terminal: what one changed, and the list of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.cli import common

if TYPE_CHECKING:
    from auditor.derive.declaring import Effect, FrameState
    from auditor.store.declarations import Declaration


def say_declared(number: int, effect: Effect, logbook: Path | None) -> None:
    """Tell what a declaration changed, with an example, and how to take it back."""
    print(f"Declared as number {number}.", end=" " if effect.concerned or effect.changed else "\n")
    say_changed(effect)
    print(f"To take it back: auditor declare undo {number}{common.logbook_option(logbook)}")


def say_changed(effect: Effect) -> None:
    """Tell how many frames changed, and how one of them did; nothing where none could, as by a weight."""
    if not effect.concerned and not effect.changed:
        return
    print(f"{common.counted(len(effect.changed), 'frame')} changed.")
    if effect.refused:
        print(f"Recorded another converter, which stands: {common.counted(effect.refused, 'frame')}.")
    if effect.example is not None:
        for line in example_lines(effect.example.before, effect.example.after):
            print(f"  {common.printable(effect.example.file_name)}: {common.printable(line)}")


def example_lines(before: FrameState, after: FrameState) -> list[str]:
    """What becomes different of a frame, one fact a line."""
    facts = (
        ("trip", before.trip, after.trip),
        ("taken", _moment_text(before.taken_at), _moment_text(after.taken_at)),
        ("lens", before.lens_name or "not known", after.lens_name or "not known"),
        ("converter", _converter(before), _converter(after)),
        ("focal length", _number(before.focal_length_mm, "{:.0f} mm"),
         _number(after.focal_length_mm, "{:.0f} mm")),
        ("f-number", _number(before.f_number, "f/{:.2g}"), _number(after.f_number, "f/{:.2g}")),
        ("ISO without converter, up to", _number(before.iso_without_converter, "{:.0f}"),
         _number(after.iso_without_converter, "{:.0f}")),
        ("sensor diagonal", _number(before.sensor_diagonal_mm, "{:.1f} mm"),
         _number(after.sensor_diagonal_mm, "{:.1f} mm")),
        ("light", _number(before.light_value_ev, "{:.1f} EV"), _number(after.light_value_ev, "{:.1f} EV")),
        ("flags", _flags(before), _flags(after)),
        ("gaps beside it", _gaps(before), _gaps(after)),
        ("counted", "no" if before.excluded else "yes", "no" if after.excluded else "yes"),
    )  # fmt: skip
    return [f"{name} {was} -> {becomes}" for name, was, becomes in facts if was != becomes]


def _converter(state: FrameState) -> str:
    factor = state.converter_factor
    return "unknown" if factor is None else "none" if factor == 1 else f"{factor:g}x"


def _flags(state: FrameState) -> str:
    from auditor.report.text.outcomes import flag_label

    return ", ".join(flag_label(flag) for flag in state.flags) or "none"


def _gaps(state: FrameState) -> str:
    return "frames kept elsewhere" if state.kept_elsewhere else "may be deleted frames"


def _number(value: float | None, shape: str) -> str:
    return "not known" if value is None else shape.format(value)


def _moment_text(moment: str | None) -> str:
    return "not known" if moment is None else moment[:19].replace("T", " ")


def as_document(declaration: Declaration) -> dict[str, object]:
    """A declaration as JSON."""
    from auditor.store.declared_facts import as_json

    return {
        "declaration_id": declaration.declaration_id,
        "said_with": declaration.said_with,
        "kind": declaration.kind,
        "body": declaration.body,
        "from_at": declaration.from_at,
        "to_at": declaration.to_at,
        "facts": as_json(declaration.facts),
        "said_at": declaration.said_at,
        "said_by": declaration.said_by,
        "undone_at": declaration.undone_at,
    }


def line_of(declaration: Declaration, names: Mapping[str, str]) -> str:
    """A declaration as the list has it, behind its number."""
    from auditor.report.text.declarations import sentence

    parts = [sentence(declaration, names)]
    if declaration.said_with:
        parts.append(f"declared with {declaration.said_with}")
    undone = f" (undone {declaration.undone_at[:10]})" if declaration.undone_at else ""
    parts.append(f"{declaration.said_by}, {declaration.said_at[:10]}{undone}")
    return "; ".join(parts)
