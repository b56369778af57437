"""Light by the clock, and what was mounted on each body: a ribbon a body, a tick a miss."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime

from auditor.analysis.changes import Change
from auditor.report.charts.canvas import LEAST_AREA, Canvas, box, boxes, curve, dots, letters, ticks
from auditor.report.charts.day_clock import day_clock
from auditor.report.charts.figure import Kit, Picture, of_kit
from auditor.report.charts.scales import Scale, hours, lights
from auditor.report.text import values
from auditor.store.chart_rows import KitBurst

WIDTHS = {"wide": 1080.0, "middle": 700.0, "narrow": 400.0}
"""Three drawings of one picture, so that letters stay readable; charts.css shows the one that fits."""
LEFT = 88.0
"""Room for the words of light."""
LIGHT_TOP, LIGHT_BOTTOM = 30.0, 128.0
RIBBON, LANE = 18.0, 60.0
NARROWEST = 4.0
HOUR = 44.0
"""Room for an hour's name."""
PAUSE = 12.0
"""Between two days."""
STEP_H = 1 / 3
"""Light is shown as the mean of twenty minutes."""
LONGEST_PAUSE_H = 2.0
"""Over longer pauses no line is drawn."""
SAME_STRETCH_H = 2.5
"""Two bursts of a body with one kit so near each other: it stayed on in between."""
CLEARLY_DIMMER_EV = 0.5
"""A difference of light that is worth a word: half a stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Timed(KitBurst):
    """A burst with its day and its hours, as numbers."""

    day: str
    from_h: float
    to_h: float


@dataclass(frozen=True, slots=True)
class _Day:
    """A day, and where its hours lie in the drawing."""

    name: str
    hour: Scale


def light_and_kits(
    bursts: Sequence[KitBurst], kits: Sequence[Kit], changed: Sequence[Change]
) -> Picture | None:
    """The picture; None where no frame has a time.

    Parameters
    ----------
    bursts
        Rows of `chart_rows.stretches`.
    changed
        Stretches in which a kit's hits fell, by `analysis.changes`.
    """
    drawn = {kit.kit_id: kit for kit in kits}
    by_clock = day_clock([row for row in bursts if row.kit_id in drawn], drawn)
    shown = [_timed(row) for row in by_clock.bursts]
    if not shown:
        return None
    fell = [by_clock.change(change) for change in changed if change.fell and change.kit_id in drawn]
    title = _title(shown, drawn, fell)
    words = (
        "A ribbon a body: hollow is the bare lens, fuller a stronger converter. Ticks are missed frames"
        f"{'; a dashed box is a stretch with fewer in focus' if fell else ''}.{by_clock.words}"
    )
    drawings = tuple(
        _drawing(kind, width, shown, drawn, fell, title).svg(f"clock-{kind}", title, words, kind)
        for kind, width in WIDTHS.items()
    )
    return Picture(key="clock", title=title, words=words, drawings=drawings, with_kits=True)


def _timed(row: KitBurst) -> _Timed:
    return _Timed(
        **{field.name: getattr(row, field.name) for field in fields(row)},
        day=row.first_at[:10],
        from_h=_hour(row.first_at),
        to_h=_hour(row.last_at),
    )


def _hour(taken_at: str) -> float:
    at = datetime.fromisoformat(taken_at)
    return at.hour + at.minute / 60 + at.second / 3600


def _title(shown: Sequence[_Timed], drawn: dict[int, Kit], fell: Sequence[Change]) -> str:
    if fell:
        change = min(fell, key=lambda change: change.p_value)
        until = "on" if change.until_at is None else f"to {change.until_at[11:16]}"
        return (
            f"{drawn[change.kit_id].name} had fewer in focus from {change.from_at[11:16]} {until}: "
            f"{values.percent(change.rate_inside)}, in the rest of the trip "
            f"{values.percent(change.rate_outside)}"
        )
    behind = [row for row in shown if drawn[row.kit_id].converted]
    bodies = {drawn[row.kit_id].body for row in behind}  # others, a phone among them, say nothing of these
    bare = [row for row in shown if drawn[row.kit_id].body in bodies and not drawn[row.kit_id].converted]
    light_behind, light_bare = _mean_light(behind), _mean_light(bare)
    if light_behind is None or light_bare is None:
        return "The light by the clock, and what was mounted"
    numbers = f"EV {values.stops(light_behind)} on average, {values.stops(light_bare)} bare"
    if light_bare - light_behind >= CLEARLY_DIMMER_EV:
        return f"Converters were on in dimmer light than the bare lens: {numbers}"
    if light_behind - light_bare >= CLEARLY_DIMMER_EV:
        return f"Converters were on in brighter light than the bare lens: {numbers}"
    return f"Converters and bare lens were used in much the same light: {numbers}"


def _mean_light(rows: Sequence[_Timed]) -> float | None:
    """Weighted by frames."""
    lit = [(row.light_ev, row.frames) for row in rows if row.light_ev is not None]
    frames = sum(count for _light, count in lit)
    return sum(light * count for light, count in lit) / frames if frames else None


def _drawing(
    kind: str,
    width: float,
    shown: Sequence[_Timed],
    drawn: dict[int, Kit],
    fell: Sequence[Change],
    title: str,
) -> Canvas:
    bodies: dict[str, list[Kit]] = defaultdict(list)
    for kit in drawn.values():
        if any(row.kit_id == kit.kit_id for row in shown):
            bodies[kit.body].append(kit)
    top = LIGHT_BOTTOM + 22
    canvas = Canvas(width, top + LANE * len(bodies) + 18)
    days = _days(shown, width)
    _light(canvas, shown, days)
    for place, own in enumerate(bodies.values()):
        y = top + LANE * place
        ids = {kit.kit_id for kit in own}
        rows = [row for row in shown if row.kit_id in ids]
        canvas.text(0, y + 12, own[0].body_name)
        _ribbon(canvas, rows, drawn, days, y + 18)
        for change in fell:
            if change.kit_id in ids:
                _fallen(canvas, change, days, y + 18)
        _tell(canvas, rows, drawn, days, y + 18)
    _clock(canvas, days)
    return canvas


def _days(shown: Sequence[_Timed], width: float) -> dict[str, _Day]:
    """Each day from its first hour to its last, as wide as it was long."""
    ends: dict[str, tuple[float, float]] = {}
    for row in shown:
        first, last = ends.get(row.day, (24.0, 0.0))
        # Past midnight a burst ends on the next day: it is drawn to the end of its own.
        ends[row.day] = min(first, row.from_h), max(last, row.to_h, row.from_h)
    ends = {
        day: (max(0.0, first - 0.1), min(24.0, max(last, first + 0.5) + 0.1))
        for day, (first, last) in ends.items()
    }
    pause = min(PAUSE, 0.3 * (width - LEFT) / len(ends))
    room = width - LEFT - 2 - pause * (len(ends) - 1)
    hour = room / sum(last - first for first, last in ends.values())
    days, start = {}, LEFT
    for day, (first, last) in sorted(ends.items()):
        end = start + (last - first) * hour
        days[day] = _Day(_day_name(day), Scale(first, last, start, end))
        start = end + pause
    return days


def _day_name(day: str) -> str:
    date = datetime.fromisoformat(day)
    return f"{date.day} {values.month(date.month)[:3]}"


def _light(canvas: Canvas, shown: Sequence[_Timed], days: dict[str, _Day]) -> None:
    """The curve of light, with the words of light at its left."""
    lit = [(row, row.light_ev) for row in shown if row.light_ev is not None]
    if not lit:
        canvas.text(LEFT, LIGHT_TOP + 30, "The light is not known.", kind="quiet")
        return
    low, high = (end(ev for _row, ev in lit) for end in (min, max))
    light = Scale(low - 0.7, max(high, low + 3) + 0.7, LIGHT_BOTTOM, LIGHT_TOP)
    for ev, word in lights(light.low, light.high):
        y = light(ev)
        canvas.text(LEFT - 10, y + 4.5, f"{word} {ev:g}".strip(), anchor="end", kind="" if word else "quiet")
        for day in days.values():
            canvas.line(day.hour.start, y, day.hour.end, y, "rule" if word else "grid")
    canvas.text(0, 14, "Light, EV", kind="quiet")
    for name, day in days.items():
        own = [(row.from_h, ev) for row, ev in lit if row.day == name]
        places = {(round(day.hour(from_h)), round(light(ev))) for from_h, ev in own}
        canvas.add(dots(sorted(places), "light-dots"))
        for stretch in _curves(own):
            canvas.add(curve([(day.hour(hour), light(ev)) for hour, ev in stretch], "light-line"))


def _curves(lights_at: Sequence[tuple[float, float]]) -> Iterator[list[tuple[float, float]]]:
    """The mean light of every twenty minutes, broken at long pauses, from hours and EV."""
    steps: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for from_h, light_ev in lights_at:
        steps[int(from_h / STEP_H)].append((from_h, light_ev))
    stretch: list[tuple[float, float]] = []
    for _step, inside in sorted(steps.items()):
        hour, ev = (sum(pair[place] for pair in inside) / len(inside) for place in (0, 1))
        if stretch and hour - stretch[-1][0] > LONGEST_PAUSE_H:
            yield stretch
            stretch = []
        stretch.append((hour, ev))
    if stretch:
        yield stretch


def _ribbon(
    canvas: Canvas, rows: Sequence[_Timed], drawn: dict[int, Kit], days: dict[str, _Day], y: float
) -> None:
    """What was mounted when, and a tick for each miss."""
    for day in days.values():
        canvas.line(day.hour.start, y + RIBBON / 2, day.hour.end, y + RIBBON / 2, "grid")
    before = len(canvas.ground)
    for stretch in (shown := _apart(_mounted(rows, drawn, days))):
        if stretch.width > letters(stretch.kit.behind) + 8:
            middle = stretch.left + stretch.width / 2
            canvas.text(middle, y + 13.5, stretch.kit.behind, anchor="middle", kind="on-ribbon")
    stretches: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for stretch in shown:
        stretches[stretch.kit.kit_id].append((stretch.left, stretch.width))
    ribbons = []
    for kit_id, places in stretches.items():
        look = drawn[kit_id].look
        full = RIBBON * look.full
        parts = boxes(places, y, RIBBON, "ribbon") + boxes(places, y + RIBBON - full, full, "ribbon-full")
        ribbons.append(of_kit(kit_id, f'<g class="{look.colour}">{parts}</g>'))
    canvas.ground[before:before] = ribbons  # below the letters
    for kit_id, places_of_misses in _misses(rows, days).items():
        canvas.add(of_kit(kit_id, ticks(places_of_misses, y + RIBBON + 3, 8, "miss")))


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A part of a ribbon: one kit on a body, with its place in the drawing."""

    kit: Kit
    left: float
    width: float
    frames: int
    until: float
    """Where its day ends."""

    @property
    def right(self) -> float:
        """Where it ends."""
        return self.left + self.width


