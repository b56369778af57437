"""A plan in words: a table for the terminal, the reason of each rank, what would change it, cautions."""

from __future__ import annotations

from math import inf, log2

from auditor.optics.exposure import marked_f_number
from auditor.planning.gear import PlannedKit
from auditor.planning.outing import Outing
from auditor.planning.plan import AS_FINE, Change, Plan, Ranked, Reason
from auditor.report.text.values import count, listed, plain, wrapped

REASONS = {
    Reason.FINEST: "shows the finest detail on the animal",
    Reason.FINEST_OF_USABLE: "shows the finest detail of the kits that can be used here",
    Reason.ALONE: "no other kit can be ranked here",
    Reason.AS_FINE_SHARPER: "as fine as any, and sharp most often of those as fine",
    Reason.AS_FINE_FEWER: "about as fine, but sharp less often",
    Reason.AS_FINE_LESS_ISO: "nearly as fine, at less ISO",
    Reason.NEARLY_AS_FINE: "nearly as fine",
    Reason.COARSER: "shows less detail",
    Reason.MOST_LEFT: "not the finest, but sharp more often than the finest",
    Reason.FEWER_SHARP: "shows finer detail, but was sharp less often",
    Reason.CUT_OFF: "the animal does not fit the frame",
    Reason.NO_FOCUS: "darker wide open than this body focuses with",
    Reason.TOO_DARK: "too little light to show any detail",
}
WITHOUT_RECORD = {
    Reason.AS_FINE_SHARPER: "as fine as any, and taken to hit in 60 of 100",
    Reason.AS_FINE_FEWER: "about as fine, but taken to hit in only 60 of 100",
    Reason.MOST_LEFT: "not the finest, but taken to hit in 60 of 100",
    Reason.FEWER_SHARP: "shows finer detail, but is taken to hit in only 60 of 100",
}
"""The same where hits are assumed, not recorded."""
SURE_FOCUS_F_NUMBER = 8.0
"""Beyond it, wide open, only some bodies focus (common practice)."""
NAMED = 3
"""Kits that a sentence names."""
SHOWN = 12
"""Kits shown in the terminal; the page and --json have all."""
EXPLAINED = (
    "Finest: the finest bars that can be seen on the animal. Noise: of a patch of 5 mm on it. Sharp of 100: "
    "what to expect of an outing from your own record, drawn towards the rate of all your kits where "
    "encounters are few, and the range that holds nine of ten outings. View: of the frame at the animal. "
    "Animal: its length and height. Cropped: pixels left along the long side of the frame when it is cropped "
    "to what the longest kit of the same lens shows. Shutter, where you gave none: what the animal's "
    "movement allows, and three stops slower than 1 / focal length with a stabiliser."
)
ASSUMED = (
    "Optics assume a good lens wide open (unless a bench measured yours), a converter with a little blur of "
    "its own, and still air. A kit without a record is ranked as if 60 of 100 frames hit. How near a lens "
    "focuses is not recorded: check that for close animals."
)
ZOOMS = "A zoom counts at the longest focal length that you used it at."
CAUTIONS = (
    "Keep the legal and the ethical distance: it outranks any picture. Local rules and the people who "
    "enforce them decide. Back away from nests and from animals that show alarm. Never aim a long lens at "
    "the sun without a solar filter in front of it."
)


def shutter(seconds: float) -> str:
    """An exposure time as a camera marks it, to the nearest third of a stop."""
    if seconds == inf:
        return "any"
    third = round(3 * log2(1 / seconds))
    marks = ("1", "1.25", "1.6")
    whole, rest = divmod(third, 3)
    rounded = float(marks[rest]) * 2**whole
    if rounded < 1:
        return f"{1 / rounded:.2g} s"
    nearest = min(_SPEEDS, key=lambda mark: abs(log2(mark / rounded)))
    return f"1/{nearest} s"


_SPEEDS = (
    1, 2, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640,
    800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000, 16000, 32000,
)  # fmt: skip
_SENSITIVITIES = tuple(round(mark * 2**stops) for stops in range(-1, 12) for mark in (100, 125, 160))


def iso(value: float) -> str:
    """An ISO as cameras mark it, to the nearest third of a stop; beyond all marks only that it is."""
    if value > _SENSITIVITIES[-1] * 2 ** (1 / 6):
        return f">{_SENSITIVITIES[-1]}"
    nearest = min(_SENSITIVITIES, key=lambda mark: abs(log2(mark / value)))
    return str(nearest)


_MARKS = {
    "!": "! over your ISO ceiling",
    "?": "? darker wide open than the body is declared to focus with",
    "*": "* not owned",
}


