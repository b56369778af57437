"""The drawn part of each picture, as a Vega-Lite specification made with Altair.

Every mark carries `told`, the sentence that hovering shows, and `kit`, so that choosing a kit in one picture
marks it in all: the parameter `chosen` is its id, or null. Ink is `currentColor`, so that a picture follows
light and dark.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from auditor.report.svg import colour_of, shape_of
from auditor.report.text.values import MARKED_EXPOSURE_TIMES_S
from auditor.store import queries as numbers

if TYPE_CHECKING:
    import altair as alt

Row = dict[str, Any]
Spec = dict[str, Any]

INK = "currentColor"
SANS = "system-ui, sans-serif"
STATIC_WIDTH_PX = 720
FAINT = 0.12
_VEGA_SHAPES = {"triangle": "triangle-up", "bar": "M-1,-0.4H1V0.4H-1Z"}


@dataclass(frozen=True, slots=True)
class Kit:
    """A kit as the pictures draw it: its number gives its colour and shape."""

    kit_id: int
    name: str
    number: int


def hit_rates(rows: list[Row], kits: list[Kit]) -> Spec:
    """A lane a kit; columns kit, lane, name, rate, low, high (None where there are too few), said, told."""
    import altair as alt

    span = (-0.25, len(kits) - 0.4)
    base = alt.Chart()
    across = _share_axis("rate")
    whole = base.mark_rule(aria=False, color=INK, opacity=0.25).encode(
        x=alt.datum(0), x2=alt.datum(1), y=_lane("lane", span)
    )
    line = base.mark_rule(aria=False, strokeWidth=5, strokeCap="round").encode(
        x=_share_axis("low"), x2="high:Q", y=_lane("lane", span), color=_colour(kits), opacity=_marked()
    )
    mark = _points(base, kits).encode(x=across, y=_lane("lane", span))
    name = _name_text(base, "label", span, x=alt.value(0))
    said = base.mark_text(aria=False, align="left", color=INK, font=SANS, fontSize=11, dy=-1).encode(
        x=alt.value(0), y=_lane("lane", span), text="said:N"
    )
    return _finished(_layers(rows, whole, line, mark, name, said), kits, height=46 * len(kits) + 6)


def iso_by_light(rows: list[Row], kits: list[Kit]) -> Spec:
    """A mark a kit and half stop of light; columns kit, light_ev, iso, bare_iso (None: not pushed), told."""
    import altair as alt

    light_ev = [row["light_ev"] for row in rows]
    light = alt.X("light_ev:Q", title="Light, EV at ISO 100", scale=_spanning(light_ev, 0.4))
    values = [iso for row in rows for iso in (row["iso"], row["bare_iso"]) if iso]
    iso_axis: dict[str, Any] = {
        "title": "ISO",
        "scale": alt.Scale(type="log", base=2, nice=False, domain=[min(values) / 1.4, max(values) * 1.4]),
        "axis": alt.Axis(values=_doublings(min(values), max(values)), format="d"),
    }
    base = alt.Chart()
    drop = base.mark_rule(aria=False, strokeWidth=1.5).encode(
        x=light, y=alt.Y("iso:Q", **iso_axis), y2="bare_iso:Q", color=_colour(kits), opacity=_marked()
    )
    bare = base.mark_point(filled=False, size=45, strokeWidth=1.5).encode(
        x=light,
        y=alt.Y("bare_iso:Q", **iso_axis),
        color=_colour(kits),
        shape=_shape(kits),
        opacity=_marked(),
        tooltip=alt.Tooltip("told:N"),
        description="told:N",
    )
    mark = _points(base, kits).encode(x=light, y=alt.Y("iso:Q", **iso_axis))
    return _finished(_layers(rows, drop, bare, mark), kits, height=280)


def hits_by_light(rows: list[Row], kits: list[Kit]) -> Spec:
    """A lane a kit, a cell a step of light; columns kit, light_ev (its middle), base, half, top, label, name.

    A cell with a rate has y, low, high and told besides; one with too few encounters has said and told.
    """
    import altair as alt

    light = alt.X(
        "light_ev:Q",
        title="Light, EV at ISO 100",
        axis=alt.Axis(tickMinStep=numbers.LIGHT_STEP_EV, grid=False),
        scale=_spanning([row["light_ev"] for row in rows if "light_ev" in row], 1.2),
    )
    span = (-0.05, len(kits))
    base = alt.Chart()
    floor = base.mark_rule(aria=False, color=INK, opacity=0.25).encode(y=_lane("base", span))
    half = base.mark_rule(aria=False, color=INK, opacity=0.18, strokeDash=[2, 3]).encode(
        y=_lane("half", span)
    )
    top = base.mark_rule(aria=False, color=INK, opacity=0.18).encode(y=_lane("top", span))
    line = base.mark_rule(aria=False, strokeWidth=4, strokeCap="round").encode(
        x=light, y=_lane("low", span), y2="high:Q", color=_colour(kits), opacity=_marked()
    )
    mark = _points(base, kits).encode(x=light, y=_lane("y", span))
    said = base.mark_text(color=INK, font=SANS, fontSize=11, dy=-7).encode(
        x=light, y=_lane("half", span), text="said:N", opacity=_marked(), tooltip=alt.Tooltip("told:N"),
        description="told:N",
    )  # fmt: skip
    name = _name_text(base, "label", span, x=alt.value(0))
    return _finished(_layers(rows, floor, half, top, line, mark, said, name), kits, height=86 * len(kits))


def detail_against_noise(rows: list[Row], kits: list[Kit]) -> Spec:
    """A mark a kit: kit, told, and blur and noise with their _low and _high."""
    import altair as alt

    noise_title = "Noise on the animal, grey levels (less is better)"
    blur_title = "System blur, microradians (less is finer)"
    loose = alt.Scale(zero=False, padding=12)

    def noise(name: str) -> alt.X:
        return alt.X(f"{name}:Q", title=noise_title, scale=loose)

    def blur(name: str) -> alt.Y:
        return alt.Y(f"{name}:Q", title=blur_title, scale=loose)

    base = alt.Chart()
    upright = base.mark_rule(aria=False, strokeWidth=2).encode(
        x=noise("noise"), y=blur("blur_low"), y2="blur_high:Q", color=_colour(kits), opacity=_marked()
    )
    level = base.mark_rule(aria=False, strokeWidth=2).encode(
        x=noise("noise_low"), x2="noise_high:Q", y=blur("blur"), color=_colour(kits), opacity=_marked()
    )
    mark = _points(base, kits, size=130).encode(x=noise("noise"), y=blur("blur"))
    return _finished(_layers(rows, upright, level, mark), kits, height=300)


def timeline(rows: list[Row], kits: list[Kit], days: list[Row], fallen: list[Row]) -> Spec:
    """A lane a kit: hits rise above its line, misses hang below it, unclear frames are dots on it.

    Columns kit, base, left, right, middle, up, down, unclear_y (None for none), told; days have x, day (text,
    empty where it would not fit); fallen have kit, left, right, low, high, told.
    """
    import altair as alt

    span = (-0.5, len(kits) - 0.4)
    middles = [row["middle"] for row in rows if "middle" in row]
    across: dict[str, Any] = {"axis": None, "scale": _spanning(middles, 0.6)}
    base = alt.Chart()
    line = base.mark_rule(aria=False, color=INK, opacity=0.3).encode(y=_lane("base", span))
    up = base.mark_bar(strokeWidth=1.2, stroke=INK, strokeOpacity=0.55).encode(
        x=alt.X("left:Q", **across), x2="right:Q", y=_lane("base", span), y2="up:Q",
        color=_colour(kits, "fill"), opacity=_marked(), tooltip=alt.Tooltip("told:N"), description="told:N",
    )  # fmt: skip
    down = base.mark_bar(fillOpacity=0, strokeWidth=1.5).encode(
        x=alt.X("left:Q", **across), x2="right:Q", y=_lane("base", span), y2="down:Q",
        stroke=_colour(kits, "stroke"), opacity=_marked(),
        tooltip=alt.Tooltip("told:N"), description="told:N",
    )  # fmt: skip
    unclear = base.mark_point(filled=True, color=INK, size=18, shape="circle").encode(
        x=alt.X("middle:Q", **across),
        y=_lane("unclear_y", span),
        opacity=_marked(),
        tooltip=alt.Tooltip("told:N"),
    )
    name = _name_text(base, "label", span, x=alt.value(0))
    day_data = _data(days)
    day = (
        alt.Chart(day_data)
        .mark_rule(aria=False, color=INK, opacity=0.35, strokeDash=[2, 3])
        .encode(x=alt.X("x:Q", **across))
    )
    day_text = (
        alt.Chart(day_data)
        .mark_text(aria=False, align="left", dx=4, baseline="top", color=INK, font=SANS, fontSize=11)
        .encode(x=alt.X("x:Q", **across), y=alt.value(-14), text="day:N")
    )
    box = (
        alt.Chart(_data(fallen))
        .mark_rect(fillOpacity=0, stroke=INK, strokeWidth=1.5, strokeDash=[4, 3])
        .encode(
            x=alt.X("left:Q", **across), x2="right:Q", y=_lane("low", span), y2="high:Q",
            opacity=_marked(), tooltip=alt.Tooltip("told:N"), description="told:N",
        )
    )  # fmt: skip
    boxes = [box] if fallen else []
    layers = alt.layer(day, day_text, *_with(rows, line, up, down, unclear, name), *boxes)
    return _finished(layers, kits, height=66 * len(kits))


def shutter_against_focal_length(rows: list[Row], kits: list[Kit], line: list[Row]) -> Spec:
    """A mark a kit, focal length and third-stop of shutter; columns kit, focal_mm, time_s, frames, told.

    The line has the columns focal_mm, time_s: the shutter speed of one over the focal length.
    """
    import altair as alt

    focal = alt.X(
        "focal_mm:Q",
        title="Focal length in effect, mm",
        scale=alt.Scale(type="log", base=2, nice=False, padding=24),
        axis=alt.Axis(values=sorted({row["focal_mm"] for row in rows})[:12], format="d", labelOverlap=True),
    )
    times = [row["time_s"] for row in (*rows, *line)]
    time = alt.Y(
        "time_s:Q",
        title="Exposure time, s",
        scale=alt.Scale(type="log", base=2, nice=False, reverse=True, padding=16),
        axis=alt.Axis(
            values=_marked_times(min(times), max(times)),
            labelExpr="datum.value < 0.3 ? '1/' + round(1 / datum.value) : '' + datum.value",
        ),
    )
    rule = (
        alt.Chart(_data(line))
        .mark_line(aria=False, color=INK, strokeDash=[5, 4], strokeWidth=1.5)
        .encode(x=focal, y=time)
    )
    mark = _points(alt.Chart(), kits).encode(
        x=focal, y=time, size=alt.Size("frames:Q", legend=None, scale=alt.Scale(range=[40, 360], zero=True))
    )
    return _finished(alt.layer(rule, *_with(rows, mark)), kits, height=300)


def focus_places(rows: list[Row], kits: list[Kit]) -> Spec:
    """Two pictures of places: where focus areas hit and where they missed.

    Columns kit, across, down, verdict, frames. Choosing a kit counts its frames alone.
    """
    import altair as alt

    gap = numbers.PLACES_ACROSS + 1
    across = alt.X("x:Q", axis=None, scale=alt.Scale(domain=[0, 2 * gap - 1], nice=False))
    down = alt.Y("y:Q", axis=None, scale=alt.Scale(domain=[numbers.PLACES_DOWN, -1], nice=False))
    panels = _data(
        [
            {"x": x, "x2": x + numbers.PLACES_ACROSS, "y": 0, "y2": numbers.PLACES_DOWN, "text": text}
            for x, text in ((0, "In focus"), (gap, "Missed"))
        ]
    )
    frame = (
        alt.Chart(panels)
        .mark_rect(aria=False, fillOpacity=0, stroke=INK, strokeOpacity=0.4)
        .encode(x=across, x2="x2:Q", y=down, y2="y2:Q")
    )
    head = (
        alt.Chart(panels)
        .mark_text(aria=False, align="left", baseline="bottom", dy=-4, color=INK, font=SANS, fontSize=12)
        .encode(x=across, y=down, text="text:N")
    )
    counted = (
        alt.Chart(_data(rows))
        .transform_filter("chosen == null || datum.kit == chosen")
        .transform_aggregate(frames="sum(frames)", groupby=["across", "down", "verdict"])
        .transform_calculate(
            x=f"datum.across + 0.5 + (datum.verdict == 'miss' ? {gap} : 0)",
            y="datum.down + 0.5",
            told="datum.frames + (datum.verdict == 'miss' ? ' missed here' : ' in focus here')",
        )
    )
    size = alt.Size("frames:Q", legend=None, scale=alt.Scale(range=[12, 420], zero=True))
    shared: dict[str, Any] = {
        "x": across,
        "y": down,
        "size": size,
        "tooltip": alt.Tooltip("told:N"),
        "description": "told:N",
    }
    hit = (
        counted.transform_filter("datum.verdict == 'hit'")
        .mark_point(filled=True, color=INK, opacity=0.8, shape="circle")
        .encode(**shared)
    )
    miss = (
        counted.transform_filter("datum.verdict == 'miss'")
        .mark_point(filled=False, color=INK, strokeWidth=1.8, shape="circle")
        .encode(**shared)
    )
    return _finished(alt.layer(frame, head, hit, miss), kits, height=230)


def static_svg(spec: Spec) -> str:
    """The picture as SVG text, for readers without JavaScript and for paper."""
    import json

    import vl_convert

    return str(vl_convert.vegalite_to_svg(json.dumps(spec | {"width": STATIC_WIDTH_PX})))


def _finished(chart: Any, kits: list[Kit], *, height: int) -> Spec:
    import altair as alt

    chosen = alt.param(name="chosen", value=None)
    axis: dict[str, Any] = {
        "labelColor": INK, "titleColor": INK, "labelFontSize": 11, "titleFontSize": 11,
        "titleFontWeight": 400, "gridColor": INK, "gridOpacity": FAINT, "domain": False, "ticks": False,
        "labelPadding": 6, "titlePadding": 8,
    }  # fmt: skip
    spec: Spec = (
        chart.add_params(chosen)
        .properties(width="container", height=height, background="transparent")
        .configure(font=SANS, view={"stroke": None}, axis=axis)
        .to_dict()
    )
    spec["autosize"] = {"type": "fit-x", "contains": "padding"}
    spec.pop("$schema", None)  # the page names no place on the network
    return spec


def _data(rows: list[Row]) -> Any:
    import altair as alt

    return alt.Data(values=rows)  # type: ignore[no-untyped-call]  # Altair leaves it untyped


def _layers(rows: list[Row], *charts: Any) -> Any:
    import altair as alt

    return alt.layer(*charts, data=_data(rows))


def _with(rows: list[Row], *charts: Any) -> list[Any]:
    """Charts over the same rows, where other layers have rows of their own."""
    return [_layers(rows, *charts)]


def _points(base: alt.Chart, kits: list[Kit], size: int = 90) -> Any:
    import altair as alt

    return base.mark_point(filled=True, size=size, stroke=INK, strokeWidth=0.8).encode(
        fill=_colour(kits, "fill"), shape=_shape(kits), opacity=_marked(),
        tooltip=alt.Tooltip("told:N"), description="told:N",
    )  # fmt: skip


def _name_text(base: alt.Chart, lane: str, span: tuple[float, float], *, x: Any) -> Any:
    return base.mark_text(aria=False, align="left", color=INK, font=SANS, fontSize=11).encode(
        x=x, y=_lane(lane, span), text="name:N", opacity=_marked()
    )


def _colour(kits: list[Kit], channel: str = "color") -> Any:
    import altair as alt

    scale = alt.Scale(domain=[kit.kit_id for kit in kits], range=[colour_of(kit.number) for kit in kits])
    kind = {"color": alt.Color, "fill": alt.Fill, "stroke": alt.Stroke}[channel]
    return kind("kit:N", legend=None, scale=scale)


def _shape(kits: list[Kit]) -> alt.Shape:
    import altair as alt

    shapes = [_VEGA_SHAPES.get(shape_of(kit.number), shape_of(kit.number)) for kit in kits]
    return alt.Shape("kit:N", legend=None, scale=alt.Scale(domain=[kit.kit_id for kit in kits], range=shapes))


def _marked() -> Any:
    """Strong for the chosen kit, or for all while none is chosen."""
    import altair as alt

    return alt.condition("chosen == null || datum.kit == chosen", alt.value(1), alt.value(0.15))


def _lane(name: str, span: tuple[float, float]) -> alt.Y:
    """A place in the lanes; the span is given, since a layer that shows nothing has none of its own."""
    import altair as alt

    return alt.Y(f"{name}:Q", axis=None, scale=alt.Scale(domain=list(span), nice=False, zero=False))


def _spanning(values: list[float], margin: float) -> alt.Scale:
    import altair as alt

    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    return alt.Scale(domain=[low - margin, high + margin], nice=False, zero=False)


def _share_axis(name: str) -> alt.X:
    import altair as alt

    return alt.X(
        f"{name}:Q", title="In focus", scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%", tickCount=5)
    )


def _doublings(low: float, high: float) -> list[float]:
    """ISO speeds that double, as many as lie between, thinned to ten."""
    values = [25 / 8 * 2**power for power in range(40) if low / 1.5 <= 25 / 8 * 2**power <= high * 1.5]
    return values[:: 1 + len(values) // 10]


def _marked_times(low: float, high: float) -> list[float]:
    """Whole stops of exposure time as cameras mark them, as many as lie between, thinned to ten."""
    whole_stops = MARKED_EXPOSURE_TIMES_S[::3]
    values = [time_s for time_s in whole_stops if low / 1.5 <= time_s <= high * 1.5]
    return values[:: 1 + len(values) // 10]