def _mounted(rows: Sequence[_Timed], drawn: dict[int, Kit], days: dict[str, _Day]) -> Iterator[_Stretch]:
    """Stretches of a body with one kit, in order of time."""
    joined: _Timed | None = None
    for row in rows:
        if (
            joined is not None
            and (joined.kit_id, joined.day) == (row.kit_id, row.day)
            and row.from_h - joined.to_h <= SAME_STRETCH_H
        ):
            latest = max(joined.to_h, row.to_h)
            joined = replace(joined, to_h=latest, frames=joined.frames + row.frames)
            continue
        if joined is not None:
            yield _placed(joined, drawn, days)
        joined = row
    if joined is not None:
        yield _placed(joined, drawn, days)


def _placed(row: _Timed, drawn: dict[int, Kit], days: dict[str, _Day]) -> _Stretch:
    hour = days[row.day].hour
    left = hour(row.from_h)
    width = max(NARROWEST, hour(row.to_h) - left)
    return _Stretch(drawn[row.kit_id], left, width, row.frames, hour.end)


def _apart(stretches: Iterable[_Stretch]) -> list[_Stretch]:
    """Where two would lie on one place they stand side by side, if the later one moves no further than it is
    wide; else the kit with more frames: kits changed too often to draw each."""
    kept: list[_Stretch] = []
    for stretch in stretches:
        if kept and stretch.left < kept[-1].right - 0.5:
            beside = max(stretch.right, kept[-1].right + NARROWEST)
            if kept[-1].right - stretch.left <= NARROWEST and beside <= stretch.until + 1:
                stretch = replace(stretch, left=kept[-1].right, width=beside - kept[-1].right)
            elif kept[-1].width > NARROWEST or stretch.frames <= kept[-1].frames:
                continue
            else:
                kept.pop()
        kept.append(stretch)
    return kept