def heading(outing: Outing) -> str:
    """The outing in one line."""
    speed = f", moving at {outing.speed_m_s:g} m/s" if outing.speed_m_s else ""
    height = "" if outing.height_m is None else f" and {outing.height_m:g} m high"
    rest = "" if outing.speed_m_s or outing.exposure_time_s else " at rest,"
    return (
        f"An animal{rest} {outing.length_m:g} m long{height}, at {outing.distance_m:g} m in EV "
        f"{outing.light_ev:g}{speed}."
    )


def table(plan: Plan) -> list[list[str]]:
    """Cells of the table of what to set and to expect, the first row its heads."""
    rows = [["", "Kit", "f/", "ISO", "Shutter", "Finest", "Noise", "Sharp of 100"]]
    for row in plan.ranked:
        look = row.outlook
        rows.append(
            [
                str(row.rank),
                _name(row),
                f"{marked_f_number(look.f_number):g}" + ("?" if look.beyond_focus_limit else ""),
                iso(look.iso) + ("!" if look.over_ceiling else ""),
                shutter(look.exposure_time_s),
                "none" if look.finest_detail_mm is None else f"{_figure(look.finest_detail_mm)} mm",
                f"{_figure(100 * look.noise_share)} %",
                _sharp(row),
            ]
        )
    return rows


def view_table(plan: Plan) -> list[list[str]]:
    """Cells of the table of how the animal lies in the frame, the first row its heads."""
    weighed = any(row.outlook.kit.weight_g is not None for row in plan.ranked)
    rows = [["", "Kit", "View m", "Animal px", "Fills", "Cropped", "Depth", *(["Weight"] if weighed else [])]]
    for row in plan.ranked:
        look = row.outlook
        cropped = "" if look.cropped_px > 0.99 * look.width_px else f"{look.cropped_px:.0f} px"
        rows.append(
            [
                str(row.rank),
                _name(row),
                f"{_metres(look.view_width_m)} x {_metres(look.view_height_m)}",
                f"{look.animal_px:.0f}"
                + ("" if look.animal_height_px is None else f" x {look.animal_height_px:.0f}"),
                f"{100 * look.frame_share:.0f} %",
                cropped,
                "all" if look.depth_of_field_m == inf else f"{_metres(look.depth_of_field_m)} m",
                *([_weight(look.kit)] if weighed else []),
            ]
        )
    return rows


def _name(row: Ranked) -> str:
    return plain(row.outlook.kit.name) + ("*" if row.outlook.kit.considered else "")


def kit_name(kit: PlannedKit) -> str:
    """A kit as sentences call it."""
    return plain(kit.name) + (" (not owned)" if kit.considered else "")


def _weight(kit: PlannedKit) -> str:
    return "unknown" if kit.weight_g is None else f"{kit.weight_g / 1000:.2f} kg"


def phones(plan: Plan) -> str | None:
    """Which bodies are not ranked since they are phones; None where none is."""
    if not plan.phones:
        return None
    one = len(plan.phones) == 1
    return (
        f"Not ranked: {listed([plain(name) for name in plan.phones])}, {'a phone' if one else 'phones'} by "
        f"sensor and lens. To have {'it' if one else 'one'} ranked, say No to the question about its frames: "
        "auditor declare hints, or Settle at the desk."
    )


def focus_not_said(plan: Plan) -> str | None:
    """Which kits may be too dark for their bodies to focus, where no limit was declared; None for none."""
    dark = [
        row
        for row in plan.ranked
        if row.outlook.beyond_focus_limit is None
        and marked_f_number(row.outlook.f_number) > SURE_FOCUS_F_NUMBER
    ]
    if not dark:
        return None
    named = [f"{_name(row)} at f/{marked_f_number(row.outlook.f_number):g}" for row in dark[:NAMED]]
    if len(dark) > NAMED:
        named.append(f"{len(dark) - NAMED} more")
    return (
        f"Past f/{SURE_FOCUS_F_NUMBER:g} many bodies focus less surely, or not at all: {listed(named)}. "
        "Say up to which f-number yours does: auditor declare body --focus-limit."
    )


def not_weighed(plan: Plan) -> str | None:
    """Which kits have no weight, and how to give it; None where all have one."""
    missing = [row.outlook.kit for row in plan.ranked if row.outlook.kit.weight_g is None]
    if not missing:
        return None
    parts = {part for kit in missing for part in kit.not_weighed}
    named = ", ".join(part for part in ("body", "lens", "converter") if part in parts)
    return f"No weight given for {len(missing)} of {len(plan.ranked)} kits ({named}): auditor declare weight."


def _figure(value: float) -> str:
    """Two digits, never as a power of ten."""
    return f"{value:.0f}" if value >= 99.5 else f"{value:.2g}"


