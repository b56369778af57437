"""The report as a reader uses it: numbers, choosing, sorting, hovering, keys, dark paper, phone, print."""

from __future__ import annotations

import re
import sqlite3
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from auditor.analysis.kit_table import KitRow, kit_table
from auditor.frames.kit_names import short_names
from auditor.keepers.choose import choose
from auditor.keepers.conditions import Conditions
from auditor.report.text import values
from auditor.store.derived import kits_in_use
from auditor.store.frame_facts import FrameFacts
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from tests.browser.conftest import AXE, OpenPage, with_pictures

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

PICTURES = 7
BARE = "Saltmark F2 + Saltmark 500mm f/5.6"


@pytest.fixture(scope="module")
def kits(logbook: Path) -> list[KitRow]:
    with open_logbook(logbook) as book:
        names = short_names(kits_in_use(book))
        return [replace(row, kit_name=names[row.kit_id]) for row in kit_table(book)]


@pytest.fixture(scope="module")
def frames(logbook: Path) -> list[FrameFacts]:
    with open_logbook(logbook) as book:
        return selected_frames(book)


def all_frames(page: Page) -> Locator:
    """The list with every frame."""
    return page.locator("section[aria-labelledby=frames] [data-list]")


def shown_files(page: Page) -> list[str]:
    """The file names of the rows that can be seen, in their order."""
    rows = all_frames(page).locator("tbody tr:visible th").all_inner_texts()
    return [re.sub(r"\s", "", text).split("/")[-1] for text in rows]


def opacities(page: Page, picture: str) -> dict[str, str]:
    """How strong each mark of a picture is, by what it says."""
    marks = page.locator(f"#{picture} .mark-symbol path[aria-label]")
    return {
        mark.get_attribute("aria-label") or "": mark.get_attribute("opacity") or "1" for mark in marks.all()
    }


def test_every_picture_is_drawn_without_a_word_on_the_console(page: Page) -> None:
    assert page.locator("[data-drawn]").count() == PICTURES
    assert page.locator("[data-drawn] svg").count() == PICTURES


def test_the_numbers_are_those_of_the_logbook(page: Page, kits: list[KitRow]) -> None:
    rows = page.locator("section[aria-labelledby=kits] tbody tr").all()
    assert len(rows) == len(kits) == 5
    for row, kit in zip(rows, kits, strict=True):
        cells = row.locator("td").all_inner_texts()
        assert row.locator("th").inner_text().strip().startswith(kit.kit_name)
        counts = [int(cells[place].split()[0]) for place in (0, 1, 3)]
        assert counts == [kit.frames, kit.scenes, kit.unclear]
        bounds = [kit.hit_rate_if_unclear_missed, kit.hit_rate_if_unclear_hit]
        assert (values.interval(*bounds) in cells[3]) == bool(kit.unclear)
        ends = values.interval(kit.hit_rate_low, kit.hit_rate_high)
        assert (
            cells[2].strip()
            == f"{values.percent(kit.hit_rate)} of {values.whole(kit.hit_rate_frames)} ({ends})"
        )
        assert cells[5:] == [
            values.typical_iso(kit.median_iso),
            values.typical_iso(kit.median_iso_without_converter),
            values.stops(kit.median_forced_push_ev),
        ]


def test_the_pictures_show_the_numbers_of_the_logbook(page: Page, kits: list[KitRow], logbook: Path) -> None:
    told = list(opacities(page, "hit-rates"))
    for kit in kits:
        rate = f"{values.percent(kit.hit_rate)} of {values.whole(kit.hit_rate_frames)} in focus"
        assert (
            f"{kit.kit_name}: {rate} (95 % interval {values.interval(kit.hit_rate_low, kit.hit_rate_high)})"
            in told
        )
    with sqlite3.connect(logbook) as connection:
        counted = dict(connection.execute("SELECT verdict, count(*) FROM frame_facts GROUP BY 1").fetchall())
    seen = page.locator("#timeline ~ figcaption").inner_text()
    assert f"{counted['hit']} in focus, {counted['miss']} missed, {counted['unclear']} unclear" in seen