def _misses(rows: Sequence[_Timed], days: dict[str, _Day]) -> dict[int, list[float]]:
    """Where ticks stand, by kit: a miss each, spread over its burst, as many as have room."""
    ticks_of_kits: dict[int, dict[int, float]] = defaultdict(dict)
    for row in rows:
        hour, missed = days[row.day].hour, row.misses
        left, right = hour(row.from_h), hour(max(row.to_h, row.from_h))
        right = max(right, left + 2.2 * missed)
        for place in range(missed):
            x = min(left + (right - left) * (place + 0.5) / missed, hour.end)
            ticks_of_kits[row.kit_id].setdefault(round(x / 2.2), x)
    return {kit_id: list(ticks.values()) for kit_id, ticks in ticks_of_kits.items()}


def _fallen(canvas: Canvas, change: Change, days: dict[str, _Day], y: float) -> None:
    """A box around the stretch in which a kit's hits fell."""
    for name, day in days.items():
        first_day = max(change.from_at[:10], name)
        last_day = name if change.until_at is None else min(change.until_at[:10], name)
        if first_day != name or last_day != name:
            continue
        from_h = _hour(change.from_at) if change.from_at[:10] == name else day.hour.low
        to_h = day.hour.high
        if change.until_at is not None and change.until_at[:10] == name:
            to_h = _hour(change.until_at)
        left, right = day.hour(from_h) - 3, day.hour(to_h) + 3
        canvas.add(box(left, y - 4, max(8.0, right - left), RIBBON + 18, "fell"))