def _metres(metres: float) -> str:
    return f"{metres:.2f}" if metres < 1 else f"{metres:.1f}" if metres < 10 else f"{metres:.0f}"


def _sharp(row: Ranked) -> str:
    if row.own is None:
        return "no record"
    return f"{row.sharp_of_100:.0f} ({100 * row.own.expected_low:.0f} to {100 * row.own.expected_high:.0f})"


def reason(row: Ranked) -> str:
    """Why a kit stands where it does, in one sentence."""
    look = row.outlook
    sentence = f"{row.rank}. {kit_name(look.kit)}: {_why(row)}"
    if look.over_ceiling and row.reason not in (Reason.TOO_DARK, Reason.NO_FOCUS):
        sentence += f"; ISO {iso(look.iso)} is over your ceiling"
    if row.own is None:
        return sentence + "; no record of yours."
    where = "in like light" if row.own.like_light else "in any light, too few of them in like light"
    met = count(row.own.encounters, "encounter")
    low, high = 100 * row.own.expected_low, 100 * row.own.expected_high
    expected = f"expect {row.sharp_of_100:.0f} of 100 sharp ({low:.0f} to {high:.0f})"
    return f"{sentence}; {expected}, by your {met} {where}."


def _why(row: Ranked) -> str:
    assumed = WITHOUT_RECORD.get(row.reason) if row.own is None else None
    return assumed or REASONS[row.reason]


def alike(plan: Plan) -> str | None:
    """Which kits come out as good as the first; None where it stands alone."""
    last = max((row.rank for row in plan.ranked if row.left >= 1 - AS_FINE), default=1)
    if last < 2:
        return None
    names = "Kits 1 and 2" if last == 2 else f"Kits 1 to {last}"
    return f"{names} come out as good as equal: any of them will do."


def change(outing: Outing, turn: Change) -> str:
    """What would put another kit first."""
    if turn.light_ev != outing.light_ev:
        stops = abs(turn.light_ev - outing.light_ev)
        amount = {1.0: "one stop", 2.0: "two stops", 3.0: "three stops"}.get(stops, f"{stops:g} stops")
        when = f"With {amount} {'more' if turn.light_ev > outing.light_ev else 'less'} light"
    else:
        when = f"At {turn.distance_m:.3g} m"
    return f"{when}, the {kit_name(turn.best)} would come first."


def sentences(plan: Plan) -> list[str]:
    """What stands below the table: reasons of the first three, kits that are alike, what would change it."""
    ranked = [reason(row) for row in plan.ranked[:3]]
    return (
        ranked
        + [line for line in [alike(plan)] if line]
        + [change(plan.outing, turn) for turn in plan.changes]
    )


def notes(plan: Plan) -> tuple[str | None, ...]:
    """What stands below a plan in the terminal, a paragraph each; None where there is nothing to say."""
    return phones(plan), focus_not_said(plan), not_weighed(plan), EXPLAINED, assumed(plan), CAUTIONS


def assumed(plan: Plan) -> str:
    """What the optics take for granted."""
    return f"{ASSUMED} {ZOOMS}" if any(row.outlook.kit.lens.zoom for row in plan.ranked) else ASSUMED


def plan_text(plan: Plan, width: int) -> str:
    """The plan for a terminal."""
    rows = table(plan)
    lines = [heading(plan.outing), ""]
    for cells in (rows, view_table(plan)):
        lines += [*_set(cells[: SHOWN + 1], width), ""]
    if len(plan.ranked) > SHOWN:
        lines += [f"And {len(plan.ranked) - SHOWN} more kits: --json and --page have all.", ""]
    lines += [line for sentence in sentences(plan) for line in wrapped(sentence, width)]
    lines += [text for mark, text in _MARKS.items() if any(mark in cell for row in rows[1:] for cell in row)]
    for sentence in filter(None, notes(plan)):
        lines += ["", *wrapped(sentence, width)]
    return "\n".join(lines) + "\n"


def _set(rows: list[list[str]], width: int) -> list[str]:
    """A table in columns, as wide as it must be; names of kits are cut to fit."""
    sizes = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    sizes[1] = min(sizes[1], max(12, width - sum(sizes) + sizes[1] - 2 * (len(sizes) - 1)))
    lines = []
    for row in rows:
        name = row[1] if len(row[1]) <= sizes[1] else row[1][: sizes[1] - 1] + "…"
        cells = [row[0].rjust(sizes[0]), name.ljust(sizes[1])]
        cells += [cell.rjust(size) for cell, size in zip(row[2:], sizes[2:], strict=True)]
        lines.append("  ".join(cells).rstrip())
    return [lines[0], "-" * min(width, len(lines[0])), *lines[1:]]