def test_hovering_tells_a_marks_numbers(page: Page) -> None:
    mark = page.locator("#detail-against-noise .mark-symbol path[aria-label]").first
    mark.scroll_into_view_if_needed()
    mark.hover()
    hover = page.locator("#hover")
    hover.wait_for(state="visible")
    assert hover.inner_text() == mark.get_attribute("aria-label")
    assert re.search(r"blur \d+\.\d microradians \(\d+\.\d to \d+\.\d\)", hover.inner_text())
    page.mouse.move(5, 5)
    hover.wait_for(state="hidden")


def test_choosing_a_kit_in_one_picture_marks_it_in_all_and_keeps_its_frames(
    page: Page, kits: list[KitRow], frames: list[FrameFacts]
) -> None:
    kit = next(kit for kit in kits if kit.kit_name.endswith("500 mm x 2"))
    page.locator(f'#hit-rates .mark-symbol path[aria-label^="{kit.kit_name}:"]').click()
    for picture in ("hit-rates", "iso-by-light", "detail-against-noise", "shutter"):
        strong = {told for told, opacity in opacities(page, picture).items() if opacity == "1"}
        weak = {told for told, opacity in opacities(page, picture).items() if opacity != "1"}
        assert strong, picture
        assert weak, picture
        assert all(told.startswith(f"{kit.kit_name}") for told in strong)
        assert not any(re.match(re.escape(kit.kit_name) + "[:,]", told) for told in weak)
    own = [Path(row.path or "").name for row in frames if row.kit_id == kit.kit_id]
    assert shown_files(page) == own
    assert all_frames(page).locator("[data-count]").inner_text() == f"{len(own)} of {len(frames)} shown"
    pressed = page.locator('button[aria-pressed="true"]')
    assert {text.strip() for text in pressed.all_inner_texts()} == {kit.kit_name}
    page.keyboard.press("Escape")
    assert len(shown_files(page)) == len(frames)
    assert set(opacities(page, "shutter").values()) == {"1"}


def test_choosing_a_kit_counts_only_its_focus_areas(page: Page, frames: list[FrameFacts]) -> None:
    placed = [row for row in frames if row.verdict in ("hit", "miss") and row.af_x is not None]
    bare = [row for row in placed if row.kit_name == BARE]

    def counted() -> int:
        told = page.locator("#places path[aria-label]").evaluate_all(
            "marks => marks.map(mark => mark.getAttribute('aria-label'))"
        )
        return sum(int(number) for text in told for number in re.findall(r"^(\d+) (?:in|missed)", text))

    assert counted() == len(placed)
    page.locator("section[aria-labelledby=kits] button[data-kit]").first.click()
    page.wait_for_timeout(200)
    assert counted() == len(bare) > 0


@pytest.mark.parametrize(
    ("select", "option", "fits"),
    [
        ("flag", "smeared", lambda row: "smeared" in row.flags),
        ("verdict", "miss", lambda row: row.verdict == "miss"),
        ("kit", None, lambda row: row.kit_name == BARE),
        ("scene", None, lambda row: row.scene_id is not None),
    ],
)
def test_filters(page: Page, frames: list[FrameFacts], select: str, option: str | None, fits: Any) -> None:
    wanted = [row for row in frames if fits(row)]
    if option is None:
        option = str(getattr(wanted[0], f"{select}_id"))
        wanted = [row for row in wanted if str(getattr(row, f"{select}_id")) == option]
    assert 0 < len(wanted) < len(frames)
    all_frames(page).locator(f"select[name={select}]").select_option(option)
    assert shown_files(page) == [Path(row.path or "").name for row in wanted]