def _tell(
    canvas: Canvas, rows: Sequence[_Timed], drawn: dict[int, Kit], days: dict[str, _Day], y: float
) -> None:
    """Numbers of each stretch of time, as wide as a finger at least."""
    for name, day in days.items():
        wide = day.hour.end - day.hour.start
        cells = max(1, int(wide / LEAST_AREA))
        cell = max(wide, LEAST_AREA) / cells
        inside: dict[int, list[_Timed]] = defaultdict(list)
        for row in rows:
            if row.day == name:
                place = int((day.hour(row.from_h) - day.hour.start) / cell)
                inside[min(place, cells - 1)].append(row)
        for place, own in sorted(inside.items()):
            ids = {row.kit_id for row in own}
            canvas.tell(
                _summary(own, drawn, day),
                ids.pop() if len(ids) == 1 else None,
                (),
                (day.hour.start + place * cell, y - 4, cell, RIBBON + 18),
            )


def _summary(rows: Sequence[_Timed], drawn: dict[int, Kit], day: _Day) -> str:
    first, last = rows[0].first_at[11:16], max(row.last_at for row in rows)[11:16]
    light = _mean_light(rows)
    parts = []
    for kit_id in dict.fromkeys(row.kit_id for row in rows):
        own = [row for row in rows if row.kit_id == kit_id]
        hits, misses = sum(row.hits for row in own), sum(row.misses for row in own)
        unclear = sum(row.unclear for row in own)
        open_ones = f", {unclear} unclear" if unclear else ""
        parts.append(f"{drawn[kit_id].name}: {hits} in focus, {misses} missed{open_ones}")
    lit = "" if light is None else f"; light EV {values.stops(light)}"
    return f"{day.name}, {first} to {last}. {'; '.join(parts)}{lit}."


def _clock(canvas: Canvas, days: dict[str, _Day]) -> None:
    """Names of days above and hours below, where they fit."""
    free_above = free_below = 0.0
    for day in days.values():
        if day.hour.start >= free_above:
            canvas.text(day.hour.start, 14, day.name)
            free_above = day.hour.start + letters(day.name) + 8
        for hour in hours(day.hour.low, day.hour.high, day.hour.end - day.hour.start, HOUR):
            x = day.hour(hour)
            if x - HOUR / 2 >= free_below and x + HOUR / 2 <= canvas.width + 6:
                canvas.text(x, canvas.height - 4, f"{hour}:00", anchor="middle", kind="quiet")
                free_below = x + HOUR / 2
