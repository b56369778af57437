"""A plan in words: a table for the terminal, the reason of each rank, what would change it, cautions."""

from __future__ import annotations

import textwrap
from math import inf, log2

from auditor.optics.exposure import marked_f_number
from auditor.planning.outing import Outing
from auditor.planning.plan import Change, Plan, Ranked, Reason

REASONS = {
    Reason.FINEST: "shows the finest detail on the animal",
    Reason.AS_FINE_SHARPER: "as fine as any, and more of its frames hit",
    Reason.AS_FINE_LESS_ISO: "as fine, at less ISO",
    Reason.COARSER: "shows less detail",
    Reason.MOST_LEFT: "not the finest, but more of its frames are sharp",
    Reason.FEWER_SHARP: "shows finer detail, but fewer of its frames are sharp",
    Reason.CUT_OFF: "the animal does not fit the frame",
    Reason.NO_FOCUS: "darker wide open than this body focuses with",
    Reason.TOO_DARK: "too little light to show any detail",
}
ASSUMED = (
    "Optics assume a good lens wide open, a converter with a little blur of its own, and still air. Hits "
    "are your own record in like light where there is one; a kit without a record is ranked as if 60 of "
    "100 frames hit."
)
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
    """An ISO as cameras mark it, to the nearest third of a stop."""
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
    return f"An animal of {outing.length_m:g} m at {outing.distance_m:g} m in EV {outing.light_ev:g}{speed}."


def table(plan: Plan) -> list[list[str]]:
    """Cells of the table, the first row its heads."""
    rows = [["", "Kit", "f/", "ISO", "Shutter", "Fills", "Finest", "Depth", "Sharp of 100"]]
    for row in plan.ranked:
        look = row.outlook
        rows.append(
            [
                str(row.rank),
                look.kit.name + ("*" if look.kit.lens.considered else ""),
                f"{marked_f_number(look.f_number):g}" + ("?" if look.beyond_focus_limit else ""),
                iso(look.iso) + ("!" if look.over_ceiling else ""),
                shutter(look.exposure_time_s),
                f"{100 * look.frame_share:.0f} %",
                "none" if look.finest_detail_mm is None else f"{look.finest_detail_mm:.2g} mm",
                f"{100 * look.depth_of_field_m:.0f} cm",
                _sharp(row),
            ]
        )
    return rows


def _sharp(row: Ranked) -> str:
    if row.own is None:
        return "no record"
    return f"{row.sharp_of_100:.0f} ({100 * row.own.low:.0f} to {100 * row.own.high:.0f})"


def reason(row: Ranked) -> str:
    """Why a kit stands where it does, in one sentence."""
    look = row.outlook
    told = f"{row.rank}. {look.kit.name}: {REASONS[row.reason]}"
    if look.over_ceiling and row.reason not in (Reason.TOO_DARK, Reason.NO_FOCUS):
        told += f"; ISO {iso(look.iso)} is over your ceiling"
    if row.own is not None:
        told += f"; your record: {row.own.encounters} encounters" + (
            " in like light" if row.own.like_light else ", few of them in like light"
        )
    return told + "."


def change(outing: Outing, other: Change) -> str:
    """What would put another kit first."""
    if other.light_ev != outing.light_ev:
        stops = abs(other.light_ev - outing.light_ev)
        amount = "one stop" if stops == 1 else f"{stops:g} stops"
        when = f"With {amount} {'more' if other.light_ev > outing.light_ev else 'less'} light"
    else:
        when = f"At {other.distance_m:.3g} m"
    return f"{when}, the {other.best.name} would come first."


def plan_text(plan: Plan, width: int) -> str:
    """The plan for a terminal."""
    rows = table(plan)
    sizes = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = [heading(plan.outing), ""]
    for number, row in enumerate(rows):
        cells = [
            cell.ljust(size) if column == 1 else cell.rjust(size)
            for column, (cell, size) in enumerate(zip(row, sizes, strict=True))
        ]
        lines.append(" ".join(cells).rstrip())
        if number == 0:
            lines.append("-" * min(width, len(lines[-1])))
    lines.append("")
    for told in [reason(row) for row in plan.ranked[:3]] + [
        change(plan.outing, other) for other in plan.changes
    ]:
        lines.append(textwrap.fill(told, width))
    lines += [text for mark, text in _MARKS.items() if any(mark in cell for row in rows[1:] for cell in row)]
    lines += ["", textwrap.fill(ASSUMED, width), "", textwrap.fill(CAUTIONS, width)]
    return "\n".join(lines) + "\n"