def test_the_best_of_each_burst_is_the_one_that_keepers_takes(
    page: Page, logbook: Path, frames: list[FrameFacts]
) -> None:
    with open_logbook(logbook) as book:
        kept = choose(book, Conditions(), at_most=1).kept
    assert 10 < len(kept) < len(frames)
    all_frames(page).locator("select[name=best]").select_option("yes")
    assert shown_files(page) == [Path(frame.path or "").name for frame in kept]


def test_sorting_by_a_column(page: Page, frames: list[FrameFacts]) -> None:
    by_name = {Path(row.path or "").name: row for row in frames}
    header = all_frames(page).get_by_role("button", name="ISO")
    header.click()
    rising = [by_name[name].iso or 0.0 for name in shown_files(page)]
    assert rising == sorted(rising)
    assert all_frames(page).locator("th[aria-sort]").get_attribute("aria-sort") == "ascending"
    header.click()
    falling = [by_name[name].iso or 0.0 for name in shown_files(page)]
    assert falling == sorted(rising, reverse=True)


def test_flagged_frames_sort_by_blur(page: Page) -> None:
    flagged = page.locator("section[aria-labelledby=flagged]")
    flagged.locator("select[name=order]").select_option("blur falling")
    blur = flagged.locator("[data-frame]").evaluate_all("items => items.map(item => item.dataset.blur)")
    known = [float(value) for value in blur if value]
    assert len(known) > 3
    assert known == sorted(known, reverse=True)
    assert "" not in blur[: len(known)]


@pytest.mark.parametrize("key", ["kitname", "flags", "scene"])
def test_flagged_frames_sort_by_kit_flag_and_scene(page: Page, key: str) -> None:
    flagged = page.locator("section[aria-labelledby=flagged]")
    flagged.locator("select[name=order]").select_option(f"{key} rising")
    values = flagged.locator("[data-frame]").evaluate_all(f"items => items.map(item => item.dataset.{key})")
    assert len(set(values)) > 2
    assert values == sorted(values, key=int if key == "scene" else str)


def test_flagged_frames_show_area_and_whole(page: Page, frames: list[FrameFacts]) -> None:
    items = page.locator("section[aria-labelledby=flagged] [data-frame]").all()
    assert len(items) == sum(bool(row.flags) for row in frames)
    for item in items:
        item.scroll_into_view_if_needed()
        natural, drawn = item.locator("img").evaluate(
            "i => [i.naturalWidth, i.getBoundingClientRect().width]"
        )
        assert natural == drawn > 50  # at 100 %
        assert item.locator("svg.whole image").count() == 1
        assert item.locator("svg.whole rect.outline").count() == 2


def test_everything_can_be_reached_by_keyboard(page: Page, kits: list[KitRow]) -> None:
    seen = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        seen.add(
            page.evaluate("document.activeElement.tagName + ' ' + document.activeElement.textContent.trim()")
        )
    assert any(text.startswith("SELECT") for text in seen)
    button = page.locator("section[aria-labelledby=kits] button[data-kit]").first
    button.focus()
    page.keyboard.press("Enter")
    assert button.get_attribute("aria-pressed") == "true"
    assert len(shown_files(page)) == kits[0].frames
    page.keyboard.press("Enter")
    assert button.get_attribute("aria-pressed") == "false"
    all_frames(page).get_by_role("button", name="Shutter").focus()
    page.keyboard.press("Enter")
    assert all_frames(page).locator("th[aria-sort]").inner_text().startswith("Shutter")


CONTRAST = """
() => {
  const light = (text) => {
    const [r, g, b] = text.match(/[\\d.]+/g).slice(0, 3).map((part) => {
      const share = Number(part) / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const paper = light(getComputedStyle(document.body).backgroundColor);
  const ratio = (text) => {
    const ink = light(text);
    return (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
  };
  const style = (selector, name) => getComputedStyle(document.querySelector(selector))[name];
  return {
    paper,
    ratios: [
      ratio(style("body", "color")), ratio(style(".note", "color")), ratio(style(".shows", "color")),
      ratio(style("#hit-rates svg text", "fill")),
      ratio(style("#iso-by-light .role-axis-label text", "fill")),
    ],
  };
}
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_light_and_dark_paper_keep_contrast(opened: OpenPage, report: Path, scheme: str) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text (S)."""
    found = with_pictures(opened(report, color_scheme=scheme)).evaluate(CONTRAST)
    assert (found["paper"] > 0.5) == (scheme == "light")
    assert min(found["ratios"]) >= 4.5


@pytest.mark.parametrize("width", [360, 768, 1600])
def test_no_width_scrolls_sideways(opened: OpenPage, report: Path, width: int) -> None:
    page = with_pictures(opened(report, viewport={"width": width, "height": 760}))
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for picture in page.locator(".drawn svg").all():
        box = picture.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= width
        assert box["width"] > 0.75 * min(width, 960) - 40


def test_print(page: Page, tmp_path: Path) -> None:
    for paper in ("A4", "Letter"):
        path = tmp_path / f"{paper}.pdf"
        page.pdf(path=str(path), format=paper)
        data = path.read_bytes()
        assert data.startswith(b"%PDF")
        pages = len(re.findall(rb"/Type\s*/Page\b", data))
        assert 5 <= pages <= 40
    page.emulate_media(media="print", color_scheme="dark")
    page.set_viewport_size({"width": 688, "height": 1000})  # A4 within its margins
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert not page.locator(".filters").first.is_visible()
    for picture in page.locator(".drawn svg").all():
        box = picture.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= 690


def test_without_javascript_pictures_and_tables_are_there(
    opened: OpenPage, report: Path, frames: list[FrameFacts]
) -> None:
    page = opened(report, java_script_enabled=False)
    assert page.locator(".drawn svg").count() == PICTURES
    assert page.locator("section[aria-labelledby=frames] tbody tr:visible").count() == len(frames)
    assert not page.locator(".filters").first.is_visible()
    assert page.locator("#hit-rates path[aria-label]").count() >= 5


def test_the_policy_lets_nothing_else_run(browser: Any, report: Path) -> None:
    """W3C, Content Security Policy Level 3: added script, handler, style and loads are refused (S)."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    page.goto(report.as_uri())
    tried = page.evaluate(
        """async () => {
          const script = document.createElement("script");
          script.textContent = "window.ran = true";
          document.body.append(script);
          const link = document.createElement("a");
          link.setAttribute("onclick", "window.ran = true");
          document.body.append(link);
          link.click();
          const style = document.createElement("style");
          style.textContent = "body { display: none }";
          document.head.append(style);
          const fetched = await fetch("data:text/plain,x").then(() => true, () => false);
          const hidden = getComputedStyle(document.body).display === "none";
          return { ran: window.ran === true, hidden, fetched };
        }"""
    )
    policy = page.locator("meta[http-equiv]").get_attribute("content")
    context.close()
    assert tried == {"ran": False, "hidden": False, "fetched": False}
    assert "unsafe" not in policy


@pytest.mark.parametrize(
    "options", [{}, {"color_scheme": "dark"}, {"viewport": {"width": 360, "height": 760}}]
)
def test_accessibility_by_axe(opened: OpenPage, report: Path, options: dict[str, Any]) -> None:
    """axe-core, all of its rules: nothing serious or critical."""
    if not AXE.is_file():
        pytest.skip("axe-core was not installed: .ci/run does")
    page = with_pictures(opened(report, **options))
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run(document)")
    assert len(found["passes"]) > 20
    bad = [
        f"{rule['id']}: {rule['help']}: {rule['nodes'][0]['html'][:200]}"
        for rule in found["violations"]
        if rule["impact"] in ("serious", "critical")
    ]
    assert bad == []


def test_headings_and_table_heads(page: Page) -> None:
    levels = page.locator("h1, h2, h3").evaluate_all("all => all.map(h => Number(h.tagName[1]))")
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    heads = page.locator("th").evaluate_all("all => all.map(th => th.getAttribute('scope'))")
    assert set(heads) == {"col", "row"}
